"""What is seen at the bench while a step goes on: checked, judged, and turned into rows.

The signs are those at which the plans of chamber and press say to stop; what to do is said in their words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from bench.errors import BadValue
from bench.treatment.actual.sheets_counted import COUNTED_IN, COUNTED_OUT, SheetCount, caution_of_sheets
from bench.treatment.clock.schedule import Timeline
from bench.treatment.humidity.words import TAKE_OUT
from bench.treatment.plan import Caution, Notice, Verdict
from bench.treatment.pressing.words import CHANGE_SHEETS, SHEETS_OUT
from bench.treatment.rows import number_in
from bench.treatment.weighing.later import BENCH, CHANGE, NIGHT, OUT, WEIGHT
from bench.units import Q_, Quantity, to_float

AIR_HUMIDITY, AIR_TEMPERATURE = "humidity in the chamber", "temperature in the chamber"
LOOKED_IN = "look-in"
SIGN = "sign: "
LEAVES = ("near", "middle", "far")
HYGROMETER = Q_(3.0, "percent")
"""How far a hygrometer in a chamber is trusted, about 95 %; from memory of what their makers allow."""
AIR_PROBE, LEAF_PROBE = Q_(1.0, "delta_degC"), Q_(2.0, "delta_degC")
"""How far a thermometer in air, and a thin probe between leaves, are trusted; from memory."""
HYGROMETER_IN_PLACE, AIR_IN_PLACE, LEAF_IN_PLACE = Q_(1.0, "percent"), Q_(0.5, "delta_degC"), LEAF_PROBE
"""What is left of these where the instrument was checked, about 95 %: its step, and how it lies there; a
probe between leaves is doubted for its contact, of which a check tells nothing.  Judgement."""
BALANCE, BALANCE_STEP = Q_(0.05, "g"), Q_(0.01, "g")
"""Of a balance that shows 0.01 g, handling included: judgement, as for the weighings."""

_LIGHTEST, _HEAVIEST = 0.85, 1.35  # of the mass read before: paper below saturation takes up no more; memory
_THINNEST, _THICKEST = 0.7, 1.4  # of what is expected: more is a slip of the pen; chosen here
_ABOVE_PLATEN = 15.0  # K by which a leaf may read above the platen as planned: its swing; from memory
_HOTTEST = 100.0  # °C without a planned platen: no press for paper is set higher; from memory
_COLDEST = 5.0  # °C

_SIGN_SEEN = Notice("sign-to-stop", Verdict.STOP, "{seen}. {do}")  # in the words of :data:`SIGNS`


@dataclass(frozen=True)
class Sign:
    """A sign at which work stops.

    Attributes
    ----------
    key : str
        Under which the log keeps it, after ``sign: ``.
    words : str
        What is seen.
    do : mapping of str to str
        What to do now, by stage; a stage that is not named does not ask for it.
    """

    key: str
    words: str
    do: Mapping[str, str]

    @property
    def label(self) -> str:
        """What is seen, at the head of a sentence or beside a tick."""
        return f"{self.words[:1].upper()}{self.words[1:]}"


_LIFT = "Take it out now and interleave it"
_OFF = "Heat off and load off now"
_FILM = "with a piece of polyester film between each staple and the leaves it touches"
SIGNS = (
    Sign(
        "drops",
        "drops on lid or walls",
        {
            "humidity": "Take it out now, the lid held level so that nothing drips on it. Warm the chamber "
            "or take a drier source before anything goes in again."
        },
    ),
    Sign(
        "wave",
        "waves growing along the edges",
        {"humidity": f"{_LIFT}: its edges are damper than its middle. Take a drier source next time."},
    ),
    Sign(
        "tack",
        "a tacky, dull or cloudy cover, or one that sticks",
        {
            "humidity": "Take it out now; let no two coated faces touch, and lay nothing on the cover until "
            "the tack is gone.",
            "pressing": f"{_OFF}; lift the platen straight up and pull at nothing that sticks. Let the item "
            "dry further before any heat.",
        },
    ),
    Sign(
        "colour",
        "colour on tissue or release sheet, or new sheen",
        {
            "humidity": "Take it out now, isolate it and ask a conservator.",
            "pressing": f"{_OFF}; isolate it and ask a conservator.",
        },
    ),
    Sign(
        "rust",
        "new rust",
        {
            "humidity": f"{_LIFT}, {_FILM}.",
            "pressing": f"Open the press and dry the item at once, {_FILM}.",
        },
    ),
    Sign(
        "smell",
        "a musty smell",
        {
            "humidity": "Take it out now and isolate it: with mould, ask a conservator. Nothing else goes "
            "into this chamber before it is cleaned.",
            "pressing": "Isolate it: with mould, ask a conservator.",
        },
    ),
    Sign(
        "glue",
        "glue at the spine or its smell",
        {"pressing": f"{_OFF}; let it cool before the spine is moved."},
    ),
    Sign(
        "staple",
        "a staple that prints through",
        {"pressing": "Load off now; build the stack again so that the sheets carry the platen."},
    ),
)


def signs_for(stage: str) -> tuple[Sign, ...]:
    """Give the signs that a stage looks for."""
    return tuple(sign for sign in SIGNS if stage in sign.do)


@dataclass(frozen=True)
class Seen:
    """What was seen and read at one moment.

    Attributes
    ----------
    stage, cycle : str, int
        What it belongs to.
    humidity : Quantity or None
        Of the air in the chamber, as the hygrometer shows it.
    air : Quantity or None
        Temperature of that air.
    signs : tuple of str
        Keys of :data:`SIGNS`.
    mass : Quantity or None
        Of the item alone.
    leaf_temperature, leaf : Quantity or None, str
        Temperature of a leaf in the press, and which: near the platen, middle or far.
    thickness : Quantity or None
        Of the text block with the sheets in.
    sheets_in, sheets_out : int or None
        Counted as they were put in and taken out.
    remark : str
        In words of one's own.
    """

    stage: str
    cycle: int
    humidity: Quantity | None = None
    air: Quantity | None = None
    signs: tuple[str, ...] = ()
    mass: Quantity | None = None
    leaf_temperature: Quantity | None = None
    leaf: str = "middle"
    thickness: Quantity | None = None
    sheets_in: int | None = None
    sheets_out: int | None = None
    remark: str = ""

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to write down."""
        read = (self.humidity, self.air, self.mass, self.leaf_temperature, self.thickness)
        counted = (self.sheets_in, self.sheets_out)
        return all(value is None for value in (*read, *counted)) and not self.signs and not self.remark


