"""Before and after: which changes are real, what is left to hope for, and whether to go on."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from bench.physics.bearing.spots import Hope
from bench.practice.drawing import Drawn
from bench.practice.settings import MarkerSetting, with_usual
from bench.practice.shapes import Question, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.review.comparison import (
    Agreement,
    DefectCourse,
    Examination,
    Sighting,
    judge_difference,
    subtract_readings,
)
from bench.treatment.review.levers import Conditions
from bench.treatment.review.planning import ReviewChoices, ReviewPlan, plan_review
from bench.treatment.review.rules import DEFAULT_RULES, ReviewDecision, Rules
from bench.uncertainty import Measured, from_expanded
from bench.units import Q_, Quantity, say

WRONG = {
    "not-flat-yet": "went on because it is not flat yet, though the load hardly arrives at what is left",
    "ignored-growth": "left out that the sheet has grown beyond the doubt",
    "within-doubt": "took a difference within the doubt for a change",
    "past-a-limit": "went on against a rule that ends the work",
    "gave-up-early": "stopped while a cycle has a chance and every limit is kept",
}
THINNER, WIDER, SHORTER = "thinner", "wider", "shorter"
CREASE, DENT = "crease-may", "dent-may"
AGAIN, STOP, REFER = "again", "stop", "refer"
OPTIONS = (
    (THINNER, "The text block has become thinner"),
    (WIDER, "The cover has grown in width"),
    (SHORTER, "The cover has become shorter"),
    (CREASE, "Another cycle may relax the crease"),
    (DENT, "Another cycle may relax the dent"),
    (AGAIN, "go on, with fewer sheets"),
    (STOP, "stop here"),
    (REFER, "stop and refer it"),
)
_RULE_MM = 0.20  # of a steel rule read with a lens, three times: judgement, 95 %
_PLACE = "cover"
_USUAL_LIMIT = float(DEFAULT_RULES.most_growth.value.to("percent").magnitude)
SETTINGS = (
    MarkerSetting("most_growth", "growth of an edge at which the work ends, % of it", _USUAL_LIMIT, 0.4, 1.0),
)
_WORDS = {
    Hope.LIKELY: "likely to relax: enough pressure is nearly sure there",
    Hope.POSSIBLE: "may relax: pressure there is not sure",
    Hope.UNLIKELY: "unlikely to relax: hardly any pressure arrives there",
}


@dataclass(frozen=True)
class Reviewed:
    """What was read before and after the first cycle, and what its plan says of the next.

    Attributes
    ----------
    thick, width, height : (Measured, Measured)
        Before and after.
    hopes : mapping of str to Hope
        Of crease and dent.
    marks : tuple of str
        New marks.
    rules : Rules
        By which the cycle is judged.
    """

    thick: tuple[Measured, Measured]
    width: tuple[Measured, Measured]
    height: tuple[Measured, Measured]
    hopes: Mapping[str, Hope]
    marks: tuple[str, ...]
    rules: Rules = DEFAULT_RULES

    @property
    def real(self) -> frozenset[str]:
        """Which of the three changes are larger than the doubt of their difference."""
        told = (
            (THINNER, self.thick, Agreement.LOWER),
            (WIDER, self.width, Agreement.HIGHER),
            (SHORTER, self.height, Agreement.LOWER),
        )
        return frozenset(key for key, pair, agreement in told if judge_difference(_change(pair)) is agreement)

    @property
    def hopeful(self) -> frozenset[str]:
        """Which of the two defects may relax."""
        return frozenset(key for key, hope in self.hopes.items() if hope is not Hope.UNLIKELY)


@dataclass(frozen=True)
class JudgedCycle:
    """What the rules came to, and the rules."""

    plan: ReviewPlan
    rules: Rules


def _change(pair: tuple[Measured, Measured]) -> Measured:
    before, after = pair
    return subtract_readings(after, before)


def draw_reviewed(drawn: Drawn, rules: Rules = DEFAULT_RULES) -> Reviewed:
    """Draw readings: the width has grown, and thickness or height differs by less than the doubt."""
    rng = drawn.rng
    block, item = drawn.measure("text block"), drawn.item
    spread = _mm(block.expanded())
    thin_is_real, short_is_real = ((True, False), (False, True), (False, False))[int(rng.integers(3))]
    thick = _mm(block.value)
    of_limit = float(rng.uniform(1.1, 1.7) if rng.random() < 0.5 else rng.uniform(0.52, 0.84))
    grown = of_limit * float(rules.most_growth.value.to("").magnitude)
    width, height = _mm(item.width), _mm(item.height)
    thinner = _shares(thin_is_real, rng) * spread * 2**0.5
    shorter = _shares(short_is_real, rng) * _RULE_MM * 2**0.5
    beyond = Hope.UNLIKELY
    others = (Hope.LIKELY, Hope.POSSIBLE, Hope.UNLIKELY)
    hope = others[int(rng.integers(3))]
    crease, dent = (beyond, hope) if rng.random() < 0.3 else (hope, beyond)
    return Reviewed(
        thick=(_read(thick, spread, 2), _read(thick - thinner, spread, 2)),
        width=(_read(width, _RULE_MM, 1), _read(width * (1 + grown), _RULE_MM, 1)),
        height=(_read(height, _RULE_MM, 1), _read(height - shorter, _RULE_MM, 1)),
        hopes={CREASE: crease, DENT: dent},
        marks=("set-off",) if rng.random() < 0.15 else (),
        rules=rules,
    )


def _shares(is_real: bool, rng: np.random.Generator) -> float:
    """Draw a difference as a share of its doubt: beyond it, or well within."""
    return float(rng.uniform(1.6, 2.2) if is_real else rng.uniform(0.4, 0.8))


def _read(length: float, spread: float, digits: int) -> Measured:
    return from_expanded(Q_(round(length, digits), "mm"), Q_(round(spread, 2), "mm"), cause="reading")


def review(drawn: Drawn, reviewed: Reviewed) -> ReviewPlan:
    """Let the written rules judge the cycle, as for any item."""
    courses = (
        DefectCourse(
            "d1", "crease", "front cover", "humidify and press", True, (Sighting(0, 3), Sighting(1, 2))
        ),
        DefectCourse(
            "d2", "dent", "back cover", "humidify and press", True, (Sighting(0, 2), Sighting(1, 2))
        ),
    )
    named = {CREASE: courses[0].name, DENT: courses[1].name}
    choices = ReviewChoices(
        done_with=Conditions(interval=6),
        consented_cycles=3,
        rested=Q_(48, "hour"),
        marks=reviewed.marks,
        chances={8: 0.995, 10: 0.985},
        hopes={named[key]: hope for key, hope in reviewed.hopes.items()},
        rules=reviewed.rules,
    )
    before, after = (
        Examination(widths={_PLACE: reviewed.width[moment]}, heights={_PLACE: reviewed.height[moment]})
        for moment in (0, 1)
    )
    return plan_review(drawn.item, before, after, courses, choices)


def decided(plan: ReviewPlan) -> str:
    """Give the option that a review comes to."""
    return {ReviewDecision.STOP: STOP, ReviewDecision.REFER: REFER}.get(plan.decision, AGAIN)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Hold each difference against its doubt, see what is left to hope for, and let the rules decide."""
    limit = float(with_usual(SETTINGS, settings)["most_growth"])
    rules = DEFAULT_RULES.edited(most_growth=Q_(limit, "percent"))
    reviewed = draw_reviewed(drawn, rules)
    plan = review(drawn, reviewed)
    right = reviewed.real | reviewed.hopeful | {decided(plan)}
    relative = plan.sizes[0].relative
    return Solution(
        right=right,
        near=1.0,
        wrong=_ways(drawn, reviewed, plan),
        look=(
            *drawn.look,
            ("text block", _say_pair(reviewed.thick)),
            ("cover, width", _say_pair(reviewed.width)),
            ("cover, height", _say_pair(reviewed.height)),
            ("crease on the front", f"grade 3, now 2; in the next cycle {_WORDS[reviewed.hopes[CREASE]]}"),
            ("dent on the back", f"grade 2, still 2; in the next cycle {_WORDS[reviewed.hopes[DENT]]}"),
            ("new marks", _say_marks(reviewed)),
            (
                "limits",
                f"{limit:g} % of the width, in all; for shortening {_most_shortening(rules)}",
            ),
            ("agreed with the owner", "three cycles, if they help"),
        ),
        steps=(
            "A difference has the doubts of both readings, as the root of the sum of their squares: "
            f"thickness {_say_change(reviewed.thick)}, width {_say_change(reviewed.width)}, height "
            f"{_say_change(reviewed.height)}.",
            _say_real(reviewed),
            f"The width has grown by {say(relative.value, 'percent', uncertainty=relative.expanded())}; the "
            "chance that this is past the limit is "
            f"{100 * relative.chance_above(rules.most_growth.value):.0f} %.",
            _say_hopes(reviewed),
            f"So the rules say: {plan.decision.value}. {_say_why(plan)}",
        ),
        facts={
            "width": _say_change(reviewed.width),
            "decision": plan.decision.value,
            "why": _say_why(plan),
        },
        plan=JudgedCycle(plan, rules),
    )


