"""The panels of humidity, pressing and the clock: what they answer, what they refuse, what Save writes."""

from datetime import datetime, timedelta, timezone

import pytest

from bench.desk import Treatment, open_treatment
from bench.handover.humidity import damp_item, hygrometer_correction
from bench.handover.pressing import pressing_choices
from bench.handover.schedule import whole_timeline
from bench.panels.buffering import build_buffering_panel
from bench.panels.humidity import build_humidity_panel, build_hygrometer_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.schedule import build_schedule_panel
from bench.records.check import check_treatment
from bench.records.nouns import planned_number, planned_of
from bench.records.store import create_treatment
from bench.treatment import facts
from bench.treatment.clock.schedule import Timeline
from bench.treatment.doses import NOTHING
from bench.treatment.plan import Verdict
from bench.units import THOUSANDTHS
from tests.panels.decided import intake_rows

pytestmark = pytest.mark.slow

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=timezone(timedelta(hours=1)))
READ = {"stage": "intake", "cycle": 0, "quantity": "thickness", "unit": "thou", "taken_at": NINE}


PLACES = {"text block": 181.0, "upper staple": 186.5, "spine edge": 183.5}


def make(tmp_path, *, places=PLACES, decided=True, **changes):
    """An annual of 38 leaves with an uncoated cover, described, read and to be treated, nothing planned."""
    description = {
        "title": "The Tin Orchard Annual, no. 2",
        "conservator": "M. Tallow",
        "planned_start": NINE,
        "format": "square-bound, side-stapled",
        "width_mm": 170,
        "height_mm": 258,
        "count": 76,
        "counted_as": "pages",
        "cover_paper": "uncoated cover",
        "cover_coated": "no",
        "glue": "animal glue",
        "mass_g": 104.2,
        "length_unit": "mm",
        "temperature_unit": "degC",
        **changes,
    }
    rows = {
        "treatment": [description],
        "staples": [{"staple": "upper", "from_head_mm": 41, "from_spine_mm": 8, "prong": "flush", "rust": 0}],
        "readings": [{**READ, "place": place, "value": value} for place, value in places.items()],
    }
    record = create_treatment(tmp_path, "tin-orchard-annual-2", rows, by="M. Tallow", at=NINE)
    found = Treatment(record, clock=lambda: NINE + timedelta(days=1))
    if decided:
        found.save(intake_rows(found.item, at=NINE))
    return found


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


@pytest.fixture
def undecided(tmp_path):
    """The same before intake has decided: its steps are still to come."""
    return make(tmp_path, decided=False)


def put(panel, **entries):
    panel.fill(entries)


def why(panel, key):
    return panel.field(key).below.value


def test_the_chamber_is_answered_in_words_first(treatment):
    panel = build_humidity_panel(treatment)
    assert panel.answer.startswith('<span class="tag care">')
    assert "Leave it 24 h over potassium sulphate" in panel.answer
    put(panel, faces="one")
    assert "one face free" in panel.answer
    assert panel.answer.index("innermost leaf") < panel.answer.index('class="picture"')


