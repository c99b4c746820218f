"""How often an interval of 95 % holds the truth: invented benches, each with a truth of its own.

Run it from the folder of the project::

    python -m tests.benchmarks.bench_coverage            # 1,000 benches for every format
    python -m tests.benchmarks.bench_coverage --quick    # 200

A plan says its intervals once.  Then benches are invented: every input that the plan does not know well is
drawn as its range says (:func:`bench.physics.ranges.draw`), the item is followed with what was drawn, and
what comes of it is held against the interval.  It asserts nothing; ``tests/treatment/test_coverage.py`` does.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bench.item import Answer, Format, Item, Thicknesses
from bench.physics.bearing.answers import _solve_beside
from bench.physics.bearing.knowns import Assumed, Press, draw_values
from bench.physics.bearing.measures import unpressed_width
from bench.physics.bearing.results import Limits
from bench.physics.bearing.zones import count_sheets, lay_out
from bench.physics.contact import LOAD_WORDS
from bench.physics.ranges import Range, draw
from bench.physics.transient import (
    Course,
    History,
    Inputs,
    Open,
    Phase,
    Rest,
    SolidBase,
    hours_until,
    minutes_before_loss,
    simulate_together,
)
from bench.physics.transient.answers import first_time
from bench.physics.transient.faces import BASE_FILM
from bench.physics.transient.inputs import limits_of
from bench.treatment import facts
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.load import SEED, weigh_spacings
from bench.treatment.humidity import plan_humidity
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.humidity.uptake import LOSS, Setting
from bench.treatment.humidity.uptake import set_up as set_up_chamber
from bench.treatment.plan import Plan
from bench.treatment.pressing import plan_pressing
from bench.treatment.pressing.heat import HAND_WARM
from bench.treatment.pressing.plan import PressingChoices
from bench.treatment.pressing.run import LONGEST_WEIGHT, PressRun
from bench.treatment.pressing.run import set_up as set_up_press
from bench.treatment.pressing.water import LEFT
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou, stapled_issue

TOLERANCE = 3e-3  # of the truths: as that of the ends of an interval
TOGETHER = 40  # benches that are followed side by side


@dataclass(frozen=True)
class Covered:
    """How often an interval held the truth, and on which side it missed."""

    name: str
    inside: float
    below: float
    above: float

    def __str__(self) -> str:
        """Write it as a row of a table."""
        shares = (f"{100 * share:.1f}" for share in (self.inside, self.below, self.above))
        return f"| {self.name} | {' | '.join(shares)} |"


def hold(name: str, stated: Range, unit: str, truths: Sequence[float]) -> Covered:
    """Hold truths against an interval; one that is met to a thousandth of its width counts as inside."""
    _, low, high = stated.floats(unit, field=name)
    slack = 1e-3 * (high - low) + 1e-9
    values = np.array(truths)
    below, above = float(np.mean(values < low - slack)), float(np.mean(values > high + slack))
    return Covered(name, 1 - below - above, below, above)


def stated(plan: Plan, fact: facts.Fact) -> Range:
    """Give the interval that a plan states."""
    value = plan.value(fact)
    return Range(value.value, *value.ends)


def draw_inputs(given: Inputs, names: Sequence[str], count: int, rng: np.random.Generator) -> list[Inputs]:
    """Draw inputs of the moisture model: those named as their ranges say, all others at their value."""
    middle = given.middle()
    columns = {name: np.full(count, value) for name, value in middle.items()}
    for name in names:
        low, high = limits_of(name)
        columns[name] = np.clip(draw(given.triples[name], rng.standard_normal(count)), low, high)
    units = {"cover_as_air": "m", "platen_error": "delta_degC"}
    return [
        Inputs(**{name: Q_(float(column[k]), units.get(name, "")) for name, column in columns.items()})
        for k in range(count)
    ]


def draw_percent(given: Range, count: int, rng: np.random.Generator, *, most: float) -> np.ndarray:
    """Draw relative humidities in percent; none beyond what the model takes."""
    return np.clip(draw(given.floats("percent", field="humidity"), rng.standard_normal(count)), 1.0, most)


def follow_all(courses: Sequence[Course]) -> list[History]:
    """Follow many courses, some side by side."""
    found: list[History] = []
    for first in range(0, len(courses), TOGETHER):
        found += simulate_together(
            replace(course, tolerance=TOLERANCE) for course in courses[first : first + TOGETHER]
        )
    return found


IN_CHAMBER = ("transport_ratio", "cover_as_air", "film_factor", "thickness_factor", "isotherm_scale")
IN_PRESS = ("transport_ratio", "cover_as_air", "isotherm_scale", "hysteresis")
IN_HEAT = ("conductivity_factor", "contact_factor")


def cover_chamber(plan: Plan, setting: Setting, count: int, rng: np.random.Generator) -> list[Covered]:
    """Hold what a humidity plan says of the item against invented benches."""
    likely = setting.course
    sources = draw_percent(setting.held.humidity, count, rng, most=98.0)
    inputs = draw_inputs(setting.inputs, IN_CHAMBER, count, rng)
    courses = [
        replace(likely, inputs=each, phases=(setting.chamber(Q_(source, "percent")),))
        for each, source in zip(inputs, sources.tolist(), strict=True)
    ]
    histories = follow_all(courses)
    opened = [
        replace(course, phases=(replace(course.phases[0], duration=setting.choices.planned), setting.bench))
        for course in courses
    ]
    planned, place = setting.choices.planned, setting.place
    reads: dict[facts.Fact, Callable[[History], float]] = {
        facts.LEAVES_HUMIDITY: lambda h: float(h.at(h.humidity("mean"), planned).to("percent").magnitude),
        facts.CORE_HUMIDITY: lambda h: float(h.at(h.humidity(place), planned).to("percent").magnitude),
        facts.CHAMBER_HUMIDITY: lambda h: float(h.at(h.air_humidity(), planned).to("percent").magnitude),
        facts.MASS_GAIN: lambda h: float((h.at(h.item_mass(), planned) - h.item_mass()[0]).to("g").magnitude),
    }
    found = [
        hold(fact.label, stated(plan, fact), fact.unit, [read(history) for history in histories])
        for fact, read in reads.items()
    ]
    fact = facts.HOURS_UNTIL.of("innermost leaf")
    if any(value.key == fact.key for value in plan.values):
        longest = float(histories[0].hours.magnitude[-1])
        times = [hours_until(h, setting.choices.wanted_humidity, place=place) for h in histories]
        hours = [longest if time is None else float(time.magnitude) for time in times]
        found.append(hold(fact.label, stated(plan, fact), "hour", hours))
    if any(value.key == facts.MINUTES_OPEN.key for value in plan.values):
        waits = [minutes_before_loss(history, "bench", points=LOSS) for history in follow_all(opened)]
        longest = float(setting.bench.duration.to("minute").magnitude)
        open_for = [longest if wait is None else float(wait.magnitude) for wait in waits]
        found.append(hold(facts.MINUTES_OPEN.label, stated(plan, facts.MINUTES_OPEN), "minute", open_for))
    return found


def cover_press(plan: Plan, run: PressRun, count: int, rng: np.random.Generator) -> list[Covered]:
    """Hold what a press plan says of water and heat against invented benches."""
    damp = draw_percent(run.choices.item_humidity, count, rng, most=98.0)
    inputs = draw_inputs(run.inputs, IN_PRESS, count, rng)
    phases = run.phases(run.planned)
    likely = run.course(*phases)
    courses = [
        replace(likely, inputs=each, start=Rest(Q_(start, "percent"), run.choices.room_temperature))
        for each, start in zip(inputs, damp.tolist(), strict=True)
    ]
    histories = follow_all(courses)
    ends = {facts.NIGHT_HUMIDITY: "night", facts.CHANGES_HUMIDITY: phases[-1].name}
    found = [
        hold(
            fact.label,
            stated(plan, fact),
            "percent",
            [100 * history.after(phase, "activity", "mean") for history in histories],
        )
        for fact, phase in ends.items()
    ]
    if plan.water.conditioning is not None:
        released = [100 * history.after(phases[-1].name, "activity", "mean") for history in histories]
        found.append(_cover_conditioning(plan, run, inputs, released))
    return found


def _cover_conditioning(
    plan: Plan, run: PressRun, inputs: Sequence[Inputs], released: Sequence[float]
) -> Covered:
    """Hold the hours under light weight: each bench goes on from as damp as it came out of the changes."""
    room = float(run.choices.room_humidity.to("percent").magnitude)
    weight = Phase("weight", LONGEST_WEIGHT, run.room, Open(), SolidBase())
    courses = [
        Course(run.alone, (weight,), run.damp(Q_(damp, "percent")), each)
        for each, damp in zip(inputs, released, strict=True)
    ]
    hours = []
    for history in follow_all(courses):
        mean = history.humidity("mean").magnitude
        goal, rising = room + LEFT * (float(mean[0]) - room), bool(mean[0] < room)
        time = first_time(history.hours.magnitude, mean, goal, rising=rising)
        hours.append(float(history.hours.magnitude[-1]) if time is None else float(time))
    fact = facts.HOURS_TO_CONDITION
    return hold(fact.label, stated(plan, fact), "hour", hours)


def cover_heat(plan: Plan, run: PressRun, count: int, rng: np.random.Generator) -> list[Covered]:
    """Hold the temperatures of a press plan against invented benches."""
    inputs = draw_inputs(run.inputs, (*IN_HEAT, "platen_error"), count, rng)
    losses = draw(BASE_FILM.floats("W/m^2/K", field="loss"), rng.standard_normal(count))
    likely = run.course(run.hot(run.choices.dwell))
    histories = follow_all(
        [
            replace(likely, inputs=each, phases=(run.hot(run.choices.dwell, Q_(loss, "W/m^2/K")),))
            for each, loss in zip(inputs, losses.tolist(), strict=True)
        ]
    )
    places = {facts.NEAR_LEAF: "first leaf", facts.MIDDLE_LEAF: "middle leaf", facts.FAR_LEAF: "last leaf"}
    found = [
        hold(fact.label, stated(plan, fact), "degC", [h.temperature(place).magnitude[-1] for h in histories])
        for fact, place in places.items()
    ]
    return [*found, _cover_cooling(plan, run, inputs, losses, rng)]


def _cover_cooling(
    plan: Plan, run: PressRun, inputs: Sequence[Inputs], losses: np.ndarray, rng: np.random.Generator
) -> Covered:
    """Hold the time to cool: half-life of the platen, loss to the room and all else of the heat are drawn."""
    halves = draw(run.choices.half_life.floats("min", field="half-life"), rng.standard_normal(len(inputs)))
    courses = [
        _cooled(run, each, loss, half)
        for each, loss, half in zip(inputs, losses.tolist(), np.maximum(halves, 0.0).tolist(), strict=True)
    ]
    goal = float(run.choices.room_temperature.to("degC").magnitude) + HAND_WARM
    minutes = []
    for history in follow_all(courses):
        part = history.part("night")
        hours, warmest = history.hours.magnitude[part], history.sheets("celsius")[part].max(axis=1)
        time = first_time(hours - hours[0], warmest, goal, rising=False)
        minutes.append(60 * float(hours[-1] - hours[0] if time is None else time))
    return hold(facts.TIME_TO_COOL.label, stated(plan, facts.TIME_TO_COOL), "minute", minutes)


def _cooled(run: PressRun, inputs: Inputs, loss: float, half: float) -> Course:
    """Give bench, heat and two days of cooling with a loss and a half-life as drawn."""
    own = replace(run, choices=replace(run.choices, half_life=Range.of((half, half, half), "min")))
    film, night = Q_(loss, "W/m^2/K"), own.cooled(Q_(48, "hour"))
    if isinstance(night.bottom, SolidBase):
        night = replace(night, bottom=SolidBase(film))
    bench = run.until_off[0]
    return replace(run.course(bench, own.hot(run.choices.dwell, film), night), inputs=inputs)


def cover_sheets(plan: Plan, item: Item, readings: Thicknesses, count: int, seed: int) -> list[Covered]:
    """Hold what thickness alone says of the sheets against invented benches."""
    sheets, press, assumed = count_sheets(item, 6), Press(load=LOAD_WORDS["medium"]), Assumed()
    true = draw_values(item, readings, sheets, press, assumed, rng=np.random.default_rng(seed), samples=count)

    def strain(pressure: np.ndarray) -> np.ndarray:
        return np.log1p(pressure / true["k1"]) / true["k2"]

    kept = (1 - strain(true["load"])) / (1 - strain(true["reading pressure"]))
    gain = sheets.count * true["sheet"]
    thickness = true["text block"] + gain
    found = [
        hold(fact.label, stated(plan, fact), "um", 1e6 * truths)
        for fact, truths in ((facts.GAIN_IN_THICKNESS, gain), (facts.THICKNESS_WITH_SHEETS, thickness))
    ]
    for place in readings.high_places():
        fact = facts.CLEARANCE.of(place)
        over = true[place] + sheets.to_fold * true["sheet"]
        found.append(hold(fact.label, stated(plan, fact), "um", 1e6 * (thickness * kept - over)))
    return found


def cover_unpressed(plan: Plan, item: Item, readings: Thicknesses, count: int, seed: int) -> list[Covered]:
    """Hold the width along the spine left unpressed against benches that were drawn apart from the plan's."""
    fact = facts.UNPRESSED_WIDTH
    if all(value.key != fact.key for value in plan.values):
        return []
    sheets, press, assumed = count_sheets(item, 6), Press(load=LOAD_WORDS["medium"]), Assumed()
    rng = np.random.default_rng(seed + 1)
    widths: list[float] = []
    # The ends are read from 500 samples and shift by chance; so many benches add little to that.
    for _ in range(0, max(count, 3000), 500):
        values = draw_values(item, readings, sheets, press, assumed, rng=rng, samples=500)
        layout = lay_out(item, readings, outside=press.outside)
        (solved,) = _solve_beside([sheets], press, values, layout)
        least = float(Limits().enough.to("").magnitude) * values["load"]
        width = unpressed_width(solved.base.places, solved.base.pressure, least) + layout.outside
        widths += (1e3 * width).tolist()
    return [hold(fact.label, stated(plan, fact), "mm", widths)]


