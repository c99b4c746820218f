"""Moisture through a closed item: times, uptake, supply.

The nonlinear comparisons are with :mod:`tests.physics.full_isotherm`, calculated here and not a
citation; no printed measurement of a periodical was found.
"""

import math

import numpy as np
import pytest

from bench.errors import BadValue, OutOfRange, UnitMismatch
from bench.physics import slab, transfer, vapour
from bench.physics.ranges import Range
from bench.units import Q_
from tests.physics.full_isotherm import ISOTHERMS, take_up

RATIO = Range(Q_(0.03, ""), Q_(0.01, ""), Q_(0.1, ""))
ROOM = Q_(22, "degC")
PERFECT_FILM = Q_(99, "mm/s")


def pile(**other):
    """A closed periodical as the estimates take it."""
    given = {
        "thickness": Q_(4.4, "mm"),
        "transport_ratio": Q_(0.02, ""),
        "density": Q_(600, "kg/m^3"),
        "isotherm_slope": Q_(0.3, ""),
        "temperature": ROOM,
        "film": Q_(2.5, "mm/s"),
    }
    return given | other


def slope_of(name, start=0.5, end=0.98):
    isotherm = ISOTHERMS[name]
    return vapour.absorption_slope(
        start_humidity=Q_(start, ""),
        start_moisture=Q_(float(isotherm(start)), ""),
        end_humidity=Q_(end, ""),
        end_moisture=Q_(float(isotherm(end)), ""),
        end_slope=Q_(float(isotherm(end) - isotherm(end - 0.002)) / 0.002, ""),
    )


# --- vapour in air and paper ---------------------------------------------------------------------


def test_diffusivity_in_air():
    """hamopy 0.4.0, formula seen there: 2.653e-5 m2/s at 22 °C (calculated, four digits)."""
    assert vapour.air_diffusivity(temperature=ROOM).to("m^2/s").m == pytest.approx(2.653e-5, rel=2e-4)


@pytest.mark.parametrize(("heat", "speed"), [(1, 0.95), (2, 1.89), (3, 2.84), (5, 4.73), (10, 9.46)])
def test_film_by_lewis(heat, speed):
    """Calculated apart from this code (Lewis, from memory), three digits; air properties differ by 1 %."""
    film = vapour.vapour_film(heat_film=Q_(heat, "W/m^2/K"))
    assert film.value.to("mm/s").m == pytest.approx(speed, rel=0.01)


@pytest.mark.parametrize(
    ("ratio", "printed"), [(0.01, 2.9e-11), (0.02, 5.7e-11), (0.05, 1.4e-10), (0.1, 2.9e-10)]
)
def test_moisture_diffusivity(ratio, printed):
    """Density 600, 22 °C, slope 0.3: calculated apart from this code, two digits."""
    found = vapour.moisture_diffusivity(
        transport_ratio=Q_(ratio, ""), density=Q_(600, "kg/m^3"), isotherm_slope=Q_(0.3, ""), temperature=ROOM
    )
    assert found.value.to("m^2/s").m == pytest.approx(printed, rel=0.03)


def test_a_steeper_isotherm_or_a_denser_pile_diffuses_more_slowly():
    base = {"transport_ratio": RATIO, "temperature": ROOM}
    first = vapour.moisture_diffusivity(density=Q_(600, "kg/m^3"), isotherm_slope=Q_(0.3, ""), **base)
    twice = vapour.moisture_diffusivity(density=Q_(1200, "kg/m^3"), isotherm_slope=Q_(0.6, ""), **base)
    assert first.value.m == pytest.approx(4 * twice.value.m)
    assert first.low.m == pytest.approx(first.value.m / 3)
    assert first.high.m == pytest.approx(first.value.m / 0.3)


def test_the_slope_of_a_step_lies_between_chord_and_end():
    slope = slope_of("newsprint")
    assert slope.low < slope.value < slope.high
    assert slope.low.m <= slope.at(0.0) < slope.at(0.5) < slope.at(0.95) < slope.high.m


def test_a_straight_isotherm_has_one_slope():
    straight = vapour.absorption_slope(
        start_humidity=Q_(50, "percent"),
        start_moisture=Q_(0.06, ""),
        end_humidity=Q_(90, "percent"),
        end_moisture=Q_(0.14, ""),
        end_slope=Q_(0.2, ""),
    )
    assert [straight.at(share) for share in (0.0, 0.5, 1.0)] == pytest.approx([0.2] * 3)


