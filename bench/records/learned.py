"""What the bench has learned: fits saved with their treatment, found again across all treatments.

A fit is rows of ``log`` (value and both ends of each constant) and a row of ``decisions`` that says
whether to use it.  Nothing is used that nobody accepted.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from bench.errors import BenchError, RecordError
from bench.physics.ranges import Range
from bench.records.check import treatment_folders
from bench.records.index import look_up
from bench.records.nouns import treatment_row
from bench.records.store import Record, look_at_treatment
from bench.treatment.rows import Row, is_given, number_in, quantity_of, text_of
from bench.units import Q_

WEIGHINGS, BENCH = "fit of the weighings", "fit of the bench"
STAGE_OF = {WEIGHINGS: "humidity", BENCH: "review"}
"""Kinds of fits, and the stage whose readings each rests on."""

USE, LEAVE = "use the fit", "leave the fit"
_ENDS = ("", ", low end", ", high end")


@dataclass(frozen=True)
class Learned:
    """A fit as it was saved with a treatment.

    Attributes
    ----------
    treatment, title, paper : str
        Folder, title and text paper of the treatment.
    cycle : int
        After which it was found.
    found : dict of str to Range
        Each constant with its interval (about 95 %).
    is_accepted : bool
        Whether the last decision on it says that it is to be used.
    decided_at : datetime or None
        When that was decided; None while nobody has.
    reason : str
        Why it is used or left, in the words of whoever decided.
    """

    treatment: str
    title: str
    paper: str
    cycle: int
    found: dict[str, Range] = field(hash=False)
    is_accepted: bool = False
    decided_at: datetime | None = None
    reason: str = ""


def fit_rows(
    kind: str, cycle: int, found: Mapping[str, tuple[Range, str]], *, words: str, at: datetime
) -> list[dict[str, Any]]:
    """Turn a fit into rows of ``log``, the later of two rows of one name being the one that counts.

    Parameters
    ----------
    kind : str
        ``WEIGHINGS`` or ``BENCH``.
    cycle : int
        After which it was found.
    found : mapping of str to (Range, str)
        Constant to its value with interval, and the unit to write it in.
    words : str
        What the fit says and what it rests on, in a sentence.
    at : datetime
        When it was worked out.
    """
    common = {"stage": STAGE_OF[kind], "cycle": cycle, "at": at}
    rows: list[dict[str, Any]] = [{**common, "quantity": kind, "remark": words}]
    for name, (value, unit) in found.items():
        ends = (value.value, value.low, value.high)
        rows += [
            {
                **common,
                "quantity": f"{kind}: {name}{end}",
                "value": number_in(number, unit),
                "unit": unit or "dimensionless",
            }
            for end, number in zip(_ENDS, ends, strict=True)
        ]
    return rows


def decision_row(kind: str, cycle: int, *, use: bool, reason: str, by: str, at: datetime) -> dict[str, Any]:
    """Turn the decision on a fit into a row of ``decisions``."""
    return {
        "stage": STAGE_OF[kind],
        "cycle": cycle,
        "decision": USE if use else LEAVE,
        "reason": reason,
        "evidence": kind,
        "decided_at": at,
        "decided_by": by,
    }


def fits_of(record: Record, kind: str) -> tuple[Learned, ...]:
    """Give the fits of one kind that are saved with a treatment, the first cycle first."""
    fitted: dict[int, list[Row]] = {}
    for row in record.rows("log"):
        if text_of(row, "quantity").startswith(f"{kind}: ") and is_given(row["value"]):
            fitted.setdefault(row["cycle"], []).append(row)
    if not fitted:
        return ()
    item, decisions = treatment_row(record), record.rows("decisions")
    fits = []
    for cycle, rows in sorted(fitted.items()):
        # A later fit may hold fewer constants: those of an earlier one are not joined to it.
        at = max(row["at"] for row in rows)
        numbers = {
            str(row["quantity"]).removeprefix(f"{kind}: "): quantity_of(row)
            for row in rows
            if row["at"] == at
        }
        names = [name for name in numbers if all(name + end in numbers for end in _ENDS)]
        found = {name: Range(*(numbers[name + end] for end in _ENDS)) for name in names}
        said = [row for row in decisions if (row["evidence"], row["cycle"]) == (kind, cycle)]
        last = said[-1] if said else None
        fits.append(
            Learned(
                treatment=record.folder.name,
                title=str(item["title"]),
                paper=str(item.get("text_paper", "newsprint")),
                cycle=cycle,
                found=found,
                is_accepted=last is not None and str(last["decision"]) == USE,
                decided_at=None if last is None else last["decided_at"],
                reason="" if last is None else text_of(last, "reason"),
            )
        )
    return tuple(fits)


def learned_on_bench(records_folder: str | Path, kind: str) -> tuple[tuple[Learned, ...], tuple[str, ...]]:
    """Give the fits of one kind over all treatments of a bench.

    Parameters
    ----------
    records_folder : str or Path
        Where the treatments are: one folder is one bench.
    kind : str
        ``WEIGHINGS`` or ``BENCH``.

    Returns
    -------
    fits : tuple of Learned
        In the order of the folders, then of the cycles.
    unread : tuple of str
        Names of folders that could not be read; their fits are missing.

    Raises
    ------
    NotFound
        No such folder.
    """
    folders = treatment_folders(records_folder)
    known = look_up(Path(records_folder), folders, describe_fits)
    fits = [_of_facts(facts) for each in known for facts in each["fits"] if facts["kind"] == kind]
    unread = [folder.name for folder, each in zip(folders, known, strict=True) if each["is_unread"]]
    return tuple(fits), tuple(unread)


def describe_fits(folder: Path) -> dict[str, Any]:
    """Give the fits that are saved with a treatment as plain values, for the index."""
    try:
        record = look_at_treatment(folder)
        fits = [_to_facts(kind, fit) for kind in STAGE_OF for fit in fits_of(record, kind)]
    except (RecordError, BenchError, OSError):
        return {"fits": [], "is_unread": True}
    return {"fits": fits, "is_unread": False}


def _to_facts(kind: str, fit: Learned) -> dict[str, Any]:
    facts = {name: getattr(fit, name) for name in ("treatment", "title", "paper", "cycle", "is_accepted")}
    found = {
        name: [[float(end.magnitude), f"{end.units}"] for end in (known.value, known.low, known.high)]
        for name, known in fit.found.items()
    }
    decided = None if fit.decided_at is None else fit.decided_at.isoformat()
    return {**facts, "kind": kind, "found": found, "decided_at": decided, "reason": fit.reason}


def _of_facts(facts: Mapping[str, Any]) -> Learned:
    own = {name: value for name, value in facts.items() if name != "kind"}
    found = {name: Range(*(Q_(value, unit) for value, unit in ends)) for name, ends in facts["found"].items()}
    at = facts["decided_at"]
    return Learned(
        **{**own, "found": found, "decided_at": None if at is None else datetime.fromisoformat(at)}
    )


def last_accepted(fits: Iterable[Learned], *, paper: str | None = None) -> Learned | None:
    """Give the fit that was accepted last, of one paper if a paper is named; None if there is none."""
    wanted = [f for f in fits if f.is_accepted and f.decided_at is not None and paper in (None, f.paper)]
    return max(wanted, key=lambda f: (f.decided_at, f.treatment, f.cycle), default=None)
