"""Chains that turn the contact solver into the beam of a handbook: a linear bed that stays in contact.

The bed only pushes.  A mean load keeps it closed, and the answer to a further load is the difference
of two solutions, in which the mean load cancels.
"""

import numpy as np

from bench.physics.bearing.laws import linear_bed
from bench.physics.bearing.plates import section_plate, shares
from bench.physics.bearing.solve import Chain, solve_chain


def answer_to(places, stiffness, bending, extra, mean):
    """Give the sinking (m) of a beam on a bed (Pa/m) that a further load (N/m on nodes) causes."""
    share = shares(places)
    bed = linear_bed(np.zeros_like(places), np.full_like(places, stiffness))
    plate = section_plate(places, bending)
    before = solve_chain(Chain(share, (bed,), (plate,), (share * mean,)))
    after = solve_chain(Chain(share, (bed,), (plate,), (share * mean + extra,)))
    assert after.pressures[0].min() > 0, "the bed opened: raise the mean load"
    return before.heights[0] - after.heights[0]


def point_load(places, where, newtons):
    load = np.zeros_like(places)
    load[int(np.argmin(np.abs(places - where)))] = newtons
    return load
