"""Handbook beams as limits of the contact solver.

Sources: [hetenyi1946] (functions from memory, table calculated from them), and the plate over a step
derived here from Hetényi's functions.
"""

import numpy as np
import pytest

from bench.physics.bearing.checks import sinking
from bench.physics.bearing.laws import Bed, Law, linear_bed
from bench.physics.bearing.plates import section_plate, shares
from bench.physics.bearing.solve import Chain, rigid_height, solve_chain
from tests.oracles.whole_face import face_plate

# x, A, B, C, D of Hetényi's functions, four digits, calculated: parts of pi are no rows of a printed table.
TABLE = [
    (0.1, 0.9907, 0.0903, 0.8100, 0.9003),
    (0.5, 0.8231, 0.2908, 0.2415, 0.5323),
    (np.pi / 4, 0.6448, 0.3224, 0.0, 0.3224),
    (1.0, 0.5083, 0.3096, -0.1108, 0.1988),
    (np.pi / 2, 0.2079, 0.2079, -0.2079, 0.0),
    (2.0, 0.0667, 0.1231, -0.1794, -0.0563),
    (3 * np.pi / 4, 0.0, 0.0670, -0.1340, -0.0670),
    (3.0, -0.0423, 0.0070, -0.0563, -0.0493),
    (np.pi, -0.0432, 0.0, -0.0432, -0.0432),
]
BETA, STIFFNESS = 1.0, 4.0e6  # so that 4 EI beta^4 = k with EI = 1e6
BENDING = STIFFNESS / (4 * BETA**4)


def long_beam(step=0.01, half=12.0):
    return np.linspace(-half, half, round(2 * half / step) + 1)


@pytest.fixture(scope="module")
def under_a_point():
    places = long_beam()
    sunk = sinking(places, STIFFNESS, BENDING, len(places) // 2, 1e5, mean=2e5)
    return places, sunk / (1e5 * BETA / (2 * STIFFNESS))


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]:.3f}")
def test_sinking_under_a_point_load_is_function_a(row, under_a_point):
    """Calculated to four digits: half a unit in the last, and as much for the grid."""
    places, ratio = under_a_point
    assert np.interp(row[0], places, ratio) == pytest.approx(row[1], abs=1e-4)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]:.3f}")
def test_slope_and_moment_are_functions_b_and_c(row, under_a_point):
    """With y = A: y' = -2 beta B and y'' = -2 beta^2 C."""
    places, ratio = under_a_point
    slope = np.gradient(ratio, places)
    assert -np.interp(row[0], places, slope) / 2 == pytest.approx(row[2], abs=2e-4)
    bent = np.gradient(slope, places)
    assert -np.interp(row[0], places, bent) / 2 == pytest.approx(row[3], abs=4e-4)


@pytest.fixture(scope="module")
def under_an_end_load():
    places = np.linspace(0, 14, 1401)
    sunk = sinking(places, STIFFNESS, BENDING, 0, 1e5, mean=1e5)
    return places, sunk / (2 * 1e5 * BETA / STIFFNESS)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row[0]:.3f}")
def test_sinking_under_an_end_load_is_function_d(row, under_an_end_load):
    """Semi-infinite beam, load at the free end: y = 2 P beta / k D."""
    places, ratio = under_an_end_load
    assert np.interp(row[0], places, ratio) == pytest.approx(row[4], abs=1e-4)


def over_a_step(step, rise=1e-4, stiffness=1e9, bending=0.3, mean=1.2e5):
    """A thin board over a bed with a step at zero, even load; pressures."""
    places = np.linspace(-0.15, 0.15, round(0.3 / step) + 1)
    share = shares(places)
    height = np.where(places > 0, rise, 0.0)
    height[np.abs(places) < 1e-9] = rise / 2
    bed = linear_bed(height, np.full_like(places, stiffness))
    chain = Chain(share, (bed,), (section_plate(places, bending),), (share * mean,))
    return places, solve_chain(chain).pressures[0]


def test_a_board_over_a_step():
    """p = q ± (k s / 2) e^-bx cos bx: derived from Hetényi's functions for equal halves."""
    places, pressure = over_a_step(2.5e-4)
    beta = (1e9 / (4 * 0.3)) ** 0.25
    right = places > 1e-6
    wave = np.exp(-beta * places[right]) * np.cos(beta * places[right])
    assert pressure[right] == pytest.approx(1.2e5 + 0.5e5 * wave, abs=60)
    left = places < -1e-6
    wave = np.exp(beta * places[left]) * np.cos(beta * places[left])
    assert pressure[left] == pytest.approx(1.2e5 - 0.5e5 * wave, abs=60)


def test_first_zero_of_the_step_wave():
    """Where the excess first vanishes: x = pi / (2 beta)."""
    places, pressure = over_a_step(2.5e-4)
    beta = (1e9 / (4 * 0.3)) ** 0.25
    excess = pressure - 1.2e5
    after = places > 1e-6
    crossing = places[after][np.argmax(excess[after] < 0)]
    assert crossing == pytest.approx(np.pi / (2 * beta), abs=3e-4)


