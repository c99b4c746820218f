"""Time the solver of moisture and heat against others: same equations, same error.

    python -m tests.benchmarks.bench_transient            the table, a few minutes
    python -m tests.benchmarks.bench_transient --quick    10 and 40 leaves only

A benchmark and not a test: it asserts nothing and pytest does not collect it.  The general package is
FiPy, in the dependency group ``benchmark``; without it its column stays empty.
"""

import argparse
import time

import numpy as np
from scipy.integrate import solve_ivp

from bench.physics import saturation
from bench.physics.isotherms import isotherm_of
from bench.physics.transient import Air, Course, Inputs, Phase, simulate, simulate_together
from bench.physics.transient.equations import (
    EVAPORATION,
    REFERENCE,
    SATURATION,
    VAPOUR_HEAT,
    Equations,
    Outside,
)
from bench.physics.transient.slabs import make_slices
from bench.physics.transient.stepper import Track, integrate
from bench.stack import Layer, Role, Stack
from bench.units import Q_
from tests.physics.transient.cases import CLOSED, page, stack, treatment

DAY = 86400.0
HOURS = np.array([0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 24.0])
ALLOWED = 1e-3  # largest error of humidity at any of the hours in any leaf: 0.1 % RH
LEAF = 1.1e-4  # m
PAPER = isotherm_of("newsprint")
FILM, WARMTH = 2.5e-3, 7.7  # m/s and W/(m2 K)


ENDS = ("transport_ratio", "film_factor", "conductivity_factor", "thickness_factor")


def make_case(leaves):
    """A day at 98 % RH from 50 %, one cell a leaf, both faces open; coupled with heat."""
    slices = make_slices(leaves, thickness=leaves * LEAF, isotherm=PAPER)
    vapour = 1 / (461.523 * 296.15 / FILM + slices.half_vapour[0])
    heat = 1 / (1 / WARMTH + slices.half_heat[0])
    pressure = 0.98 * saturation.pressure_pa(22.0)
    outside = Outside((vapour,) * 2, (heat,) * 2, (22.0, 22.0), air_celsius=22.0, air_pressure=pressure)
    equations = Equations(slices, outside)
    state = equations.state_of(np.full(leaves, PAPER.content(0.5, 22.0)), np.full(leaves, 22.0))
    return equations, state


def humidity_of(equations, states):
    return equations.climate(states)[1]


def with_this(equations, state, tolerance):
    """This solver, read between its steps by its own cubic."""
    track = Track()
    integrate(
        equations,
        state,
        equations.outside.air_pressure,
        start=0.0,
        end=DAY,
        tolerance=tolerance,
        track=track,
    )
    times, states, rates = (np.array(values) for values in (track.times, track.states, track.rates))
    seconds = HOURS * 3600
    left = np.clip(np.searchsorted(times, seconds, side="right") - 1, 0, len(times) - 2)
    step = (times[left + 1] - times[left])[:, None]
    p = (seconds - times[left])[:, None] / step
    rise = states[left + 1] - states[left]
    cubic = states[left] + p**2 * (3 - 2 * p) * rise + p * (1 - p) ** 2 * step * rates[left]
    return cubic + p**2 * (p - 1) * step * rates[left + 1]


def with_scipy(method, **options):
    """One of SciPy's integrators on the same rates."""

    def solve(equations, state, tolerance):
        air = equations.outside.air_pressure
        scale = np.tile([0.1, 20.0], equations.count)
        return solve_ivp(
            lambda t, y: equations.at(t, y, air).rates,
            (0.0, DAY),
            state,
            method=method,
            t_eval=HOURS * 3600,
            rtol=tolerance,
            atol=tolerance * scale,
            **options,
        ).y.T

    return solve


