"""Doses: what a treatment costs an item, each held against a limit, every source that speaks of it beside.

What adds up over chamber, press and cycles is a :class:`Spent`; its numbers are saved with each plan.  A
:class:`Dose` reads them, and the highest values of a pressing, against their limits.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import Any

from bench.item import Answer, Item
from bench.physics.ageing import equivalent_days
from bench.physics.corrosion import assess_staples
from bench.physics.exposure import Exposure
from bench.physics.mould import CLOCK_LIMIT, assess_mould
from bench.treatment import facts
from bench.treatment.facts import Fact
from bench.treatment.plan import Caution, Notice, PlannedValue, Verdict, by_key, shown_unit
from bench.units import MILLIMETRES, Q_, Quantity, UnitChoice, unit_label

CHOSEN = "chosen here"
LONGEST_WET = Q_(48, "hour")
"""Hours of steel above 80 % RH in all.  Chosen here, no source: at the fastest first-year rate of moderate
to high corrosivity (80 µm in 2500 wet hours [iso9223]_, from memory) they cost 1.5 µm, a stain and no
strength."""
MOST_AGEING = Q_(365, "day")
"""Days at 20 °C and 50 % RH that a treatment may cost.  Chosen here, no source: a year on the shelf."""

# What adds up: field of Spent, as what plans save it, limit, source of limit, of value.
_ADDED: tuple[tuple[str, Fact, Quantity | None, str, str], ...] = (
    ("index", facts.MOULD_INDEX, Q_(1.0, ""), "hukka1999", ""),
    ("strict", facts.MOULD_STRICT, Q_(100, "percent"), "mould-days", ""),
    ("milder", facts.MOULD_MILDER, Q_(100, "percent"), "mould-curve", ""),
    ("clock", facts.MOULD_CLOCK, CLOCK_LIMIT, "nps-disaster", ""),
    ("wet", facts.STAPLES_WET, LONGEST_WET, CHOSEN, "iso9223"),
    # Museums keep original staples below 60 % for good: advice on keeping, no limit of a day's treatment.
    ("damp", facts.STAPLES_DAMP, None, "", "staples-museum"),
    ("first", facts.AGEING_FIRST, MOST_AGEING, CHOSEN, "michalski2002"),
    ("second", facts.AGEING_SECOND, MOST_AGEING, CHOSEN, "strlic2015"),
)
_KEYS = {fact.key for _, fact, *_ in _ADDED}

_USED_UP = "Mould: {strict:.0f} % of the damp time that the strictest rule allows is used up in all."
_MOULD_UNKNOWN = Notice("mould-unknown", Verdict.CARE, "How the time for mould stands is not known.")
_MOULD_TIME = Notice("mould-time", Verdict.GO, _USED_UP, "mould-days")
_MOULD_USED_UP = Notice(
    "mould-time-used-up",
    Verdict.STOP,
    f"The time for mould is used up in this cycle: dry the item sooner. {_USED_UP}",
    "mould-days",
)
_MOULD_CLOCK_OVER = Notice(
    "mould-clock-over",
    Verdict.CARE,
    "Mould: over the limit of the {clock}. It is meant for water-damaged stock in still air: dry the item "
    "soon.",
    "mould-days",
)
_MOULD_RULES_OVER = Notice(
    "mould-rules-over",
    Verdict.CARE,
    "Mould: over the limit of the {rules}. It counts damp without a break, here over all cycles: let the "
    "item rest dry between them.",
    "mould-days",
)
_WET = "Staples are wet, above 80 % RH, for {wet} in all (limit {limit}, chosen here)."
_STAPLES_OVER = Notice(
    "staples-wet-too-long",
    Verdict.CARE,
    f"{_WET} Look at every wire, dry it, and let it rest before any more damp.",
    "iso9223",
)
_RUST_BLOOMS = Notice(
    "staples-rusted-and-damp", Verdict.CARE, f"{_WET} Rusted wire blooms in damp air.", "iso9223"
)
_CLEAN_WIRE = Notice(
    "staples-clean-and-damp",
    Verdict.GO,
    f"{_WET} Clean wire stays bright; its strength is not at stake.",
    "iso9223",
)
_AGEING_UNKNOWN = Notice("ageing-unknown", Verdict.CARE, "What it costs in ageing is not known.")
_AGEING = Notice(
    "ageing",
    Verdict.GO,
    "Ageing: as much as {most} on the shelf at 20 °C and 50 % RH, by the graver of two laws that disagree.",
    "michalski2002",
)


@dataclass(frozen=True)
class Spent:
    """What adds up over a treatment; plain numbers in the units that plans save.

    Attributes
    ----------
    index : float
        Growth index of mould.  Adding is right while it is below 1, where growth hardly depends on what has
        grown; that it falls in dry spells is left out, which errs on the safe side.
    strict, milder : float
        Share used up of the days of the two museum rules, in percent.
    clock : float
        Hours above 60 % RH and 21 °C.
    wet, damp : float
        Hours of steel above 80 % and above 60 % RH.
    first, second : float
        Days of ageing by two laws.
    unknown : tuple of str
        What is not counted because no plan of it is saved.
    logged : tuple of str
        What is counted by the air that a logger kept, not by the plan.
    """

    index: float = 0.0
    strict: float = 0.0
    milder: float = 0.0
    clock: float = 0.0
    wet: float = 0.0
    damp: float = 0.0
    first: float = 0.0
    second: float = 0.0
    unknown: tuple[str, ...] = ()
    logged: tuple[str, ...] = ()

    @classmethod
    def during(cls, history: Iterable[Exposure], *, sensitivity: str = "very sensitive") -> Spent:
        """Count what a history costs.

        Raises
        ------
        OutOfRange, NotFound
            As the laws of mould and ageing.
        """
        steps = tuple(history)
        mould, staples = assess_mould(steps, sensitivity=sensitivity), assess_staples(steps)
        ageing = equivalent_days(steps)
        return cls(
            index=float(mould.index.magnitude),
            strict=100 * float(mould.share_of_days.magnitude),
            milder=100 * float(mould.share_of_days_milder.magnitude),
            clock=float(mould.clock.magnitude),
            wet=float(staples.wetness.magnitude),
            damp=float(staples.above_advice.magnitude),
            first=float(ageing.michalski.magnitude),
            second=float(ageing.strlic.magnitude),
        )

    @classmethod
    def as_planned(cls, values: Iterable[PlannedValue]) -> Spent | None:
        """Read it back from planned values; None if one of its numbers is not among them."""
        saved = by_key(values)
        if not saved.keys() >= _KEYS:
            return None
        found: dict[str, Any] = {
            name: float(saved[fact.key].value.to(fact.unit).magnitude) for name, fact, *_ in _ADDED
        }
        return cls(**found)

    def __add__(self, other: Spent) -> Spent:
        """Add what came after, number by number."""
        sums: dict[str, Any] = {f.name: getattr(self, f.name) + getattr(other, f.name) for f in fields(self)}
        return Spent(**sums)

    def with_other_part(self, part: Spent, other: Spent) -> Spent:
        """Put another part in place of one that is counted in it.

        Numbers come from records with six digits: what is left of a number that was all of that part may
        come out a digit below zero, and is then zero.
        """
        rest: dict[str, Any] = {
            name: max(0.0, getattr(self, name) - getattr(part, name)) for name, *_ in _ADDED
        }
        return Spent(**rest, unknown=self.unknown) + other

    @property
    def is_mould_time_used_up(self) -> bool:
        """Whether one of the rules of mould, the clock of wet stock apart, is at its end."""
        return max(self.strict, self.milder) >= 100 or self.index >= 1

    def values(self) -> tuple[PlannedValue, ...]:
        """Give the numbers with their limits, as plans save and tables show them."""
        return tuple(
            PlannedValue(fact, Q_(getattr(self, name), fact.unit), None, limit, limit_source, source)
            for name, fact, limit, limit_source, source in _ADDED
        )


NOTHING = Spent()
"""What a treatment costs before it has begun."""

Plans = Mapping[tuple[str, int], Sequence[PlannedValue]]
"""Planned values by stage and cycle; beside the stages, under :data:`LOGGER` and :data:`TAKEN`, what a logger
says of the chamber in place of its plan."""

LOGGER, TAKEN = "logger", "taken from the logger"
"""What the logger of a chamber says now, and what of a logger a press plan took when it was saved."""


def spend_chamber(plans: Plans, cycle: int) -> Spent | None:
    """Give what the chamber of a cycle cost: by its logger where that is in use, else as planned."""
    logged = Spent.as_planned(plans.get((LOGGER, cycle), ()))
    if logged is not None:
        return replace(logged, logged=(f"the chamber of cycle {cycle}",))
    return Spent.as_planned(plans.get(("humidity", cycle), ()))


def spend_press(plans: Plans, cycle: int) -> Spent | None:
    """Give what chamber and press of a cycle cost together; None without a press plan.

    A press plan holds what its chamber cost too, as planned or by the logger, whichever was in use when it
    was saved.  What is in use now takes the place of that, so that a logger counts for a press that is over.
    """
    pressed = Spent.as_planned(plans.get(("pressing", cycle), ()))
    if pressed is None:
        return None
    damp, planned = spend_chamber(plans, cycle), Spent.as_planned(plans.get(("humidity", cycle), ()))
    then = Spent.as_planned(plans.get((TAKEN, cycle), ())) or planned
    if damp is None or then is None or (damp == planned and then == planned):
        return pressed
    return pressed.with_other_part(then, damp)


def spend_cycles(plans: Plans, last: int) -> Spent:
    """Add what the cycles up to and with a last one cost, as planned or by the loggers of their chambers.

    A cycle without a press plan counts its chamber, and names the press as not counted.
    """
    whole = NOTHING
    for cycle in range(1, last + 1):
        pressed, damp = spend_press(plans, cycle), spend_chamber(plans, cycle)
        if pressed is not None:
            whole += pressed
        elif damp is not None:
            whole += damp + Spent(unknown=(f"the press of cycle {cycle}",))
        else:
            whole += Spent(unknown=(f"cycle {cycle}",))
    return whole


class Standing(StrEnum):
    """Where a number stands against its limit."""

    WITHIN = "within"
    MAY_BE = "may be over"
    OVER = "over the limit"

    @property
    def verdict(self) -> Verdict:
        """What it says by itself: care; whether a limit that is passed forbids going on, a caution says."""
        return Verdict.GO if self is Standing.WITHIN else Verdict.CARE


_ROUNDING = 1e-9  # share of a limit: an interval that ends at its limit does not pass it
_RANK = tuple(Standing)


@dataclass(frozen=True)
class Reading:
    """One source's number of a dose, beside its limit.

    Attributes
    ----------
    by : str
        Whose number it is.
    value : PlannedValue
        The number, with its limit where it has one.
    standing : Standing or None
        None without a limit.
    """

    by: str
    value: PlannedValue
    standing: Standing | None

    def say(self, units: UnitChoice = MILLIMETRES) -> str:
        """Write who says it and the number beside its limit."""
        limit = self.limit(units)
        return f"{self.by} {self.number(units)}" + (f" (limit {limit})" if limit else "")

    def number(self, units: UnitChoice = MILLIMETRES) -> str:
        """Write the number in the operator's unit, in two digits where its doubt is not known."""
        value = self.value
        is_plain = value.low is None and value.uncertainty is None
        return _say_short(value.value, shown_unit(value.unit, units)) if is_plain else value.say(units)

    def limit(self, units: UnitChoice = MILLIMETRES) -> str:
        """Write the limit; empty without one."""
        limit = self.value.limit
        return "" if limit is None else _say_short(limit, shown_unit(self.value.unit, units))


