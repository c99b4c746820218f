"""A plan whose ground has changed says so in its panel, its window, its list; times are asked about."""

import re
from datetime import timedelta

import pytest

from bench.desk import Treatment
from bench.panels.buffering import build_buffering_panel
from bench.panels.ended import EndedFields
from bench.panels.intake import build_intake_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.readings import build_readings_panel
from bench.panels.schedule import build_schedule_panel
from bench.panels.start import treatments_page
from bench.records.check import check_treatment
from bench.records.nouns import step_rows
from bench.records.store import open_record
from bench.treatment.clock.schedule import record_actual
from bench.treatment.plan import Verdict
from bench.writeup.case import open_case
from bench.writeup.noted import note_all
from tests.panels.test_stage_panels import NINE, make, put, why

pytestmark = pytest.mark.slow

ANNUAL = {"text block": 228.0, "upper staple": 233.0, "spine edge": 230.0}


@pytest.fixture
def treatment(tmp_path):
    """A square-bound annual of 100 pages."""
    return make(tmp_path, count=100, places=ANNUAL)


def second_window(treatment):
    return Treatment(open_record(treatment.record.folder), clock=treatment.now)


def read(panel):
    return " ".join(re.sub("<[^>]+>", " ", re.sub("<svg.*?</svg>", "", panel.answer, flags=re.S)).split())


def test_ten_sheets_that_became_nine_are_told_everywhere_until_the_press_follows(treatment, tmp_path):
    """The press took ten out, its panel had nothing new to save, and the check said sound."""
    sheets = build_buffering_panel(treatment)
    sheets.save()
    press = build_pressing_panel(treatment)
    press.save()
    assert press.save() == "● Nothing new to save: the record already says so."
    assert check_treatment(treatment.record.folder) == []
    put(sheets, interval=7)
    said = sheets.save()
    assert "9 sheets go in by the buffering plan, but the press plan takes 10 out" in said
    (flag,) = treatment.flags
    assert flag.verdict is Verdict.STOP
    assert [str(flag)] == [fault.what for fault in check_treatment(treatment.record.folder)]
    assert "9 sheets go in" in treatments_page(tmp_path).html
    assert "9 sheets go in" in " ".join(note_all(open_case(treatment.record), short=False))
    assert "Sheets do not add up" in build_schedule_panel(treatment).answer
    # The panel beside it follows: its field, its count, and what it offers to save.
    assert press.field("interval").widget.value == 7
    assert press.result.interleaves == 9
    assert read(press).startswith("■ Sheets do not add up Cycle 1: 9 sheets go in")
    assert "takes the place of the plan that is out of date" in press.status
    assert "Nothing new" not in press.save()
    assert treatment.flags == ()
    assert check_treatment(treatment.record.folder) == []
    assert "add up" not in read(press)


def test_a_spacing_entered_at_the_press_against_the_sheets_is_told_before_it_is_saved(treatment):
    build_buffering_panel(treatment).save()
    press = build_pressing_panel(treatment)
    put(press, interval=12)
    assert read(press).startswith("■ Sheets do not add up Cycle 1: 10 sheets go in")
    assert "Set the spacing here to that of the buffering plan" in read(press)
    put(press, interval=6)
    assert "add up" not in read(press)


def test_a_second_window_is_told_of_the_first_ones_save_and_saves_nothing_old(treatment):
    sheets = build_buffering_panel(treatment)
    sheets.save()
    build_pressing_panel(treatment).save()
    other = build_pressing_panel(second_window(treatment))
    put(sheets, interval=7)
    sheets.save()
    rows = len(treatment.record.all_rows("plans"))
    said = other.save()  # pressed without a look: what it shows is older than the record
    assert "Nothing was saved" in said
    assert "from before another window saved: the buffering plan had sheets 10 (now 9)" in said
    assert len(treatment.record.all_rows("plans")) == rows
    assert "Another window saved the buffering plan of cycle 1" in read(other)
    assert other.result.interleaves == 9
    assert "Meanwhile another window saved the buffering plan of cycle 1" in other.save()
    assert check_treatment(treatment.record.folder) == []


