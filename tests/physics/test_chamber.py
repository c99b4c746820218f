"""The chamber as a whole, against the estimates without a source, exact limits and conservation."""

from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue
from bench.physics import saturation
from bench.physics.chamber import (
    FANNED_FILM,
    Chamber,
    doubts_about_hours,
    follow_uptake,
    hours_to_share,
    most_likely,
)
from bench.physics.ranges import Range
from bench.physics.transfer import estimate_uptake_after, estimate_uptake_hours
from bench.physics.vapour import COVER_AS_AIR, STILL_AIR_FILM, absorption_slope
from bench.units import Q_
from tests.physics.full_isotherm import ISOTHERMS, take_up

NEWSPRINT = ISOTHERMS["newsprint"]


def bent_slope(start=0.5, end=0.975):
    return absorption_slope(
        start_humidity=Q_(start, ""),
        start_moisture=Q_(float(NEWSPRINT(start)), ""),
        end_humidity=Q_(end, ""),
        end_moisture=Q_(float(NEWSPRINT(end)), ""),
        end_slope=Q_(float(NEWSPRINT(end) - NEWSPRINT(end - 0.002)) / 0.002, ""),
    )


def chamber(**changes):
    """A closed item of 4.4 mm on a rack over a tray of 0.1 m2."""
    facts = {
        "thickness": Q_(4.4, "mm"),
        "item_area": Q_(0.0432, "m^2"),
        "transport_ratio": Range(Q_(0.03, ""), Q_(0.01, ""), Q_(0.1, "")),
        "density": Q_(600, "kg/m^3"),
        "isotherm_slope": bent_slope(),
        "temperature": Q_(22, "degC"),
        "start_humidity": Q_(50, "percent"),
        "source_humidity": Q_(97.5, "percent"),
        "source_area": Q_(0.1, "m^2"),
    }
    return Chamber(**{**facts, **changes})


def exchange(given):
    """The same inputs for the estimates that take the humidity of the air as held."""
    names = ("thickness", "transport_ratio", "density", "isotherm_slope", "temperature", "faces")
    return {name: getattr(given, name) for name in names} | {"film": given.film, "cover": given.cover}


@pytest.mark.parametrize("faces", ["both", "one"])
@pytest.mark.parametrize("cover", [None, COVER_AS_AIR])
def test_with_the_air_held_it_agrees_with_the_estimates_of_uptake(faces, cover):
    """Two ways to the same series: times within 2 %, shares within 0.01, intervals too."""
    held = chamber(source_area=None, faces=faces, cover=cover)
    for share, place in ((0.5, "mean"), (0.9, "core")):
        ours = hours_to_share(held, share, place=place)
        theirs = estimate_uptake_hours(**exchange(held), fraction=Q_(share, ""), place=place)
        for end in ("value", "low", "high"):
            ratio = getattr(ours, end) / getattr(theirs, end)
            assert ratio.to("").magnitude == pytest.approx(1.0, abs=0.02)
    run = follow_uptake(held, Q_([24.0], "hour"))
    day = estimate_uptake_after(hours=Q_(24, "hour"), **exchange(held))
    assert run.mean.value[0] == pytest.approx(day.mean.value.magnitude, abs=0.01)
    assert run.core.value[0] == pytest.approx(day.core.value.magnitude, abs=0.01)


@pytest.mark.parametrize("area", [0.02, 0.1])
def test_mean_agrees_with_the_full_isotherm_behind_both_films(area):
    """An independent solution by finite volumes, with source and item film as one: within 0.05."""
    given = chamber(source_area=Q_(area, "m^2"), transport_ratio=Q_(0.03, ""))
    joined = 2.5e-3 / (1 + 2 * 0.0432 / area)
    full = take_up(NEWSPRINT, ratio=0.03, path=2.2e-3, end=0.975, film=joined, until=300.0)
    for hours in (4.0, 12.0, 24.0):
        mean, _ = most_likely(given, Q_(hours, "hour"))
        assert mean[0] == pytest.approx(full.mean_after(hours), abs=0.05)


def test_the_source_gives_what_the_item_takes():
    """Conservation: the flow over the film of the source, summed, is the water taken up (5 %)."""
    given = chamber(transport_ratio=Q_(0.03, ""))
    hours = np.geomspace(0.01, 60, 400)
    run = follow_uptake(given, Q_(hours, "hour"))
    density = saturation.pressure_pa(22.0) / (saturation.VAPOUR_CONSTANT * 295.15)
    flow = 2.5e-3 * 0.1 * density * (0.975 - run.air.value)  # kg/s
    given_off = float(np.trapezoid(flow, hours * 3600)) * 1000
    water = 0.0432 * 4.4e-3 * 600 * 1000 * float(NEWSPRINT(0.975) - NEWSPRINT(0.5))
    taken = water * float(run.mean.value[-1] - run.mean.value[0])
    assert given_off == pytest.approx(taken, rel=0.05)


