"""How records keep and grow: silent edits found, kills survived, and time beside a database.

Run it with ``python -m tests.benchmarks.bench_records`` (``--quick`` for a tenth).  It asserts nothing, and
pytest does not collect it.  Times are medians; SQLite commits the same rows durably, in the same run.
"""

from __future__ import annotations

import argparse
import contextlib
import os
import random
import shutil
import signal
import sqlite3
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from bench.records.check import check_records, check_treatment
from bench.records.disk import replace_file
from bench.records.register import list_treatments
from bench.records.restore import restore
from bench.records.restore_points import make_restore_point
from bench.records.schema import FILES
from bench.records.store import open_record
from bench.records.take_over import take_over
from tests.makers import SAMPLES
from tests.records.record_makers import AT, SAVING, make, reading, remark, step
from tests.records.test_records_ledger import (
    change_a_digit,
    flip_a_bit,
    remove_the_last_row,
    swap_two_rows,
)
from tests.records.test_records_power_cut import ACTS, find_losses

OLD = Path(__file__).parents[1] / "records" / "versions" / "1"


def silent_edits(folder: Path, often: int) -> None:
    """Edit one table of a record in four ways, and count what a check tells."""
    record = make(folder)
    for number in range(12):
        rows = {"readings": [reading(4.4), reading(4.41)], "log": [remark(f"look {number}")]}
        record.save({**rows, "steps": [step(step=f"s{number:02d}")]}, **SAVING)
    chance = random.Random(20261129)
    for edit in (change_a_digit, swap_two_rows, flip_a_bit, remove_the_last_row):
        found = 0
        for _ in range(often):
            path = record.folder / f"{chance.choice(['readings', 'log', 'steps'])}.csv"
            before = path.read_bytes()
            path.write_bytes(edit(before, chance))
            found += bool(check_treatment(record.folder))
            path.write_bytes(before)
        print(f"| {edit.__name__.replace('_', ' ')} | {found} of {often} |")


def kills(folder: Path, often: int) -> None:
    """Kill a process at any moment of saves, migrations, take-overs and restores; count what is lost."""
    chance = random.Random(20261130)
    lost = torn = half = 0
    for number in range(often):
        treatment = Path(shutil.copytree(OLD, folder / f"k{number}"))
        before = len(open_record(treatment, recover=False).all_rows("log"))
        receive, report = os.pipe()
        child = os.fork()
        if child == 0:
            with contextlib.suppress(BaseException):
                _work(treatment, report)
            os._exit(0)
        os.close(report)
        time.sleep(chance.uniform(0.0, 0.35))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(receive, "rb") as stream:
            told = stream.read().count(b"\n")
        record = open_record(treatment)
        rows = len(record.all_rows("log"))
        lost += rows < before + told
        # The steps were changed on purpose, and may wait to be taken over.
        torn += any(record.sheet(table).faults for table in FILES.values())
        torn += any(each.table != "steps" for each in record.differences())
        record.save({"log": [remark("after it")]}, **SAVING)
        half += open_record(treatment).schema_version != 2
        shutil.rmtree(treatment)
    print(f"| {often} kills | {lost} lost, {torn} torn, {half} half migrated |")


def power_cuts(folder: Path, often: int) -> None:
    """Cut the power of a simulated disk in the middle of every act, and count what is lost."""
    for name in ACTS:
        tried, losses, seed = 0, [], 0
        while tried < often // len(ACTS):
            seed += 1
            states, found = find_losses(folder / f"{name}-{seed}", name, seed=seed, every=10)
            tried, losses = tried + states, losses + found
        print(
            f"| power cut during {name.replace('_', ' ')}, {tried} states of the disk | {len(losses)} lost |"
        )
        for loss in losses[:5]:
            print(loss)


def side_by_side(folder: Path, processes: int, often: int) -> None:
    """Save from several processes to one treatment at once; count what is lost."""
    record = make(folder)
    start, children = time.perf_counter(), []
    for number in range(processes):
        child = os.fork()
        if child == 0:
            code = 1
            with contextlib.suppress(BaseException):
                mine = open_record(record.folder)
                for k in range(often):
                    rows = {"readings": [reading(1 + k % 90)], "log": [remark(f"{number}: {k}")]}
                    mine.save(rows, by=f"M. Reed {number}", at=AT, wait=120)
                code = 0
            os._exit(code)
        children.append(child)
    failed = sum(os.waitpid(child, 0)[1] != 0 for child in children)
    took = time.perf_counter() - start
    said = [row["remark"] for row in open_record(record.folder).rows("log")]
    wanted = {f"{number}: {k}" for number in range(processes) for k in range(often)}
    lost, twice = len(wanted - set(said)), len(said) - len(set(said))
    wrong = len(check_treatment(record.folder))
    print(
        f"| {processes} processes, {often} saves each | {lost} lost, {twice} twice, {failed} gave up, "
        f"{wrong} faults, {1000 * took / len(wanted):.0f} ms a save |"
    )


