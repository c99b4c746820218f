"""Contact that opens, nonlinear beds: balance, agreement with general solvers, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import OutOfRange
from bench.physics.bearing.batch import eliminate, solve_batch
from bench.physics.bearing.laws import Bed, Law, compress, linear_bed, press
from bench.physics.bearing.plates import section_plate, shares, times
from bench.physics.bearing.solve import Chain, solve_chain
from bench.physics.bearing.zones import Profile
from tests.oracles.whole_face import face_plate

# --- laws ------------------------------------------------------------------------------------------


# Pfeiffer's law worked out apart from this code, two digits of the strain in per cent (calculated, not a
# citation); its form is from memory.
@pytest.mark.parametrize(
    ("k1", "k2", "kilopascals", "percent"),
    [
        (5, 60, 2.3, 0.6),
        (5, 60, 10, 1.8),
        (5, 60, 50, 4.0),
        (5, 60, 100, 5.1),
        (1, 40, 2.3, 3.0),
        (1, 40, 10, 6.0),
        (1, 40, 50, 9.8),
        (1, 40, 100, 11.5),
    ],
)
def test_strain_of_a_pile(k1, k2, kilopascals, percent):
    strain = compress(Law.PFEIFFER, kilopascals * 1e3, k1 * 1e3, 1 / k2)
    assert 100 * strain == pytest.approx(percent, abs=0.051)


def test_a_small_load_meets_the_tangent():
    """Exact limit: P = K1 K2 strain."""
    assert compress(Law.PFEIFFER, 0.1, 5e3, 1 / 60) == pytest.approx(1e-4 / 300, rel=1e-4)


@settings(max_examples=30)
@given(st.floats(0, 450), st.floats(0.5, 50), st.floats(20, 200))
def test_pressure_is_the_inverse_of_strain(kilopascals, k1, k2):
    strain = compress(Law.PFEIFFER, kilopascals * 1e3, k1 * 1e3, 1 / k2)
    pressure, _ = press(Law.PFEIFFER, np.array([strain]), np.array([k1 * 1e3]), np.array([1 / k2]))
    assert pressure[0] == pytest.approx(kilopascals * 1e3, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("law", list(Law))
def test_a_tangent_is_the_slope_of_its_law_and_no_law_pulls(law):
    first, second = np.array([2e5]), np.array([2e-3])
    for c in (1e-5, 4e-5, 2e-4):
        low, high = (press(law, np.array([c + d]), first, second)[0][0] for d in (-1e-9, 1e-9))
        tangent = press(law, np.array([c]), first, second)[1][0]
        assert (high - low) / 2e-9 == pytest.approx(tangent, rel=1e-5)
    pressure, tangent = press(law, np.array([-1e-6, -1.0]), first.repeat(2), second.repeat(2))
    assert not pressure.any()
    assert not tangent.any()


# --- balance ---------------------------------------------------------------------------------------


def stack(height, *, k1=5e3, k2=60.0, give=1e10, bending=0.1):
    places = np.linspace(0, 0.168, len(height))
    height = np.asarray(height)
    bed = Bed(Law.PFEIFFER, height, np.full_like(height, k1), height / k2)
    boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, give))
    return Chain(shares(places), (bed, boards), (section_plate(places, bending),))


@settings(max_examples=60)
@given(
    st.lists(st.floats(2.2e-3, 2.8e-3), min_size=30, max_size=30),
    st.floats(500, 5e4),
    st.floats(-2, 2),
    st.floats(8.5, 11),
)
def test_every_bed_carries_the_load_to_a_billionth(height, mean, log_bending, log_give):
    """Conservation: what goes in at the platen comes out at the base; nothing is pulled."""
    chain = stack(height, bending=10**log_bending, give=10**log_give)
    load = mean * 0.168
    balance = solve_chain(chain, load=load)
    for pressure in balance.pressures:
        assert pressure.min() >= 0
        assert chain.share @ pressure == pytest.approx(load, rel=1e-9)
    assert balance.unbalance < 1e-9


def test_height_set_and_load_set_are_the_same_press():
    """Setting the height that a load came to gives the load back."""
    chain = stack(np.where(np.arange(85) < 6, 2.45e-3, 2.6e-3))
    by_load = solve_chain(chain, load=672.0)
    by_height = solve_chain(chain, height=by_load.platen)
    assert chain.share @ by_height.pressures[0] == pytest.approx(672.0, rel=1e-6)
    assert by_height.pressures[0] == pytest.approx(by_load.pressures[0], abs=1e-2)


def test_a_platen_set_too_high_touches_nothing():
    chain = stack(np.full(30, 2.6e-3))
    assert not solve_chain(chain, height=5e-3).pressures.any()


def test_moments_balance_too():
    """The pressure on both faces of the boards has one line of action, as no board is held."""
    chain = stack(np.where(np.arange(85) < 6, 2.7e-3, 2.6e-3))
    balance = solve_chain(chain, load=672.0)
    places = np.linspace(0, 0.168, 85)
    first, second = (chain.share * places @ pressure for pressure in balance.pressures)
    assert first == pytest.approx(second, rel=1e-8)


# --- against general solvers -----------------------------------------------------------------------


def test_a_small_contact_agrees_with_a_quadratic_program():
    """SciPy's SLSQP on the same convex program with linear inequalities: w free, c >= 0, c >= h - w."""
    from scipy.optimize import LinearConstraint, minimize

    count, stiffness, bending = 15, 2e9, 1.0
    places = np.linspace(0, 0.06, count)
    share, plate = shares(places), section_plate(places, bending)
    height = np.where(places < 0.02, 1.0e-4, 0.0)
    load = share * 4e4
    bed = linear_bed(height, np.full(count, stiffness))
    ours = solve_chain(Chain(share, (bed,), (plate,), (load,)))
    assert (ours.pressures[0] == 0).any(), "the case should open"
    matrix = np.column_stack([times(plate.bands, column) for column in np.eye(count)])
    unit = 1e-5  # metres per unit of the program, so that its numbers are near one

    def energy(x):
        w, c = x[:count] * unit, x[count:] * unit
        return 0.5 * w @ matrix @ w + 0.5 * stiffness * share @ c**2 + load @ w

    def slope(x):
        w, c = x[:count] * unit, x[count:] * unit
        return np.r_[matrix @ w + load, stiffness * share * c] * unit

    scale = 1 / energy(np.r_[np.full(count, 1.0), np.full(count, 5.0)])
    touch = LinearConstraint(np.hstack([np.eye(count), np.eye(count)]), height / unit, np.inf)
    found = minimize(
        lambda x: energy(x) * scale,
        np.r_[height / unit, np.full(count, 1.0)],
        jac=lambda x: slope(x) * scale,
        method="SLSQP",
        constraints=[touch],
        bounds=[(None, None)] * count + [(0, None)] * count,
        options={"maxiter": 2000, "ftol": 1e-16},
    )
    assert ours.heights[0] == pytest.approx(found.x[:count] * unit, abs=3e-8)
    assert ours.pressures[0] == pytest.approx(
        stiffness * found.x[count:] * unit, abs=2e-3 * ours.pressures.max()
    )


