"""Learning from the bench: what was found after pressing, against what was believed before."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from bench.errors import BadValue
from bench.physics.bearing.fit import BenchFit, Compared, Finding, fit_bench
from bench.physics.bearing.knowns import Assumed
from bench.physics.ranges import Range
from bench.treatment.plan import Caution, Notice, Verdict, worst
from bench.units import Quantity, join_words, say_range, unit_label

MISFIT = 2.0
"""Root mean square in standard uncertainties above which the model does not explain what was found."""

LITTLE = 0.1
"""Part by which an interval must have grown narrower for anything to have been learned of it."""

_NOT_EXPLAINED = Notice(
    "bench-not-explained",
    Verdict.STOP,
    "The model does not explain what was found: the fit cannot be used before the slip is known.",
    "gum",
)
_FEW_CYCLES = Notice(
    "bench-few-cycles",
    Verdict.CARE,
    "Few cycles were read: one item, one paper and one pair of hands stand for the bench. Read on, "
    "and fit again.",
    "memory",
)
_NO_WIDTH = Notice(
    "bench-no-unpressed-width",
    Verdict.CARE,
    "No unpressed width was read: ramp and boards are learned from it alone.",
)
_LEFT_OUT = Notice("bench-left-out", Verdict.CARE, "Left out: {what}.")
_WHAT_A_FIT_MOVES = Notice(
    "bench-fit-moves",
    Verdict.GO,
    "A fit moves chances and widths of later plans. Limits on spine and staple stay as they are.",
)

# Constants that a fit moves: name in Assumed, words, unit.
CONSTANTS: tuple[tuple[str, str, str], ...] = (
    ("thinning", "thinning of the damp block", "percent"),
    ("ramp", "ramp where the sheets end", "mm"),
    ("k1", "K1 of the text block", "kPa"),
    ("k2", "K2 of the text block", "dimensionless"),
    ("stiffness", "bending stiffness of the pack", "dimensionless"),
)


@dataclass(frozen=True)
class Lesson:
    """What the findings of a bench say.

    Attributes
    ----------
    verdict : Verdict
        ``CARE`` where the fit rests on little, or on what the model does not explain.
    answer, because : str
        What was learned, and how far it was off before.
    findings : tuple of Finding
        Cycle by cycle.
    fit : BenchFit
        To all of them.
    believed : Assumed
        Before.
    left_out : tuple of str
        What was found but could not be used, with the reason.
    cautions : tuple of Caution
        Those that belong to the fit.
    """

    verdict: Verdict
    answer: str
    because: str
    findings: tuple[Finding, ...]
    fit: BenchFit
    believed: Assumed
    left_out: tuple[str, ...]
    cautions: tuple[Caution, ...]

    @property
    def is_explained(self) -> bool:
        """Whether the model explains what was found, so that the fit may be used."""
        return self.fit.agreement <= MISFIT

    def found(self) -> dict[str, tuple[Range, str]]:
        """Give each constant that was learned with the unit it is saved in; the others stay as believed."""
        return {
            name: (getattr(self.fit.assumed, name), unit)
            for name, words, unit in CONSTANTS
            if self.fit.learned[words] >= LITTLE
        }


@dataclass(frozen=True)
class NothingFound:
    """A bench on which nothing was read after pressing yet, or nothing that can be used.

    Attributes
    ----------
    left_out : tuple of str
        What was found but could not be used, with the reason.
    """

    left_out: tuple[str, ...] = ()

    @property
    def tag(self) -> str:
        """The verdict in a word or two."""
        return "Nothing found yet"

    @property
    def answer(self) -> str:
        """Say what to do."""
        words = "Nothing to learn from yet: no cycle on this bench was read after pressing."
        if self.left_out:
            words = f"Nothing to learn from yet. Left out: {_list(self.left_out)}."
        return (
            f"{words} Read the thickness of the text block and the unpressed width after a cycle, in the "
            "panel of readings, and save them."
        )


@dataclass(frozen=True)
class NotLearned(NothingFound):
    """A bench on which so much was found that to learn from it takes longer than a moment: it is asked for.

    Attributes
    ----------
    cycles : int
        That can be used.
    """

    cycles: int = 0

    @property
    def tag(self) -> str:
        """The verdict in a word or two."""
        return "Not learned yet"

    @property
    def answer(self) -> str:
        """Say what to do."""
        return (
            f"{self.cycles} cycles on this bench were read after pressing. To learn from so many takes "
            "longer than a moment: “Learn from them”, in the panel of learning, does it, and can be stopped."
        )


def say_thinning(lesson: Lesson | NothingFound) -> str:
    """Work the thinning of each cycle out by hand, beside what the fit says of all of them."""
    if isinstance(lesson, NothingFound):
        return lesson.answer
    said = [
        f"{finding.name}: {100 * float((1 - finding.thickness.value / before).to('').magnitude):.1f} %"
        for finding in lesson.findings
        if finding.thickness is not None and (before := finding.thicknesses.text_block.value)
    ]
    fitted = say_constant(lesson.fit.assumed.thinning, "percent")
    return f"by hand, {'; '.join(said) or 'no thickness was read'}; by the fit, all cycles: {fitted}"


def learn_from(
    findings: Sequence[Finding],
    left_out: Sequence[str] = (),
    *,
    note: Callable[[int, int, int], None] | None = None,
) -> Lesson:
    """Fit compression and boards to what was found after pressing, over all treatments of a bench.

    Parameters
    ----------
    findings : sequence of Finding
        Of all treatments of the bench, cycle by cycle.
    left_out : sequence of str
        What could not be used.
    note : callable, optional
        As :func:`bench.physics.bearing.fit.fit_bench` takes it; what it raises ends the fit.

    Returns
    -------
    Lesson

    Raises
    ------
    BadValue
        Nothing was found yet.

    Notes
    -----
    :func:`bench.physics.bearing.fit.fit_bench` holds the fit and its range of validity: one value of each
    constant for all treatments of the bench, papers and operators alike.  It starts from what is believed
    without findings, never from an earlier fit, so that nothing is counted twice.
    """
    if not findings:
        remedy = "Read the thickness of the text block or the unpressed width after a cycle, and save it"
        why = f" ({'; '.join(left_out)})" if left_out else ""
        raise BadValue("findings", f"none{why}", "one reading after pressing, or more", remedy)
    believed = Assumed()
    fit = fit_bench(tuple(findings), assumed=believed, note=note)
    cautions = _cautions(findings, fit, left_out)
    return Lesson(
        verdict=worst(caution.verdict for caution in cautions),
        answer=_answer(findings, fit),
        because=_because(fit),
        findings=tuple(findings),
        fit=fit,
        believed=believed,
        left_out=tuple(left_out),
        cautions=tuple(cautions),
    )


def _narrower(fit: BenchFit) -> list[str]:
    return [name for name, part in fit.learned.items() if part >= LITTLE]


def _answer(findings: Sequence[Finding], fit: BenchFit) -> str:
    count = f"{len(findings)} {'cycle' if len(findings) == 1 else 'cycles'} on this bench"
    if fit.agreement > MISFIT:
        return (
            f"What was found after {count} is off by {fit.agreement:.1f} standard uncertainties even after "
            "the fit: the model does not explain it. Leave the fit and look for a slip first."
        )
    told = _narrower(fit)
    if not told:
        return f"What was found after {count} agrees with what was believed, and narrows nothing."
    return f"What was found after {count} narrows {join_words(told)}, and the model explains it."


def _because(fit: BenchFit) -> str:
    off = [_off(row.before, row) for row in fit.compared]
    near = [_off(row.after, row) for row in fit.compared]
    words = (
        f"The worst of {len(off)} numbers was off by {max(off):.1f} times its uncertainty, "
        f"now by {max(near):.1f} times."
    )
    silent = [name for name, part in fit.learned.items() if part < LITTLE]
    if silent:
        words += f" Of {join_words(silent)} the findings say next to nothing: it is taken as before."
    return words


def _off(predicted: Quantity, row: Compared) -> float:
    """How far a number was off, in parts of the expanded uncertainty of what was found."""
    off, doubt = row.found.value - predicted, row.found.expanded()
    return abs(float(off.to("mm").magnitude)) / max(float(doubt.to("mm").magnitude), 1e-6)


def _cautions(findings: Sequence[Finding], fit: BenchFit, left_out: Sequence[str]) -> list[Caution]:
    found = []
    if fit.agreement > MISFIT:
        found.append(_NOT_EXPLAINED())
    if len(findings) < 3:
        found.append(_FEW_CYCLES())
    if not any(finding.unpressed is not None for finding in findings):
        found.append(_NO_WIDTH())
    if left_out:
        found.append(_LEFT_OUT(what=_list(left_out)))
    return [*found, _WHAT_A_FIT_MOVES()]


def _list(left_out: Sequence[str]) -> str:
    """Name what was left out, each with its reason, in one sentence."""
    return "; ".join(words.rstrip(".") for words in left_out)


def assumed_of(found: Mapping[str, Range]) -> Assumed:
    """Build what is assumed of paper and boards from a fit as it was saved.

    Raises
    ------
    BadValue
        A constant that is not known here.
    """
    names = {name for name, *_ in CONSTANTS}
    if not set(found) <= names:
        remedy = "Fit the findings again, and save the fit"
        raise BadValue("fit of the bench", ", ".join(found), ", ".join(sorted(names)), remedy)
    return replace(Assumed(), **found)


def say_learned(title: str, decided_at: datetime) -> str:
    """Name an accepted fit for the assumptions of a plan."""
    return f"findings on this bench, accepted on {decided_at:%Y-%m-%d} with {title}"


def say_constant(value: Range, unit: str) -> str:
    """Write a constant with its interval."""
    return say_range(*value.floats(unit, field="constant"), unit_label(unit))
