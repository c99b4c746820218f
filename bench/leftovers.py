"""Temporary folders that a killed process left: each says whose it is, and goes once that one is gone."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from pathlib import Path

_OWNER = "owner.pid"
_YOUNG_S = 3600.0  # without an owner it may just be in the making


def own(folder: Path) -> None:
    """Say that a temporary folder is that of this process."""
    (folder / _OWNER).write_text(f"{os.getpid()}", encoding="ascii")


def sweep(prefix: str, parent: Path | None = None) -> None:
    """Remove temporary folders of this user whose process has ended.

    Parameters
    ----------
    prefix : str
        Of their names.
    parent : Path, optional
        By default the system's folder for temporary files.
    """
    for folder in (parent or Path(tempfile.gettempdir())).glob(f"{prefix}*"):
        with contextlib.suppress(OSError):  # somebody else's, or gone meanwhile
            if _is_mine(folder) and _is_left(folder):
                shutil.rmtree(folder, ignore_errors=True)


def _is_mine(folder: Path) -> bool:
    is_plain = folder.is_dir() and not folder.is_symlink()
    return is_plain and (not hasattr(os, "getuid") or folder.stat().st_uid == os.getuid())


def _is_left(folder: Path) -> bool:
    """Tell whether the process that owns a folder has ended."""
    try:
        owner = int((folder / _OWNER).read_text(encoding="ascii"))
    except (OSError, ValueError):
        return time.time() - folder.stat().st_mtime > _YOUNG_S
    return not _is_alive(owner)


def _is_alive(number: int) -> bool:
    if os.name == "nt":  # a signal would end it there
        return True
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    except (OverflowError, OSError):
        return True
    return True