def test_saving_the_chamber_writes_numbers_salt_and_steps_and_nothing_before(treatment):
    panel = build_humidity_panel(treatment)
    put(panel, hours=20)
    assert planned_of(treatment.record, "humidity", 1) == []
    assert "Saved" in panel.save()
    assert planned_number(treatment.record, "humidity", 1, facts.HOURS_IN_CHAMBER).magnitude == 20
    materials = treatment.record.read("materials")
    assert list(materials["material"]) == ["potassium sulphate"]
    steps = treatment.record.read("steps")
    assert "take it out and weigh it" in list(steps["name"])
    assert panel.save() == "● Nothing new to save: the record already says so."
    assert check_treatment(treatment.record.folder) == []


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"start": "5500"}, "start", "Humidity at the start is 5500 %|humidity at the start is 5500 %"),
        ({"start": "90"}, "wanted", "above the 90 % it starts at"),
        ({"air": "60"}, "air", "Air temperature is 60 °C; allowed is 10 to 40 °C"),
        ({"air": "22,5"}, "air", "with a decimal point"),
        ({"area": "0"}, "area", "Wet area of the source is 0 cm²; allowed is 1 to 100000 cm²"),
        ({"late": "-1"}, "late", "0 to 48"),
        ({"source": "machine", "given": "4"}, "given", "5 to 100 %"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field_and_not_saved(treatment, entries, key, words):
    panel = build_humidity_panel(treatment)
    put(panel, **entries)
    assert not panel.can_save
    assert any(part in why(panel, key) for part in words.split("|"))
    assert "stale" in panel.answer


def test_the_chamber_of_a_second_cycle_counts_what_the_first_cost(treatment):
    """Hours of wet steel add up; a first cycle that was not planned is named as not counted."""
    second = build_humidity_panel(treatment, cycle=2)

    def wet_hours():
        (rust,) = (dose for dose in second.result.account.doses if "rust" in dose.name)
        return rust.readings[0].value.value

    assert "Not counted" in second.answer
    alone = wet_hours()
    build_humidity_panel(treatment, cycle=1).save()
    build_pressing_panel(treatment, cycle=1).save()
    assert "Not counted" not in second.answer
    assert wet_hours() > 1.5 * alone


def test_a_coated_cover_gets_the_drier_salt_and_stops_the_damp_one(tmp_path):
    coated = make(tmp_path, cover_coated="yes", cover_paper="coated cover")
    panel = build_humidity_panel(coated)
    assert panel.field("source").widget.value == "sodium chloride"
    assert panel.can_save
    put(panel, source="potassium sulphate", wanted="85")
    assert panel.result.verdict is Verdict.STOP
    assert not panel.can_save
    assert "The plan says stop" in panel.status


def test_fields_that_do_not_apply_are_hidden(treatment):
    panel = build_humidity_panel(treatment)
    assert panel.field("given").box.layout.display == "none"
    put(panel, source="machine")
    assert panel.field("given").box.layout.display == ""
    assert panel.field("area").box.layout.display == "none"


def test_units_change_what_is_shown_and_not_what_is_reckoned(treatment):
    panel = build_humidity_panel(treatment)
    before = panel.result.end.core.value
    treatment.switch.choice = THOUSANDTHS
    assert panel.field("air").widget.value == "71.6"
    assert panel.result.end.core.value.magnitude == pytest.approx(before.magnitude, rel=1e-9)


def test_the_hygrometer_check_is_kept_and_goes_into_the_plan(treatment):
    check = build_hygrometer_panel(treatment)
    assert not check.can_save
    put(check, reading="80.4")
    assert "reads high" in check.answer
    assert "Saved 1 row to readings, 1 row to log" in check.save()
    assert hygrometer_correction(treatment).magnitude == pytest.approx(-5.0, abs=0.1)
    panel = build_humidity_panel(treatment)
    assert float(panel.field("correction").widget.value) == pytest.approx(-5.0, abs=0.1)
    shown = panel.result.value(facts.HYGROMETER_SHOWS).value - panel.result.end.air.value
    assert shown.to("percent").magnitude == pytest.approx(5.0, abs=0.1)


def test_the_press_takes_over_what_the_chamber_leaves(treatment):
    usual, _ = damp_item(treatment, 1)
    chamber = build_humidity_panel(treatment)
    put(chamber, source="sodium chloride", wanted="70")
    chamber.save()
    saved, spent = damp_item(treatment, 1)
    assert saved.value < usual.value
    planned = chamber.result.item_humidity
    assert saved.value.magnitude == pytest.approx(planned.value.magnitude, abs=1e-3)
    assert saved.low.magnitude == pytest.approx(planned.low.magnitude, abs=0.01)
    assert spent.strict == pytest.approx(chamber.result.spent.strict, rel=1e-3)
    assert spent.unknown == NOTHING.unknown
    assert 23 < spent.damp < 24
    field = build_pressing_panel(treatment).field("humidity").widget
    assert float(field.value) == round(float(saved.value.magnitude), 1)


def test_the_press_is_answered_saved_and_stopped(treatment):
    panel = build_pressing_panel(treatment)
    assert "The far leaf comes to" in panel.answer
    put(panel, interval=0, cold_spine=False)
    assert panel.result.verdict is Verdict.STOP
    assert any("Buffer it first" in caution.words for caution in panel.result.cautions)
    assert not panel.can_save
    put(panel, interval=6, platen="", changes=1)
    assert "without heat, overnight" in panel.answer
    assert "Saved" in panel.save()
    kinds = treatment.record.read("materials").set_index("kind")["count"]
    assert kinds["board"] == 4
    assert kinds["interleaf"] == 2 * 8
    assert check_treatment(treatment.record.folder) == []


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"platen": "160"}, "platen", "platen temperature is 160 °C; allowed is 22 to 70 °C"),
        ({"limit": "45"}, "limit", "above the 50 % of the room"),
        ({"dwell": "-5"}, "dwell", "Dwell is -5 s; allowed is 30 to 14400 s"),
        ({"load_by": "mass"}, "load_number", "Enter it, or choose a load by a word"),
        ({"humidity": "5500"}, "humidity", "5500 %"),
    ],
)
def test_an_impossible_press_is_told_beside_its_field(treatment, entries, key, words):
    panel = build_pressing_panel(treatment)
    put(panel, **entries)
    assert not panel.can_save
    assert words in why(panel, key)


