"""The day at the bench: every treatment of a folder, by one clock; what a touch writes and takes back."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from html import escape
from pathlib import Path
from typing import Any, TypeVar

import traitlets

from bench.desk import SAMPLES, Treatment, records_folder
from bench.errors import BadValue, BenchError, RecordError
from bench.handover.seen import expected_of
from bench.handover.today import AtBench, read_at_bench
from bench.panels.base import UnitSwitch
from bench.records import disk, nouns
from bench.records.check import treatment_folders
from bench.records.clock import now
from bench.records.store import open_record
from bench.records.taken_back import find_last_touch, rows_back, say_save
from bench.treatment.actual.seen import Expected
from bench.treatment.actual.sheets_counted import SheetCount
from bench.treatment.clock.schedule import Timeline
from bench.treatment.clock.today import Job, look_at_all
from bench.treatment.plan import Caution

T = TypeVar("T")

SAMPLE_MOMENT = datetime(2026, 3, 21, 10, 15, tzinfo=timezone(timedelta(hours=1)))
"""A moment of the invented March at which samples have something to do."""


@dataclass(frozen=True)
class Touched:
    """A save that can be taken back.

    Attributes
    ----------
    key, save : str
        Of which treatment, and its id.
    words : str
        What was touched.
    """

    key: str
    save: str
    words: str


class Day(traitlets.HasTraits):
    """All treatments of a folder.

    Attributes
    ----------
    chosen : str
        The treatment that something was seen of, by its key.
    saves : int
        Rises with every save from this page, so that what is shown can follow.
    """

    chosen = traitlets.Unicode("")
    saves = traitlets.Int(0)

    def __init__(
        self, folder: Path, *, is_scratch: bool = False, clock: Callable[[], datetime] | None = None
    ) -> None:
        super().__init__()
        self.folder = folder
        self.is_scratch = is_scratch
        self.now = clock or now
        self.unread: dict[str, str] = {}
        self._treatments: dict[str, Treatment] = {}
        self._known: dict[tuple[str, object], tuple[object, Any]] = {}
        self._touched: list[Touched] = []
        self._find_treatments()
        self.switch = UnitSwitch(choice=self._units())
        self._touched = self._find_touches()

    def __repr__(self) -> str:
        kind = "a scratch copy of the samples" if self.is_scratch else self.folder.name
        said = f"{len(self.keys)} {'treatment' if len(self.keys) == 1 else 'treatments'} in {kind}"
        return f"{said}; by the clock of the samples" if self.is_scratch else said

    def _repr_html_(self) -> str:
        """Say whose answers a page shows: stored outputs keep it, and the workbook reads its keys."""
        title = "the samples" if self.is_scratch else f"the treatments in {escape(self.folder.name)}"
        sample = "yes" if self.is_scratch else "no"
        return f'<p data-bench-title="{title}" data-bench-sample="{sample}">{escape(repr(self))}.</p>'

    @property
    def keys(self) -> list[str]:
        """The treatments that can be read, by the names of their folders."""
        return list(self._treatments)

    def treatment(self, key: str) -> Treatment:
        """Give a treatment by its key."""
        return self._treatments[key]

    def look(self) -> tuple[Job, ...]:
        """Give what every treatment asks for now, the most urgent first."""
        self._find_treatments()
        at = self.now()
        return look_at_all([self._read(key).open for key in self.keys], at)

    def job(self, key: str) -> Job:
        """Give what one treatment asks for now."""
        return next(job for job in self.look() if job.key == key)

    def count(self, key: str, cycle: int) -> SheetCount:
        """Give the sheets counted in a cycle so far."""
        return self._read(key).count(cycle)

    def expected(self, key: str, cycle: int) -> Expected:
        """Give what is known of an item before a look in a cycle."""
        treatment, count = self._treatments[key], self.count(key, cycle)
        return self._keep(key, cycle, lambda: expected_of(treatment, cycle, count))

    def cautions(self, job: Job) -> tuple[Caution, ...]:
        """Say of a treatment what its counts of sheets ask for, whatever step it is at."""
        return self._read(job.key).cautions()

    def touch(
        self,
        key: str,
        change: Callable[[Timeline, datetime], Timeline],
        at: datetime,
        log: Sequence[dict[str, Any]] = (),
    ) -> str:
        """Change the timeline of a treatment, save what differs, and say what was written.

        Raises
        ------
        BenchError, RecordError
            Nothing was saved.
        """
        treatment = self._treatments[key]
        latest = treatment.latest
        timeline = nouns.timeline_of(latest)
        steps = [] if timeline is None else nouns.step_rows(change(timeline, at), latest)
        return self.write(key, {"steps": steps, "log": list(log)})

    def write(self, key: str, rows: dict[str, list[dict[str, Any]]]) -> str:
        """Save rows to a treatment; they can be taken back.

        Raises
        ------
        BadValue
            There is nothing to write.
        """
        treatment = self._treatments[key]
        wanted = {name: lines for name, lines in rows.items() if lines}
        if not wanted:
            raise BadValue(
                "touch", "nothing new", "what the record does not say yet", "Look at the page again"
            )
        saved = treatment.record.save(wanted, by=treatment.conservator, at=self.now())
        words = say_save(treatment.record, saved.save)
        self._touched.append(Touched(key, saved.save, words))
        self.saves += 1
        news = " Meanwhile " + "; ".join(str(each) for each in saved.news) + "." if saved.news else ""
        return f"{treatment.title}: {words}.{news} {saved.notice}".strip()

    @property
    def last(self) -> Touched | None:
        """The touch that can be taken back now."""
        return self._touched[-1] if self._touched else None

    def take_back(self) -> str:
        """Take the last touch back, by new rows, and say so.

        Raises
        ------
        BadValue
            What it wrote was changed since.
        """
        if not self._touched:
            raise BadValue("take back", "nothing", "a touch of this page", "Nothing was touched")
        touch = self._touched.pop()
        treatment = self._treatments[touch.key]
        rows = rows_back(treatment.latest, touch.save)
        treatment.record.save(rows, by=treatment.conservator, at=self.now())
        self.saves += 1
        return f"{treatment.title}: taken back ({touch.words})."

    def _find_treatments(self) -> None:
        """Open treatments that are new in the folder, and let go of those that are gone."""
        here = {f.name: f for f in treatment_folders(self.folder)} if self.folder.is_dir() else {}
        self._treatments = {key: each for key, each in self._treatments.items() if key in here}
        self.unread = {}
        for key, path in here.items():
            if key in self._treatments:
                continue
            try:
                treatment = Treatment(open_record(path), clock=self.now)
                _ = treatment.title
                self._treatments[key] = treatment
            except (BenchError, RecordError, OSError, IndexError) as error:
                self.unread[key] = (str(error).splitlines() or ["cannot be read"])[0]

    def _units(self) -> Any:
        first = next(iter(self._treatments.values()), None)
        return UnitSwitch().choice if first is None else first.units

    def _read(self, key: str) -> AtBench:
        treatment = self._treatments[key]
        return self._keep(key, "bench", lambda: read_at_bench(key, treatment.title, treatment.latest))

    def _keep(self, key: str, what: object, read: Callable[[], T]) -> T:
        """Give what was read of a treatment, read anew only after its tables have changed."""
        state = disk.state_of_tables(self._treatments[key].record.folder)
        if self._known.get((key, what), (None, None))[0] != state:
            self._known[key, what] = (state, read())
        found: T = self._known[key, what][1]
        return found

    def _find_touches(self) -> list[Touched]:
        """Find the last touch of each treatment, the latest last."""
        records = {key: treatment.record for key, treatment in self._treatments.items()}
        found = [(*touch, key) for key in records if (touch := find_last_touch(records[key], self.now()))]
        return [Touched(key, save, say_save(records[key], save)) for _, save, key in sorted(found)]


def open_day() -> Day:
    """Open the records that the workbook was opened on; else a copy of the samples, by their clock."""
    folder = records_folder()
    if folder is not None:
        return Day(folder)
    scratch = Path(tempfile.mkdtemp(prefix="bench-scratch-"))
    for source in sorted(path.parent for path in SAMPLES.glob("*/treatment.csv")):
        shutil.copytree(source, scratch / source.name)
    began = now()
    return Day(scratch, is_scratch=True, clock=lambda: SAMPLE_MOMENT + (now() - began))
