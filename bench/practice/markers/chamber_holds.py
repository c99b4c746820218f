"""What a chamber holds at the item: a salt at its own temperature, a hygrometer that is off, a cold base."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from bench.materials import look_up
from bench.physics.ranges import Range, spread
from bench.physics.saturation import pressure_pa
from bench.practice.drawing import Drawn
from bench.practice.marking import number_of
from bench.practice.shapes import Question, Reply, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.humidity.source import HeldHumidity, Source, read_source
from bench.units import Q_, Quantity, say

WRONG = {
    "trusted-hygrometer": "trusted a hygrometer near saturation that nobody checked there",
    "salt-from-memory": "took the value of the salt at 25 °C from memory, and the chamber is not that warm",
    "forgot-cold-base": "gave the air of the chamber and forgot the base, which is colder than the air",
}
_KELVIN = 0.1  # to which two thermometers that were compared agree: judgement
_REMEMBERED = 25.0  # °C, at which tables are learnt by heart


@dataclass(frozen=True)
class Chamber:
    """A chamber as it is at rest.

    Attributes
    ----------
    salt : str
        By its name in the materials table.
    air, base : float
        Temperatures in °C; the item lies on the base.
    shown : float
        What the hygrometer in the air shows, percent.
    """

    salt: str
    air: float
    base: float
    shown: float

    @property
    def held(self) -> HeldHumidity:
        """What the source holds in the air, and how near its air is to condensing on the base."""
        return read_source(
            Source.SALT,
            air_temperature=Q_(self.air, "degC"),
            wall_temperature=Q_(self.base, "degC"),
            salt=self.salt,
        )

    def at(self, surface: float) -> float:
        """Give the humidity in percent at a surface of so many °C: as much vapour, but it holds less."""
        return at_surface(self.held.percent, self.air, surface)


def at_surface(percent: float, air: float, surface: float) -> float:
    """Give the relative humidity in percent at a surface that is not as warm as the air; both in °C."""
    return percent * pressure_pa(air) / pressure_pa(surface)


def draw_chamber(rng: np.random.Generator) -> Chamber:
    """Draw a chamber in a cool workroom, its base on a cold bench and still above the dew point."""
    salt = str(rng.choice(("potassium chloride", "potassium nitrate")))
    air = round(float(rng.uniform(15.0, 17.6)), 1)
    most = {"potassium chloride": (0.6, 1.7), "potassium nitrate": (0.35, 0.6)}[salt]
    base = round(air - float(rng.uniform(*most)), 1)
    held = read_source(Source.SALT, air_temperature=Q_(air, "degC"), salt=salt).percent
    off = float(rng.uniform(3.5, 7.0)) * (1 if rng.random() < 0.3 else -1)
    return Chamber(salt, air, base, round(min(99.0, held + off)))


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Work out what the lowest leaf comes to rest at: the salt at its temperature, taken to the base."""
    chamber = draw_chamber(drawn.rng)
    held = chamber.held
    right = _with_doubt(chamber)
    salt_then = look_up(chamber.salt, f"humidity at {_REMEMBERED:g} degC").number("percent")
    from_memory = at_surface(salt_then, chamber.air, chamber.base)
    drop = chamber.air - chamber.base
    rise = chamber.at(chamber.base) - held.percent
    said, air_said = right.say("percent"), held.humidity.say("percent")
    return Solution(
        right=right.value,
        holds=right,
        wrong=(
            WrongWay("trusted-hygrometer", Q_(chamber.shown, "percent"), _say_off(right, chamber.shown)),
            WrongWay(
                "salt-from-memory", Q_(from_memory, "percent"), _say_memory(from_memory, chamber, right)
            ),
            WrongWay("forgot-cold-base", Q_(held.percent, "percent"), _say_base(held, chamber)),
        ),
        comes_of=partial(_comes_of, right),
        look=(
            *drawn.look,
            ("source", f"saturated {chamber.salt}, closed since yesterday"),
            ("air over the salt", f"{chamber.air:.1f} °C"),
            ("base, on which the item lies", f"{chamber.base:.1f} °C"),
            ("thermometers", f"compared with each other, alike to {_KELVIN:.1f} K"),
            ("hygrometer in the air", f"{chamber.shown:.0f} % RH, last checked at 33 % RH two years ago"),
            ("salt in the printed table", _say_table(chamber.salt)),
        ),
        steps=(
            f"The salt decides, at its own temperature: at {chamber.air:.1f} °C {chamber.salt} holds "
            f"{air_said} in the air.",
            f"The hygrometer shows {chamber.shown:.0f} %. Nobody checked it near saturation, so it decides "
            "nothing; the salt checks it.",
            f"The base is {drop:.1f} K colder. The vapour in the air is the same there, but colder air holds "
            "less.",
            f"The dew point is {say(held.dew_point, 'degC')}, so the base stays dry by "
            f"{_say_k(held.margin)}; "
            f"at the base humidity is higher by about 6.5 % of itself for each kelvin.",
            f"The lowest leaf comes to {said}, {rise:.0f} points above the air.",
        ),
        facts={
            "salt": chamber.salt,
            "air": f"{chamber.air:.1f} °C",
            "base": f"{chamber.base:.1f} °C",
            "held": air_said,
            "lowest": said,
            "margin": _say_k(held.margin),
        },
        plan=chamber,
    )