def test_a_spine_that_intake_keeps_cool_is_ticked(tmp_path):
    unknown = make(tmp_path, glue="unknown", decided=False)
    assert pressing_choices(unknown, 1).spine_is_cold
    panel = build_pressing_panel(unknown)
    assert panel.field("cold_spine").widget.value
    put(panel, cold_spine=False)
    assert panel.result.verdict is Verdict.STOP


def test_the_whole_treatment_stands_by_the_clock_before_anything_is_saved(treatment):
    timeline, proposed = whole_timeline(treatment, 1, start=treatment.start)
    assert {"humidity", "buffering", "pressing"} <= set(proposed)
    stages = list(dict.fromkeys(step.stage for step in timeline.steps))
    assert stages.index("humidity") < stages.index("buffering") < stages.index("pressing")
    assert treatment.timeline is None  # nothing was written


def test_an_item_that_intake_refers_is_not_laid_out_and_the_clock_says_what_comes_first(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    panel = build_schedule_panel(open_treatment("nettle-lane-mystery-7"))
    assert "is referred: no stage is laid out" in panel.answer
    assert "Refer Nettle Lane Mystery, no. 7: past mould, ink. To be settled as well" in panel.answer
    assert "take it out and weigh it" not in panel.answer
    assert panel.charts == []
    assert [words for words, _ in panel.field("upto").widget.options] == ["none"]
    put(panel, start="2026-03-03 10:00")
    assert "is referred" in panel.answer
    assert not panel.can_save


def test_a_saved_plan_takes_the_place_of_the_usual_one(treatment):
    chamber = build_humidity_panel(treatment)
    put(chamber, hours=20)
    chamber.save()
    timeline, proposed = whole_timeline(treatment, 1, start=treatment.start)
    assert "humidity" not in proposed
    assert sum(step.name == "take it out and weigh it" for step in timeline.steps) == 1


def test_the_clock_moves_with_its_start_and_with_what_was_done(treatment):
    panel = build_schedule_panel(treatment)
    put(panel, start="2026-03-03 10:00")
    assert panel.result.timeline.start.isoformat() == "2026-03-03T10:00:00+01:00"
    put(panel, start="2026-03-02 09:00", step="s01", began="2026-03-02 09:30", ended="2026-03-02 10:15")
    first, second = panel.result.timeline.steps[:2]
    assert first.actual_end.isoformat() == "2026-03-02T10:15:00+01:00"
    assert second.planned_start >= first.actual_end
    assert "Saved" in panel.save()
    assert isinstance(treatment.timeline, Timeline)
    assert treatment.timeline.steps[0].actual_start.isoformat() == "2026-03-02T09:30:00+01:00"
    assert check_treatment(treatment.record.folder) == []


def test_a_start_is_proposed_after_which_no_wait_ends_at_night(treatment):
    panel = build_schedule_panel(treatment)
    put(panel, start="2026-03-04 09:00")
    assert "A wait ends at night" in panel.answer
    put(panel, propose=True)
    assert not any(step.is_late for step in panel.result.timeline.steps)
    assert "A wait ends at night" not in panel.answer


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"start": "tomorrow"}, "start", "Write it like 2026-03-02 09:10"),
        ({"opens": "8 am"}, "opens", "Write it like 08:00"),
        ({"step": "s01", "began": "2026-03-02 10:00", "ended": "2026-03-02 09:00"}, "ended", "actual end is"),
    ],
)
def test_times_that_cannot_be_are_told_beside_their_field(treatment, entries, key, words):
    panel = build_schedule_panel(treatment)
    put(panel, **entries)
    assert not panel.can_save
    assert words in why(panel, key)


