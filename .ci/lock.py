"""Make ``.ci/locked.txt`` anew from ``pyproject.toml``: ``.venv/bin/python .ci/lock.py``.

The lock holds for Python 3.11 and later on every platform, with the hash of every file and the
address of none.  ``--upgrade`` takes newer versions of what ``pyproject.toml`` does not pin.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    """Write the lock and give the exit code of uv; its own options may follow on the command line."""
    words = "uv pip compile pyproject.toml --group test --group setup --universal --python-version 3.11"
    words += " --generate-hashes --no-header --no-annotate --no-emit-index-url --no-emit-find-links --quiet"
    command = [sys.executable, "-m", *words.split(), "--output-file", str(HERE / "locked.txt"), *sys.argv[1:]]
    return subprocess.run(command, cwd=HERE.parent, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