@dataclass(frozen=True)
class Expected:
    """What is known before a look, to hold what is read against.

    Attributes
    ----------
    mass : Quantity or None
        Of the item before the cycle.
    platen : Quantity or None
        Its temperature as planned.
    thickness : Quantity or None
        With the sheets in, as planned; or of the text block alone.
    openings : int
        Places between leaves and covers that a sheet could lie in.
    sheets : int or None
        As planned.
    count : SheetCount
        Counted so far in this cycle.
    """

    mass: Quantity | None = None
    platen: Quantity | None = None
    thickness: Quantity | None = None
    openings: int = 500
    sheets: int | None = None
    count: SheetCount = field(default_factory=SheetCount)


def check_seen(seen: Seen, expected: Expected) -> None:
    """Refuse what cannot have been read, in one sentence.

    Raises
    ------
    BadValue
        A value beyond what the item as known allows; the field is named as the panel names it.
    """
    if seen.mass is not None and expected.mass is not None:
        known = float(expected.mass.to("g").magnitude)
        _hold(
            "Mass of the item alone",
            seen.mass,
            "g",
            _LIGHTEST * known,
            _HEAVIEST * known,
            f"read before: {known:.1f} g",
        )
    if seen.leaf_temperature is not None:
        high, why = _HOTTEST, "no platen is planned"
        if expected.platen is not None:
            planned = float(expected.platen.to("degC").magnitude)
            high, why = planned + _ABOVE_PLATEN, f"the platen is planned at {planned:.0f} °C"
        _hold("Temperature of the leaf", seen.leaf_temperature, "degC", _COLDEST, high, why)
    if seen.thickness is not None and expected.thickness is not None:
        known = float(expected.thickness.to("mm").magnitude)
        _hold(
            "Thickness with the sheets in",
            seen.thickness,
            "mm",
            _THINNEST * known,
            _THICKEST * known,
            f"planned: {known:.2f} mm",
        )
    for name, number in (("Sheets put in", seen.sheets_in), ("Sheets taken out", seen.sheets_out)):
        if number is not None and number > expected.openings:
            allowed = f"0 to {expected.openings}, one in every opening of this item"
            raise BadValue(name, f"{number}", allowed, "Count the pile again")
    for key in seen.signs:
        if key not in {sign.key for sign in signs_for(seen.stage)}:
            raise BadValue(
                "signs", repr(key), ", ".join(s.key for s in signs_for(seen.stage)), "Use a remark"
            )