@pytest.mark.parametrize(
    ("end", "end_moisture", "end_slope", "error", "words"),
    [
        (40, 0.1, 0.3, BadValue, "humidity step is 50% to 40% RH"),
        (98, 0.05, 0.3, BadValue, "moisture 6.0% to 5.0%"),
        (98, 0.2, 0.1, BadValue, "at least the chord of the step"),
        (98, 0.2, 9.0, OutOfRange, "at most 20 times the chord"),
    ],
)
def test_slopes_that_are_refused(end, end_moisture, end_slope, error, words):
    with pytest.raises(error, match=words):
        vapour.absorption_slope(
            start_humidity=Q_(50, "percent"),
            start_moisture=Q_(0.06, ""),
            end_humidity=Q_(end, "percent"),
            end_moisture=Q_(end_moisture, ""),
            end_slope=Q_(end_slope, ""),
        )


def test_supply_of_a_wet_tray_in_still_air():
    """4.2 g a day for 0.1 m2 and 1 % RH of deficit at 22 °C, film 2.5 mm/s (calculated, two digits)."""
    supply = vapour.water_supply(area=Q_(0.1, "m^2"), deficit=Q_(1, "percent"), temperature=ROOM)
    assert supply.value.to("g/day").m == pytest.approx(4.2, abs=0.05)
    assert supply.low.to("g/day").m == pytest.approx(4.2 / 2.5, abs=0.02)


def test_the_air_sags_while_a_periodical_drinks():
    """15 g in 24 h through 0.1 m2 needs a mean deficit of about 3.5 % RH (calculated, said as about)."""
    sag = vapour.humidity_deficit(uptake_rate=Q_(15, "g/day"), area=Q_(0.1, "m^2"), temperature=ROOM)
    assert sag.value.to("percent").m == pytest.approx(3.5, abs=0.1)
    back = vapour.water_supply(area=Q_(0.1, "m^2"), deficit=sag.value, temperature=ROOM)
    assert back.value.to("g/day").m == pytest.approx(15)


def test_a_source_too_small_is_refused():
    with pytest.raises(OutOfRange, match=r"uptake rate is 20 g/h; allowed is at most .* from this surface"):
        vapour.humidity_deficit(uptake_rate=Q_(20, "g/hour"), area=Q_(50, "cm^2"), temperature=ROOM)


# --- hours and uptake ----------------------------------------------------------------------------


def test_hours_are_the_series_without_a_film():
    """Fo = 1.129 for 95 % (plane sheet): L2/D times that, with a film too strong to matter."""
    diffusivity = vapour.moisture_diffusivity(
        transport_ratio=Q_(0.02, ""), density=Q_(600, "kg/m^3"), isotherm_slope=Q_(0.3, ""), temperature=ROOM
    )
    bare = Q_(2.2, "mm") ** 2 / diffusivity.value * slab.fourier_for(0.95)
    hours = transfer.estimate_uptake_hours(**pile(film=PERFECT_FILM, fraction=Q_(95, "percent")))
    assert hours.value.to("s").m == pytest.approx(bare.to("s").m, rel=0.01)


def test_time_goes_with_thickness_squared_without_a_film():
    once = transfer.estimate_uptake_hours(**pile(film=PERFECT_FILM))
    twice = transfer.estimate_uptake_hours(**pile(film=PERFECT_FILM, thickness=Q_(8.8, "mm")))
    assert (twice.value / once.value).m == pytest.approx(4, rel=0.01)


def test_one_open_face_is_as_slow_as_twice_the_thickness():
    one = transfer.estimate_uptake_hours(**pile(faces="one"))
    thick = transfer.estimate_uptake_hours(**pile(thickness=Q_(8.8, "mm")))
    assert one.value.m == pytest.approx(thick.value.m)


def test_cover_and_film_only_lengthen():
    bare = transfer.estimate_uptake_hours(**pile(film=PERFECT_FILM))
    film = transfer.estimate_uptake_hours(**pile())
    cover = transfer.estimate_uptake_hours(**pile(cover=vapour.COVER_AS_AIR))
    assert bare.value < film.value < cover.value
    assert "cover" in cover.assumption


def test_a_cover_counts_as_the_air_that_equals_it():
    """Resistances in series: 10.6 mm of air is the film of 2.5 mm/s at 22 °C over again."""
    as_air = vapour.air_diffusivity(temperature=ROOM) / Q_(2.5, "mm/s")
    half = transfer.estimate_uptake_hours(**pile(film=Q_(1.25, "mm/s")))
    same = transfer.estimate_uptake_hours(**pile(cover=as_air))
    assert same.value.m == pytest.approx(half.value.m, rel=1e-6)


