"""Intake: each gate alone, overrides, consent, and what later stages are told."""

import pytest

from bench.errors import BadValue, NotFound
from bench.item import Answer, Format, Prong, Staple, count_leaves, judge_leaf_count
from bench.sources import cite
from bench.treatment import facts
from bench.treatment.conditions import Kind, has_condition, highest_humidity
from bench.treatment.intake.consent import (
    NO_CONSENT,
    PERMANENT_CHANGES,
    Consent,
    explain_permanent_change,
    say_consent,
)
from bench.treatment.intake.defects import Defect
from bench.treatment.intake.gate_list import GATES, gate
from bench.treatment.intake.gates import Effect, softens_when_warm
from bench.treatment.intake.planning import LEAST_WORDS, Decision, decide_intake
from bench.treatment.intake.spot_tests import Result, TestResult
from bench.treatment.plan import Verdict
from bench.uncertainty import from_limits
from bench.units import Q_, THOUSANDTHS
from tests.makers import annual, stapled_issue

OPEN = {
    "authority": "yes",
    "live_mould": "no",
    "past_mould": "no",
    "brittle_leaves": "no",
    "ink": "no",
    "stuck_pages": "no",
    "tape": "no",
    "restoration": "no",
}
AGREED = Consent("E. Fenwright", True, PERMANENT_CHANGES)
REASON = "Seen under the loupe with the owner, and dry for years"
# A plain item that no gate stands against.
PLAIN = annual(cover_coated=Answer.NO, glue="polyurethane")


def decide(item=PLAIN, consent=AGREED, overrides=None, tests=(), defects=(), **changes):
    return decide_intake(
        item,
        findings={**OPEN, **changes},
        consent=consent,
        overrides=overrides,
        tests=tests,
        defects=defects,
    )


def box(term, **more):
    facts = {
        "id": "d1",
        "face": "front cover, outside",
        "x": Q_(10, "mm"),
        "y": Q_(10, "mm"),
        "width": Q_(20, "mm"),
        "height": Q_(5, "mm"),
    }
    return Defect(term=term, **{**facts, **more})


def test_an_item_with_every_gate_open_is_treated_without_conditions():
    plan = decide()
    assert (plan.decision, plan.verdict, plan.conditions) == (Decision.TREAT, Verdict.GO, ())


@pytest.mark.parametrize(
    ("answers", "decision"),
    [
        ({"live_mould": "unsure"}, Decision.HOLD),
        ({"live_mould": "yes"}, Decision.REFER),
        # Archives leave items with past mould out [missouri-archives, seen].
        ({"past_mould": "yes"}, Decision.REFER),
        ({"brittle_leaves": "stiff"}, Decision.TREAT),
        # "Brittle newspapers might be harmed" [nedcc-cleaning, seen].
        ({"brittle_leaves": "breaks"}, Decision.REFER),
        ({"ink": "rubs"}, Decision.TREAT),
        ({"ink": "not tested"}, Decision.HOLD),
        ({"ink": "bleeds"}, Decision.REFER),
        # Coated leaves that dried in contact are not parted at the bench [coated-books, seen].
        ({"stuck_pages": "yes"}, Decision.REFER),
        ({"tape": "stays"}, Decision.TREAT),
        ({"tape": "remove"}, Decision.REFER),
        ({"restoration": "owner knows"}, Decision.TREAT),
        ({"restoration": "not told"}, Decision.HOLD),
        ({"authority": "no"}, Decision.HOLD),
    ],
)
def test_each_gate_alone_decides_as_stated(answers, decision):
    """Common practice, no source, but where a source stands beside the case."""
    plan = decide(**answers)
    (gate_id,) = answers
    assert plan.decision is decision
    assert [r.gate.id for r in plan.gates if r.is_met] == [gate_id]
    if decision is Decision.TREAT:
        assert plan.verdict is Verdict.CARE
        assert {c.gate for c in plan.conditions} == {gate_id}
    else:
        assert plan.verdict is Verdict.STOP
        assert gate(gate_id).name in plan.answer