def test_a_nonlinear_contact_agrees_with_a_general_minimiser():
    """SciPy's trust-exact on the energy of Pfeiffer's law: K1 (L e^(c/L) - c)."""
    from scipy.optimize import minimize

    count, k1, bending = 15, 5e3, 0.02
    places = np.linspace(0, 0.06, count)
    share, plate = shares(places), section_plate(places, bending)
    height = np.where(places < 0.02, 2.75e-3, 2.6e-3)
    soft = height / 60
    load = share * 1e4
    bed = Bed(Law.PFEIFFER, height, np.full(count, k1), soft)
    ours = solve_chain(Chain(share, (bed,), (plate,), (load,)))
    matrix = np.column_stack([times(plate.bands, column) for column in np.eye(count)])
    unit = 1e-5

    def parts(x):
        w = 2.6e-3 + x * unit
        c = np.maximum(height - w, 0.0)
        return w, c, k1 * np.expm1(c / soft)

    def energy(x):
        w, c, _ = parts(x)
        return 0.5 * w @ matrix @ w + k1 * share @ (soft * np.expm1(c / soft) - c) + load @ w

    def slope(x):
        w, _, p = parts(x)
        return (matrix @ w - share * p + load) * unit

    def curve(x):
        _, c, p = parts(x)
        tangent = np.where(c > 0, (p + k1) / soft, 0.0)
        return (matrix + np.diag(share * tangent)) * unit**2

    found = minimize(
        energy, np.zeros(count), jac=slope, hess=curve, method="trust-exact", options={"gtol": 1e-12}
    )
    assert ours.heights[0] == pytest.approx(2.6e-3 + found.x * unit, abs=2e-9)


