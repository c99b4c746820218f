"""The numbers that plans give, each named once: a key for the record, a label for people.

Everything that is saved, read back, compared or limited is joined by key.  A key never changes; a label may,
for a record keeps the label of its day beside the key.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace


@dataclass(frozen=True)
class Gain:
    """A planned gain is the difference of a later reading to the one before the cycle.

    Attributes
    ----------
    quantity : str
        Of the readings.
    place : str
        Where; empty for the first place that was read both times.
    at_review : bool
        Whether the later reading is that of the review, not of the stage itself.
    """

    quantity: str
    place: str = ""
    at_review: bool = False


@dataclass(frozen=True)
class Fact:
    """One number of a plan, or a family of them that differ in one part.

    Attributes
    ----------
    key : str
        Joins plans, records and reviews; unique within a plan.
    label : str
        For people; a family has ``{}`` where its part stands.
    unit : str
        It is saved in.
    told : str
        As a report calls it; the label where empty.
    read_as : tuple of (str, str) or None
        Quantity and place under which it is read at the bench.
    gain : Gain or None
        How it is found from two readings.
    condition : str
        The field of :class:`bench.treatment.review.levers.Conditions` that it is.
    """

    key: str
    label: str
    unit: str
    told: str = ""
    read_as: tuple[str, str] | None = None
    gain: Gain | None = None
    condition: str = ""

    def of(self, part: str) -> Fact:
        """Give one of a family by its part.

        Examples
        --------
        >>> CLEARANCE.of("spine edge").key, CLEARANCE.of("spine edge").label
        ('clearance: spine edge', 'clearance over spine edge')
        """
        return replace(self, key=f"{self.key}: {part}", label=self.label.format(part))

    @property
    def family(self) -> str:
        """Key without the part."""
        return self.key.partition(": ")[0]

    @property
    def part(self) -> str:
        """Part of its family that it is; empty for a fact that stands alone."""
        return self.key.partition(": ")[2]

    @property
    def name(self) -> str:
        """As a report calls it."""
        return self.told or self.label


FACTS: dict[str, Fact] = {}
"""All of them by key; families without their part."""


def _fact(
    key: str,
    label: str,
    unit: str,
    told: str = "",
    *,
    read_as: tuple[str, str] | None = None,
    gain: Gain | None = None,
    condition: str = "",
) -> Fact:
    FACTS[key] = Fact(key, label, unit, told, read_as, gain, condition)
    return FACTS[key]


COUNT = "dimensionless"

# Intake.
GATES_MET = _fact("gates_met", "gates met", COUNT)
GATES_OVERRIDDEN = _fact("gates_overridden", "gates overridden", COUNT)
HIGHEST_ALLOWED = _fact("highest_humidity_allowed", "highest humidity allowed", "percent")

# Cleaning; the part is a surface.
SOIL = _fact("soil", "soil, {}", COUNT)
SHARE_TO_CLEAN = _fact("share_to_clean", "share to clean, {}", "percent")
UNPRINTED_SHARE = _fact("unprinted_share", "unprinted share, {}", "percent")
AREA_TO_CLEAN = _fact("area_to_clean", "area to clean, {}", "cm^2")
TIME_AT_BENCH = _fact("time_at_bench", "time at the bench", "min")
TIME_AT_LEAST = _fact("time_at_least", "time at least", "min")
TIME_AT_MOST = _fact("time_at_most", "time at most", "min")

# The chamber.
SOURCE_HUMIDITY = _fact("source_humidity", "humidity of the source", "percent", condition="humidity")
SALT_SECOND_FIT = _fact("salt_second_fit", "humidity of the salt, second fit", "percent")
AIR_TEMPERATURE = _fact("air_temperature", "air temperature", "degC", "temperature in the chamber")
DEW_POINT = _fact("dew_point", "dew point", "degC")
WALL_COLDER_BY = _fact("wall_colder_by", "a wall may be colder by", "delta_degC")
LEAVES_HUMIDITY = _fact("leaves_humidity", "mean humidity of the leaves", "percent")
CORE_HUMIDITY = _fact("core_humidity", "humidity of the innermost leaf", "percent")
CHAMBER_HUMIDITY = _fact(
    "chamber_humidity",
    "humidity of the chamber at the end",
    "percent",
    "humidity in the chamber at the end",
)
HYGROMETER_SHOWS = _fact(
    "hygrometer_shows",
    "hygrometer shows at the end",
    "percent",
    "hygrometer at the end of the chamber",
    read_as=("humidity", "chamber"),
)
MASS_GAIN = _fact("mass_gain", "mass gain", "g", "mass gained in the chamber", gain=Gain("mass"))
WATER_TO_REST = _fact("water_to_rest", "water to be at rest with the source", "g")
WATER_OF_AIR = _fact("water_of_air", "water the air of the chamber takes", "g")
SUPPLY = _fact("supply", "given a day per cent of deficit", "g/day")
HOURS_UNTIL = _fact("hours_until", "hours until the {} is damp enough", "hour")
EARLIEST_OUT = _fact("earliest_out", "earliest sensible time out", "hour")
LATEST_OUT = _fact("latest_out", "latest sensible time out", "hour")
MINUTES_OPEN = _fact("minutes_open", "minutes to interleave", "min")
HOURS_IN_CHAMBER = _fact(
    "hours_in_chamber", "hours in the chamber", "hour", "time in the chamber", condition="time_in_chamber"
)

# Sheets and load.
SPACING = _fact("spacing", "leaves between sheets", COUNT, condition="interval")
SHEETS = _fact("sheets", "sheets", COUNT, "sheets put in")
LOAD = _fact("load", "load on the face", "kPa")
GAIN_IN_THICKNESS = _fact(
    "gain_in_thickness",
    "gain in thickness",
    "um",
    "thickness added by the sheets",
    gain=Gain("thickness", "text block"),
)
THICKNESS_WITH_SHEETS = _fact(
    "thickness_with_sheets",
    "thickness with sheets",
    "um",
    "thickness with the sheets in",
    read_as=("thickness", "text block"),
)
GIVE = _fact("give", "give of the text block under load", "percent")
CHANCE_FREE = _fact("chance_free", "chance that spine and staples stay free", "percent")
CLEARANCE = _fact("clearance", "clearance over {}", "um")
BLOCK_PRESSURE = _fact("block_pressure", "pressure on text block", "kPa")
CHANCE_LOADED = _fact("chance_loaded", "chance of loading spine or staple", "percent")
SPINE_PRESSURE = _fact("spine_pressure", "pressure on spine", "kPa")
STEP_PRESSURE = _fact("step_pressure", "pressure where sheets end", "kPa")
STEP_LINE_LOAD = _fact("step_line_load", "line load where sheets end", "N/m")
UNPRESSED_WIDTH = _fact("unpressed_width", "width left unpressed", "mm")
STAPLE_PRESSURE = _fact("staple_pressure", "pressure on {} staple", "kPa")
PAPER_USED = _fact("paper_used", "paper used", "g")
SHEET_WATER = _fact("sheet_water", "water the sheets take up", "g")
STOPS = _fact("stops", "room that the stops leave", "mm")
SPINE_OUTSIDE = _fact("spine_outside", "spine outside the boards by", "mm")
STRIP = _fact("strip", "strip over the spine", "mm")
STRIP_WIDTH = _fact("strip_width", "width of the strip over the spine", "mm")

# The press.
FACE_PRESSURE = _fact("face_pressure", "pressure on the face", "kPa", condition="pressure")
RIDGE_PRESSURE = _fact("ridge_pressure", "pressure if the spine edge carried it all", "kPa")
INTERLEAVES = _fact("interleaves", "interleaves", COUNT, "sheets taken out at last")
PLATEN = _fact("platen", "platen", "degC", condition="platen")
DWELL = _fact("dwell", "dwell", "min", "time of heating", condition="dwell")
TIME_FOR = _fact("time_for", "time for the {}", "min")
NEAR_LEAF = _fact(
    "near_leaf", "near leaf after the dwell", "degC", "leaf nearest the platen at the end of heating"
)
MIDDLE_LEAF = _fact("middle_leaf", "middle leaf after the dwell", "degC", "middle leaf at the end of heating")
FAR_LEAF = _fact(
    "far_leaf", "far leaf after the dwell", "degC", "leaf farthest from the platen at the end of heating"
)
IN_THE_END = _fact("in_the_end", "{} in the end", "degC")
TIME_TO_COOL = _fact("time_to_cool", "time to cool in the press", "min")
HALF_LIFE = _fact("half_life", "time in which the platen loses half of its warmth", "min")
WARM_HUMIDITY = _fact("warm_humidity", "humidity in the warm stack", "percent")
COVER_HUMIDITY = _fact(
    "cover_humidity", "highest humidity at the cover", "percent", "humidity at the coated cover"
)
COVER_HEAT = _fact(
    "cover_heat", "highest temperature at the cover", "degC", "temperature at the coated cover"
)
FIBRES_ABOVE = _fact("fibres_above", "fibres above softening by", "delta_degC")
GLUE_HEAT = _fact("glue_heat", "highest temperature at the spine glue", "degC")
GLUE_SOFTENS = _fact("glue_softens", "spine glue softens at", "degC")
GLUE_ABOVE = _fact(
    "glue_above", "spine glue above softening by", "delta_degC", "spine glue above its softening"
)
NIGHT_HUMIDITY = _fact("night_humidity", "humidity after the night", "percent")
CHANGES_HUMIDITY = _fact("changes_humidity", "humidity after the changes", "percent")
CHANGES_PLANNED = _fact("changes_planned", "changes of interleaves planned", COUNT)
CHANGES_NEEDED = _fact("changes_needed", "changes of interleaves needed", COUNT)
DRY_SHEETS_PLANNED = _fact("dry_sheets_planned", "dry sheets planned in all", "g")
DRY_SHEETS_NEEDED = _fact("dry_sheets_needed", "dry sheets needed in all", "g")
DAMPEST_LEAF = _fact("dampest_leaf", "humidity of the dampest leaf after the night", "percent")
HOURS_TO_CONDITION = _fact("hours_to_condition", "hours to condition, faces open", "hour")
HOURS_UNDER_WEIGHT = _fact("hours_under_weight", "hours under weight before release", "hour")
WATER_TAKEN_UP = _fact("water_taken_up", "water taken up by the {}", "g")
WIDTH_GROWS = _fact(
    "width_grows", "width grows by", "mm", "growth in width", gain=Gain("width", at_review=True)
)
HEIGHT_GROWS = _fact(
    "height_grows", "height grows by", "mm", "growth in height", gain=Gain("height", at_review=True)
)

# What adds up over chamber, press and cycles.
MOULD_INDEX = _fact("mould_index", "mould: growth index", COUNT, "growth of mould, by a model")
MOULD_STRICT = _fact(
    "mould_strict", "mould: days used, strict rule", "percent", "time allowed for mould, strict rule"
)
MOULD_MILDER = _fact(
    "mould_milder", "mould: days used, milder rule", "percent", "time allowed for mould, milder rule"
)
MOULD_CLOCK = _fact("mould_clock", "mould: hours on the clock", "hour", "time damp and warm enough for mould")
STAPLES_WET = _fact("staples_wet", "staples wet, above 80 % RH", "hour", "staples above 80 % RH")
STAPLES_DAMP = _fact(
    "staples_damp", "staples damp, above 60 % RH", "hour", "staples above 60 % RH, by museum advice"
)
AGEING_FIRST = _fact("ageing_first", "ageing at 20 °C and 50 %, first law", "day", "ageing, first law")
AGEING_SECOND = _fact("ageing_second", "ageing at 20 °C and 50 %, second law", "day", "ageing, second law")

# The review; the part is an edge and its place.
CHANGE_OF_WIDTH = _fact("change_of_width", "change of width, {}", "percent")
CHANGE_OF_HEIGHT = _fact("change_of_height", "change of height, {}", "percent")
CHANGE_OF_MASS = _fact("change_of_mass", "change of mass", "percent")
GRADES_GAINED = _fact("grades_gained", "gain of this cycle, grades", COUNT)
NEXT_SPACING = _fact("next_spacing", "leaves between sheets, next cycle", COUNT)
NEXT_PRESSURE = _fact("next_pressure", "pressure, next cycle", "kPa")
NEXT_HUMIDITY = _fact("next_humidity", "chamber humidity, next cycle", "percent")
NEXT_HOURS = _fact("next_hours", "time in the chamber, next cycle", "hour")
NEXT_PLATEN = _fact("next_platen", "platen temperature, next cycle", "degC")
NEXT_DWELL = _fact("next_dwell", "dwell, next cycle", "min")

_LABELS = {fact.label: fact for fact in FACTS.values()}
_LABELS["time to cool in air"] = TIME_TO_COOL  # as records from before version 3 call it
_FAMILIES = [
    (re.compile(re.escape(fact.label).replace(r"\{\}", "(.+)")), fact)
    for fact in FACTS.values()
    if "{}" in fact.label
]


def find_fact(key: str, label: str = "", unit: str = "") -> Fact:
    """Find a fact as a record names it; one that is not known here is made of what stands there.

    Parameters
    ----------
    key : str
        Empty in a record from before version 3, which knew labels alone.
    label, unit : str
        As saved.

    Examples
    --------
    >>> find_fact("clearance: spine edge").label
    'clearance over spine edge'
    >>> find_fact("", "soil, cover, inside").key
    'soil: cover, inside'
    """
    if not key:
        return _find_by_label(label, unit)
    family, _, part = key.partition(": ")
    known = FACTS.get(family)
    if known is None:
        return Fact(key, label or key, unit)
    return known.of(part) if part else known


def _find_by_label(label: str, unit: str) -> Fact:
    if label in _LABELS:
        return _LABELS[label]
    for pattern, fact in _FAMILIES:
        if found := pattern.fullmatch(label):
            return fact.of(found[1])
    return Fact(label, label, unit)
