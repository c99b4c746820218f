"""Weighings after the chamber held against a known truth, against the chamber alone, and against slips."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from bench.errors import BadValue
from bench.figures.weighing import draw_weighings, weighed_table
from bench.item import Answer
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.physics.transient import Weighing, simulate
from bench.stack import Role
from bench.treatment.humidity import HumidityChoices
from bench.treatment.plan import Verdict
from bench.treatment.prediction import leaves_as
from bench.treatment.pressing import PressingChoices
from bench.treatment.weighing.later import Later
from bench.treatment.weighing.press import read_through
from bench.treatment.weighing.reading import MISFIT, read_weighings
from bench.treatment.weighing.through import set_up_through
from bench.units import Q_
from tests.makers import annual, annual_readings
from tests.oracles.balances import balance_water

pytestmark = pytest.mark.slow

BALANCE = Q_(0.05, "g")
BARE = annual(cover_coated=Answer.NO)
CHAMBER = HumidityChoices()
DAMP = Q_(80, "percent")
PRESS = PressingChoices(load=pressure_from_word("medium"), item_humidity=Range(DAMP, DAMP, DAMP))
HOURS = (0, 0.75, 2, 5, 8)
MOMENTS = ("out", "bench", "night", "change 1", "change 2", "weight")
THROUGH = set_up_through(BARE, annual_readings(), CHAMBER, PRESS, Q_(24, "hour"))


@cache
def follow_truth(ratio, scale, room=50, film=None, leaves=None):
    """The same model with other constants, followed with a hundredth of the error that the fit allows."""
    known = {"transport_ratio": Q_(ratio, ""), "isotherm_scale": Q_(scale, "")}
    known |= {"film_factor": Q_(film, "")} if film else {}
    setting = THROUGH.setting
    return simulate(
        setting.stack,
        THROUGH.phases(room=Q_(room, "percent")),
        start=setting.start,
        inputs=replace(THROUGH.inputs, **known),
        isotherms=leaves_as(leaves),
        tolerance=1e-5,
    )


def weigh(ratio, scale, moments=MOMENTS, hours=HOURS, scatter=0.0, seed=1, **truth):
    history = follow_truth(ratio, scale, **truth)
    draw = np.random.default_rng(seed)

    def mass(hour):
        grams = history.at(history.item_mass(), Q_(hour, "hour")).to("g").magnitude
        return Q_(grams + scatter * draw.standard_normal(), "g")

    chamber = [Weighing(Q_(hour, "hour"), mass(hour)) for hour in hours]
    later = []
    for moment in moments:
        under = Q_(24, "hour") if moment == "weight" else None
        end = THROUGH.ends["chamber" if moment == "out" else moment]
        later.append(Later(moment, mass(end + (24 if under else 0)), under))
    return chamber, later


def read(chamber, later, **changes):
    press = replace(PRESS, **changes)
    return read_through(BARE, annual_readings(), CHAMBER, press, chamber, later, balance=BALANCE)


def inside(found, truth):
    return found.low.magnitude <= truth <= found.high.magnitude


def width(found):
    return np.log((found.high / found.low).magnitude)


def test_the_mass_falls_in_the_press_as_the_dry_sheets_and_boards_take_the_water():
    """On paper: item and sheets at one humidity share the water that the item brings by their masses.

    The interleaves alone can take no more than their share of an even spread; with all boards and cards
    the item cannot fall below its share of that.
    """
    history = follow_truth(0.03, 1.0)
    masses = history.item_mass()
    start, out, night = (
        history.at(masses, Q_(hour, "hour")).to("g").magnitude
        for hour in (0, THROUGH.ends["bench"], THROUGH.ends["night"])
    )
    stack = THROUGH.press.stack
    item = stack.mass(Role.LEAF, Role.COVER).to("g").magnitude
    sheets = stack.mass(Role.INTERLEAF).to("g").magnitude
    pack = stack.mass(Role.BOARD, Role.CARD, Role.RELEASE).to("g").magnitude
    brought = out - start
    assert brought * item / (item + sheets + pack) * 0.7 < night - start < brought * item / (item + sheets)
    assert abs(balance_water(history).residual) < 1e-3 * brought


@pytest.mark.parametrize(("ratio", "scale"), [(0.015, 1.2), (0.03, 1.0), (0.06, 0.85)])
def test_a_known_truth_comes_back_and_more_surely_than_from_the_chamber_alone(ratio, scale):
    chamber, later = weigh(ratio, scale)
    found = read(chamber, later)
    assert inside(found.fit.transport_ratio, ratio)
    assert inside(found.fit.isotherm_scale, scale)
    assert found.fit.transport_ratio.value.magnitude == pytest.approx(ratio, rel=0.25)
    assert found.fit.isotherm_scale.value.magnitude == pytest.approx(scale, rel=0.02)
    assert found.fit.misfit < 1
    alone = read_weighings(BARE, annual_readings(), CHAMBER, chamber, balance=BALANCE)
    assert width(found.fit.transport_ratio) < 0.75 * width(alone.fit.transport_ratio)
    assert width(found.fit.isotherm_scale) < 0.6 * width(alone.fit.isotherm_scale)


@pytest.mark.parametrize(
    "truth", [{}, {"room": 54}, {"room": 46}, {"film": 1.2}, {"leaves": "writing paper"}], ids=str
)
def test_how_damp_it_is_comes_back_even_if_room_film_or_isotherm_were_told_wrong(truth):
    """Doubts that move many weighings at once are no slip, and are moved as far as the weighings ask."""
    history = follow_truth(0.02, 1.1, **truth)
    found = read(*weigh(0.02, 1.1, **truth))
    assert found.is_explained
    assert inside(found.fit.transport_ratio, 0.02)
    assert "leaves" in truth or inside(found.fit.isotherm_scale, 1.1)
    for one in found.damp:
        humidity = history.at(history.humidity("mean"), Q_(one.when, "hour"))
        assert inside(one.now, humidity.magnitude), one.moment
        assert width(one.now) < width(one.before)
    assert found.off_after.magnitude < 0.02 < found.off_before.magnitude


def test_scatter_of_the_balance_is_covered():
    weighed = [weigh(0.03, 1.0, MOMENTS[:3], scatter=0.03, seed=seed) for seed in range(10)]
    found = [read(*each).fit for each in weighed]
    assert sum(inside(fit.transport_ratio, 0.03) for fit in found) >= 9
    assert sum(inside(fit.isotherm_scale, 1.0) for fit in found) >= 9


def test_the_answer_compares_the_night_with_what_was_predicted_and_says_what_to_do():
    chamber, later = weigh(0.015, 1.4, MOMENTS[:3])
    answer = read(chamber, later).answer
    assert "After the night it is at 74 % RH" in answer
    assert "damper than the 72 % RH" in answer
    assert "Change the sheets: its dampest leaf is at" in answer
    assert "after change 1 of the sheets expect" in answer
    assert "Enough:" in read(chamber, later, release_limit=Q_(80, "percent")).answer
    assert "no further change is planned" in read(chamber, later, changes=0).answer
    assert "After the night expect" in read(chamber, later[:1]).answer


def test_under_weight_it_rests_or_waits():
    chamber, later = weigh(0.03, 1.0)
    assert "It rests with the room at 50 %" in read(chamber, later).answer
    chamber, later = weigh(0.02, 1.1, room=54)
    assert "leave it under weight and weigh again" in read(chamber, later).answer


def test_the_picture_runs_over_the_whole_time_and_the_table_names_every_moment():
    found = read(*weigh(0.02, 1.1))
    assert found.moments_after[-1].hours > THROUGH.ends["change 2"] + 24
    picture = draw_weighings(found)
    assert "hours since it went in" in picture.svg
    assert "change 1" in picture.svg
    words = weighed_table(found)
    assert "mean humidity after the night<" in words
    assert "mean humidity after change 2 of the sheets<" in words
    early = weighed_table(read(*weigh(0.02, 1.1, MOMENTS[:3])))
    assert "after change 1 of the sheets, not weighed then" in early


def test_a_slip_after_the_night_is_said_and_nothing_is_learned():
    chamber, later = weigh(0.03, 1.0)
    later[2] = replace(later[2], mass=later[2].mass + Q_(0.8, "g"))
    found = read(chamber, later)
    assert found.fit.misfit > MISFIT
    assert found.verdict is Verdict.CARE
    assert "what was said of chamber, press or room" in found.answer
    assert "it is at" not in found.answer


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {4: Later("change 3", Q_(87.9, "g"))},
            "'change 3'; allowed is out, bench, night, change 1, change 2",
        ),
        ({2: Later("night", Q_(92.9, "g"))}, "does not rise out of the chamber"),
        ({0: Later("out", Q_(88.0, "g"))}, "does not fall in the chamber"),
        ({5: Later("weight", Q_(60.0, "g"), Q_(24, "hour"))}, "no paper from a room holds more water"),
        ({3: Later("night", Q_(88.4, "g"))}, "each moment once"),
        ({5: Later("weight", Q_(86.9, "g"), Q_(900, "hour"))}, "Weighings"),
    ],
)
def test_what_cannot_be_is_refused_with_its_reason(change, words):
    chamber, later = weigh(0.03, 1.0)
    later = [change.get(number, one) for number, one in enumerate(later)]
    with pytest.raises(BadValue, match=words):
        read(chamber, later)


def test_a_chamber_longer_than_planned_or_no_first_mass_is_refused():
    chamber, later = weigh(0.03, 1.0)
    with pytest.raises(BadValue, match="Set the hours planned to those it was in"):
        read([*chamber, Weighing(Q_(30, "hour"), later[0].mass)], later)
    with pytest.raises(BadValue, match="none as it went in"):
        read([], later)
    with pytest.raises(BadValue, match="2 in number"):
        read(chamber[:1], later[:1])


def test_no_change_of_sheets_is_planned_without_sheets():
    chamber, later = weigh(0.03, 1.0)
    with pytest.raises(BadValue, match="allowed is out, bench, night or weight"):
        read(chamber, later, interval=None)


def test_units_do_not_matter():
    chamber, later = weigh(0.02, 1.1)
    other = [replace(one, mass=one.mass.to("ounce")) for one in later]
    first, second = (read(chamber, lines).fit.transport_ratio.value.magnitude for lines in (later, other))
    assert second == pytest.approx(first, rel=1e-6)
