"""A pytest plugin: how the tests run, whichever are asked for.

In what order and on how many workers, without whose settings, and which of them are slow.
"""

import os
import shutil
import sys
import tempfile
from collections import defaultdict
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as bench does, but before any plugin loads numpy

WORKERS = 3  # on two processors: what waits for a browser leaves room for another
# The longest first, so that the workers end at about the same time.
ORDER = ("tests/browser/", "tests/test_style.py", "workbook/")
# Beside what is marked ``slow``: what opens a browser or runs a notebook.
SLOW = ("tests/browser/", "workbook/")
SLOW_FIXTURE = "printer"
QUIET_KERNELS = "c.IPKernelApp.log_level = 40\n"
_settings = pytest.StashKey[str]()


def pytest_configure(config: pytest.Config) -> None:
    """Let no speed of the machine decide a test, and run kernels without a user's records and settings."""
    settings.register_profile("bench", deadline=None, suppress_health_check=[HealthCheck.too_slow])
    settings.load_profile("bench")
    for name in [name for name in os.environ if name.startswith(("BENCH_", "JUPYTER", "IPYTHON"))]:
        del os.environ[name]
    home = tempfile.mkdtemp(prefix="bench-tests-")
    config.stash[_settings] = home
    profile = Path(home) / "ipython" / "profile_default"
    profile.mkdir(parents=True)
    (profile / "ipython_kernel_config.py").write_text(QUIET_KERNELS, encoding="utf-8")
    os.environ["IPYTHONDIR"] = str(profile.parent)
    os.environ["JUPYTER_CONFIG_DIR"] = str(Path(home) / "config")
    os.environ["XDG_STATE_HOME"] = str(Path(home) / "state")  # a fault tried on purpose is none of the user's


def pytest_unconfigure(config: pytest.Config) -> None:
    """Remove what ``pytest_configure`` made."""
    shutil.rmtree(config.stash[_settings], ignore_errors=True)


@pytest.hookimpl(tryfirst=True)  # before ``-m`` chooses by the marks
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what is slow by what it uses, and put the longest first; the order within a file stays."""
    for item in items:
        if item.nodeid.startswith(SLOW) or SLOW_FIXTURE in getattr(item, "fixturenames", ()):
            item.add_marker("slow")
    items.sort(key=lambda item: _rank(item.nodeid))


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Let widgets describe themselves to no page where none listens: it is a quarter of all work with panels.

    Kernels, and so browsers and stored notebooks, run in processes of their own and are not touched.
    """
    widgets = sys.modules.get("ipywidgets")
    if widgets is not None:
        widgets.Widget.open = _tell_nobody


def _tell_nobody(widget: object) -> None:
    """Open no way to a page."""


def _rank(nodeid: str) -> int:
    return next((rank for rank, start in enumerate(ORDER) if nodeid.startswith(start)), len(ORDER))


@pytest.hookimpl(optionalhook=True, tryfirst=True)
def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """Start no worker for a file alone: files are handed out whole, and a worker takes seconds to come."""
    files = {word.split("::", 1)[0] for word in config.args}
    return 0 if len(files) == 1 and Path(*files).is_file() else WORKERS


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config, log):  # type: ignore[no-untyped-def]
    """Hand out whole files, and the browser tests as one: they share a server."""
    from xdist.scheduler import LoadFileScheduling  # type: ignore[import-untyped]

    class Parts(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            start = "tests/browser/"
            return start if nodeid.startswith(start) else super()._split_scope(nodeid)

    if config.getvalue("dist") != "loadfile":
        return None
    config.option.loadscopereorder = False
    return Parts(config, log)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say how long each part took, if more than one ran."""
    seconds: dict[str, float] = defaultdict(float)
    for reports in terminalreporter.stats.values():
        for report in reports:
            if isinstance(report, pytest.TestReport):
                seconds[_part(report.nodeid)] += report.duration
    if len(seconds) > 1:
        terminalreporter.section("time by part")
        for part, spent in sorted(seconds.items(), key=lambda entry: -entry[1]):
            terminalreporter.line(f"{spent:7.1f} s  {part}")


def _part(nodeid: str) -> str:
    """Name the folder, the notebook or the lone file that a test belongs to."""
    path = nodeid.split("::", 1)[0]
    if path.startswith("bench/"):
        return "docstring examples"
    return path if path.startswith("workbook/") else "/".join(path.split("/")[:2])
