"""Checks of instruments, and what later readings make of them."""

import math
from datetime import date, datetime, timedelta, timezone

import numpy as np
import pytest

from bench.physics.ranges import REACH, Range
from bench.treatment import facts
from bench.treatment.actual.observed import observe, read_air, read_leaves
from bench.treatment.actual.seen import AIR_HUMIDITY, AIR_TEMPERATURE, name_of_leaf
from bench.treatment.calibration import (
    CHECKS,
    CORRECTION,
    NO_CHECKS,
    Calibrated,
    Checks,
    InstrumentCheck,
    known_correction,
)
from bench.treatment.humidity.words import IN_CHAMBER, TAKE_OUT
from bench.treatment.measured import (
    BALANCE_CORRECTION,
    HYGROMETER_75,
    HYGROMETER_97,
    K1,
    LENGTH_CORRECTION,
    THERMOMETER_0,
    THERMOMETER_100,
    Accepted,
)
from bench.treatment.needed import instruments_for
from bench.treatment.pressing.words import HEAT
from bench.treatment.review.comparison import subtract_readings
from bench.trials.protocol import Asked, Readings
from bench.uncertainty import Component, Measured
from bench.units import Q_

CET = timezone(timedelta(hours=1))
DAY = date(2026, 3, 2)
YEAR = timedelta(days=365)


def within(value, standard):
    """A range whose standard uncertainty is that."""
    return value, value - REACH * standard, value + REACH * standard


def accepted(constant, about, value, standard, day=DAY):
    return Accepted(constant, about, Range.of(within(value, standard), constant.unit), day, day + YEAR)


def caliper(value=0.02, standard=0.005, day=DAY, about="caliper"):
    return accepted(LENGTH_CORRECTION, about, value, standard, day)


def hygrometer(dry=-1.0, damp=2.0, day=DAY, about="hygrometer", standard=0.5):
    return [
        accepted(HYGROMETER_75, about, dry, standard, day),
        accepted(HYGROMETER_97, about, damp, standard, day),
    ]


def row(value, *, day=3, month=3, year=2026, unit="mm", instrument="caliper", **more):
    at = datetime(year, month, day, 9, tzinfo=CET)
    known = {"quantity": "thickness", "place": "text block", "value": value, "unit": unit}
    return {**known, "instrument": instrument, "taken_at": at, **more}


def values(corrected, unit="mm"):
    return [float(each.to(unit).magnitude) for each in corrected.values]


def standards(corrected, unit="mm"):
    return [float(each.u.to(unit).magnitude) for each in corrected.components]


def test_a_reading_after_a_check_is_corrected_and_one_before_is_not():
    checks = Checks.of([caliper()])
    late, early = checks.correct([row(4.41)]), checks.correct([row(4.41, day=1)])
    assert values(late) == pytest.approx([4.43])
    assert standards(late) == pytest.approx([0.005], rel=0.01)
    assert values(early) == [4.41]
    assert early.components == ()
    assert early.checks == ()


def test_a_check_holds_from_the_morning_of_its_day_until_the_next_one():
    checks = Checks.of([caliper(0.02), caliper(-0.01, day=DAY + timedelta(days=10))])
    read = [checks.correct([row(4.0, day=day)]) for day in (2, 11, 12)]
    assert [values(each)[0] for each in read] == pytest.approx([4.02, 4.02, 3.99])
    assert len({each.components[0].cause for each in read}) == 2


def test_of_two_checks_of_a_day_the_last_counts():
    (only,) = Checks.of([caliper(0.02), caliper(0.05)]).each
    assert float(only.near(Q_(4, "mm")).correction.magnitude) == pytest.approx(0.05)


@pytest.mark.parametrize("instrument", ["micrometer", "steel rule", None, ""])
def test_another_instrument_is_left_alone(instrument):
    assert values(Checks.of([caliper()]).correct([row(4.41, instrument=instrument)])) == [4.41]


