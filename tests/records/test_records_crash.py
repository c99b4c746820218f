"""A save is all or nothing: when killed, on a full disk, where nobody may write, against another save."""

from __future__ import annotations

import contextlib
import errno
import os
import random
import resource
import shutil
import signal
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from bench.errors import RecordError
from bench.records import disk
from bench.records.check import check_treatment
from bench.records.journal import JOURNAL
from bench.records.record import Record
from bench.records.restore import restore
from bench.records.restore_points import make_restore_point
from bench.records.schema import SCHEMA_VERSION
from bench.records.store import open_record
from tests.records.record_makers import AT, SAVING, in_child, make, names_in, reading, remark

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not hasattr(os, "fork"), reason="kills are tried with fork"),
]

CALLS = ("open", "write", "fsync", "close", "replace", "unlink")


class FaultyOs:
    """Stands before ``os`` in the disk module and does something at one of its calls."""

    def __init__(self, at: int, fault: Callable[[], None], *, after: bool = False) -> None:
        self.at, self.fault, self.after, self.calls = at, fault, after, 0

    def __getattr__(self, name: str) -> Any:
        real = getattr(os, name)
        if name not in CALLS:
            return real

        def call(*arguments: Any, **named: Any) -> Any:
            self.calls += 1
            due = self.calls == self.at
            if due and name == "write":  # a write that fails has often written a part
                real(arguments[0], bytes(arguments[1])[: len(arguments[1]) // 2])
            if due and not self.after and name != "close":
                self.fault()
            result = real(*arguments, **named)
            if due:
                self.fault()
            return result

        return call


@contextlib.contextmanager
def faulty(at: int, fault: Callable[[], None], *, after: bool = False) -> Iterator[FaultyOs]:
    stand_in = FaultyOs(at, fault, after=after)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(disk, "os", stand_in)
        yield stand_in


class NoTables(FaultyOs):
    """Lets everything pass but the tables taking their places, so that the journal is left."""

    def __getattr__(self, name: str) -> Any:
        return self.replace_unless_table if name == "replace" else getattr(os, name)

    def replace_unless_table(self, source: Path, target: Path) -> None:
        if target.suffix == ".csv":
            self.fault()
        os.replace(source, target)


@contextlib.contextmanager
def tables_kept_out(fault: Callable[[], None]) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(disk, "os", NoTables(0, fault))
        yield


def give_up() -> None:
    os._exit(9)


def full() -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


ROWS = {"readings": [reading(4.40), reading(4.41)], "log": [remark('wide, "new"\ntear')], "staples": []}
TABLES = {"readings": 2, "log": 1}


@pytest.fixture
def record(tmp_path: Path) -> Record:
    record = make(tmp_path)
    record.save({"readings": [reading(4.39)], "log": [remark("first")]}, **SAVING)
    return record


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.suffix == ".csv"}


def saved_rows(record: Record) -> dict[str, int]:
    """Rows beyond the first of each table that a save writes to, as a reader sees them."""
    return {name: len(record.read(name)) - 1 for name in TABLES}


def assert_sound(folder: Path, before: dict[str, bytes]) -> None:
    """Nothing left over, no earlier byte changed, no fault, rows numbered without a gap."""
    assert names_in(folder) == {*before, ".lock"}
    for name, data in contents(folder).items():
        assert data.startswith(before[name])
    assert check_treatment(folder) == []


NOTHING = dict.fromkeys(TABLES, 0)
HOW_OFTEN = 90  # more than one save has calls; the loops end by themselves


def test_a_disk_error_at_any_call_saves_all_or_nothing_and_says_which(record: Record):
    start = contents(record.folder)
    seen = set()
    for at in range(1, HOW_OFTEN):
        for name, data in start.items():
            (record.folder / name).write_bytes(data)
        refusal, notice = "", ""
        with faulty(at, full) as stand_in:
            try:
                notice = record.save(ROWS, **SAVING).notice
            except RecordError as error:
                refusal = str(error)
        if refusal:
            assert "the disk is full or its quota is used up (No space left on device). " in refusal
            assert "Nothing was saved: free some room and save again." in refusal
            assert saved_rows(record) == NOTHING
            assert contents(record.folder) == start
            assert names_in(record.folder) == {*start, ".lock"}
        else:
            assert notice == "" or f"The rows are safe in {JOURNAL}" in notice
            assert saved_rows(record) == TABLES  # from the journal, if not yet from the tables
        seen.add("refused" if refusal else "told" if notice else "done")
        reopened = open_record(record.folder)
        assert reopened.notice == ""
        assert saved_rows(reopened) in (NOTHING, TABLES)
        assert_sound(record.folder, start)
        if stand_in.calls < at:
            break
    assert stand_in.calls < at
    assert seen == {"refused", "told", "done"}


@pytest.mark.parametrize("after", [False, True], ids=["before the call", "after the call"])
def test_a_kill_at_any_call_leaves_all_or_nothing(record: Record, after: bool):
    start = contents(record.folder)
    seen = set()
    for at in range(1, HOW_OFTEN):
        for name, data in start.items():
            (record.folder / name).write_bytes(data)

        def killed_save(at: int = at) -> None:
            with faulty(at, give_up, after=after):
                open_record(record.folder).save(ROWS, **SAVING)

        code = in_child(killed_save)
        glance = saved_rows(open_record(record.folder, recover=False))
        assert glance in (NOTHING, TABLES)
        seen.add(glance == TABLES)
        opened = open_record(record.folder)
        assert saved_rows(opened) == glance
        if (record.folder / ".readings.csv.tmp").exists():  # cleared by the next save
            opened.save({"log": [remark()]}, **SAVING)
        assert_sound(record.folder, start)
        if code == 0:
            break
        assert code == 9
    assert code == 0
    assert seen == {False, True}


def test_a_kill_while_a_save_is_being_finished_changes_nothing(record: Record):
    start = contents(record.folder)

    def leave_a_journal() -> None:
        with tables_kept_out(give_up):
            open_record(record.folder).save(ROWS, **SAVING)

    assert in_child(leave_a_journal) == 9
    journal = (record.folder / JOURNAL).read_bytes()
    assert contents(record.folder) == start
    for at in range(1, HOW_OFTEN):
        for name, data in start.items():
            (record.folder / name).write_bytes(data)
        (record.folder / JOURNAL).write_bytes(journal)

        def killed_opening(at: int = at) -> None:
            with faulty(at, give_up):
                open_record(record.folder)

        code = in_child(killed_opening)
        assert saved_rows(open_record(record.folder)) == TABLES
        assert_sound(record.folder, start)
        if code == 0:
            break
    assert code == 0


@pytest.mark.parametrize("after", [False, True], ids=["before the call", "after the call"])
def test_a_kill_at_any_call_leaves_a_record_of_one_schema_or_of_the_next(tmp_path: Path, after: bool):
    """The first save to an older record migrates it; killed anywhere, every row stays, none is torn."""
    old = Path(__file__).parent / "versions" / "1"
    rows = len(open_record(old, recover=False).all_rows("log"))
    versions, codes = set(), []
    for at in range(2 if after else 1, 4 * HOW_OFTEN, 5):
        folder = Path(shutil.copytree(old, tmp_path / f"{at}"))

        def killed_save(folder: Path = folder, at: int = at) -> None:
            with faulty(at, give_up, after=after):
                open_record(folder).save({"log": [remark("new")]}, **SAVING)

        codes.append(in_child(killed_save))
        opened = open_record(folder)
        versions.add(opened.schema_version)
        assert opened.notice == ""
        assert opened.differences() == []
        assert len(opened.all_rows("log")) in (rows, rows + 1)
        opened.save({"log": [remark("after it")]}, **SAVING)
        assert [
            f for f in check_treatment(folder) if f.table not in ("photographs.csv", "treatment.csv")
        ] == []
        shutil.rmtree(folder)
        if codes[-1] == 0:
            break
    assert set(codes[:-1]) == {9}
    assert codes[-1] == 0
    assert versions == {1, SCHEMA_VERSION}


def test_an_unfinished_save_waits_while_its_table_is_broken(record: Record):
    start = contents(record.folder)
    with tables_kept_out(full):
        assert record.save(ROWS, **SAVING).notice
    path = record.folder / "log.csv"
    path.write_bytes(path.read_bytes() + b"torn")
    opened = open_record(record.folder)
    assert opened.notice.startswith(f"{JOURNAL}: rows of an unfinished save wait in it for these tables.")
    assert "log.csv row 2: is the last line and is torn: it has 1 cells" in opened.notice
    assert len(opened.read("readings")) == 3
    with pytest.raises(RecordError, match="Mend the tables, then open again"):
        opened.save({"readings": [reading()]}, **SAVING)
    assert (record.folder / JOURNAL).exists()
    path.write_bytes(path.read_bytes().removesuffix(b"torn"))
    assert saved_rows(open_record(record.folder)) == TABLES
    assert_sound(record.folder, start)


@pytest.mark.parametrize(
    "content", [b"", b"{", b"[1]", b'{"schema_version": 1, "save": "x", "rows": {"diary": []}}']
)
def test_a_journal_that_cannot_be_read_is_kept_and_told(record: Record, content: bytes):
    (record.folder / JOURNAL).write_bytes(content)
    words = f"{JOURNAL}: cannot be read; allowed is the journal of one save. Keep a copy of it, move it out"
    assert open_record(record.folder).notice.startswith(words)
    with pytest.raises(RecordError, match="cannot be read; allowed is the journal of one save"):
        record.save({"log": [remark()]}, **SAVING)
    assert [str(fault)[: len(words)] for fault in check_treatment(record.folder)] == [words]
    assert (record.folder / JOURNAL).read_bytes() == content


def test_a_journal_of_a_newer_program_is_left_to_it(record: Record):
    (record.folder / JOURNAL).write_text(
        f'{{"schema_version": {SCHEMA_VERSION + 1}, "save": "x", "rows": {{}}}}'
    )
    assert (
        f"was written by a newer program (schema {SCHEMA_VERSION + 1}); allowed is schema {SCHEMA_VERSION}."
        in open_record(record.folder).notice
    )
    assert (record.folder / JOURNAL).exists()


def test_a_save_that_waits_is_in_a_restore_point(record: Record):
    """It was reported, so that putting the tables back as they stood then must not lose it."""
    with tables_kept_out(full):
        assert record.save(ROWS, **SAVING).notice
    point = make_restore_point(record.folder, at=AT, why="on-demand")
    opened = open_record(record.folder)
    opened.save({"log": [remark("later")]}, **SAVING)
    restore(record.folder, point.name, by="M. Reed", at=AT, why="a try")
    assert saved_rows(record) == TABLES
    assert check_treatment(record.folder) == []


def test_writes_that_take_a_few_bytes_at_a_time_are_gone_on_with(
    record: Record, monkeypatch: pytest.MonkeyPatch
):
    class Sluggish(FaultyOs):
        def __getattr__(self, name: str) -> Any:
            return (lambda handle, data: os.write(handle, data[:7])) if name == "write" else getattr(os, name)

    start = contents(record.folder)
    monkeypatch.setattr(disk, "os", Sluggish(0, full))
    record.save(ROWS, **SAVING)
    monkeypatch.undo()
    assert saved_rows(record) == TABLES
    assert_sound(record.folder, start)


def test_what_must_be_on_the_disk_first_is_put_there_first(record: Record, monkeypatch: pytest.MonkeyPatch):
    """The order of the calls is what guards against a power cut (test_records_power_cut tries it)."""
    names: dict[int, str] = {}
    calls: list[tuple[str, str]] = []

    class Listening(FaultyOs):
        def __getattr__(self, name: str) -> Any:
            return getattr(self, f"note_{name}", getattr(os, name))

        def note_open(self, path: Path, *more: Any) -> int:
            handle = os.open(path, *more)
            names[handle] = "folder" if path == record.folder else path.name.strip(".").removesuffix(".tmp")
            return handle

        def note_fsync(self, handle: int) -> None:
            calls.append(("fsync", names[handle]))
            os.fsync(handle)

        def note_replace(self, source: Path, target: Path) -> None:
            calls.append(("replace", target.name))
            os.replace(source, target)

        def note_unlink(self, path: Path) -> None:
            calls.append(("unlink", path.name))
            os.unlink(path)

    monkeypatch.setattr(disk, "os", Listening(0, full))
    record.save(ROWS, **SAVING)
    assert calls == [
        ("fsync", "readings.csv"),
        ("fsync", "log.csv"),
        ("fsync", "saves.csv"),
        ("fsync", JOURNAL),
        ("replace", JOURNAL),
        ("fsync", "folder"),
        ("replace", "readings.csv"),
        ("replace", "log.csv"),
        ("replace", "saves.csv"),
        ("fsync", "folder"),
        ("unlink", JOURNAL),
        ("fsync", "folder"),
    ]


def test_an_interrupt_before_the_journal_saves_nothing(record: Record):
    start = contents(record.folder)

    def interrupt() -> None:
        raise KeyboardInterrupt

    with faulty(2, interrupt), pytest.raises(KeyboardInterrupt):
        record.save(ROWS, **SAVING)
    assert saved_rows(record) == NOTHING
    assert_sound(record.folder, start)


# --- real refusals of the system --------------------------------------------------------------------


def test_a_limit_of_the_system_on_the_size_of_files_loses_nothing(record: Record):
    """The kernel itself breaks the write off in the middle of a file."""
    start = contents(record.folder)
    limit = max(map(len, start.values())) + 100

    def save() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        with pytest.raises(RecordError, match=r"\(File too large\)\. Nothing was saved: free some room"):
            record.save({"log": [remark()], "readings": [reading()] * 20}, **SAVING)

    assert in_child(save) == 0
    assert contents(record.folder) == start
    assert_sound(record.folder, start)


def test_a_folder_that_cannot_be_written_is_one_sentence():
    """Tried as another user, because the superuser may write anywhere."""
    parent = Path(tempfile.mkdtemp())
    try:
        record = make(parent)
        record.save({"log": [remark()]}, **SAVING)
        (record.folder / ".lock").unlink()
        for folder in (record.folder, parent):
            folder.chmod(0o555)

        def try_it() -> None:
            if os.getuid() == 0:
                os.setuid(65534)
            opened = open_record(record.folder)
            assert opened.read("log")["remark"].tolist() == ["smells of old paper"]
            sentence = (
                f"{record.folder}: the folder cannot be written (Permission denied). Nothing was saved: "
                "close programs that hold its files, ask for the right to write there, or choose another "
                "folder for the records."
            )
            with pytest.raises(RecordError) as caught:
                opened.save({"log": [remark()]}, **SAVING)
            assert str(caught.value) == sentence
            for place in (parent, parent / "deeper"):
                with pytest.raises(RecordError, match=r"cannot be written \(Permission denied\)"):
                    make(place, "another")

        assert in_child(try_it) == 0
        assert "another" not in names_in(parent)
    finally:
        parent.chmod(0o755)
        shutil.rmtree(parent)


def test_a_read_only_disk_is_one_sentence(record: Record):
    def read_only() -> None:
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    with (
        faulty(1, read_only),
        pytest.raises(RecordError, match=r"cannot be written \(Read-only file system\)"),
    ):
        record.save(ROWS, **SAVING)
    assert saved_rows(record) == NOTHING


def test_an_unfinished_save_is_read_even_where_it_cannot_be_finished(record: Record):
    start = contents(record.folder)

    def broken() -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with tables_kept_out(broken):
        saved = record.save(ROWS, **SAVING)
        opened = open_record(record.folder)
        assert saved_rows(opened) == TABLES
        with pytest.raises(RecordError, match=f"The rows of an unfinished save stay safe in {JOURNAL}"):
            opened.save({"log": [remark()]}, **SAVING)
    words = (
        f"the disk answered “Input/output error”. The rows are safe in {JOURNAL} and go into the tables at"
    )
    assert words in saved.notice
    assert contents(record.folder) == start
    assert record.save({"log": [remark()]}, **SAVING).rows == {"log": (3,)}
    assert_sound(record.folder, start)


# --- kills and other notebooks, for real --------------------------------------------------------------


def test_a_save_waits_for_another_and_then_says_so(record: Record):
    with (
        disk.hold_lock(record.folder),
        pytest.raises(
            RecordError, match=r"another notebook is saving here and did not finish within 0\.05 s"
        ),
    ):
        record.save(ROWS, wait=0.05, **SAVING)
    assert record.save(ROWS, **SAVING).rows == {"readings": (2, 3), "log": (2,)}


def save_for_ever(folder: Path, report: int) -> None:
    record = open_record(folder)
    while True:
        saved = record.save({"readings": [reading(), reading()], "log": [remark("x" * 500)]}, **SAVING)
        os.write(report, f"{saved.save}\n".encode())


def test_twenty_kills_in_the_middle_of_saving_lose_nothing(tmp_path: Path):
    """Every save that was reported done is there, every save is there whole, whenever the kill came."""
    record = make(tmp_path)
    chance = random.Random(20261125)
    reported: set[str] = set()
    for _ in range(20):
        receive, report = os.pipe()
        child = os.fork()
        if child == 0:
            with contextlib.suppress(BaseException):
                save_for_ever(record.folder, report)
            os._exit(1)
        os.close(report)
        with os.fdopen(receive, "rb") as stream:
            first = stream.readline()
            time.sleep(chance.uniform(0.0, 0.03))
            os.kill(child, signal.SIGKILL)
            os.waitpid(child, 0)
            reported |= {line.strip().decode() for line in [first, *stream] if line.endswith(b"\n")}
        opened = open_record(record.folder)
        readings, log = opened.read("readings"), opened.read("log")
        assert readings["save"].value_counts().to_dict() == dict.fromkeys(log["save"], 2)
        assert reported <= set(log["save"])
        assert readings["row"].tolist() == list(range(1, len(readings) + 1))
        assert log["row"].tolist() == list(range(1, len(log) + 1))
        assert check_treatment(record.folder) == []
    assert len(reported) >= 20


def test_two_processes_that_save_at_once_lose_no_row(tmp_path: Path):
    record = make(tmp_path)
    children = []
    for name in ("Ada Quill", "Ben Tully"):
        pid = os.fork()
        if pid == 0:
            try:
                mine = open_record(record.folder)
                for k in range(25):
                    mine.save({"readings": [reading(1 + k)], "log": [remark(str(k))]}, by=name, at=AT)
            except BaseException:
                os._exit(1)
            os._exit(0)
        children.append(pid)
    codes = [os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) for pid in children]
    assert codes == [0, 0]
    frame = record.read("readings")
    assert frame["row"].tolist() == list(range(1, 51))
    for name in ("Ada Quill", "Ben Tully"):
        assert frame.loc[frame["by"] == name, "value"].tolist() == [1.0 + k for k in range(25)]
    assert check_treatment(record.folder) == []
    assert names_in(record.folder) == {*contents(record.folder), ".lock"}
