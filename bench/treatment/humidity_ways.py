"""Other ways to set a humidity chamber up, beside the chosen one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from bench.physics.transient import hours_until
from bench.treatment.humidity_plan import Alternative, HumidityChoices
from bench.treatment.humidity_source import Source
from bench.treatment.humidity_uptake import Setting, read_choices
from bench.treatment.prediction import LIKELY, LOOSE, follow
from bench.units import Quantity, to_humidity

SALTS_TO_COMPARE = ("potassium sulphate", "potassium chloride", "sodium chloride")
_OWN = "this chamber"


def compare_ways(setting: Setting, highest: Quantity | None) -> tuple[Alternative, ...]:
    """Weigh the choice against other faces, a larger or stirred source, and other salts.

    Parameters
    ----------
    setting : Setting
    highest : Quantity [dimensionless] or None
        Humidity that may not be passed.

    Returns
    -------
    tuple of Alternative
        The choice first; a source that is drier than the item is left out.
    """
    found = (_weigh(setting, words, way, highest) for words, way in _ways(setting.choices))
    return tuple(way for way in found if way is not None)


def _ways(choices: HumidityChoices) -> Sequence[tuple[str, HumidityChoices]]:
    ways = [(_OWN, choices)]
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


def _weigh(
    setting: Setting, words: str, choices: HumidityChoices, highest: Quantity | None
) -> Alternative | None:
    held = read_choices(choices)
    if to_humidity(held.step_end) <= to_humidity(choices.start_humidity):
        return None
    way = replace(setting, choices=choices, held=held)
    history = follow(way.over(held.step_end), way.start, way.inputs, None, LIKELY if words == _OWN else LOOSE)
    mean, core = (
        float(history.at(history.humidity(place), choices.planned).magnitude) for place in ("mean", way.place)
    )
    hours = hours_until(history, choices.wanted_humidity, place=way.place)
    return Alternative(
        words=words,
        held=held.percent,
        mean=mean,
        core=core,
        hours=None if hours is None else float(hours.magnitude),
        is_allowed=highest is None or held.is_within(highest),
    )