def test_a_row_without_a_time_or_of_another_kind_is_left_alone():
    checks = Checks.of([caliper()])
    assert values(checks.correct([row(4.41, taken_at=None)])) == [4.41]
    assert values(checks.correct([row(104.0, unit="g")]), "g") == [104.0]


def test_another_constant_is_no_check():
    board = Accepted(K1, "newsprint", Range.of((1.0, 0.5, 2.0), "kPa"), DAY, DAY + YEAR)
    assert Checks.of([board]) == NO_CHECKS


def test_thousandths_carry_the_same_correction():
    checks = Checks.of([caliper(0.0254, 0.00508)])
    corrected = checks.correct([row(173.5, unit="thou")])
    assert values(corrected, "thou") == pytest.approx([174.5])
    assert standards(corrected, "thou") == pytest.approx([0.2], rel=0.02)


def test_readings_of_which_some_were_checked_share_its_doubt_by_their_number():
    checks = Checks.of([caliper()])
    mixed = checks.correct([row(4.0), row(4.0), row(4.0, day=1), row(4.0, instrument="micrometer")])
    assert values(mixed) == pytest.approx([4.02, 4.02, 4.0, 4.0])
    assert standards(mixed) == pytest.approx([0.0025], rel=0.01)
    assert len(mixed.unchecked) == 2


def test_a_check_that_should_have_been_repeated_is_trusted_less():
    (check,) = Checks.of([caliper()]).each
    length = Q_(4, "mm")
    in_time, late = (float(check.near(length, DAY + n * YEAR).standard.magnitude) for n in (1, 3))
    assert in_time == pytest.approx(0.005, rel=0.01)
    assert late == pytest.approx(3 * in_time)


def test_a_balance_is_corrected_in_proportion():
    checks = Checks.of([accepted(BALANCE_CORRECTION, "balance", 0.1, 0.02)])
    (check,) = checks.each
    bend = 0.01 / math.sqrt(3)  # one step as a limit
    for grams in (50.0, 100.0, 400.0):
        found = check.near(Q_(grams, "g"))
        assert float(found.correction.to("g").magnitude) == pytest.approx(0.001 * grams)
        assert float(found.standard.to("g").magnitude) == pytest.approx(math.hypot(2e-4 * grams, bend))
    mass = checks.correct([row(0.1, unit="kg", instrument="balance", quantity="mass")])
    assert values(mass, "g") == pytest.approx([100.1])


@pytest.mark.parametrize(
    ("percent", "correction", "standard"),
    [
        (75.3, -1.0, 0.5),  # at the points, what was found there
        (97.4, 2.0, 0.5),
        (86.35, 0.5, math.hypot(0.5, 0.04 * 11.05)),  # half way, a straight line
        (50.3, -1.0, math.hypot(0.5, 1.0)),  # below, that of the nearer; 25 % away adds 1 %
        (99.9, 2.0, math.hypot(0.5, 0.1)),
    ],
)
def test_a_hygrometer_runs_straight_between_its_salts_and_keeps_the_nearer_beyond(
    percent, correction, standard
):
    (check,) = Checks.of(hygrometer()).each
    found = check.near(Q_(percent, "percent"))
    assert float(found.correction.to("percent").magnitude) == pytest.approx(correction, abs=1e-9)
    assert float(found.standard.to("percent").magnitude) == pytest.approx(standard, rel=1e-6)


def test_a_thermometer_is_corrected_in_both_scales():
    checks = Checks.of(
        [
            accepted(THERMOMETER_0, "thermometer", 0.4, 0.1),
            accepted(THERMOMETER_100, "thermometer", -0.6, 0.1),
        ]
    )
    (check,) = checks.each
    assert float(check.correct(Q_(50.0, "degC")).magnitude) == pytest.approx(49.9)
    assert float(check.correct(Q_(122.0, "degF")).magnitude) == pytest.approx(121.82)
    (ice,) = Checks.of([accepted(THERMOMETER_0, "thin probe", 0.4, 0.1)]).each
    assert float(ice.near(Q_(60, "degC")).standard.to("kelvin").magnitude) == pytest.approx(
        math.hypot(0.1, 0.18)
    )
    boiling_alone = [accepted(THERMOMETER_100, "thermometer", 0.4, 0.1)]
    assert Checks.of(boiling_alone) == NO_CHECKS


