"""How loops are compiled by numba: at their first call, and kept beside their file for later ones."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

import numba

F = TypeVar("F", bound=Callable[..., object])


def compiled(function: F) -> F:
    """Compile what others call; it is kept on the disk, if there is a place to write to."""
    try:
        return cast(F, numba.njit(cache=True, error_model="numpy")(function))
    except RuntimeError:  # neither beside its file nor in the user's own folder: compiled in each process
        return part_of_compiled(function)


def part_of_compiled(function: F) -> F:
    """Compile what only compiled functions of the same file call, as a part of them."""
    return cast(F, numba.njit(error_model="numpy")(function))
