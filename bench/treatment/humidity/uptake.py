"""The uptake of an item in a chamber, followed by the transient model, with its doubts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.item import Answer, Item, Thicknesses
from bench.physics.exposure import Exposure
from bench.physics.ranges import Range, as_range, join_ends
from bench.physics.sorption import dry_mass, water_to_take_up
from bench.physics.transient import (
    Air,
    ClosedChamber,
    Course,
    History,
    Inputs,
    Open,
    Phase,
    Rest,
    SolidBase,
    TakeOut,
    hours_until,
    minutes_before_loss,
    take_out_window,
    what_limits,
)
from bench.physics.transient import inputs as believed
from bench.physics.transient.inputs import INPUT_WORDS, limits_of
from bench.stack import Role, Stack, build_item_stack
from bench.treatment.humidity.measured import taken_here
from bench.treatment.humidity.plan import HumidityChoices, Moment
from bench.treatment.humidity.source import HIGHEST_STEP, HeldHumidity, Source, read_source
from bench.treatment.measured import COVER_AS_AIR, HYSTERESIS, ISOTHERM_SCALE, value_or
from bench.treatment.prediction import (
    COATED_COVER,
    COVER_UNKNOWN,
    LIKELY,
    LOOSE,
    follow,
    follow_named,
    join_alike,
    join_runs,
    with_its_cover,
)
from bench.units import Q_, Quantity, to_humidity

Floats = NDArray[np.float64]

_SHORTEST_OPEN = 0.01  # minutes: far below any that hands could use
LOSS = Q_(5, "percent")  # the outer leaf may dry by so much before it is interleaved: judgement
_BENCH = Q_(2, "hour")  # longest that the bench is followed
_LONG = 20 * 24.0  # h followed at least: what is not reached by then, the source does not reach
_EARLY = (0.1, 0.25, 0.5, 1.0, 1.5)  # h: the first hours are followed closely, there the air sags
_TABLED = 0.15  # doubt of the dry mass from tabled papers: judgement
_VARIED = (
    "transport_ratio",
    "cover_as_air",
    "release_as_air",  # where a press follows
    "film_factor",
    "thickness_factor",
    "isotherm_scale",
)
_SOURCE = "what the source holds"


@dataclass(frozen=True)
class Run:
    """One run: what was changed in it (empty for the likely values), its inputs, and how it went."""

    cause: str
    inputs: Inputs
    history: History


@dataclass(frozen=True)
class Setting:
    """An item in a chamber, ready to be followed.

    Attributes
    ----------
    item : Item
        What is in the chamber.
    stack : Stack
        Its layers, with the cover as a barrier where it is or may be coated.
    thickness : Range [length]
        Of the text block.
    choices : HumidityChoices
        The chamber, its source and the hours.
    held : HeldHumidity
        What the source holds, the air at rest.
    """

    item: Item
    stack: Stack
    thickness: Range
    choices: HumidityChoices
    held: HeldHumidity

    @property
    def place(self) -> str:
        """The leaf that the damp comes to last."""
        return "middle leaf" if self.choices.faces == "both" else "last leaf"

    @property
    def start(self) -> Rest:
        """State of the item when it goes in."""
        return Rest(self.choices.start_humidity, self.choices.air_temperature)

    @property
    def room(self) -> Air:
        """Air of the room, at which the item rested."""
        return Air(self.choices.air_temperature, self.choices.start_humidity)

    @cached_property
    def inputs(self) -> Inputs:
        """What is not known well, with its ranges."""
        choices = self.choices
        film = choices.film.floats("m/s", field="film of air")
        thick = self.thickness.floats("mm", field="thickness")
        none = Q_(0, "mm")
        taken, paper = taken_here(self.item, choices), self.item.text_paper
        covers: dict[Answer, Range] = {
            Answer.YES: value_or(taken, COVER_AS_AIR, COATED_COVER, choices.cover_as_air),
            Answer.UNKNOWN: COVER_UNKNOWN,
            Answer.NO: Range(none, none, none),
        }
        doubt = 0.0 if self.item.mass is not None else _TABLED
        held = value_or(taken, ISOTHERM_SCALE, paper, choices.isotherm_scale)
        scale, low, high = held.floats("", field="scale of the isotherm")
        # An end beyond what the model holds for ends there; nothing published comes near it.
        least, most = limits_of("isotherm_scale")
        low, high = min(scale, max(least, low * (1 - doubt))), max(scale, min(most, high * (1 + doubt)))
        return Inputs(
            transport_ratio=choices.transport_ratio,
            cover_as_air=covers[self.item.cover_coated] if self.item.cover_leaves else none,
            isotherm_scale=Range.of((scale, low, high), ""),
            film_factor=_ratio(film),
            thickness_factor=_ratio(thick),
            hysteresis=value_or(taken, HYSTERESIS, paper, believed.HYSTERESIS),
        )

    def chamber(self, source: Quantity) -> Phase:
        """Give the phase in the chamber over a source that holds this humidity, followed to the end."""
        choices = self.choices
        air: Air | ClosedChamber = Air(choices.air_temperature, source)
        if choices.source is not Source.GIVEN:
            air = ClosedChamber(
                volume=choices.chamber_volume,
                source_humidity=source,
                source_area=choices.source_area,
                film=choices.film.value,
                leak=choices.leak,
                room=self.room,
            )
        top = Open(choices.film.value)
        bottom = top if choices.faces == "both" else SolidBase()
        return Phase("chamber", Q_(max(1.5 * choices.hours, _LONG), "hour"), air, top, bottom)

    @property
    def course(self) -> Course:
        """The likely course in the chamber."""
        chamber = self.chamber(self.held.step_end)
        return Course(self.stack, (chamber,), self.start, self.inputs, tolerance=LIKELY)

    @property
    def likely(self) -> History:
        """The run with every input at its value."""
        return self.runs[0].history

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The likely run, and one for each input at each of its ends."""
        return follow_runs(self.with_ends(self.course, lambda source: (self.chamber(source),)))

    def with_ends(
        self, likely: Course, phases: Callable[[Quantity], tuple[Phase, ...]]
    ) -> list[tuple[str, Course]]:
        """Give a likely course, and one for each of its inputs and for the source at each of their ends.

        Parameters
        ----------
        likely : Course
            With every input at its value.
        phases : callable
            Gives the phases of the course over a source that holds another humidity.
        """
        found, loose = with_inputs_at_ends(likely), replace(likely, tolerance=LOOSE)
        for end in (self.held.humidity.low, self.held.humidity.high):
            source = _damp(end)
            if to_humidity(source) > to_humidity(self.choices.start_humidity):
                found.append((_SOURCE, replace(loose, phases=phases(source))))
        return found

    def water(self) -> Range:
        """Estimate the water to be taken up until at rest, leaves and cover together, in g."""
        parts = [
            water_to_take_up(
                _dry(self.stack.mass(role), paper, self.choices),
                paper=paper,
                humidity_from=self.choices.start_humidity,
                humidity_to=self.held.step_end,
                temperature=self.choices.air_temperature,
            )
            for role, paper in ((Role.LEAF, self.item.text_paper), (Role.COVER, self.item.cover_paper))
            if self.stack.of(role)
        ]
        likely = sum(float(part.value.to("g").magnitude) for part in parts)
        scales = as_range(self.inputs.isotherm_scale).floats("", field="scale of the isotherm")
        return Range.of((scale * likely for scale in scales), "g")

    def moments(self, water: Range) -> tuple[Moment, ...]:
        """Follow leaves and air through the hours, past the planned end, which is among them.

        An interval ends where the leaves would rest with the dampest source that is believable.
        """
        times = _times(self.choices.hours)
        start = 100 * to_humidity(self.choices.start_humidity)
        most = 100 * to_humidity(_damp(self.held.humidity.high))
        full = water.floats("g", field="water to take up")[2]
        reads = (
            lambda h: 100 * h.series("activity", "mean"),
            lambda h: 100 * h.series("activity", self.place),
            lambda h: h.air_humidity().magnitude,
            _gain,
        )
        curves = [(run.cause, read_smooth(times, run.history, reads)) for run in self.runs]
        least, largest = np.array([(start, most)] * 3 + [(0, full)]).T
        middle = np.clip(curves[0][1], least, largest)
        low, high, _ = join_ends(middle, curves[1:])
        bands = np.stack([middle, np.clip(low, least, middle), np.clip(high, middle, largest)], axis=2)
        return tuple(_moment(hour, band) for hour, band in zip(times.tolist(), bands.tolist(), strict=True))

    def hours_to_wanted(self, place: str) -> tuple[Range | None, dict[str, float]]:
        """Estimate the hours until a place is at the humidity wanted, and rank the doubts.

        None if it never is.  Where an end of an input leaves it for ever below, the interval reaches to
        the end of what was followed.
        """
        wanted = self.choices.wanted_humidity
        found = [(run.cause, hours_until(run.history, wanted, place=place)) for run in self.runs]
        likely = found[0][1]
        if likely is None:
            return None, {}
        longest = float(self.likely.hours.magnitude[-1])
        interval, shares = join_runs(
            [
                (cause, np.log(longest if time is None else max(1e-3, float(time.magnitude))))
                for cause, time in found
            ]
        )
        low, high = np.exp(interval[1:])
        value = min(max(float(likely.magnitude), low), high)
        return Range.of((value, low, min(high, max(longest, value))), "hour"), shares

    def hindrances(self) -> dict[str, float]:
        """Give the share of each hindrance in the whole resistance, the largest first."""
        names = {
            "source": "the source",
            "film": "the air at the item" if self.choices.is_fanned else "the still air",
            "cover": "the cover",
            "pile": "the pile",
            "one face": "the closed face",
        }
        return {names[key]: share for key, share in what_limits(self.likely, "chamber").shares.items()}

    def limits(self) -> str:
        """Say what holds it up most, and what would help."""
        return what_limits(self.likely, "chamber").words

    def window(self) -> TakeOut:
        """Give the earliest and the latest sensible time to take it out."""
        found = take_out_window(self.likely, "chamber", wanted=self.choices.wanted_humidity)
        earliest = hours_until(self.likely, self.choices.wanted_humidity, place=self.place)
        return replace(found, earliest=earliest)

    @property
    def bench(self) -> Phase:
        """The open bench on which it is interleaved, as long as it is followed there."""
        return Phase("bench", _BENCH, self.room, Open(), SolidBase())

    @cached_property
    def taken_out(self) -> History:
        """The likely run to the planned hour, then on the bench."""
        chamber = replace(self.chamber(self.held.step_end), duration=self.choices.planned)
        return follow(replace(self.course, phases=(chamber, self.bench)))

    def exposures(self) -> tuple[Exposure, ...]:
        """Give what the dampest sheet goes through in the chamber, step by step."""
        return join_alike(self.taken_out.steps("wettest", phases=["chamber"]))

    def minutes_on_bench(self) -> Range | None:
        """Estimate the minutes on the bench until the first leaf has lost 5 % RH; None if it does not.

        Every input counts, and the source: how much water the paper holds and how damp its first leaf comes
        out, as well as what carries it away.  Each end goes through the chamber first.
        """
        likely = minutes_before_loss(self.taken_out, "bench", points=LOSS)
        if likely is None:
            return None

        def phases(source: Quantity) -> tuple[Phase, ...]:
            return replace(self.chamber(source), duration=self.choices.planned), self.bench

        course = replace(self.course, phases=phases(self.held.step_end), tolerance=LOOSE)
        longest, logs = float(self.bench.duration.to("minute").magnitude), []
        for cause, history in follow_named(self.with_ends(course, phases)):
            time = minutes_before_loss(history, "bench", points=LOSS)
            minutes = longest if time is None else max(_SHORTEST_OPEN, float(time.magnitude))
            logs.append((cause, np.log(minutes)))
        (middle, *ends), _ = join_runs(logs)
        value = float(likely.magnitude)
        return Range.of((value, *(value * np.exp(end - middle) for end in ends)), "minute")