def test_what_one_check_leaves_in_doubt_cancels_in_a_difference():
    checks = Checks.of([caliper(standard=0.02)])
    before, after = (checks.correct([row(value, day=day)]) for value, day in ((4.41, 3), (4.45, 9)))
    first, last = (
        Measured(each.values[0], (Component("repeat readings", Q_(0.003, "mm"), 4), *each.components))
        for each in (before, after)
    )
    difference = subtract_readings(last, first)
    assert float(difference.value.magnitude) == pytest.approx(0.04)
    assert float(difference.standard.magnitude) == pytest.approx(0.003 * math.sqrt(2), rel=1e-3)
    again = Checks.of([caliper(standard=0.02), caliper(standard=0.02, day=DAY + timedelta(days=5))])
    other = again.correct([row(4.45, day=9)])
    apart = subtract_readings(
        Measured(other.values[0], other.components), Measured(first.value, before.components)
    )
    assert float(apart.standard.magnitude) == pytest.approx(0.02 * math.sqrt(2), rel=1e-3)


def test_what_one_check_leaves_in_doubt_survives_scaling():
    (component,) = Checks.of([caliper()]).correct([row(4.0)]).components
    scaled = Measured(Q_(4.0, "mm"), (component,)).times(2.0) + Measured(Q_(1.0, "mm"), (component,))
    assert scaled.components[0].is_lasting
    assert float(scaled.standard.magnitude) == pytest.approx(0.015, rel=0.01)


def test_the_corrected_interval_covers_the_truth():
    """An instrument that is off by what its check left open: 95 in 100, give or take three sigma."""
    rng = np.random.default_rng(3)
    hits, draws = 0, 500
    for _ in range(draws):
        off = rng.normal(0.0, 0.02)
        checks = Checks.of([caliper(off + rng.normal(0.0, 0.005))])
        corrected = checks.correct([row(4.0 - off)])
        measured = Measured(corrected.values[0], corrected.components)
        low, high = measured.interval()
        hits += low <= Q_(4.0, "mm") <= high
    assert 0.92 <= hits / draws <= 0.98


def test_readings_of_a_trial_take_a_check_as_they_take_a_plain_correction():
    tool = instruments_for("thickness")[0]
    asked = Asked("block", "Block", "thickness", 0.1, 50.0, most=5, tool=tool)
    read = {"block": (Q_(4.40, "mm"), Q_(4.42, "mm"))}
    (check,) = Checks.of([caliper(0.02, 0.005)]).each
    plain = Calibrated(Q_(0.02, "mm"), Q_(0.005, "mm"))
    one, other = (Readings("a", read, {"caliper": known}).measured(asked) for known in (check, plain))
    assert float(one.value.magnitude) == pytest.approx(4.43)
    assert float(one.standard.magnitude) == pytest.approx(float(other.standard.magnitude), rel=0.01)


# --- what the log says of the air and the leaves


def at(hour, minute=0, day=3):
    return datetime(2026, 3, day, hour, minute, tzinfo=CET)


def step(name, start, end=None):
    return {"name": name, "actual_start": start, "actual_end": end, "note": None}


def logged(quantity, value, moment, unit="percent"):
    return {"quantity": quantity, "value": value, "unit": unit, "at": moment}


STAY = [step(IN_CHAMBER, at(8)), step(TAKE_OUT, at(18))]


