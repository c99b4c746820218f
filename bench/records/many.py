"""Reading many treatments: shared among the processors, in order, with progress."""

from __future__ import annotations

import gc
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path
from typing import TypeAlias, TypeVar

_Found = TypeVar("_Found")
Progress: TypeAlias = Callable[[int, int], None]
"""``progress(done, of)``, called while many treatments are read."""

MANY = 60
"""Treatments from which on it is worth starting other processes."""

_CHUNK = 20


def read_many(
    folders: Sequence[Path], read: Callable[[Path], _Found], progress: Progress | None = None
) -> Iterator[_Found]:
    """Read treatments one after the other, on all processors where there are many.

    Parameters
    ----------
    folders : sequence of Path
        Of the treatments.
    read : callable
        Reads one; a function of a module, so that another process can call it.
    progress : callable, optional
        ``progress(done, of)``, after each of them.

    Yields
    ------
    object
        What ``read`` gives, in the order of the folders.
    """
    for done, found in enumerate(_read_all(folders, read), start=1):
        if progress is not None:
            progress(done, len(folders))
        yield found


def _read_all(folders: Sequence[Path], read: Callable[[Path], _Found]) -> Iterator[_Found]:
    done, processors = 0, os.cpu_count() or 1
    if len(folders) >= MANY and processors > 1:
        try:
            # Started anew and not forked: a notebook has threads, and a fork of those may stand still.
            context = get_context("spawn")
            with ProcessPoolExecutor(processors, mp_context=context, initializer=_set_up) as pool:
                for found in pool.map(read, folders, chunksize=_CHUNK):
                    yield found
                    done += 1
        except (BrokenProcessPool, OSError):  # killed, or not to be had here: this process does the rest
            pass
    yield from map(read, folders[done:])


def _set_up() -> None:
    """Let the collector of a reading process leave alone what stays to its end."""
    gc.collect()
    gc.freeze()
