"""The plane sheet after a step at its surface, for heat and moisture alike."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import BadValue
from bench.physics import slab
from tests.oracles import plane_sheet

# Incropera, table 5.1 (plane wall, first term), from memory, four decimals; the last row is pi/2 and 4/pi.
INCROPERA_TABLE = [
    (0.01, 0.0998, 1.0017),
    (0.1, 0.3111, 1.0161),
    (0.3, 0.5218, 1.0450),
    (0.5, 0.6533, 1.0701),
    (1.0, 0.8603, 1.1191),
    (2.0, 1.0769, 1.1785),
    (5.0, 1.3138, 1.2402),
    (10.0, 1.4289, 1.2620),
    (100.0, 1.5552, 1.2731),
    (math.inf, 1.5708, 1.2732),
]

# The slab of Carslaw and Jaeger with a step at both faces: what is left at the centre and in the
# mean.  Calculated apart from this code, from the formula; not a citation.
LEFT = [
    (0.1, 0.94931, 0.64318),
    (0.2, 0.77231, 0.49591),
    (0.5, 0.37078, 0.23605),
    (1.0, 0.10798, 0.06874),
]

# Fourier numbers of the same series (calculated, not a citation), four digits.
TIMES = [
    (0.50, "mean", 0.1967),
    (0.90, "mean", 0.8481),
    (0.95, "mean", 1.129),
    (0.50, "core", 0.3787),
    (0.90, "core", 1.0311),
    (0.95, "core", 1.312),
]


@pytest.mark.parametrize(("biot", "root", "amplitude"), INCROPERA_TABLE)
def test_first_root_and_amplitude_agree_with_the_printed_table(biot, root, amplitude):
    roots, amplitudes = plane_sheet.first_roots(biot)
    first, size = roots[0], amplitudes[0]
    # Half a unit of the last digit; the book truncates here and there, so a whole one for C1.
    assert first == pytest.approx(root, abs=6e-5)
    assert size == pytest.approx(amplitude, abs=1e-4)


def test_the_printed_worked_example_of_a_steel_wall():
    """Incropera, steel pipeline wall (example 5.5 in one edition), from memory.

    L 40 mm, alpha 18.8e-6 m2/s, k 63.9, h 500, from -20 to 60 °C, 8 min: Bi 0.313, Fo 5.64,
    T(0) 42.9, T(L) 45.2 °C, heat -2.73e7 J/m for a circumference of pi m.  The book rounds the
    root, so 0.2 K; the printed heat to its last digit.
    """
    length, alpha, k, h, rho_c = 0.040, 18.8e-6, 63.9, 500.0, 7832.0 * 434.0
    biot, fourier = h * length / k, alpha * 480 / length**2
    assert (round(biot, 3), round(fourier, 2)) == (0.313, 5.64)
    inner = 60 - 80 * (1 - plane_sheet.local_uptake(fourier, 0.0, biot))
    outer = 60 - 80 * (1 - plane_sheet.local_uptake(fourier, 1.0, biot))
    assert inner == pytest.approx(42.9, abs=0.2)
    assert outer == pytest.approx(45.2, abs=0.2)
    heat = rho_c * math.pi * length * (-20 - 60) * plane_sheet.mean_uptake(fourier, biot)
    assert heat == pytest.approx(-2.73e7, abs=0.02e7)


def test_the_printed_worked_example_of_a_buried_pipe():
    """Incropera, burial depth (example 5.6 in one edition), from memory: 0.68 m.

    Soil 0.138e-6 m2/s, from 20 to -15 °C for 60 days, 0 °C wanted: a thick slab is a half-space.
    """
    thick = 10.0
    fourier = 0.138e-6 * 60 * 86400 / thick**2
    depth = np.linspace(0.3, 1.2, 901)
    wanted = 20 / 35  # share of the step at 0 °C
    share = plane_sheet.local_uptake(fourier, 1 - depth / thick)
    assert np.interp(-wanted, -share, depth) == pytest.approx(0.68, abs=0.005)


@pytest.mark.parametrize(("fourier", "centre", "mean"), LEFT)
def test_slab_series(fourier, centre, mean):
    assert 1 - plane_sheet.centre_uptake(fourier) == pytest.approx(centre, abs=5.1e-6)
    assert 1 - plane_sheet.mean_uptake(fourier) == pytest.approx(mean, abs=5.1e-6)


@pytest.mark.parametrize(("fraction", "place", "fourier"), TIMES)
def test_fraction_after_a_time(fraction, place, fourier):
    """Half a unit of the last digit of the time is 2e-4 of the fraction or less."""
    reached = plane_sheet.mean_uptake if place == "mean" else plane_sheet.centre_uptake
    assert reached(fourier) == pytest.approx(fraction, abs=2e-4)


def test_early_uptake_goes_with_the_root_of_time():
    """Exact limit of the half-space: 2 sqrt(Fo/pi)."""
    assert plane_sheet.mean_uptake(1e-4) == pytest.approx(2 * math.sqrt(1e-4 / math.pi), rel=1e-12)


def test_a_thin_film_limited_sheet_is_one_lump():
    """Exact limit of a small Biot number: 1 - exp(-Bi Fo), to first order in Bi."""
    biot = 1e-4
    assert plane_sheet.mean_uptake(5e3, biot) == pytest.approx(1 - math.exp(-0.5), rel=biot)


@pytest.mark.parametrize("biot", [0.01, 0.5, 10.0, 1e4, math.inf])
@pytest.mark.parametrize("place", [0.0, 0.7, 1.0])
def test_short_time_form_and_series_meet(biot, place):
    """Both sides of the switch at Fo = 0.01; the difference is that of 2e-9 in time."""
    below, above = 0.01 * (1 - 1e-9), 0.01 * (1 + 1e-9)
    assert plane_sheet.mean_uptake(below, biot) == pytest.approx(
        plane_sheet.mean_uptake(above, biot), rel=1e-7
    )
    assert plane_sheet.local_uptake(below, place, biot) == pytest.approx(
        plane_sheet.local_uptake(above, place, biot), rel=1e-7, abs=5e-11
    )


def test_a_film_so_thin_that_it_vanishes():
    assert plane_sheet.mean_uptake(0.3, 1e7) == pytest.approx(plane_sheet.mean_uptake(0.3), rel=1e-6)


@pytest.mark.parametrize("biot", [1e-3, 0.3])
def test_very_short_times_behind_a_film_keep_their_digits(biot):
    """Exact limit: the film alone decides, uptake = Bi Fo."""
    assert plane_sheet.mean_uptake(1e-9, biot) == pytest.approx(biot * 1e-9, rel=1e-4)


@pytest.mark.parametrize("biot", [0.2, 8.0, math.inf])
@pytest.mark.parametrize("fourier", [0.003, 0.05, 0.8])
def test_mean_is_the_mean_of_the_profile(biot, fourier):
    """Conservation: what the profile holds is what went in."""
    nodes, weights = np.polynomial.legendre.leggauss(200)
    profile = plane_sheet.local_uptake(fourier, (nodes + 1) / 2, biot)
    assert float(profile @ weights) / 2 == pytest.approx(plane_sheet.mean_uptake(fourier, biot), rel=1e-7)


@settings(max_examples=50)
@given(st.floats(1e-6, 5.0), st.floats(1.01, 3.0), st.floats(1e-3, 1e4))
def test_uptake_only_grows(fourier, longer, biot):
    assert 0 <= plane_sheet.mean_uptake(fourier, biot) <= plane_sheet.mean_uptake(longer * fourier, biot) <= 1
    assert plane_sheet.centre_uptake(fourier, biot) <= plane_sheet.mean_uptake(fourier, biot) + 1e-12


@pytest.mark.parametrize("fourier", [1e-6, 0.003, 0.05, 0.8, 3.0])
def test_the_sheet_of_the_bench_is_that_without_a_film(fourier):
    places = np.linspace(0, 1, 21)
    exact = plane_sheet.local_uptake(fourier, places)
    assert slab.local_uptake(fourier, places) == pytest.approx(exact, rel=1e-12, abs=1e-12)
    assert slab.local_uptake(fourier, 0.0) == pytest.approx(plane_sheet.centre_uptake(fourier), abs=1e-12)


def test_nothing_has_happened_at_the_start():
    assert plane_sheet.mean_uptake(0.0) == 0
    assert slab.local_uptake(0.0, 0.5) == 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: slab.local_uptake(-0.1, 0.5), "Fourier number is -0.1"),
        (lambda: slab.local_uptake(math.nan, 0.5), "Fourier number is nan"),
        (lambda: slab.local_uptake(0.1, 1.2), "place in the sheet is 1.2"),
    ],
)
def test_refusals(call, words):
    with pytest.raises(BadValue, match=words):
        call()
