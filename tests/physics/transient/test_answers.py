"""What the bench asks of a prediction, its doubt, and what weighing makes of it."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue, NotFound, OutOfRange, UnitMismatch
from bench.physics.ageing import equivalent_days
from bench.physics.corrosion import assess_staples
from bench.physics.exposure import Exposure
from bench.physics.mould import share_of_days
from bench.physics.ranges import join_ends
from bench.physics.transient import (
    Air,
    ClosedChamber,
    Course,
    Inputs,
    Insulated,
    Open,
    Phase,
    Platen,
    Rest,
    SolidBase,
    Weighing,
    changes_until,
    contact_conductance,
    dwell_needed,
    fit_weighings,
    hours_until,
    humidity_after,
    minutes_before_loss,
    profile_to_fore_edge,
    release_time,
    simulate,
    simulate_together,
    take_out_window,
    water_moved,
    what_limits,
)
from bench.physics.transient.inputs import limits_of
from bench.stack import Role, Stack, build_layer
from bench.units import Q_
from tests.oracles.balances import water_held
from tests.physics.transient.cases import CLOSED, DAMP, PRESSED, ROOM, page, pressed_stack, stack, treatment

DAY = [Phase("chamber", Q_(24, "hour"), DAMP)]


@pytest.fixture(scope="module")
def history():
    return simulate(stack(), treatment(), page=page())


@pytest.fixture(scope="module")
def day():
    return simulate(stack(), DAY)


def test_the_cover_is_damp_first_and_the_middle_last(day):
    humid = Q_(85, "percent")
    cover, mean, middle = (
        hours_until(day, humid, place=place) for place in ("front cover", "mean", "middle leaf")
    )
    assert cover < mean < middle
    at = day.at(day.humidity("middle leaf"), middle)
    assert at.to("percent").magnitude == pytest.approx(85, abs=0.05)


def test_a_humidity_that_is_never_reached_has_no_hour(day):
    assert hours_until(day, Q_(99.5, "percent")) is None


def test_one_open_face_takes_longer_and_is_named_as_what_limits(day):
    """Half the faces and twice the way: the middle lags by much."""
    below = simulate(stack(), [Phase("chamber", Q_(24, "hour"), DAMP, bottom=SolidBase())])
    assert hours_until(below, Q_(80, "percent")) > 1.5 * hours_until(day, Q_(80, "percent"))
    shares = what_limits(below, "chamber").shares
    assert next(iter(shares)) == "one face"
    assert "one face" not in what_limits(day, "chamber").shares
    assert sum(shares.values()) == pytest.approx(1)


def test_a_small_source_is_named_as_what_limits():
    small = ClosedChamber(Q_(30, "liter"), Q_(98, "percent"), Q_(0.005, "m^2"))
    history = simulate(stack(), [Phase("chamber", Q_(24, "hour"), small)])
    limits = what_limits(history, "chamber")
    assert next(iter(limits.shares)) == "source"
    assert "more area" in limits.words
    assert history.air_humidity()[-1].to("percent").magnitude < 90


def test_the_outer_leaves_dry_on_the_bench_in_minutes(history):
    """The cover loses 5 % RH in minutes, a leaf under it later, the middle not at all in ten minutes."""
    five = Q_(5, "percent")
    cover = minutes_before_loss(history, "bench", points=five, place="front cover")
    assert cover.to("minute").magnitude < 10
    assert minutes_before_loss(history, "bench", points=five, place="middle leaf") is None


def test_a_one_sided_platen_over_a_cold_base_does_not_bring_the_item_to_60(history):
    """Top, middle and bottom fall off, and the bottom never comes near."""
    places = ("first leaf", "middle leaf", "last leaf")
    top, middle, bottom = (history.after("hot", "celsius", place) for place in places)
    assert 60 > top > middle > bottom > 30
    assert bottom < 55
    assert dwell_needed(history, "hot", temperature=Q_(58, "degC"), place="last leaf") is None
    to_40 = dwell_needed(history, "hot", temperature=Q_(40, "degC"), place="last leaf")
    assert 1 < to_40.to("minute").magnitude < 17


def test_the_steady_one_sided_platen_by_hand():
    """Dry case in series resistances: contact, leaves, contact, loss of the base; within 0.1 K."""
    top, base = Platen((Q_(60, "degC"),)), SolidBase(Q_(8, "W/m^2/K"))
    leaves = Stack(stack().of(Role.LEAF), stack().area)
    phase = Phase("hot", Q_(20, "day"), ROOM, top, base, PRESSED)
    history = simulate(leaves, [phase], start=Rest(Q_(2, "percent"), Q_(22, "degC")))
    contact = contact_conductance(PRESSED).magnitude
    thickness = leaves.thickness().to("m").magnitude
    parts = [1 / contact, thickness / 0.12, 1 / contact, 1 / 8]
    expected = 60 - 38 * (parts[0] + parts[1] / 2) / sum(parts)
    assert history.temperature("middle leaf")[-1].magnitude == pytest.approx(expected, abs=0.1)


def test_contact_follows_the_published_ends():
    """97 to 200 W/(m2 K) at 2.3 kPa, 146 to 452 near 300 kPa (dry sheets, abstract seen)."""
    assert 97 < contact_conductance(Q_(2.3, "kPa")).magnitude < 200
    assert contact_conductance(Q_(300, "kPa")).magnitude == pytest.approx(math.sqrt(146 * 452), rel=0.01)


def test_interleaves_and_boards_take_the_water_of_the_leaves(history):
    moved = {role: w.to("g").magnitude for role, w in water_moved(history, "hot").items()}
    assert moved[Role.LEAF] < -1
    assert moved[Role.INTERLEAF] > 0.5
    assert moved[Role.BOARD] > 0.1
    assert Role.PLATE not in moved


def test_fresh_sheets_bring_the_stack_down_and_are_counted(history):
    first, second = (humidity_after(history, name) for name in ("night", "second night"))
    assert second.mean < first.mean
    assert first.driest <= first.mean <= first.wettest
    nights = ["night", "second night"]
    assert changes_until(history, nights, limit=Q_(90, "percent")) == 0
    assert changes_until(history, nights, limit=Q_(70, "percent")) == 1
    assert changes_until(history, nights, limit=Q_(40, "percent")) is None


def test_release_waits_for_dry_even_and_cool(history):
    when = release_time(history, limit=Q_(60, "percent"), room_temperature=Q_(22, "degC"))
    assert when.to("hour").magnitude > 40
    assert release_time(history, limit=Q_(45, "percent"), room_temperature=Q_(22, "degC")) is None


def test_the_window_closes_when_half_the_days_for_mould_are_used(day):
    """The strict rule gives two days at 98 %: half of them is a day."""
    long = simulate(stack(), [Phase("chamber", Q_(60, "hour"), DAMP)])
    window = take_out_window(long, "chamber", wanted=Q_(90, "percent"))
    assert window.earliest < window.latest
    assert 24 < window.latest.to("hour").magnitude < 30
    assert take_out_window(day, "chamber", wanted=Q_(98.5, "percent")).earliest is None


def test_doses_read_the_history(day):
    """A day at the wettest place: the steps add up to the day, and every dose takes them."""
    steps = [
        Exposure(Q_(hours, "hour"), Q_(celsius, "degC"), Q_(fraction, ""), Q_(moisture, ""))
        for hours, celsius, fraction, moisture in day.steps("wettest")
    ]
    assert sum(s.hours for s in steps) == pytest.approx(24, rel=1e-9)
    assert 0.2 < share_of_days(steps).magnitude <= 0.5
    assert 18 < assess_staples(steps).wetness.magnitude < 24
    assert 1 < equivalent_days(steps).michalski.magnitude < 3.3
    assert all(step.moisture is not None for step in steps)


def test_the_fore_edge_runs_ahead_of_the_middle(history):
    place, humidity = profile_to_fore_edge(
        history, "chamber", width=Q_(168, "mm"), edge_ratio=Q_(5, ""), transport_ratio=Q_(0.03, "")
    )
    percent = humidity.to("percent").magnitude
    assert np.all(np.diff(percent) >= -1e-9)
    middle = history.at(history.humidity("middle leaf"), Q_(25 * 3600 - 1e-3, "s")).to("percent").magnitude
    assert percent[0] == pytest.approx(middle, abs=0.1)
    assert percent[-1] == pytest.approx(history.phase("chamber").air_humidity[-1] * 100, abs=1e-6)
    assert place[-1].to("mm").magnitude == pytest.approx(168)


def draw_inputs(inputs, generator):
    """Draw all inputs at once: two half-normal pieces each, 95 % at the ends of its range."""
    found = {}
    for name, (value, low, high) in inputs.triples.items():
        draw = generator.standard_normal() / 1.96
        end = high if draw > 0 else low
        drawn = value * (end / value) ** abs(draw) if low > 0 else value + abs(draw) * (end - value)
        unit = {"cover_as_air": "m", "platen_error": "delta_degC"}.get(name, "")
        least, most = limits_of(name)
        found[name] = Q_(min(max(drawn, least), most), unit)
    return replace(inputs, **found)


def test_a_sample_of_all_inputs_at_once_bears_out_one_at_a_time():
    """Forty draws: the interval of 95 % should hold most of them, and they should not all agree."""
    inputs, generator = Inputs(), np.random.default_rng(7)
    ends = [(cause, changed, None) for cause, changed in inputs.at_ends(inputs.triples)]
    fits = [("isotherm", inputs, {Role.LEAF: "writing paper"})]
    drawn = [
        ("", draw_inputs(inputs, generator), fits[0][2] if generator.integers(2) else None) for _ in range(40)
    ]
    asked = [("", inputs, None), *ends, *fits, *drawn]
    courses = [
        Course(stack(), tuple(DAY), inputs=changed, isotherms=isotherms, tolerance=3e-3)
        for _, changed, isotherms in asked
    ]
    hours = [
        np.array([hours_until(history, Q_(80, "percent")).magnitude])
        for history in simulate_together(courses)
    ]
    count = 1 + len(ends) + len(fits)
    causes = [cause for cause, *_ in asked[1:count]]
    low, high, _ = join_ends(hours[0], list(zip(causes, hours[1:count], strict=True)))
    sample = np.concatenate(hours[count:])
    assert np.mean((sample > low) & (sample < high)) > 0.85
    assert sample.std() > 0.5


def make_weighings(ratio, scale, scatter, generator):
    truth = Inputs(transport_ratio=Q_(ratio, ""), isotherm_scale=Q_(scale, ""))
    history = simulate(stack(), DAY, inputs=truth)
    masses = history.item_mass()
    found = []
    for hours in (0, 1, 2, 4, 6, 9, 24):
        mass = history.at(masses, Q_(hours, "hour")).to("g").magnitude + scatter * generator.standard_normal()
        found.append(Weighing(Q_(hours, "hour"), Q_(mass, "g")))
    return found


def test_weighings_find_the_transport_ratio_and_the_scale():
    weighings = make_weighings(0.015, 1.25, 0.0, np.random.default_rng(1))
    fit = fit_weighings(stack(), DAY, weighings, uncertainty=Q_(0.01, "g"))
    assert fit.transport_ratio.value.magnitude == pytest.approx(0.015, rel=0.02)
    assert fit.isotherm_scale.value.magnitude == pytest.approx(1.25, rel=0.01)
    assert fit.misfit < 0.5


def test_the_uncertainty_of_a_fit_covers_the_truth_as_often_as_it_says():
    """Twelve tables of weighings with scatter: 95 % intervals should hold the truth in 10 or more."""
    generator = np.random.default_rng(3)
    held = 0
    for _ in range(12):
        weighings = make_weighings(0.03, 1.0, 0.05, generator)
        ratio = fit_weighings(
            stack(), DAY, weighings, uncertainty=Q_(0.05, "g"), tolerance=1e-3
        ).transport_ratio
        held += ratio.low.magnitude <= 0.03 <= ratio.high.magnitude
    assert held >= 10


def test_a_slip_in_the_readings_shows():
    weighings = make_weighings(0.03, 1.0, 0.0, np.random.default_rng(1))
    weighings[3] = Weighing(weighings[3].when, weighings[3].mass + Q_(2, "g"))
    fit = fit_weighings(stack(), DAY, weighings, uncertainty=Q_(0.02, "g"))
    assert fit.misfit > 2


def test_damp_beyond_the_isotherms_is_said_and_not_cut_off():
    history = simulate(
        stack(),
        [
            Phase(
                "hot over cold", Q_(1, "hour"), ROOM, Platen((Q_(60, "degC"),)), SolidBase(Q_(1e5, "W/m^2/K"))
            )
        ],
        start=Rest(Q_(95, "percent"), Q_(22, "degC")),
    )
    assert any("99 %" in caution for caution in history.cautions)


@pytest.mark.parametrize(
    ("phase", "error", "match"),
    [
        (
            lambda: Phase("x", Q_(1, "hour"), ROOM, Platen((Q_(140, "degC"),))),
            OutOfRange,
            "platen temperature",
        ),
        (
            lambda: Phase("x", Q_(1, "hour"), ROOM, Platen((Q_(60, "degC"), Q_(50, "degC")))),
            BadValue,
            "program",
        ),
        (lambda: Phase("x", Q_(0, "s"), ROOM), BadValue, "duration of x"),
        (lambda: Phase("x", Q_(1, "m"), ROOM), UnitMismatch, "duration of x"),
        (lambda: Phase("x", Q_(1, "hour"), Air(Q_(90, "degC"))), OutOfRange, "air temperature"),
        (lambda: Phase("x", Q_(1, "hour"), ROOM, Open(Q_(2, "m/s") * 0)), BadValue, "film of air"),
        (lambda: Phase("x", Q_(1, "hour"), ROOM, pressure=Q_(0, "kPa")), BadValue, "pressure"),
    ],
)
def test_what_cannot_be_is_refused_by_name(phase, error, match):
    with pytest.raises(error, match=match):
        simulate(stack(), [phase()])


def test_other_refusals(day):
    with pytest.raises(BadValue, match="names of phases"):
        simulate(stack(), [*DAY, *DAY])
    with pytest.raises(BadValue, match="change of the stack"):
        simulate(
            stack(), [*DAY, Phase("other", Q_(1, "hour"), stack=Stack(stack().layers[1:], stack().area))]
        )
    with pytest.raises(NotFound, match="place in the item"):
        day.humidity("heart")
    with pytest.raises(NotFound, match="phase"):
        day.phase("press")
    with pytest.raises(BadValue, match="transport ratio"):
        Inputs(transport_ratio=Q_(2, ""))
    with pytest.raises(BadValue, match="weighings"):
        fit_weighings(stack(), DAY, [], uncertainty=Q_(0.1, "g"))
    with pytest.raises(BadValue, match="metal only"):
        simulate(Stack((build_layer(Role.PLATE, "aluminium"),), Q_(0.04, "m^2")), DAY)
    with pytest.raises(BadValue, match="open faces"):
        what_limits(simulate(stack(), [Phase("x", Q_(1, "s"), ROOM, Insulated(), Insulated())]), "x")


def test_boards_that_stay_keep_their_water_and_renewed_ones_do_not():
    damp = Rest(Q_(80, "percent"))
    base = SolidBase()
    first = Phase("one", Q_(1, "s"), ROOM, bottom=base, stack=pressed_stack(), fresh=damp)
    keep = Phase("two", Q_(1, "s"), ROOM, bottom=base, stack=pressed_stack())
    renew = Phase("two", Q_(1, "s"), ROOM, bottom=base, stack=pressed_stack(), renew=frozenset({Role.BOARD}))
    before = Phase("start", Q_(1, "s"), ROOM)
    kept, renewed = (simulate(stack(), [before, first, last]) for last in (keep, renew))
    boards = [water_held(h, Role.BOARD)[-1] for h in (kept, renewed)]
    assert boards[0] > 1.2 * boards[1]
    sheets = [water_held(h, Role.INTERLEAF)[-1] for h in (kept, renewed)]
    assert sheets[0] == pytest.approx(sheets[1], rel=1e-3)


def test_a_chamber_that_leaks_sags_more():
    tight = simulate(stack(), [Phase("chamber", Q_(6, "hour"), CLOSED)])
    leaky = ClosedChamber(Q_(30, "liter"), Q_(98, "percent"), Q_(0.1, "m^2"), leak=Q_(5, "1/hour"))
    open_lid = simulate(stack(), [Phase("chamber", Q_(6, "hour"), leaky)])
    assert open_lid.air_humidity()[-1] < tight.air_humidity()[-1] - Q_(2, "percent")