def with_fipy(equations, state, tolerance):
    """FiPy, coupled and swept; backward Euler on growing steps, as many as ``tolerance`` says.

    What its linear terms leave out of the flux is added as a divergence, so that converged sweeps solve
    the same finite volumes as the others.
    """
    import fipy

    s, out = equations.slices, equations.outside
    width = LEAF
    mesh = fipy.Grid1D(nx=equations.count, dx=width)
    content, enthalpy = (
        fipy.CellVariable(mesh=mesh, value=v, hasOld=True) for v in (state[0::2], state[1::2])
    )
    names = ("p", "theta", "px", "pe", "tx", "te")
    read = {name: fipy.CellVariable(mesh=mesh) for name in names}
    explicit = {name: fipy.CellVariable(mesh=mesh) for name in ("water", "heat")}
    slope = {name: fipy.CellVariable(mesh=mesh) for name in ("wx", "we", "hx", "he")}
    ends = np.zeros(equations.count)
    ends[[0, -1]] = 1.0

    def update():
        x, e = content.value, enthalpy.value
        both = np.empty(2 * equations.count)

        def look(dx, de):
            both[0::2], both[1::2] = x + dx, e + de
            celsius, activity = equations.climate(both)
            full = np.polynomial.polynomial.polyval(1 / (celsius + 273.15) - 1 / REFERENCE, SATURATION)
            return celsius - 23.0, activity * np.exp(full)

        theta, p = look(0.0, 0.0)
        (t1, p1), (t2, p2) = look(1e-7, 0.0), look(0.0, 1e-5)
        values = (p, theta, (p1 - p) / 1e-7, (p2 - p) / 1e-5, (t1 - theta) / 1e-7, (t2 - theta) / 1e-5)
        for name, value in zip(names, values, strict=True):
            read[name].setValue(value)
        gain = ends * out.vapour[0] * (out.air_pressure - p)
        lift = EVAPORATION + VAPOUR_HEAT / 2 * (out.air_celsius - 23.0 + theta)
        warmth = ends * out.heat[0] * (out.celsius[0] - 23.0 - theta) + gain * lift
        wx, we = -ends * out.vapour[0] * values[2], -ends * out.vapour[0] * values[3]
        hx, he = (lift * w - ends * out.heat[0] * t for w, t in ((wx, values[4]), (we, values[5])))
        for name, value in zip(("wx", "we", "hx", "he"), (wx, we, hx, he), strict=True):
            slope[name].setValue(value / width)
        explicit["water"].setValue((gain - wx * x - we * e) / width)
        explicit["heat"].setValue((warmth - hx * x - he * e) / width)

    permeability, conduction = float(s.vapour[0]) * width, float(s.conductance[0]) * width
    warm = read["theta"].arithmeticFaceValue
    through = permeability * (1 + 0.81 / REFERENCE * warm)
    carried = EVAPORATION + VAPOUR_HEAT * warm
    wx, we = (through * read[n].arithmeticFaceValue for n in ("px", "pe"))
    hx, he = (carried * w + conduction * read[n].arithmeticFaceValue for w, n in ((wx, "tx"), (we, "te")))
    flow = through * read["p"].faceGrad
    heat_flow = conduction * read["theta"].faceGrad + carried * flow
    rest = (flow - wx * content.faceGrad - we * enthalpy.faceGrad).divergence
    heat_rest = (heat_flow - hx * content.faceGrad - he * enthalpy.faceGrad).divergence

    def row(first, second, sources, more, left_out):
        return (
            fipy.DiffusionTerm(coeff=first, var=content)
            + fipy.DiffusionTerm(coeff=second, var=enthalpy)
            + fipy.ImplicitSourceTerm(coeff=slope[sources[0]], var=content)
            + fipy.ImplicitSourceTerm(coeff=slope[sources[1]], var=enthalpy)
            + explicit[more]
            + left_out
        )

    density, capacity = float(s.mass[0]) / width, float(s.heat[0]) / width
    water = fipy.TransientTerm(coeff=density, var=content) == row(wx, we, ("wx", "we"), "water", rest)
    heat = fipy.TransientTerm(coeff=capacity, var=enthalpy) == row(hx, he, ("hx", "he"), "heat", heat_rest)
    coupled = water & heat
    steps = int(1 / tolerance)
    marks = np.unique(np.concatenate([np.geomspace(1.0, DAY, steps), HOURS * 3600]))
    now, found = 0.0, []
    for mark in marks:
        content.updateOld()
        enthalpy.updateOld()
        for _ in range(6):
            update()
            before = content.value.copy()
            coupled.sweep(dt=float(mark - now))
            if np.abs(content.value - before).max() < 1e-7:
                break
        now = mark
        if np.isclose(HOURS * 3600, mark).any():
            found.append(np.stack([content.value, enthalpy.value], axis=1).reshape(-1))
    return np.array(found)


FINE = (1e-2, 5e-3, 3e-3, 2e-3, 1.4e-3, 1e-3, 7e-4, 5e-4, 3.5e-4, 2.5e-4, 1e-4, 3e-5)
SOLVERS = {
    "this solver": (with_this, FINE),
    "LSODA, banded": (with_scipy("LSODA", lband=3, uband=3), FINE),
    "BDF, no band": (with_scipy("BDF"), FINE),
    "FiPy": (with_fipy, (1 / 25, 1 / 50)),
}


