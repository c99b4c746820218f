"""What was entered in place of what was proposed, as a record keeps it: by key, in a unit of its own."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from pint import PintError

from bench.errors import BadValue
from bench.units import Q_, Quantity, own_unit, unit_label


@dataclass(frozen=True)
class Entry:
    """What an operator entered in place of what was proposed, as a record keeps it.

    Attributes
    ----------
    key : str
        Of the field; empty in a record from before entries had keys.
    label : str
        Of the field, as it read on that day.
    kept : str
        ``"40 degC"``, ``"6"``, ``"yes"`` or the value of an option; empty if the field was left empty.
    """

    key: str
    label: str
    kept: str

    def is_of(self, key: str, label: str) -> bool:
        """Tell whether it was entered in a field: by its key, and by its label where it has none."""
        return self.key == key if self.key else self.label == label


_UNIT = re.compile(r"(?:[^\W\d]|(?<=[^\W\d])[23]|[ /°%²³]|(?:\*\*|\^) ?[23]){0,40}")
"""A unit as an entry is kept with it: the library would work out any sum that stands there."""


def read_amount(kept: str, kind: str, *, field: str) -> Quantity:
    """Read a number as a record keeps it with its unit.

    Parameters
    ----------
    kept : str
        ``"40 degC"``, or a bare number in the kind's own unit.
    kind : str
        ``"thickness"``, ``"length"``, ``"temperature"`` or a unit.
    field : str
        For the error.

    Raises
    ------
    BadValue
        It is no finite number of such a unit.
    """
    amount, _, unit = kept.partition(" ")
    own = own_unit(kind)
    try:
        found = Q_(float(amount), unit or own).to(own) if _UNIT.fullmatch(unit) else None
    except (ValueError, PintError):
        found = None
    if found is None or not math.isfinite(found.magnitude):
        raise BadValue(field, repr(kept), f"a number of {unit_label(own)}".rstrip(), "Enter it again")
    return found


def write_entry(value: Any) -> str:
    """Write what stands on a control as a record keeps it."""
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)