def test_the_interval_covers_the_ratio_and_widens_with_more_doubt():
    ratio = transfer.estimate_uptake_hours(**pile(transport_ratio=RATIO))
    both = transfer.estimate_uptake_hours(
        **pile(transport_ratio=RATIO, thickness=Range(Q_(4.4, "mm"), Q_(4.2, "mm"), Q_(4.6, "mm")))
    )
    alone = transfer.estimate_uptake_hours(**pile(transport_ratio=RATIO.low))
    assert ratio.high.m == pytest.approx(alone.value.m)
    assert both.low < ratio.low < ratio.value < ratio.high < both.high


def test_units_do_not_matter():
    thou = transfer.estimate_uptake_hours(
        **pile(thickness=Q_(4.4 / 0.0254, "thou"), temperature=Q_(71.6, "degF"))
    )
    assert thou.value.m == pytest.approx(transfer.estimate_uptake_hours(**pile()).value.m)


def test_after_the_hours_to_a_fraction_that_fraction_is_reached():
    for slope in (Q_(0.3, ""), slope_of("pulp")):
        hours = transfer.estimate_uptake_hours(**pile(isotherm_slope=slope, fraction=Q_(80, "percent")))
        after = transfer.estimate_uptake_after(hours=hours.value, **pile(isotherm_slope=slope))
        assert after.mean.value.m == pytest.approx(0.8, abs=1e-6)


def test_core_hours_and_core_after_agree():
    slope = slope_of("newsprint")
    hours = transfer.estimate_uptake_hours(**pile(isotherm_slope=slope, fraction=Q_(0.7, ""), place="core"))
    after = transfer.estimate_uptake_after(hours=hours.value, **pile(isotherm_slope=slope))
    assert after.core.value.m == pytest.approx(0.7, abs=1e-6)
    assert after.mean.value > after.core.value


def test_uptake_stays_between_nothing_and_all():
    for hours in (0, 0.1, 5, 24, 900):
        after = transfer.estimate_uptake_after(hours=Q_(hours, "hour"), **pile(transport_ratio=RATIO))
        for share in (after.mean, after.core):
            assert 0 <= share.low.m <= share.value.m <= share.high.m <= 1


def test_the_profile_holds_what_was_taken_up():
    for faces in ("both", "one"):
        depth, share = transfer.uptake_profile(hours=Q_(10, "hour"), points=401, **pile(faces=faces))
        after = transfer.estimate_uptake_after(hours=Q_(10, "hour"), **pile(faces=faces))
        mean = np.trapezoid(share.m, depth.m) / depth.m[-1]
        assert mean == pytest.approx(after.mean.value.m, abs=1e-4)
        assert share.m.min() == pytest.approx(after.core.value.m, abs=1e-9)
        assert depth.to("mm").m[-1] == pytest.approx(4.4)


# --- against the full isotherm -------------------------------------------------------------------


def test_the_reference_solution_is_right_for_a_straight_isotherm():
    """40 cells against the exact series: within 0.3 % of the time to 90 %."""
    numeric = take_up(lambda humidity: 0.3 * humidity, ratio=0.02, path=2.2e-3, until=80.0)
    exact = transfer.estimate_uptake_hours(**pile())
    assert numeric.hours_to(0.9) == pytest.approx(exact.value.m, rel=3e-3)


CASES = [
    (name, ratio, path, cover)
    for name in ISOTHERMS
    for ratio, path, cover in [
        (0.01, 2.2, 0),
        (0.02, 2.2, 0),
        (0.02, 4.4, 0),
        (0.05, 2.2, 20),
        (0.05, 0.8, 0),
    ]
]


@pytest.mark.parametrize(("name", "ratio", "path", "cover"), CASES)
def test_estimates_agree_with_the_full_isotherm(name, ratio, path, cover):
    """The bands that the docstrings state: times 15 % (25 % at 0.3), mean 0.04, core 0.16 or 0.10."""
    exact = take_up(ISOTHERMS[name], ratio=ratio, path=path * 1e-3, cover=cover * 1e-3)
    inputs = pile(
        thickness=Q_(2 * path, "mm"),
        transport_ratio=Q_(ratio, ""),
        isotherm_slope=slope_of(name),
        cover=Q_(cover, "mm"),
    )
    for fraction, band in ((0.3, 0.25), (0.5, 0.15), (0.7, 0.15), (0.9, 0.15), (0.95, 0.15)):
        hours = transfer.estimate_uptake_hours(fraction=Q_(fraction, ""), **inputs)
        assert hours.value.m == pytest.approx(exact.hours_to(fraction), rel=band)
        assert hours.low.m < exact.hours_to(fraction) < hours.high.m
    after = transfer.estimate_uptake_after(hours=Q_(24, "hour"), **inputs)
    assert after.mean.value.m == pytest.approx(exact.mean_after(24), abs=0.04)
    first, last = (float(ISOTHERMS[name](humidity)) for humidity in (0.5, 0.98))
    core = (float(ISOTHERMS[name](exact.core_after(24))) - first) / (last - first)
    assert after.core.value.m == pytest.approx(core, abs=0.10 if after.mean.value.m > 0.6 else 0.16)


