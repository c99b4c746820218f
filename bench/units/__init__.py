"""The one unit registry, the trade's own units, and how quantities are read and written.

Relative humidity is a dimensionless quantity in code (``Q_(98, "percent")`` or
``Q_(0.98, "")``) and percent on screens.  Temperatures are ``Q_(25, "degC")``, differences
of temperature are in kelvin.
"""

from bench.units.reading import (
    brings_unit,
    parse_quantity,
    read_count,
    read_in_unit,
    read_numbers,
    to_float,
    to_humidity,
)
from bench.units.registry import (
    MILLIMETRES,
    Q_,
    THOUSANDTHS,
    Quantity,
    UnitChoice,
    difference_unit,
    name_of,
    own_unit,
    unit_label,
    unit_name,
    ureg,
)
from bench.units.saying import (
    Amount,
    Told,
    join_words,
    lower_first,
    say,
    say_count,
    say_error,
    say_length,
    say_minutes,
    say_minutes_range,
    say_range,
    say_value,
    say_whole,
    upper_first,
    write_number,
)

__all__ = [
    "MILLIMETRES",
    "Q_",
    "THOUSANDTHS",
    "Amount",
    "Quantity",
    "Told",
    "UnitChoice",
    "brings_unit",
    "difference_unit",
    "join_words",
    "lower_first",
    "name_of",
    "own_unit",
    "parse_quantity",
    "read_count",
    "read_in_unit",
    "read_numbers",
    "say",
    "say_count",
    "say_error",
    "say_length",
    "say_minutes",
    "say_minutes_range",
    "say_range",
    "say_value",
    "say_whole",
    "to_float",
    "to_humidity",
    "unit_label",
    "unit_name",
    "upper_first",
    "ureg",
    "write_number",
]