def _say_short(quantity: Quantity, unit: str) -> str:
    number = float(quantity.to(unit).magnitude)
    digits = f"{number:.0f}" if abs(number) >= 10 else f"{float(f'{number:.2g}'):g}"
    return f"{digits} {'days' if unit == 'day' else unit_label(unit)}".strip()


@dataclass(frozen=True)
class Dose:
    """One thing that the item takes, by every source that speaks of it."""

    name: str
    readings: tuple[Reading, ...]

    @property
    def standing(self) -> Standing | None:
        """The worst of its sources; None if none of them has a limit."""
        known = [reading.standing for reading in self.readings if reading.standing is not None]
        return max(known, key=_RANK.index, default=None)

    @property
    def over(self) -> tuple[Reading, ...]:
        """The sources by which it is over the limit."""
        return tuple(reading for reading in self.readings if reading.standing is Standing.OVER)

    def say(self) -> str:
        """Write all its numbers in a line."""
        return f"{self.name[:1].upper()}{self.name[1:]}: {'; '.join(r.say() for r in self.readings)}."


_CLOCK = "clock of wet stock"
MOULD, RUST, AGEING, SIZE = "mould", "rust of staples", "ageing", "size"
COATING, GLUE, FIBRES = "coating of the cover", "spine glue", "fibres"