def _work(folder: Path, report: int) -> None:
    record = open_record(folder)
    for number in range(40):
        record.save({"log": [remark(f"{number}")], "readings": [reading()]}, **SAVING)
        os.write(report, b"saved\n")
        path = folder / "steps.csv"
        replace_file(path, path.read_bytes().replace(b"M. Tallow", b"M. Tallov", 1))
        take_over(folder, by="M. Reed", at=AT, why="a try")
        make_restore_point(folder, at=AT, why="on-demand")
        restore(folder, by="M. Reed", at=AT, why="a try")


def timed(work: Callable[[], object], often: int) -> float:
    """Give the median of some runs, in milliseconds."""
    runs = []
    for _ in range(often):
        start = time.perf_counter()
        work()
        runs.append(time.perf_counter() - start)
    return 1000 * statistics.median(runs)


def save_beside_database(folder: Path, often: int) -> None:
    """Save 12 rows to three tables, and the same rows to SQLite with a full sync."""
    record = make(folder)
    rows = {
        "readings": [reading() for _ in range(5)],
        "log": [remark("look")],
        "steps": [step(step=f"s{number}") for number in range(6)],
    }
    record.save(rows, **SAVING)
    again = {name: listed for name, listed in rows.items() if name != "steps"}

    def save() -> None:
        record.save({**again, "steps": [step(step=os.urandom(4).hex())]}, **SAVING)

    ours = timed(save, often)
    database = sqlite3.connect(folder / "record.sqlite")
    database.execute("pragma journal_mode=wal")
    database.execute("pragma synchronous=full")
    database.execute("create table rows (place text, content text)")

    def commit() -> None:
        with database:
            for name, listed in again.items():
                database.executemany("insert into rows values (?, ?)", [(name, str(row)) for row in listed])

    print(f"| save of 7 rows to three tables | {ours:.0f} ms | {timed(commit, often):.0f} ms with SQLite |")


def many_rows(folder: Path, count: int) -> None:
    """Open a treatment with many readings."""
    record = make(folder)
    record.save({"readings": [reading(4 + k % 100 / 100) for k in range(count)]}, **SAVING)
    from bench.records.parsed import _kept

    _kept.clear()
    start = time.perf_counter()
    open_record(record.folder).read("readings")
    print(f"| {count} rows opened and read | {time.perf_counter() - start:.1f} s |")


def many_treatments(folder: Path, count: int) -> None:
    """List and check a folder of many treatments, copies of the samples."""
    sources = [path for path in sorted(SAMPLES.iterdir()) if (path / "treatment.csv").exists()]
    for number in range(count):
        target = folder / f"item-{number:05d}"
        target.mkdir(parents=True)
        for path in sources[number % 3].glob("*.csv"):
            shutil.copy(path, target)
    for words in ("first list", "list again"):
        start = time.perf_counter()
        list_treatments(folder)
        print(f"| {words}, {count} treatments | {time.perf_counter() - start:.2f} s |")
    start = time.perf_counter()
    make(folder, "one-more")
    list_treatments(folder)
    print(f"| a new one, and the list | {time.perf_counter() - start:.2f} s |")
    some = min(count, 1000)
    if count <= some:
        start = time.perf_counter()
        check_records(folder)
        print(f"| check, {count} treatments | {time.perf_counter() - start:.1f} s |")


def main() -> None:
    """Measure all of it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    share = 10 if parser.parse_args().quick else 1
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        silent_edits(home / "edits", 300 // share)
        kills(home, 1000 // share)
        power_cuts(home / "cuts", 2500 // share)
        side_by_side(home / "two", 2, 200 // share)
        side_by_side(home / "four", 4, 50 // share)
        save_beside_database(home / "saves", 200 // share)
        many_rows(home / "rows", 50_000 // share)
        many_treatments(home / "folder", 1000 // share)


if __name__ == "__main__":
    main()
