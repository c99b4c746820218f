"""From the choices that a stage declares to the fields of its panel, and back."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from bench.panels.field import Field
from bench.panels.fields import ChoiceField, GroupLabel, NumberField, SegmentField, StepField, TickField
from bench.treatment.choices import Choice, Control, declared

NO_FIELDS: Mapping[str, Sequence[Field]] = {}


def build_fields(
    usual: object, by_hand: Mapping[str, Sequence[Field]] = NO_FIELDS, *, but: Collection[str] = ()
) -> list[Field | GroupLabel]:
    """Build the fields of the choices that a stage declares, in order and under their headings.

    Parameters
    ----------
    usual : object
        Choices of the stage: what they hold is proposed.
    by_hand : mapping of str to sequence of Field
        Fields of the choices that the panel asks for in its own way, by the key of the choice.
    but : collection of str
        Keys of those that are left out.
    """
    built: list[Field | GroupLabel] = []
    heading = ""
    for name, choice in declared(type(usual)).items():
        heading = choice.group or heading
        if choice.key in but:
            continue
        if heading:
            built.append(GroupLabel(heading))
            heading = ""
        built += by_hand.get(choice.key) or [_build(choice, choice.shown(getattr(usual, name)))]
    return built


def _build(choice: Choice, value: Any) -> Field:
    key, label, hint = choice.key, choice.label, choice.hint
    if choice.control is Control.NUMBER:
        least, most = choice.ends
        optional = choice.is_optional
        return NumberField(key, label, value, choice.unit, low=least, high=most, optional=optional, hint=hint)
    if choice.control is Control.STEPS:
        low, high = (round(end or 0) for end in (choice.low, choice.high))
        return StepField(key, label, value, low, high, hint=hint)
    if choice.control is Control.TICK:
        return TickField(key, label, value, hint=hint)
    control = SegmentField if choice.control is Control.SEGMENT else ChoiceField
    return control(key, label, choice.options(), value, hint=hint)


def read_fields(kind: type, values: Mapping[str, Any]) -> dict[str, Any]:
    """Read the fields back as what the choices of a stage are made of.

    Those that are asked for by hand, and those that no field asks for, are left out.

    Parameters
    ----------
    kind : type
        Choices of the stage.
    values : mapping of str to object
        By the keys of the fields.
    """
    return {
        name: choice.taken(values[choice.key])
        for name, choice in declared(kind).items()
        if choice.control is not Control.BY_HAND and choice.key in values
    }


def first_keys(kind: type) -> list[str]:
    """Give the keys of the choices that a usual cycle asks for."""
    return [choice.key for choice in declared(kind).values() if choice.is_first]
