"""An item followed through chamber, bench, press and weight as one course, with the doubts of all."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from bench.item import Answer, Item, Thicknesses
from bench.physics.isotherms import PAPER_FITS, isotherm_name, isotherm_of
from bench.physics.ranges import Range, join_ends
from bench.physics.transient import Air, Course, History, Inputs, Open, Phase, Rest, SolidBase
from bench.physics.transient.inputs import limits_of
from bench.physics.vapour import COVER_AS_AIR
from bench.treatment.humidity.plan import HumidityChoices, Moment
from bench.treatment.humidity.uptake import Run, Setting, follow_runs, set_up
from bench.treatment.prediction import LIKELY, LOOSE, leaves_as
from bench.treatment.pressing import run as pressing_run
from bench.treatment.pressing.plan import DAMPEST, PressingChoices
from bench.treatment.weighing.later import WEIGHT
from bench.units import Q_, Quantity, to_humidity

Floats = NDArray[np.float64]

ROOM_DOUBT = 5.0
"""Points of relative humidity that sheets, boards and room may be off: judgement, a usual hygrometer."""

SHAPE = "how the isotherm of this paper bends"
SHEETS = "how dry sheets and room were"
_BEND = 0.70  # RH at which shapes of isotherms are told apart: about that of an item after the night


@dataclass(frozen=True)
class Through:
    """An item on its way from the chamber to the rest under weight.

    Attributes
    ----------
    setting : Setting
        In the chamber, which it leaves after the hours planned.
    press : PressRun
        Its humidity when it comes is not read: the chamber says it.
    under : Quantity [time]
        Rest under weight that is followed.
    """

    setting: Setting
    press: pressing_run.PressRun
    under: Quantity

    @cached_property
    def inputs(self) -> Inputs:
        """What is not known well; where no cover is in the way, release sheets still are."""
        item = self.setting.item
        bare = item.cover_coated is Answer.NO or not item.cover_leaves
        release = self.press.inputs.release_as_air
        found = self.setting.inputs
        if release is not None:
            return replace(found, release_as_air=release)
        return replace(found, cover_as_air=COVER_AS_AIR) if bare else found

    def phases(self, source: Quantity | None = None, room: Quantity | None = None) -> tuple[Phase, ...]:
        """Give all phases in order, with another source or another humidity of sheets and room if named."""
        setting, press = self.setting, self.press
        chamber = replace(
            setting.chamber(setting.held.step_end if source is None else source),
            duration=setting.choices.planned,
        )
        weight = Phase(WEIGHT, self.under, press.room, Open(), SolidBase(), stack=press.alone)
        after = (*press.phases(press.planned), weight)
        if room is not None:
            warmth = press.choices.room_temperature
            air, dry = Air(warmth, room), Rest(room, warmth)
            after = tuple(replace(phase, air=air, fresh=dry) for phase in after)
        return (chamber, *after)

    @cached_property
    def ends(self) -> dict[str, float]:
        """Hours at which each phase ends; for the weight, at which it begins."""
        names = [phase.name for phase in self.phases()]
        seconds = list(accumulate(phase.seconds for phase in self.phases()))
        found = dict(zip(names, (time / 3600 for time in seconds), strict=True))
        found[WEIGHT] = found[names[-2]]
        return found

    def until(self, name: str) -> Course:
        """Give the likely course up to a phase, followed a little beyond its end."""
        phases = self.phases()
        count = [phase.name for phase in phases].index(name) + 1
        last = replace(phases[count - 1], duration=1.01 * phases[count - 1].duration)
        return replace(self.course, phases=(*phases[: count - 1], last))

    @property
    def course(self) -> Course:
        """The likely course to the end."""
        setting = self.setting
        return Course(setting.stack, self.phases(), setting.start, self.inputs, tolerance=LIKELY)

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The likely run, and one for each doubt at each of its ends."""
        loose = replace(self.course, tolerance=LOOSE)
        found = self.setting.with_ends(self.course, self.phases)
        room = 100 * to_humidity(self.press.choices.room_humidity)
        for percent in (max(1.0, room - ROOM_DOUBT), min(float(DAMPEST.magnitude), room + ROOM_DOUBT)):
            phases = self.phases(room=Q_(percent, "percent"))
            found.append((SHEETS, replace(loose, phases=phases)))
        for name, inputs in self._shapes():
            found.append((SHAPE, replace(loose, inputs=inputs, isotherms=leaves_as(name))))
        return follow_runs(found)

    def _shapes(self) -> list[tuple[str, Inputs]]:
        """Name the published isotherms that bend most and least, each made to take up as much in all."""
        setting = self.setting
        celsius = float(setting.choices.air_temperature.to("degC").magnitude)
        low, high = (to_humidity(q) for q in (setting.choices.start_humidity, setting.held.step_end))
        paper = setting.item.text_paper
        own = isotherm_name(paper)
        rivals = [name for name in PAPER_FITS if name != own]
        if not low < _BEND < high or not rivals:
            return []

        def taken(name: str, to: float) -> float:
            fit = isotherm_of(name)
            return fit.content(to, celsius) - fit.content(low, celsius)

        bends = sorted(rivals, key=lambda name: taken(name, _BEND) / taken(name, high))
        scale, least, most = self.inputs.middle()["isotherm_scale"], *limits_of("isotherm_scale")
        found = []
        for name in (bends[0], bends[-1]):
            level = min(most, max(least, scale * taken(paper, high) / taken(name, high)))
            found.append((name, replace(self.inputs, isotherm_scale=Q_(level, ""))))
        return found

    @property
    def likely(self) -> History:
        """The run with every input at its value."""
        return self.runs[0].history

    def band(self, read: Callable[[History], Floats], unit: str) -> list[Range]:
        """Give what is read of the histories with the interval that is believed."""
        curves = [(run.cause, read(run.history)) for run in self.runs]
        low, high, _ = join_ends(curves[0][1], curves[1:])
        return ranges(curves[0][1], low, high, unit)

    def times(self) -> Floats:
        """Give hours that draw the whole course: close together after each change."""
        begins = [0.0, *list(self.ends.values())[:-1]]
        whole = sum(phase.seconds for phase in self.phases()) / 3600
        ends = [*list(self.ends.values())[:-1], whole]
        parts = [
            begin + (end - begin) * np.geomspace(0.02, 1, 20) for begin, end in zip(begins, ends, strict=True)
        ]
        return np.unique(np.concatenate(parts))

    def moments(self) -> tuple[Moment, ...]:
        """Follow leaves and air over the whole time, each number with the interval that is believed."""
        times = self.times()
        place = self.setting.place
        columns = (
            self.band(lambda h: read_at(h, h.humidity("mean"), times), "percent"),
            self.band(lambda h: read_at(h, h.humidity(place), times), "percent"),
            self.band(lambda h: read_at(h, h.air_humidity(), times), "percent"),
            self.band(lambda h: read_gain(h, times), "g"),
        )
        rows = zip(times, *columns, strict=True)
        return tuple(Moment(float(hour), *bands) for hour, *bands in rows)