@dataclass(frozen=True)
class Chance:
    """A chance that a plan states, beside how often it came true."""

    kind: str
    interval: int
    stated: float
    came: float

    def __str__(self) -> str:
        """Write it as a row of a table."""
        return (
            f"| {self.kind}, every {self.interval} leaves | {100 * self.stated:.1f} | {100 * self.came:.1f} |"
        )


def cover_chances(kind: str, count: int, *, seed: int = 20261129) -> list[Chance]:
    """Hold the chance of loading spine or staple against benches that were drawn apart from it."""
    item, readings = items()[kind]
    choices = BufferingChoices(load=LOAD_WORDS["medium"], interval=6)

    def weigh(chance: int, samples: int) -> dict[int, float]:
        rng = np.random.default_rng(chance)
        found = weigh_spacings(item, readings, choices, rng=rng, samples=samples)
        return {load.group: load.chance for load in found}

    said, came = weigh(seed, 500), weigh(seed + 1, count)
    return [Chance(kind, group, said[group], came[group]) for group in said]


def items() -> Mapping[str, tuple[Item, Thicknesses]]:
    """Give an invented item of each format with its readings."""
    sheet = annual(
        format=Format.SHEET, leaves=1, cover_leaves=0, staples=(), glue="none", title="Copperwell Broadside"
    )
    glued = annual(format=Format.GLUED, leaves=90, staples=(), cover_coated=Answer.YES)
    thin = replace(annual_readings(), text_block=read_thou(77, "text block"), over_staples={})
    return {
        "square-bound, side-stapled": (annual(cover_coated=Answer.NO), annual_readings()),
        "saddle-stitched": (stapled_issue(cover_coated=Answer.YES), thin),
        "square-bound, glued": (
            glued,
            replace(annual_readings(), text_block=read_thou(420, "text block"), over_staples={}),
        ),
        "single sheet": (
            sheet,
            replace(annual_readings(), text_block=read_thou(4.4, "text block"), over_staples={}),
        ),
    }