def _ways(drawn: Drawn, reviewed: Reviewed, plan: ReviewPlan) -> tuple[WrongWay, ...]:
    not_grown = replace(reviewed, width=(reviewed.width[0], reviewed.width[0]))
    real, hopeful, decision = reviewed.real, reviewed.hopeful, decided(plan)
    taken = THINNER if THINNER not in real else SHORTER
    pair = reviewed.thick if taken == THINNER else reviewed.height
    found = [
        ("not-flat-yet", real | {CREASE, DENT, AGAIN}, _say_not_flat(reviewed)),
        (
            "ignored-growth",
            (real - {WIDER}) | hopeful | {decided(review(drawn, not_grown))},
            _say_growth(reviewed),
        ),
        ("within-doubt", real | hopeful | {taken, decision}, _say_within(pair)),
    ]
    if decision == AGAIN:
        found.append(("gave-up-early", real | hopeful | {STOP}, _GAVE_UP))
    elif not hopeful:
        found.append(("not-flat-yet", real | {AGAIN}, _say_not_flat(reviewed)))
    else:
        found.append(("past-a-limit", real | hopeful | {AGAIN}, _say_past(plan)))
    return tuple(WrongWay(key, answer, harm) for key, answer, harm in found)


def _most_shortening(rules: Rules) -> str:
    return f"{float(rules.most_shortening.value.to('percent').magnitude):g} %"


