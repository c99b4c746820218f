"""What a bench has measured of itself, as plans take it: each constant named once, and those accepted so far.

A constant is joined by its key and by what it is of (a paper, a board, a glue).  A stage asks for it by name
and falls back on what the books say; what it took is listed among its assumptions, with the day it was found.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from bench.physics.ranges import Range
from bench.treatment.plan import Assumption, Caution, Notice, Verdict


@dataclass(frozen=True)
class Constant:
    """One number that a bench can measure of itself.

    Attributes
    ----------
    key : str
        Joins trials, records and plans; it never changes.
    label : str
        For people; the trial says of what.
    unit : str
        It is saved in.
    stages : tuple of str
        Whose plans take it.
    """

    key: str
    label: str
    unit: str
    stages: tuple[str, ...]


ISOTHERM_SCALE = Constant(
    "isotherm-scale", "water held, over that of the isotherm", "dimensionless", ("humidity", "pressing")
)
HYSTERESIS = Constant("hysteresis", "water held longer on drying", "dimensionless", ("humidity", "pressing"))
COVER_AS_AIR = Constant("cover-as-air", "cover as a layer of still air", "mm", ("humidity", "pressing"))
RELEASE_AS_AIR = Constant("release-as-air", "release sheet as a layer of still air", "mm", ("pressing",))
K1 = Constant("k1", "K1 of the text block", "kPa", ("buffering",))
K2 = Constant("k2", "K2 of the text block", "dimensionless", ("buffering",))
THINNING = Constant("thinning", "thinning of the damp block", "percent", ("buffering",))
BOARD_BENDING = Constant("board-bending", "bending stiffness of one board", "N*m", ("buffering",))
STAPLE_MARKS = Constant("staple-marks", "load at which a staple marks", "N", ("buffering",))
PLATEN_ERROR = Constant("platen-error", "platen warmer than it says", "delta_degC", ("pressing",))
PLATEN_HALF_LIFE = Constant("platen-half-life", "platen loses half of its warmth in", "min", ("pressing",))
PLATEN_HEATING = Constant("platen-heating", "time until the platen is warm", "min", ("pressing",))
LEAF_HEAT = Constant("leaf-heat", "resistance to heat, over that reckoned", "dimensionless", ("pressing",))
GLUE_SOFTENS = Constant("glue-softens", "softening temperature of the glue", "degC", ("pressing",))
_READ = ("intake", "humidity", "buffering", "pressing", "review")
LENGTH_CORRECTION = Constant("length-correction", "to be added to its readings", "mm", _READ)
BALANCE_CORRECTION = Constant("balance-correction", "to be added, of what it shows", "percent", _READ)
HYGROMETER_75 = Constant("hygrometer-75", "to be added near 75 % RH", "percent", ("humidity",))
HYGROMETER_97 = Constant("hygrometer-97", "to be added near 97 % RH", "percent", ("humidity",))
THERMOMETER_0 = Constant("thermometer-0", "to be added near 0 °C", "delta_degC", ("humidity", "pressing"))
THERMOMETER_100 = Constant(
    "thermometer-100", "to be added near 100 °C", "delta_degC", ("humidity", "pressing")
)

PRESS = "press"
"""What a constant of the press is about: a bench has one."""

CONSTANTS: tuple[Constant, ...] = (
    ISOTHERM_SCALE,
    HYSTERESIS,
    COVER_AS_AIR,
    RELEASE_AS_AIR,
    K1,
    K2,
    THINNING,
    BOARD_BENDING,
    STAPLE_MARKS,
    PLATEN_ERROR,
    PLATEN_HALF_LIFE,
    PLATEN_HEATING,
    LEAF_HEAT,
    GLUE_SOFTENS,
    LENGTH_CORRECTION,
    BALANCE_CORRECTION,
    HYGROMETER_75,
    HYGROMETER_97,
    THERMOMETER_0,
    THERMOMETER_100,
)


def constant_of(key: str) -> Constant | None:
    """Give a constant by its key; None for one that is not known here."""
    return next((constant for constant in CONSTANTS if constant.key == key), None)


PRESS = "press"
"""What a constant is about that belongs to the press itself."""


@dataclass(frozen=True)
class Accepted:
    """A constant as this bench measured it, accepted for its plans.

    Attributes
    ----------
    constant : Constant
        Which one.
    about : str
        Of what: a material's name in the tables, or :data:`PRESS`.
    value : Range
        With its interval of 95 %.
    done_on, due_on : date
        When it was measured, and when it should be again.
    is_due : bool
        Whether that day has come.
    """

    constant: Constant
    about: str
    value: Range
    done_on: date
    due_on: date
    is_due: bool = False

    def say(self) -> str:
        """Say the value, of what it is, and when it was found.

        Examples
        --------
        >>> board = Accepted(BOARD_BENDING, "blotter", Range.of((0.02, 0.018, 0.022), "N*m"),
        ...                  date(2026, 3, 2), date(2028, 3, 2))
        >>> board.say()
        '0.020 N*m (0.018 to 0.022), blotter, measured on this bench on 2026-03-02'
        """
        value = self.value.say(self.constant.unit)
        return f"{value}, {self.about}, measured on this bench on {self.done_on:%Y-%m-%d}"


MeasuredHere = tuple[Accepted, ...]
"""All that a bench measured of itself and accepted, each constant of each thing once."""

NOTHING_MEASURED: MeasuredHere = ()


def find_measured(measured: Iterable[Accepted], constant: Constant, about: str) -> Accepted | None:
    """Give what was measured of a constant of something; None if it was not."""
    found = (each for each in measured if (each.constant.key, each.about) == (constant.key, about))
    return next(found, None)


def take(measured: Iterable[Accepted], wanted: Iterable[tuple[Constant, str]]) -> MeasuredHere:
    """Give what was measured of those that a plan wants, each a constant of something, in that order."""
    here = tuple(measured)
    found = (find_measured(here, constant, about) for constant, about in wanted)
    return tuple(each for each in found if each is not None)


def value_or(measured: Iterable[Accepted], constant: Constant, about: str, otherwise: Range) -> Range:
    """Give a constant as measured, or else as otherwise believed."""
    found = find_measured(measured, constant, about)
    return otherwise if found is None else found.value


def assume_measured(taken: Iterable[Accepted | None]) -> tuple[Assumption, ...]:
    """List what a plan took of the measurements of its bench, for its assumptions.

    A constant of two things is named with each: a record keeps one row of a name.
    """
    known = [each for each in taken if each is not None]
    often = Counter(each.constant.key for each in known)
    return tuple(
        Assumption(
            each.constant.label if often[each.constant.key] == 1 else f"{each.constant.label}, {each.about}",
            each.say(),
            "reading",
            f"measured: {each.constant.key}",
        )
        for each in known
    )


_DUE = Notice(
    "measured-due",
    Verdict.CARE,
    "Due to be measured again on this bench: {what}. Until then the plan goes by what was found then.",
)


def cautions_of_due(taken: Iterable[Accepted | None]) -> tuple[Caution, ...]:
    """Name what a plan took of measurements that should have been repeated by now, if any."""
    due = [
        f"{each.constant.label}, {each.about} (since {each.due_on:%Y-%m-%d})"
        for each in taken
        if each is not None and each.is_due
    ]
    return (_DUE(what="; ".join(due)),) if due else ()