def with_inputs_at_ends(likely: Course) -> list[tuple[str, Course]]:
    """Give a likely course, and one for each of its inputs at each of its ends, with what was changed."""
    loose = replace(likely, tolerance=LOOSE)
    ends = likely.inputs.at_ends(_VARIED)
    return [("", likely), *((INPUT_WORDS[cause], replace(loose, inputs=inputs)) for cause, inputs in ends)]


def follow_runs(courses: Sequence[tuple[str, Course]]) -> tuple[Run, ...]:
    """Follow courses side by side, each with what was changed in it."""
    histories = follow_named(courses)
    return tuple(
        Run(cause, course.inputs, history)
        for (cause, course), (_, history) in zip(courses, histories, strict=True)
    )


def set_up(item: Item, thicknesses: Thicknesses, choices: HumidityChoices) -> Setting:
    """Put an item into a chamber.

    Raises
    ------
    BadValue
        Readings that contradict each other, a source no damper than the item, or neither one nor both faces.
    UnitMismatch, OutOfRange, NotFound
        A source that cannot be read, as :func:`bench.treatment.humidity.source.read_source` says.
    """
    if choices.faces not in ("both", "one"):
        raise BadValue("open faces", repr(choices.faces), "both or one", "Say how many faces are free")
    stack = with_its_cover(build_item_stack(item, thicknesses), item)
    low, high = thicknesses.text_block.interval()
    held = read_choices(choices)
    start, end = to_humidity(choices.start_humidity), to_humidity(held.step_end)
    if end <= start:
        allowed = f"below the {100 * end:.0f} % of the source"
        remedy = "Take a damper source, or let the item rest in a drier room first"
        raise BadValue("humidity at the start", f"{100 * start:.0f} %", allowed, remedy)
    return Setting(item, stack, Range(thicknesses.text_block.value, low, high), choices, held)


