r"""Scrap leaves over salts: what they hold at each, going up and coming down, and what leaves that in doubt.

In the order of time, kg of water per kg of dry matter,

.. math:: X = s\,X_a + \delta, \qquad \delta = 0 \text{ going up}, \quad
          \delta = \Delta\,(1 - e^{-3 (X_0 - s X_a - \delta)/\Delta}) \text{ coming down from } X_0

with :math:`X_a` the isotherm of the paper at the activity over the salt (:mod:`bench.physics.isotherms`), *s*
its scale and :math:`\Delta` the hysteresis as plans follow it (:mod:`bench.physics.transient.hysteresis`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.isotherms import alternatives, isotherm_of, solve_rising
from bench.physics.salts import salt_humidity
from bench.physics.saturation import pressure_pa
from bench.physics.transient.inputs import HYSTERESIS
from bench.trials.protocol import Asked
from bench.trials.reading import BALANCE, THERMOMETER
from bench.units import Q_


@dataclass(frozen=True)
class Level:
    """One place of the course: a salt, reached going up or coming down."""

    salt: str
    is_down: bool = False

    @property
    def key(self) -> str:
        """Name among the readings."""
        return f"{'down' if self.is_down else 'up'}_{self.salt.replace(' ', '_')}"

    @property
    def words(self) -> str:
        """For the label."""
        return f"Over {self.salt}, {'coming down' if self.is_down else 'going up'}"


_DRIER, _MIDDLE, _DAMPER = "magnesium chloride", "sodium chloride", "potassium chloride"
LEVELS = (
    Level(_DRIER),
    Level(_MIDDLE),
    Level(_DAMPER),
    Level(_MIDDLE, is_down=True),
    Level(_DRIER, is_down=True),
)
"""In the order of time.  The dampest holds 85 %: within what the isotherms were fitted to, and
no mould in a day."""

TEMPERATURE = Asked(
    "temperature",
    "Temperature of the box",
    "temperature",
    15,
    30,
    most=6,
    tool=THERMOMETER,
    group="The box",
    hint="once a day; salts and isotherms both move with it",
)
DRY = Asked(
    "dry",
    "Dry, if you have an oven",
    "g",
    5,
    300,
    most=3,
    is_optional=True,
    tool=BALANCE,
    group="The leaves at rest, without bag",
    hint="two hours at 105 °C, closed into the bag while hot; empty without an oven",
)
MASSES = tuple(
    Asked(
        level.key,
        level.words,
        "g",
        5,
        300,
        most=3,
        is_optional=level == LEVELS[-1],
        tool=BALANCE,
        hint="weighings an hour or more apart that move no more",
    )
    for level in LEVELS
)

# What cannot be averaged away, as standard uncertainties: judgement, no source.
_UNEVEN = 0.15  # K between salt and leaves, by itself at each weighing
_NOT_AT_REST = 0.015  # of a step not yet done, at all weighings alike
_WHILE_WEIGHED = 0.002  # kg/kg for each 100 % between leaves and room, lost while bagged
_ROOM = 0.5  # activity of the room in which they are bagged


@cache
def _activity(salt: str, celsius: float) -> tuple[float, float]:
    """Give the activity over a salt and its standard uncertainty."""
    held = salt_humidity(salt, temperature=Q_(celsius, "degC"))
    return float(held.humidity.to("").magnitude), float(held.uncertainty.to("").magnitude) / 2


@cache
def _shapes(paper: str, celsius: float) -> tuple[tuple[float, ...], ...]:
    """Give by how much each other published fit differs from this paper's, at the levels, as a share of X.

    Each is first scaled to it from 30 to 95 % RH, where plans use it: what is left is its shape.
    """
    own, places = isotherm_of(paper), np.linspace(0.30, 0.95, 14)
    base = np.array([own.content(a, celsius) for a in places])
    found = []
    for other in alternatives(paper):
        there = np.array([other.content(a, celsius) for a in places])
        scale = float(base @ there / (base @ base))
        at = (_activity(level.salt, celsius)[0] for level in LEVELS)
        found.append(tuple(other.content(a, celsius) / (scale * own.content(a, celsius)) - 1 for a in at))
    return tuple(found)


def held_coming_down(top: float, rest: float, hysteresis: float) -> float:
    """Give the content of paper that came down from a content to rest, kg/kg.

    Parameters
    ----------
    top : float
        Content before.
    rest : float
        Content that the isotherm gives.
    hysteresis : float
        Most that it holds above that.
    """
    drop = top - rest
    if hysteresis <= 0 or drop <= 0:  # below zero only on the way of a fit
        return rest + hysteresis

    def over(lag: float) -> float:
        return lag + hysteresis * math.expm1(-3 * (drop - lag) / hysteresis)

    return rest + solve_rising(over, 0.0, 0.0, drop)


def contents_at_levels(scale: float, hysteresis: float, rests: Sequence[float] | Floats) -> Floats:
    """Give the content at each level from what the isotherm gives there."""
    scaled = [scale * float(rest) for rest in rests]
    up = sum(not level.is_down for level in LEVELS)
    top = scaled[up - 1]
    return np.array([*scaled[:up], *(held_coming_down(top, rest, hysteresis) for rest in scaled[up:])])


@dataclass(frozen=True)
class SorptionCourse:
    """What is known of the course before anything is weighed.

    Attributes
    ----------
    paper : str
        A text paper.
    celsius : float
        Of the box.
    """

    paper: str
    celsius: float

    @property
    def activities(self) -> list[float]:
        """Over the salts."""
        return [_activity(level.salt, self.celsius)[0] for level in LEVELS]

    def rests(self, celsius: float | None = None) -> Floats:
        """Give the isotherm at the levels, also as if the box were at another temperature."""
        at = self.celsius if celsius is None else celsius
        own = isotherm_of(self.paper)
        return np.array([own.content(_activity(level.salt, at)[0], at) for level in LEVELS])

    def causes(self) -> dict[str, Floats]:
        """Give the standard effect of each cause of doubt on the content at the levels, kg/kg."""
        activities, rests = np.array(self.activities), self.rests()
        slopes = np.array([self._slope(a) for a in activities])
        contents = contents_at_levels(1.0, float(HYSTERESIS.value.magnitude), rests)
        steps = np.diff(contents, prepend=0.5 * contents[0])  # the first begins half dry
        kelvin = pressure_pa(self.celsius + 0.5) / pressure_pa(self.celsius - 0.5) - 1
        found = {
            "not at rest": -_NOT_AT_REST * steps,
            "while weighed": -_WHILE_WEIGHED * (activities - _ROOM),
        }
        for salt in dict.fromkeys(level.salt for level in LEVELS):
            u = _activity(salt, self.celsius)[1]
            found[salt] = np.array([u if level.salt == salt else 0.0 for level in LEVELS]) * slopes
        for number, level in enumerate(LEVELS):
            single = np.zeros(len(LEVELS))
            single[number] = slopes[number] * activities[number] * kelvin * _UNEVEN
            found[f"temperature, {level.key}"] = single
        shapes = _shapes(self.paper, self.celsius)
        for number, shape in enumerate(shapes):
            found[f"shape {number}"] = np.array(shape) * rests / math.sqrt(len(shapes))
        return found

    def _slope(self, activity: float) -> float:
        own, step = isotherm_of(self.paper), 0.005
        high, low = (own.content(activity + way * step, self.celsius) for way in (1, -1))
        return (high - low) / (2 * step)