def best_time(solve, equations, state, tolerance, least=0.3):
    """Give the shortest of several runs (one if it takes long), which other work disturbs least."""
    times, result = [], None
    while not times or (sum(times) < least and len(times) < 15):
        begin = time.perf_counter()
        result = solve(equations, state, tolerance)
        times.append(time.perf_counter() - begin)
    return min(times), result


def measure(leaves, names):
    """For each solver the fastest setting whose error is allowed: time in s, error, setting."""
    equations, state = make_case(leaves)
    reference = humidity_of(equations, with_scipy("LSODA", lband=3, uband=3)(equations, state, 1e-10))
    tight = humidity_of(equations, with_this(equations, state, 1e-7))
    print(
        f"\n{leaves} leaves; two tight references differ by {np.abs(tight - reference).max():.1e}", flush=True
    )
    rows = {}
    for name in names:
        solve, settings = SOLVERS[name]
        for setting in settings:
            try:
                spent, states = best_time(solve, equations, state, setting)
            except ImportError:
                break
            error = float(np.abs(humidity_of(equations, states) - reference).max())
            print(f"  {name:14s} {setting:8.1e}  {1e3 * spent:9.1f} ms  error {error:.1e}", flush=True)
            rows[name] = (spent, error, setting)  # the last one tried stands if none is good enough
            if error <= ALLOWED:
                break
    return rows


def time_runs(run, count):
    """Give the seconds of so many runs."""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        run()
        times.append(time.perf_counter() - begin)
    return times


def time_public():
    """Time what the stages call, set-up with units and all: a day of 40 leaves, and a whole treatment."""
    leaf = Layer(Role.LEAF, "newsprint", 40, Q_(0.11, "mm"), Q_(52, "gsm"))
    pile = Stack((leaf,), Q_(0.043, "m^2"))
    day = [Phase("chamber", Q_(24, "hour"), Air(Q_(22, "degC"), Q_(98, "percent")))]
    closed = [Phase("chamber", Q_(24, "hour"), CLOSED)]
    cases = {
        "24 h at 98 % RH, 40 leaves": lambda: simulate(pile, day),
        "24 h in a closed chamber, 40 leaves": lambda: simulate(pile, closed),
        "chamber to release, 36 leaves, 8 phases": lambda: simulate(stack(), treatment(), page=page()),
    }
    for name, run in cases.items():
        times = time_runs(run, 25)
        print(f"{name:42s} best {1e3 * min(times):6.1f} ms, median {1e3 * np.median(times):6.1f} ms")


def time_together():
    """Time a likely course and the ends of its doubts: one by one, and side by side."""
    inputs = [Inputs(), *(Inputs().with_end(name, end) for name in ENDS for end in (1, 2))]
    print()
    for count in (1, 3, 9, 27):
        some = [inputs[i % len(inputs)] for i in range(count)]
        courses = [Course(stack(), tuple(treatment()), inputs=one, page=page()) for one in some]
        ways = {
            "one by one": lambda c=courses: [simulate_together([one]) for one in c],
            "side by side": lambda c=courses: simulate_together(c),
        }
        for name, run in ways.items():
            print(f"{count:3d} courses {name:14s} {1e3 * min(time_runs(run, 5)):6.0f} ms")


def main():
    """Measure and print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="10 and 40 leaves only")
    sizes = (10, 40) if parser.parse_args().quick else (10, 40, 100, 400)
    time_public()
    time_together()
    table = {leaves: measure(leaves, SOLVERS) for leaves in sizes}
    print(f"\ntime to {ALLOWED:.0e} of humidity, times this solver, error\n")
    print("| leaves | " + " | ".join(SOLVERS) + " |\n|" + "---|" * (len(SOLVERS) + 1))
    for leaves, rows in table.items():
        mine = rows["this solver"][0]
        cells = [say(rows[n], mine) if n in rows else "–" for n in SOLVERS]
        print(f"| {leaves} | " + " | ".join(cells) + " |")


def say(row, mine):
    """Write time, factor and error of one solver."""
    spent, error, _ = row
    missed = "" if error <= ALLOWED else ", not reached"
    return f"{1e3 * spent:.1f} ms, {spent / mine:.1f} times, {error:.0e}{missed}"


if __name__ == "__main__":
    main()