def test_the_air_of_a_chamber_is_corrected_by_the_check_of_the_bench():
    rows = [logged(AIR_HUMIDITY, 92.0, at(17, 50))]
    checks = Checks.of(hygrometer(dry=-2.0, damp=-2.0))
    found = observe("humidity", (), rows, STAY, checks)
    assert float(found[facts.CHAMBER_HUMIDITY.key].value.magnitude) == pytest.approx(90.0)
    assert float(found[facts.HYGROMETER_SHOWS.key].value.magnitude) == 92.0
    assert facts.CHAMBER_HUMIDITY.key not in observe("humidity", (), rows, STAY)
    (seen,) = read_air(rows, STAY, Q_(5.0, "percent"), checks)
    assert float(seen.value.value.magnitude) == pytest.approx(90.0)
    assert float(seen.value.expanded().magnitude) < 2.0


def test_a_later_check_against_one_salt_counts_for_more():
    log = [logged(CORRECTION, 1.5, at(7)), logged(AIR_HUMIDITY, 92.0, at(17, 50))]
    checks = Checks.of(hygrometer(dry=-2.0, damp=-2.0))
    (seen,) = read_air(log, STAY, Q_(1.5, "percent"), checks)
    assert float(seen.value.value.magnitude) == pytest.approx(93.5)
    assert known_correction(log, checks) == 1.5
    later = Checks.of(hygrometer(dry=-2.0, damp=-2.0, day=date(2026, 3, 3)))
    assert known_correction(log, later) == pytest.approx(-2.0)
    assert known_correction(log, NO_CHECKS) == 1.5
    assert known_correction([], NO_CHECKS) is None


def test_thermometer_and_probe_are_corrected_each_by_its_own_check():
    checks = Checks.of(
        [accepted(THERMOMETER_0, "thermometer", 0.5, 0.1), accepted(THERMOMETER_0, "thin probe", -1.0, 0.1)]
    )
    rows = [logged(AIR_TEMPERATURE, 22.0, at(9), "degC")]
    air = observe("humidity", (), rows, STAY, checks)[facts.AIR_TEMPERATURE.key]
    plain = observe("humidity", (), rows, STAY)[facts.AIR_TEMPERATURE.key]
    assert float(air.value.magnitude) == pytest.approx(22.5)
    assert float(plain.value.magnitude) == pytest.approx(22.0)
    assert air.expanded() < plain.expanded()
    heat = [step(HEAT, at(9), at(9, 30))]
    leaf = [logged(name_of_leaf("near"), 60.0, at(9, 29), "degC")]
    (warm,) = read_leaves(leaf, heat, checks)
    (as_read,) = read_leaves(leaf, heat)
    assert float(warm.value.value.magnitude) == pytest.approx(59.0)
    assert (
        warm.value.expanded() > as_read.value.expanded()
    )  # contact is doubted as before, the check comes on top


def test_checks_stand_among_the_tables_and_come_back():
    checks = Checks.of([caliper()])
    assert Checks.in_tables({CHECKS: checks.rows}) == checks
    assert Checks.in_tables({}) == NO_CHECKS


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ([caliper(0.01, 0.01)], "caliper checked on 2026-03-02: +0.010 ± 0.020 mm"),
        ([caliper(-0.01, 0.01)], "caliper checked on 2026-03-02: −0.010 ± 0.020 mm"),
        (
            [accepted(BALANCE_CORRECTION, "balance", 0.1, 0.02)],
            "balance checked on 2026-03-02: +0.10 ± 0.04 % of what it shows",
        ),
        (
            hygrometer(),
            "hygrometer checked on 2026-03-02: −1.0 ± 1.0 % near 75 %, +2.0 ± 1.0 % near 97 %",
        ),
        (
            [accepted(THERMOMETER_0, "thin probe", 0.4, 0.1)],
            "thin probe checked on 2026-03-02: +0.40 ± 0.20 K near 0 °C",
        ),
    ],
)
def test_a_check_is_said_in_a_line(found, said):
    (check,) = Checks.of(found).each
    assert isinstance(check, InstrumentCheck)
    assert check.say() == said
