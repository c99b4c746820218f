"""What a warm platen does to the stack: how long, how warm, how long to cool."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from bench.physics.ranges import Range
from bench.physics.transient import CoolingPlaten, Course, History, SolidBase, dwell_needed
from bench.physics.transient.answers import first_time
from bench.physics.transient.faces import BASE_FILM, Face
from bench.physics.transient.inputs import INPUT_WORDS, Inputs
from bench.physics.transient.sequence import slowest_warming
from bench.treatment.prediction import LOOSE, follow_named, follow_together, join_runs
from bench.treatment.pressing.plan import Heat, HeatAlternative, PressingChoices
from bench.treatment.pressing.run import PressRun
from bench.units import Q_, Quantity

Floats = NDArray[np.float64]

NEARLY = 0.95  # of the slowest leaf's own final rise
HAND_WARM = 5.0  # K above the room: no longer warm to the touch
_DAYS = Q_(96, "hour")  # by then the heaviest platen is cold: ten of its half-lives are 50 hours
_HOURS, _A_MOMENT = float(_DAYS.magnitude), 0.1  # hours; minutes
_LOSS_OFF, _HALF_LIFE = "how much the press loses to the room", "how long the platen keeps its heat"
_SHORTEST = Q_(4, "hour")  # for which the heat is followed at least
_CONSTANTS = 10  # time constants after which the heat stands, even where moving water makes them longer
_VARIED = ("conductivity_factor", "contact_factor")
_MEASURED = "how well the stack passes heat, as measured"
_LOSS = "how much the far side loses"


def estimate_heat(run: PressRun) -> Heat:
    """Estimate times and temperatures of a warm press.

    Parameters
    ----------
    run : PressRun
        With a platen warmer than the room.

    Returns
    -------
    Heat

    Notes
    -----
    :mod:`bench.physics.transient`: conduction, with the heat that water takes up and sets free.  The
    intervals join conduction, contacts and the loss of the far side, one at a time at their ends; the
    error of the platen (3 K either way unless it was measured) is added in proportion, as conduction is
    linear.
    """
    choices = run.choices
    runs = _runs(run)
    likely = runs[0][1]
    both = choices.heated == "both"
    name = "middle leaf" if both else "far leaf"
    slowest, dwell = _slowest(choices), choices.dwell

    def at(place: str, when: Quantity) -> tuple[Range, dict[str, float]]:
        def read(history: History) -> float:
            return float(history.at(history.temperature(place), when).magnitude)

        return _temperature(runs, read, run)

    end = Q_(float(likely.hours.magnitude[-1]), "hour")
    top, middle, bottom = (at(place, dwell) for place in ("first leaf", "middle leaf", "last leaf"))
    minutes = np.linspace(0.0, 1.5 * float(dwell.to("min").magnitude), 46)
    seen = likely.hours.to("min").magnitude
    return Heat(
        time=_time(runs, choices, slowest),
        top=top[0],
        middle=middle[0],
        bottom=bottom[0],
        slowest=middle[0] if both else bottom[0],
        slowest_final=at(slowest, end)[0],
        slowest_name=name,
        slowest_called=name if run.item.leaves + run.item.cover_leaves > 1 else "sheet",
        minutes=tuple(float(m) for m in minutes),
        curves=tuple(
            tuple(float(t) for t in np.interp(minutes, seen, likely.temperature(place).magnitude))
            for place in ("first leaf", "middle leaf", "last leaf")
        ),
        cooling=_cooling(run),
        doubts=(middle if both else bottom)[1],
        cover_humidity=Q_(100 * _highest(run, "activity", covers=True), "percent"),
        cover_heat=Q_(_highest(run, "celsius", covers=True), "degC"),
        spine_heat=Q_(_highest(run, "celsius", covers=False), "degC"),
    )


def _highest(run: PressRun, what: str, *, covers: bool) -> float:
    """Give the highest value of the outermost sheets, or of all, while it is hot and in the night."""
    parts = [run.likely.sheets(what)[run.likely.part(name)] for name in ("hot", "night")]
    return max(float((part[:, [0, -1]] if covers else part).max()) for part in parts)


def slowest_after_dwell(run: PressRun) -> Range:
    """Estimate the temperature of the slowest leaf at the end of the dwell, and nothing else.

    Parameters
    ----------
    run : PressRun
        With a platen warmer than the room.

    Returns
    -------
    Range [degC]
        As :func:`estimate_heat` gives it to three digits, for a tenth of the work: nothing is followed beyond
        the dwell.
    """
    place = _slowest(run.choices)
    runs = _runs(run, run.choices.dwell)
    return _temperature(runs, lambda h: float(h.temperature(place).magnitude[-1]), run)[0]


def slowest_when_it_stands(run: PressRun) -> tuple[Quantity, Quantity]:
    """Give what the slowest leaf likely comes to in an endless dwell, degC, and when half way, minutes."""
    likely = replace(run.course(run.hot(_long(run))), tolerance=LOOSE)
    (history,) = follow_together((likely,))
    warm = history.temperature(_slowest(run.choices)).to("degC").magnitude
    room = float(run.choices.room_temperature.to("degC").magnitude)
    half = np.interp((room + warm[-1]) / 2, warm, history.hours.to("min").magnitude)
    return Q_(float(warm[-1]), "degC"), Q_(float(half), "min")


def _slowest(choices: PressingChoices) -> str:
    return "middle leaf" if choices.heated == "both" else "last leaf"


def _runs(run: PressRun, until: Quantity | None = None) -> tuple[tuple[str, History], ...]:
    """Follow the heat until it stands, or so long: the likely run, and one for each end of its causes."""
    long = until or _long(run)
    likely = run.course(run.hot(long))
    loose = replace(likely, tolerance=LOOSE)
    found = [("", likely)]
    found += [(cause, replace(loose, inputs=inputs)) for cause, inputs in _inputs_at_ends(run)]
    if run.choices.heated == "one" and run.choices.base == "open":
        losses = (BASE_FILM.low, BASE_FILM.high)
        found += [(_LOSS, replace(loose, phases=(run.hot(long, loss),))) for loss in losses]
    return follow_named(found)


def _inputs_at_ends(run: PressRun) -> list[tuple[str, Inputs]]:
    """Give the inputs of the heat at their ends; what was measured as one goes to its ends as one."""
    groups = [(_MEASURED, _VARIED)] if run.leaf_heat else [(INPUT_WORDS[name], (name,)) for name in _VARIED]
    found = []
    for cause, names in groups:
        for end in (1, 2):
            inputs = run.inputs
            for name in names:
                inputs = inputs.with_end(name, end)
            found.append((cause, inputs))
    return found


def _long(run: PressRun) -> Quantity:
    """Give how long the heat is followed until it stands, and for twice the dwell at least."""
    stands = _CONSTANTS * slowest_warming(run.course(run.hot(_SHORTEST)))
    return max(_SHORTEST, 2 * run.choices.dwell, stands.to("hour"))


def _temperature(
    runs: Sequence[tuple[str, History]], read: Callable[[History], float], run: PressRun
) -> tuple[Range, dict[str, float]]:
    """Join one temperature over the runs, with the error of the platen, and rank the doubts."""
    found, choices = [(cause, read(history)) for cause, history in runs], run.choices
    assert choices.platen_temperature is not None
    platen, room = (
        float(t.to("degC").magnitude) for t in (choices.platen_temperature, choices.room_temperature)
    )
    middle = found[0][1]
    off, low, high = run.inputs.triples["platen_error"]
    share = (middle - room) / (platen + off - room)
    error = INPUT_WORDS["platen_error"]
    found += [(error, middle + (end - off) * share) for end in (high, low)]
    interval, shares = join_runs(found)
    return Range.of(interval, "degC"), shares


def _minutes_to_end(history: History, room: float, place: str) -> float:
    """Minutes until a place is within 5 % of the rise that it ends with."""
    end = float(history.temperature(place).magnitude[-1])
    goal = Q_(room + NEARLY * (end - room), "degC")
    time = dwell_needed(history, "hot", temperature=goal, place=place)
    assert time is not None  # it ends above
    return float(time.magnitude)


def _time(runs: Sequence[tuple[str, History]], choices: PressingChoices, place: str) -> Range:
    room = float(choices.room_temperature.to("degC").magnitude)
    logs = [(cause, np.log(_minutes_to_end(history, room, place))) for cause, history in runs]
    interval, _ = join_runs(logs)
    return Range.of(np.exp(interval), "minute")


def compare_ways(run: PressRun, ways: Sequence[tuple[str, PressRun]]) -> tuple[HeatAlternative, ...]:
    """Weigh the choice, also with twice its dwell, against other ways to bring heat to the far leaf.

    Parameters
    ----------
    run : PressRun
        As chosen.
    ways : sequence of (str, PressRun)
        Others, in words.

    Returns
    -------
    tuple of HeatAlternative
        The choice first, twice its dwell last.
    """
    own, dwell = _runs(run)[0][1], run.choices.dwell
    courses = (replace(way.course(way.hot(_long(way))), tolerance=LOOSE) for _, way in ways)
    histories = follow_together(tuple(courses))
    others = [
        _far_leaf(words, way.choices, history, dwell)
        for (words, way), history in zip(ways, histories, strict=True)
    ]
    return (
        _far_leaf("this stack", run.choices, own, dwell),
        *others,
        _far_leaf("twice the dwell", run.choices, own, 2 * dwell),
    )


def _far_leaf(words: str, choices: PressingChoices, history: History, dwell: Quantity) -> HeatAlternative:
    place = _slowest(choices)
    celsius = float(history.at(history.temperature(place), dwell).magnitude)
    room = float(choices.room_temperature.to("degC").magnitude)
    return HeatAlternative(words, celsius, _minutes_to_end(history, room, place), dwell)


def _cooling(run: PressRun) -> Range:
    """Minutes from heat off until the warmest leaf is within 5 K of the room.

    Notes
    -----
    The likely time is that of the run, the platen a lump that keeps its own heat.  Half-life of the platen,
    loss to the room, and how right the platen's thermometer is are followed at their ends, one at a time.
    """
    likely = _minutes_to_cool(run)
    if likely == 0:
        return Range.of((0.0, 0.0, 0.0), "minute")
    courses = [("", _cooling_course(run))]
    for half in (run.choices.half_life.low, run.choices.half_life.high):
        own = replace(run, choices=replace(run.choices, half_life=Range(half, half, half)))
        courses.append((_HALF_LIFE, _cooling_course(own)))
    courses += [(_LOSS_OFF, _cooling_course(run, loss)) for loss in (BASE_FILM.low, BASE_FILM.high)]
    courses += [
        (INPUT_WORDS[name], replace(_cooling_course(run), inputs=inputs))
        for name, inputs in run.inputs.at_ends(("platen_error",))
    ]
    goal, logs = _goal(run), []
    for cause, history in follow_named(courses):
        found = _first_cool(history, goal)
        logs.append((cause, np.log(max(_A_MOMENT, 60 * (_HOURS if found is None else found)))))
    (middle, low, high), _ = join_runs(logs)
    return Range.of((likely, *(likely * np.exp(end - middle) for end in (low, high))), "minute")


def _cooling_course(run: PressRun, loss: Quantity = BASE_FILM.value) -> Course:
    """Give bench, heat and days of cooling, with what the far side loses to the room."""
    night = run.cooled(_DAYS)
    night = replace(night, top=_losing(night.top, loss), bottom=_losing(night.bottom, loss))
    return replace(run.course(run.until_off[0], run.hot(run.choices.dwell, loss), night), tolerance=LOOSE)


def _losing(face: Face, loss: Quantity) -> Face:
    """Give a face with another loss; a platen with heat of its own keeps to its half-life, which is read."""
    if isinstance(face, SolidBase):
        return SolidBase(loss)
    return replace(face, loss=loss) if isinstance(face, CoolingPlaten) and face.capacity == 0 else face


def _goal(run: PressRun) -> float:
    return float(run.choices.room_temperature.to("degC").magnitude) + HAND_WARM


def _minutes_to_cool(run: PressRun) -> float:
    """Read from the likely run when the warmest leaf is hand-warm no more, followed beyond a short night."""
    goal = _goal(run)
    found = _first_cool(run.likely, goal)
    if found is None:
        longer = run.course(*run.until_off, run.cooled(_DAYS))
        found = _first_cool(follow_together((replace(longer, tolerance=LOOSE),))[0], goal)
    assert found is not None  # every stack that may be pressed is cold by then
    return 60 * found


def _first_cool(history: History, goal: float) -> float | None:
    part = history.part("night")
    hours = history.hours.magnitude[part]
    return first_time(hours - hours[0], history.sheets("celsius")[part].max(axis=1), goal, rising=False)