def _gain(history: History) -> Floats:
    grams = np.asarray(history.item_mass().magnitude)
    return np.asarray(grams - grams[0])


def read_choices(choices: HumidityChoices) -> HeldHumidity:
    """Read what the source chosen holds."""
    return read_source(
        choices.source,
        air_temperature=choices.air_temperature,
        wall_temperature=choices.wall_temperature,
        salt=choices.salt,
        given=choices.given_humidity,
    )


def _damp(humidity: Quantity) -> Quantity:
    return Q_(min(HIGHEST_STEP, 100 * to_humidity(humidity)), "percent")


def _ratio(numbers: Sequence[float]) -> Range:
    """Give a value and its ends as factors on the value."""
    value, low, high = numbers
    return Range.of((1.0, low / value, high / value), "")


def _dry(mass: Quantity, paper: str, choices: HumidityChoices) -> Quantity:
    humidity, temperature = choices.start_humidity, choices.air_temperature
    return dry_mass(mass, paper=paper, humidity=humidity, temperature=temperature).value


_UNITS = ("percent", "percent", "percent", "g")  # of the four bands of a moment


def _moment(hour: float, bands: Sequence[Sequence[float]]) -> Moment:
    ranges = (Range.of(band, unit) for band, unit in zip(bands, _UNITS, strict=True))
    return Moment(hour, *ranges)


def read_smooth(times: Floats, history: History, reads: Sequence[Callable[[History], Floats]]) -> Floats:
    """Read curves between the steps of a run, which are hours apart, without corners or overshoot.

    Parameters
    ----------
    times : array
        Hours since the start.
    history : History
        The run.
    reads : sequence of callable
        Each gives one curve of the run.

    Returns
    -------
    array
        Shape (times, curves).
    """
    from scipy.interpolate import PchipInterpolator  # takes a fifth of a second to import

    hours = history.hours.magnitude
    first = np.r_[True, np.diff(hours) > 0]  # a phase begins at the hour at which the one before ends
    values = np.stack([read(history) for read in reads], axis=1)
    return np.asarray(PchipInterpolator(hours[first], values[first])(times), float)


def _times(planned: float) -> Floats:
    until = 1.5 * planned
    later = np.geomspace(2.0, until, 30) if until > 2.5 else np.array([])
    early = [hour for hour in _EARLY if hour < until] or [planned / 4, planned / 2]
    return np.unique(np.concatenate([early, later, [planned]]))
