"""One section from spine to fore edge by the general solver: what the sampled sections are held to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.bearing.batch import REFERENCE, halves
from bench.physics.bearing.laws import Bed, Law, linear_bed
from bench.physics.bearing.plates import Plate, section_plate, shares
from bench.physics.bearing.solve import Balance, Chain, solve_chain
from bench.physics.bearing.zones import Profile


@dataclass(frozen=True)
class Section:
    """A solved section.

    Attributes
    ----------
    places : array (n,) of m
        From the spine.
    share : array (n,) of m
        Length that belongs to each.
    pressure : array (n,) of Pa
        On the cover.
    free, gap : array (n,) of m
        Height of the item without load, and room between the boards.
    load : float
        Force per metre of spine, N/m.
    balance : Balance
    """

    places: Floats
    share: Floats
    pressure: Floats
    free: Floats
    gap: Floats
    load: float
    balance: Balance


def press_item(
    share: Floats,
    item: Bed,
    plate: Plate,
    give: float,
    *,
    load: float | None,
    level: float | None,
    even: bool,
) -> Balance:
    """Press a bed under a plate: evenly, or by a platen over boards that give, with a stop at a level."""
    if even:
        assert load is not None
        return solve_chain(Chain(share, (item,), (plate,), (share * load / share.sum(),)))
    boards = linear_bed(np.full_like(share, REFERENCE), np.full_like(share, give))
    chain = Chain(share, (item, boards), (plate,))
    balance = None if load is None else solve_chain(chain, load=load)
    if level is not None and (balance is None or balance.platen < level):
        balance = solve_chain(chain, height=level)
    assert balance is not None
    return balance


def solve_section(
    places: Floats,
    profile: Profile,
    values: Mapping[str, float],
    *,
    load: float | None = None,
    gap: float | None = None,
    even: bool = False,
    both_sides: bool = True,
) -> Section:
    """Solve one section.

    Parameters
    ----------
    places : array (n,) of m
    profile : Profile
        Arrays (n,); Pfeiffer's law.
    values : mapping
        ``"bending"`` (N m) and ``"give"`` (Pa/m) of the pack on one side.
    load : float, optional
        N per metre of spine; with ``gap`` too, the gap is a stop beside the item.
    gap : float, optional
        Room for the item between packs that are not compressed, m.
    even : bool
        Whether the load rests evenly on the pack, free to tilt with it, instead of a level platen.
    both_sides : bool

    Returns
    -------
    Section

    Raises
    ------
    OutOfRange
        No balance, or a pressure beyond where the laws hold.

    Notes
    -----
    With the same pack on both sides the middle of the item stays flat, so one half is solved.
    """
    part = halves(both_sides)
    share = shares(places)
    item = Bed(Law.PFEIFFER, part * profile.height, profile.first, part * profile.soft)
    plate = section_plate(places, values["bending"])
    level = None if gap is None else part * gap + REFERENCE
    balance = press_item(share, item, plate, values["give"], load=load, level=level, even=even)
    heights = balance.heights[0] / part
    carried = float(share @ balance.pressures[0])
    return Section(places, share, balance.pressures[0], profile.height, heights, carried, balance)
