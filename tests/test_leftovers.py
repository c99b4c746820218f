"""Temporary folders of processes that were killed go; those in use, young or of others stay."""

import os
import subprocess
import sys
import time
from pathlib import Path

from bench.leftovers import own, sweep


def test_only_what_a_dead_process_left_is_removed(tmp_path: Path):
    names = ("dead", "alive", "young", "old")
    dead, alive, young, old = (tmp_path / f"bench-{name}" for name in names)
    for folder in (dead, alive, young, old):
        folder.mkdir()
    child = subprocess.run(
        [sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True
    )
    (dead / "owner.pid").write_bytes(child.stdout.strip())
    own(alive)
    hours_ago = time.time() - 2 * 3600
    os.utime(old, (hours_ago, hours_ago))
    elsewhere = tmp_path / "other"
    elsewhere.mkdir()
    (tmp_path / "bench-link").symlink_to(elsewhere)
    sweep("bench-", tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"bench-alive", "bench-young", "bench-link", "other"}
