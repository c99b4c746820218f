"""The write-up panel: what the report will say in short, what is missing, and Save to write it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Protocol

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.page import verdict_tag
from bench.panels.base import Panel, View
from bench.panels.fields import GroupLabel, SegmentField, TextField, TickField
from bench.panels.parts import opening
from bench.progress import Progress
from bench.treatment.plan import Notice, Verdict
from bench.units import UnitChoice

_TWO_COPIES = Notice(
    "two-copies",
    Verdict.GO,
    "Two copies: one goes with the item, one stays with the conservator. Sign both.",
    "aic-commentaries",
)
_FORMATS = {
    "html": ("Page (HTML)", True, "opens offline in any browser, and prints"),
    "md": ("Text (Markdown)", True, "for reading and keeping as plain text"),
    "pdf": ("PDF", False, "only where Chromium and Playwright are installed"),
}


class ReportLike(Protocol):
    """What the panel shows of a report (:class:`bench.writeup.blocks.Report`)."""

    @property
    def summary(self) -> tuple[str, ...]:
        """What was decided, done and reached."""

    @property
    def basis(self) -> str:
        """On which state of the record it rests."""

    @property
    def noted(self) -> tuple[str, ...]:
        """What to know before relying on it."""

    def missing(self) -> Any:
        """Give section and sentence for everything that was not recorded."""


@dataclass(frozen=True)
class _Preview:
    """The report as it stands, and how it is to be written."""

    report: ReportLike
    by: str
    audience: str
    formats: tuple[str, ...]


def build_writeup_panel(
    treatment: Treatment, *, collect: Callable[..., ReportLike], write: Callable[..., Sequence[Path]]
) -> Panel:
    """Build the panel that writes the report.

    Parameters
    ----------
    treatment : Treatment
        At hand.
    collect, write : callable
        :func:`bench.writeup.report.collect_report` and :func:`bench.writeup.report.write_report`, the
        same ones that the notebook calls.
    """
    seen: dict[str, Any] = {}

    def work(values: Mapping[str, Any], units: UnitChoice) -> _Preview:
        formats = tuple(name for name in _FORMATS if values[name])
        if not formats:
            raise BadValue("Write as", "nothing", "one format or more", "Tick one")
        state = (treatment.watch.state(), units, values["audience"], values["who"])
        if seen.get("state") != state:  # a tick changes nothing in the report itself
            seen["report"] = collect(
                treatment.latest,
                at=treatment.now(),
                by=values["who"],
                units=units,
                audience=values["audience"],
            )
            seen["state"] = state
        return _Preview(seen["report"], values["who"], values["audience"], formats)

    def save(result: _Preview, values: Mapping[str, Any], progress: Progress) -> str:
        folder = treatment.record.folder
        paths = write(
            treatment.latest,
            out=folder,
            at=treatment.now(),
            by=result.by,
            formats=result.formats,
            units=treatment.units,
            audience=result.audience,
            progress=progress,
        )
        return f"Wrote {', '.join(path.name for path in paths)} into {folder}."

    ticks = [TickField(key, label, on, hint=hint) for key, (label, on, hint) in _FORMATS.items()]
    return Panel(
        name="writeup",
        strip=[treatment.title, "Write-up", *(["scratch copy"] if treatment.is_scratch else [])],
        fields=[
            SegmentField(
                "audience",
                "Write",
                [("the full report", "record"), ("the owner's summary", "owner")],
                "record",
                hint="the summary has one or two pages; the full report can be written as well",
            ),
            GroupLabel("Write as"),
            *ticks,
            TextField("who", "Written by", treatment.conservator, needed="Say who writes the report"),
        ],
        work=work,
        show=_show,
        save_long=save,
        units=treatment.switch,
        save_label="Write the report",
    )


def _show(result: _Preview, units: UnitChoice) -> View:
    gaps = list(result.report.missing())
    verdict = Verdict.CARE if gaps else Verdict.GO
    count = f"{len(gaps)} thing{'s are' if len(gaps) > 1 else ' is'} not recorded"
    answer = f"The report can be written. {count}, and it will say so." if gaps else "The report is complete."
    tag = verdict_tag(verdict, "With gaps" if gaps else "Complete")
    return View(
        lead=opening(answer, result.report.basis, tag=tag),
        parts=[
            _list("In short", [escape(words) for words in result.report.summary]),
            _list("Please note", [escape(words) for words in result.report.noted]),
            _list("Not recorded", [f"<b>{escape(title)}:</b> {escape(words)}" for title, words in gaps]),
        ],
        cautions=[_TWO_COPIES()],
        save_says=f"Writes {len(result.formats)} new file{'s' if len(result.formats) > 1 else ''} beside the "
        "tables; an earlier report stays as it is.",
    )


def _list(title: str, items: Sequence[str]) -> str:
    """Write a list under its heading; nothing where it is empty."""
    lines = "".join(f"<li>{item}</li>" for item in items)
    return f'<span class="group">{escape(title)}</span><ul>{lines}</ul>' if lines else ""
