"""Other ways to set a humidity chamber up, beside the chosen one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.physics.transient import History, hours_until
from bench.treatment.humidity.plan import ChamberAlternative, HumidityChoices
from bench.treatment.humidity.source import Source
from bench.treatment.humidity.uptake import Setting, read_choices
from bench.treatment.prediction import LOOSE, follow_together
from bench.units import Quantity, to_humidity

SALTS_TO_COMPARE = ("potassium sulphate", "potassium chloride", "sodium chloride")
_SAME = 0.05  # % RH within which two sources are one
_NOTABLE = 1.0  # % RH from which a difference is worth a word: judgement
_LAST = "the leaf that the damp reaches last"
_NOTHING_NOTABLE = f"With this source no other way changes {_LAST} by as much as 1 % RH."


def compare_ways(setting: Setting, highest: Quantity | None) -> tuple[ChamberAlternative, ...]:
    """Weigh the choice against other faces, a larger or stirred source, and other salts.

    Parameters
    ----------
    setting : Setting
    highest : Quantity [dimensionless] or None
        Humidity that may not be passed.

    Returns
    -------
    tuple of ChamberAlternative
        The choice first; a source that is drier than the item is left out.
    """
    own = _weigh("this chamber", setting, setting.likely, highest)
    ways = [(words, way) for words, way in _set_up(setting) if _is_damper(way)]
    histories = follow_together(tuple(replace(way.course, tolerance=LOOSE) for _, way in ways))
    pairs = zip(ways, histories, strict=True)
    return own, *(_weigh(words, way, history, highest) for (words, way), history in pairs)


def say_ways(ways: Sequence[ChamberAlternative]) -> str:
    """Say which change gains and which loses most in the leaf that the damp reaches last.

    Parameters
    ----------
    ways : sequence of ChamberAlternative
        The choice first, as :func:`compare_ways` gives them.
    """
    own, *others = ways
    same = [way for way in others if abs(way.held - own.held) < _SAME]
    best, worst = (pick(same, key=lambda way: way.core, default=own) for pick in (max, min))
    words = []
    if best.core - own.core >= _NOTABLE:
        words.append(f"is helped most by {best.words}: {best.core:.0f} % RH instead of {own.core:.0f}")
    if own.core - worst.core >= _NOTABLE:
        words.append(f"suffers most from {worst.words}: {worst.core:.0f} % RH instead of {own.core:.0f}")
    said = f"With this source {_LAST} {', and '.join(words)}." if words else _NOTHING_NOTABLE
    sources = [f"{way.core:.0f} % {way.words}" for way in others if way not in same and way.is_allowed]
    forbidden = [way.words.removeprefix("over ") for way in others if not way.is_allowed]
    said += f" With another source it would be at {', '.join(sources)}." if sources else ""
    return said + (f" Intake does not allow {' or '.join(forbidden)}." if forbidden else "")


def _set_up(setting: Setting) -> list[tuple[str, Setting]]:
    ways = _ways(setting.choices)
    return [(words, replace(setting, choices=way, held=read_choices(way))) for words, way in ways]


def _is_damper(setting: Setting) -> bool:
    return to_humidity(setting.held.step_end) > to_humidity(setting.choices.start_humidity)


def _ways(choices: HumidityChoices) -> Sequence[tuple[str, HumidityChoices]]:
    ways = []
    if choices.faces == "both":
        ways.append(("one face on a solid base", replace(choices, faces="one")))
    else:
        ways.append(("both faces free on a rack", replace(choices, faces="both")))
    if choices.source is not Source.GIVEN:
        ways.append(("twice the wet area", replace(choices, source_area=2 * choices.source_area)))
        words = "air left still" if choices.is_fanned else "air stirred by a fan"
        ways.append((words, replace(choices, is_fanned=not choices.is_fanned)))
    for salt in SALTS_TO_COMPARE:
        if choices.source is not Source.SALT or salt != choices.salt:
            ways.append((f"over {salt}", replace(choices, source=Source.SALT, salt=salt)))
    return ways


def _weigh(words: str, setting: Setting, history: History, highest: Quantity | None) -> ChamberAlternative:
    choices, held = setting.choices, setting.held
    mean, core = (
        float(history.at(history.humidity(place), choices.planned).magnitude)
        for place in ("mean", setting.place)
    )
    hours = hours_until(history, choices.wanted_humidity, place=setting.place)
    return ChamberAlternative(
        words=words,
        held=held.percent,
        mean=mean,
        core=core,
        hours=None if hours is None else float(hours.magnitude),
        is_allowed=highest is None or held.is_within(highest),
    )
