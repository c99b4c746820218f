"""Writing files so that a kill or a power cut at any instant leaves either the old or the new one."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import filelock

from bench.errors import Fault, RecordError
from bench.records.faults import explain_os_error

LOCK_NAME = ".lock"
_TEMPORARY = ".tmp"


def read_bytes(path: Path) -> bytes | None:
    """Read a whole file; None if it is not there."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise explain_os_error(error, path, "Nothing was read") from error


def write_beside(path: Path, data: bytes) -> Path:
    """Write the next content of a file into a temporary file beside it, down to the disk.

    Parameters
    ----------
    path : Path
        The file that is to be replaced later; its permissions are taken over.
    data : bytes
        The whole content.

    Returns
    -------
    Path
        The temporary file, for :func:`put_in_place`.

    Raises
    ------
    OSError
        As the system raised it; the temporary file is gone then.
    """
    temporary = _beside(path)
    try:
        handle = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o666)
        try:
            rest = memoryview(data)
            while rest:
                rest = rest[os.write(handle, rest) :]
            os.fsync(handle)
        finally:
            os.close(handle)
        with contextlib.suppress(OSError):  # a new file has none to take over; a foreign one may refuse
            os.chmod(temporary, stat.S_IMODE(os.stat(path).st_mode))
    except BaseException:
        remove_quietly(temporary)
        raise
    return temporary


def put_in_place(path: Path) -> None:
    """Let the temporary file beside a file take its place, in one step."""
    os.replace(_beside(path), _target(path))


def _target(path: Path) -> Path:
    """Give the file itself, where a link stands in its place: the link stays."""
    return Path(os.path.realpath(path)) if os.path.islink(path) else path


def _beside(path: Path) -> Path:
    target = _target(path)
    return target.with_name(f".{target.name}{_TEMPORARY}")


def sync_folder(folder: Path) -> None:
    """Make renames in a folder last through a power cut, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network folders know no such thing
            raise
    finally:
        os.close(handle)


def replace_file(path: Path, data: bytes) -> None:
    """Replace the content of one file, whole or not at all.

    Raises
    ------
    OSError
        As the system raised it; the old content stands then.
    """
    write_beside(path, data)
    put_in_place(path)
    sync_folder(path.parent)


def remove(path: Path) -> None:
    """Remove a file."""
    os.unlink(path)


def remove_quietly(path: Path) -> None:
    """Remove a file if it is there and can be."""
    with contextlib.suppress(OSError):
        os.unlink(path)


def remove_temporary(path: Path) -> None:
    """Remove the temporary file of a file, if an interrupted save left one; call it under the lock only."""
    if _beside(path).exists():
        remove_quietly(_beside(path))


def rename(source: Path, target: Path) -> None:
    """Give a file another name in its folder, in one step."""
    os.replace(source, target)


@contextlib.contextmanager
def hold_lock(folder: Path, *, wait: float = 10.0) -> Iterator[None]:
    """Hold the lock of a folder, so that two notebooks save one after the other.

    Parameters
    ----------
    folder : Path
        Its lock is the file ``.lock`` in it; the system frees it when a process dies.
    wait : float
        Seconds to wait for another notebook.

    Raises
    ------
    RecordError
        The folder cannot be written, or another notebook does not finish in time.
    """
    lock = filelock.FileLock(str(folder / LOCK_NAME), timeout=wait, poll_interval=0.01)
    try:
        lock.acquire()
    except filelock.Timeout:
        what = (
            f"another notebook is saving here and did not finish within {wait:g} s. Nothing was saved: "
            "save again, and close a notebook that hangs."
        )
        raise RecordError([Fault(str(folder), None, None, what)]) from None
    except OSError as error:
        raise explain_os_error(error, folder) from error
    try:
        yield
    finally:
        lock.release()


def state_of_tables(folder: Path) -> tuple[tuple[str, int, int, int, int], ...]:
    """Give something that differs as soon as a table in a folder, or a save that waits, was written to.

    Nothing is read: it is name, length, when content and entry last changed, and the place on the disk.
    Empty if the folder is not there.
    """
    seen = []
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if entry.name.endswith((".csv", ".json")):
                is_now = entry.stat()
                times = (is_now.st_mtime_ns, is_now.st_ctime_ns)
                seen.append((entry.name, is_now.st_size, *times, is_now.st_ino))
    return tuple(sorted(seen))
