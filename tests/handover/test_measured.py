"""What the bench measured of itself reaches its plans, and a plan from before is told to be out of date."""

from datetime import timedelta

import pytest

from bench.handover.humidity import humidity_choices
from bench.handover.measured import measured_here, unread_here
from bench.panels.humidity import build_humidity_panel
from bench.physics.ranges import Range
from bench.records.at_hand import bench_of
from bench.records.bench_record import SavedTrial, rows_of_trial
from bench.treatment.measured import GLUE_SOFTENS, HYSTERESIS
from tests.panels.test_stage_panels import make


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def accept(treatment, constant=HYSTERESIS, about="newsprint", numbers=(0.012, 0.010, 0.014), name="t-1"):
    now = treatment.now()
    trial = SavedTrial(
        name=name,
        protocol="made",
        about=about,
        done_at=now,
        due_at=now + timedelta(days=365),
        is_used=True,
        reason="it fits",
        said="",
        found={constant.key: Range.of(numbers, constant.unit)},
    )
    return treatment.save_to_bench(lambda record: rows_of_trial(trial))


def test_what_is_accepted_is_handed_to_the_stages(treatment):
    assert measured_here(treatment) == ()
    accept(treatment)
    (found,) = humidity_choices(treatment, 1).measured
    assert (found.constant, found.about, found.is_due) == (HYSTERESIS, "newsprint", False)


def test_a_plan_from_before_is_out_of_date_and_one_saved_anew_is_not(treatment):
    panel = build_humidity_panel(treatment)
    panel.save()
    assert treatment.flags == ()
    said = accept(treatment)
    assert "out of date" in said
    (flag,) = treatment.flags
    assert flag.stage == "humidity"
    assert "what this bench measured of itself had no water held longer on drying (newsprint)" in flag.words
    panel.refresh()
    panel.save()
    assert treatment.flags == ()


@pytest.mark.parametrize(
    ("constant", "about"), [(HYSTERESIS, "uncoated writing"), (GLUE_SOFTENS, "newsprint")]
)
def test_what_is_of_another_paper_or_stage_leaves_a_plan_as_it_is(treatment, constant, about):
    build_humidity_panel(treatment).save()
    accept(treatment, constant, about)
    assert treatment.flags == ()


def test_a_record_of_the_bench_that_cannot_be_read_is_named_and_stops_no_plan(treatment):
    accept(treatment)
    (bench_of(treatment.record.folder) / "trials.csv").write_bytes(b"\xff\xfe spoilt")
    assert measured_here(treatment) == ()
    (said,) = unread_here(treatment)
    assert said.startswith("_bench: trials.csv")
    plan = build_humidity_panel(treatment).plan()
    assert any("_bench" in assumption.words for assumption in plan.assumptions)
