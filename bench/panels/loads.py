"""Fields for the load on the item, shared by the panels that need it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from bench.errors import BadValue
from bench.panels.base import Panel
from bench.panels.fields import ChoiceField, Field, NumberField
from bench.physics.contact import (
    HIGHEST_LOAD,
    LOAD_WORDS,
    most_pressure,
    pressure_from_force,
    pressure_from_gauge,
    pressure_from_mass,
    pressure_from_word,
    spread_load,
)
from bench.physics.ranges import Range
from bench.units import Q_, Quantity, say, to_float

_BY = {
    "by a word": "word",
    "by mass on top": "mass",
    "by force of the press": "force",
    "by the gauge of a ram": "gauge",
    "as pressure": "pressure",
}
LOAD_NUMBER = "Mass in kg, force in N, gauge in bar, or pressure in kPa"
"""Label under which a record keeps the number of the load."""
RAM_AREA = "Area of the ram or bladder"


@dataclass(frozen=True)
class _Asked:
    """How the field asks for the number of one kind of load."""

    name: str
    unit: str
    hint: str


_ASKED = {
    "mass": _Asked("Mass on top", "kg", "or with its unit, like 26 lb"),
    "force": _Asked("Force of the press", "N", "or with its unit, like 26 lbf"),
    "gauge": _Asked("Gauge of the ram", "bar", "or with its unit, like 20 psi"),
    "pressure": _Asked("Pressure on the face", "kPa", "or with its unit, like 0.5 psi"),
}


LOAD = ("load_by", "load_word", "load_number", "ram_area")
"""Keys of the fields that say how hard the item is pressed."""
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
    by = ChoiceField("load_by", "Load is known", list(known.items()), start)
    in_a_word = ChoiceField("load_word", "Load in a word", words, word)
    in_a_word.use_while(by, lambda kind: kind == "word")
    area = NumberField(
        "ram_area", RAM_AREA, None, "cm^2", low=Q_(0.1, "cm^2"), high=Q_(5000.0, "cm^2"), optional=True
    )
    area.use_while(by, lambda kind: kind == "gauge")
    return [by, in_a_word, LoadField(by), area]


class LoadField(NumberField):
    """The number of the load, in the unit of what another field says is known of it."""

    def __init__(self, by: Field) -> None:
        self._by = by
        super().__init__("load_number", LOAD_NUMBER, None, "kg", low=Q_(0.0, "kg"), optional=True)
        by.widget.observe(self._ask, names="value")
        self._ask(None)
        self.use_while(by, lambda kind: kind in _ASKED)

    def _ask(self, _: object) -> None:
        """Ask for the kind of load that is chosen; the text stays, and is read in its unit."""
        asked = _ASKED.get(self._by.widget.value)
        if asked is None:
            return
        self._name, self._kind, self.hint = asked.name, asked.unit, asked.hint
        self._unit, self._low = asked.unit, Q_(0.0, asked.unit)
        self._label()

    def _propose(self, value: Quantity | None) -> None:
        """Enter what was saved; it stands for itself, as a number of another kind would not be."""
        super()._propose(value)
        self._proposed = None

    def kept(self) -> str:
        """Write the number with its unit; nothing while no number is asked for."""
        return super().kept() if self._by.widget.value in _ASKED else ""


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
    asked, given = _ASKED[by], values["load_number"]
    if given is None:
        remedy = "Enter it, or choose a load by a word"
        raise BadValue(asked.name, "empty", f"a number of {asked.unit} above zero", remedy)
    number = float(given.to(asked.unit).magnitude)
    if number == 0:
        came = f"0 {asked.unit}"
        raise BadValue(asked.name, came, "a number above zero", "Without a load there is no pressing")
    for_one, _ = _read_pressure(by, Q_(1.0, asked.unit), "1", values, area)
    most = float((most_pressure() / for_one).to("").magnitude)
    remedy = f"More than {HIGHEST_LOAD:.0f~P} on the face, its uncertainty included, would crush the item"
    to_float(given, asked.unit, field=asked.name, low=0.0, high=most, remedy=remedy)
    pressure, words = _read_pressure(by, Q_(number, asked.unit), f"{number:.4g}", values, area)
    return spread_load(pressure), f"{words}, {say(pressure, 'kPa')}"


def _read_pressure(
    by: str, given: Quantity, shown: str, values: Mapping[str, Any], area: Quantity
) -> tuple[Quantity, str]:
    """Turn a number above zero into the pressure on the face and the words for it."""
    if by == "mass":
        return pressure_from_mass(given, area=area), f"{shown} kg on top"
    if by == "force":
        return pressure_from_force(given, area=area), f"{shown} N"
    if by == "pressure":
        return given, "given as pressure"
    ram = values["ram_area"]
    if ram is None:
        raise BadValue(RAM_AREA, "empty", "an area in cm²", "Measure what the gauge's pressure acts on")
    words = f"{shown} bar on {float(ram.to('cm^2').magnitude):g} cm²"
    return pressure_from_gauge(given, piston_area=ram, area=area), words