def test_the_elimination_is_the_one_of_lapack():
    """Library: scipy.linalg.solveh_banded on the same five-diagonal systems."""
    from scipy.linalg import solveh_banded

    rng = np.random.default_rng(3)
    count, samples = 12, 5
    main, near, far = (
        10 + rng.random((count, samples)),
        rng.random((count - 1, samples)),
        rng.random((count - 2, samples)),
    )
    right = rng.random((count, 2, samples))
    ours = eliminate(main.copy(), near.copy(), far.copy(), right.copy())
    for k in range(samples):
        bands = np.zeros((3, count))
        bands[2], bands[1, 1:], bands[0, 2:] = main[:, k], near[:, k], far[:, k]
        assert ours[:, :, k] == pytest.approx(solveh_banded(bands, right[:, :, k]), rel=1e-12)


def test_samples_together_are_samples_one_by_one():
    rng = np.random.default_rng(5)
    places, samples = np.linspace(0, 0.168, 40), 25
    height = 5.2e-3 + np.where(places[:, None] < 0.012, rng.uniform(-4e-4, 2e-4, samples), 0.0)
    profile = Profile(height, np.full_like(height, 5e3), height / rng.uniform(40, 100, samples))
    bending, give = 10 ** rng.uniform(-2, 1, samples), 10 ** rng.uniform(9, 11, samples)
    load = rng.uniform(1e3, 2e4, samples) * 0.168
    together = solve_batch(places, profile, bending=bending, give=give, load=load)
    assert together.converged.all()
    for k in range(samples):
        bed = Bed(Law.PFEIFFER, height[:, k] / 2, profile.first[:, k], profile.soft[:, k] / 2)
        boards = linear_bed(np.full_like(places, 1e-3), np.full_like(places, give[k]))
        one = solve_chain(
            Chain(shares(places), (bed, boards), (section_plate(places, bending[k]),)), load=float(load[k])
        )
        assert together.pressure[:, k] == pytest.approx(one.pressures[0], abs=1e-3 * load[k] / 0.168)


# --- refusals ----------------------------------------------------------------------------------------


def test_no_load_is_refused_in_words():
    with pytest.raises(OutOfRange, match="load is 0; allowed is above zero"):
        solve_chain(stack(np.full(30, 2.6e-3)), load=0.0)


def test_a_pressure_beyond_paper_is_refused():
    """All load on one narrow ridge: tens of megapascals, where no law of paper holds."""
    height = np.full(200, 2.0e-3)
    height[100] = 2.6e-3
    with pytest.raises(OutOfRange, match=r"contact pressure is .* MPa; allowed is at most 10 MPa"):
        solve_chain(stack(height, bending=1e3, give=1e12, k2=400.0), load=5e4 * 0.168 * 3)


def test_a_grid_too_coarse_for_a_plate_still_holds_flat_and_tilted():
    """Null shapes: lifting and tilting cost nothing on any spacing."""
    places = np.array([0.0, 0.01, 0.013, 0.05])
    plate = section_plate(places, 3.0)
    assert plate.forces(2.0 + 5.0 * places) == pytest.approx(np.zeros(4), abs=1e-6)
    face = face_plate(places, np.array([0.0, 0.02, 0.05]), 3.0)
    x, y = (grid.ravel() for grid in np.meshgrid(places, [0.0, 0.02, 0.05], indexing="ij"))
    assert face.forces(1.0 + 2 * x - 3 * y) == pytest.approx(np.zeros(12), abs=1e-6)
