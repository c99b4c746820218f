"""Set up a class on this machine, as root: ``python3 .ci/class/set_up.py [FOLDER]``.

Makes a copy of the workbook in the folder (``/srv/bench-class`` by default), an environment of its own, the
places of the class, and the groups ``bench-learners`` and ``bench-teachers``.  Run it again to bring a class
up to date: what learners did is left alone.  README.md beside this file says how to go on.
"""

from __future__ import annotations

import grp
import hashlib
import os
import shutil
import stat
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
LOCK = HERE / "locked.txt"
COPIED = ("bench", "workbook", "sample_records")
LEARNERS, TEACHERS = "bench-learners", "bench-teachers"
USUAL = Path("/srv/bench-class")
PYTHONS = (Path(sys.executable), Path("/usr/bin/python3"), Path("/usr/local/bin/python3"))
NOT_COMPILED = (
    *(
        "tests?",
        "testing",
        "plotly",
        "scipy",
        "pandas",
        "numpy",
        "numba",
        "llvmlite",
        "matplotlib",
        "fontTools",
    ),
    *("pygments", "debugpy", "PIL", "pycparser", "setuptools", "_vendored"),
)
"""Large packages, of which a learner needs a small part: that part is compiled by loading it, below."""
_AGE = "import sys; sys.exit(sys.version_info < (3, 11))"


class SetupError(Exception):
    """A reason to stop, as a sentence for the user."""


def main() -> int:
    """Set the class up and say how to start it."""
    start = time.monotonic()
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else USUAL
    try:
        set_up(folder.resolve())
    except SetupError as error:
        print(f"\n{error}", file=sys.stderr)
        return 1
    python = folder / "venv" / "bin" / "python"
    print(f"Set up ({time.monotonic() - start:.0f} s). Start the class with:", flush=True)
    print(f"  {python} -m jupyterhub -f {folder / 'project' / 'class' / 'jupyterhub_config.py'}")
    return 0


def set_up(folder: Path) -> None:
    """Bring a folder in line with this copy of the project."""
    if os.geteuid() != 0:
        raise SetupError(
            "A class is set up by the superuser: it gives each learner a place of her own. Use sudo."
        )
    os.umask(0o022)
    folder.mkdir(parents=True, exist_ok=True)
    hidden = hidden_from_others(folder)
    if hidden is not None:
        raise SetupError(f"Learners could not enter {hidden}. Choose a folder that every user can reach.")
    make_groups()
    make_places(folder)
    make_venv(folder / "venv")
    copy_project(folder)
    warm_up(folder)


def hidden_from_others(path: Path) -> Path | None:
    """Give the first folder on the way to a path that other users may not enter."""
    for place in (*reversed(path.resolve().parents), path.resolve()):
        if not place.stat().st_mode & stat.S_IXOTH:
            return place
    return None


def make_groups() -> None:
    """Make the two groups; who is in them may sign in."""
    for name in (LEARNERS, TEACHERS):
        run(["groupadd", "--force", name], "The groups of the class could not be made.")


def make_places(folder: Path) -> None:
    """Make the places of the class: the hub's own, the attempts, and the exercises that teachers write."""
    teachers = grp.getgrnam(TEACHERS).gr_gid
    for name, mode in {"hub": 0o700, "attempts": 0o751, "exercises": 0o2775}.items():
        place = folder / name
        place.mkdir(exist_ok=True)
        os.chown(place, 0, 0 if name == "hub" else teachers)
        place.chmod(mode)


def find_python() -> Path:
    """Find a Python that every user may run."""
    for python in PYTHONS:
        can_be_run = python.exists() and hidden_from_others(python) is None
        if can_be_run and subprocess.run([str(python), "-c", _AGE], check=False).returncode == 0:
            return python.resolve()
    tried = ", ".join(str(python) for python in PYTHONS)
    raise SetupError(f"No Python from 3.11 on that every user may run: tried {tried}. Install your system's.")


def make_venv(venv: Path) -> None:
    """Install the lock, unless it is installed already."""
    wanted = hashlib.sha256(LOCK.read_bytes()).hexdigest()
    done = venv / "set-up-from"
    if done.is_file() and done.read_text(encoding="utf-8") == wanted:
        return
    uv = find_uv()
    said = "The packages of the class could not be installed; the lines above say why."
    run([*uv, "venv", "--clear", "--quiet", "--python", str(find_python()), str(venv)], said)
    to = ["--python", str(venv / "bin" / "python")]
    run([*uv, "pip", "sync", "--quiet", "--require-hashes", *to, str(LOCK)], said)
    (packages,) = venv.glob("lib/python3*/site-packages")
    words = [to[-1], "-m", "compileall", "-q", "-j0", "-x", f"/({'|'.join(NOT_COMPILED)})/", str(packages)]
    run(words, "The packages of the class could not be compiled; the lines above say why.")
    done.write_text(wanted, encoding="utf-8")


def find_uv() -> list[str]:
    """Give how uv is called; the workbook itself is set up first if it is not."""
    uv = [str(ROOT / ".venv" / "bin" / "python"), "-m", "uv"]
    try:
        is_there = subprocess.run([*uv, "--version"], check=False, capture_output=True).returncode == 0
    except OSError:
        is_there = False
    if not is_there:
        said = "The workbook itself could not be set up; the lines above say why."
        run([sys.executable, str(ROOT / ".ci" / "setup.py")], said)
    return uv


def copy_project(folder: Path) -> None:
    """Copy the workbook: a class changes when this is run, not when somebody edits the original."""
    new, place = folder / ".project-new", folder / "project"
    shutil.rmtree(new, ignore_errors=True)
    left_out = shutil.ignore_patterns("__pycache__", ".ipynb_checkpoints", ".lock", ".index.json")
    for name in COPIED:
        shutil.copytree(ROOT / name, new / name, ignore=left_out)
    shutil.copytree(HERE, new / "class", ignore=left_out)
    run(["chmod", "-R", "go=rX", str(new)], "The copy of the workbook could not be opened to learners.")
    shutil.rmtree(place, ignore_errors=True)
    new.rename(place)
    (packages,) = (folder / "venv").glob("lib/python3*/site-packages")
    (packages / "bench.pth").write_text(f"{place}\n", encoding="utf-8")


def warm_up(folder: Path) -> None:
    """Compile what every learner would wait for each time: she cannot keep it beside the packages.

    The loops of the models come to a folder of which each gets a copy of her own.
    """
    python, kept = folder / "venv" / "bin" / "python", folder / "compiled"
    kept.mkdir(exist_ok=True)
    said = "The model could not be compiled; the lines above say why."
    run([str(python), "-m", "compileall", "-q", str(folder / "project" / "bench")], said)
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(kept), "BENCH_AHEAD": "yes"}
    code = "from bench.warm import load_ipython_extension as load; load(None)"
    run([str(python), "-c", code], said, cwd=folder, env=environment)
    run(["chmod", "-R", "go=rX", str(kept)], said)


def run(words: list[str], said: str, **more: Any) -> None:
    """Run a command; what it said is shown if it failed.

    Raises
    ------
    SetupError
        It failed, or is not there.
    """
    try:
        done = subprocess.run(words, check=False, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, **more)
    except OSError as error:
        raise SetupError(f"{said} ({words[0]}: {error.strerror})") from None
    if done.returncode != 0:
        print(done.stdout.decode(errors="replace").rstrip(), file=sys.stderr, flush=True)
        raise SetupError(said)


if __name__ == "__main__":
    sys.exit(main())
