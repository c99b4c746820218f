"""The review panel: grades, marks, consent and rules move the decision; Save writes it once."""

import re

import pytest

from bench.desk import Treatment
from bench.handover.pressing import pressing_choices
from bench.handover.review import read_cycle
from bench.panels import buffering
from bench.panels.buffering import build_buffering_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.review import build_review_panel
from bench.records.schema import TABLES
from bench.treatment.review.rules import ReviewDecision
from bench.treatment.rows import is_given
from bench.units import MILLIMETRES, Q_
from tests.writeup.case_makers import at, make_bare, make_full


@pytest.fixture
def treatment(tmp_path):
    """A treatment after its first cycle: read again, no defect looked at yet."""
    return Treatment(make_full(tmp_path, reviewed=False), clock=lambda: at(6, 12))


@pytest.fixture
def panel(treatment):
    return build_review_panel(treatment)


def put(panel, **values):
    panel.fill(values)


def look(panel, **grades):
    put(panel, **{f"defect_{name}": grade for name, grade in {"d1": 2, "d2": 1, **grades}.items()})


def agree(panel):
    put(panel, consent_by="E. Fenwright", consent_how="letter of 6 March", consent=True)


def decisions(treatment):
    rows = treatment.latest.read("decisions")
    return rows[rows["stage"] == "review"].to_dict("records")


def test_it_holds_until_the_defects_are_looked_at_and_the_owner_agrees(panel):
    assert panel.result.plan.decision is ReviewDecision.HOLD
    look(panel)
    assert panel.result.plan.decision is ReviewDecision.HOLD
    assert "written consent" in panel.answer
    agree(panel)
    assert panel.result.plan.decision is ReviewDecision.FEWER
    assert "leaves between sheets 8 instead of 6" in panel.answer


def test_the_answer_comes_in_words_before_the_picture(panel):
    assert panel.answer.index("Hold") < panel.answer.index('class="picture"')


def test_a_consent_without_a_name_is_refused_beside_its_field(panel):
    look(panel)
    put(panel, consent=True)
    assert not panel.can_save
    assert "Say who agreed and how" in panel.field("consent_by").below.value
    agree(panel)
    assert panel.can_save


def test_an_own_change_is_taken_and_half_a_leaf_refused(panel):
    look(panel)
    agree(panel)
    put(panel, next_interval="10")
    assert "skips a rung" in panel._cautions.value
    put(panel, next_interval="8")
    assert panel.result.plan.decision is ReviewDecision.FEWER
    put(panel, next_interval="8.5")
    assert not panel.can_save
    assert "a whole number" in panel.field("next_interval").below.value


def test_two_changes_are_refused_by_name(tmp_path):
    record = make_full(tmp_path, reviewed=False)
    row = {"plan": "pressing-1", "stage": "pressing", "cycle": 1, "quantity": "pressure on the face"}
    record.save({"plans": [{**row, "value": 4.0, "unit": "kPa"}]}, by="M. Tallow", at=at(6, 11))
    panel = build_review_panel(Treatment(record))
    look(panel)
    put(panel, next_interval="8", next_pressure="12")
    assert not panel.can_save
    assert "one thing at a time" in panel.answer
    put(panel, next_interval="")
    assert panel.can_save


@pytest.mark.parametrize(
    ("mark", "decision"), [("mark_set_off", ReviewDecision.REFER), ("mark_sheen", ReviewDecision.STOP)]
)
def test_a_new_mark_ends_it(panel, mark, decision):
    look(panel)
    agree(panel)
    put(panel, **{mark: True})
    assert panel.result.plan.decision is decision


def test_the_rules_can_be_edited(panel):
    look(panel)
    agree(panel)
    put(panel, most_growth="0.1")
    assert panel.result.plan.decision is ReviewDecision.STOP
    put(panel, most_growth="0.5", tolerated=2)
    assert panel.result.plan.decision is ReviewDecision.STOP
    assert "goal is reached" in panel.answer
    put(panel, least_gain="130")
    assert not panel.can_save


def test_save_writes_grades_consent_and_decision_and_the_next_cycle_is_at_hand(panel, treatment):
    look(panel)
    agree(panel)
    panel._on_save(None)
    assert "Saved" in panel.status
    words = [row["decision"] for row in decisions(treatment)]
    assert words == ["consent", "repeat with fewer interleaves"]
    defects = treatment.latest.read("defects")
    after = defects[defects["moment"] == "after"]
    assert dict(zip(after["defect"], after["severity"], strict=True)) == {"d1": 2, "d2": 1}
    assert treatment.cycle == 2
    plans = treatment.latest.read("plans")
    saved = plans[plans["plan"] == "review-1"].set_index("quantity")
    assert saved.loc["leaves between sheets, next cycle", "value"] == 8
    assert "look over before the next cycle" in treatment.latest.read("steps")["name"].tolist()


def test_save_twice_writes_once_and_a_changed_mind_replaces(panel, treatment):
    look(panel)
    agree(panel)
    panel._on_save(None)
    panel._on_save(None)
    assert "Nothing new to save" in panel.status
    put(panel, mark_sheen=True)
    panel._on_save(None)
    assert [row["decision"] for row in decisions(treatment)] == ["consent", "stop"]
    assert treatment.latest.read("log")["remark"].str.contains("New marks after cycle 1: sheen").any()
    decided = [row["decision"] for row in treatment.latest.all_rows("decisions")]
    assert "repeat with fewer interleaves" in decided


