"""Fields that say what the chamber is, shared by the panels that plan it and that weigh in it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any

from bench.panels.declared import build_fields, read_fields
from bench.panels.field import Field
from bench.panels.fields import ChoiceField, GroupLabel
from bench.physics.ranges import Range
from bench.physics.salts import salt_humidity, salt_names
from bench.physics.transient.inputs import AS_PUBLISHED, TRANSPORT_RATIO
from bench.treatment.entries import Entry
from bench.treatment.humidity import HumidityChoices, Source
from bench.treatment.humidity.plan import MACHINE, WATER, source_of
from bench.treatment.pressing import PressingChoices
from bench.treatment.weighing.reading import say_factor
from bench.units import Q_

_DAMP = 60.0  # % RH: a drier salt dries an item from an ordinary room
_WEIGHED = "weighed"
TRANSPORT = "How easily vapour passes the pile"
"""Label of the field."""
_RATIOS = {
    "not known": TRANSPORT_RATIO,
    "soft, open paper": Range(Q_(0.055, ""), Q_(0.03, ""), Q_(0.1, "")),
    "dense or coated paper": Range(Q_(0.018, ""), Q_(0.01, ""), Q_(0.03, "")),
}
"""Halves of the range from memory, divided at its middle: judgement, until the item is weighed."""


def _sources() -> list[tuple[str, str]]:
    """Name the sources with what they hold in a cool room."""
    room = HumidityChoices().air_temperature
    held = {salt: float(salt_humidity(salt, temperature=room).humidity.magnitude) for salt in salt_names()}
    salts = [(f"{salt} ({percent:.0f} %)", salt) for salt, percent in held.items() if percent > _DAMP]
    return [*salts, ("wet felt or blotter", WATER), ("a machine that holds a humidity", MACHINE)]


def _source_key(usual: HumidityChoices) -> str:
    return {Source.WATER: WATER, Source.GIVEN: MACHINE}.get(usual.source, usual.salt)


def chamber_fields(usual: HumidityChoices, *, but: Collection[str] = ()) -> list[Field | GroupLabel]:
    """Give the fields of source, chamber, item and clock; those of the source show what it is asked for."""
    source = ChoiceField("source", "Source", _sources(), _source_key(usual))
    by_hand: dict[str, list[Field]] = {"source": [source], "ratio": [transport_field(usual)]}
    built = build_fields(usual, by_hand, but=but)
    by_key = {entry.key: entry for entry in built if isinstance(entry, Field)}
    by_key["given"].use_while(source, lambda kind: kind == MACHINE)
    by_key["area"].use_while(source, lambda kind: kind != MACHINE)
    return built


def read_chamber(values: Mapping[str, Any]) -> dict[str, Any]:
    """Read these fields as what :class:`HumidityChoices` is made of."""
    source, salt = source_of(values["source"])
    given = values["given"] if source is Source.GIVEN else None
    return {
        **read_fields(HumidityChoices, values),
        "source": source,
        "salt": salt,
        "given_humidity": given,
    }


def transport_field(usual: HumidityChoices | PressingChoices) -> ChoiceField:
    """Give the field of how easily vapour passes the pile; what was weighed stands first."""
    options = [(name, name) for name in _RATIOS]
    hint = "weigh to know"
    if usual.weighed:
        options.insert(0, (f"from weighings: {usual.weighed}, {say_factor(usual.transport_ratio)}", _WEIGHED))
        hint = f"with {say_factor(usual.isotherm_scale)} times the water of the published isotherm"
    return ChoiceField("ratio", TRANSPORT, options, options[0][1], hint=hint)


def entered_transport(entered: Iterable[Entry], usual: HumidityChoices) -> dict[str, Any]:
    """Read what was entered in that field out of what a record keeps; nothing where nothing was."""
    kept = [entry.kept for entry in entered if entry.is_of("ratio", TRANSPORT)]
    is_known = kept and (kept[-1] in _RATIOS or (kept[-1] == _WEIGHED and usual.weighed))
    return read_transport({"ratio": kept[-1]}, usual) if is_known else {}


def read_transport(values: Mapping[str, Any], usual: HumidityChoices | PressingChoices) -> dict[str, Any]:
    """Read that field as the fields of the choices: both constants and where they come from."""
    if values["ratio"] == _WEIGHED:
        return {name: getattr(usual, name) for name in ("transport_ratio", "isotherm_scale", "weighed")}
    return {"transport_ratio": _RATIOS[values["ratio"]], "isotherm_scale": AS_PUBLISHED, "weighed": ""}
