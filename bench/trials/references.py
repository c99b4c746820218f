"""What instruments are held against: gauges and weights, asked for and read alike, and made up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench.errors import BadValue
from bench.treatment.instrument_kinds import InstrumentKind
from bench.treatment.measured import Constant
from bench.treatment.needed import Instrument, instruments_for
from bench.trials.comparing import LAST, Against, CheckResult, reference, shown
from bench.trials.protocol import Asked, Readings
from bench.units import upper_first

_ORDINALS = ("first", "second", "third")


@dataclass(frozen=True)
class AskedReference:
    """What is asked of one gauge or weight.

    Attributes
    ----------
    name : str
        ``"first gauge"``.
    held, within, seen : Asked
        What it is, how exact that is, and what the instrument shows.
    """

    name: str
    held: Asked
    within: Asked
    seen: Asked


def ask_references(
    what: str, unit: str, high: float, usual: tuple[float, ...], within: float
) -> tuple[AskedReference, ...]:
    """Ask for three of a kind, the third of them optional."""
    found = []
    for number, (order, value) in enumerate(zip(_ORDINALS, usual, strict=True), start=1):
        name, spare = f"{order} {what}", order == "third"
        plain = "mm" if unit == "thickness" else unit
        held = Asked(
            f"held-{number}",
            f"{upper_first(name)} is",
            unit,
            1e-3 * high,
            high,
            usual=None if spare else value,
            is_optional=spare,
            group=upper_first(name),
            hint="as its certificate or its maker says",
        )
        tolerance = Asked(
            f"within-{number}",
            f"{upper_first(name)} is exact to ±",
            plain,
            1e-6 * high,
            1e-2 * high,
            usual=within * max(value / usual[1], 0.5),
            is_optional=spare,
            hint="a limit, as its maker or its class allows",
        )
        seen = Asked(
            f"shown-{number}",
            f"Shown for the {name}",
            unit,
            5e-4 * high,
            2 * high,
            most=10,
            is_optional=spare,
            hint="lift it off between, five times or more",
        )
        found.append(AskedReference(name, held, tolerance, seen))
    return tuple(found)


def find_tool(quantity: str, about: str) -> Instrument:
    """Find an instrument by its name.

    Raises
    ------
    BadValue
        There is none of that name.
    """
    known = instruments_for(quantity)
    names = [each.name for each in known]
    if about not in names:
        raise BadValue("instrument", repr(about), ", ".join(names), "Choose one of these")
    return known[names.index(about)]


def hold_against(
    readings: Readings, each: AskedReference, tool: Instrument, own: Mapping[str, float], *, is_share: bool
) -> Against:
    """Give what is to be added to one reading."""
    held, within = readings.number(each.held), readings.number(each.within)
    seen = shown(readings, each.seen, tool.step)
    at = float(seen.value.magnitude)
    if abs(at - held) > 0.2 * held:
        unit = each.seen.plain_unit
        allowed = f"within a fifth of {held:g} {unit}"
        raise BadValue(each.seen.label, f"{at:g} {unit}", allowed, "Look for a slip, or for the wrong one")
    doubts = {f"limit of the reference, {each.name}": within / math.sqrt(3)}
    return Against(each.name, at, reference(held, {**doubts, **own}) - seen, at if is_share else 1.0)


def held_of(readings: Readings, references: tuple[AskedReference, ...]) -> list[AskedReference]:
    """Give the references that were used: all, or those without the third; it may not be half entered."""
    return [
        each
        for each in references
        if not each.held.is_optional or readings.has(each.held) or readings.has(each.seen)
    ]


def say_found(tool: Instrument, result: CheckResult, unit: str) -> str:
    """Say what was found and what follows."""
    name = upper_first(f"the {tool.name}")
    way = "too little" if result.number > 0 else "too much"
    found = f"{name} shows {way}" if abs(result.number) > result.expanded else f"{name} shows no sure error"
    _, _, before = result.sought.before.floats(unit, field="correction")
    label = "%" if unit == "percent" else unit
    return (
        f"{found}: {result.say()} is added to what it shows from today on, in plans and report. What is left "
        f"is ± {result.expanded:.2g} {label} in place of ± {before:.2g} {label}, shared by all its readings: "
        "it cancels in differences."
    )


def make_up_references(
    references: tuple[AskedReference, ...],
    tool: Instrument,
    error: float,
    rng: np.random.Generator | None,
    *,
    shared: float,
    own: float,
    is_share: bool,
    repeats: int = 5,
) -> dict[str, tuple[float, ...]]:
    """Make up what is read of the references; ``error`` is what would have to be added."""
    step = float(tool.step.magnitude)
    always = 0.0 if rng is None else shared * rng.uniform(-0.5, 0.5)
    read: dict[str, tuple[float, ...]] = {}
    for each in references[:2]:
        assert each.held.usual is not None
        assert each.within.usual is not None
        held, within = each.held.usual, each.within.usual
        true = held if rng is None else held + within * rng.uniform(-1, 1)
        true += 0.0 if rng is None else own * rng.uniform(-1, 1)
        shows = true / (1 + error) if is_share else true - error
        seen = np.full(repeats, shows - always)
        if rng is not None:
            seen = np.round((seen + rng.normal(0.0, step, repeats)) / step) * step
        read |= {each.held.key: (held,), each.within.key: (within,), each.seen.key: tuple(map(float, seen))}
    return read


def readings_of(about: str, asked: Sequence[Asked], read: Mapping[str, Sequence[float]]) -> Readings:
    """Give plain numbers, by the keys of what was asked, as readings."""
    by_key = {each.key: each for each in asked}
    return Readings(
        about, {key: tuple(by_key[key].quantity(v) for v in values) for key, values in read.items()}
    )


def check_name(about: str, kind: InstrumentKind) -> None:
    """Check that an instrument is one of its kind.

    Raises
    ------
    BadValue
        It is not.
    """
    if about not in kind.instruments:
        raise BadValue("instrument", repr(about), ", ".join(kind.instruments), "Choose one of these")


def ask_step(unit: str, low: float, high: float, usual: float) -> Asked:
    """Ask for the step of an instrument."""
    return Asked(
        "step",
        "Smallest step that it shows",
        unit,
        low,
        high,
        usual=usual,
        group="The instrument",
        hint="one of its last digit",
    )


def show_noisy(true: float, step: float, rng: np.random.Generator | None, repeats: int = 5) -> list[float]:
    """Give repeated readings of a value: they scatter by a step, and show whole steps."""
    if rng is None:
        return [true] * repeats
    return list(map(float, np.round((true + rng.normal(0.0, step, repeats)) / step) * step))


def ask_last(constant: Constant, span: float, *, where: str = "", group: str = "") -> Asked:
    """Ask for the correction that was found the last time."""
    return Asked(
        f"{LAST}-{constant.key}",
        f"Correction found last time{where}",
        constant.unit,
        -span,
        span,
        is_optional=True,
        group=group,
        hint="if it was checked as long ago as the next check is ahead; its drift is then taken from that",
    )
