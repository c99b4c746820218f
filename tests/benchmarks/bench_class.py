"""What one learner of a class costs: memory of her server and kernel, and how long she waits.

    .venv/bin/python -m tests.benchmarks.bench_class [LEARNERS]      as root, four learners by default

A class is set up, made-up learners sign in and start their servers at once, each runs the first page of
practice in a kernel, and works one exercise.  Memory is counted as the proportional share (PSS) of each
learner's processes: what several share is divided among them.  Nothing is asserted.
"""

from __future__ import annotations

import pwd
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.hub import LEARNERS, Browser, accounts, missing, run_hub, set_up_class, start_servers

PAGE = """
from bench.classroom import open_practice
from bench.panels.practice import ExerciseChooser, show_exercises, show_skills
practice = open_practice()
show_skills(practice), show_exercises(practice)
chooser = ExerciseChooser(practice)
print(len(chooser.panel.answer))
"""
HEAVY = """
from bench.warm import compile_model
compile_model()
print("ready")
"""


def memory_of(uid: int) -> dict[str, tuple[float, float]]:
    """Give PSS and RSS in MB of server and kernels of an account."""
    found: dict[str, tuple[float, float]] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            if folder.stat().st_uid != uid:
                continue
            words = (folder / "cmdline").read_bytes().decode().split("\0")
            rollup = (folder / "smaps_rollup").read_text().splitlines()
        except (OSError, ProcessLookupError):
            continue
        sizes = {line.split()[0]: int(line.split()[1]) / 1024 for line in rollup[1:]}
        kind = "kernel" if any("ipykernel" in word for word in words) else "server"
        pss, rss = found.get(kind, (0.0, 0.0))
        found[kind] = pss + sizes["Pss:"], rss + sizes["Rss:"]
    return found


def main() -> None:
    """Measure and print."""
    if missing():
        sys.exit(missing())
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    start = time.monotonic()
    with set_up_class() as folder:
        print(f"set up: {time.monotonic() - start:.0f} s")
        with accounts(*[LEARNERS] * count) as made, run_hub(folder) as address:
            browsers = [Browser(address) for _ in made]
            for browser, (name, password) in zip(browsers, made, strict=True):
                browser.sign_in(name, password)
            said = ", ".join(f"{seconds:.1f}" for seconds in sorted(start_servers(browsers)))
            print(f"{count} servers at once, each ready after: {said} s")

            def open_page(browser: Browser) -> tuple[str, float]:
                begun = time.monotonic()
                kernel = browser.start_kernel()
                browser.run(kernel, PAGE)
                return kernel, time.monotonic() - begun

            with ThreadPoolExecutor(count) as pool:
                opened = list(pool.map(open_page, browsers))
            print(
                "first page at once, after:", ", ".join(f"{s:.1f}" for s in sorted(s for _, s in opened)), "s"
            )
            _say(made)
            with ThreadPoolExecutor(count) as pool:
                list(
                    pool.map(lambda each: each[0].run(each[1][0], HEAVY), zip(browsers, opened, strict=True))
                )
            print("with the models of moisture and load in use:")
            _say(made)
            print("hub and proxy:", {kind: f"{pss:.0f}" for kind, (pss, _) in _hub().items()}, "MB (PSS)")


def _say(made: list[tuple[str, str]]) -> None:
    for name, _ in made:
        parts = memory_of(pwd.getpwnam(name).pw_uid)
        print("  ", {kind: f"PSS {pss:.0f} MB, RSS {rss:.0f} MB" for kind, (pss, rss) in parts.items()})


def _hub() -> dict[str, tuple[float, float]]:
    found = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes().decode().replace("\0", " ")
            if "-m jupyterhub -f" not in words and "configurable_http_proxy" not in words:
                continue
            rollup = (folder / "smaps_rollup").read_text().splitlines()
        except OSError:
            continue
        sizes = {line.split()[0]: int(line.split()[1]) / 1024 for line in rollup[1:]}
        found["hub" if "-m jupyterhub -f" in words else "proxy"] = sizes["Pss:"], sizes["Rss:"]
    return found


if __name__ == "__main__":
    main()
