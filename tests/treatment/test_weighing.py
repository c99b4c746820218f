"""Weighings held against a known truth, against refits, and against what no balance can read."""

from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue, OutOfRange
from bench.item import Answer
from bench.physics.transient import Weighing, fit_weighings, hours_until, simulate
from bench.treatment.humidity import HumidityChoices, plan_humidity
from bench.treatment.humidity.uptake import set_up
from bench.treatment.plan import Verdict
from bench.treatment.weighing.reading import MISFIT, read_weighings
from bench.units import Q_
from tests.makers import annual, annual_readings

HOURS = (0, 0.75, 2, 5, 8, 24)
BALANCE = Q_(0.05, "g")
BARE = annual(cover_coated=Answer.NO)


def follow_truth(item, ratio, scale, chamber=None, **changes):
    """The same model with other constants, followed with a hundredth of the error that the fit allows."""
    setting = set_up(item, annual_readings(), replace(HumidityChoices(), **(chamber or {})))
    known = {"transport_ratio": Q_(ratio, ""), "isotherm_scale": Q_(scale, ""), **changes}
    phases = setting.course.phases
    inputs = replace(setting.inputs, **known)
    return simulate(setting.stack, phases, start=setting.start, inputs=inputs, tolerance=1e-5), setting


def weigh(item, ratio, scale, hours=HOURS, scatter=0.0, seed=1, **changes):
    history, _ = follow_truth(item, ratio, scale, **changes)
    draw = np.random.default_rng(seed)
    masses = [history.at(history.item_mass(), Q_(hour, "hour")).to("g").magnitude for hour in hours]
    return [
        Weighing(Q_(hour, "hour"), Q_(mass + scatter * draw.standard_normal(), "g"))
        for hour, mass in zip(hours, masses, strict=True)
    ]


def read(weighings, item=BARE, **changes):
    return read_weighings(
        item, annual_readings(), replace(HumidityChoices(), **changes), weighings, balance=BALANCE
    )


def inside(found, truth):
    return found.low.magnitude <= truth <= found.high.magnitude


@pytest.mark.parametrize(("ratio", "scale"), [(0.015, 1.2), (0.03, 1.0), (0.06, 0.85)])
def test_a_known_truth_comes_back_within_its_interval_and_so_do_the_hours(ratio, scale):
    found = read(weigh(BARE, ratio, scale))
    assert found.fit.transport_ratio.value.magnitude == pytest.approx(ratio, rel=0.15)
    assert found.fit.isotherm_scale.value.magnitude == pytest.approx(scale, rel=0.04)
    assert inside(found.fit.transport_ratio, ratio)
    assert inside(found.fit.isotherm_scale, scale)
    history, setting = follow_truth(BARE, ratio, scale)
    hours = hours_until(history, setting.choices.wanted_humidity, place=setting.place).to("hour")
    assert found.hours_after.value.magnitude == pytest.approx(hours.magnitude, rel=0.06)
    assert inside(found.hours_after, hours.magnitude)
    assert found.off_after < found.off_before or ratio == 0.03
    assert found.fit.misfit < 1


def test_the_hours_are_surer_after_than_before():
    found = read(weigh(BARE, 0.015, 1.2))
    before, after = (
        np.log((hours.high / hours.low).magnitude) for hours in (found.hours_before, found.hours_after)
    )
    assert after < 0.7 * before


def test_an_interval_carries_what_film_and_cover_may_be():
    """Truths in which film or cover is far from its middle: the fit alone would be too sure of itself."""
    item = annual(cover_coated=Answer.UNKNOWN)
    for changes in (
        {"cover_as_air": Q_(0, "mm")},
        {"film_factor": Q_(1.2, "")},
        {"film_factor": Q_(0.7, "")},
    ):
        found = read(weigh(item, 0.02, 1.1, **changes), item)
        assert inside(found.fit.transport_ratio, 0.02)
        assert inside(found.fit.isotherm_scale, 1.1)
        history, setting = follow_truth(item, 0.02, 1.1, **changes)
        hours = hours_until(history, setting.choices.wanted_humidity, place=setting.place).to("hour")
        assert inside(found.hours_after, hours.magnitude)
        bare = fit_weighings(
            setting.stack,
            setting.course.phases,
            found.weighings,
            uncertainty=found.doubt,
            inputs=setting.inputs,
            start=setting.start,
            tolerance=1e-3,
        ).transport_ratio
        assert found.fit.transport_ratio.low < bare.low
        assert found.fit.transport_ratio.high > bare.high


