"""The whole pressing followed by the transient model: heat, night, changes of sheets, rest under weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from bench.item import Item, Thicknesses
from bench.physics.exposure import Exposure
from bench.physics.ranges import Range
from bench.physics.transient import (
    Air,
    CoolingPlaten,
    Course,
    History,
    Inputs,
    Insulated,
    Open,
    Phase,
    Platen,
    Rest,
    SolidBase,
    humidity_after,
)
from bench.physics.transient.faces import BASE_FILM, Face
from bench.physics.transient.history import HistoryStep
from bench.physics.transient.inputs import HYSTERESIS, INPUT_WORDS, PLATEN
from bench.physics.vapour import COVER_AS_AIR
from bench.stack import Role, Stack, build_item_stack
from bench.treatment import measured
from bench.treatment.measured import LEAF_HEAT, PLATEN_ERROR, PRESS, MeasuredHere, find_measured, value_or
from bench.treatment.prediction import (
    COATED_COVER,
    LIKELY,
    LOOSE,
    follow_named,
    follow_together,
    join_alike,
    with_its_cover,
)
from bench.treatment.pressing.measured import taken_here
from bench.treatment.pressing.plan import PressingChoices
from bench.treatment.pressing.stack import build_press_stack, contact_load
from bench.units import Q_, Quantity, to_humidity

Floats = NDArray[np.float64]

MOST_CHANGES = 8
"""Changes of sheets that are followed at most, where no more are planned."""

_BENCH = Q_(10, "min")  # on the bench while the sheets go in: judgement
WEIGHT, LONGEST_WEIGHT = Q_(10, "day"), Q_(60, "day")
"""How long the rest under weight is followed, and how long if that is not enough."""
_VARIED = ("transport_ratio", "cover_as_air", "release_as_air", "isotherm_scale", "hysteresis")
_TOGETHER = {"cover_as_air": "how tight cover and release sheet are"}
"""Said while neither is known apart from the other."""


@dataclass(frozen=True)
class PressRun:
    """An item on its way through the press, ready to be followed.

    Attributes
    ----------
    item : Item
        What is pressed.
    stack : Stack
        In the press, from the hot platen down.
    alone : Stack
        Cover and leaves only.
    choices : PressingChoices
        Stack, load, heat, night and changes of sheets.
    """

    item: Item
    stack: Stack
    alone: Stack
    choices: PressingChoices

    @property
    def room(self) -> Air:
        """Air of the room, at which sheets and boards rested."""
        return Air(self.choices.room_temperature, self.choices.room_humidity)

    @property
    def dry(self) -> Rest:
        """State of sheets and boards that come in."""
        return Rest(self.choices.room_humidity, self.choices.room_temperature)

    @cached_property
    def taken(self) -> MeasuredHere:
        """What the plan takes of what this bench measured: nothing of its heat in a cold press."""
        return taken_here(self.item, self.choices)

    @cached_property
    def inputs(self) -> Inputs:
        """What is not known well, with its ranges."""
        choices, paper, taken = self.choices, self.item.text_paper, self.taken
        cover = find_measured(taken, measured.COVER_AS_AIR, COATED_COVER)
        release = find_measured(taken, measured.RELEASE_AS_AIR, choices.release or "")
        apart = None if cover is None and release is None else COVER_AS_AIR
        return Inputs(
            transport_ratio=choices.transport_ratio,
            cover_as_air=COVER_AS_AIR if cover is None else cover.value,
            isotherm_scale=value_or(taken, measured.ISOTHERM_SCALE, paper, choices.isotherm_scale),
            hysteresis=value_or(taken, measured.HYSTERESIS, paper, HYSTERESIS),
            release_as_air=apart if release is None else release.value,
            **self._measured_heat,
        )

    @property
    def leaf_heat(self) -> Range | None:
        """Factor on the resistance to heat, if this bench measured it for this paper."""
        found = find_measured(self.taken, LEAF_HEAT, self.item.text_paper)
        return None if found is None else found.value

    @property
    def _measured_heat(self) -> dict[str, Range]:
        """What this bench measured of its heat; of conduction and contacts both, what it found together."""
        found = {"platen_error": value_or(self.taken, PLATEN_ERROR, PRESS, PLATEN)}
        if self.leaf_heat is not None:
            value, low, high = self.leaf_heat.floats("", field=LEAF_HEAT.label)
            passes = Range.of((1 / value, 1 / high, 1 / low), "")
            found |= {"conductivity_factor": passes, "contact_factor": passes}
        return found

    def damp(self, humidity: Quantity) -> Rest:
        """Give the item as damp as that, alike throughout."""
        return Rest(humidity, self.choices.room_temperature)

    def _base(self, loss: Quantity | Range = BASE_FILM) -> Face:
        choices = self.choices
        if choices.heated == "both":
            return self._platen
        return SolidBase(loss) if choices.base == "open" else Insulated()

    @property
    def _platen(self) -> Platen:
        assert self.choices.platen_temperature is not None
        return Platen((self.choices.platen_temperature,))

    def hot(self, duration: Quantity, loss: Quantity | Range = BASE_FILM) -> Phase:
        """Give the phase under the hot platen."""
        return Phase(
            "hot",
            duration,
            self.room,
            self._platen,
            self._base(loss),
            contact_load(self.choices),
            stack=self.stack,
            fresh=self.dry,
        )

    @property
    def until_off(self) -> tuple[Phase, ...]:
        """The phases until the heat goes off: the bench, and the heat if there is any."""
        return self._phases[: 2 if self.choices.is_warm else 1]

    def phases(self, changes: int) -> tuple[Phase, ...]:
        """Give the phases until the last of some changes of sheets."""
        return self._phases[: len(self._phases) - self._most + changes]

    @property
    def _most(self) -> int:
        """Changes that are followed."""
        return max(self.planned, MOST_CHANGES)

    @cached_property
    def _phases(self) -> tuple[Phase, ...]:
        choices = self.choices
        found = [Phase("bench", _BENCH, self.room, Open(), SolidBase())]
        if choices.is_warm:
            found.append(self.hot(choices.dwell))
        found.append(self.cooled(choices.night))
        fresh = frozenset({Role.INTERLEAF})
        found += [
            self._closed(f"change {number}", choices.between_changes, fresh)
            for number in range(1, self._most + 1)
        ]
        return tuple(found)

    @cached_property
    def _cooling(self) -> tuple[Face, Face]:
        """What lies at both faces once the heat is off."""
        choices = self.choices
        if not choices.is_warm:
            return SolidBase(), SolidBase()
        assert choices.platen_temperature is not None
        platen = CoolingPlaten(choices.platen_temperature, choices.half_life.value)
        return platen, platen if choices.heated == "both" else self._base()

    def cooled(self, duration: Quantity) -> Phase:
        """Give the phase from the end of the heat on, or from the closing of a cold press."""
        return self._closed("night", duration, frozenset())

    def _closed(self, name: str, duration: Quantity, renew: frozenset[Role]) -> Phase:
        """Give a phase in the closed press without heat."""
        return Phase(
            name,
            duration,
            self.room,
            *self._cooling,
            contact_load(self.choices),
            stack=self.stack,
            fresh=self.dry,
            renew=renew,
        )

    @property
    def planned(self) -> int:
        """Changes planned; none without sheets."""
        return self.choices.changes if self.stack.of(Role.INTERLEAF) else 0

    def course(self, *phases: Phase) -> Course:
        """Give the likely course through some phases, from the item as the chamber leaves it."""
        start = self.damp(self.choices.item_humidity.value)
        return Course(self.alone, phases, start, self.inputs, tolerance=LIKELY)

    @property
    def likely(self) -> History:
        """The likely run, with more changes than are planned so that they can be counted."""
        return self._runs[0][1]

    @property
    def ends(self) -> tuple[tuple[str, History], ...]:
        """Runs at the ends of what counts for the water, each with its cause."""
        return self._runs[1:]

    @cached_property
    def to_night(self) -> tuple[tuple[str, History], ...]:
        """The likely run and those at the ends of what counts for the water, to the end of the night."""
        phases = self.phases(0)
        return follow_named([(cause, replace(course, phases=phases)) for cause, course in self._courses])

    @cached_property
    def _runs(self) -> tuple[tuple[str, History], ...]:
        """Follow all to the changes planned, then the likely run on, with others where that is of use."""
        if not self.stack.of(Role.INTERLEAF) or self.planned == self._most:
            return follow_named(self._courses)
        histories = follow_together([course for _, course in self._courses])
        longer = self.phases(self._most)
        goes_on = (True, *self._going_on(histories))
        return follow_named(
            [
                (cause, replace(course, phases=longer) if on else course)
                for (cause, course), on in zip(self._courses, goes_on, strict=True)
            ]
        )

    def _going_on(self, histories: Sequence[History]) -> list[bool]:
        """Tell which ends are followed beyond the changes planned: the two driest, if no run is dry enough.

        Either may be the first below the limit.  How many changes that takes at the fewest hangs on the item,
        and not on how many are planned.
        """
        last = self.phases(self.planned)[-1].name
        _, *damp = wettest = [history.after(last, "activity", "wettest") for history in histories]
        if min(wettest) <= to_humidity(self.choices.release_limit):
            return [False] * len(damp)
        return [activity <= sorted(damp)[1] for activity in damp]

    @cached_property
    def _courses(self) -> tuple[tuple[str, Course], ...]:
        """The likely course, and one for each end of what counts for the water, with its cause."""
        likely = self.course(*self.phases(self.planned))
        loose = replace(likely, tolerance=LOOSE)
        given = self.choices.item_humidity
        found = [("", likely)]
        found += [
            ("humidity of the item", replace(loose, start=self.damp(humidity)))
            for humidity in self.choices.followed_ends
            if humidity != given.value
        ]
        words = INPUT_WORDS | (_TOGETHER if self.inputs.release_as_air is None else {})
        found += [
            (words[name], replace(loose, inputs=inputs)) for name, inputs in self.inputs.at_ends(_VARIED)
        ]
        return tuple(found)

    def rests(self, humidity: Range, duration: Quantity = WEIGHT) -> tuple[tuple[str, History], ...]:
        """Follow the rest under light weight from an item as damp as that, the upper face free.

        The likely run, and one for each end of that humidity and of what counts for the water.
        """
        likely = self._resting(humidity.value, duration)
        starts = [end for end in (humidity.low, humidity.high) if end != humidity.value]
        found = [("", likely), *(("humidity at release", self._resting(end, duration)) for end in starts)]
        found += [(name, replace(likely, inputs=inputs)) for name, inputs in self.inputs.at_ends(_VARIED)]
        return follow_named(found)

    def rest(self, humidity: Quantity) -> History:
        """Follow the likely rest under light weight from an item as damp as that."""
        return follow_together((self._resting(humidity, WEIGHT),))[0]

    def _resting(self, humidity: Quantity, duration: Quantity) -> Course:
        phase = Phase("weight", duration, self.room, Open(), SolidBase())
        return Course(self.alone, (phase,), self.damp(humidity), self.inputs, tolerance=LOOSE)

    def exposures(self, place: str = "wettest") -> tuple[Exposure, ...]:
        """Give what a place of the item goes through in press and under weight, as planned."""
        names = [phase.name for phase in self.phases(self.planned)]
        last = names[-1]
        pressed = join_alike(self.likely.steps(place, phases=names))
        rest = self.rest(humidity_after(self.likely, last).mean)
        weight = float(self.choices.under_weight.to("hour").magnitude)
        return (*pressed, *_until(rest.steps(place), weight))


def _until(steps: list[HistoryStep], hours: float) -> tuple[Exposure, ...]:
    """Give the steps up to an hour, the last cut there."""
    found, left = [], hours
    for step in steps:
        if left <= 0:
            break
        found.append(step._replace(hours=min(left, step.hours)))
        left -= step.hours
    return join_alike(found)


def set_up(item: Item, thicknesses: Thicknesses, choices: PressingChoices) -> PressRun:
    """Put an item into the press.

    Raises
    ------
    NotFound, BadValue
        A material that no table holds, or more interleaves than leaves.
    """
    stack = _same(with_its_cover(build_press_stack(item, thicknesses, choices), item))
    alone = _same(with_its_cover(build_item_stack(item, thicknesses), item))
    return PressRun(item, stack, alone, choices)


@lru_cache(maxsize=64)
def _same(stack: Stack) -> Stack:
    """Give the stack that was built alike before: one and the same is compared at once."""
    return stack
