"""Make the locks anew: ``.venv/bin/python .ci/lock.py``.

``.ci/locked.txt`` comes from ``pyproject.toml``.  ``.ci/class/locked.txt`` is for a class, from what the
workbook needs and ``.ci/class/packages.txt``, without what only tests need; nothing in it comes in another
version than in the first.  Both hold for Python 3.11 and later on every platform, with the hash of every file
and the address of none.  ``--upgrade`` takes newer versions of what is not pinned.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
LOCK, CLASS = HERE / "locked.txt", HERE / "class"
_OPTIONS = [
    *("--universal", "--python-version", "3.11", "--generate-hashes", "--quiet"),
    *("--no-header", "--no-annotate", "--no-emit-index-url", "--no-emit-find-links"),
]


def main() -> int:
    """Write both locks and give the exit code of uv; its own options may follow on the command line."""
    code = compile_lock("pyproject.toml", "--group", "test", "--group", "setup", to=LOCK)
    more = str(CLASS / "packages.txt")
    return code or compile_lock("pyproject.toml", more, "--constraint", str(LOCK), to=CLASS / "locked.txt")


def compile_lock(*words: str, to: Path) -> int:
    """Let uv write a lock."""
    command = [sys.executable, "-m", "uv", "pip", "compile", *words, *_OPTIONS, "--output-file", str(to)]
    return subprocess.run([*command, *sys.argv[1:]], cwd=HERE.parent, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
