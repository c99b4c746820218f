"""Problems with a published answer, worked by the model: what the appendix notebooks show.

Each gives its rows, the published number beside the one found here, and where there is a curve to show,
the curve with its exact values.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from bench.physics import saturation, slab
from bench.physics.isotherms import isotherm_of
from bench.physics.transient.slabs import STRAIGHT, damp_air, heated, make_slices, run
from bench.physics.vapour import air_permeability
from bench.physics.water_balance import Part, resting_humidity
from bench.units import Q_

Floats = NDArray[np.float64]

CALCULATED = "calculated apart from this code, not a citation"


@dataclass(frozen=True)
class Check:
    """One number beside its published answer.

    Attributes
    ----------
    name : str
        What is compared.
    published, found : float
        As printed, and as the model has it.
    unit : str
        Of both; empty for a plain number.
    allowed : float
        Largest difference that the printing (and the method, where it says so) leaves open.
    source : str
        In words.
    """

    name: str
    published: float
    found: float
    unit: str
    allowed: float
    source: str

    @property
    def holds(self) -> bool:
        """Tell whether the difference is within what is allowed."""
        return abs(self.found - self.published) <= self.allowed


@dataclass(frozen=True)
class CheckCurve:
    """A curve found here with exact points on it.

    Attributes
    ----------
    label : str
        What is drawn.
    x, y : array
        As found.
    exact_x, exact_y : array
        Points of the exact answer.
    """

    label: str
    x: Floats
    y: Floats
    exact_x: Floats
    exact_y: Floats


def say_checks(checks: Iterable[Check]) -> str:
    """Write checks as lines of text: name, published, found, difference, verdict."""
    lines = []
    for c in checks:
        places = max(0, 1 - math.floor(math.log10(c.allowed)))
        difference = round(c.found - c.published, places) + 0.0  # no minus zero
        verdict = "holds" if c.holds else "DOES NOT HOLD"
        numbers = f"{c.published:>9g} {c.found:>11.{places}f} {difference:>+10.{places}f} {c.unit:5s}"
        lines.append(f"{c.name:42s} {numbers} {verdict}")
    return "\n".join([f"{'':42s} published       found difference", *lines])


_SHEET = [
    (0.1, 0.94931, 0.64318),
    (0.2, 0.77231, 0.49591),
    (0.5, 0.37078, 0.23605),
    (1.0, 0.10798, 0.06874),
]


def check_plane_sheet() -> tuple[tuple[Check, ...], tuple[CheckCurve, ...]]:
    """Work the plane sheet after a step at both faces: what is left at the centre and in the mean.

    Exact series of [crank1975]_ and [carslaw-jaeger]_, straight isotherm, no heat, 200 cells.
    """
    checks, curves = [], []
    for fourier, centre, mean in _SHEET:
        left = _left(fourier)
        place = (np.arange(200) + 0.5) / 100 - 1
        middle = float(9 * left[100] - left[101]) / 8
        source = f"Carslaw and Jaeger's series, {CALCULATED}"
        checks.append(Check(f"left at the centre, Fo {fourier:g}", centre, middle, "", 2e-5, source))
        checks.append(Check(f"left in the mean, Fo {fourier:g}", mean, float(left.mean()), "", 2e-5, source))
        dots = np.linspace(-1, 1, 17)
        exact = 1 - np.asarray(slab.local_uptake(fourier, np.abs(dots)))
        curves.append(CheckCurve(f"Fo {fourier:g}", place, left, dots, exact))
    return tuple(checks), tuple(curves)


def _left(fourier: float) -> Floats:
    slices = make_slices(200, isothermal=True)
    storage = 600.0 * STRAIGHT.slope / saturation.pressure_pa(23.0)
    seconds = fourier * 2.2e-3**2 * storage / (0.03 * air_permeability(23.0))
    outside = damp_air(slices, 0.6, film=math.inf)
    _, end, _ = run(slices, outside, 0.4 * STRAIGHT.slope, 23.0, seconds)
    return np.asarray((0.6 * STRAIGHT.slope - end[0::2]) / (0.2 * STRAIGHT.slope))


_DAY = [
    ("filled newsprint", 0.01, True, 90, 0.80),
    ("filled newsprint", 0.02, True, 95, 0.92),
    ("filled newsprint", 0.02, False, 82, 0.62),
    ("filled newsprint", 0.05, True, 98, 0.99),
    ("filled newsprint", 0.10, True, 98, 1.00),
    ("writing paper", 0.02, True, 93, 0.87),
    ("writing paper", 0.02, False, 77, 0.55),
    ("chemical pulp", 0.01, True, 84, 0.56),
    ("chemical pulp", 0.02, True, 91, 0.69),
    ("chemical pulp", 0.02, False, 73, 0.41),
    ("chemical pulp", 0.05, True, 95, 0.82),
]


def check_day_at_98() -> tuple[Check, ...]:
    """Work a day at 98 % RH and 22 °C: humidity of the core, and the share of the uptake.

    From 50 %, 4.4 mm, 600 kg/m3, film 2.5 mm/s, isothermal; the table was calculated by another program.
    """
    checks = []
    for name, ratio, both, core, share in _DAY:
        isotherm = isotherm_of(name)
        if name != "chemical pulp":  # that calculation had no temperature in it
            isotherm = replace(isotherm, reference=22.0)  # type: ignore[type-var]
        slices = make_slices(40, ratio=ratio, isotherm=isotherm, isothermal=True, celsius=22.0)
        outside = damp_air(slices, 0.98, film=2.5e-3, celsius=22.0, both=both)
        first, last = isotherm.content(0.5, 22.0), isotherm.content(0.98, 22.0)
        equations, end, _ = run(slices, outside, first, 22.0, 86400.0, tolerance=1e-5)
        humidity = 100 * float(equations.climate(end)[1][20 if both else -1])
        gained = float((end[0::2].mean() - first) / (last - first))
        where = f"{name}, ratio {ratio:g}, {'both faces' if both else 'one face'}"
        checks.append(Check(f"core, {where}", core, humidity, "%", 0.55, CALCULATED))
        checks.append(Check(f"uptake, {where}", share, gained, "", 0.0055, CALCULATED))
    return tuple(checks)


_RESTING = [("writing paper", 98, 1, 85), ("writing paper", 98, 3, 73), ("filled newsprint", 98, 1, 82)]


def check_resting() -> tuple[Check, ...]:
    """Work the closed stack that comes to rest: item and dry sheets, two slabs face to face.

    The mass balance of :func:`bench.physics.water_balance.resting_humidity`, and a table of it.
    """
    checks = []
    for paper, humidity, ratio, table in _RESTING:
        found = _rest_together(paper, humidity / 100, ratio)
        parts = [
            Part("item", Q_(100, "g"), paper, humidity=Q_(humidity, "percent")),
            Part("sheets", Q_(100 * ratio, "g"), "copy paper", humidity=Q_(50, "percent")),
        ]
        rest = resting_humidity(parts, temperature=Q_(24, "degC")).humidity.value
        exact = float(rest.to("percent").magnitude)
        where = f"{paper} at {humidity} %, {ratio} to 1"
        checks.append(Check(f"{where}: table", table, found, "%", 0.6, CALCULATED))
        checks.append(Check(f"{where}: balance", round(exact, 2), found, "%", 0.02, "mass balance"))
    return tuple(checks)


def _rest_together(paper: str, humidity: float, ratio: int) -> float:
    from bench.physics.transient.equations import Equations, Outside
    from bench.physics.transient.isotherm_table import pack, tabulate
    from bench.physics.transient.stepper import Track, integrate

    slices = make_slices(8, isothermal=True)
    tables = [tabulate(isotherm_of(name)) for name in (paper, "copy paper")]
    which = np.repeat([0, 1], 4).astype(np.intp)
    mass = slices.mass * np.where(which == 1, ratio, 1)
    slices = replace(slices, mass=mass, pack=pack(tables, which, np.ones(8)))
    equations = Equations(slices, Outside((0.0, 0.0), (0.0, 0.0), (24.0, 24.0), air_celsius=24.0))
    contents = [isotherm_of(paper).content(humidity, 24.0), isotherm_of("copy paper").content(0.5, 24.0)]
    state = equations.state_of(np.repeat(contents, 4), np.full(8, 24.0))
    end, _ = integrate(equations, state, 0.0, start=0.0, end=40 * 86400.0, tolerance=1e-5, track=Track())
    return 100 * float(equations.climate(end)[1].mean())


def check_steel_wall() -> tuple[Check, ...]:
    """Work the steel wall of a pipeline, [incropera]_ (example 5.5 in one edition, from memory).

    40 mm, k 63.9 W/(m K), rho c 7832 x 434, from -20 °C, oil at 60 °C with 500 W/(m2 K), 8 minutes.
    """
    slices = make_slices(80, thickness=0.040, conductivity=63.9, density=7832, specific=434, sealed=True)
    outside = heated(slices, 60.0, start=-20.0, film=500.0)
    equations, end, track = run(slices, outside, 0.0, -20.0, 480.0, first_step=0.01)
    celsius = equations.climate(end)[0]
    face = float(celsius[0] + (60.0 - celsius[0]) * slices.half_heat[0] * outside.heat[0])
    source = "Incropera, example 5.5 in one edition, from memory; the book rounds the root"
    heat = -math.pi * float(track.crossed[1, 0]) / 1e7
    return (
        Check("insulated side after 8 min", 42.9, float(celsius[-1]), "°C", 0.2, source),
        Check("wetted side after 8 min", 45.2, face, "°C", 0.2, source),
        Check("flux after 8 min", -7400, 500 * (face - 60.0), "W/m²", 100, source),
        Check("heat for each metre of pipe, in 10 MJ", -2.73, heat, "", 0.01, source),
    )


def check_buried_pipe() -> tuple[Check, ...]:
    """Work the depth at which a pipe does not freeze, [incropera]_ (example 5.6 in one edition, from memory).

    Soil of 0.138e-6 m2/s at 20 °C, its face at -15 °C for 60 days.
    """
    density, specific = 2050.0, 1840.0
    slices = make_slices(
        400,
        thickness=8.0,
        conductivity=0.138e-6 * density * specific,
        density=density,
        specific=specific,
        sealed=True,
    )
    equations, end, _ = run(slices, heated(slices, -15.0, start=20.0), 0.0, 20.0, 60 * 86400.0)
    depth = (np.arange(400) + 0.5) * 0.02
    found = float(np.interp(0.0, equations.climate(end)[0], depth))
    source = "Incropera, example 5.6 in one edition, from memory"
    return (Check("depth of the freezing point after 60 days", 0.68, found, "m", 0.005, source),)


_ONE_TERM = [(0.1, 0.3111, 1.0161), (1.0, 0.8603, 1.1191), (5.0, 1.3138, 1.2402)]


def check_one_term() -> tuple[Check, ...]:
    """Work the wall behind a film at Fo 0.8 against one term of [incropera]_, table 5.1 (from memory)."""
    checks = []
    for biot, root, amplitude in _ONE_TERM:
        slices = make_slices(100, sealed=True)
        seconds = 0.8 * 4.4e-3**2 * 600 * 1500 / 0.12
        outside = heated(slices, 60.0, start=20.0, film=biot * 0.12 / 4.4e-3)
        equations, end, _ = run(slices, outside, 0.0, 20.0, seconds, first_step=0.01)
        celsius = equations.climate(end)[0]
        left = (60 - float(9 * celsius[-1] - celsius[-2]) / 8) / 40
        printed = round(amplitude * math.exp(-(root**2) * 0.8), 4)
        checks.append(Check(f"left at the far face, Bi {biot:g}", printed, left, "", 2e-4, "Incropera 5.1"))
    return tuple(checks)


_PRESS = [
    (2.2e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (15, 41, 52, 66)),
    (4.4e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (60, 162, 206, 265)),
    (8.0e-3, math.inf, (0.5, 0.9, 0.95, 0.98), (197, 536, 682, 875)),
    (4.4e-3, 200.0, (0.9, 0.95), (208, 265)),
]


def check_press() -> tuple[tuple[Check, ...], tuple[CheckCurve, ...]]:
    """Work a dry pile under a platen, its far face insulated: seconds to shares of the step.

    k 0.12 W/(m K), 650 kg/m3, 1500 J/(kg K); the curve is the far face against the series.
    """
    checks, curves = [], []
    for thickness, film, shares, seconds in _PRESS:
        slices = make_slices(60, thickness=thickness, density=650, sealed=True)
        outside = heated(slices, 60.0, start=20.0, film=film)
        equations, _, track = run(slices, outside, 0.0, 20.0, 1.1 * seconds[-1], first_step=0.01)
        times = np.array(track.times)
        warm = equations.climate(np.array(track.states))[0][:, -1]
        touch = "" if math.isinf(film) else f", contact {film:g} W/(m²K)"
        for share, printed in zip(shares, seconds, strict=True):
            found = float(np.interp(share, (warm - 20) / 40, times))
            name = f"{1000 * thickness:g} mm{touch}, {100 * share:g} %"
            checks.append(Check(name, printed, found, "s", 0.6, CALCULATED))
        if math.isinf(film):
            dots = np.linspace(0.02, 1.0, 14) * times[-1]
            diffusivity = 0.12 / (650 * 1500)
            exact = [slab.local_uptake(diffusivity * float(t) / thickness**2, 0.0) for t in dots]
            curves.append(
                CheckCurve(f"{1000 * thickness:g} mm", times, warm, dots, 20 + 40 * np.array(exact))
            )
    return tuple(checks), tuple(curves)
