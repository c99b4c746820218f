"""Bring together two copies of one treatment that went apart: a tablet and a desk, a synced folder.

What both hold is told by the list of saves.  The saves that only the other copy holds are added here as they
were made, by whom and when, under new numbers.  Where both say something of the same thing since they went
apart, somebody says which holds; what does not hold stays in the history.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

from bench.errors import BadValue, Fault, RecordError
from bench.records import disk, journal
from bench.records.draft import Stamp, TextRow
from bench.records.faults import say_fault
from bench.records.kept_files import SHELVES
from bench.records.ledger import (
    SaveChain,
    find_differences,
    name_save,
    read_entries,
    rows_by_save,
    say_differences,
)
from bench.records.restore_points import make_restore_point
from bench.records.schema import FILES, KEYS, SAVES, SCHEMA_VERSION, TABLES, TREATMENT
from bench.records.sheet import Row, Sheet, Sheets, add_rows, faults_of, mark_cells, read_sheet
from bench.records.tables import read_files, read_sheets
from bench.records.version import find_version
from bench.treatment.resting import NO_LONGER

HERE, THERE = "here", "there"
_PLANS = "plans"
_BROUGHT = "Brought from another copy of the folder."


@dataclass(frozen=True)
class Conflict:
    """The same thing said in both copies since they went apart.

    Attributes
    ----------
    name : str
        By which it is chosen.
    table : str
        In which both say it.
    here, there : tuple of Row
        What holds in each copy: one row, or all rows of a plan.
    """

    name: str
    table: str
    here: tuple[Row, ...]
    there: tuple[Row, ...]

    def __str__(self) -> str:
        ours, theirs = self.here[-1], self.there[-1]
        who = (
            f"here by {ours.cells['by']}, {ours.cells['saved_at']}; "
            f"there by {theirs.cells['by']}, {theirs.cells['saved_at']}"
        )
        if self.table == _PLANS:
            return f"{self.name}: planned in both copies ({who})"
        own = [column.name for column in TABLES[self.table].own]
        differ = [name for name in own if ours.cells.get(name, "") != theirs.cells.get(name, "")]
        said = "; ".join(
            f"{name}: here “{ours.cells.get(name, '')}”, there “{theirs.cells.get(name, '')}”"
            for name in differ
        )
        return f"{self.name}: {said} ({who})"


@dataclass(frozen=True)
class Merged:
    """What a merge did, or would do.

    Attributes
    ----------
    saves : int
        How many saves only the other copy holds.
    rows : mapping of str to int
        How many rows they hold, by table.
    open : tuple of Conflict
        Conflicts that wait for an answer; nothing is written while there are any.
    """

    saves: int
    rows: Mapping[str, int]
    open: tuple[Conflict, ...]


def merge(
    here: str | Path,
    there: str | Path,
    *,
    by: str,
    at: datetime,
    answers: Mapping[str, str] | None = None,
    wait: float = 10.0,
) -> Merged:
    """Add to one copy of a treatment what only the other holds; the other is only read.

    Parameters
    ----------
    here, there : str or Path
        Folders of the two copies.
    by, at : str, datetime
        Who merges, and when, with offset.
    answers : mapping of str to str
        For a conflict, by its name, which copy holds: ``"here"`` or ``"there"``; under ``"all"`` for
        those that are not named.
    wait : float
        Seconds to wait for another notebook that is saving.

    Returns
    -------
    Merged

    Raises
    ------
    BadValue
        The two are not copies of one treatment.
    RecordError
        A table cannot be read whole, a row is not as it was saved, the other copy was mended since, or the
        folder cannot be written.
    """
    stamp, mine, other = Stamp(by, at), Path(here), Path(there)
    given = dict(answers or {})
    with disk.hold_lock(mine, wait=wait):
        journal.finish(mine)
        ours, theirs = _read_copy(mine), _read_copy(other)
        pair = _Pair(ours, theirs)
        conflicts = pair.find_conflicts()
        rows = {name: len(listed) for name, listed in pair.new_rows().items() if listed}
        waiting = tuple(c for c in conflicts if given.get(c.name, given.get("all")) not in (HERE, THERE))
        if waiting or not pair.new_saves:
            return Merged(len(pair.new_saves), rows, waiting)
        make_restore_point(mine, at=at, why="before-merge")
        chosen = {c.name: given.get(c.name, given.get("all", HERE)) for c in conflicts}
        places = _bring_files(mine, other, pair)  # before the rows that name them
        contents = _build(mine, pair, conflicts, chosen, stamp, places)
        save = name_save(f"merge {pair.new_saves} {stamp.saved_at}")
        journal.replace_all(mine, save, contents, SCHEMA_VERSION)
    return Merged(len(pair.new_saves), rows, ())


def _read_copy(folder: Path) -> dict[str, Sheet]:
    """Read all tables of a copy, of the present schema, and as they were saved."""
    data = read_files(folder)
    if data[TREATMENT.name] is None:
        raise BadValue("copy", repr(str(folder)), "the folder of a treatment", "Name the folder itself")
    version = find_version(data[TREATMENT.name])
    if version != SCHEMA_VERSION:
        remedy = "Save something in that copy with this program, then merge"
        what = say_fault(f"is of schema {version}", f"schema {SCHEMA_VERSION} in both copies", remedy)
        raise RecordError([Fault(str(folder), None, None, what)])
    if (folder / journal.JOURNAL).exists():
        what = "a save was broken off there. Open that copy once, then merge."
        raise RecordError([Fault(str(folder / journal.JOURNAL), None, None, what)])
    sheets = read_sheets(data)
    if differences := find_differences(sheets, sheets[SAVES.name]):
        raise RecordError([Fault(str(folder), None, None, say_differences(differences))])
    return sheets


@dataclass
class _Pair:
    """Two copies, and how the rows of the other are numbered here."""

    ours: Sheets
    theirs: Sheets
    new_saves: list[str] = field(default_factory=list)
    rows_there: dict[str, dict[str, list[Row]]] = field(default_factory=dict)
    """Rows of the other copy, by save and table."""
    numbers: dict[str, dict[int, int]] = field(default_factory=dict)
    """By table, the number here of each row of the other copy."""

    def __post_init__(self) -> None:
        lines = [[row.cells["digest"] for row in copy[SAVES.name].rows] for copy in (self.ours, self.theirs)]
        if not lines[0] or not lines[1] or lines[0][0] != lines[1][0]:
            remedy = "Merge two copies of one treatment; what was started twice is two treatments"
            raise BadValue("copy", "not begun by the same save", "a copy of this treatment", remedy)
        known = {row.cells["save"] for row in self.ours[SAVES.name].rows}
        saves = dict.fromkeys(row.cells["save"] for row in self.theirs[SAVES.name].rows)
        self.new_saves = [save for save in saves if save not in known]
        self._refuse_mended()
        mine, self.rows_there = (
            rows_by_save({name: copy[name] for name in TABLES}) for copy in (self.ours, self.theirs)
        )
        self.numbers = {name: {} for name in TABLES}
        for save in mine.keys() & self.rows_there.keys():
            for name, rows in self.rows_there[save].items():
                here = mine[save].get(name, [])
                if len(here) != len(rows):
                    came = (
                        f"tells of {len(rows)} rows of save {save} in {name}, of which {len(here)} are here"
                    )
                    raise RecordError([_mended(came)])
                self.numbers[name] |= {row.number: own.number for row, own in zip(rows, here, strict=True)}

    def _refuse_mended(self) -> None:
        """Refuse a copy in which rows were taken over or put back since: each copy does that by itself."""
        owners = {(name, row.number): row.cells["save"] for name in TABLES for row in self.theirs[name].rows}
        for entry in read_entries(self.theirs[SAVES.name]):
            is_new = entry.save in self.new_saves
            if is_new and (not entry.places or any(owners.get(p) != entry.save for p in entry.places)):
                raise RecordError([_mended("tells of rows taken over or put back since", entry.number)])

    def new_rows(self) -> dict[str, list[Row]]:
        """Give the rows that only the other copy holds, by table."""
        return {
            name: [row for save in self.new_saves for row in self.rows_there[save].get(name, ())]
            for name in TABLES
        }

    def find_conflicts(self) -> list[Conflict]:
        """Find what both copies say of the same thing since they went apart, and say differently."""
        found: list[Conflict] = []
        for name, rows in self.new_rows().items():
            current = {row.number for row in self.theirs[name].current}
            standing = [row for row in rows if row.number in current]
            if name == _PLANS:
                found += self._plans_in_both(standing)
                continue
            for row in standing:
                mine = self.counterpart(name, row)
                if mine is not None and _own(name, mine) != _own(name, row):
                    found.append(Conflict(f"{name} {row.number}", name, (mine,), (row,)))
        return found

    def _plans_in_both(self, standing: Sequence[Row]) -> Iterable[Conflict]:
        common = set(self.numbers[_PLANS].values())
        mine = [row for row in self.ours[_PLANS].current if row.number not in common]
        for plan in dict.fromkeys(_plan_of(row) for row in standing):
            here = tuple(row for row in mine if _plan_of(row) == plan)
            there = tuple(row for row in standing if _plan_of(row) == plan)
            if here and [_own(_PLANS, row) for row in here] != [_own(_PLANS, row) for row in there]:
                yield Conflict(f"plan {plan[0]} of cycle {plan[1]}", _PLANS, here, there)

    def counterpart(self, name: str, row: Row) -> Row | None:
        """Give the row that holds here in place of one of the other copy; None if nothing was said here."""
        common = self.numbers[name]
        by_number = {each.number: each for each in self.theirs[name].rows}
        root: Row | None = row
        while root is not None and root.number not in common:
            root = by_number.get(root.replaces) if root.replaces is not None else None
        mine = set(common.values())
        if root is not None:
            last = self.tip(name, common[root.number])
            return last if last.number not in mine else None
        keys = KEYS.get(name, ())
        key = [row.values[column] for column in keys]
        same = (each for each in self.ours[name].current if [each.values[c] for c in keys] == key)
        return next((each for each in same if each.number not in mine), None) if keys else None

    def tip(self, name: str, number: int) -> Row:
        """Follow what replaces a row here up to the row that holds."""
        replaced_by = {row.replaces: row for row in self.ours[name].rows if row.replaces is not None}
        row = next(each for each in self.ours[name].rows if each.number == number)
        while row.number in replaced_by:
            row = replaced_by[row.number]
        return row


def _mended(came: str, line: int | None = None) -> Fault:
    remedy = "Bring the two together by hand, or do the same here first"
    return Fault(SAVES.file, line, None, say_fault(came, "usual saves alone", remedy))


def _own(name: str, row: Row) -> list[str]:
    return [row.cells.get(column.name, "") for column in TABLES[name].own]


def _plan_of(row: Row) -> tuple[str, int]:
    return str(row.values["plan"]), int(row.values["cycle"])


def _bring_files(here: Path, there: Path, pair: _Pair) -> dict[str, str]:
    """Copy the photographs and logger files that only the other copy holds; give their places here.

    Another file of the same name stays: the one that is brought gets a number behind its name.  One that is
    not there either is left to the check of the record, which tells.
    """
    places = {}
    for shelf in SHELVES:
        for row in pair.new_rows()[shelf.table]:
            file = row.cells["file"]
            data = disk.read_bytes(there / file)
            if data is not None and disk.read_bytes(here / file) != data:
                places[file] = shelf.put(here, Path(file).name, data)
    return places


def _build(
    folder: Path,
    pair: _Pair,
    conflicts: Sequence[Conflict],
    chosen: Mapping[str, str],
    stamp: Stamp,
    places: Mapping[str, str],
) -> dict[str, bytes]:
    """Build the new content of every table that grows and of the list of saves, and read it back."""
    added: dict[str, list[TextRow]] = {name: [] for name in TABLES}
    chain = SaveChain(pair.ours[SAVES.name])
    lines: list[TextRow] = []
    for save in pair.new_saves:
        marks = {}
        for name, row in ((name, row) for name, rows in pair.rows_there[save].items() for row in rows):
            text = _renumber(pair, name, row, added[name])
            if text.get("file") in places:
                text["file"] = places[text["file"]]
            added[name].append(text)
            marks[name, int(text["row"])] = mark_cells(text)
        first = next(row for row in pair.theirs[SAVES.name].rows if row.cells["save"] == save)
        lines += chain.add(
            marks, save=save, by=first.cells["by"], saved_at=first.cells["saved_at"], note=_BROUGHT
        )
    own = name_save(f"settled {pair.new_saves} {sorted(chosen.items())} {stamp.saved_at}")
    marks = {}
    for conflict in conflicts:
        for text in _settle(pair, conflict, chosen[conflict.name], added[conflict.table]):
            if chosen[conflict.name] == THERE and text.get("file") in places:
                text["file"] = places[text["file"]]
            text |= {"saved_at": stamp.saved_at, "by": stamp.name, "save": own}
            added[conflict.table].append(text)
            marks[conflict.table, int(text["row"])] = mark_cells(text)
    if marks:  # with nothing to settle, the saves that were brought say it themselves
        note = "Two copies of the folder were brought together."
        lines += chain.add(marks, save=own, by=stamp.name, saved_at=stamp.saved_at, note=note)
    contents = {
        name: add_rows(disk.read_bytes(folder / FILES[name].file), pair.ours[name], texts)
        for name, texts in {**added, SAVES.name: lines}.items()
        if texts
    }
    _read_back(pair, contents)
    return contents


def _next(pair: _Pair, name: str, added: Sequence[TextRow]) -> str:
    return str(pair.ours[name].last_row + len(added) + 1)


def _renumber(pair: _Pair, name: str, row: Row, added: Sequence[TextRow]) -> TextRow:
    """Give a row of the other copy under its number here, in place of what it replaces here."""
    text = {column: row.cells.get(column, "") for column in FILES[name].header}
    text["row"] = _next(pair, name, added)
    target: int | None = None
    if row.replaces is not None:
        target = pair.numbers[name][row.replaces]
        if target <= pair.ours[name].last_row:
            target = pair.tip(name, target).number
    elif name != _PLANS and (mine := pair.counterpart(name, row)) is not None:
        target = mine.number
    taken = {each["replaces"]: each["row"] for each in added}
    while target is not None and str(target) in taken:  # replaced by a row brought before
        target = int(taken[str(target)])
    text["replaces"] = "" if target is None else str(target)
    pair.numbers[name][row.number] = int(text["row"])
    return text


def _settle(pair: _Pair, conflict: Conflict, holds: str, added: Sequence[TextRow]) -> Iterable[TextRow]:
    """Give the rows that let one side of a conflict hold, in the order in which they are added."""
    name = conflict.table
    if name == _PLANS:
        losing = conflict.there if holds == HERE else conflict.here
        for row in losing:
            number = pair.numbers[name][row.number] if holds == HERE else row.number
            kept = {column: row.cells[column] for column in ("plan", "stage", "cycle", "quantity")}
            yield {
                **dict.fromkeys(FILES[name].header, ""),
                **kept,
                "row": _next(pair, name, added),
                "replaces": str(number),
                "words": NO_LONGER,
            }
    else:  # said once more even where the other copy holds, so that it holds there too when this goes back
        (mine,), (theirs,) = conflict.here, conflict.there
        last = mine if holds == HERE else theirs
        yield {
            **{column: last.cells.get(column, "") for column in FILES[name].header},
            "row": _next(pair, name, added),
            "replaces": str(pair.numbers[name][theirs.number]),
        }


def _read_back(pair: _Pair, contents: Mapping[str, bytes]) -> None:
    """Read what is to be written strictly: nothing here may have changed, and every row is in the list."""
    after = {**pair.ours, **{name: read_sheet(data, FILES[name]) for name, data in contents.items()}}
    faults = faults_of(after)
    differences = find_differences(after, after[SAVES.name])
    kept = all(
        [row.mark for row in after[name].rows[: len(pair.ours[name].rows)]]
        == [row.mark for row in pair.ours[name].rows]
        for name in FILES
    )
    if faults or differences or not kept:
        what = "the two copies cannot be brought together: nothing was written."
        raise RecordError(faults or [Fault(SAVES.file, None, None, what)])
