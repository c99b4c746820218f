"""Check records: every fault at once, also those between rows and between tables.

Faults mean that something must be corrected.  A :class:`bench.records.faults.Note` in the list only
tells what a careful reader wants to know.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from bench.errors import Fault, NotFound, RecordError
from bench.records import journal
from bench.records.faults import Note, only_faults, say_fault
from bench.records.kept_files import SHELVES, Shelf
from bench.records.ledger import Difference, say_difference
from bench.records.many import Progress, read_many
from bench.records.rules import KINDS, TAKEN_BACK
from bench.records.schema import FILES, KEYS, PLANS, SAVES, TREATMENT, staple_at
from bench.records.sheet import Row, Sheet, Sheets
from bench.records.standing import flags_of
from bench.records.store import Record, look_at_treatment
from bench.records.version import explain_newer


def check_records(records_folder: str | Path, *, progress: Progress | None = None) -> dict[str, list[Fault]]:
    """Check every treatment in a folder of records, and what the bench keeps of itself.

    Parameters
    ----------
    records_folder : str or Path
        Where the treatments are.
    progress : callable, optional
        ``progress(done, of)``.

    Returns
    -------
    dict of folder name to list of Fault
        An empty list for a treatment without faults.

    Raises
    ------
    NotFound
        No such folder.
    """
    folders = treatment_folders(records_folder)
    folders += sorted(path for path in Path(records_folder).glob("_*") if (path / TREATMENT.file).is_file())
    found = read_many(folders, check_treatment, progress)
    return {folder.name: faults for folder, faults in zip(folders, found, strict=True)}


def treatment_folders(records_folder: str | Path) -> list[Path]:
    """List the folders beside the register by name, without hidden ones and the bench's own.

    Raises
    ------
    NotFound
        No such folder.
    """
    path = Path(records_folder)
    if not path.is_dir():
        remedy = "Start a new treatment, which makes the folder, or choose another one"
        raise NotFound("folder of records", repr(str(path)), "a folder with treatments in it", remedy)
    return sorted(
        entry for entry in path.iterdir() if entry.is_dir() and not entry.name.startswith((".", "_"))
    )


def check_treatment(folder: str | Path) -> list[Fault]:
    """List everything wrong in the record of one treatment; nothing is written.

    Parameters
    ----------
    folder : str or Path
        The folder with the tables.

    Returns
    -------
    list of Fault
        In the order of the tables and rows, notes among them; empty if all is well.
    """
    path = Path(folder)
    try:
        record = look_at_treatment(path)
        sheets = record.sheets()
    except NotFound:
        remedy = "Put the table back from a copy; if this is no treatment, move the folder elsewhere"
        what = say_fault("is missing", "a first table in every folder of records", remedy)
        return [Fault(TREATMENT.file, None, None, what)]
    except RecordError as error:
        return list(error.faults)
    found: list[Fault] = []
    if record.is_newer:
        found.append(explain_newer(record.schema_version))
    for sheet in (*sheets.values(), record.sheet(SAVES)):
        found += _check_sheet(sheet)
    if record.is_newer:  # what its words and columns mean together is not known here
        return found
    found += _check_saves(record.differences())
    found += [fault for check in _ACROSS for fault in check(sheets)]
    found += _check_folder(path, sheets)
    if not only_faults(found):
        found += _check_standing(record)
    places = list(FILES)
    return sorted(found, key=lambda f: (_place(f, places), f.row or 0))


def _check_saves(differences: Iterable[Difference]) -> Iterable[Fault]:
    """List rows that are not as they were saved."""
    for each in differences:
        yield Fault(FILES[each.table or SAVES.name].file, each.rows[0], None, say_difference(each))


def _check_standing(record: Record) -> Iterable[Fault]:
    """List plans that are out of date, and sheets that do not add up: the latter must be found."""
    for flag in flags_of(record):
        kind = Fault if flag.is_grave else Note
        yield kind(PLANS.file, None, None, str(flag))


def _place(fault: Fault, names: list[str]) -> int:
    name = fault.table.removesuffix(".csv")
    return names.index(name) if name in names else -1


def _fault(sheet: Sheet, row: Row | None, column: str | None, *words: str) -> Fault:
    return Fault(sheet.table.file, row.number if row else None, column, say_fault(*words))


def _note(sheet: Sheet, row: Row, column: str, *words: str) -> Note:
    return Note(sheet.table.file, row.number, column, say_fault(*words))


def _say(moment: datetime) -> str:
    return moment.isoformat(timespec="minutes")


def _check_sheet(sheet: Sheet) -> Iterable[Fault]:
    """Faults of one table: its form, its current rows, its numbers, what replaces what."""
    yield from sheet.faults
    yield from sheet.notes
    for row in sheet.current:
        yield from row.faults
    yield from _note_corrected(sheet)
    numbers = {row.number for row in sheet.rows}
    gaps = sorted(set(range(1, sheet.last_row + 1)) - numbers)
    if gaps:
        listed = ", ".join(str(gap) for gap in gaps[:5]) + (", …" if len(gaps) > 5 else "")
        one = len(gaps) == 1
        words = f"{'row' if one else 'rows'} {listed} {'is' if one else 'are'} missing: somebody took "
        words += (
            f"{'it' if one else 'them'} out of the file. Rows are corrected by a later row, never taken out."
        )
        yield Note(sheet.table.file, None, "row", words)
    replacing: dict[int, int] = {}
    for row in sheet.rows:
        if row.replaces is None:
            continue
        came = f"is {row.replaces}"
        if row.replaces not in numbers or row.replaces >= row.number:
            yield _fault(
                sheet, row, "replaces", came, "an earlier row of this table", "Name the row it corrects"
            )
        elif row.replaces in replacing:
            first = replacing[row.replaces]
            came += f", which row {first} replaced already"
            yield _fault(sheet, row, "replaces", came, "a current row", f"Let it replace row {first} instead")
        replacing.setdefault(row.replaces, row.number)


def _note_corrected(sheet: Sheet) -> Iterable[Note]:
    """Note what past rows say that they may not: a later row corrects it."""
    current = {row.number for row in sheet.current}
    for row in sheet.rows:
        if row.number not in current:
            for fault in row.faults:
                yield Note(fault.table, fault.row, fault.column, f"{fault.what} A later row corrects it.")


def _check_times(sheets: Sheets) -> Iterable[Fault]:
    """Note what was entered as done later than it was saved."""
    done = ("taken_at", "decided_at", "at", "actual_start", "actual_end")
    for sheet in sheets.values():
        own = [name for name in done if name in sheet.table.header]
        for row in sheet.current if own else ():
            saved = row.values["saved_at"]
            for column in own:
                at = row.values[column]
                if isinstance(at, datetime) and isinstance(saved, datetime) and at > saved:
                    came = f"is {_say(at)}, later than the row was saved"
                    yield _note(sheet, row, column, came, f"{_say(saved)} or earlier", "Check the date")


def _check_agreed(sheets: Sheets) -> Iterable[Fault]:
    """Note a consent that names a day later than the row was saved."""
    for row in sheets["decisions"].current:
        day = re.search(r"; agreed on (\d{4}-\d{2}-\d{2})", str(row.values["evidence"] or ""))
        saved = row.values["saved_at"]
        if day and isinstance(saved, datetime) and day[1] > saved.date().isoformat():
            came = f"names {day[1]}, later than the row was saved"
            allowed = f"{saved.date().isoformat()} or earlier"
            yield _note(sheets["decisions"], row, "evidence", came, allowed, "Check the year")


def _check_early(sheets: Sheets) -> Iterable[Fault]:
    """Note readings of intake that were taken after the item had been in the chamber or the press."""
    begun = [
        row.values["actual_start"]
        for row in sheets["steps"].current
        if row.values["stage"] in ("humidity", "buffering", "pressing") and row.values["actual_start"]
    ]
    for row in sheets["readings"].current:
        at = row.values["taken_at"]
        if row.values["stage"] == "intake" and begun and isinstance(at, datetime) and at > min(begun):
            came = f"is {_say(at)}, after the treatment began"
            allowed = f"before {_say(min(begun))} for readings of intake"
            remedy = "Check the date, or enter it as a reading of the review"
            yield _note(sheets["readings"], row, "taken_at", came, allowed, remedy)


def _check_versions(sheets: Sheets) -> Iterable[Fault]:
    sheet = sheets["treatment"]
    if sheet.faults:
        return
    current = sheet.current
    if not current:
        yield _fault(sheet, None, None, "has no row", "one current version of the item", "Describe the item")
    for row in current[:-1]:
        last = current[-1].number
        came = f"is current beside row {last}"
        remedy = f"Save a version that replaces row {row.number}"
        yield _fault(sheet, row, None, came, "one current version of the item", remedy)
    ids = dict.fromkeys(str(row.values["treatment_id"]) for row in sheet.rows)
    if len(ids) > 1:
        came = f"is {' and '.join(ids)}"
        yield _fault(sheet, None, "treatment_id", came, "one id in all rows", "Put the first one back")


def _check_unique(sheets: Sheets) -> Iterable[Fault]:
    """Two current rows must not describe the same thing."""
    for name, columns in KEYS.items():
        seen: dict[tuple[Any, ...], int] = {}
        for row in sheets[name].current:
            key = tuple(row.values[column] for column in columns)
            if name == "plans" and row.values["value"] is None:  # words may well come several at a time
                continue
            if key in seen:
                said = " ".join(str(part) for part in key)
                came = f"is “{said}” as in row {seen[key]}, and both are current"
                remedy = f"Save a row that replaces row {seen[key]}, or rename one of them"
                yield _fault(sheets[name], row, columns[0], came, "one current row for each", remedy)
            seen.setdefault(key, row.number)


def _check_staples(sheets: Sheets) -> Iterable[Fault]:
    staples = sheets["staples"]
    if staples.faults:
        return
    names = {str(row.values["staple"]).casefold(): str(row.values["staple"]) for row in staples.current}
    for row in sheets["readings"].current:
        staple = staple_at(str(row.values["place"] or ""))
        if staple is not None and staple.casefold() not in names:
            came = f"is “{row.values['place']}”, a staple that is not in staples.csv"
            allowed = ", ".join(names.values()) or "no staple: the table is empty"
            yield _fault(
                sheets["readings"], row, "place", came, allowed, "Enter the staple, or mend its name"
            )
    for item in sheets["treatment"].current[-1:]:
        height = item.values["height_mm"]
        for row in staples.current:
            at = row.values["from_head_mm"]
            if height is not None and at is not None and at > height:
                came, allowed = f"is {at:g}", f"at most the height of the item, {height:g} mm"
                yield _fault(staples, row, "from_head_mm", came, allowed, "Measure from the head edge")


def _check_quantities(sheets: Sheets) -> Iterable[Fault]:
    """Note readings of a quantity that no stage reads: most often a slip of the pen."""
    planned = {str(row.values["quantity"]).lower() for row in sheets["plans"].current}
    known = {*KINDS, *planned, TAKEN_BACK}
    for row in sheets["readings"].current:
        name = str(row.values["quantity"] or "")
        if name and name.lower() not in known:
            near = get_close_matches(name.lower(), KINDS, n=1)
            meant = f"did you mean {near[0]}?" if near else f"those read are {', '.join(KINDS)}."
            words = f"“{name}” is not a quantity that any stage reads; {meant}"
            yield Note(sheets["readings"].table.file, row.number, "quantity", words)


def _check_defects(sheets: Sheets) -> Iterable[Fault]:
    sheet = sheets["defects"]
    before = {row.values["defect"] for row in sheet.rows if row.values["moment"] == "before"}
    for row in sheet.current:
        if row.values["moment"] == "after" and row.values["defect"] not in before:
            came = f"is “{row.values['defect']}”, seen after but never before treatment"
            remedy = "Mend the id, or report it as new damage in the note"
            yield _note(sheet, row, "defect", came, "an id listed before", remedy)


_ACROSS = (
    _check_versions,
    _check_times,
    _check_agreed,
    _check_early,
    _check_unique,
    _check_staples,
    _check_quantities,
    _check_defects,
)


def _check_folder(folder: Path, sheets: Sheets) -> Iterable[Fault]:
    """Check what stands beside the tables: files that were taken in, the journal, the name of the folder."""
    if (folder / journal.JOURNAL).exists():
        what = "a save was broken off. Its rows are safe; open the treatment and they go into the tables."
        yield Note(journal.JOURNAL, None, None, what)
    known = {table.file for table in FILES.values()}
    for path in sorted(folder.glob("*.csv")):
        if path.name not in known:
            what = "is no table of a record. A program that keeps folders alike leaves such a file where two "
            what += "copies differ: compare it with the table, enter again what is missing, then remove it."
            yield Note(path.name, None, None, what)
    for path in sorted(folder.glob(journal.ASIDE.format("*"))):
        yield Note(path.name, None, None, journal.say_aside())
    for row in sheets["treatment"].current[-1:]:
        if row.values["treatment_id"] != folder.name:
            came = f"is {row.values['treatment_id']}, but the folder is called {folder.name}"
            remedy = "Nothing need be done for a copy made on purpose"
            yield _note(sheets["treatment"], row, "treatment_id", came, "the same name", remedy)
    for shelf in SHELVES:
        sheet = sheets[shelf.table]
        for row in sheet.current:
            if not row.faults:
                yield from _check_kept(folder, shelf, sheet, row)


def _check_kept(folder: Path, shelf: Shelf, sheet: Sheet, row: Row) -> Iterable[Fault]:
    """Check that a file that was taken in is there and untouched."""
    file = row.values["file"]
    try:
        with (folder / file).open("rb") as stream:
            found = hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        came = f"is {file}, which cannot be read ({error.strerror or error})"
        allowed = "a file in the folder of the treatment"
        yield _fault(sheet, row, "file", came, allowed, "Put the file back, or save a row with its new place")
        return
    if found != row.values["sha256"]:
        came = f"is not that of {file} as it is now, {found[:12]}…"
        allowed = f"the checksum taken in, {row.values['sha256'][:12]}…"
        remedy = f"Put the untouched file back; {shelf.edited}"
        yield _fault(sheet, row, "sha256", came, allowed, remedy)