# Dose, whose number, which planned value, share of the limit from which it may be over: the rules of mould
# differ by a factor of two and more, the laws of ageing by four.
_BY: tuple[tuple[str, str, Fact, float], ...] = (
    (MOULD, "growth model", facts.MOULD_INDEX, 0.5),
    (MOULD, "strict rule of days", facts.MOULD_STRICT, 0.5),
    (MOULD, "milder rule of days", facts.MOULD_MILDER, 0.5),
    (MOULD, _CLOCK, facts.MOULD_CLOCK, 0.5),
    (RUST, "time of wetness, above 80 % RH", facts.STAPLES_WET, 1.0),
    (RUST, "time above the 60 % RH that museums keep to", facts.STAPLES_DAMP, 1.0),
    (AGEING, "first law, at 20 °C and 50 % RH", facts.AGEING_FIRST, 0.25),
    (AGEING, "second law, at 20 °C and 50 % RH", facts.AGEING_SECOND, 0.25),
    (COATING, "highest humidity in the press", facts.COVER_HUMIDITY, 1.0),
    (COATING, "highest temperature in the press", facts.COVER_HEAT, 1.0),
    (GLUE, "warmer than its softening by", facts.GLUE_ABOVE, 1.0),
    (FIBRES, "warmer than their softening by (wanted)", facts.FIBRES_ABOVE, 1.0),
    (SIZE, "width, across the grain", facts.WIDTH_GROWS, 1.0),
    (SIZE, "height, along the grain", facts.HEIGHT_GROWS, 1.0),
)
_MEASURED = {facts.CHANGE_OF_WIDTH.key: "width", facts.CHANGE_OF_HEIGHT.key: "height"}


