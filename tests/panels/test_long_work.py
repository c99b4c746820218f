"""Work that takes longer than a moment says how far it is, and Stop ends it and leaves nothing half done."""

import asyncio
import shutil
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from bench.desk import Treatment
from bench.handover import learning as learned
from bench.panels.learning import build_learning_panel
from bench.panels.long_work import LongWork
from bench.panels.writeup import build_writeup_panel
from bench.progress import Progress, Stopped
from bench.records.store import open_record
from bench.writeup import pdf
from bench.writeup.report import collect_report, write_report
from tests.writeup.case_makers import at, make_full

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).parents[2] / "sample_records" / "tin-orchard-annual-2"
PATIENCE_S = 600  # only ends what hangs
needs_chromium = pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium is installed")


def as_in_a_kernel(run):
    """Run in a loop of its own, in a thread of its own: that of the tests may hold a browser's loop."""
    with ThreadPoolExecutor(1) as thread:
        thread.submit(lambda: asyncio.run(run())).result()


async def until(holds):
    """Let the loop of the kernel run until something holds."""
    begun = time.monotonic()
    while not holds():
        assert time.monotonic() - begun < PATIENCE_S, "it never came"
        await asyncio.sleep(0.005)


def stop_when(panel, begin, words):
    """Begin a work as a notebook does, and press Stop once it says something."""
    said = []

    async def run():
        begin()
        assert panel.long.is_running
        assert panel.long.box.layout.display == ""
        await until(lambda: words in panel.long.words)
        said.append(panel.long.words)
        panel.long.box.children[1].click()
        await until(lambda: not panel.long.is_running)

    as_in_a_kernel(run)
    assert panel.long.box.layout.display == "none"
    return said[0]


def words_of(process):
    """Give the command line of a process; empty once it has ended."""
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes().decode(errors="replace")
    except OSError:
        return ""


@pytest.fixture
def profiles(monkeypatch):
    """Note the profile of every browser that is started to print; all its processes name it."""
    found, start = [], pdf.Printer._open

    def note(self, *args):
        start(self, *args)
        words = words_of(self._pid).split("\0")
        found.append(next(word for word in words if word.startswith("--user-data-dir=")))

    monkeypatch.setattr(pdf.Printer, "_open", note)
    return found


def still_run(profile):
    return [p.name for p in Path("/proc").glob("[0-9]*") if profile in words_of(p.name)]


@pytest.fixture
def writeup(tmp_path):
    treatment = Treatment(make_full(tmp_path), clock=lambda: at(12, 9))
    panel = build_writeup_panel(treatment, collect=collect_report, write=write_report)
    panel.field("pdf").widget.value = True
    return panel, treatment.record.folder


def files(folder):
    return sorted(path.name for path in folder.iterdir())


@needs_chromium
@pytest.mark.parametrize(
    ("words", "step"),
    [("the record is read", "1 of 7"), ("is started", "5 of 7"), ("are laid out and printed", "6 of 7")],
)
def test_a_stopped_pdf_leaves_no_file_and_no_browser(writeup, profiles, words, step):
    panel, folder = writeup
    before = files(folder)
    assert step in stop_when(panel, lambda: panel._on_save(None), words)
    assert files(folder) == before
    assert bool(profiles) == (step == "6 of 7") or step == "5 of 7"
    assert [still_run(profile) for profile in profiles] == [[] for _ in profiles]
    assert "Stopped at step" in panel.status
    assert "Nothing was written" in panel.status
    assert 'class="why"' not in panel.status
    assert panel.can_save


@needs_chromium
def test_stop_ends_the_browser_in_the_midst_of_printing(writeup, monkeypatch):
    panel, _ = writeup
    ends, printed = [], pdf.Printer.print

    def watch(self, *args, **how):
        ends.append("cut off")
        result = printed(self, *args, **how)
        ends.append("printed")
        return result

    monkeypatch.setattr(pdf.Printer, "print", watch)
    stop_when(panel, lambda: panel._on_save(None), "are laid out and printed")
    assert ends in ([], ["cut off"])


@needs_chromium
def test_a_pdf_that_is_not_stopped_is_written_by_the_same_way(writeup):
    panel, folder = writeup
    before = files(folder)

    async def run():
        panel._on_save(None)
        panel.field("md").widget.value = False  # the kernel answers meanwhile
        assert not panel.can_save, "one report at a time"
        await until(lambda: not panel.long.is_running)

    as_in_a_kernel(run)
    written = set(files(folder)) - set(before)
    assert {name.rsplit(".", 1)[1] for name in written} == {"html", "md", "pdf"}
    assert "Wrote report-" in panel.status


@pytest.fixture
def many(tmp_path, monkeypatch):
    """Make a bench with eight cycles that were read after pressing."""
    monkeypatch.setattr(learned, "_learned", [])
    for number in range(4):
        shutil.copytree(SAMPLE, tmp_path / f"treatment-{number}")
    return Treatment(open_record(tmp_path / "treatment-0"))


def test_learning_that_is_stopped_keeps_nothing_and_says_so(many):
    panel = build_learning_panel(many, cycle=2)
    assert "8 cycles on this bench were read after pressing" in panel.answer
    assert 'class="hint"' in panel.status
    learn = next(
        box for box in panel.widget.children[2].children[0].children if "bench-learn" in box._dom_classes
    )
    assert stop_when(panel, learn.click, "numbers fitted, for the 2. time")
    assert learned._learned == []
    assert "Stopped, " in panel.status
    assert "of 16 numbers fitted" in panel.status
    assert "Nothing was learned; what was accepted before stays in use" in panel.status
    assert not panel.can_save

    async def run():
        learn.click()
        await until(lambda: not panel.long.is_running)

    as_in_a_kernel(run)
    assert "What was found after 8 cycles" in panel.answer
    assert learned.lesson_of(many) is learned._learned[0], (
        "the chapter asks for what was learned, and learns nothing"
    )


def test_a_few_cycles_are_learned_from_at_once(many):
    for number in range(1, 4):
        shutil.rmtree(many.record.folder.parent / f"treatment-{number}")
    panel = build_learning_panel(many, cycle=2)
    assert "What was found after 2 cycles" in panel.answer


def test_what_a_work_waits_for_is_ended_by_stop():
    ended = []
    progress = Progress()

    def wait():
        with progress.ended_by(lambda: ended.append("browser")):
            progress.stop()
            raise OSError("the browser is gone")

    with pytest.raises(Stopped):
        wait()
    assert ended == ["browser"]
    with pytest.raises(Stopped), progress.ended_by(lambda: None):
        pytest.fail("begun although it was to stop")


def test_without_a_kernel_that_listens_a_work_is_done_at_once():
    work, came = LongWork(), []
    work.start(lambda progress: progress.say("half") or 7, lambda future: came.append(future.result()))
    assert came == [7]
    assert not work.is_running