def test_a_refresh_in_a_second_window_tells_what_the_first_saved(treatment):
    other = build_buffering_panel(second_window(treatment))
    assert "nother window" not in read(other)
    readings = build_readings_panel(treatment)
    put(readings, place="text block", readings="5.84")
    readings.save()
    put(other, risk=3)
    assert "Another window saved readings (by M. Tallow)." in read(other)
    mean = other.result.assumptions[0]
    assert "n = 2" in mean.words


def test_an_entry_of_the_operator_stays_when_the_proposal_changes(treatment):
    sheets = build_buffering_panel(treatment)
    press = build_pressing_panel(treatment)
    put(press, interval=9)
    put(sheets, interval=7)
    sheets.save()
    assert press.field("interval").widget.value == 9


def test_a_schedule_lives_on_with_the_seconds_of_its_own_record(treatment):
    """Examination “just now” once wrote seconds, and the panel then refused everything."""
    schedule = build_schedule_panel(treatment)
    schedule.save()
    timeline = record_actual(
        treatment.timeline,
        "s01",
        started=NINE.replace(second=25),
        ended=NINE + timedelta(minutes=7, seconds=31),
    )
    treatment.save({"steps": step_rows(timeline, treatment.latest)})
    again = build_schedule_panel(treatment)
    assert again.result is not None
    assert "no new start" not in read(again)
    put(again, step="s02", began="2026-03-02 10:00", ended="2026-03-02 10:20")
    assert again.can_save
    # A panel that stood open meanwhile follows, too: its start and its steps.
    put(schedule, opens="07:30")
    assert "no new start" not in read(schedule)
    assert "s01" not in [name for _, name in schedule.field("step").widget.options]


def test_just_now_is_entered_to_the_minute():
    ended = EndedFields("Examination is done")
    now = NINE + timedelta(hours=1, seconds=25)
    values = {"ended": "just now", "ended_at": "", "ended_sure": False}
    assert ended.read(values, now, NINE) == NINE + timedelta(hours=1)


@pytest.mark.parametrize(
    ("entries", "key", "said"),
    [
        ({"began": "2026-03-09 09:00"}, "began", "which is to come; allowed is by now"),
        ({"ended": "2031-03-02 09:00"}, "ended", "which is to come; allowed is by now"),
        ({"began": "2026-03-02 10:00", "ended": "2026-03-02 09:30"}, "ended", "or later"),
        ({"began": "2025-03-02 10:00"}, "began", "before this record was begun"),
        ({"began": "2026-03-02 10:00", "ended": "2026-03-03 08:30"}, "ended", "22 h after the start"),
    ],
)
def test_times_that_cannot_be_are_asked_about_beside_their_field(treatment, entries, key, said):
    schedule = build_schedule_panel(treatment)
    put(schedule, step="s01", **entries)
    assert said in why(schedule, key)
    assert not schedule.can_save


def test_a_time_that_may_be_right_is_saved_once_it_is_confirmed(treatment):
    schedule = build_schedule_panel(treatment)
    assert schedule.field("sure").box.layout.display == "none"
    put(schedule, step="s01", began="2026-03-01 10:00", ended="2026-03-01 10:20")
    assert schedule.field("sure").box.layout.display == ""
    put(schedule, sure=True)
    schedule.save()
    (done,) = [step for step in treatment.timeline.steps if step.step == "s01"]
    assert done.actual_start == NINE - timedelta(hours=23)
    assert "asked about and confirmed" in done.note


def test_a_consent_of_a_year_to_come_is_refused_beside_its_field(treatment):
    intake = build_intake_panel(treatment)
    put(intake, agreed_on="2031-03-02")
    assert "which is to come" in why(intake, "agreed_on")
    assert not intake.can_save


def test_readings_of_intake_after_the_chamber_are_asked_when_they_were_taken(treatment):
    build_schedule_panel(treatment).save()
    timeline = treatment.timeline
    step = next(s for s in timeline.steps if s.stage == "humidity")
    done = record_actual(timeline, step.step, started=NINE + timedelta(hours=20))
    treatment.save({"steps": step_rows(done, treatment.latest)})
    panel = build_readings_panel(treatment)
    put(panel, place="fore edge", readings="5.82")
    assert "after the treatment began on 2026-03-03 05:00" in why(panel, "taken")
    assert not panel.can_save
    put(panel, taken="2026-03-02 09:40")
    panel.save()
    assert treatment.record.read("readings")["taken_at"].iloc[-1] == NINE + timedelta(minutes=40)
