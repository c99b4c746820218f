"""The desk: what a notebook needs at its start, the treatment at hand.

``python -m bench open`` names the treatment by the environment variables ``BENCH_RECORDS`` and
``BENCH_TREATMENT``.  A notebook that is opened by itself works on a scratch copy of a sample, so
that reading the book never writes into anybody's record.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from html import escape
from pathlib import Path
from typing import Any, TypeVar

from bench.errors import BadValue, BenchError, NotFound, RecordError
from bench.item import Item, Thicknesses
from bench.leftovers import own, sweep
from bench.panels.base import UnitSwitch
from bench.panels.chart import show_charts
from bench.records import disk, nouns, standing
from bench.records.at_hand import bench_of, find_at_hand, is_within
from bench.records.bench_record import SavedTrial, look_at_trials
from bench.records.clock import now
from bench.records.faults import explain_os_error
from bench.records.news import Watch
from bench.records.store import Record, open_own, open_record
from bench.treatment.clock.done import end_stage
from bench.treatment.clock.schedule import Timeline, begin_of, replace_stage
from bench.treatment.entries import Entry
from bench.treatment.plan import Plan
from bench.treatment.resting import compare, rests_on, say_changes
from bench.treatment.standing import Flag, raise_flags, say_flags, say_plan
from bench.units import UnitChoice, join_words, say_count

T = TypeVar("T")

SAMPLES = Path(__file__).resolve().parent.parent / "sample_records"
FIRST_SAMPLE = "tin-orchard-annual-2"


_TABLES_IN_WORDS = {
    "decisions": "the decision",
    "defects": "the defects",
    "log": "the log",
    "materials": "the materials",
    "tests": "the answers",
}


class Treatment:
    """A treatment on the desk: its record, its item, the operator's units.

    Parameters
    ----------
    record : Record
        Open record.
    is_scratch : bool
        Whether it is a scratch copy, thrown away when the notebook is closed.
    clock : callable
        Gives the time of a save; this machine's by default.
    """

    def __init__(
        self, record: Record, *, is_scratch: bool = False, clock: Callable[[], datetime] | None = None
    ) -> None:
        self.record = record
        self.is_scratch = is_scratch
        self.now = clock or now
        self.switch = UnitSwitch(choice=nouns.units_of(record))
        self.watch = Watch(record)
        self._known: dict[str, tuple[object, Any]] = {}

    def __repr__(self) -> str:
        kind = "scratch copy of the sample" if self.is_scratch else "treatment"
        return f"{self.title} ({kind} {self.record.folder.name}), cycle {self.cycle}"

    def _repr_html_(self) -> str:
        """Say whose answers a page shows: stored outputs keep it, and the workbook reads its keys."""
        sample = (
            " This is an invented sample, not your item; what is saved here is thrown away."
            if self.is_scratch
            else ""
        )
        title = escape(self.title)
        keys = f'data-bench-title="{title}" data-bench-sample="{"yes" if self.is_scratch else "no"}"'
        return (
            f"<p {keys}><b>{title}</b>, cycle {self.cycle}.{sample} "
            "Every answer on this page is about this item. "
            '<span class="bench-run-hint">▲ Run the page before you use it (Run → Run All Cells): '
            "until then it shows what was stored with it.</span></p>"
        )

    @property
    def title(self) -> str:
        """Title of the item."""
        return str(nouns.treatment_row(self.record)["title"])

    @property
    def units(self) -> UnitChoice:
        """The operator's units."""
        choice: UnitChoice = self.switch.choice
        return choice

    @property
    def conservator(self) -> str:
        """Who is responsible; rows are saved in this name."""
        return str(nouns.treatment_row(self.record).get("conservator", "not named"))

    @property
    def start(self) -> datetime:
        """When the work is to begin, as recorded; now if it was not."""
        start: datetime | None = nouns.treatment_row(self.record).get("planned_start")
        return start or now()

    @property
    def began(self) -> datetime:
        """When the work can have begun: as planned, or when the record was made, whichever is earlier."""
        made: datetime = self.record.all_rows("treatment")[0]["saved_at"]
        planned: datetime | None = nouns.treatment_row(self.record).get("planned_start")
        return made if planned is None else min(made, planned)

    @property
    def latest(self) -> Record:
        """The record as it stands on the disk now.

        What a save replaces is worked out on this, so that ``record`` can still tell what somebody
        else saved since the panel was drawn.
        """
        return open_record(self.record.folder)

    def _keep(self, name: str, read: Callable[[], T]) -> T:
        """Give what was read from the record, read anew once somebody has saved to it."""
        state = (self.watch.state(), self.units)
        if name not in self._known or self._known[name][0] != state:
            self._known[name] = (state, read())
        found: T = self._known[name][1]
        return found

    @property
    def item(self) -> Item:
        """The item as it is recorded, also by another window."""
        return self._keep("item", lambda: nouns.item_of(self.record))

    @property
    def tables(self) -> standing.Tables:
        """Current rows of the tables that plans rest on."""
        return self._keep("tables", lambda: standing.read_tables(self.latest))

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Saved plans that are out of date, and sheets that do not add up; the first to mend first."""
        return self._keep("flags", lambda: raise_flags(self.tables, self._item_or_none(), units=self.units))

    def handed_to(self, stage: str, cycle: int) -> dict[str, str]:
        """Give what the record hands to a plan now, to be kept with it and held against what comes later."""
        return rests_on(stage, cycle, self.tables, self._item_or_none())

    def _item_or_none(self) -> Item | None:
        try:
            return self.item
        except BenchError:
            return None

    @property
    def cycle(self) -> int:
        """The cycle at hand: one more than the repeats decided at review."""
        return 1 + max(nouns.repeats_of(self.record), default=0)

    @property
    def timeline(self) -> Timeline | None:
        """The schedule as saved."""
        return nouns.timeline_of(self.record)

    def start_of(self, plan: Plan) -> datetime:
        """Give when the steps of a plan begin, by the saved schedule as far as it goes."""
        return begin_of(self.timeline, plan.stage, plan.cycle, start=self.start)

    def thicknesses(self, cycle: int = 1) -> Thicknesses:
        """Give the thicknesses as read before a cycle; typical values where nothing was read."""
        stage, number = nouns.before_cycle(cycle)
        return nouns.thicknesses_of(self.record, self.item, stage=stage, cycle=number)

    def heading(self, stage: str, cycle: int | None = None) -> Sequence[str]:
        """Say who and what is at hand, for the head of a panel."""
        where = f"{stage.capitalize()}, cycle {cycle}" if cycle else stage.capitalize()
        facts = [self.title, where, self._say_item()]
        return [*facts, "scratch copy"] if self.is_scratch else facts

    def _say_item(self) -> str:
        try:
            item = self.item
        except BenchError:
            return "not described yet"
        parts = [str(item.format), say_count(item.leaves, "leaf", "leaves")]
        if item.staples:
            parts.append(say_count(len(item.staples), "staple"))
        return ", ".join(parts)

    def rows_for(
        self, plan: Plan, *, ended: datetime | None = None, entered: Sequence[Entry] = ()
    ) -> dict[str, list[dict[str, Any]]]:
        """Give the rows that saving a plan writes: its values, and the schedule that it moves.

        Parameters
        ----------
        plan : Plan
            To be saved.
        ended : datetime, optional
            When the steps of the plan were done; None while they are still to come.
        entered : sequence of Entry
            What the operator entered in place of what was proposed.
        """
        record = self.latest
        rows = {"plans": nouns.plan_rows(plan, record, entered)}
        timeline = nouns.timeline_of(record)
        if plan.steps and rows["plans"]:  # a plan that says nothing new moves nothing
            timeline = replace_stage(
                timeline, plan.stage, plan.cycle, plan.steps, start=self.start, not_before=self.now()
            )
        steps = self._steps_after(timeline, plan.stage, plan.cycle, ended)
        return {**rows, "steps": steps} if steps else rows

    def rows_when_done(self, stage: str, cycle: int, ended: datetime | None) -> list[dict[str, Any]]:
        """Give the rows of ``steps`` that enter a stage as done; none while it is not."""
        return self._steps_after(nouns.timeline_of(self.latest), stage, cycle, ended)

    def _steps_after(
        self, timeline: Timeline | None, stage: str, cycle: int, ended: datetime | None
    ) -> list[dict[str, Any]]:
        if timeline is None:
            return []
        if ended is not None:
            timeline = end_stage(timeline, stage, cycle, ended=ended, now=self.now())
        return nouns.step_rows(timeline, self.latest)

    def write_file(self, name: str, text: str) -> str:
        """Write a file beside the tables, whole or not at all, and give its name.

        Raises
        ------
        RecordError
            The folder cannot be written.
        """
        path = self.record.folder / name
        try:
            disk.replace_file(path, text.encode("utf-8"))
        except OSError as error:
            raise explain_os_error(error, path) from error
        return name

    @staticmethod
    def say_plan(plan: Plan, *tables: str) -> str:
        """Say what saving a plan writes, without reading the record: panels ask at every move."""
        named = [_TABLES_IN_WORDS[table] for table in tables]
        what = ["the plan", *named, *(["the schedule"] if plan.steps else [])]
        return f"Saves {join_words(what)}: what is new, nothing twice."

    def save_plan(
        self,
        plan: Plan,
        extra: Mapping[str, Sequence[Mapping[str, Any]]] | None = None,
        *,
        entered: Sequence[Entry] = (),
        handed: Mapping[str, str] | None = None,
    ) -> str:
        """Save a plan with its steps and what it rests on, and say what was written.

        Parameters
        ----------
        plan : Plan
            To be saved.
        extra : mapping of table to rows, optional
            Saved with it, all or nothing.
        entered : sequence of Entry
            As in :meth:`rows_for`.
        handed : mapping of str to str, optional
            What :meth:`handed_to` gave when the plan was worked out.

        Raises
        ------
        BadValue
            What was handed on has changed since: the plan must be looked at again before it is saved.
        """
        if handed is not None:
            self._check_handed(plan, handed)
        return self.save({**self.rows_for(plan, entered=entered), **(extra or {})}, plan=plan)

    def _check_handed(self, plan: Plan, handed: Mapping[str, str]) -> None:
        changes = compare(handed, self.handed_to(plan.stage, plan.cycle))
        if changes:
            name = say_plan(plan.stage, plan.cycle)
            came = f"from before another window saved: {say_changes(changes, self.units)}"
            remedy = "It is worked out anew now: look at the answer, then save it"
            raise BadValue(name, came, "one that rests on what the record says now", remedy)

    def save(self, rows: Mapping[str, Sequence[Mapping[str, Any]]], *, plan: Plan | None = None) -> str:
        """Save rows, and the operator's units if they were changed, and say what was written.

        Parameters
        ----------
        rows : mapping of table to rows
            As :meth:`bench.records.record.Record.save` takes them; a table without rows is left out.
        plan : Plan, optional
            The plan that they belong to: what it rests on is saved with it.
        """
        wanted = {name: list(lines) for name, lines in rows.items() if lines}
        if plan is not None:
            rests = self._rest_rows(plan, wanted)
            if rests:
                wanted["plans"] = [*wanted.get("plans", []), *rests]
        description = nouns.treatment_row(self.record)
        if self.units != nouns.units_of(self.record) and "treatment" not in wanted:
            units = {"length_unit": self.units.length, "temperature_unit": self.units.temperature}
            wanted["treatment"] = [{**description, **units}]
        if not wanted:
            return "Nothing new to save: the record already says so."
        before = {(flag.stage, flag.cycle) for flag in self.flags}
        saved = self.record.save(wanted, by=self.conservator, at=self.now())
        words = f"Saved {saved.counted}."
        news = self.watch.tell_at_save(saved.save)
        if news:
            words += f" Meanwhile {news}."
        new = [flag for flag in self.flags if (flag.stage, flag.cycle) not in before]
        return " ".join(part for part in (words, say_flags(new), saved.notice) if part)

    @property
    def trials(self) -> tuple[SavedTrial, ...]:
        """What the bench of this treatment measured of itself, the first trial first.

        Raises
        ------
        RecordError
            The record of the bench cannot be read whole.
        """
        return look_at_trials(bench_of(self.record.folder))

    def save_to_bench(self, build: Callable[[Record], Mapping[str, Sequence[Mapping[str, Any]]]]) -> str:
        """Save rows to the record of the bench, which is made if it is not there, and say what was written.

        Parameters
        ----------
        build : callable
            Gives the rows for the record as it stands now.
        """
        before = {(flag.stage, flag.cycle) for flag in self.flags}
        folder = bench_of(self.record.folder)
        record = open_own(folder, "This bench", by=self.conservator, at=self.now())
        saved = record.save(build(record), by=self.conservator, at=self.now())
        new = [flag for flag in self.flags if (flag.stage, flag.cycle) not in before]
        words = f"Saved {saved.counted} of this bench."
        return " ".join(part for part in (words, say_flags(new), saved.notice) if part)

    def _rest_rows(self, plan: Plan, rows: Mapping[str, Sequence[Mapping[str, Any]]]) -> list[dict[str, Any]]:
        """Give the rows that keep what a plan rests on, as the record will stand with it."""
        tables = standing.overlay(self.tables, rows)
        rests = rests_on(plan.stage, plan.cycle, tables, self._item_or_none())
        return nouns.rest_rows(plan, self.latest, rests)


def records_folder() -> Path | None:
    """Give the folder of the treatments; None if the notebook was not opened by the workbook."""
    named = os.environ.get("BENCH_RECORDS")
    return Path(named) if named else None


def at_hand() -> str | None:
    """Give the name of the treatment at hand, as last chosen; None if there is none."""
    folder = records_folder()
    return None if folder is None else find_at_hand(folder) or os.environ.get("BENCH_TREATMENT")


def open_treatment(name: str | None = None) -> Treatment:
    """Open the treatment at hand.

    Parameters
    ----------
    name : str, optional
        A folder of the records, or a sample.  By default the one the workbook was opened on, else
        a scratch copy of the first sample.

    Raises
    ------
    NotFound
        No treatment of that name.
    """
    _prepare_shell()
    wanted = name or at_hand()
    folder = records_folder()
    if folder and wanted and is_within(folder, wanted):
        return Treatment(open_record(folder / wanted))
    return _open_scratch(wanted or FIRST_SAMPLE)


def _prepare_shell() -> None:
    """Let a notebook answer an error of the bench with its sentence, and show its pictures live.

    A cell further down that misses what the failed one would have made says that it waits; a name that
    is missing for any other reason keeps its page of code.
    """
    from IPython.core.getipython import get_ipython

    shell = get_ipython()
    if shell is not None:
        answer_in_sentences(shell)
        show_charts(shell)


class _Sentences:
    """Answers a cell that cannot be worked out with a sentence, and lets the cells below it run.

    Otherwise *Run All* would end there, and beneath it would stand what was stored for another item.
    """

    def __init__(self) -> None:
        self._refused = False

    def begin_anew(self) -> None:
        """Forget what was refused: the page is being run again."""
        self._refused = False

    def say(self, shell: Any, kind: type, error: Exception, trace: Any, tb_offset: int | None = None) -> None:
        """Print the sentence; a name that a refused cell was to give is waited for."""
        if isinstance(error, NameError):
            if not self._refused:
                shell.showtraceback((kind, error, trace), tb_offset=tb_offset)
                return
            print(f"▲ This cell waits for one above it, which was to give “{error.name}”.")
            return
        self._refused = True
        print(f"■ {error}")

    def go_on(self, result: Any) -> None:
        """Take the cell as run, so that those below it are run too."""
        refused = isinstance(result.error_in_exec, BenchError | RecordError)
        waits = self._refused and isinstance(result.error_in_exec, NameError)
        if refused or waits:
            result.error_in_exec = None


def answer_in_sentences(shell: Any) -> None:
    """Have a shell of IPython answer errors of the bench in sentences; once is enough for a shell."""
    if getattr(shell, "bench_sentences", None) is not None:
        shell.bench_sentences.begin_anew()
    else:
        shell.bench_sentences = _Sentences()
        shell.set_custom_exc((BenchError, RecordError, NameError), shell.bench_sentences.say)
        shell.events.register("post_run_cell", shell.bench_sentences.go_on)


_SCRATCH = "bench-scratch-"


def _open_scratch(sample: str) -> Treatment:
    source = SAMPLES / sample
    if not is_within(SAMPLES, sample):
        names = sorted(p.name for p in SAMPLES.iterdir() if p.is_dir()) if SAMPLES.is_dir() else []
        remedy = "Choose one of these, or open the workbook with --treatment"
        raise NotFound("treatment", repr(sample), ", ".join(names) or "none here", remedy)
    sweep(_SCRATCH)
    home = Path(tempfile.mkdtemp(prefix=_SCRATCH))
    own(home)
    scratch = home / sample
    shutil.copytree(source, scratch)
    return Treatment(open_record(scratch), is_scratch=True)
