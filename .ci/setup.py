"""Set up this copy of the project: ``python3 .ci/setup.py``.

Makes ``.venv`` at the project's root and installs into it exactly what ``.ci/locked.txt`` lists,
then the project itself. Run it again at any time: it does only what is left to do.
"""

import sys

if sys.version_info < (3, 11):  # noqa: UP036 - this is where an older Python is told
    sys.exit(
        f"Python 3.11 or newer is needed, and this is {sys.version_info[0]}.{sys.version_info[1]}. Install a "
        "newer one from your system's packages, and start this with it: python3.11 .ci/setup.py"
    )

import hashlib
import importlib.util
import os
import subprocess
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
LOCK = ROOT / ".ci" / "locked.txt"
STAMP = VENV / "set-up-from"  # fingerprint of what was installed last

NO_VENV = (
    "This Python cannot make a virtual environment: its venv or ensurepip module is missing. "
    "On Debian and Ubuntu: sudo apt-get install python3-venv. Then run the same command again."
)
NOT_OURS = (
    "{} is in the way: it is no virtual environment. Move it elsewhere, then run the same command again."
)
NOT_INSTALLED = (
    "The packages could not be installed; the lines above say why. If they speak of a connection, a name or "
    "a certificate: check the network, and the package index that your pip is set to use, then run the "
    "same command again. What is done is kept."
)


class SetupError(Exception):
    """A reason to stop, as a sentence for the user."""


def main() -> int:
    """Do what is left to do and say how long it took."""
    start = time.monotonic()
    try:
        done = set_up()
    except SetupError as error:
        print(f"\n{error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nStopped. The same command goes on from here.", file=sys.stderr)
        return 1
    what = "Set up" if done else "Everything is in place"
    print(f"{what} ({time.monotonic() - start:.1f} s).", flush=True)
    return 0


def set_up() -> bool:
    """Bring ``.venv`` in line with the lock; false if it was."""
    if not runs():
        make_venv()
    wanted = fingerprint()
    if STAMP.is_file() and STAMP.read_text(encoding="utf-8") == wanted and imports():
        return False
    STAMP.unlink(missing_ok=True)
    say("Installing the packages of .ci/locked.txt (about 230 MB to fetch the first time) ...")
    install_locked()
    say("Installing this project ...")
    install_project()
    warm_up()
    STAMP.write_text(wanted, encoding="utf-8")
    return True


def say(line: str) -> None:
    """Print a line of progress at once."""
    print(line, flush=True)


def runs() -> bool:
    """Tell whether ``.venv`` holds a Python that starts and is new enough."""
    if not PYTHON.exists():
        return False
    code = "import sys; sys.exit(sys.version_info < (3, 11))"
    try:
        return subprocess.run([str(PYTHON), "-c", code], check=False, capture_output=True).returncode == 0
    except OSError:
        return False


def imports() -> bool:
    """Tell whether the project is still found, from a folder that is not its own."""
    words = [str(PYTHON), "-c", "import bench, jupyterlab, pytest"]
    home = Path(tempfile.gettempdir())
    return subprocess.run(words, check=False, capture_output=True, cwd=home).returncode == 0


def make_venv() -> None:
    """Make ``.venv``, in place of a broken one if need be."""
    if VENV.exists() and not (VENV / "pyvenv.cfg").is_file() and any(VENV.iterdir()):
        raise SetupError(NOT_OURS.format(VENV))
    if any(importlib.util.find_spec(name) is None for name in ("venv", "ensurepip")):
        raise SetupError(NO_VENV)
    say("Making .venv ...")
    if not run([sys.executable, "-m", "venv", "--clear", str(VENV)]):
        raise SetupError(NO_VENV)


def fingerprint() -> str:
    """Give a digest of all that decides what is installed, and where."""
    digest = hashlib.sha256(str(ROOT).encode())
    for file in (LOCK, ROOT / "pyproject.toml", Path(__file__)):
        digest.update(file.read_bytes())
    return digest.hexdigest()


def install_locked() -> None:
    """Install the lock with uv, which is quick, or with pip, which needs nothing else."""
    if not get_uv():
        say("uv cannot be had here; pip does the same in a minute or two.")
    elif uv("pip", "sync", "--require-hashes", "--compile-bytecode", str(LOCK)):
        return
    else:
        say("uv did not get through; trying once more with pip, a minute or two.")
    if not pip("install", "--require-hashes", "--no-deps", "-r", str(LOCK)):
        raise SetupError(NOT_INSTALLED)


def get_uv() -> bool:
    """Install the locked uv into ``.venv``."""
    lines = LOCK.read_text(encoding="utf-8").splitlines(keepends=True)
    first = next(number for number, line in enumerate(lines) if line.startswith("uv=="))
    last = next(
        n for n in range(first + 1, len(lines) + 1) if n == len(lines) or not lines[n].startswith(" ")
    )
    with tempfile.TemporaryDirectory() as folder:
        lock = Path(folder) / "uv.txt"
        lock.write_text("".join(lines[first:last]), encoding="utf-8")
        return pip("install", "--require-hashes", "--no-deps", "-r", str(lock)) and uv("--version")


def install_project() -> None:
    """Install the project so that its files are used where they are."""
    words = ("install", "--no-deps", "--no-build-isolation", "-e", str(ROOT))
    if not (uv("pip", *words) or pip(*words)):
        raise SetupError(NOT_INSTALLED)


def warm_up() -> None:
    """Fill the caches that would make the first notebook slow; none of them is needed."""
    say("Preparing fonts and units, and compiling the model ...")
    subprocess.run(
        [str(PYTHON), "-m", "compileall", "-q", str(ROOT / "bench")], check=False, capture_output=True
    )
    code = "import matplotlib.font_manager; from bench.warm import compile_model; compile_model()"
    subprocess.run([str(PYTHON), "-c", code], check=False, capture_output=True, cwd=ROOT)


def uv(*words: str) -> bool:
    """Run uv on ``.venv``; true if it went well."""
    target = ["--python", str(PYTHON)] if words[0] == "pip" else []
    return run([str(PYTHON), "-m", "uv", *words, *target])


def pip(*words: str) -> bool:
    """Run the pip of ``.venv``; true if it went well."""
    return run([str(PYTHON), "-m", "pip", *words, "--disable-pip-version-check"])


def run(words: list[str]) -> bool:
    """Run a command; what it said is shown if it failed."""
    result = subprocess.run(words, check=False, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    if result.returncode != 0:
        lines = result.stdout.decode(errors="replace").rstrip().splitlines()
        print("\n".join(f"  {line}" for line in lines[-12:]), file=sys.stderr, flush=True)
    return result.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