# Core humidity, share taken up after 24 h and hours to 95 % for 50 to 98 % RH, 22 °C, 4.4 mm, density
# 600, film 2.5 mm/s: a nonlinear calculation made apart from this code (not a citation), two digits.
TABLE = [
    ("newsprint", 0.01, "both", 0.80, 54),
    ("writing paper", 0.01, "both", 0.73, 71),
    ("pulp", 0.01, "both", 0.56, None),
    ("newsprint", 0.02, "both", 0.92, 30),
    ("writing paper", 0.02, "both", 0.87, 40),
    ("pulp", 0.02, "both", 0.69, 113),
    ("newsprint", 0.02, "one", 0.62, None),
    ("writing paper", 0.02, "one", 0.55, None),
    ("pulp", 0.02, "one", 0.41, None),
    ("newsprint", 0.05, "both", 0.99, 16),
    ("writing paper", 0.05, "both", 0.97, 21),
    ("pulp", 0.05, "both", 0.82, 59),
    ("newsprint", 0.10, "both", 1.00, 11),
    ("writing paper", 0.10, "both", 0.99, 15),
    ("pulp", 0.10, "both", 0.88, 42),
]


@pytest.mark.parametrize(("name", "ratio", "faces", "uptake", "hours"), TABLE)
def test_the_day_at_98_percent(name, ratio, faces, uptake, hours):
    inputs = pile(transport_ratio=Q_(ratio, ""), isotherm_slope=slope_of(name), faces=faces)
    after = transfer.estimate_uptake_after(hours=Q_(24, "hour"), **inputs)
    assert after.mean.value.m == pytest.approx(uptake, abs=0.04)
    if hours is not None:
        found = transfer.estimate_uptake_hours(fraction=Q_(95, "percent"), **inputs)
        assert found.value.m == pytest.approx(hours, rel=0.15)


# --- refusals ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "error", "words"),
    [
        ({"thickness": 4.4}, UnitMismatch, "bare number 4.4"),
        ({"thickness": Q_(-1, "mm")}, BadValue, "thickness is -0.001 m"),
        ({"thickness": Q_(4.4, "m")}, BadValue, "thickness is 4.4 m"),
        ({"thickness": Q_(4.4, "g")}, UnitMismatch, "thickness is 4.4 g"),
        ({"transport_ratio": Q_(2, "")}, BadValue, "transport ratio is 2"),
        ({"density": Q_(0.6, "kg/m^3")}, BadValue, "density is 0.6"),
        ({"isotherm_slope": Q_(0, "")}, BadValue, "isotherm slope is 0"),
        ({"temperature": Q_(-5, "degC")}, OutOfRange, "temperature is -5 °C"),
        ({"faces": "top"}, BadValue, "open faces is 'top'; allowed is both or one"),
        ({"fraction": Q_(100, "percent")}, BadValue, "fraction is 1; allowed is more than 0 and less than 1"),
        ({"film": Q_(0, "mm/s")}, BadValue, "vapour film is 0"),
        ({"cover": Q_(-1, "mm")}, BadValue, "cover as air is -0.001"),
        ({"place": "edge"}, BadValue, "place is 'edge'"),
    ],
)
def test_bad_input_is_named(change, error, words):
    with pytest.raises(error, match=words):
        transfer.estimate_uptake_hours(**pile(**change))


def test_hours_that_make_no_sense_are_refused():
    with pytest.raises(BadValue, match="hours is -3600 s"):
        transfer.estimate_uptake_after(hours=Q_(-1, "hour"), **pile())


def test_no_estimate_is_ever_not_a_number():
    hours = transfer.estimate_uptake_hours(**pile(transport_ratio=RATIO, fraction=Q_(0.999, "")))
    assert all(math.isfinite(q.m) for q in (hours.value, hours.low, hours.high))