def judge_doses(values: Iterable[PlannedValue], item: Item | None = None) -> tuple[Dose, ...]:
    """Read doses from planned values, each number held against its limit.

    Parameters
    ----------
    values : iterable of PlannedValue
        Of :meth:`Spent.values` and of a press plan, just made or read back from a record.
    item : Item, optional
        Leaves out what it does not have: staples, a cover that may be coated, glue.

    Returns
    -------
    tuple of Dose
        Those of which a number is known.

    Notes
    -----
    *Over* is said where the number, or the whole of its interval, is past the limit; *may be over* where a
    part of the interval is, or where sources that disagree are past the share of the limit at which they
    would.  A limit below zero is passed downwards.  A coating is harmed by damp and warmth together
    only: it is over if both are.
    """
    known = by_key(values)
    found: dict[str, list[Reading]] = {}
    for dose, by, fact, share in _BY:
        if fact.key in known and not (item is not None and _is_without(item, dose)):
            value = known[fact.key]
            found.setdefault(dose, []).append(Reading(by, value, _stand(value, share)))
    sizes = [
        Reading(f"{_MEASURED[value.fact.family]}, {value.fact.part}", value, _stand(value, 1.0))
        for value in known.values()
        if value.fact.family in _MEASURED
    ]
    if sizes:  # what was measured stands in place of what was expected
        found[SIZE] = sizes
    if COATING in found and any(r.standing is not Standing.OVER for r in found[COATING]):
        found[COATING] = [Reading(r.by, r.value, Standing.WITHIN) for r in found[COATING]]
    return tuple(Dose(name, tuple(readings)) for name, readings in found.items())


