"""Treat, hold or refer: what each sign comes to by sources and by common practice, and each wrong way."""

import pytest

from bench.item import Item
from bench.practice.drawing import draw_item
from bench.practice.markers.gates import FULL, MARKER, against, decide, solve, ticks
from bench.practice.markers.signs import CLEAR, SIGNS, IntakeSign, find
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.treatment.intake.consent import Consent
from bench.treatment.intake.gate_list import GATES
from bench.treatment.intake.planning import Decision

STAPLED = draw_item("side-stapled", 3).item
# What a sign comes to, by its first words.  Mould and brittle leaves stay out of damp (archives, as the
# gates cite them); colours that were not tried, prongs and earlier work wait; the rest is common practice.
COMES_TO = {
    "grey spots along the gutter": "refer",
    "musty; a fuzzy spot": "refer",
    "slightly musty": "hold",
    "the strip on the red": "refer",
    "not done: the strips": "hold",
    "grey comes off": "treat",
    "the corner is dull": "refer",
    "a corner that is lifted cracks": "refer",
    "a corner bends stiffly": "treat",
    "they bend and come back, but two": "refer",
    "a strip along the spine": "refer",
    "a short strip at the head": "treat",
    "the upper one half eaten": "refer",
    "the upper one brown all over": "treat",
    "a prong of the upper one": "hold",
    "a patch at the fore edge": "hold",
}
SIGN = pytest.mark.parametrize("sign", SIGNS, ids=lambda sign: sign.seen[:24])


def expected(sign: IntakeSign) -> str:
    (found,) = [decision for start, decision in COMES_TO.items() if sign.seen.startswith(start)]
    return found


@SIGN
def test_a_sign_alone_comes_to_what_sources_and_practice_say(sign: IntakeSign):
    plan = decide(find(STAPLED, (sign,)), FULL)
    assert plan.decision.value == expected(sign)
    assert plan.gate(sign.gate).is_met
    assert (sign.gate in ticks(plan)) == (plan.decision is not Decision.TREAT)


def test_nothing_found_and_a_letter_is_treated():
    plan = decide(find(STAPLED, ()), FULL)
    assert (plan.decision, ticks(plan), against(plan)) == (Decision.TREAT, frozenset({"treat"}), ())


@pytest.mark.parametrize(
    ("consent", "gate"),
    [
        (Consent(explained=FULL.explained), "consent"),
        (Consent("E. Marsh", True, ("size",)), "permanent_change"),
    ],
)
def test_work_waits_for_the_owner_in_writing_and_told_of_all(consent: Consent, gate: str):
    """AIC, Commentaries to the Guidelines: consent before treatment, in writing, its effects explained."""
    assert ticks(decide(find(STAPLED, ()), consent)) == {"hold", gate}


@SIGN
def test_who_overlooks_a_sign_decides_as_if_it_were_not_there(sign: IntakeSign):
    found = find(STAPLED, (sign,))
    assert ticks(decide(found.without(sign, STAPLED), FULL)) == {"treat"}


def two(item: Item, *starts: str) -> tuple[IntakeSign, ...]:
    return tuple(next(s for s in SIGNS if s.seen.startswith(start)) for start in starts)


def test_one_gate_that_refers_is_enough_and_both_grounds_are_named():
    """Never an average: hold and refer come to refer.  Common practice, no source."""
    plan = decide(find(STAPLED, two(STAPLED, "a prong", "grey spots")), FULL)
    assert ticks(plan) == {"refer", "proud_staples", "past_mould"}


def solved(monkeypatch: pytest.MonkeyPatch, *starts: str, consent: Consent = FULL) -> Solution:
    base = "bench.practice.markers.gates."
    monkeypatch.setattr(f"{base}_draw_signs", lambda item, *_: two(item, *starts))
    monkeypatch.setattr(f"{base}_draw_consent", lambda *_: (consent, "as told"))
    return solve(draw_item("side-stapled", 3), {})


@pytest.mark.parametrize(
    ("answer", "way"),
    [
        ({"treat"}, "overlooked-sign"),
        ({"treat", "proud_staples"}, "went-on-with-conditions"),
        ({"refer", "proud_staples", "coated_cover"}, "refused-a-condition"),
    ],
)
def test_wrong_ways_with_a_proud_prong(answer: set[str], way: str, monkeypatch: pytest.MonkeyPatch):
    marked = mark(MARKER.question, solved(monkeypatch, "a prong"), frozenset(answer))
    assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, way)
    assert marked.wrong is not None
    assert ("prong goes through" in marked.wrong.harm) == (way != "refused-a-condition")


def test_a_word_on_the_telephone_is_no_consent(monkeypatch: pytest.MonkeyPatch):
    solution = solved(monkeypatch, "a short strip", consent=Consent(explained=FULL.explained))
    assert solution.right == {"hold", "consent"}
    marked = mark(MARKER.question, solution, frozenset({"treat"}))
    assert marked.wrong is not None
    assert marked.wrong.key == "without-consent"


def test_a_ground_that_was_missed_is_near_and_another_decision_is_not(monkeypatch: pytest.MonkeyPatch):
    solution = solved(monkeypatch, "a prong", "a patch")
    assert solution.right == {"hold", "proud_staples", "restoration"}
    nearly = mark(MARKER.question, solution, frozenset({"hold", "proud_staples", "restoration", "tape"}))
    assert nearly.judged is Judgement.NEAR
    other = mark(MARKER.question, solution, frozenset({"refer", "proud_staples", "restoration"}))
    assert other.judged is Judgement.WRONG


def test_every_wrong_way_and_every_decision_comes_up():
    solutions = [solve(draw_item("any", seed, level=seed % 5), {}) for seed in range(80)]
    assert {way.key for solution in solutions for way in solution.wrong} == set(MARKER.wrong)
    decisions = [solution.plan.decision for solution in solutions]
    assert all(decisions.count(each) >= 8 for each in Decision)


def test_no_row_on_the_bench_names_a_decision():
    for seed in range(40):
        rows = [value for _, value in solve(draw_item("any", seed, level=3), {}).look]
        assert not any(word in value for value in rows for word in ("refer", "hold it", "isolate"))


def test_every_ground_that_can_be_ticked_is_a_gate():
    ids = {gate.id for gate in GATES}
    keys = {key for key, _ in MARKER.question.options} - {each.value for each in Decision}
    assert keys <= ids
    assert {sign.gate for sign in SIGNS} <= keys
    assert {sign.place for sign in SIGNS} <= {*CLEAR, "staples"}
