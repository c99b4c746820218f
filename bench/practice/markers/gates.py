"""Treat, hold or refer: which findings of intake stand against treatment, and which only set a condition."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from bench.item import Item
from bench.practice.drawing import Drawn
from bench.practice.markers.signs import CLEAR, SIGNS, IntakeNotes, IntakeSign, find
from bench.practice.shapes import Question, ReplyKind, Solution, WrongWay
from bench.practice.task import Marker
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent
from bench.treatment.intake.gate_list import gate
from bench.treatment.intake.gates import Effect
from bench.treatment.intake.planning import Decision, GateResult, IntakePlan, decide_intake
from bench.units import lower_first

WRONG = {
    "overlooked-sign": "overlooked a sign that has a gate of its own",
    "without-consent": "took the owner's wish for a consent",
    "went-on-with-conditions": "went on with conditions against a gate that stops the work",
    "refused-a-condition": "sent away what only asks for a condition",
    "held-what-is-beyond": "held what no second look can settle",
    "sent-away-what-can-be-settled": "sent away what can be settled here",
    "held-for-nothing": "held back what nothing stands against",
}

_DECISIONS = ((Decision.TREAT, "treat"), (Decision.HOLD, "hold"), (Decision.REFER, "refer"))
_GATES = (
    "live_mould",
    "past_mould",
    "brittle_leaves",
    "ink",
    "stuck_pages",
    "coated_cover",
    "tape",
    "rusted_staples",
    "proud_staples",
    "restoration",
    "permanent_change",
    "consent",
)
_WRONG_REASON = "Told to the owner, that reason would be wrong"
_UNHELPED = "Refused, the item stays waved and goes home unhelped"
_HELD = "No gate holds or refers it. It stays waved on your shelf, and the owner waits for nothing."
_NO_LETTER = "No letter and no waiting changes that: it needs another bench."
_GROUNDS = tuple((name, f"against it: {gate(name).name}") for name in _GATES)

FULL = Consent("the owner", True, PERMANENT_CHANGES, document="a letter")
_CONSENTS = (
    (FULL, "a letter: agrees to one cycle; every permanent change was explained and ticked", 0.6),
    (
        replace(FULL, in_writing=False, document=""),
        "agreed warmly on the telephone, all permanent changes explained; a letter is to follow",
        0.25,
    ),
    (
        replace(FULL, explained=PERMANENT_CHANGES[:-1]),
        "a letter: agrees to one cycle; size, thickness and tooth were explained and ticked",
        0.15,
    ),
)


def solve(drawn: Drawn, settings: Mapping[str, Any]) -> Solution:
    """Draw what is found at intake and decide on it as a plan does."""
    bare = drawn.item
    signs = _draw_signs(bare, drawn.level, drawn.rng)
    consent, letter = _draw_consent(drawn.rng)
    found = find(bare, signs)
    plan = decide(found, consent)
    return Solution(
        right=ticks(plan),
        near=1,
        wrong=tuple(_wrong_ways(plan, found, bare, signs, consent)),
        look=(*drawn.look, *_look(bare, signs), ("the owner", letter)),
        steps=_steps(plan),
        facts={"decision": plan.decision.value, "grounds": _say_grounds(plan)},
        plan=plan,
    )


def decide(found: IntakeNotes, consent: Consent) -> IntakePlan:
    """Decide by what was found."""
    return decide_intake(found.item, findings=found.findings, tests=found.tests, consent=consent)


def ticks(plan: IntakePlan) -> frozenset[str]:
    """Give the ticks that a plan comes to: its decision, and each gate that holds or refers."""
    return frozenset({plan.decision.value, *(result.gate.id for result in against(plan))})


def against(plan: IntakePlan) -> tuple[GateResult, ...]:
    """Give the gates that stand against treatment."""
    return tuple(r for r in plan.gates if r.effect in (Effect.HOLD, Effect.REFER))


def _draw_signs(item: Item, level: int, rng: np.random.Generator) -> tuple[IntakeSign, ...]:
    """Draw one sign, and later two, never two at one place: a place is seen as one thing."""
    usable = [sign for sign in SIGNS if item.staples or not sign.needs_staples]
    count = 1 if level < 2 else int(rng.integers(1, 3))
    found: list[IntakeSign] = []
    for number in rng.permutation(len(usable)):
        sign = usable[int(number)]
        if (
            len(found) < count
            and sign.gate not in {s.gate for s in found}
            and sign.place not in {s.place for s in found}
        ):
            found.append(sign)
    return tuple(found)


def _draw_consent(rng: np.random.Generator) -> tuple[Consent, str]:
    shares = [share for _, _, share in _CONSENTS]
    consent, letter, _ = _CONSENTS[int(rng.choice(len(_CONSENTS), p=shares))]
    return consent, letter


def _look(item: Item, signs: tuple[IntakeSign, ...]) -> list[tuple[str, str]]:
    seen = dict(CLEAR)
    if item.staples:
        seen["staples"] = "bright, flush on both sides"
    return list((seen | {sign.place: sign.seen for sign in signs}).items())


def _say_grounds(plan: IntakePlan) -> str:
    names = [result.gate.name for result in against(plan)]
    return " and ".join(names) if names else "nothing"


def _steps(plan: IntakePlan) -> tuple[str, ...]:
    stops = [f"{_name(r)}: {r.effect}. {r.reason}" for r in against(plan)]
    softer = [_name(r).lower() for r in plan.gates if r.effect is Effect.CONDITIONS]
    return (
        "Go through every gate; ask what each answer does: nothing, a condition, hold, or refer.",
        f"Only conditions come from: {', '.join(softer)}." if softer else "No gate asks for a condition.",
        *(stops[:4] or ["No gate holds or refers."]),
        f"The gravest decides, never the sum: {plan.decision.value}.",
    )


def _name(result: GateResult) -> str:
    return result.gate.name[0].upper() + result.gate.name[1:]


def _wrong_ways(
    plan: IntakePlan, found: IntakeNotes, bare: Item, signs: tuple[IntakeSign, ...], consent: Consent
) -> list[WrongWay]:
    right = ticks(plan)
    ways: list[WrongWay] = []

    def add(key: str, answer: frozenset[str], harm: str) -> None:
        if answer != right and all(answer != way.answer for way in ways):
            ways.append(WrongWay(key, answer, harm))

    if not consent.covers(1):
        add("without-consent", ticks(decide(found, FULL)), _say_unasked(consent))
    for sign in signs:
        add("overlooked-sign", ticks(decide(found.without(sign, bare), consent)), sign.harm)
    grounds = right - {each.value for each in Decision}
    if plan.decision is Decision.TREAT:
        add("held-for-nothing", frozenset({Decision.HOLD.value}), _HELD)
    else:
        gravest = max(against(plan), key=lambda r: list(Effect).index(r.effect))
        harm = next((s.harm for s in signs if s.gate == gravest.gate.id), _say_unasked(consent))
        if signs:  # all of them, and the letter too
            add("overlooked-sign", frozenset({Decision.TREAT.value}), harm)
        add("went-on-with-conditions", frozenset({Decision.TREAT.value, *grounds}), harm)
        if plan.decision is Decision.HOLD:
            waits = f"{gravest.reason} Sent away, the item goes home as it came."
            add("sent-away-what-can-be-settled", frozenset({Decision.REFER.value, *grounds}), waits)
        else:
            add(
                "held-what-is-beyond",
                frozenset({Decision.HOLD.value, *grounds}),
                f"{_NO_LETTER} {gravest.reason}",
            )
    softer = [r for r in plan.gates if r.effect is Effect.CONDITIONS and r.gate.id in _GATES]
    for result in softer:
        so = _WRONG_REASON if plan.decision is Decision.REFER else _UNHELPED
        care = f"{_name(result)} asks for care, not for another bench: {_say_condition(result)}"
        harm = f"{care}. {so}."
        add("refused-a-condition", frozenset({Decision.REFER.value, result.gate.id, *grounds}), harm)
    return ways


def _say_condition(result: GateResult) -> str:
    first = result.conditions[0]
    limit = f" {float(first.limit.to('percent').magnitude):.0f} %" if first.limit is not None else ""
    return f"{lower_first(first.words)}{limit}"


def _say_unasked(consent: Consent) -> str:
    if not consent.in_writing:
        return (
            "Pressing cannot be undone. With no line in writing the owner may say that gloss and thinner "
            "paper were never agreed to, and be right."
        )
    return (
        "The cover may come out glossier or duller in places, for good, and nobody told the owner. Such a "
        "consent is none."
    )


MARKER = Marker(
    question=Question(
        ReplyKind.TICKS,
        "Your decision, and what stands against treatment",
        options=(*((each.value, words) for each, words in _DECISIONS), *_GROUNDS),
        one_of=tuple(each.value for each, _ in _DECISIONS),
    ),
    solve=solve,
    wrong=WRONG,
    picture="gates",
    sometimes=frozenset(WRONG) - {"refused-a-condition"},
)