@pytest.mark.parametrize(("mean", "opens"), [(5.1e4, False), (4.6e4, True)])
def test_the_board_lifts_off_when_the_step_is_twice_the_mean_load(mean, opens):
    """Lift-off beside the step for k s > 2 q, here 1e5 against 2 q; the next node is beside the step."""
    _, pressure = over_a_step(2.5e-4, mean=mean)
    assert bool(pressure.min() == 0) is opens


def pile(height, k1=5e3, k2=60.0):
    return Bed(Law.PFEIFFER, np.asarray(height), np.full_like(height, k1), np.asarray(height) / k2)


def stepped():
    places = np.linspace(0, 0.168, 113)
    return places, shares(places), pile(np.where(places < 0.012, 0.00245, 0.0026))


def test_a_stiff_board_is_a_rigid_platen():
    """Exact limit: pressure of a rigid flat face on the bare bed; a level platen keeps the board level."""
    places, share, bed = stepped()
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1e13))
    balance = solve_chain(Chain(share, (bed, boards), (section_plate(places, 1e4),)), load=672.0)
    level = rigid_height(bed, share, 672.0)
    assert balance.heights[0] == pytest.approx(np.full_like(places, level), abs=2e-9)
    assert balance.pressures[0] == pytest.approx(bed.at(bed.height - level)[0], rel=1e-3)


def test_a_limp_board_under_even_load_hands_it_on_where_it_stands():
    """Exact limit: without bending stiffness the pressure is the load, whatever the height."""
    places, share, bed = stepped()
    chain = Chain(share, (bed,), (section_plate(places, 1e-9),), (share * 4000.0,))
    assert solve_chain(chain).pressures[0] == pytest.approx(np.full_like(places, 4000.0), rel=2e-3)


def test_a_wire_is_pressed_the_same_from_either_side():
    """Mirror symmetry: an item turned round gives the turned pressure."""
    places, share, bed = stepped()
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1e10))
    plate = section_plate(places, 0.1)
    one = solve_chain(Chain(share, (bed, boards), (plate,)), load=672.0).pressures[0]
    turned = pile(bed.height[::-1].copy())
    other = solve_chain(Chain(share, (turned, boards), (plate,)), load=672.0).pressures[0]
    assert other[::-1] == pytest.approx(one, abs=1e-4)


def test_upper_and_lower_pack_alike_leave_the_middle_flat():
    """Both halves solved together, without assuming it, give the half that is solved for speed."""
    places, share, bed = stepped()
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1e10))
    plate = section_plate(places, 0.1)
    half = solve_chain(Chain(share, (bed, boards), (plate,)), load=672.0)
    whole = Bed(bed.law, 2 * bed.height, bed.first, 2 * bed.second)
    both = solve_chain(Chain(share, (boards, whole, boards), (plate, plate)), load=672.0)
    assert both.pressures[1] == pytest.approx(half.pressures[0], rel=1e-6, abs=1e-3)
    assert both.platen == pytest.approx(2 * half.platen, abs=1e-10)


def test_an_aluminium_plate_over_boards_is_nearly_one_plate_of_their_sum():
    """Two plates with the boards' give between, against one plate whose stiffness is the sum."""
    places, share, bed = stepped()
    between = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1.4e10))
    metal, board = section_plate(places, 209.0), section_plate(places, 0.116)
    load = share * 4000.0
    two = solve_chain(Chain(share, (bed, between), (board, metal), (0 * share, load)))
    one = solve_chain(Chain(share, (bed,), (section_plate(places, 209.116),), (load,)))
    assert two.pressures[0] == pytest.approx(one.pressures[0], abs=0.12 * 4000)
    assert two.unbalance < 1e-9


def test_a_face_bent_one_way_is_a_section():
    """A profile that does not change from head to tail gives the pressure of the section on every strip."""
    places = np.linspace(0, 0.168, 57)
    down = np.array([0.0, 0.03, 0.09, 0.16, 0.257])
    bed = pile(np.where(places < 0.012, 0.00262, 0.0026))
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, 1e10))
    one = solve_chain(Chain(shares(places), (bed, boards), (section_plate(places, 0.1),)), load=672.0)
    wide = pile(np.repeat(bed.height, len(down)))
    share = np.outer(shares(places), shares(down)).ravel()
    packs = linear_bed(np.full_like(share, 1e-3), np.full_like(share, 1e10))
    face = solve_chain(Chain(share, (wide, packs), (face_plate(places, down, 0.1),)), load=672.0 * 0.257)
    found = face.pressures[0].reshape(len(places), len(down))
    assert found == pytest.approx(np.repeat(one.pressures[0][:, None], len(down), axis=1), rel=1e-5, abs=0.5)


def test_a_twisted_plate_stores_what_the_textbook_says():
    """w = a x y has the energy D a^2 per area (Poisson's ratio zero): plate theory, no bending at all."""
    across, down = np.array([0.0, 0.01, 0.03, 0.06, 0.1]), np.array([0.0, 0.02, 0.05, 0.11])
    plate = face_plate(across, down, 2.0)
    x, y = (grid.ravel() for grid in np.meshgrid(across, down, indexing="ij"))
    shape = 3.0 * x * y
    assert 0.5 * shape @ plate.forces(shape) == pytest.approx(2.0 * 9.0 * 0.1 * 0.11, rel=1e-9)