@pytest.mark.parametrize(
    ("item", "gate_id", "decision"),
    [
        (annual(cover_coated=Answer.YES, glue="polyurethane"), "coated_cover", Decision.TREAT),
        (annual(cover_coated=Answer.UNKNOWN, glue="polyurethane"), "coated_cover", Decision.TREAT),
        (annual(cover_coated=Answer.NO, glue="unknown"), "spine_glue", Decision.TREAT),
        (annual(cover_coated=Answer.NO, glue="EVA hot melt"), "spine_glue", Decision.TREAT),
    ],
)
def test_what_the_item_says_answers_its_gates(item, gate_id, decision):
    plan = decide(item)
    assert plan.decision is decision
    assert [r.gate.id for r in plan.gates if r.is_met] == [gate_id]
    assert plan.gate(gate_id).evidence == "the item as described"


@pytest.mark.parametrize(
    ("rust", "prong", "gate_id", "decision"),
    [
        (1, Prong.FLUSH, "rusted_staples", Decision.TREAT),
        (2, Prong.FLUSH, "rusted_staples", Decision.TREAT),
        (3, Prong.FLUSH, "rusted_staples", Decision.REFER),
        (0, Prong.PROUD, "proud_staples", Decision.HOLD),
    ],
)
def test_the_worst_staple_decides(rust, prong, gate_id, decision):
    good = Staple("upper", Q_(38, "mm"), Q_(8, "mm"))
    worst = Staple("lower", Q_(215, "mm"), Q_(8, "mm"), prong, rust)
    plan = decide(annual(cover_coated=Answer.NO, glue="polyurethane", staples=(good, worst)))
    assert plan.decision is decision
    assert [r.gate.id for r in plan.gates if r.is_met] == [gate_id]


def test_a_gate_that_nobody_answered_holds():
    findings = {key: value for key, value in OPEN.items() if key != "past_mould"}
    plan = decide_intake(PLAIN, findings=findings, consent=AGREED)
    assert plan.decision is Decision.HOLD
    assert "Not answered yet: past mould." in plan.answer


def test_refer_goes_before_hold_and_both_are_named():
    plan = decide(stuck_pages="yes", restoration="not told")
    assert plan.decision is Decision.REFER
    assert plan.answer == (
        "Refer The Tin Orchard Annual, no. 2: stuck pages. To be settled as well: earlier restoration."
    )


def test_unknown_gate_and_unknown_answer_are_refused():
    with pytest.raises(NotFound, match="gate is 'glitter'"):
        decide(glitter="yes")
    with pytest.raises(BadValue, match="gate tape is 'perhaps'; allowed is no or stays or remove"):
        decide(tape="perhaps")


def test_a_written_reason_overrides_a_referral_under_its_conditions():
    plan = decide(past_mould="yes", overrides={"past_mould": REASON})
    assert plan.decision is Decision.TREAT
    assert [r.gate.id for r in plan.overridden] == ["past_mould"]
    assert has_condition(plan.conditions, Kind.NO_HUMIDITY)
    assert has_condition(plan.conditions_for("cleaning"), Kind.SCREENED_SUCTION)
    assert any(REASON in caution.words for caution in plan.cautions)


def test_an_override_of_a_gate_that_only_sets_conditions_lifts_them_and_says_so():
    item = annual(cover_coated=Answer.YES, glue="polyurethane")
    plan = decide(item, overrides={"coated_cover": REASON})
    assert plan.conditions == ()
    assert {c.kind for c in plan.lifted} == {Kind.MAX_HUMIDITY, Kind.NON_STICK, Kind.TEST_FIRST}
    assert plan.verdict is Verdict.CARE
    assert any("Relative humidity at most 80 %" in caution.words for caution in plan.cautions)


@pytest.mark.parametrize("reason", ["ok", "looks fine to me", "- - - - - - - -"])
def test_an_override_without_a_real_reason_is_refused(reason):
    expected = f"allowed is a written reason of {LEAST_WORDS} words or more"
    with pytest.raises(BadValue, match=expected):
        decide(past_mould="yes", overrides={"past_mould": reason})


@pytest.mark.parametrize(
    ("gate_id", "answer", "why"),
    [
        ("live_mould", "yes", "danger to people"),
        ("authority", "no", "owner's right"),
    ],
)
def test_some_gates_cannot_be_overridden_into_treatment(gate_id, answer, why):
    with pytest.raises(BadValue, match=why):
        decide(**{gate_id: answer}, overrides={gate_id: REASON})


