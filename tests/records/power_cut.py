"""A simulated disk that may keep, drop, tear or reorder whatever was not synced when the power went.

What POSIX promises, and no more: what a file held at its last ``fsync`` is there; an entry of a folder is
there if the folder was synced after it.  Of everything else any part may have reached the disk, in any
order: a file may be empty, torn or full of zero bytes, a rename may be lost although a later one is not.
"""

from __future__ import annotations

import os
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from bench.records import disk
from bench.records.journal import JOURNAL


@dataclass
class File:
    """What a file holds now, and what it held when it was last synced."""

    now: bytes = b""
    synced: bytes = b""

    def after_the_cut(self, chance: random.Random) -> bytes:
        if self.now == self.synced:
            return self.now
        cut = chance.randint(0, len(self.now))
        torn = self.now[:cut], self.now[:cut] + bytes(len(self.now) - cut)
        return chance.choice((self.synced, self.now, *torn))


@dataclass(frozen=True)
class _Change:
    """A change of the entries of a folder that was not synced yet."""

    gone: Path | None
    name: Path | None = None
    file: File | None = None


@dataclass
class Disk:
    """The files of one folder, as they are and as they would be after a power cut."""

    synced: dict[Path, File] = field(default_factory=dict)
    now: dict[Path, File] = field(default_factory=dict)
    pending: dict[Path, list[_Change]] = field(default_factory=dict)
    folders: set[Path] = field(default_factory=set)
    unsynced_folders: set[Path] = field(default_factory=set)

    @classmethod
    def of(cls, folder: Path) -> Disk:
        """Take a folder as it lies on the disk, all of it synced."""
        files = {
            path: File(data, data)
            for path in folder.rglob("*")
            if path.is_file() and path.name != disk.LOCK_NAME
            for data in [path.read_bytes()]
        }
        return cls(dict(files), dict(files), folders={folder, *(p for p in folder.rglob("*") if p.is_dir())})

    def change(self, change: _Change) -> None:
        """Note a change of entries."""
        place = change.name or change.gone
        assert place is not None
        if place.parent not in self.folders:
            self.folders.add(place.parent)
            self.unsynced_folders.add(place.parent)
        self._apply(self.now, change)
        self.pending.setdefault(place.parent, []).append(change)

    @staticmethod
    def _apply(entries: dict[Path, File], change: _Change) -> None:
        if change.gone is not None:
            entries.pop(change.gone, None)
        if change.name is not None and change.file is not None:
            entries[change.name] = change.file

    def sync_folder(self, folder: Path) -> None:
        """Let the entries of a folder last."""
        for change in self.pending.pop(folder, []):
            self._apply(self.synced, change)
        self.unsynced_folders = {each for each in self.unsynced_folders if each.parent != folder}

    def cut(self, chance: random.Random) -> dict[Path, bytes]:
        """Give what may be on the disk if the power goes now."""
        entries = dict(self.synced)
        for changes in self.pending.values():
            likely = chance.choice((0.0, 0.3, 0.7, 1.0))
            for change in changes:
                if chance.random() < likely:
                    self._apply(entries, change)
        lost = {folder for folder in self.unsynced_folders if chance.random() < 0.5}
        kept = {path: file for path, file in entries.items() if path.parent not in lost}
        return {path: file.after_the_cut(chance) for path, file in kept.items()}


Logical = dict[str, list[dict[str, Any]]]


class Recorder:
    """Stands before ``os`` in the disk module, and notes what may be on the disk after each call.

    Parameters
    ----------
    folder : Path
    chance : random.Random
    read : callable
        Gives what a record says, for every moment at which a save is in its tables.
    every : int
        States that are tried after each call.
    """

    def __init__(
        self, folder: Path, chance: random.Random, read: Callable[[Path], Any], *, every: int
    ) -> None:
        self._folder, self._chance, self._read, self._every = folder, chance, read, every
        self._disk, self._handles = Disk.of(folder), {}  # type: ignore[var-annotated]
        self.said: list[Any] = [read(folder)]
        """What the record said at first, and after each save."""
        self.states: list[tuple[int, dict[Path, bytes]]] = []
        """How many saves were done, and what may be on the disk."""

    def __getattr__(self, name: str) -> Any:
        return getattr(self, f"_note_{name}", getattr(os, name))

    def _cut(self) -> None:
        for _ in range(self._every):
            self.states.append((len(self.said) - 1, self._disk.cut(self._chance)))

    def _note_open(self, path: Path, flags: int, *more: Any) -> int:
        handle = os.open(path, flags, *more)
        if Path(path).is_dir():
            self._handles[handle] = Path(path)
            return handle
        file = self._disk.now.get(Path(path))
        if file is None:
            file = File()
            self._disk.change(_Change(None, Path(path), file))
        if flags & os.O_TRUNC:
            file.now = b""
        self._handles[handle] = file
        self._cut()
        return handle

    def _note_write(self, handle: int, data: Any) -> int:
        count = os.write(handle, data)
        self._handles[handle].now += bytes(data[:count])
        self._cut()
        return count

    def _note_fsync(self, handle: int) -> None:
        os.fsync(handle)
        synced = self._handles[handle]
        if isinstance(synced, File):
            synced.synced = synced.now
        else:
            self._disk.sync_folder(synced)
        self._cut()

    def _note_replace(self, source: Path, target: Path) -> None:
        os.replace(source, target)
        self._disk.change(_Change(Path(source), Path(target), self._disk.now[Path(source)]))
        self._cut()

    def _note_unlink(self, path: Path) -> None:
        os.unlink(path)  # a file that is not there changes nothing
        self._disk.change(_Change(Path(path)))
        if Path(path).name == JOURNAL:
            self.said.append(self._read(self._folder))
        self._cut()


def cut_the_power(
    folder: Path, act: Callable[[], None], read: Callable[[Path], Any], *, seed: int, every: int
) -> Recorder:
    """Carry out an act, and collect what may be on the disk if the power goes at any moment of it."""
    recorder = Recorder(folder, random.Random(seed), read, every=every)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(disk, "os", recorder)
        act()
    recorder._cut()
    return recorder


def lay_out(state: dict[Path, bytes], folder: Path, copy: Path) -> None:
    """Write what was on the disk after the cut into a folder of its own."""
    copy.mkdir(parents=True)
    for path, data in state.items():
        place = copy / path.relative_to(folder)
        place.parent.mkdir(exist_ok=True)
        place.write_bytes(data)
