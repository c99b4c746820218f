"""The decision on a fit, shared by the panels that learn: used or left, why, and saved once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bench.desk import Treatment
from bench.panels.fields import Field, GroupLabel, SegmentField, TextField
from bench.physics.ranges import Range
from bench.records.learned import Learned, decision_row, fit_rows, fits_of

Found = Mapping[str, tuple[Range, str]]

_NO_REASON = "Say why it is used or left; nothing is saved without a reason."


def saved_fit(treatment: Treatment, kind: str, cycle: int) -> Learned | None:
    """Give the fit of a kind that is saved with a cycle; None if there is none."""
    return next((fit for fit in fits_of(treatment.record, kind) if fit.cycle == cycle), None)


def decision_fields(saved: Learned | None, hint: str) -> list[Field | GroupLabel]:
    """Build the fields ``use`` and ``reason``, as they were saved; ``hint`` says what using it does."""
    used = saved is not None and saved.is_accepted
    return [
        GroupLabel("The decision"),
        SegmentField("use", "This fit", [("leave it", False), ("use it", True)], used, hint=hint),
        TextField("reason", "Why", saved.reason if saved else "", hint="needed to save"),
    ]


@dataclass(frozen=True)
class Decided:
    """What the operator decided on a fit.

    Attributes
    ----------
    use : bool
        Whether it is to be used.
    reason : str
        Why, in words.
    """

    use: bool
    reason: str

    @classmethod
    def read(cls, values: Mapping[str, Any]) -> Decided:
        """Read the fields of :func:`decision_fields`."""
        return cls(bool(values["use"]), str(values["reason"]))

    @property
    def lacks(self) -> str:
        """What is still to come before it can be saved."""
        return "" if self.reason else _NO_REASON


def rows_of_fit(
    treatment: Treatment,
    kind: str,
    cycle: int,
    found: Found,
    decided: Decided,
    *,
    words: str,
    anew: bool = False,
) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of a fit and of the decision on it; what is saved already is not written again.

    Parameters
    ----------
    treatment : Treatment
        With which it is saved.
    kind : str
        Of the fit.
    cycle : int
        With which it is saved.
    found : mapping of str to (Range, str)
        Each constant with the unit to keep it in.
    decided : Decided
        Whether it is to be used.
    words : str
        What the fit says and what it rests on.
    anew : bool
        Whether it is written though its constants are the same, since what it rests on is not.
    """
    last, at = saved_fit(treatment, kind, cycle), treatment.now()
    rows: dict[str, list[dict[str, Any]]] = {}
    if anew or not _is_saved(last, found):
        rows["log"] = fit_rows(kind, cycle, found, words=words, at=at)
    known = None if last is None or last.decided_at is None else Decided(last.is_accepted, last.reason)
    if known != decided:
        by = treatment.conservator
        row = decision_row(kind, cycle, use=decided.use, reason=decided.reason, by=by, at=at)
        rows["decisions"] = [row]
    return rows


def _is_saved(last: Learned | None, found: Found) -> bool:
    """Tell whether the last saved fit is this one, in all the digits that a record keeps."""
    if last is None or last.found.keys() != found.keys():
        return False
    pairs = [(last.found[name], now, unit) for name, (now, unit) in found.items()]
    return all(_digits(old, unit) == _digits(now, unit) for old, now, unit in pairs)


def _digits(value: Range, unit: str) -> tuple[str, ...]:
    return tuple(f"{number:.4g}" for number in value.floats(unit, field="constant of a fit"))