def test_missing_consent_cannot_be_overridden():
    """Written approval before treatment: [aic-commentaries], seen."""
    assert decide(consent=NO_CONSENT).decision is Decision.HOLD
    with pytest.raises(BadValue, match="written approval cannot be waived"):
        decide(consent=NO_CONSENT, overrides={"consent": REASON})


def test_consent_without_every_permanent_change_explained_holds():
    """Procedures that cause permanent change are fully explained: [aic-communication], seen."""
    plan = decide(consent=Consent("E. Fenwright", True, ("size", "gloss")))
    assert plan.decision is Decision.HOLD
    assert plan.gate("permanent_change").evidence == "not explained: thickness, tooth"


def test_a_reason_against_an_open_gate_is_not_used_and_that_is_said():
    plan = decide(overrides={"tape": REASON})
    assert plan.overridden == ()
    assert any("against tape is not used" in caution.words for caution in plan.cautions)


@pytest.mark.parametrize(
    ("results", "effect", "evidence"),
    [
        ([("rub", Result.PASS), ("damp", Result.PASS)], Effect.GO, "as looked at"),
        ([("rub", Result.FAIL), ("damp", Result.PASS)], Effect.CONDITIONS, "dry rub test: fail"),
        ([("rub", Result.FAIL)], Effect.HOLD, "damp strip test not done"),
        ([("rub", Result.PASS), ("damp", Result.DOUBT)], Effect.HOLD, "damp strip test: doubt"),
        ([("rub", Result.PASS), ("damp", Result.FAIL)], Effect.REFER, "damp strip test: fail"),
        ([("rub", Result.NOT_DONE), ("damp", Result.NOT_DONE)], Effect.GO, "as looked at"),
    ],
)
def test_the_graver_of_tick_and_test_stands(results, effect, evidence):
    plan = decide(tests=[TestResult(test, result) for test, result in results])
    assert plan.gate("ink").effect is effect
    assert plan.gate("ink").evidence == evidence


def test_a_cover_that_reacts_to_vapour_is_referred():
    plan = decide(tests=[TestResult("vapour", Result.FAIL, "front cover")])
    assert plan.decision is Decision.REFER
    assert plan.gate("coated_cover").evidence == "vapour test on front cover: fail"


@pytest.mark.parametrize(("result", "asked"), [(Result.PASS, False), (Result.NOT_DONE, True)])
def test_a_vapour_test_that_has_passed_is_not_asked_for_again(result, asked):
    plan = decide(annual(cover_coated=Answer.YES), tests=[TestResult("vapour", result, "front cover")])
    assert has_condition(plan.conditions, Kind.TEST_FIRST) is asked
    assert has_condition(plan.conditions, Kind.MAX_HUMIDITY)


def test_a_failed_heat_test_forbids_heat_everywhere_even_where_the_glue_is_unknown():
    plan = decide(annual(cover_coated=Answer.NO), tests=[TestResult("heat", Result.FAIL)])
    assert [c.where for c in plan.conditions if c.kind is Kind.NO_HEAT] == ["whole item"]
    assert has_condition(plan.conditions, Kind.NO_HEAT, where="spine")


@pytest.mark.parametrize(
    ("defect", "gate_id", "decision"),
    [
        (box("mould", active=True), "live_mould", Decision.REFER),
        (box("mould"), "past_mould", Decision.REFER),
        (box("blocking"), "stuck_pages", Decision.REFER),
        (box("tape carrier"), "tape", Decision.TREAT),
        (box("retouch"), "restoration", Decision.TREAT),
    ],
)
def test_a_listed_defect_answers_its_gate_whatever_was_ticked(defect, gate_id, decision):
    plan = decide(defects=[defect])
    assert plan.decision is decision
    assert plan.gate(gate_id).evidence.startswith("defect d1")


def test_the_strictest_humidity_of_several_is_given():
    staple = Staple("upper", Q_(38, "mm"), Q_(8, "mm"), rust=2)
    item = annual(cover_coated=Answer.YES, glue="polyurethane", staples=(staple,))
    plan = decide(item)
    limit = highest_humidity(plan.conditions_for("humidity"))
    # Hours above 80 % count as wet: ISO 9223 [iso9223, seen in an open implementation].
    assert limit is not None
    assert limit.limit.to("percent").magnitude == pytest.approx(80.0)
    assert plan.value(facts.HIGHEST_ALLOWED).value.to("percent").magnitude == pytest.approx(80.0)


