"""A platen that was switched off, held against exact limits, a balance by hand and its own heat."""

import math

import numpy as np
import pytest
from scipy.linalg import expm

from bench.errors import BadValue
from bench.physics.transient import (
    Air,
    CoolingPlaten,
    Inputs,
    Insulated,
    Phase,
    Platen,
    Rest,
    SolidBase,
    simulate,
)
from bench.physics.transient.cells import contact_conductance
from bench.stack import Layer, Role, Stack, build_layer
from bench.units import Q_
from tests.physics.transient.cases import pressed_stack

ROOM = Air(Q_(22, "degC"), Q_(50, "percent"))
LOAD = Q_(4, "kPa")
LOSS = Q_(8, "W/m^2/K")
EXACT = Inputs(hysteresis=Q_(0.0, ""))
HOT = Phase("hot", Q_(2, "hour"), ROOM, Platen((Q_(60, "degC"),)), SolidBase(LOSS), LOAD)


def off(minutes, loss=LOSS):
    return CoolingPlaten(Q_(60, "degC"), Q_(minutes, "min"), loss)


BASE = SolidBase(LOSS)


def night(top, bottom=BASE, hours=6, name="night", **more):
    return Phase(name, Q_(hours, "hour"), ROOM, top, bottom, LOAD, **more)


def follow(stack, *phases, tolerance=1e-5):
    return simulate(stack, phases, start=Rest(), inputs=EXACT, tolerance=tolerance)


def cooling(history, name="night"):
    part = history.phase(name)
    return (part.times - part.times[0]), part.climate[0]


def test_a_platen_without_heat_of_its_own_is_a_base():
    stack = pressed_stack()
    found = [follow(stack, HOT, night(top)) for top in (off(0), SolidBase(LOSS))]
    series = [history.temperature("last leaf").magnitude for history in found]
    assert np.array_equal(*series)


def test_the_lighter_the_platen_the_nearer_to_a_base():
    """The limit from above, without the rule that takes the lightest for none."""
    stack = pressed_stack()
    when = Q_(2.5, "hour")

    def warm(top):
        history = follow(stack, HOT, night(top))
        return float(history.at(history.temperature("first leaf"), when).magnitude)

    base = warm(SolidBase(LOSS))
    off_by = [warm(off(minutes)) - base for minutes in (8, 4, 2, 0.5)]
    assert off_by == sorted(off_by, reverse=True)
    assert off_by[-1] < 0.2 * off_by[0]
    assert 0 < off_by[-1] < 0.5


def test_under_a_heavy_platen_a_leaf_follows_the_platens_own_exponential():
    """Nothing else takes heat, the far side is insulated: half of the warmth is gone in a half-life."""
    leaf = Stack((build_layer(Role.LEAF, "newsprint"),), Q_(0.043, "m^2"))
    hot = Phase("hot", Q_(1, "hour"), ROOM, Platen((Q_(60, "degC"),)), Insulated(), LOAD)
    history = follow(leaf, hot, night(off(60), Insulated(), 4))
    seconds, celsius = cooling(history)
    own = 22 + 38 * 2 ** (-seconds / 3600)
    assert celsius[:, -1] == pytest.approx(own, abs=0.25)  # the leaf has a two-hundredth of the heat
    assert celsius[-1, -1] == pytest.approx(22 + 38 / 16, abs=0.1)


def test_platen_and_plate_cool_as_two_lumps_do():
    """Two lumps of metal with a thin sheet between: a balance by hand, solved as a matrix exponential."""
    sheet = Layer(Role.LEAF, "newsprint", 1, Q_(0.01, "mm"), Q_(5, "gsm"))  # so thin that it keeps nothing
    plate = Layer(Role.PLATE, "aluminium", 1, Q_(3, "mm"))
    stack = Stack((sheet, plate), Q_(0.043, "m^2"))
    history = follow(
        stack, Phase("hot", Q_(4, "hour"), ROOM, *(Platen((Q_(60, "degC"),)),) * 2, LOAD), night(off(45))
    )
    seconds, celsius = cooling(history)

    touch = float(contact_conductance(LOAD).magnitude)
    kept = np.array([8 * 45 * 60 / math.log(2), 2750 * 890 * 3e-3])
    through = 1 / (2 / touch + 1e-5 / 0.12)  # two contacts and the sheet, whatever its conductivity
    away = 1 / (1 / touch + 1 / 8)
    rates = np.array([[-through - 8, through], [through, -through - away]]) / kept[:, None]
    for number in np.linspace(5, len(seconds) - 1, 6).astype(int):
        exact = 22 + expm(rates * seconds[number]) @ np.array([38.0, 38.0])
        assert celsius[number, [0, -1]] == pytest.approx(exact, abs=0.15)


def test_the_platen_goes_on_as_it_is_through_a_change_of_sheets():
    stack = pressed_stack()
    whole = follow(stack, HOT, night(off(45), hours=4))
    parts = follow(stack, HOT, night(off(45), hours=1), night(off(45), hours=3, name="later"))
    both = [history.temperature("first leaf").magnitude[-1] for history in (whole, parts)]
    assert both[0] == pytest.approx(both[1], abs=0.02)
    changed = follow(
        stack,
        HOT,
        night(off(45), hours=1),
        night(off(45), hours=3, name="later", renew=frozenset({Role.INTERLEAF})),
    )
    before, after = (changed.phase(name) for name in ("night", "later"))
    assert after.climate[0][0, 0] == pytest.approx(before.climate[0][-1, 0], abs=1e-9)
    assert before.climate[0][-1, 0] > 30


def test_the_heat_that_a_platen_brings_leaves_through_the_faces():
    """Energy: the stack with its platens loses what leaves through the faces, and no more."""
    history = follow(pressed_stack(), HOT, night(off(45), off(30)))
    part = history.phase("night")
    heat, states = part.cut.slices.heat, part.track.states[:, 1::2]
    lost = -float(part.track.crossed[1].sum())
    assert float(heat @ (states[0] - states[-1])) == pytest.approx(lost, rel=1e-6)
    brought = float((heat * states[0])[[0, -1]].sum())
    assert brought == pytest.approx(8 * 60 / math.log(2) * (45 + 30) * (60 - 23), rel=1e-6)


def test_both_platens_keep_the_stack_warm_for_longer_than_one():
    stack, ends = pressed_stack(), []
    for bottom in (SolidBase(LOSS), off(45)):
        history = follow(stack, HOT, night(off(45), bottom))
        ends.append(float(history.at(history.temperature("middle leaf"), Q_(4, "hour")).magnitude))
    assert ends[1] > ends[0] + 2


def test_a_half_life_beyond_what_was_thought_of_is_refused():
    with pytest.raises(BadValue, match=r"half-life of the platen is 600 min; allowed is 0 to 300 min"):
        follow(pressed_stack(), HOT, night(off(600)))
