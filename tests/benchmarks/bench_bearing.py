"""How fast the contact of a section is found, beside a general solver on the same problem.

Not collected by pytest; run it by hand::

    python tests/benchmarks/bench_bearing.py > tests/benchmarks/BEARING.md
"""

from __future__ import annotations

import platform
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import scipy
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench.physics.bearing.answers import compare_spacings, estimate_bearing
from bench.physics.bearing.batch import solve_batch
from bench.physics.bearing.knowns import Assumed, Press, draw_values
from bench.physics.bearing.laws import Bed, Law
from bench.physics.bearing.plates import section_plate, shares, times
from bench.physics.bearing.solve import Chain, solve_chain
from bench.physics.bearing.zones import Profile, Sheets, lay_out, section_places, section_profile
from tests.makers import annual, annual_readings
from tests.oracles.one_section import solve_section
from tests.oracles.whole_face import face_strips, solve_face

K1, BENDING, MEAN = 5e3, 0.1, 4e3


def best_of(call: Callable[[], object], times_: int = 5) -> float:
    """Give the shortest wall time of some calls, in milliseconds."""
    found = []
    for _ in range(times_):
        start = time.perf_counter()
        call()
        found.append(time.perf_counter() - start)
    return 1e3 * min(found)


def problem(count: int) -> Chain:
    """Make a board under even load on a bed with a low spine, Pfeiffer's law: part of it opens."""
    places = np.linspace(0, 0.168, count)
    height = np.where(places < 0.012, 2.45e-3, 2.6e-3)
    bed = Bed(Law.PFEIFFER, height, np.full(count, K1), height / 60)
    share = shares(places)
    return Chain(share, (bed,), (section_plate(places, BENDING),), (share * MEAN,))


def by_minimiser(chain: Chain, method: str) -> tuple[np.ndarray, float]:
    """Solve the same problem by a general minimiser of SciPy; give heights (m) and wall time (ms)."""
    (bed,), (plate,), (load,), share = chain.beds, chain.plates, chain.loads, chain.share
    unit, base = 1e-5, 2.55e-3
    matrix = np.column_stack([times(plate.bands, column) for column in np.eye(len(share))])

    def energy(x: np.ndarray) -> float:
        w = base + x * unit
        c = np.maximum(bed.height - w, 0.0)
        stored = K1 * share @ (bed.second * np.expm1(c / bed.second) - c)
        return float(0.5 * (w - base) @ matrix @ (w - base) + stored + load @ (w - base))

    def slope(x: np.ndarray) -> np.ndarray:
        w = base + x * unit
        return (matrix @ (w - base) - share * bed.at(bed.height - w)[0] + load) * unit

    def curve(x: np.ndarray) -> np.ndarray:
        return (matrix + np.diag(share * bed.at(bed.height - base - x * unit)[1])) * unit**2

    options = {"maxiter": 20000, "gtol": 1e-13}
    if method == "L-BFGS-B":
        options |= {"ftol": 1e-16, "maxfun": 200000, "maxcor": 30}
    hess = curve if method == "trust-exact" else None
    start = time.perf_counter()
    found = minimize(energy, np.zeros(len(share)), jac=slope, hess=hess, method=method, options=options)
    return base + found.x * unit, 1e3 * (time.perf_counter() - start)


def largest_error(chain: Chain, heights: np.ndarray, exact: np.ndarray) -> float:
    """Give the largest error of the pressure as a part of the mean load."""
    (bed,) = chain.beds
    return float(np.abs(bed.at(bed.height - heights)[0] - exact).max() / MEAN)


def beside_general_solvers() -> None:
    """Print time and error beside SciPy's minimisers; the reference takes dense Newton steps."""
    print("| nodes | this solver, ms | error | trust-exact, ms | error | L-BFGS-B, ms | error |")
    print("|---|---|---|---|---|---|---|")
    for count in (15, 29, 57, 113, 225):
        chain = problem(count)
        ours = solve_chain(chain)
        spent = best_of(lambda chain=chain: solve_chain(chain), 9)
        exact = polish(chain, ours.heights[0])
        cells = [f"{count}", f"{spent:.2f}", f"{largest_error(chain, ours.heights[0], exact):.0e}"]
        for method in ("trust-exact", "L-BFGS-B"):
            heights, time_ms = by_minimiser(chain, method)
            cells += [f"{time_ms:.0f}", f"{largest_error(chain, heights, exact):.0e}"]
        print("| " + " | ".join(cells) + " |")


def polish(chain: Chain, heights: np.ndarray) -> np.ndarray:
    """Give the pressure after Newton steps with dense matrices and NumPy's solver: a second way."""
    (bed,), (plate,), (load,), share = chain.beds, chain.plates, chain.loads, chain.share
    matrix = np.column_stack([times(plate.bands, column) for column in np.eye(len(share))])
    for _ in range(4):
        pressure, tangent = bed.at(bed.height - heights)
        left = matrix @ plate.bent(heights) - share * pressure + load
        heights = heights - np.linalg.solve(matrix + np.diag(share * tangent), left)
    return np.asarray(bed.at(bed.height - heights)[0])