def _with_doubt(chamber: Chamber) -> Range:
    """Give the humidity at the base, from the doubts of the salt and of the two temperatures."""
    drop = chamber.air - chamber.base
    held = chamber.held.humidity.floats("percent", field="humidity over the salt")
    found = spread(
        lambda salt, cold: at_surface(salt, chamber.air, chamber.air - cold),
        salt=held,
        cold=(drop, drop - _KELVIN, drop + _KELVIN),
    )
    value, low, high = (min(100.0, each) for each in found)
    return Range.of((value, low, high), "percent")


def _say_table(salt: str) -> str:
    printed = ((t, look_up(salt, f"humidity at {t} degC").number("percent")) for t in (15, 20, 25))
    return ", ".join(f"{percent:.1f} % at {t} °C" for t, percent in printed)


def _say_k(kelvin: Quantity) -> str:
    return f"{float(kelvin.to('kelvin').magnitude):.1f} K"


def _comes_of(right: Range, reply: Reply) -> str:
    taken = number_of(reply, "percent")
    if taken > 100:
        return (
            "Air holds no more than 100 %: whatever comes on top runs down the walls and drips on the item."
        )
    return _say_off(right, taken)


def _say_off(right: Range, taken: float) -> str:
    """Say what comes of it who takes a humidity in percent for that of the lowest leaf."""
    off = taken - float(right.value.magnitude)
    points = f"{abs(off):.1f}" if abs(off) < 3 else f"{abs(off):.0f}"
    if off < 0:
        return (
            f"You would think the lowest leaf {points} points drier than it is, add water or wait longer, "
            "and find drops and tide lines where you looked for more damp."
        )
    return (
        f"You would think the lowest leaf {points} points damper than it is and take the item out too "
        "early: creases stay, and stiff fibres break under the board."
    )


def _say_memory(taken: float, chamber: Chamber, right: Range) -> str:
    short = float(right.value.magnitude) - taken
    return (
        f"The salt is damper when it is cool: you are {short:.1f} points short. In a cold room the item "
        "stands nearer to mould and to drops on the wall than you plan for."
    )


def _say_base(held: HeldHumidity, chamber: Chamber) -> str:
    more = chamber.at(chamber.base) - held.percent
    return (
        f"The back cover lies {more:.0f} points damper than you think, {_say_k(held.margin)} from wet. One "
        "cold night under the bench and it cockles, or sticks where it is coated."
    )


MARKER = Marker(
    question=Question(ReplyKind.NUMBER, "The lowest leaf comes to rest at", "percent"),
    solve=solve,
    wrong=WRONG,
    picture="chamber-holds",
)
