"""The panel of a trial: what it waits for, finds, saves to the record of the bench, and shows again."""

import re

import numpy as np
import pytest

from bench.desk import open_treatment
from bench.figures.trials import in_use_page, protocol_page, say_days
from bench.handover.measured import measured_here
from bench.handover.trials import about_of, worth_of
from bench.panels.buffering import build_buffering_panel
from bench.panels.trial import build_trial_panel
from bench.records.at_hand import bench_of
from bench.records.check import check_treatment
from bench.trials import BOARD_STIFFNESS, LEAF_SORPTION, PROTOCOLS
from bench.trials.worked import work_example
from bench.units import MILLIMETRES, UnitChoice
from tests.panels.test_stage_panels import make, put
from tests.trials.entries import entries_of

EVERY = pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda protocol: protocol.key)


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def words(html: str) -> str:
    return re.sub(r"<[^>]+>", " ", html)


def carry_out(treatment, protocol, *, seed=8, use=True, reason="read twice", about=""):
    """Enter made-up readings of an invented bench, and save them."""
    panel = build_trial_panel(treatment, protocol)
    of = about or panel.field("about").widget.value
    panel.field("about").widget.value = of
    example = work_example(protocol, np.random.default_rng(seed), about=of)
    put(panel, **entries_of(protocol, example.readings, treatment.units), use=use, reason=reason)
    return panel, panel.save()


@EVERY
def test_a_trial_is_read_saved_and_taken_by_plans(treatment, protocol):
    panel = build_trial_panel(treatment, protocol)
    assert not panel.can_save  # readings are still to come
    assert 'role="alert"' not in panel.answer
    panel, said = carry_out(treatment, protocol)
    assert said.startswith("● Saved 1 row to trials"), said
    assert len(panel.charts) == 2
    taken = {each.constant for each in measured_here(treatment)}
    assert taken == set(protocol.finds_of(panel.field("about").widget.value))
    assert check_treatment(bench_of(treatment.record.folder)) == []


@pytest.mark.parametrize("units", [MILLIMETRES, UnitChoice("thou", "degF")], ids=["metric", "other"])
@EVERY
def test_what_was_read_stands_in_the_panel_again_and_is_not_saved_twice(treatment, protocol, units):
    treatment.switch.choice = units
    panel, _ = carry_out(treatment, protocol)
    before = panel._lead.value
    again = build_trial_panel(treatment, protocol)
    assert again._lead.value == before
    assert not again.can_save
    assert "Saved as it stands" in again.status


def test_a_decision_is_made_anew_with_the_same_readings(treatment):
    carry_out(treatment, BOARD_STIFFNESS)
    panel = build_trial_panel(treatment, BOARD_STIFFNESS)
    put(panel, use=False, reason="the board was damp")
    assert "Saved 1 row to trials of this bench" in panel.save()
    assert measured_here(treatment) == ()
    (trial,) = treatment.trials
    assert (trial.is_used, trial.reason) == (False, "the board was damp")


def test_new_readings_are_a_trial_of_their_own_and_the_last_one_counts(treatment):
    carry_out(treatment, BOARD_STIFFNESS, seed=8)
    first = measured_here(treatment)[0].value.value
    carry_out(treatment, BOARD_STIFFNESS, seed=9)
    assert len(treatment.trials) == 2
    assert measured_here(treatment)[0].value.value != first


def test_readings_of_one_thing_are_not_those_of_another(treatment):
    carry_out(treatment, BOARD_STIFFNESS)
    panel = build_trial_panel(treatment, BOARD_STIFFNESS)
    read = [asked for asked in BOARD_STIFFNESS.asked if asked.usual is None]
    assert panel.field(read[0].key).widget.value
    first, other = BOARD_STIFFNESS.abouts()[:2]
    panel.field("about").widget.value = other
    assert all(panel.field(asked.key).widget.value == "" for asked in read)
    panel.field("about").widget.value = first
    assert panel.field(read[0].key).widget.value


