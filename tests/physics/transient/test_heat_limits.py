"""Heat alone, held against exact solutions; the printed examples are among the checks of the appendix."""

import numpy as np
import pytest

from bench.physics.transient.equations import EVAPORATION, Outside
from bench.physics.transient.slabs import damp_air, heated, make_slices, run
from tests.oracles import plane_sheet

DRY = 0.0  # moisture content


def warm(slices, outside, start, seconds, tolerance=1e-6):
    equations, end, track = run(slices, outside, DRY, start, seconds, tolerance=tolerance, first_step=0.01)
    return equations.climate(end)[0], track


def test_the_steel_wall_of_the_textbook_by_one_term():
    """Incropera, example 5.5 in one edition: 43.02 and 45.36 °C by one term exactly (calculated)."""
    slices = make_slices(80, thickness=0.040, conductivity=63.9, density=7832, specific=434, sealed=True)
    outside = heated(slices, 60.0, start=-20.0, film=500.0)
    celsius, _ = warm(slices, outside, -20.0, 480.0)
    face = celsius[0] + (60.0 - celsius[0]) * slices.half_heat[0] * outside.heat[0]
    assert (celsius[-1], face) == pytest.approx((43.02, 45.36), abs=0.01)


def test_a_thick_pile_under_a_platen_behind_its_contact():
    """Seconds to 90 and 95 % of the step at the far face, as a row more of the appendix's table.

    k 0.12, 650 kg/m3, 1500 J/(kg K).  Calculated apart from this code, not a citation.
    """
    slices = make_slices(60, thickness=8.0e-3, density=650, sealed=True)
    outside = heated(slices, 60.0, start=20.0, film=200.0)
    equations, _, track = run(slices, outside, DRY, 20.0, 870.0, first_step=0.01)
    risen = (equations.climate(np.array(track.states))[0][:, -1] - 20) / 40
    assert np.interp((0.9, 0.95), risen, track.times) == pytest.approx((618, 787), abs=0.6)


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
