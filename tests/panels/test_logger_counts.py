"""What a saved logger says stands in place of the plan: at the press, in doses and report; and no longer."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from bench.desk import open_treatment
from bench.handover.cycles import logger_of, plans_of, spent_before
from bench.handover.humidity import damp_item
from bench.handover.pressing import pressing_choices
from bench.handover.review import read_cycle
from bench.panels.humidity import build_humidity_panel
from bench.panels.logged import build_logged_panel
from bench.panels.pressing import build_pressing_panel
from bench.records.check import check_treatment
from bench.records.nouns import planned_values, said_in
from bench.treatment import facts
from bench.treatment.actual.followed import say_out_of_use
from bench.treatment.doses import Spent, spend_press
from bench.treatment.humidity import logged_words
from bench.treatment.plan import find_value
from bench.treatment.pressing.explained import say_taken_over
from bench.units import MILLIMETRES
from bench.writeup.collect import collect_report
from bench.writeup.markdown import render_markdown
from tests.panels.test_logged_panel import NOON, lines, stay_of, upload

pytestmark = pytest.mark.slow

NUMBERS = ("index", "strict", "milder", "clock", "wet", "damp", "first", "second")


@pytest.fixture
def open_sample(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment


def keep(treatment, cycle, data, name="logger.csv", **entries):
    panel = build_logged_panel(treatment, cycle=cycle)
    upload(panel, data, name)
    for key, value in entries.items():
        panel.field(key).widget.value = value
    words = panel.save()
    treatment.record = treatment.latest
    return panel.result.told, words


def do_chamber(treatment, later=timedelta(0)):
    """Enter the chamber of the first cycle as done at the times that were planned, or so much later."""
    rows = []
    for row in treatment.record.rows("steps"):
        if row["stage"] != "humidity":
            continue
        begin = (row["planned_start"] if row["actual_start"] is None else row["actual_start"]) + later
        times = {"actual_start": begin, "actual_end": begin + timedelta(minutes=5)}
        rows.append({**said_in(row), **times, "replaces": int(row["row"])})
    treatment.record.save({"steps": rows}, by="M. Tallow", at=NOON + timedelta(days=30))
    treatment.record = treatment.latest


def planned_damp(treatment, cycle):
    mean = find_value(planned_values(treatment.record, "humidity", cycle), facts.LEAVES_HUMIDITY)
    return float(mean.value.to("percent").magnitude)


def percent(humidity):
    return np.array(humidity.floats("percent", field="humidity"))


def same(one, other):
    return all(getattr(one, n) == pytest.approx(getattr(other, n), rel=1e-5, abs=1e-9) for n in NUMBERS)


def test_a_press_still_to_come_begins_with_what_the_logger_says(open_sample):
    treatment = open_sample("saltmarsh-signal-31")
    do_chamber(treatment)
    planned = planned_damp(treatment, 1)
    assert not [flag for flag in treatment.flags if flag.stage == "pressing"]
    told, words = keep(treatment, 1, lines(stay_of(treatment, 1)))
    assert told.counts
    assert "log" in words
    assert "pressing plan of cycle 1 is out of date" in words
    assert "no logger of the chamber was in use" in words
    noted = [str(note) for note in check_treatment(treatment.record.folder)]
    assert [note for note in noted if "out of date" not in note] == []

    damp, spent = damp_item(treatment, 1)
    assert percent(damp) == pytest.approx(percent(told.followed.end_mean), rel=1e-5)
    assert abs(float(damp.value.magnitude) - planned) > 5  # the machine's air was far damper than this salt's
    assert same(spent, told.followed.spent)
    assert not same(spent, Spent.as_planned(planned_values(treatment.record, "humidity", 1)))
    assert pressing_choices(treatment, 1).logger == "loggers/logger.csv"

    panel = build_pressing_panel(treatment, cycle=1)
    plan = panel.plan()
    assert plan.choices.item_humidity == damp
    assumed = {a.name: a.words for a in plan.assumptions}
    assert assumed["humidity of the item"].endswith("as followed with the air that its logger kept")
    assert "loggers/logger.csv kept, not by its plan" in assumed["cost of the chamber"]
    assert plan.account.logged == ("the chamber of cycle 1",)
    assert "as followed with the chamber's logger" in panel.field("humidity").hint(MILLIMETRES)
    assert "its logger kept" in say_taken_over(treatment.item, plan)[0]
    panel.save()
    treatment.record = treatment.latest
    assert not [flag for flag in treatment.flags if flag.stage == "pressing"]
    # The plan has taken the logger: counted from the plan, with its logger or without, it is counted once.
    whole = spend_press(plans_of(treatment.record, 1), 1)
    assert same(whole, plan.spent)

    panel.field("humidity").widget.value = "40"
    mine = {a.name: a.words for a in panel.plan().assumptions}
    assert "logger" not in mine["humidity of the item"]

    # Planned anew, the chamber is another one: its logger must be saved again before it counts.
    chamber = build_humidity_panel(treatment, cycle=1)
    chamber.field("ratio").widget.value = "soft, open paper"
    chamber.save()
    treatment.record = treatment.latest
    assert logger_of(treatment.record, 1) is None
    assert float(damp_item(treatment, 1)[0].value.magnitude) == pytest.approx(planned_damp(treatment, 1))
    (flag,) = [flag for flag in treatment.flags if flag.stage == "pressing"]
    assert "the logger of the chamber was in use, and is not now" in flag.words
    again = build_logged_panel(treatment, cycle=1)
    assert "loggers/logger.csv said of the chamber is not in use" in say_out_of_use(treatment.tables, 1)
    again.field("kept").widget.value = "loggers/logger.csv"
    again.save()
    assert logger_of(treatment.latest, 1) is not None


def test_a_logger_counts_for_a_cycle_that_is_over(open_sample):
    treatment = open_sample("tin-orchard-annual-2")
    plans = plans_of(treatment.record, 1)
    chamber, pressed = (Spent.as_planned(plans[stage, 1]) for stage in ("humidity", "pressing"))
    before = spent_before(treatment, 2)
    assert same(before, pressed)
    assert before.logged == ()
    told, words = keep(treatment, 1, lines(stay_of(treatment, 1)))
    assert "out of date" not in words  # all of it is history
    after = spent_before(treatment, 2)
    for name in NUMBERS:
        press_alone = getattr(pressed, name) - getattr(chamber, name)
        expected = press_alone + getattr(told.followed.spent, name)
        assert getattr(after, name) == pytest.approx(expected, rel=1e-4, abs=1e-4)
    assert after.logged == ("the chamber of cycle 1",)
    reviewed = read_cycle(treatment, 1)
    assert spend_press(reviewed.plans, 1).logged == ("the chamber of cycle 1",)
    words = render_markdown(collect_report(treatment.latest, at=NOON, by="M. Tallow"))
    assert "Counted by the air that a logger kept, not by the plan: the chamber of cycle 1." in words
    assert "logged:" not in words  # its numbers are no notes


def test_a_later_reading_of_the_file_takes_the_place_of_the_earlier(open_sample):
    treatment = open_sample("saltmarsh-signal-31")
    do_chamber(treatment)
    data = lines(stay_of(treatment, 1))
    first, _ = keep(treatment, 1, data)
    kept = len(treatment.record.rows("log"))
    second, _ = keep(treatment, 1, data, correction="-6")
    damp, spent = damp_item(treatment, 1)
    assert percent(damp) == pytest.approx(percent(second.followed.end_mean), rel=1e-5)
    assert float(first.followed.end_mean.value.magnitude) > float(damp.value.magnitude)
    assert same(spent, second.followed.spent)
    assert len(treatment.record.rows("log")) == kept  # replaced, not added
    keep(treatment, 1, data, place="room")  # it did not stand there at all
    assert logger_of(treatment.record, 1) is None
    assert float(damp_item(treatment, 1)[0].value.magnitude) == pytest.approx(planned_damp(treatment, 1))


def test_a_logger_of_a_part_leaves_the_plan_or_the_whole_logger_in_use(open_sample):
    treatment = open_sample("saltmarsh-signal-31")
    do_chamber(treatment)
    stay = stay_of(treatment, 1)
    part = lines(replace(stay, ends=stay.begins + (stay.ends - stay.begins) / 2))
    told, words = keep(treatment, 1, part, name="part.csv")
    assert not told.counts
    assert "log" not in words.split("kept as")[0].replace("loggers", "")
    assert logger_of(treatment.record, 1) is None
    assert float(damp_item(treatment, 1)[0].value.magnitude) == pytest.approx(planned_damp(treatment, 1))
    whole, _ = keep(treatment, 1, lines(stay), name="whole.csv")
    assert logger_of(treatment.record, 1).file == "loggers/whole.csv"
    keep(treatment, 1, part.replace(b"22.0", b"22.1"), name="another-part.csv")
    assert logger_of(treatment.record, 1).file == "loggers/whole.csv"
    assert percent(damp_item(treatment, 1)[0]) == pytest.approx(percent(whole.followed.end_mean), rel=1e-5)


def test_while_the_times_are_only_planned_the_plan_counts(open_sample):
    """They move with the schedule: saving the press plan would put the chamber on another day."""
    treatment = open_sample("saltmarsh-signal-31")
    data = lines(stay_of(treatment, 1))
    told, _ = keep(treatment, 1, data)
    assert told.followed is not None
    assert not told.counts
    assert "enter its times on the page of the day" in logged_words.say_counts(told)
    assert logger_of(treatment.record, 1) is None
    do_chamber(treatment)
    assert logger_of(treatment.record, 1) is None
    panel = build_logged_panel(treatment, cycle=1)
    panel.field("kept").widget.value = "loggers/logger.csv"
    assert panel.result.told.counts
    panel.save()
    assert logger_of(treatment.latest, 1) is not None
    treatment.record = treatment.latest
    do_chamber(treatment, later=timedelta(minutes=30))  # a time that is put right afterwards
    assert logger_of(treatment.record, 1) is None