@pytest.mark.parametrize(
    "protocol", [each for each in PROTOCOLS if len(each.abouts()) > 1], ids=lambda protocol: protocol.key
)
def test_what_was_read_comes_back_in_the_units_of_the_operator(treatment, protocol):
    carry_out(treatment, protocol)
    saved = treatment.trials[-1].read
    panel = build_trial_panel(treatment, protocol)

    def shown():
        return {asked.key: panel.field(asked.key).widget.value for asked in protocol.asked}

    in_metric = shown()
    treatment.switch.choice = UnitChoice("thou", "degF")
    in_other = shown()
    first = panel.field("about").widget.value
    panel.field("about").widget.value = next(each for each in protocol.abouts() if each != first)
    panel.field("about").widget.value = first
    assert shown() == in_other
    assert "Saved as it stands" in panel.status
    treatment.switch.choice = MILLIMETRES
    assert shown() == in_metric
    for key, values in saved.items():
        read = [float(value.to(values[0].units).magnitude) for value in panel.inputs()[key]]
        assert read == pytest.approx([float(value.magnitude) for value in values], rel=1e-4)


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("two", "two"),
        ("49,96", "49,96"),
        ("-5", "-5"),
        ("9" * 12, "allowed is"),
        (" ".join(["50.0"] * 40), "readings"),
        ("3 mm", "mm"),
    ],
)
def test_a_silly_reading_is_told_beside_its_field(treatment, entry, said):
    panel, _ = carry_out(treatment, LEAF_SORPTION)
    (weighed, *_) = [asked for asked in LEAF_SORPTION.asked if asked.unit == "g"]
    put(panel, **{weighed.key: entry})
    assert not panel.can_save
    assert said in words(panel.field(weighed.key).below.value)


def test_a_trial_needs_a_reason_and_a_time_that_has_been(treatment):
    panel, _ = carry_out(treatment, BOARD_STIFFNESS)
    put(panel, reason="")
    assert "Say why" in panel.status
    put(panel, reason="read twice", done_at="2126-01-01 09:00")
    assert not panel.can_save
    put(panel, done_at="yesterday")
    assert "a date and an hour" in words(panel.field("done_at").below.value)


def test_readings_come_back_as_typed_when_units_are_switched_there_and_back(treatment):
    panel, _ = carry_out(treatment, BOARD_STIFFNESS)
    fields = [asked.key for asked in BOARD_STIFFNESS.asked if asked.unit == "thickness"]
    before = [panel.field(key).widget.value for key in fields]
    for unit in ("thou", "um", "mm"):
        panel._length.value = unit
    assert [panel.field(key).widget.value for key in fields] == before
    assert panel.result is not None


def test_a_scratch_copy_keeps_its_bench_to_itself():
    treatment = open_treatment()
    _, said = carry_out(treatment, BOARD_STIFFNESS)
    assert "Saved" in said
    assert measured_here(treatment)
    assert measured_here(open_treatment()) == ()


@pytest.mark.slow
@EVERY
def test_what_it_is_worth_is_reckoned_beforehand(treatment, protocol):
    worth = worth_of(treatment, protocol)
    page = protocol_page(protocol, worth, treatment.title)
    assert all(step in page.words for step in protocol.steps)
    answers = worth.answers
    assert all(each.narrower >= 1.1 for each in answers)
    assert [each.narrower for each in answers] == sorted((each.narrower for each in answers), reverse=True)
    assert all(each.narrower > 1 for each in worth.found)
    assert "times narrower" in page.words or "times better" in page.words
    stages = {stage for constant in protocol.finds for stage in constant.stages}
    assert {each.stage for each in answers} <= stages


def test_it_is_of_what_the_item_has(treatment):
    assert about_of(treatment, LEAF_SORPTION) == treatment.item.text_paper


def test_what_is_in_use_is_listed(treatment):
    assert "measured nothing of itself yet" in in_use_page(measured_here(treatment)).words
    carry_out(treatment, BOARD_STIFFNESS)
    page = in_use_page(measured_here(treatment))
    assert "1 constant;" in page.words
    assert "bending stiffness of one board" in page.html


def test_a_plan_that_took_it_says_so(treatment):
    board = "backing board 24 pt"
    carry_out(treatment, BOARD_STIFFNESS, about=board)
    plan = build_buffering_panel(treatment).plan()
    (taken,) = [each for each in plan.assumptions if each.key == "measured: board-bending"]
    assert board in taken.words
    assert "measured on this bench on" in taken.words


@pytest.mark.parametrize(
    ("days", "said"), [(365, "a year"), (1095, "3 years"), (182, "6 months"), (14, "14 days")]
)
def test_days_are_said_as_people_count_them(days, said):
    assert say_days(days) == said
