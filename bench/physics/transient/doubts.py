"""How sure a prediction is: every named input at its ends, and what the doubt comes from."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from bench.errors import BadValue
from bench.physics.ranges import Estimate
from bench.physics.transient.answers import Answer
from bench.physics.transient.inputs import INPUT_WORDS, Inputs
from bench.physics.transient.phases import Phase
from bench.physics.transient.sequence import Course, simulate_together
from bench.stack import Role, Stack
from bench.units import Q_

_ASSUMPTION = (
    "One input at a time at its ends, the steps joined as independent; the isotherm exchanged for the "
    "other published ones."
)


_TOGETHER = 20  # draws followed side by side: more gain nothing, and share the steps of the least lucky


@dataclass(frozen=True)
class Doubt:
    """One answer with its interval and what the interval comes from.

    Attributes
    ----------
    estimate : Estimate
    shares : dict of str to float
        Share of each input in the square of the interval, in words, the largest first.
    missing : tuple of str
        Inputs at an end of which there is no answer at all (it is never reached): the interval then
        says too little.
    """

    estimate: Estimate
    shares: dict[str, float]
    missing: tuple[str, ...] = ()


def estimate_doubts(
    stack: Stack,
    phases: Iterable[Phase],
    answers: Mapping[str, tuple[Answer, str]],
    *,
    inputs: Inputs | None = None,
    only: Iterable[str] | None = None,
    progress: Callable[[float], None] | None = None,
    stop: Callable[[], bool] | None = None,
    **options: Any,
) -> dict[str, Doubt]:
    """Carry the ranges of all inputs through the model, one at a time.

    Parameters
    ----------
    stack, phases
        As in :func:`bench.physics.transient.sequence.simulate`.
    answers : mapping of str to (callable, unit)
        Each takes a history and gives a plain number in that unit; nan if there is no answer.
    inputs : Inputs, optional
        With the ranges.
    only : iterable of str, optional
        Names of inputs to vary (``"isotherm"`` among them); all without it.
    progress, stop : callable, optional
        As in :func:`simulate`.
    **options
        Passed on to :func:`simulate`.

    Returns
    -------
    dict of str to Doubt

    Raises
    ------
    BadValue
        There is no answer even at the middle values.
    Stopped
    """
    known, given = inputs or Inputs(), tuple(phases)
    runs = runs_at_ends(stack, known, only)
    courses = [
        Course(stack, given, inputs=changed, isotherms=isotherms, **options) for _, changed, isotherms in runs
    ]
    histories = simulate_together(courses, progress=progress, stop=stop)
    values = {
        name: [(cause, float(answer(history))) for (cause, *_), history in zip(runs, histories, strict=True)]
        for name, (answer, _) in answers.items()
    }
    return {name: _join(name, values[name], unit) for name, (_, unit) in answers.items()}


def runs_at_ends(
    stack: Stack, inputs: Inputs, only: Iterable[str] | None = None
) -> list[tuple[str, Inputs, dict[Role, str] | None]]:
    """List the runs of one input at a time: cause, inputs, other isotherms; the middle values first."""
    wanted = None if only is None else set(only)
    runs: list[tuple[str, Inputs, dict[Role, str] | None]] = [("", inputs, None)]
    for name, triple in inputs.triples().items():
        if wanted is None or name in wanted:
            ends = [end for end in (1, 2) if triple[end] != triple[0]]
            runs += [(name, inputs.with_end(name, end), None) for end in ends]
    leaves = stack.of(Role.LEAF)
    if leaves and (wanted is None or "isotherm" in wanted):
        others = inputs.other_isotherms(leaves[0].material)
        runs += [("isotherm", inputs, {Role.LEAF: name}) for name in others]
    return runs


def _join(name: str, values: list[tuple[str, float]], unit: str) -> Doubt:
    middle = values[0][1]
    if not math.isfinite(middle):
        raise BadValue(
            name, "never reached", "an answer at the middle values", "Give it more time or ask for less"
        )
    steps: dict[str, list[float]] = {}
    missing = []
    for cause, value in values[1:]:
        if math.isfinite(value):
            steps.setdefault(cause, []).append(value - middle)
        else:
            missing.append(cause)
    up = {cause: max(0.0, *part) for cause, part in steps.items()}
    down = {cause: max(0.0, *(-s for s in part)) for cause, part in steps.items()}
    high = middle + math.sqrt(sum(step**2 for step in up.values()))
    low = middle - math.sqrt(sum(step**2 for step in down.values()))
    squares = {cause: max(up[cause], down[cause]) ** 2 for cause in steps}
    total = sum(squares.values())
    order = sorted(squares, key=lambda cause: -squares[cause])
    shares = {INPUT_WORDS[cause]: squares[cause] / total for cause in order if total and squares[cause]}
    cautions = tuple(f"With {INPUT_WORDS[cause]} at its end it is never reached." for cause in missing)
    estimate = Estimate(Q_(middle, unit), Q_(low, unit), Q_(high, unit), _ASSUMPTION, cautions)
    return Doubt(estimate, shares, tuple(missing))


def sample_answers(
    stack: Stack,
    phases: Iterable[Phase],
    answers: Mapping[str, tuple[Answer, str]],
    *,
    generator: np.random.Generator,
    count: int = 40,
    inputs: Inputs | None = None,
    progress: Callable[[float], None] | None = None,
    stop: Callable[[], bool] | None = None,
    **options: Any,
) -> dict[str, np.ndarray]:
    """Draw all inputs at once from their ranges and give the answers: a check on one at a time.

    Parameters
    ----------
    stack, phases, answers, inputs, progress, stop, **options
        As in :func:`estimate_doubts`.
    generator : numpy Generator
        The caller's, so that the draw can be repeated.
    count : int
        2 to 10 000 draws.

    Returns
    -------
    dict of str to array, shape (count,)

    Notes
    -----
    Each input is drawn from two half-normal pieces whose 95 % ends are the ends of its range, on the
    logarithm where both ends are above zero; the isotherm is drawn from the published ones.
    """
    if not 2 <= count <= 10_000:
        raise BadValue("number of draws", count, "2 to 10000", "Give a number in this range")
    known, given = inputs or Inputs(), tuple(phases)
    leaves = stack.of(Role.LEAF)
    others = known.other_isotherms(leaves[0].material) if leaves else ()
    courses = []
    for _ in range(count):
        drawn = known.drawn(generator)
        pick = int(generator.integers(len(others) + 1))
        isotherms = {Role.LEAF: others[pick - 1]} if pick else None
        courses.append(Course(stack, given, inputs=drawn, isotherms=isotherms, **options))
    found: dict[str, list[float]] = {name: [] for name in answers}
    for first in range(0, count, _TOGETHER):
        some = courses[first : first + _TOGETHER]
        for history in simulate_together(some, progress=_part(progress, first, len(some), count), stop=stop):
            for name, (answer, _) in answers.items():
                found[name].append(float(answer(history)))
    return {name: np.array(values) for name, values in found.items()}


def _part(
    progress: Callable[[float], None] | None, before: int, some: int, whole: int
) -> Callable[[float], None] | None:
    if progress is None:
        return None
    return lambda share: progress((before + some * share) / whole)
