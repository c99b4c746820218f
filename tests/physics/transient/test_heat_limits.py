"""Heat alone, held against printed examples and exact solutions."""

import math

import numpy as np
import pytest

from bench.physics.transient.equations import EVAPORATION, Outside
from bench.physics.transient.slabs import damp_air, heated, make_slices, run
from tests.oracles import plane_sheet

DRY = 0.0  # moisture content


def warm(slices, outside, start, seconds, tolerance=1e-6):
    equations, end, track = run(slices, outside, DRY, start, seconds, tolerance=tolerance, first_step=0.01)
    return equations.climate(end)[0], track


def test_the_worked_example_of_a_steel_wall():
    """Incropera, steel pipeline wall (example 5.5 in one edition), from memory.

    L 40 mm, k 63.9, rho c 7832 x 434, h 500, from -20 to 60 °C, 8 min: insulated side 42.9, wetted side
    45.2 °C, flux -7400 W/m2, heat -2.73e7 J/m for pi m around.  The book rounds the root, hence 0.2 K
    and 100 W/m2; one term exactly gives 43.02, 45.36, -7318, -2.725e7 (calculated).
    """
    slices = make_slices(80, thickness=0.040, conductivity=63.9, density=7832, specific=434, sealed=True)
    outside = heated(slices, 60.0, start=-20.0, film=500.0)
    celsius, track = warm(slices, outside, -20.0, 480.0)
    face = celsius[0] + (60.0 - celsius[0]) * slices.half_heat[0] * outside.heat[0]
    assert celsius[-1] == pytest.approx(42.9, abs=0.2)
    assert face == pytest.approx(45.2, abs=0.2)
    assert 500 * (face - 60.0) == pytest.approx(-7400, abs=100)
    assert -math.pi * track.crossed[1, 0] == pytest.approx(-2.73e7, abs=0.01e7)
    assert (celsius[-1], face) == pytest.approx((43.02, 45.36), abs=0.01)


def test_the_worked_example_of_a_buried_pipe():
    """Incropera, burial depth (example 5.6 in one edition), from memory: 0.68 m.

    Soil of 0.138e-6 m2/s from 20 to -15 °C at its face for 60 days: 0 °C is reached at 0.68 m.
    """
    density, specific = 2050.0, 1840.0
    slices = make_slices(
        400, thickness=8.0, conductivity=0.138e-6 * density * specific, density=density, specific=specific,
        sealed=True,
    )  # fmt: skip
    celsius, _ = warm(slices, heated(slices, -15.0, start=20.0), 20.0, 60 * 86400.0)
    depth = (np.arange(400) + 0.5) * 0.02
    assert np.interp(0.0, celsius, depth) == pytest.approx(0.68, abs=0.005)


# Incropera, table 5.1 (plane wall, first term), from memory: Biot number, root, amplitude.
ONE_TERM = [(0.1, 0.3111, 1.0161), (1.0, 0.8603, 1.1191), (5.0, 1.3138, 1.2402)]


@pytest.mark.parametrize(("biot", "root", "amplitude"), ONE_TERM)
def test_one_term_of_the_plane_wall(biot, root, amplitude):
    """At Fo 0.8 the second term is below 1e-4; the book prints four decimals, so 2e-4."""
    slices = make_slices(100, sealed=True)
    film = biot * 0.12 / 4.4e-3
    seconds = 0.8 * 4.4e-3**2 * 600 * 1500 / 0.12
    celsius, _ = warm(slices, heated(slices, 60.0, start=20.0, film=film), 20.0, seconds)
    far = (9 * celsius[-1] - celsius[-2]) / 8
    assert (60 - far) / 40 == pytest.approx(amplitude * math.exp(-(root**2) * 0.8), abs=2e-4)


# One face at the platen's temperature, the other insulated: seconds to 50, 90, 95 and 98 % of the step at
# the far face, k 0.12, 650 kg/m3, 1500 J/(kg K).  Calculated apart from this code, not a citation.
@pytest.mark.parametrize(
    ("thickness", "film", "shares", "seconds"),
    [
        (2.2e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (15, 41, 52, 66)),
        (4.4e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (60, 162, 206, 265)),
        (8.0e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (197, 536, 682, 875)),
        (4.4e-3, 200.0, (0.9, 0.95), (208, 265)),
        (8.0e-3, 200.0, (0.9, 0.95), (618, 787)),
    ],
)
def test_press_heating(thickness, film, shares, seconds):
    slices = make_slices(60, thickness=thickness, density=650, sealed=True)
    equations, _, track = run(
        slices, heated(slices, 60.0, start=20.0, film=film), DRY, 20.0, 1.1 * seconds[-1], first_step=0.01
    )
    risen = (equations.climate(np.array(track.states))[0][:, -1] - 20) / 40
    found = np.interp(shares, risen, track.times)
    assert found == pytest.approx(seconds, abs=0.6)


def test_the_whole_wall_series():
    slices = make_slices(100, sealed=True)
    for fourier in (0.1, 0.4, 1.0):
        seconds = fourier * 4.4e-3**2 * 600 * 1500 / 0.12
        celsius, track = warm(slices, heated(slices, 60.0, start=20.0), 20.0, seconds)
        place = 1 - (np.arange(100) + 0.5) / 100
        assert (celsius - 20) / 40 == pytest.approx(plane_sheet.local_uptake(fourier, place), abs=5e-5)
        taken = track.crossed[1, 0] / (600 * 4.4e-3 * 1500 * 40)
        assert taken == pytest.approx(plane_sheet.mean_uptake(fourier), abs=5e-5)


def test_the_steady_drop_over_two_layers():
    """Series resistances (Incropera, chapter 3): the drops share out as thickness over conductivity."""
    slices = make_slices(40, sealed=True)
    poor = slices.conductance.copy()
    poor[20:] /= 3
    poor[19] = 2 / (1 / slices.conductance[0] + 3 / slices.conductance[0])
    slices = type(slices)(**{**vars(slices), "conductance": poor})
    outside = Outside((0.0, 0.0), (1e9, 1e9), (60.0, 20.0))
    celsius, _ = warm(slices, outside, 20.0, 1e5)
    first, second = 19.5 / 40, 19.5 / 40 * 3  # from the middle of the outer cells to the joint
    joint = 60 - 40 * (first + 0.5 / 40) / (first + second + 0.5 / 40 + 1.5 / 40)
    found = celsius[19] - (celsius[19] - celsius[20]) / 4
    assert found == pytest.approx(joint, abs=1e-6)


def test_sorption_warms_a_sealed_slab_as_the_heat_of_evaporation_says():
    """No heat leaves: the rise is water times heat of evaporation over the heat capacity, damp."""
    slices = make_slices(20)
    air = damp_air(slices, 0.6, film=5e-3)
    outside = Outside(air.vapour, (0.0, 0.0), air.celsius, air_celsius=23.0, air_pressure=air.air_pressure)
    first = 0.08
    equations, end, track = run(slices, outside, first, 23.0, 1800.0)
    water = track.crossed[0].sum()
    celsius = equations.climate(end)[0]
    content = end[0::2]
    held = (slices.heat * (1 + slices.mass * 4180 * content / slices.heat) * (celsius - 23)).sum()
    # The vapour brings its own warmth, up to 0.4 % at a rise of some kelvins.
    assert celsius.mean() > 24
    assert held == pytest.approx(water * EVAPORATION, rel=5e-3)
