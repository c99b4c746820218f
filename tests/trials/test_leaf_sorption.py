"""Scrap leaves over salts against printed regains, a closed form, the model that plans follow, and itself."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.special import lambertw

from bench.errors import BadValue, NotYet
from bench.physics.isotherms import isotherm_of
from bench.physics.ranges import draw
from bench.physics.salts import salt_humidity
from bench.physics.transient import ClosedChamber, Course, Inputs, Open, Phase, Rest, simulate_together
from bench.physics.transient.inputs import AS_PUBLISHED, HYSTERESIS
from bench.stack import Layer, Role, Stack
from bench.treatment.plan import Verdict
from bench.trials.leaf_sorption import LEAF_SORPTION, fit, make_up
from bench.trials.protocol import Calibrated, Readings
from bench.trials.reading import THERMOMETER
from bench.trials.sorption_course import (
    DRY,
    LEVELS,
    MASSES,
    TEMPERATURE,
    SorptionCourse,
    contents_at_levels,
    held_coming_down,
)
from bench.units import Q_

TRUTH = {"isotherm-scale": 1.12, "hysteresis": 0.012}


def grams(*masses):
    return tuple(Q_(mass, "g") for mass in masses)


def found_of(outcome):
    return {one.constant.key: one.value.floats("", field="found") for one in outcome.found}


def keys_of(outcome):
    return {caution.key for caution in outcome.cautions}


def with_mass(readings, number, *masses):
    return replace(readings, read={**readings.read, MASSES[number].key: grams(*masses)})


def without_last(readings):
    last = MASSES[-1].key
    return replace(readings, read={key: values for key, values in readings.read.items() if key != last})


@pytest.mark.parametrize(
    ("about", "regain"),
    # [ashrae-regain], per cent of the dry mass from 10 to 90 % RH at 24 °C
    [
        ("coated text", (2.1, 3.2, 4.0, 4.7, 5.3, 6.1, 7.2, 8.7, 10.6)),
        ("uncoated writing", (3.0, 4.2, 5.2, 6.2, 7.2, 8.3, 9.9, 11.9, 14.2)),
    ],
)
def test_leaves_that_hold_the_printed_regain_have_a_scale_of_one(about, regain):
    printed = PchipInterpolator(np.arange(10, 100, 10), np.array(regain) / 100)
    read = {TEMPERATURE.key: (Q_(24.0, "degC"),)}
    for level, asked in zip(LEVELS, MASSES, strict=True):
        percent = salt_humidity(level.salt, temperature=Q_(24.0, "degC")).humidity.to("percent").magnitude
        read[asked.key] = grams(40 * (1 + float(printed(percent)) + (0.01 if level.is_down else 0.0)))
    found = found_of(fit(Readings(about, read)))
    assert found["isotherm-scale"][0] == pytest.approx(1.0, abs=0.05)
    assert found["isotherm-scale"][1] < 1 < found["isotherm-scale"][2]
    assert found["hysteresis"][0] == pytest.approx(0.01, abs=0.001)


@pytest.mark.parametrize(
    ("top", "rest", "most"), [(0.12, 0.10, 0.01), (0.10, 0.098, 0.02), (0.15, 0.05, 0.03)]
)
def test_what_stays_coming_down_is_the_closed_form(top, rest, most):
    # lag = D (1 - exp(-3 (top - rest - lag) / D)), solved with Lambert's W
    k = (top - rest) / most - 1
    y = 3 * k + lambertw(3 * np.exp(-3 * k)).real
    assert held_coming_down(top, rest, most) == pytest.approx(top - most * y / 3, abs=1e-9)


def test_without_hysteresis_it_comes_back_as_it_went():
    contents = contents_at_levels(1.3, 0.0, SorptionCourse("newsprint", 22.0).rests())
    assert contents[1] == pytest.approx(contents[3])
    assert contents[0] == pytest.approx(contents[4])


def test_masses_at_rest_are_those_that_the_plans_model_comes_to():
    course, scale, lag = SorptionCourse("newsprint", 22.0), 1.2, 0.012
    leaf = Layer(Role.LEAF, "newsprint", 1, Q_(0.075, "mm"), Q_(48.8, "gsm"))
    phases = [
        Phase(
            level.key,
            Q_(6, "day"),
            ClosedChamber(
                volume=Q_(20, "litre"),
                source_humidity=salt_humidity(level.salt, temperature=Q_(22, "degC")).humidity,
                source_area=Q_(300, "cm^2"),
                leak=Q_(0, "1/hour"),
            ),
            Open(),
            Open(),
        )
        for level in LEVELS
    ]
    inputs = Inputs(isotherm_scale=Q_(scale, ""), hysteresis=Q_(lag, ""))
    stack = Stack((leaf,), Q_(1.0, "m^2"))
    start = Rest(Q_(12, "percent"), Q_(22, "degC"))
    (history,) = simulate_together([Course(stack, tuple(phases), start, inputs)])
    followed = [history.after(level.key, "content", "mean") for level in LEVELS]
    assert followed == pytest.approx(list(contents_at_levels(scale, lag, course.rests())), abs=4e-4)
    # and a day at each salt is enough for fanned leaves over a wide tray
    masses, hours = history.item_mass().to("g").magnitude, history.hours.magnitude
    for number in range(len(LEVELS)):
        begin, day, end = (np.interp(144.0 * number + hour, hours, masses) for hour in (0.01, 24.0, 143.99))
        assert abs(day - end) < 0.01 * abs(begin - end)


@pytest.mark.parametrize("with_oven", [False, True])
def test_a_bench_without_error_finds_the_truth(with_oven):
    outcome = fit(make_up("newsprint", TRUTH, None, with_oven=with_oven))
    found = found_of(outcome)
    # what was believed beforehand counts as one reading more, and pulls a little
    assert found["isotherm-scale"][0] == pytest.approx(1.12, rel=0.01)
    assert found["hysteresis"][0] == pytest.approx(0.012, abs=3e-4)
    assert outcome.is_usable
    assert not outcome.cautions
    assert outcome.shown.misfit < 0.5
    assert {one.before for one in outcome.found} == {AS_PUBLISHED, HYSTERESIS}
    assert all(one.narrower > 2 for one in outcome.found)


def test_an_oven_narrows_the_scale_and_spares_the_last_weighing():
    readings, baked = (make_up("newsprint", TRUTH, None, with_oven=oven) for oven in (False, True))
    widths = []
    for each in (readings, without_last(baked), baked):
        _, low, high = found_of(fit(each))["isotherm-scale"]
        widths.append(high - low)
    assert widths[0] > widths[1] > widths[2]
    with pytest.raises(NotYet, match="oven"):
        fit(without_last(readings))


def test_pounds_of_leaves_or_grams_of_them_make_no_difference():
    readings = make_up("newsprint", TRUTH, None)
    heavier = {
        key: tuple(2 * one for one in values) if key != TEMPERATURE.key else values
        for key, values in readings.read.items()
    }
    in_ounces = {
        key: tuple(one.to("ounce") for one in values) if key != TEMPERATURE.key else values
        for key, values in readings.read.items()
    }
    likely = found_of(fit(readings))
    assert found_of(fit(replace(readings, read=in_ounces)))["isotherm-scale"] == pytest.approx(
        likely["isotherm-scale"], rel=1e-6
    )
    assert found_of(fit(replace(readings, read=heavier)))["isotherm-scale"][0] == pytest.approx(
        likely["isotherm-scale"][0], rel=0.005
    )


def test_a_thermometer_that_was_checked_moves_the_salts_with_it():
    readings = make_up("newsprint", TRUTH, None)
    off = Calibrated(Q_(5.0, "delta_degC"), Q_(0.1, "delta_degC"))
    corrected = replace(readings, calibrated={THERMOMETER.name: off})
    warmer = replace(readings, read={**readings.read, TEMPERATURE.key: (Q_(27.0, "degC"),)})
    assert found_of(fit(corrected))["isotherm-scale"][0] == pytest.approx(
        found_of(fit(warmer))["isotherm-scale"][0], rel=1e-3
    )


@pytest.mark.parametrize("asked", [TEMPERATURE, *MASSES[:-1]])
def test_a_missing_reading_is_asked_for(asked):
    readings = make_up("newsprint", TRUTH, None)
    with pytest.raises(NotYet, match=asked.label):
        fit(replace(readings, read={k: v for k, v in readings.read.items() if k != asked.key}))


def test_silly_readings_are_refused():
    readings = make_up("newsprint", TRUTH, None)
    with pytest.raises(BadValue, match="going up"):
        fit(with_mass(readings, 1, 5000.0))
    with pytest.raises(BadValue, match="Temperature of the box"):
        fit(replace(readings, read={**readings.read, TEMPERATURE.key: (Q_(45.0, "degC"),)}))


def test_masses_that_no_paper_has_stop_it():
    readings = make_up("newsprint", TRUTH, None)
    slip = with_mass(readings, 2, 53.0)  # lighter over the damper salt
    assert "sorption-misfit" in keys_of(fit(slip))
    assert not fit(slip).is_usable
    mass = [readings.number(asked) for asked in MASSES]
    backwards = with_mass(with_mass(readings, 3, mass[1] - 1.2), 4, mass[0] - 1.2)
    assert fit(backwards).verdict is Verdict.STOP


@pytest.mark.parametrize("with_oven", [False, True])
def test_leaves_that_were_not_dried_first_are_found_out(with_oven):
    # what came to the first salt from a damp room holds the hysteresis there already, going up
    truth = {"isotherm-scale": 1.0, "hysteresis": 0.01}
    readings = make_up("newsprint", truth, None, with_oven=with_oven)
    damp = with_mass(readings, 0, readings.number(MASSES[0]) + 0.01 * 50.0)
    assert "sorption-misfit" in keys_of(fit(damp))
    if with_oven:
        _, low, high = found_of(fit(without_last(damp)))["isotherm-scale"]
        assert low < 1 < high


def test_a_paper_beyond_the_model_stops_it():
    readings = make_up("newsprint", {"isotherm-scale": 3.4, "hysteresis": 0.01}, None, with_oven=True)
    assert "sorption-outside" in keys_of(fit(readings))


def test_it_says_what_follows_in_few_words():
    outcome = fit(make_up("newsprint", TRUTH, None))
    assert len(outcome.answer.split()) <= 50
    assert "1.1" in outcome.answer
    assert len(LEAF_SORPTION.steps) == 6
    assert {one.constant for one in outcome.found} == set(LEAF_SORPTION.finds)


def test_the_picture_holds_every_salt_and_both_ways():
    outcome = fit(make_up("newsprint", TRUTH, None, with_oven=True))
    assert [point.series for point in outcome.shown.points] == ["going up"] * 3 + ["coming down"] * 2
    up = dict(outcome.shown.curves["going up"])
    scale = found_of(outcome)["isotherm-scale"][0]
    for percent in (5.0, 90.0):
        held = scale * isotherm_of("newsprint").content(percent / 100, 22.0)
        assert up[percent] == pytest.approx(100 * held, rel=0.01)


def misses(about, rng, count, **more):
    """Count the truths below and above the interval of 95 %, one row a constant, and the trials refused."""
    missed, refused = np.zeros((2, 2), int), 0
    for _ in range(count):
        truth = {
            "isotherm-scale": float(draw(AS_PUBLISHED.floats("", field="scale"), rng.standard_normal(1))[0]),
            "hysteresis": float(draw(HYSTERESIS.floats("", field="lag"), rng.standard_normal(1))[0]),
        }
        outcome = fit(make_up(about, truth, rng, **more))
        refused += not outcome.is_usable
        for row, key in enumerate(truth):
            _, low, high = found_of(outcome)[key]
            missed[row] += [truth[key] < low, truth[key] > high]
    return missed, refused


@pytest.mark.slow
@pytest.mark.parametrize(("about", "with_oven"), [("newsprint", False), ("coated text", True)])
def test_the_interval_holds_the_truth_as_often_as_it_says(about, with_oven):
    missed, refused = misses(about, np.random.default_rng(20), 200, with_oven=with_oven)
    assert (missed.sum(axis=1) <= 20).all()
    assert all(min(row) > 0 for row in missed if row.sum() >= 8)
    assert refused <= 6


def test_a_dry_mass_alone_is_no_level():
    assert DRY not in MASSES
    assert DRY.is_optional
