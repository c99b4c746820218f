"""Fields that say what the chamber is, shared by the panels that plan it and that weigh in it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from bench.panels.declared import build_fields, read_fields
from bench.panels.field import Field
from bench.panels.fields import ChoiceField, GroupLabel
from bench.physics.salts import salt_humidity, salt_names
from bench.treatment.choices import declared
from bench.treatment.humidity import HumidityChoices, Source
from bench.treatment.humidity.plan import MACHINE, WATER, source_of
from bench.treatment.transport import KEY, LABEL, RATIOS, WEIGHED, KnowsPile
from bench.treatment.weighing.reading import say_factor

_DAMP = 60.0  # % RH: a drier salt dries an item from an ordinary room


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
    asked = declared(HumidityChoices)["source"]
    source = ChoiceField(asked.key, asked.label, _sources(), _source_key(usual))
    by_hand: dict[str, list[Field]] = {"source": [source], KEY: [transport_field(usual)]}
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


def transport_field(usual: KnowsPile) -> ChoiceField:
    """Give the field of how easily vapour passes the pile; what was weighed stands first."""
    options = [(name, name) for name in RATIOS]
    hint = "weigh to know"
    if usual.weighed:
        options.insert(0, (f"from weighings: {usual.weighed}, {say_factor(usual.transport_ratio)}", WEIGHED))
        hint = f"with {say_factor(usual.isotherm_scale)} times the water of the published isotherm"
    return ChoiceField(KEY, LABEL, options, options[0][1], hint=hint)