def test_scatter_of_the_balance_is_covered():
    """Ten tables of weighings with scatter: intervals of 95 % should hold the truth in nine or more."""
    tables = [weigh(BARE, 0.03, 1.0, scatter=0.03, seed=seed) for seed in range(10)]
    assert sum(inside(read(table).fit.transport_ratio, 0.03) for table in tables) >= 9


def test_a_slip_is_said_and_the_verdict_is_care():
    weighings = weigh(BARE, 0.03, 1.0)
    weighings[2] = Weighing(weighings[2].when, weighings[2].mass + Q_(1, "g"))
    found = read(weighings)
    assert found.fit.misfit > MISFIT
    assert not found.is_explained
    assert found.verdict is Verdict.CARE
    assert "Look for a slip" in found.answer
    assert "Vapour passes" not in found.answer


@pytest.mark.parametrize(
    ("last", "ratio", "words"),
    [(2, 0.015, "Leave it in for about"), (24, 0.06, "Take it out:"), (8, 0.015, "It may be ready")],
)
def test_it_says_what_to_do_now(last, ratio, words):
    hours = [hour for hour in HOURS if hour <= last]
    assert words in read(weigh(BARE, ratio, 1.0, hours)).answer


def test_a_source_too_dry_is_said():
    dry = {"salt": "sodium chloride", "wanted_humidity": Q_(85, "percent")}
    found = read(weigh(BARE, 0.03, 1.0, (0, 1, 2, 6), chamber=dry), **dry)
    assert found.hours_after is None
    assert "never brings the innermost leaf to 85 %" in found.answer


def test_the_wrong_chamber_is_not_learned_from():
    """Weighed over the dampest salt, told as over table salt: no paper takes up as much from that."""
    found = read(weigh(BARE, 0.03, 1.0), salt="sodium chloride")
    assert not found.is_explained


def masses(*pairs):
    return [Weighing(Q_(hour, "hour"), Q_(mass, "g")) for hour, mass in pairs]


@pytest.mark.parametrize(
    ("weighings", "words"),
    [
        (masses((0, 86), (2, 87)), "2 in number; allowed is 3 or more"),
        (masses((1, 86), (2, 87), (3, 88)), "a first weighing at 0 h"),
        (masses((0, 86), (3, 87), (2, 88)), "times that rise"),
        (masses((0, 86), (2, 88), (3, 87)), "does not fall in the chamber"),
        (masses((0, 86), (2, 88), (3, 120)), "no paper takes up more from air"),
        (masses((0, 860), (2, 861), (3, 862)), "about the 86 g of the item from tabled papers"),
    ],
)
def test_what_no_balance_can_have_read_is_refused_with_its_reason(weighings, words):
    with pytest.raises(BadValue, match=words):
        read(weighings)


def test_a_time_beyond_what_is_followed_or_a_perfect_balance_is_refused():
    with pytest.raises((BadValue, OutOfRange), match="Weighings"):
        read(masses((0, 86), (2, 87), (400, 88)))
    with pytest.raises((BadValue, OutOfRange), match="Balance right within"):
        read_weighings(
            BARE, annual_readings(), HumidityChoices(), masses((0, 86), (2, 87), (3, 88)), balance=Q_(0, "g")
        )


def test_units_do_not_matter():
    weighings = weigh(BARE, 0.02, 1.1)
    other = [Weighing(w.when.to("minute"), w.mass.to("ounce")) for w in weighings]
    first, second = read(weighings), read(other)
    assert second.fit.transport_ratio.value.magnitude == pytest.approx(
        first.fit.transport_ratio.value.magnitude, rel=1e-6
    )


def test_a_plan_with_what_was_weighed_says_so_and_holds_more_water():
    found = read(weigh(BARE, 0.02, 1.2))
    learned = replace(
        HumidityChoices(),
        transport_ratio=found.fit.transport_ratio,
        isotherm_scale=found.fit.isotherm_scale,
        weighed="Lantern, no. 1",
    )
    usual, weighed = (plan_humidity(BARE, annual_readings(), c) for c in (HumidityChoices(), learned))
    scale = found.fit.isotherm_scale.value.magnitude
    assert weighed.water.value.magnitude == pytest.approx(scale * usual.water.value.magnitude)
    assert any("from weighings of Lantern, no. 1" in a.words for a in weighed.assumptions)
    assert not any("weighings" in a.words for a in usual.assumptions)