def growth_with_the_grid() -> None:
    """Print time, and difference to a fine grid, of one section of the annual."""
    item, read = annual(), annual_readings()
    layout, sheets = lay_out(item, read), Sheets(0, 2)
    values = draw_values(item, read, sheets, Press(), Assumed(), rng=None)
    known = {name: float(values[name][0]) for name in ("bending", "give")}
    found = []
    for fine in (2.8e-3, 1.4e-3, 0.7e-3, 0.35e-3, 0.175e-3, 0.0875e-3):
        places = section_places(layout, fine=fine, coarse=12 * fine)
        full = section_profile(places, layout, sheets, values)
        profile = full.part(0)
        load = 4e3 * layout.width

        def call(places: np.ndarray = places, profile: Profile = profile, load: float = load) -> object:
            return solve_section(places, profile, known, load=load)

        section = solve_section(places, profile, known, load=load)
        found.append((fine, len(places), best_of(call, 9), section))
    exact = found[-1][3]
    print("| smallest step, mm | nodes | ms | steps | force out of balance | pressure at 5 mm, off by |")
    print("|---|---|---|---|---|---|")
    at = [float(np.interp(5e-3, s.places, s.pressure)) for *_, s in found]
    for (fine, nodes, spent, section), here in zip(found, at, strict=True):
        off = "reference" if section is exact else f"{abs(here - at[-1]) / at[-1]:.2%}"
        balance = section.balance
        print(
            f"| {fine * 1e3:g} | {nodes} | {spent:.2f} | {balance.steps} | {balance.unbalance:.0e} | {off} |"
        )


def growth_with_samples() -> None:
    """Print time of one plan by the number of samples."""
    item, read = annual(), annual_readings()
    layout, sheets = lay_out(item, read), Sheets(3, 2)
    print("| samples | solve between staples, ms | whole answer for a plan, ms | µs a sample |")
    print("|---|---|---|---|")
    places = section_places(layout, fine=0.7e-3, coarse=12e-3, reach=18e-3)
    for samples in (250, 500, 1000, 2000, 4000, 8000):
        values = draw_values(
            item, read, sheets, Press(), Assumed(), rng=np.random.default_rng(1), samples=samples
        )
        profile = section_profile(places, layout, sheets, values)

        def solve(values: dict = values, profile: Profile = profile) -> object:
            return solve_batch(
                places,
                profile,
                bending=values["bending"],
                give=values["give"],
                load=values["load"] * layout.width,
            )

        def whole(samples: int = samples) -> object:
            rng = np.random.default_rng(1)
            return estimate_bearing(item, read, sheets, Press(), rng=rng, samples=samples)

        both = best_of(solve, 3), best_of(whole, 3)
        print(f"| {samples} | {both[0]:.0f} | {both[1]:.0f} | {1e3 * both[1] / samples:.0f} |")


def goals() -> None:
    """Print the goals beside what was measured."""
    item, read = annual(), annual_readings()
    layout, sheets = lay_out(item, read), Sheets(5, 2)
    values = draw_values(item, read, sheets, Press(), Assumed(), rng=None)
    places = section_places(layout)
    full = section_profile(places, layout, sheets, values)
    profile = full.part(0)
    known = {name: float(values[name][0]) for name in ("bending", "give")}
    one = best_of(lambda: solve_section(places, profile, known, load=4e3 * layout.width), 20)
    table = best_of(lambda: compare_spacings(item, read, Press(), rng=np.random.default_rng(7)), 5)
    across = section_places(layout, fine=1e-3, coarse=12e-3, reach=16e-3)
    down = face_strips(layout, coarse=40e-3)
    face = best_of(lambda: solve_face(across, down, layout, sheets, values), 5)
    print("| what | goal | measured |")
    print("|---|---|---|")
    print(f"| one section ({len(places)} nodes) | 5 ms | {one:.1f} ms |")
    print(f"| all plans from every 4 to every 12 leaves, 2 000 samples each | 1 s | {table / 1e3:.2f} s |")
    print(f"| the whole face ({len(across)} × {len(down)} nodes) | – | {face:.0f} ms |")


def main() -> None:
    """Print the tables."""
    print("# Where the load goes: time and error\n")
    print(
        f"Measured by `tests/benchmarks/bench_bearing.py` with Python {platform.python_version()}, NumPy "
        f"{np.__version__}, SciPy {scipy.__version__} on two shared cores; the shortest of several runs.\n"
    )
    goals()
    print("\n## Beside general solvers\n")
    print(
        "The same convex problem: a board of 0.1 N m under an even 4 kPa on a pile (Pfeiffer, K1 5 kPa, "
        "K2 60) whose spine lies 0.15 mm lower. Error: largest error of the pressure over the mean load, "
        "against Newton steps with dense matrices.\n"
    )
    beside_general_solvers()
    print("\n## Growth with the grid\n")
    print("Section of the square-bound annual between staples, sheets under the covers only.\n")
    growth_with_the_grid()
    print("\n## Growth with the samples\n")
    growth_with_samples()


if __name__ == "__main__":
    main()