def test_a_glue_is_judged_by_the_lowest_temperature_at_which_it_may_soften():
    """60 °C is about 140 °F, the warm platen: common practice, no source."""
    assert Q_(60, "degC").to("degF").magnitude == pytest.approx(140, abs=0.5)
    glues = ("animal glue", "PVAc", "EVA hot melt", "unknown")
    assert all(softens_when_warm(glue) for glue in glues)
    assert not softens_when_warm("polyurethane")


def test_permanent_change_of_size_in_figures():
    """168 mm grows 0.4 to 1.7 mm: 0.25 to 1 % across the grain [munoz-vinas2009, abstract seen];
    257 mm shrinks by up to 0.30 %, 0.77 mm."""
    words = explain_permanent_change(annual())[0].words
    assert "0.4 to 1.7 mm wider" in words
    assert "up to 0.8 mm shorter" in words
    # The same in inches: 168 mm is 6.614 in, of which 0.25 to 1 % is 0.017 to 0.066 in.
    assert "0.02 to 0.07 in wider" in explain_permanent_change(annual(), units=THOUSANDTHS)[0].words


def test_every_permanent_change_is_explained_by_itself():
    assert tuple(c.name for c in explain_permanent_change(annual())) == PERMANENT_CHANGES


def test_a_second_cycle_needs_its_own_consent():
    assert AGREED.covers(1)
    assert not AGREED.covers(2)
    assert "cycle 2 needs a further written consent" in say_consent(AGREED, cycle=2)
    assert Consent("E. Fenwright", True, PERMANENT_CHANGES, cycles=2).covers(2)


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"in_writing": True}, "consent given by is empty"),
        ({"explained": ("colour",)}, "permanent change is 'colour'"),
        ({"cycles": 0}, "cycles agreed is 0"),
    ],
)
def test_a_consent_that_says_nothing_is_refused(facts, message):
    with pytest.raises(BadValue, match=message):
        Consent(**facts)


def test_an_odd_count_of_pages_is_refused_with_what_to_do():
    """A leaf has two pages; a 36-page issue has 18 leaves."""
    assert count_leaves(36, counted_as="pages") == 18
    with pytest.raises(BadValue, match="count of pages is 35; allowed is an even number"):
        count_leaves(35, counted_as="pages")


def test_pages_taken_for_leaves_are_seen_in_the_thickness():
    """Common practice, no source: 173.5 thousandths over 36 leaves; 72 would be half as thick each."""
    block = from_limits(
        Q_(173.5, "thou"), Q_(172.7, "thou"), Q_(174.3, "thou"), cause="caliper", source="caliper"
    )
    assert judge_leaf_count(annual(leaves=36), block).fits
    judged = judge_leaf_count(annual(leaves=72), block)
    assert not judged.fits
    assert "pages were counted as leaves" in judged.words


def test_a_saddle_stitched_issue_has_no_glue_gate_and_no_rust():
    plan = decide(stapled_issue(cover_coated=Answer.NO))
    assert plan.decision is Decision.TREAT
    assert not plan.gate("spine_glue").is_met


def test_a_glued_spine_without_a_named_glue_stays_cold():
    item = annual(format=Format.GLUED, staples=(), glue="none", cover_coated=Answer.NO)
    assert has_condition(decide(item).conditions_for("pressing"), Kind.NO_HEAT, where="spine")


def test_every_answer_of_every_gate_has_a_reason_a_source_and_a_place_in_order():
    for each in GATES:
        assert each.findings[0].effect is Effect.GO, each.id
        keys = [finding.key for finding in each.findings]
        assert len(set(keys)) == len(keys)
        for finding in each.findings[1:]:
            assert finding.effect is not Effect.GO
            assert len(finding.reason.split()) >= 8, (each.id, finding.key)
            assert cite(finding.source).key == finding.source
            assert all(cite(condition.source) for condition in finding.conditions)
            if finding.effect is Effect.CONDITIONS:
                assert finding.conditions, (each.id, finding.key)
