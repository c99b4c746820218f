"""An instrument held against what is known better: the correction that follows, and how sure it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.ranges import Range
from bench.treatment.instrument_kinds import InstrumentKind
from bench.treatment.measured import Constant
from bench.treatment.plan import Caution, Notice, Verdict
from bench.trials.fitting import covariance_of
from bench.trials.protocol import Asked, FitPoint, FitShown, Found, Readings, TrialOutcome
from bench.uncertainty import Component, Measured, say_shares
from bench.units import Q_, Quantity, difference_unit, join_words, say_value, unit_label, upper_first

LAST = "last"
"""Key of the correction that was found the last time."""
_APART = 2.0  # of Birge's ratio: more, and one correction does not explain the readings
_LITTLE = 1.2  # a check that narrows by less was hardly worth it; chosen here
_MOST_MOVED = 2.0  # of the allowance for drift: more asks for checks more often; chosen here

_DISAGREE = Notice(
    "check-disagrees",
    Verdict.STOP,
    "One correction does not fit what was read ({names}): they lie {times:.1f} times as far apart as their "
    "doubts say. Clean, look for a slip and for the wrong reference, and read all of them again.",
)
_TOO_FAR = Notice(
    "check-too-far",
    Verdict.STOP,
    "{name} would need {correction}: more than {most} is no matter of a correction. {remedy}",
)
_MOVED = Notice(
    "check-moved",
    Verdict.CARE,
    "It moved by {moved} since the last check, more than is allowed for: look for a fall or a low battery, "
    "and check again in half the time.",
)
_NARROWS_LITTLE = Notice(
    "check-narrows-little",
    Verdict.CARE,
    "{name}: the check is hardly surer than its maker's word. A better reference, or more readings, helps.",
)


@dataclass(frozen=True)
class Against:
    """One reading held against what is known better.

    Attributes
    ----------
    name : str
        Of the place: ``"second gauge"``.
    at : float
        What was shown.
    error : Measured
        What is to be added to it, as a plain number in the unit of the readings.
    weight : float
        Which multiple of what is sought it is: 1, or the load for a share of it.
    """

    name: str
    at: float
    error: Measured
    weight: float = 1.0


@dataclass(frozen=True)
class Sought:
    """What a check looks for.

    Attributes
    ----------
    constant : Constant
        It becomes.
    before : Range
        What is believed without the check.
    largest : float
        Correction beyond which nothing is to be corrected, in the unit of the constant.
    drift : float
        How far it may move until the next check, plus or minus; judgement.
    least_drift : float
        The same where the last check shows less: no instrument is steadier than this.
    remedy : str
        What to do with one that is too far off.
    scale : float
        Numbers of the constant to one of what is found: 100 for a share that is kept in per cent.
    """

    constant: Constant
    before: Range
    largest: float
    drift: float
    least_drift: float
    remedy: str
    scale: float = 1.0


@dataclass(frozen=True)
class CheckResult:
    """What a check found of one constant.

    Attributes
    ----------
    sought : Sought
        What was looked for.
    found : Measured
        With its causes, drift among them, as a plain number in the unit of the constant.
    misfit : float
        Birge's ratio; 0 where a single reference leaves nothing to compare.
    against : tuple of Against
        What it was found from.
    moved : float or None
        Since the last check; None where that is not known.
    """

    sought: Sought
    found: Measured
    misfit: float
    against: tuple[Against, ...]
    moved: float | None = None

    @property
    def number(self) -> float:
        """The correction."""
        return float(self.found.value.magnitude)

    @cached_property
    def expanded(self) -> float:
        """Its expanded uncertainty, about 95 %."""
        return float(self.found.expanded().magnitude)

    @cached_property
    def as_found(self) -> Found:
        """As plans take it."""
        ends = (self.number, self.number - self.expanded, self.number + self.expanded)
        unit = self.sought.constant.unit
        return Found(self.sought.constant, Range.of(ends, unit), self.sought.before)

    def say(self) -> str:
        """Write the correction with its sign and its doubt."""
        label = unit_label(self.sought.constant.unit)
        return _signed(say_value(self.number, self.expanded, label), self.number)

    @property
    def points(self) -> list[FitPoint]:
        """Give each reference beside what was found, in the unit of the readings."""
        number = self.number / self.sought.scale
        return [
            FitPoint(
                each.at,
                float(each.error.value.magnitude),
                float(each.error.expanded().magnitude),
                number * each.weight,
            )
            for each in self.against
        ]


def _signed(words: str, number: float) -> str:
    return f"+{words}" if number >= 0 and not words.startswith("-") else words.replace("-", "−")


def reference(value: float, doubts: Mapping[str, float]) -> Measured:
    """Give what is known better, with the standard uncertainties of its causes, as a plain number."""
    return Measured(Q_(value, ""), tuple(Component(cause, Q_(u, "")) for cause, u in doubts.items()))


def shown(readings: Readings, asked: Asked, step: Quantity) -> Measured:
    """Give what an instrument showed, with scatter and step, as a plain number in the unit of what was asked.

    Its maker's limit is left out: it is what the check looks for; so is an earlier correction.

    Raises
    ------
    NotYet
        Nothing was read.
    """
    readings.measured(asked)  # says what is missing
    unit = asked.plain_unit
    values = np.array([float(each.to(unit).magnitude) for each in readings.read[asked.key]])
    size = float(step.to(difference_unit(unit)).magnitude)
    scatter, dof = (float(values.std(ddof=1)), len(values) - 1.0) if len(values) > 1 else (size, math.inf)
    components = (
        Component(f"repeat readings, {asked.label}", Q_(scatter / math.sqrt(len(values)), ""), dof),
        Component(f"step, {asked.label}", Q_(size / math.sqrt(12), "")),
    )
    return Measured(Q_(float(values.mean()), ""), components)


def find(sought: Sought, against: Sequence[Against], last: float | None = None) -> CheckResult:
    r"""Find a correction from everything that was held against what is known better.

    Parameters
    ----------
    sought : Sought
        What is looked for.
    against : sequence of Against
        One or more.
    last : float, optional
        What was found the last time, in the unit of the constant.

    Notes
    -----
    The best linear estimate of :math:`s` in :math:`e_i = w_i s`, with the covariance :math:`V` of the errors,

    .. math:: s = \frac{w^T V^{-1} e}{w^T V^{-1} w}

    is kept as a sum of its causes, so that few repeats count with their degrees of freedom (GUM G.4); that is
    why the common fit of the trials, which takes the covariance as known, is not used.  Where the references
    disagree, what Birge's ratio lacks is a cause of its own.  Drift is a limit (GUM 4.3.7).
    """
    errors = [each.error for each in against]
    weights, read = (np.array([each.weight for each in against]), np.array([_number(e) for e in errors]))
    covariance = covariance_of(errors, "dimensionless")
    solved = np.linalg.solve(covariance, weights)
    parts = solved / float(weights @ solved)
    total = _sum(errors, parts)
    misfit = _birge(read - weights * _number(total), covariance)
    scale = sought.scale
    components = list(total.times(scale).components)
    if misfit > 1:
        lacks = scale * float(total.standard.magnitude) * math.sqrt(misfit**2 - 1)
        components.append(Component("references that disagree", Q_(lacks, ""), len(against) - 1.0))
    value = scale * _number(total)
    moved = None if last is None else value - last
    limit = sought.drift if moved is None else max(abs(moved), sought.least_drift)
    components.append(Component("drift until the next check", Q_(limit / math.sqrt(3), "")))
    return CheckResult(sought, Measured(Q_(value, ""), tuple(components)), misfit, tuple(against), moved)


def _number(measured: Measured) -> float:
    return float(measured.value.magnitude)


def _sum(errors: Sequence[Measured], parts: Floats) -> Measured:
    scaled = [error.times(float(part)) for error, part in zip(errors, parts, strict=True)]
    total = scaled[0]
    for each in scaled[1:]:
        total = total + each
    return total


def _birge(left: Floats, covariance: Floats) -> float:
    dof = len(left) - 1
    return math.sqrt(float(left @ np.linalg.solve(covariance, left)) / dof) if dof else 0.0


def judge(result: CheckResult, name: str) -> list[Caution]:
    """Give what is to be seen with a correction.

    Parameters
    ----------
    result : CheckResult
        Of the check.
    name : str
        Of the instrument, at the head of a sentence.
    """
    sought, unit = result.sought, unit_label(result.sought.constant.unit)
    cautions = []
    if result.misfit > _APART:
        names = join_words([each.name for each in result.against])
        cautions.append(_DISAGREE(names=names, times=result.misfit))
    if abs(result.number) > sought.largest:
        most = f"{sought.largest:g} {unit}"
        cautions.append(_TOO_FAR(name=name, correction=result.say(), most=most, remedy=sought.remedy))
    if result.moved is not None and abs(result.moved) > _MOST_MOVED * sought.drift:
        cautions.append(_MOVED(moved=f"{abs(result.moved):.2g} {unit}"))
    if result.as_found.narrower < _LITTLE:
        cautions.append(_NARROWS_LITTLE(name=name))
    return cautions


def say_why(results: Sequence[CheckResult]) -> str:
    """Say what the doubt of each correction comes from, and what was taken for drift."""
    said = []
    for result in results:
        label = "" if len(results) == 1 else f"{result.sought.constant.label}: "
        causes = {cause.split(", ")[0]: share for cause, share in _merged(result.found.shares()).items()}
        said.append(f"{label}the doubt comes from {say_shares(causes)}")
        if result.misfit:
            said.append(f"the references agree to {result.misfit:.1f} times their doubts")
    known = results[0].moved is not None
    drift = "Drift is taken from the last check" if known else "Drift is judged: no earlier check is given"
    return f"{'; '.join(said)[:1].upper()}{'; '.join(said)[1:]}. {drift}."


def _merged(shares: Mapping[str, float]) -> dict[str, float]:
    """Add up the shares of causes that differ in their place alone."""
    found: dict[str, float] = {}
    for cause, share in shares.items():
        name = cause.split(", ")[0]
        found[name] = found.get(name, 0.0) + share
    return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def conclude(
    name: str,
    kind: InstrumentKind,
    results: Sequence[CheckResult],
    answer: str,
    because: str,
    cautions: Iterable[Caution] = (),
) -> TrialOutcome:
    """Put a check together, with its picture.

    Parameters
    ----------
    name : str
        Of the instrument.
    kind : InstrumentKind
        It is of.
    results : sequence of CheckResult
        One a constant.
    answer, because : str
        In words.
    cautions : iterable of Caution
        Beside those that every check may raise.
    """
    points = tuple(point for result in results for point in result.points)
    found = {result.sought.constant.key: result.as_found.value for result in results}
    first, last = (50.0, 100.0) if kind.unit == "percent" else (min(0.0, *(p.x for p in points)), 0.0)
    last = max(last, *(1.02 * p.x for p in points))
    bends = [spot for spot in kind.points.values() if first < spot < last]
    spots = (first, *bends, last)
    near = partial(kind.share_near, instrument=name) if kind.is_share else kind.points_near
    curve = [(float(x), near(found, float(x))[0]) for x in spots]
    picture = FitShown(("shown", kind.unit), ("to be added", kind.delta), points, {"correction": curve})
    raised = [each for result in results for each in judge(result, upper_first(f"the {name}"))]
    return TrialOutcome(answer, because, tuple(r.as_found for r in results), picture, (*raised, *cautions))


def last_time(readings: Readings, asked: Asked) -> float | None:
    """Give the correction that was found the last time; None if it was not given."""
    return readings.number(asked) if readings.has(asked) else None
