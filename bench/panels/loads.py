"""Fields for the load on the item, shared by the panels that need it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bench.errors import BadValue
from bench.panels.base import Panel
from bench.panels.fields import ChoiceField, Field, NumberField
from bench.physics.contact import (
    LOAD_WORDS,
    pressure_from_force,
    pressure_from_gauge,
    pressure_from_mass,
    pressure_from_word,
)
from bench.physics.ranges import Range
from bench.units import Q_, Quantity, say

_BY = {
    "by a word": "word",
    "by mass on top": "mass",
    "by force of the press": "force",
    "by the gauge of a ram": "gauge",
    "as pressure": "pressure",
}
LOAD_NUMBER = "Mass in kg, force in N, gauge in bar, or pressure in kPa"
RAM_AREA = "Area of the ram or bladder"
# A weighed or gauged load is even over the face to within a fifth at best; from memory.
_EVENNESS = 0.2


BY_HEIGHT = "the press set by height"


def load_fields(planned: tuple[Range, str] | None = None, *, by_height: bool = False) -> list[Field]:
    """Build the fields that say how hard the item is pressed.

    Parameters
    ----------
    planned : (Range, str), optional
        Load as an earlier stage planned it, with its words; offered first.
    by_height : bool
        Offer a press whose load is not known but whose closed height is.
    """
    known, start, word = _ways(planned, by_height=by_height)
    words = [
        (f"{word} ({r.low.magnitude:g} to {r.high.magnitude:g} kPa)", word) for word, r in LOAD_WORDS.items()
    ]
    return [
        ChoiceField("load_by", "Load is known", list(known.items()), start),
        ChoiceField("load_word", "Load in a word", words, word, hint="used when known by a word"),
        NumberField(
            "load_number",
            LOAD_NUMBER,
            None,
            "dimensionless",
            low=Q_(0.0, ""),
            high=Q_(50000.0, ""),
            optional=True,
            hint="used when known by a number",
        ),
        NumberField(
            "ram_area",
            RAM_AREA,
            None,
            "cm^2",
            low=Q_(0.1, "cm^2"),
            high=Q_(5000.0, "cm^2"),
            optional=True,
            hint="used with a gauge",
        ),
    ]


def _ways(planned: tuple[Range, str] | None, *, by_height: bool = False) -> tuple[dict[str, str], str, str]:
    """Give the ways in which a load may be known, the one to begin with, and the word to begin with."""
    known = dict(_BY)
    if by_height:
        known["by the height it closes to"] = "height"
    if planned is None or planned[1] in LOAD_WORDS:
        return known, "word", "medium" if planned is None else planned[1]
    return {f"as planned: {planned[1]}": "planned", **known}, "planned", "medium"


def propose_load(panel: Panel, planned: tuple[Range, str]) -> None:
    """Propose a load that was planned anew since the fields were built; what was entered stays."""
    known, start, word = _ways(planned)
    way = panel.field("load_by").widget
    if list(way.options) != list(known.items()):
        kept = way.value
        way.options = list(known.items())
        way.value = kept if kept in known.values() else start
    panel.propose("load_word", word)
    panel.propose("load_by", start)


def read_load(
    values: Mapping[str, Any], area: Quantity, planned: tuple[Range, str] | None = None
) -> tuple[Range | None, str]:
    """Turn the fields into a range of pressure and the words for it.

    Returns
    -------
    load : Range [kPa] or None
        None for a press set by height.
    words : str

    Raises
    ------
    BadValue
        A load known by a number whose number is missing or impossible.
    """
    by = values["load_by"]
    if by == "height":
        return None, BY_HEIGHT
    if by == "planned" and planned is not None:
        return planned
    if by == "word":
        return pressure_from_word(values["load_word"]), values["load_word"]
    if values["load_number"] is None:
        remedy = "Enter it, or choose a load by a word"
        raise BadValue(LOAD_NUMBER, "empty", "a number above zero", remedy)
    number = float(values["load_number"].magnitude)
    if number == 0:
        raise BadValue(LOAD_NUMBER, "0", "a number above zero", "Without a load there is no pressing")
    if by == "mass":
        pressure, words = pressure_from_mass(Q_(number, "kg"), area=area), f"{number:g} kg on top"
    elif by == "gauge":
        if values["ram_area"] is None:
            raise BadValue(RAM_AREA, "empty", "an area in cm²", "Measure what the gauge's pressure acts on")
        ram = values["ram_area"]
        pressure = pressure_from_gauge(Q_(number, "bar"), piston_area=ram, area=area)
        words = f"{number:g} bar on {float(ram.to('cm^2').magnitude):g} cm²"
    elif by == "force":
        pressure, words = pressure_from_force(Q_(number, "N"), area=area), f"{number:g} N"
    else:
        pressure, words = Q_(number, "kPa"), "given as pressure"
    spread = Range(pressure, (1 - _EVENNESS) * pressure, (1 + _EVENNESS) * pressure)
    return spread, f"{words}, {say(pressure, 'kPa')}"