def _is_without(item: Item, dose: str) -> bool:
    if dose == RUST:
        return not item.staples
    if dose == COATING:
        return not item.cover_leaves or item.cover_coated is Answer.NO
    return dose == GLUE and (item.glue == "none" or not item.is_square_bound)


def _stand(value: PlannedValue, share: float) -> Standing | None:
    if value.limit is None:
        return None
    limit = float(value.limit.to(value.unit).magnitude)
    sign = -1 if limit < 0 else 1
    numbers = (float(each.to(value.unit).magnitude) for each in (value.value, *value.ends))
    likely, low, high = (sign * number for number in numbers)
    if min(low, high) > sign * limit:
        return Standing.OVER
    past = max(likely / share, low, high) - sign * limit
    return Standing.MAY_BE if past > _ROUNDING * abs(limit) else Standing.WITHIN


def _say_by(reading: Reading, units: UnitChoice) -> str:
    return f"by {reading.by}, {reading.number(units)} (limit {reading.limit(units)})"


OVER_A_LIMIT = "Over a limit"


@dataclass(frozen=True)
class Account:
    """What a treatment costs, dose by dose, and what is not counted.

    Attributes
    ----------
    doses : tuple of Dose
        Those of which a number is known.
    unknown : tuple of str
        Parts of the treatment of which no plan is saved.
    logged : tuple of str
        Parts that are counted by the air that a logger kept, not by the plan.
    """

    doses: tuple[Dose, ...] = ()
    unknown: tuple[str, ...] = ()
    logged: tuple[str, ...] = ()

    def dose(self, name: str) -> Dose | None:
        """Give a dose by its name; None if nothing is known of it."""
        return next((dose for dose in self.doses if dose.name == name), None)

    @property
    def over(self) -> tuple[tuple[str, Reading], ...]:
        """Every number that is over its limit, with the name of its dose."""
        return tuple((dose.name, reading) for dose in self.doses for reading in dose.over)

    @property
    def near(self) -> tuple[str, ...]:
        """Names of the doses that may be over a limit, and are not surely so."""
        return tuple(dose.name for dose in self.doses if dose.standing is Standing.MAY_BE)

    def say_over(self, units: UnitChoice = MILLIMETRES) -> str:
        """Name every dose that is over a limit, with the sources that say so; empty if none is."""
        said = [f"{d.name} {' and '.join(_say_by(r, units) for r in d.over)}" for d in self.doses if d.over]
        return f"{OVER_A_LIMIT}: {'; '.join(said)}." if said else ""

    def say_unknown(self) -> str:
        """Name what is not counted; empty if all is."""
        if not self.unknown:
            return ""
        return f"Not counted, because no plan is saved: {', '.join(self.unknown)}."

    def say_logged(self) -> str:
        """Name what is counted by a logger; empty if all is as planned."""
        if not self.logged:
            return ""
        return f"Counted by the air that a logger kept, not by the plan: {', '.join(self.logged)}."

    def say_first(self, units: UnitChoice = MILLIMETRES) -> str:
        """Say how it stands in a sentence or two: what is over, or that nothing is, as far as is counted."""
        within = "Within every limit, as far as counted." if self.unknown else "Within every limit."
        if self.near:
            within = f"Over no limit for certain; {', '.join(self.near)} may be."
        return f"{self.say_over(units) or within} {self.say_unknown()}".strip()


def judge_next(plans: Plans, last: int, item: Item | None = None) -> Account | None:
    """Hold what the treatment would have cost after one more cycle like the last one against its limits.

    Parameters
    ----------
    plans : mapping of (str, int) to sequence of PlannedValue
        Planned values by stage and cycle, as saved.
    last : int
        The cycle that was just finished.
    item : Item, optional
        As in :func:`judge_doses`.

    Returns
    -------
    Account or None
        None if no press plan of that cycle is saved with what it costs.
    """
    again = spend_press(plans, last)
    return None if again is None else add_up(spend_cycles(plans, last) + again, (), item)