def test_a_step_that_has_no_end_yet_is_no_end_of_the_work_in_the_press(treatment):
    """Only the last step was written down: blank ends of those before it must not count as times."""
    own = [column.name for column in TABLES["steps"].own]
    steps = [r for r in treatment.latest.rows("steps") if (r["stage"], r["cycle"]) == ("pressing", 1)]
    for row in steps:
        is_last = row is steps[-1]
        left_out = () if is_last else ("actual_start", "actual_end")
        kept = {name: row[name] for name in own if is_given(row[name]) and name not in left_out}
        if is_last:
            kept["note"] = "written down at the press"
        treatment.record.save({"steps": [{**kept, "replaces": row["row"]}]}, by="M. Tallow", at=at(6, 11))
    panel = build_review_panel(treatment)
    assert panel.result is not None
    assert "nan" not in re.sub(r"<[^>]+>", " ", panel.answer).split()


def test_the_next_cycle_begins_with_what_was_decided(panel, treatment):
    """All was to stay: a wider spacing, which the ladder has next, is a change that nobody agreed to."""
    look(panel)
    agree(panel)
    put(panel, next_interval="6")
    assert panel.result.plan.decision is ReviewDecision.REPEAT
    panel.save()
    sheets = build_buffering_panel(treatment, cycle=2)
    assert sheets.field("interval").widget.value == 6
    for following in (sheets, build_pressing_panel(treatment, cycle=2)):
        assert "The review of cycle 1 decided: Repeat as planned." in following._cautions.value
    assert "The review of" not in build_buffering_panel(treatment, cycle=1)._cautions.value


def test_what_was_decided_about_heat_stands_in_the_fields_of_the_next_cycle(panel, treatment):
    look(panel)
    agree(panel)
    put(panel, next_platen="131 °F", next_interval="6")
    panel.save()
    press = build_pressing_panel(treatment, cycle=2)
    assert press.field("platen").widget.value == "131"  # the operator reads Fahrenheit
    assert press.result.choices.platen_temperature.to("degC").magnitude == pytest.approx(55)
    before = pressing_choices(treatment, 1)
    assert press.result.choices.load_words == before.load_words, "everything else as in the last cycle"
    assert press.result.choices.dwell == before.dwell


def test_a_plan_is_out_of_date_once_review_decides_anew(panel, treatment, monkeypatch):
    monkeypatch.setattr(buffering, "conditions_of", lambda *_: ())  # intake of this one is not settled
    look(panel)
    agree(panel)
    put(panel, next_interval="6")
    panel.save()
    build_buffering_panel(treatment, cycle=2).save()
    assert not [flag for flag in treatment.flags if (flag.stage, flag.cycle) == ("buffering", 2)]
    put(panel, next_interval="8")
    panel.save()
    (flag,) = [flag for flag in treatment.flags if (flag.stage, flag.cycle) == ("buffering", 2)]
    assert "leaves between sheets" in str(flag)
    assert "review" in str(flag)


def test_what_no_press_can_do_is_refused_beside_its_field(panel):
    """55 meant in Celsius, read in Fahrenheit: a platen colder than the room."""
    put(panel, next_platen="55")
    assert not panel.can_save
    assert "allowed" in panel.field("next_platen").below.value


def test_hours_and_load_that_review_decided_are_handed_on(panel, treatment):
    look(panel)
    agree(panel)
    put(panel, next_time_in_chamber="30", next_interval="6")
    panel.save()
    assert build_humidity_panel(treatment, cycle=2).field("hours").widget.value == 30
    put(panel, next_time_in_chamber="", next_pressure="3")
    panel.save()
    sheets = build_buffering_panel(treatment, cycle=2)
    assert sheets.result.choices.load.value.to("kPa").magnitude == pytest.approx(3)
    assert "decided at review" in sheets.answer
    assert build_humidity_panel(treatment, cycle=2).field("hours").widget.value == 24


def test_units_switch_and_the_numbers_follow(panel, treatment):
    assert "thou" in panel.answer
    treatment.switch.choice = MILLIMETRES
    (before,) = re.findall(r"thickness, text block</td><td>([^<]*)<", panel.answer)
    assert re.fullmatch(r"4\.597\W±\W0\.0\d\d mm", before)  # 181.0 thousandths of an inch


def test_a_record_without_an_item_says_what_is_missing(tmp_path):
    from bench.errors import BadValue

    with pytest.raises(BadValue, match="Describe the item"):
        build_review_panel(Treatment(make_bare(tmp_path)))


def test_the_rest_may_be_unknown(panel):
    put(panel, rested="")
    assert panel.result.choices.rested is None
    put(panel, rested="30")
    assert panel.result.choices.rested == Q_(30, "hour")


def test_the_next_cycle_is_shown_by_where_the_load_goes(panel, treatment):
    following = read_cycle(treatment).following
    assert following.interval == 8
    assert "Next cycle: where the load would go" in panel.answer
    assert read_cycle(treatment).choices.chances == following.chances
    assert following.chances[8] == 1 - next(x for x in following.loads if 8 in x.intervals).chance


def test_a_cycle_of_which_nothing_is_recorded_is_not_judged(treatment):
    panel = build_review_panel(treatment, cycle=2)
    assert "Nothing is recorded as done in cycle 2" in panel.answer
    assert "mark its steps as done" in panel.answer
    assert not panel.can_save
    look(panel)
    assert "Nothing is recorded" not in panel.answer
