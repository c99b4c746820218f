"""An index of a folder of records: what was worked out of each treatment, until one of its files changes.

It is one hidden file, ``.index.json``, that may be thrown away at any time.  It is keyed by what the files
are (name, length, place on the disk, when content and entry last changed) and by the program that made it;
it is never trusted above the tables: whoever opens a treatment reads these.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeAlias

from bench.records import disk
from bench.records.many import Progress, read_many

INDEX = ".index.json"
Facts: TypeAlias = dict[str, Any]
"""What is kept of a treatment: plain values that JSON can hold."""
Describe: TypeAlias = Callable[[Path], Facts]


def look_up(
    records: Path, folders: Sequence[Path], describe: Describe, *, progress: Progress | None = None
) -> list[Facts]:
    """Give what is known of every folder; only what has changed since is read again.

    Parameters
    ----------
    records : Path
        The folder of records; the index lies in it, if it can be written.
    folders : sequence of Path
        Treatments in it.
    describe : callable
        Reads one treatment; a function of a module, so that another process can call it.
    progress : callable, optional
        ``progress(done, of)``, while folders are read again.

    Returns
    -------
    list of dict
        In the order of the folders.
    """
    name = f"{describe.__module__}.{describe.__qualname__}"
    kept = _read(records / INDEX)
    known: Mapping[str, Sequence[Any]] = kept.get(name, {})
    states = {folder.name: _state(folder) for folder in folders}
    fresh = {key: known[key] for key, state in states.items() if key in known and known[key][0] == state}
    changed = [folder for folder in folders if folder.name not in fresh]
    for folder, facts in zip(changed, read_many(changed, describe, progress), strict=True):
        fresh[folder.name] = [states[folder.name], facts]
    if changed or len(fresh) != len(known):
        _write(records / INDEX, {**kept, name: fresh})
    return [fresh[folder.name][1] for folder in folders]


def _state(folder: Path) -> str:
    """Give a digest of what the tables of a treatment are, without reading them."""
    return hashlib.blake2b(repr(disk.state_of_tables(folder)).encode(), digest_size=12).hexdigest()


@lru_cache(maxsize=1)
def _program() -> str:
    """Give a digest of this program: another version may read more out of the same tables."""
    package = Path(__file__).resolve().parent.parent
    files = sorted((str(path), path.stat().st_mtime_ns) for path in package.rglob("*.py"))
    return hashlib.blake2b(repr(files).encode(), digest_size=12).hexdigest()


def _read(path: Path) -> dict[str, Any]:
    """Read an index; one that cannot be read, or that another program made, is as good as none."""
    try:
        content = json.loads(path.read_bytes())
        kept = content["kept"] if content["program"] == _program() else {}
        sound = isinstance(kept, dict) and all(
            isinstance(facts, dict) and all(len(each) == 2 for each in facts.values())
            for facts in kept.values()
        )
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}
    return kept if sound else {}


def _write(path: Path, kept: Mapping[str, Any]) -> None:
    """Write an index, if that can be done: nothing depends on it."""
    content = json.dumps({"program": _program(), "kept": kept}, ensure_ascii=False, separators=(",", ":"))
    with contextlib.suppress(OSError):
        disk.replace_file(path, content.encode("utf-8", errors="replace"))
