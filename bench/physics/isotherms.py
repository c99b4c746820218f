"""Sorption isotherms of paper on plain numbers: moisture content against relative humidity.

Moisture content *X* is kg of water per kg of dry matter, the water activity *a* is the relative
humidity as a fraction, temperatures are in °C.  :mod:`bench.physics.sorption` wraps these in
quantities with units.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from functools import cache
from typing import Protocol

from bench.errors import NotFound
from bench.materials import has_note, has_property, look_up, look_up_note
from bench.physics.saturation import ZERO_CELSIUS

HIGHEST_ACTIVITY = 0.99  # beyond it paper fills its pores with liquid water; no fit here says how

# The fits of whole papers that are held here; they span what is published for paper.
PAPER_FITS = (
    "filled newsprint",
    "writing paper",
    "white bond",
    "ledger paper",
    "kraft paper",
    "chemical pulp",
)


class Isotherm(Hashable, Protocol):
    """What a paper holds at a humidity, and the reverse; both rise throughout.  It does not change."""

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity and temperature."""

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content and temperature; above 1 beyond saturation."""


def solve_rising(function: Callable[[float], float], target: float, low: float, high: float) -> float:
    """Find where a rising function meets a target between two ends.

    Regula falsi in the Illinois form, which keeps the root in its bracket and closes it faster
    than halving does.  The caller makes sure that the ends bracket the target.
    """
    below, above = function(low) - target, function(high) - target
    side = 0
    for _ in range(100):
        middle = (low * above - high * below) / (above - below) if above > below else low
        if not low < middle < high:
            break
        value = function(middle) - target
        if value == 0:
            return middle
        if value < 0:
            above, low, below = (above / 2 if side < 0 else above), middle, value
            side = -1
        else:
            below, high, above = (below / 2 if side > 0 else below), middle, value
            side = 1
    return low if abs(below) < abs(above) else high


def _descend(start: float, step: Callable[[float], float]) -> float:
    """Follow Newton's steps down to the root of a convex function, from a place above it."""
    x = start
    for _ in range(50):
        change = step(x)
        x -= change
        if abs(change) < 1e-14:
            break
    return x


@dataclass(frozen=True)
class Heikkila:
    r"""Isotherm of chemical pulp with temperature.

    .. math:: a = 1 - \exp[-(b X^p + c t X^q)]

    with t in °C [heikkila1993]_ (from memory).
    """

    b: float
    p: float
    c: float
    q: float

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content and temperature."""
        return -math.expm1(-(self.b * content**self.p + self.c * celsius * content**self.q))

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity and temperature."""
        target = -math.log1p(-activity)
        if target <= 0:
            return 0.0
        heat = self.c * celsius

        def step(x: float) -> float:
            value = self.b * x**self.p + heat * x**self.q - target
            return value / (self.b * self.p * x ** (self.p - 1) + heat * self.q * x ** (self.q - 1))

        return _descend((target / self.b) ** (1 / self.p), step)


@dataclass(frozen=True)
class Henderson:
    r"""Isotherm of bleached pulp with temperature, Henderson form.

    .. math:: a = 1 - e^{-\xi}, \quad \xi = \left[\frac{X/\kappa}{1-(X/w)^3}\right]^{1/c}, \quad
       \kappa = \kappa_\infty \exp\frac{(T_0/T)^{n+1}}{n+1}, \quad w = 2.49 (1 + (296.15 - T)/310)

    T in K [tryding2022]_.
    """

    c: float
    kappa: float
    temperature: float
    n: float

    def _kappa_and_saturation(self, celsius: float) -> tuple[float, float]:
        kelvin = celsius + ZERO_CELSIUS
        power = self.n + 1
        kappa = self.kappa * math.exp((self.temperature / kelvin) ** power / power)
        return kappa, 2.49 * (1 + (296.15 - kelvin) / 310)

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content and temperature."""
        kappa, saturation = self._kappa_and_saturation(celsius)
        return -math.expm1(-((content / kappa / (1 - (content / saturation) ** 3)) ** (1 / self.c)))

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity and temperature."""
        kappa, saturation = self._kappa_and_saturation(celsius)
        free = kappa * (-math.log1p(-activity)) ** self.c

        def step(x: float) -> float:
            return (x - free + free * (x / saturation) ** 3) / (1 + 3 * free * x**2 / saturation**3)

        return _descend(free, step)


def gab_content(a: float, m: float, c: float, k: float) -> float:
    """Give the moisture content at an activity; see :class:`Gab`."""
    return m * c * k * a / ((1 - k * a) * (1 - k * a + c * k * a))


def _gab_activity(x: float, m: float, c: float, k: float) -> float:
    """Invert in closed form: with y = K a, (C-1) X y² + (mC + X(2-C)) y - X = 0, the root above zero."""
    if x <= 0:
        return 0.0
    square, straight = (c - 1) * x, m * c + x * (2 - c)
    root = math.sqrt(straight**2 + 4 * square * x)
    # the form that does not subtract nearly equal numbers
    y = 2 * x / (straight + root) if straight >= 0 else (root - straight) / (2 * square)
    return y / k