def cover(kind: str, count: int, *, seed: int = 20261129) -> list[Covered]:
    """Plan chamber and press of one format, and hold both against invented benches."""
    item, readings = items()[kind]
    rng = np.random.default_rng(seed)
    choices = HumidityChoices(planned=Q_(12, "hour"))
    chamber = plan_humidity(item, readings, choices)
    found = cover_chamber(chamber, set_up_chamber(item, readings, choices), count, rng)
    mean = chamber.value(facts.LEAVES_HUMIDITY)
    pressing = PressingChoices(
        load=LOAD_WORDS["medium"],
        item_humidity=Range(mean.value, *mean.ends),
        interval=None if item.format is Format.SHEET else 6,
    )
    plan, run = plan_pressing(item, readings, pressing), set_up_press(item, readings, pressing)
    if item.format is not Format.SHEET:
        buffered = BufferingChoices(load=LOAD_WORDS["medium"], interval=6)
        loads = weigh_spacings(item, readings, buffered, rng=np.random.default_rng(SEED), samples=500)
        sheets = plan_buffering(item, readings, buffered, loads=loads)
        found += cover_sheets(sheets, item, readings, count, seed)
        found += cover_unpressed(sheets, item, readings, count, seed)
    return [*found, *cover_press(plan, run, count, rng), *cover_heat(plan, run, count, rng)]


def main() -> None:
    """Print the table for every format."""
    count = 200 if "--quick" in sys.argv else 1000
    for kind in items():
        print(f"\n{kind}, {count} benches\n")
        print("| quantity | inside | truth below | truth above |\n|---|---|---|---|")
        for row in cover(kind, count):
            print(row, flush=True)
    print("\n| chance of loading spine or staple | stated, % | came true, % |\n|---|---|---|")
    for kind in ("square-bound, side-stapled", "saddle-stitched"):
        for chance in cover_chances(kind, 5 * count):
            print(chance, flush=True)


if __name__ == "__main__":
    main()