def test_at_first_equal_films_share_the_whole_fall():
    """By hand: source and item of equal area, no cover, straight isotherm: the air begins half way."""
    given = chamber(
        source_area=Q_(2 * 0.0432, "m^2"), isotherm_slope=Q_(0.2, ""), transport_ratio=Q_(0.03, "")
    )
    air = follow_uptake(given, Q_([2e-5], "hour")).air.value[0]
    assert air == pytest.approx((0.975 + 0.5) / 2, abs=0.01)


def test_a_large_source_holds_the_air():
    large = follow_uptake(chamber(source_area=Q_(10, "m^2")), Q_([1.0, 24.0], "hour"))
    assert large.air.value == pytest.approx([0.975, 0.975], abs=0.003)
    held = follow_uptake(chamber(source_area=None), Q_([1.0, 24.0], "hour"))
    assert large.mean.value == pytest.approx(held.mean.value, abs=0.01)


def test_the_air_lies_between_item_and_source_and_its_interval_too():
    for area in (0.001, 0.02, 0.1, 1.0):
        air = follow_uptake(chamber(source_area=Q_(area, "m^2")), Q_([0.1, 1.0, 24.0], "hour")).air
        assert (air.low >= 0.5).all()
        assert (air.low <= air.value).all()
        assert (air.value <= air.high).all()
        assert (air.high <= 0.975).all()


def test_time_goes_with_thickness_squared_without_films():
    """Exact limit of the plane sheet: twice as thick, four times as long; one face as twice as thick."""
    fast = chamber(source_area=None, film=Q_(0.1, "m/s"), transport_ratio=Q_(0.002, ""))
    once = hours_to_share(fast, 0.9).value
    twice = hours_to_share(replace(fast, thickness=Q_(8.8, "mm")), 0.9).value
    single = hours_to_share(replace(fast, faces="one"), 0.9).value
    assert (twice / once).to("").magnitude == pytest.approx(4.0, rel=0.01)
    assert (single / once).to("").magnitude == pytest.approx(4.0, rel=0.01)


def test_shares_rise_with_time_and_intervals_hold_them():
    run = follow_uptake(chamber(cover=COVER_AS_AIR), Q_(np.linspace(0.1, 30, 40), "hour"))
    for band in (run.mean, run.core):
        assert (np.diff(band.value) > 0).all()
        assert (band.low <= band.value).all()
        assert (band.value <= band.high).all()
        assert band.low.min() >= 0
        assert band.high.max() <= 1
    assert (run.core.value <= run.mean.value + 1e-9).all()


def test_hindrances_and_doubts_are_whole():
    given = chamber(cover=COVER_AS_AIR)
    assert sum(follow_uptake(given, Q_([1.0], "hour")).resistances.values()) == pytest.approx(1.0)
    doubts = doubts_about_hours(given, 0.8, place="core")
    assert sum(doubts.values()) == pytest.approx(1.0)
    assert next(iter(doubts)) == "how easily vapour passes through the pile"
    assert doubts_about_hours(replace(given, film=Q_(2, "mm/s"), cover=None), 0.8)


def test_a_fan_quickens_the_films_fourfold():
    """By Lewis from 10 W/(m2 K) against 2 to 3 in still air; order of magnitude."""
    ratio = (FANNED_FILM.value / STILL_AIR_FILM.value).to("").magnitude
    assert 3 < ratio < 5


def test_units_do_not_matter():
    metric = hours_to_share(chamber(), 0.8).value.to("s").magnitude
    inches = chamber(
        thickness=Q_(4.4 / 25.4, "inch"), item_area=Q_(432, "cm^2"), temperature=Q_(71.6, "degF")
    )
    assert hours_to_share(inches, 0.8).value.to("s").magnitude == pytest.approx(metric, rel=1e-6)


def test_what_cannot_be_is_refused():
    with pytest.raises(
        BadValue, match="humidity at the start is 98 %; allowed is below the 98 % of the source"
    ):
        chamber(start_humidity=Q_(98, "percent"))
    with pytest.raises(BadValue, match="open faces is 'none'"):
        chamber(faces="none")
    with pytest.raises(BadValue, match="hours is"):
        follow_uptake(chamber(), Q_([0.0], "hour"))
    with pytest.raises(BadValue, match="share of the uptake is 1"):
        hours_to_share(chamber(), 1.0)
    with pytest.raises(BadValue, match="lost decimal point"):
        chamber(source_humidity=Q_(5500, "percent"))
