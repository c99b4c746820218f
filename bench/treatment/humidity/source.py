"""What the source of a humidity chamber holds, and where it would condense."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bench.errors import BadValue
from bench.physics.air import allowed_wall_drop, condensation_margin, dew_point
from bench.physics.ranges import Range
from bench.physics.salts import salt_humidity
from bench.units import Q_, Quantity, to_float, to_humidity

HIGHEST_STEP = 98.0  # % RH: above it no isotherm of paper is known well enough to reckon with


class Source(StrEnum):
    """What gives its water to the air."""

    SALT = "saturated salt"
    WATER = "wet felt or blotter"
    GIVEN = "humidity held by a machine"


@dataclass(frozen=True)
class HeldHumidity:
    """The humidity over the source, the air at rest and nothing drinking.

    Attributes
    ----------
    source : Source
        What gives its water to the air.
    name : str
        In the words of the bench: ``"potassium sulphate"``, ``"water"``, ``"the machine"``.
    humidity : Range [percent]
        What it holds.
    second : Quantity [percent] or None
        After a second published fit, for a salt.
    dew_point : Quantity [degC]
        Of air at that humidity: a surface that cold becomes wet.
    wall_drop : Quantity [kelvin]
        How much colder than the air a wall may be before it becomes wet.
    margin : Quantity [kelvin]
        How far the wall is above the dew point.
    hazard : str
        Of the salt, in words.
    origin : str
        Key of the source of the value.
    cautions : tuple of str
        What was said with a salt's value.
    """

    source: Source
    name: str
    humidity: Range
    second: Quantity | None
    dew_point: Quantity
    wall_drop: Quantity
    margin: Quantity
    hazard: str = ""
    origin: str = ""
    cautions: tuple[str, ...] = ()

    @property
    def percent(self) -> float:
        """Most likely value in percent."""
        return float(self.humidity.value.to("percent").magnitude)

    @property
    def step_end(self) -> Quantity:
        """Where the reckoning of the uptake ends: the value, or 98 % where the source is damper."""
        return Q_(min(self.percent, HIGHEST_STEP), "percent")

    def is_within(self, highest: Quantity) -> bool:
        """Tell whether it keeps within a limit, to the half per cent that no one can hold."""
        return self.percent <= 100 * to_humidity(highest, field="highest humidity") + 0.5

    @property
    def is_beyond(self) -> bool:
        """Tell whether the source is damper than any isotherm of paper is known."""
        return self.percent > HIGHEST_STEP


def read_source(
    source: Source,
    *,
    air_temperature: Quantity,
    wall_temperature: Quantity | None = None,
    salt: str = "potassium sulphate",
    given: Quantity | None = None,
) -> HeldHumidity:
    """Read what humidity a source holds, and how near its air is to condensing.

    Parameters
    ----------
    source : Source
        What gives its water to the air.
    air_temperature : Quantity [temperature]
        Of air, source and item alike, 10 to 40 °C.
    wall_temperature : Quantity [temperature], optional
        Of the coldest wall or the lid; taken as warm as the air if it was not read.
    salt : str
        For a salt, its name in the materials table.
    given : Quantity [dimensionless], optional
        For a machine, the humidity it holds, 5 to 100 %.

    Returns
    -------
    HeldHumidity

    Raises
    ------
    NotFound
        No such salt in the table.
    BadValue
        A machine without its humidity, or air or a humidity outside these limits.
    OutOfRange
        Air warmer or colder than the values of the salt reach.
    UnitMismatch
        A temperature or a humidity in a unit of another kind.

    Examples
    --------
    >>> held = read_source(Source.SALT, air_temperature=Q_(22, "degC"))
    >>> print(held.humidity.say("percent"), f"{held.wall_drop:.2f~P}")
    97.5 % (97.0 to 98.0) 0.42 K
    """
    to_float(air_temperature, "degC", field="air temperature", low=10.0, high=40.0)
    wall = air_temperature if wall_temperature is None else wall_temperature
    second: Quantity | None = None
    hazard, cautions = "", tuple[str, ...]()
    if source is Source.SALT:
        found = salt_humidity(salt, temperature=air_temperature)
        humidity = Range(
            found.humidity,
            found.humidity - found.uncertainty,
            Q_(min(100.0, float((found.humidity + found.uncertainty).magnitude)), "percent"),
        )
        name, origin = salt, found.source
        second, hazard, cautions = found.second_humidity, found.hazard, found.cautions
    elif source is Source.WATER:
        humidity = Range.of((100, 98, 100), "percent")
        name, origin = "water", "ashrae-f1"
    else:
        humidity, name, origin = _read_given(given), "the machine", "operator"
    held = Q_(float(humidity.value.to("percent").magnitude), "percent")
    return HeldHumidity(
        source=source,
        name=name,
        humidity=humidity,
        second=second,
        dew_point=dew_point(held, temperature=air_temperature),
        wall_drop=allowed_wall_drop(held, temperature=air_temperature),
        margin=condensation_margin(held, temperature=air_temperature, wall_temperature=wall),
        hazard=hazard,
        origin=origin,
        cautions=cautions,
    )


def _read_given(given: Quantity | None) -> Range:
    field = "humidity of the machine"
    if given is None:
        remedy = "Enter the humidity that the machine holds, or choose a salt or water"
        raise BadValue(field, "empty", "5 to 100 %", remedy)
    percent = 100 * to_humidity(given, field=field)
    to_float(given, "percent", field=field, low=5.0, high=100.0)
    # ± 3 %: a good sensor near saturation, from memory; a check against a salt narrows it.
    return Range.of((percent, max(0.0, percent - 3), min(100.0, percent + 3)), "percent")