def add_up(spent: Spent, values: Iterable[PlannedValue], item: Item | None = None) -> Account:
    """Hold what a treatment has spent, and the highest values of its press, against their limits.

    Parameters
    ----------
    spent : Spent
        Over the whole treatment.
    values : iterable of PlannedValue
        Of the press plan and of the review.
    item : Item, optional
        As in :func:`judge_doses`.
    """
    is_counted = replace(spent, unknown=(), logged=()) != NOTHING or not spent.unknown
    counted = spent.values() if is_counted else ()
    others = [value for value in values if value.key not in _KEYS]
    logged = tuple(dict.fromkeys(spent.logged))
    return Account(judge_doses((*others, *counted), item), spent.unknown, logged)


def judge_treatment(
    plans: Plans, last: int, item: Item | None = None, measured: Iterable[PlannedValue] = ()
) -> Account:
    """Read the doses of a whole treatment from its saved plans.

    Parameters
    ----------
    plans : mapping of (str, int) to sequence of PlannedValue
        Planned values by stage and cycle, as saved.
    last : int
        Cycle up to which they are counted; highest values and sizes are those of its press plan.
    item : Item, optional
        As in :func:`judge_doses`.
    measured : iterable of PlannedValue
        Changes of size as the review found them.

    Returns
    -------
    Account
    """
    return add_up(spend_cycles(plans, last), (*plans.get(("pressing", last), ()), *measured), item)


def caution_of_mould(account: Account, cycle: Spent, *, care_from: float) -> Caution:
    """Say how the time for mould stands.

    Parameters
    ----------
    account : Account
        Of the whole treatment.
    cycle : Spent
        Of this cycle alone.  Rules of days are for damp on end: only what one cycle uses up forbids it, and
        cycles with dry rests between that pass a limit together ask for care.
    care_from : float
        Percent of the strict rule's days.
    """
    dose = account.dose(MOULD)
    if dose is None:
        return _MOULD_UNKNOWN()
    strict = max(r.value.value.to("percent").magnitude for r in dose.readings if r.value.unit == "percent")
    if cycle.is_mould_time_used_up:
        return _MOULD_USED_UP(strict=strict)
    passed = [reading.by for reading in dose.over]
    if passed == [_CLOCK]:
        return _MOULD_CLOCK_OVER(clock=_CLOCK)
    if passed:
        return _MOULD_RULES_OVER(rules=" and the ".join(passed))
    return _MOULD_TIME(Verdict.CARE if strict >= care_from else Verdict.GO, strict=strict)


def caution_of_rust(account: Account, item: Item) -> list[Caution]:
    """Say how long the staples were damp; none without staples.

    It asks for care and never forbids: bloom is a stain to be watched for, chosen here.
    """
    dose = account.dose(RUST)
    if dose is None:
        return []
    wet, is_rusted = dose.readings[0], any(staple.rust for staple in item.staples)
    if not wet.value.value.magnitude and not is_rusted:
        return []
    hours, limit = wet.number(), wet.limit()
    if wet.standing is Standing.OVER:
        return [_STAPLES_OVER(wet=hours, limit=limit)]
    if is_rusted:
        return [_RUST_BLOOMS(wet=hours, limit=limit)]
    return [_CLEAN_WIRE(wet=hours, limit=limit)]


def caution_of_ageing(account: Account) -> Caution:
    """Say what it costs in ageing."""
    dose = account.dose(AGEING)
    if dose is None:
        return _AGEING_UNKNOWN()
    most = max(dose.readings, key=lambda reading: reading.value.value)
    forbids = dose.standing is Standing.OVER  # more than a year on the shelf, for good
    level = Verdict.STOP if forbids else (dose.standing or Standing.WITHIN).verdict
    return _AGEING(level, most=most.number())


def caution_of_unknown(account: Account) -> list[Caution]:
    """Say what is not counted; none if all is."""
    words = account.say_unknown()
    return [Caution(Verdict.CARE, words)] if words else []