def read_at(history: History, values: Quantity, times: Floats) -> Floats:
    """Read a series at some hours."""
    return np.asarray(np.interp(times, history.hours.magnitude, values.magnitude))


def read_gain(history: History, times: Floats) -> Floats:
    """Read the gain since the item went in at some hours, g."""
    masses = history.item_mass()
    return read_at(history, masses, times) - float(masses.magnitude[0])


def ranges(middle: Floats, low: Floats, high: Floats, unit: str) -> list[Range]:
    """Join three curves to ranges; a relative humidity stays between 0 and 100 %."""
    if unit == "percent":
        middle, low, high = (np.clip(curve, 0.0, 100.0) for curve in (middle, low, high))
    rows = zip(middle, np.minimum(low, middle), np.maximum(high, middle), strict=True)
    return [Range(*(Q_(float(number), unit) for number in row)) for row in rows]


def set_up_through(
    item: Item, thicknesses: Thicknesses, chamber: HumidityChoices, press: PressingChoices, under: Quantity
) -> Through:
    """Put an item into the chamber and then into the press, the rest under weight no shorter than weighed.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
        As setting up chamber or press refuses what was chosen.
    """
    longest = max(press.under_weight, under)
    return Through(
        set_up(item, thicknesses, chamber), pressing_run.set_up(item, thicknesses, press), 1.01 * longest
    )
