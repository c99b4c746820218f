"""Start the server of one learner in her own account, with her notebooks brought up to date.

The hub starts this with the learner's rights; it touches nothing that is not hers.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import sys
from datetime import datetime
from pathlib import Path

from bench.lab import WORKBOOK, options_of, settings_in, trust_notebooks, write_settings

FIRST = "practice/00_practice.ipynb"
GIVEN = "given.json"
IDLE_KERNEL_S, IDLE_SERVER_S = 3600, 7200


def main() -> None:
    """Make everything ready, then become the server."""
    # Attempts are read by the teachers' group; what a teacher writes into the exercises, by all.
    os.umask(0o002 if "BENCH_CLASS" in os.environ else 0o027)
    home = Path.home() / "bench"
    for place in (home, home / "records"):
        place.mkdir(exist_ok=True)
        place.chmod(0o700)
    workbook = home / "workbook"
    give_notebooks(WORKBOOK, workbook, home / GIVEN, datetime.now().astimezone())
    settings = home / "settings"
    for name in ("config", "ipython"):  # a class has one kind of settings
        shutil.rmtree(settings / name, ignore_errors=True)
    write_settings(settings, is_one_ready=False)
    trust_notebooks(workbook, settings)
    os.environ.update(settings_in(settings))
    os.environ["BENCH_RECORDS"] = str(home / "records")
    os.environ["NUMBA_CACHE_DIR"] = str(copy_compiled(home))
    words = [sys.executable, "-m", "jupyterhub.singleuser", *sys.argv[1:], *options(workbook)]
    os.execv(sys.executable, words)


def options(workbook: Path) -> list[str]:
    """Give the options of her server; kernels speak through files that she alone can open."""
    return [
        *options_of(workbook, FIRST),
        "--KernelManager.transport=ipc",
        f"--MappingKernelManager.cull_idle_timeout={IDLE_KERNEL_S}",
        "--MappingKernelManager.cull_interval=300",
        f"--ServerApp.shutdown_no_activity_timeout={IDLE_SERVER_S}",
        "--ServerApp.terminals_enabled=False",
    ]


def copy_compiled(home: Path) -> Path:
    """Copy what the class compiled, so that no learner waits for it; hers is hers to write."""
    place = home / "compiled"
    shutil.copytree(Path(os.environ["BENCH_CLASS_HOME"]) / "compiled", place, dirs_exist_ok=True)
    return place


def give_notebooks(source: Path, target: Path, noted: Path, at: datetime) -> None:
    """Bring a learner's notebooks up to date; a page that she changed is never lost.

    A page as it was given is replaced by the current one.  One that she changed stays as it is while the
    original stays; when a newer one comes, hers is kept beside it under a name that says so.

    Parameters
    ----------
    source, target : Path
        Of the class, and hers.
    noted : Path
        Digests of what was given last.
    at : datetime
        Now, for the name of a page that is kept.
    """
    given: dict[str, str] = json.loads(noted.read_text(encoding="utf-8")) if noted.is_file() else {}
    now: dict[str, str] = {}
    for path in sorted(source.rglob("*")):
        if path.suffix not in (".ipynb", ".md") or ".ipynb_checkpoints" in path.parts:
            continue
        name = path.relative_to(source).as_posix()
        content = path.read_bytes()
        now[name] = hashlib.sha256(content).hexdigest()
        hers = target / name
        if hers.exists():
            found = hashlib.sha256(hers.read_bytes()).hexdigest()
            if now[name] in (found, given.get(name)):  # current, or hers on top of the current one
                continue
            if found != given.get(name):
                hers.rename(_free(hers, at))
        hers.parent.mkdir(parents=True, exist_ok=True)
        hers.write_bytes(content)
    for name in given.keys() - now.keys():  # no longer in the book: taken back where she left it alone
        hers = target / name
        if hers.is_file() and hashlib.sha256(hers.read_bytes()).hexdigest() == given[name]:
            hers.unlink()
    noted.write_text(json.dumps(now, indent=1, sort_keys=True), encoding="utf-8")


def _free(path: Path, at: datetime) -> Path:
    """Give a name beside a page under which hers is kept."""
    stem = f"{path.stem}-mine-{at:%Y-%m-%d-%H%M%S}"
    name, number = path.with_name(f"{stem}{path.suffix}"), 2
    while name.exists():
        name, number = path.with_name(f"{stem}-{number}{path.suffix}"), number + 1
    return name


if __name__ == "__main__":
    main()