def _mm(length: Quantity) -> float:
    return float(length.to("mm").magnitude)


def _say_pair(pair: tuple[Measured, Measured]) -> str:
    first, last = (say(each.value, "mm", uncertainty=each.expanded()) for each in pair)
    return f"before {first}, after {last} (95 %)"


def _say_change(pair: tuple[Measured, Measured]) -> str:
    change = _change(pair)
    return say(change.value, "mm", uncertainty=change.expanded())


def _say_marks(reviewed: Reviewed) -> str:
    return f"{reviewed.marks[0]} on the facing leaf, faint" if reviewed.marks else "none seen"


def _say_real(reviewed: Reviewed) -> str:
    names = {THINNER: "the thickness", WIDER: "the width", SHORTER: "the height"}
    real = [words for key, words in names.items() if key in reviewed.real]
    rest = [words for key, words in names.items() if key not in reviewed.real]
    said = f"Larger than its doubt: {' and '.join(real) or 'none'}."
    return f"{said} Within the doubt, so not known to have changed: {' and '.join(rest)}." if rest else said


def _say_hopes(reviewed: Reviewed) -> str:
    names = {CREASE: "the crease", DENT: "the dent"}
    hoped = [words for key, words in names.items() if key in reviewed.hopeful]
    left = [words for key, words in names.items() if key not in reviewed.hopeful]
    if not hoped:
        return "Both are left, and the load hardly arrives at either: another cycle would not relax them."
    return f"Another cycle may relax {hoped[0]}; the load hardly arrives at {left[0]}."


def _say_why(plan: ReviewPlan) -> str:
    said = [outcome.reason for outcome in plan.outcomes if outcome.says is plan.decision]
    if not said:
        return "Something is left that another cycle may relax, and every limit is kept."
    return re.sub(r"\bd[12] ", "the ", " ".join(said))  # a record numbers its defects, a learner sees two


def _say_not_flat(reviewed: Reviewed) -> str:
    places = {CREASE: "crease", DENT: "dent"}
    where = " and ".join(words for key, words in places.items() if key not in reviewed.hopeful)
    return (
        f"Hardly any load arrives at the {where}. One more cycle leaves it as it is, and costs the sheet "
        "another growth for good, the staples another damp day, and the paper some years."
    )


def _say_growth(reviewed: Reviewed) -> str:
    return (
        f"The cover has grown by {_say_change(reviewed.width)}, and stays so. Each cycle adds to it: its "
        "edges stand out "
        "over the block, are bumped and torn, and never go back."
    )


_GAVE_UP = (
    "What may relax is left as it is, though nothing stood against one more cycle with fewer sheets, and the "
    "owner agreed to it."
)


def _say_past(plan: ReviewPlan) -> str:
    return f"{_say_why(plan)} One more cycle adds to it, and no later one takes it back."


def _say_within(pair: tuple[Measured, Measured]) -> str:
    return (
        f"The difference is {_say_change(pair)}: the scatter of the readings alone does that. Who takes it "
        "for progress damps and presses again for a number, and the item pays."
    )


MARKER = Marker(
    question=Question(
        ReplyKind.TICKS, "What holds, beyond the doubt", options=OPTIONS, one_of=(AGAIN, STOP, REFER)
    ),
    solve=solve,
    wrong=WRONG,
    picture="compare-decide",
    sometimes=frozenset({"past-a-limit", "gave-up-early"}),
    settings=SETTINGS,
)
