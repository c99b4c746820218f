"""Moisture alone, held against exact solutions and against a calculation made apart from this code.

The plane sheet at printed precision is among the checks of the appendix.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.physics import saturation
from bench.physics.isotherms import isotherm_of
from bench.physics.transient.slabs import STRAIGHT, damp_air, make_slices, run
from bench.physics.vapour import air_permeability
from tests.oracles import full_isotherm, plane_sheet

# Incropera, table 5.1 (plane wall, first term), from memory: Biot number, root, amplitude.
ONE_TERM = [(0.1, 0.3111, 1.0161), (1.0, 0.8603, 1.1191), (10.0, 1.4289, 1.2620)]


def left_of(cells, fourier, biot=math.inf, tolerance=1e-6):
    """What is left of a step from 40 to 60 % at the centre and in the mean, isothermal, straight isotherm."""
    slices = make_slices(cells, isothermal=True)
    half, ratio, density = 2.2e-3, 0.03, 600.0
    permeability = ratio * air_permeability(23.0)
    storage = density * STRAIGHT.slope / saturation.pressure_pa(23.0)
    film = math.inf
    if math.isfinite(biot):  # 1/resistance of the film over permeability/half
        film = biot * permeability / half * 461.523 * 296.15
    outside = damp_air(slices, 0.6, film=film)
    seconds = fourier * half**2 * storage / permeability
    _, end, _ = run(slices, outside, 0.4 * STRAIGHT.slope, 23.0, seconds, tolerance=tolerance)
    left = (0.6 * STRAIGHT.slope - end[0::2]) / (0.2 * STRAIGHT.slope)
    middle = cells // 2  # an even number: the centre lies between two cells, and the profile is flat there
    centre = (9 * left[middle] - left[middle + 1]) / 8
    return centre, left.mean()


@pytest.mark.parametrize("biot", [0.1, 1.0, 10.0])
@pytest.mark.parametrize("fourier", [0.05, 0.3, 1.0])
def test_the_sheet_behind_a_film(fourier, biot):
    """The whole series of the plane wall with a film (Incropera, chapter 5), forty terms; 100 cells."""
    centre, mean = left_of(100, fourier, biot)
    assert centre == pytest.approx(1 - plane_sheet.centre_uptake(fourier, biot), abs=1.2e-4)
    assert mean == pytest.approx(1 - plane_sheet.mean_uptake(fourier, biot), abs=1.2e-4)


@pytest.mark.parametrize(("biot", "root", "amplitude"), ONE_TERM)
def test_one_term_of_the_printed_table(biot, root, amplitude):
    """Valid for Fo above 0.2; the book prints four decimals, which makes 2e-4 of the centre."""
    centre, _ = left_of(100, 0.6, biot)
    assert centre == pytest.approx(amplitude * math.exp(-(root**2) * 0.6), abs=2e-4)


# A day at 98 % RH and 22 °C from 50 %, 4.4 mm, 600 kg/m3, film 2.5 mm/s: humidity of the core in %,
# share of the uptake, whole hours after which 95 % of it is reached.  Calculated apart from this code
# (finite volumes in another program), not a citation; None where the program stopped before.
DAY = [
    ("filled newsprint", 0.01, True, 0.0, 90, 0.80, 54),
    ("filled newsprint", 0.02, True, 0.0, 95, 0.92, 30),
    ("filled newsprint", 0.02, False, 0.0, 82, 0.62, None),
    ("filled newsprint", 0.05, True, 0.0, 98, 0.99, 16),
    ("filled newsprint", 0.05, True, 0.02, 96, 0.93, 27),
    ("filled newsprint", 0.10, True, 0.0, 98, 1.00, 11),
    ("writing paper", 0.01, True, 0.0, 87, 0.73, 71),
    ("writing paper", 0.02, True, 0.0, 93, 0.87, 40),
    ("writing paper", 0.02, False, 0.0, 77, 0.55, None),
    ("writing paper", 0.05, True, 0.0, 97, 0.97, 21),
    ("writing paper", 0.05, True, 0.02, 95, 0.88, 36),
    ("writing paper", 0.10, True, 0.0, 98, 0.99, 15),
    ("chemical pulp", 0.01, True, 0.0, 84, 0.56, None),
    ("chemical pulp", 0.02, True, 0.0, 91, 0.69, 113),
    ("chemical pulp", 0.02, False, 0.0, 73, 0.41, None),
    ("chemical pulp", 0.05, True, 0.0, 95, 0.82, 59),
    ("chemical pulp", 0.05, True, 0.02, 92, 0.69, 104),
    ("chemical pulp", 0.10, True, 0.0, 96, 0.88, 42),
]


@pytest.mark.parametrize("row", DAY, ids=lambda row: "-".join(str(part) for part in row[:4]))
def test_a_day_at_98_percent(row):
    """Within the rounding of the table: half a per cent, half a hundredth; the hours are the next whole."""
    name, ratio, both, cover, core, share, hours = row
    isotherm = isotherm_of(name)
    if name != "chemical pulp":
        isotherm = replace(isotherm, reference=22.0)  # that calculation had no temperature in it
    slices = make_slices(40, ratio=ratio, isotherm=isotherm, isothermal=True, celsius=22.0)
    outside = damp_air(slices, 0.98, film=2.5e-3, celsius=22.0, both=both, cover=cover)
    first, last = isotherm.content(0.5, 22.0), isotherm.content(0.98, 22.0)
    day = 24 if hours is None else 1.2 * max(24, hours)
    equations, _, track = run(slices, outside, first, 22.0, day * 3600, tolerance=1e-6)
    times = np.array(track.times) / 3600
    states = np.array(track.states)
    gained = (states[:, 0::2].mean(axis=1) - first) / (last - first)
    humidity = equations.climate(states)[1]
    middle = humidity[:, 20] if both else humidity[:, -1]
    assert np.interp(24, times, 100 * middle) == pytest.approx(core, abs=0.55)
    assert np.interp(24, times, gained) == pytest.approx(share, abs=0.0055)
    if hours is not None:
        assert hours - 1.05 <= np.interp(0.95, gained, times) <= hours + 0.05


def test_the_other_program_is_right_for_a_straight_isotherm():
    """40 cells against the exact series behind a film: within 0.3 % of the time to 90 %."""
    numeric = full_isotherm.take_up(lambda humidity: 0.3 * humidity, ratio=0.02, path=2.2e-3, until=80.0)
    delta, pressure = 0.02 * air_permeability(22.0), saturation.pressure_pa(22.0)
    biot = 2.2e-3 / delta * 2.5e-3 / (461.523 * 295.15)
    fourier = numeric.hours_to(0.9) * 3600 * delta * pressure / (600 * 0.3) / 2.2e-3**2
    low, high = (plane_sheet.mean_uptake(fourier * factor, biot) for factor in (0.997, 1.003))
    assert low < 0.9 < high


@pytest.mark.parametrize("name", ["filled newsprint", "writing paper", "pulp"])
def test_the_isothermal_case_solved_by_another_program(name):
    """Finite volumes with LSODA in tests/oracles/full_isotherm.py, content as state."""
    other = full_isotherm.take_up(full_isotherm.ISOTHERMS[name], ratio=0.03, path=2.2e-3, until=30)
    isotherm = isotherm_of("chemical pulp" if name == "pulp" else name)
    if name != "pulp":
        isotherm = replace(isotherm, reference=22.0)
    slices = make_slices(80, ratio=0.03, isotherm=isotherm, isothermal=True, celsius=22.0)
    outside = damp_air(slices, 0.98, film=2.5e-3, celsius=22.0)
    first, last = isotherm.content(0.5, 22.0), isotherm.content(0.98, 22.0)
    for hours in (3.0, 10.0, 24.0):
        equations, end, _ = run(slices, outside, first, 22.0, hours * 3600, tolerance=1e-5)
        mean = (end[0::2].mean() - first) / (last - first)
        assert mean == pytest.approx(other.mean_after(hours), abs=1e-3)
        assert equations.climate(end)[1][40] == pytest.approx(other.core_after(hours), abs=1.5e-3)


def test_time_grows_with_the_square_of_the_thickness():
    """With no film, twice as thick takes four times as long: exact for any isotherm."""
    isotherm = isotherm_of("filled newsprint")
    found = []
    for thickness, hours in ((4.4e-3, 6.0), (8.8e-3, 24.0)):
        slices = make_slices(60, thickness=thickness, isotherm=isotherm, isothermal=True)
        outside = damp_air(slices, 0.95, film=math.inf)
        first = isotherm.content(0.5, 23.0)
        found.append(run(slices, outside, first, 23.0, hours * 3600, tolerance=1e-5)[1][0::2])
    assert found[0] == pytest.approx(found[1], abs=2e-6)