def test_nothing_to_save_is_said(treatment):
    panel = build_schedule_panel(treatment)
    panel.save()
    again = build_schedule_panel(treatment)
    assert not again.can_save
    assert "Nothing has changed" in again.status


def test_a_start_that_is_past_does_not_fit_the_day(treatment):
    """The clock of the fixture stands a day after its planned start."""
    panel = build_schedule_panel(treatment)
    put(panel, start="2026-03-02 13:00")
    assert "Behind the clock" in panel.answer
    assert "is past and nothing is recorded as done" in panel.answer
    put(panel, start="2026-03-04 13:00")
    assert "Behind the clock" not in panel.answer


def test_look_ins_left_out_at_night_are_a_caution(undecided):
    panel = build_schedule_panel(undecided)
    put(panel, start="2026-03-05 13:00")
    names = [step.name for step in panel.result.timeline.steps]
    assert "look in, 8 h" not in names
    cautions = " ".join(caution.words for caution in panel.result.timeline.cautions)
    assert "nobody to look at it" in cautions
    assert "look in, 5 h; look in, 8 h" in cautions
    assert "Nobody looks in" in panel.answer


def test_steps_are_marked_as_done_in_one_go_and_the_record_says_how(undecided):
    panel = build_schedule_panel(undecided)
    third = panel.result.timeline.steps[2]
    put(panel, upto=third.step)
    assert "Saved" in panel.save()
    done = [step for step in undecided.timeline.steps if step.actual_end]
    assert [step.step for step in done] == ["s01", "s02", "s03"]
    assert all(step.actual_start == step.planned_start for step in done)
    assert all("taken over, not measured" in step.note for step in done)
    assert panel.field("upto").widget.value == "none"
    assert not panel.can_save  # nothing of before the save is left that could be saved over it
    assert panel.result.timeline.steps == undecided.timeline.steps
    assert check_treatment(undecided.record.folder) == []


def test_what_is_planned_for_later_cannot_be_taken_over(treatment):
    panel = build_schedule_panel(treatment)
    put(panel, upto=panel.result.timeline.steps[-1].step)
    assert not panel.can_save
    assert "which is to come" in why(panel, "upto")


def test_a_wait_that_lasted_too_long_is_past_and_no_look_in_is_missed(monkeypatch):
    """The steps of the sample were done in full but for its follow-ups, every look-in too."""
    monkeypatch.delenv("BENCH_RECORDS", raising=False)

    panel = build_schedule_panel(open_treatment("tin-orchard-annual-2"))
    assert "steps are past by the clock and not recorded as done" in panel.answer
    assert "Nobody looks in" not in panel.answer
    assert "left out" not in panel.answer.split('class="picture"')[0]


def test_readings_that_contradict_each_other_stop_the_buffering_with_a_sentence(tmp_path):
    panel = build_buffering_panel(make(tmp_path, places={**PLACES, "upper staple": 900.0}))
    assert not panel.can_save
    assert "The readings contradict each other" in panel.answer
    assert "Nothing can be saved until then" in panel.status


def test_buffering_without_readings_goes_by_typical_values_and_says_so(tmp_path):
    panel = build_buffering_panel(make(tmp_path, places={}))
    assert any("No thickness was read" in caution.words for caution in panel.result.cautions)
    assert panel.result.verdict is not Verdict.GO
    assert "staple height not read" in panel.answer


@pytest.mark.parametrize("build", [build_humidity_panel, build_pressing_panel])
def test_nothing_is_planned_before_intake_decided_to_treat(build, tmp_path):
    panel = build(make(tmp_path, decided=False))
    assert not panel.can_save
    assert "Intake says hold: nothing begins before that is settled there." in panel._cautions.value


def test_an_item_with_mould_that_is_referred_does_not_go_into_the_chamber():
    panel = build_humidity_panel(open_treatment("nettle-lane-mystery-7"))
    assert not panel.can_save
    assert panel.plan().verdict is Verdict.STOP
    assert panel.plan().answer.startswith("Do not put it in like this. Intake says refer")


@pytest.mark.drawn
def test_buffering_waits_like_every_other_stage_while_intake_refers(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    panel = build_buffering_panel(open_treatment("nettle-lane-mystery-7"))
    assert panel.result.verdict is Verdict.STOP
    assert "Do not interleave. Intake says refer" in panel.answer
    assert not panel.can_save
    assert "before intake decides to treat" in panel.status