@dataclass(frozen=True)
class Gab:
    r"""Isotherm of Guggenheim, Anderson and de Boer, known at one temperature.

    .. math:: X = \frac{m C K a}{(1 - K a)(1 - K a + C K a)}

    Notes
    -----
    Carried to another temperature as if its fibre were pulp: the activity at constant moisture
    content moves as that of the carriers at the same activity.  A filler only dilutes the fibre,
    so the same activity, and not the same moisture content, compares like with like.
    """

    m: float
    c: float
    k: float
    reference: float
    carriers: tuple[Isotherm, ...]

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity and temperature."""
        return gab_content(self._at_reference(activity, celsius), *self.constants(celsius))

    def constants(self, celsius: float) -> tuple[float, float, float]:
        """Give m, C and K, which are those of the reference at any temperature."""
        return self.m, self.c, self.k

    def _at_reference(self, activity: float, celsius: float) -> float:
        if celsius == self.reference:
            return activity
        moved = (carry(model, activity, celsius, self.reference) for model in self.carriers)
        return sum(moved) / len(self.carriers)

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content and temperature."""
        there = _gab_activity(content, *self.constants(celsius))
        if celsius == self.reference or there >= 1 or there == 0:
            return there
        if len(self.carriers) == 1:
            return carry(self.carriers[0], there, self.reference, celsius)
        ends = [carry(model, there, self.reference, celsius) for model in self.carriers]
        return solve_rising(lambda a: self._at_reference(a, celsius), there, min(ends), max(ends))


@dataclass(frozen=True)
class GabWithTemperature:
    """GAB isotherm of bleached pulp whose C and K follow the temperature [tryding2022]_."""

    m: float
    c: float
    c_heat: float  # kJ/kg
    k: float
    k_heat: float

    def constants(self, celsius: float) -> tuple[float, float, float]:
        """Give m, C and K at a temperature."""
        heat = 0.4615 * (celsius + ZERO_CELSIUS)  # R T in kJ/kg, with the authors' R
        return self.m, self.c * math.exp(self.c_heat / heat), self.k * math.exp(self.k_heat / heat)

    def content(self, activity: float, celsius: float) -> float:
        """Moisture content at a water activity and temperature."""
        return gab_content(activity, *self.constants(celsius))

    def activity(self, content: float, celsius: float) -> float:
        """Water activity at a moisture content and temperature."""
        return _gab_activity(content, *self.constants(celsius))


def carry(model: Isotherm, activity: float, before: float, after: float) -> float:
    """Give the activity after a change of temperature at constant moisture content."""
    return model.activity(model.content(activity, before), after)


def _numbers(material: str, *names: str) -> list[float]:
    return [float(look_up(material, name).value.magnitude) for name in names]


@cache
def carriers() -> tuple[Isotherm, ...]:
    """Give the two pulp isotherms with temperature: the lower and the higher effect of warming."""
    low = Heikkila(*_numbers("chemical pulp", "Heikkila b", "Heikkila p", "Heikkila c", "Heikkila q"))
    names = ("Henderson c", "Henderson kappa", "Henderson temperature", "Henderson n")
    return low, Henderson(*_numbers("bleached pulp", *names))


@cache
def isotherm_name(material: str) -> str:
    """Give the material whose isotherm stands for this one (itself if it has one).

    Raises
    ------
    NotFound
        The material has no isotherm and none stands in for it.
    """
    if any(has_property(material, name) for name in ("GAB m", "Heikkila b", "Tryding GAB m")):
        return material
    if has_note(material, "isotherm"):
        return look_up_note(material, "isotherm").text
    raise NotFound(
        "material with a sorption isotherm",
        repr(material),
        ", ".join((*PAPER_FITS, "copy paper", "bleached pulp", "polyester")) + ", or a paper with a stand-in",
        "Choose one of these, or add the material to bench/materials/notes.csv under isotherm",
    )


@cache
def isotherm_of(material: str) -> Isotherm:
    """Build the isotherm of a material from the table, or that of its stand-in."""
    name = isotherm_name(material)
    if has_property(name, "Heikkila b"):
        return carriers()[0]
    if has_property(name, "Tryding GAB m"):
        parts = ("m", "C", "C heat", "K", "K heat")
        return GabWithTemperature(*_numbers(name, *(f"Tryding GAB {part}" for part in parts)))
    m, c, k, reference = _numbers(name, "GAB m", "GAB C", "GAB K", "reference temperature")
    return Gab(m, c, k, reference, carriers())


@cache
def alternatives(material: str) -> tuple[Isotherm, ...]:
    """Give the other isotherms that this material may have, after what is published.

    A paper may follow any of the fits of whole papers; bleached pulp any of the three pulp fits; a
    material with limits to its GAB constant m (polyester) is bounded by these.
    """
    own = isotherm_of(material)
    name = isotherm_name(material)
    if name == "bleached pulp":
        return carriers()
    if isinstance(own, Gab):
        entry = look_up(name, "GAB m")
        if entry.low is not None and entry.high is not None:
            return tuple(replace(own, m=float(end.magnitude)) for end in (entry.low, entry.high))
    return tuple(isotherm_of(fit) for fit in PAPER_FITS if fit != name)


def with_each_carrier(fit: Isotherm) -> tuple[Isotherm, ...]:
    """Split a fit that is carried over temperature by two models into one fit for each."""
    if isinstance(fit, Gab):
        return tuple(replace(fit, carriers=(model,)) for model in fit.carriers)
    return (fit,)