def _hold(name: str, value: Quantity, unit: str, low: float, high: float, why: str) -> None:
    own = str(value.units)  # so that the observer is answered in the unit that was read
    # As many digits as the sentence shows: the limit shown is the limit applied.
    least, most = (number_in(Q_(end, unit), own, 4) for end in (low, high))
    remedy = f"{why[:1].upper()}{why[1:]}. Read it again"
    to_float(value, own, field=name, low=least, high=most, remedy=remedy)


def judge_seen(seen: Seen, expected: Expected) -> tuple[Caution, ...]:
    """Say what to do now about what was seen, the gravest first."""
    named = {sign.key: sign for sign in SIGNS}
    signs = [named[key] for key in seen.signs]
    found = [_SIGN_SEEN(seen=sign.label, do=sign.do[seen.stage]) for sign in signs]
    if seen.sheets_in is not None or seen.sheets_out is not None:
        count = expected.count.after(put_in=seen.sheets_in or 0, taken_out=seen.sheets_out or 0)
        found += caution_of_sheets(count, expected.sheets)
    return tuple(found)


def log_rows(seen: Seen, at: datetime) -> list[dict[str, Any]]:
    """Turn what was seen into rows of ``log``: numbers under their names, signs and remark in words."""
    common = {"stage": seen.stage, "cycle": seen.cycle, "at": at}
    numbers: Sequence[tuple[str, Quantity | None, str]] = (
        (AIR_HUMIDITY, seen.humidity, "percent"),
        (AIR_TEMPERATURE, seen.air, "degC"),
        (name_of_leaf(seen.leaf), seen.leaf_temperature, "degC"),
    )
    rows: list[dict[str, Any]] = [
        {**common, "quantity": name, "value": number_in(value, unit), "unit": unit}
        for name, value, unit in numbers
        if value is not None
    ]
    for name, number in ((COUNTED_OUT, seen.sheets_out), (COUNTED_IN, seen.sheets_in)):
        if number is not None:
            rows.append({**common, "quantity": name, "value": number, "unit": "dimensionless"})
    named = {sign.key: sign.words for sign in SIGNS}
    rows += [{**common, "quantity": f"{SIGN}{key}", "remark": named[key]} for key in seen.signs]
    return [*rows, {**common, "remark": seen.remark}] if seen.remark else rows


def moment_of_mass(
    timeline: Timeline | None, stage: str, cycle: int, at: datetime
) -> tuple[str, float | None]:
    """Tell at which moment an item is weighed, from what has begun.

    Returns
    -------
    moment : str
        Empty in the chamber, else as :mod:`bench.treatment.weighing.later` names it.
    under : float or None
        Hours under weight, for that moment.
    """
    steps = timeline.steps if timeline else ()
    begun = [s for s in steps if (s.stage, s.cycle) == (stage, cycle) and s.actual_start]
    if stage == "humidity":
        return (OUT, None) if any(s.name == TAKE_OUT for s in begun) else ("", None)
    emptied = next((s for s in begun if s.name == SHEETS_OUT), None)
    if emptied is not None:
        since = at - (emptied.actual_end or emptied.begins)
        return WEIGHT, round(max(since.total_seconds() / 3600, 0.1), 1)
    changes = [s.name.removeprefix(CHANGE_SHEETS) for s in begun if s.name.startswith(CHANGE_SHEETS)]
    if changes:
        return f"{CHANGE} {changes[-1].split()[0]}", None
    return (NIGHT, None) if any(not s.hands for s in begun) else (BENCH, None)


def name_of_leaf(leaf: str) -> str:
    """Name the temperature of a leaf as the log keeps it."""
    return f"temperature of the {leaf} leaf"
