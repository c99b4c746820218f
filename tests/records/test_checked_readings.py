"""Readings of a record carry the checks of their instruments, wherever they are used."""

import math
from datetime import date, datetime, timedelta, timezone

import pytest

from bench.desk import Treatment
from bench.handover.humidity import chamber_choices, hygrometer_correction, logger_correction
from bench.physics.ranges import REACH, Range
from bench.records import nouns
from bench.records.standing import flags_of, overlay, read_tables
from bench.records.store import create_treatment
from bench.treatment.calibration import CORRECTION, NO_CHECKS, Checks
from bench.treatment.measured import (
    BALANCE_CORRECTION,
    HYGROMETER_75,
    HYGROMETER_97,
    LENGTH_CORRECTION,
    Accepted,
)
from bench.treatment.resting import RESTS, rests_on
from bench.treatment.review.comparison import subtract_readings
from bench.units import Q_
from bench.writeup.case import open_case
from bench.writeup.markdown import render_markdown
from bench.writeup.report import collect_report
from tests.writeup.case_makers import WRITTEN, make_full

CET = timezone(timedelta(hours=1))
START = datetime(2026, 3, 2, 9, tzinfo=CET)
CHECKED = date(2026, 3, 1)
ITEM = {
    "title": "The Tin Orchard Annual, no. 2",
    "conservator": "M. Tallow",
    "planned_start": START,
    "format": "square-bound, side-stapled",
    "width_mm": 168,
    "height_mm": 257,
    "count": 72,
    "counted_as": "pages",
    "cover_leaves": 2,
    "text_paper": "newsprint",
    "length_unit": "mm",
    "temperature_unit": "degC",
}


def accepted(constant, about, value, standard, day=CHECKED):
    ends = (value, value - REACH * standard, value + REACH * standard)
    return Accepted(constant, about, Range.of(ends, constant.unit), day, day + timedelta(days=365))


def caliper(value=0.03, standard=0.004, day=CHECKED, about="caliper"):
    return Checks.of([accepted(LENGTH_CORRECTION, about, value, standard, day)])


def reading(value, *, stage="intake", cycle=0, at=START, **more):
    row = {"stage": stage, "cycle": cycle, "quantity": "thickness", "place": "text block", "value": value}
    known = {"unit": "mm", "instrument": "caliper", "limit": 0.02, "resolution": 0.01, "taken_at": at}
    return {**row, **known, **more}


def make(folder, **rows):
    rows = {"treatment": [ITEM], **rows}
    return create_treatment(folder, "annual", rows, by="M. Tallow", at=START)


@pytest.fixture
def record(tmp_path):
    before = [reading(4.40 + step) for step in (-0.01, 0.0, 0.01)]
    later = START + timedelta(days=5)
    after = [reading(4.44 + step, stage="review", cycle=1, at=later) for step in (-0.01, 0.0, 0.01)]
    return make(tmp_path, readings=[*before, *after])


def hold(monkeypatch, checks):
    monkeypatch.setattr(nouns, "checks_of", lambda record: checks)


def block(record, stage="intake", cycle=0):
    return nouns.measured_at(record, "thickness", stage=stage, cycle=cycle)["text block"]


def cause_of(measured, name):
    return [c for c in measured.components if c.cause.startswith(name)]


def test_a_reading_carries_the_check_in_place_of_its_makers_limit(record, monkeypatch):
    plain = block(record)
    hold(monkeypatch, caliper())
    checked = block(record)
    assert float(checked.value.to("mm").magnitude) == pytest.approx(4.43)
    (limit,) = cause_of(plain, "instrument, ")
    assert float(limit.u.to("mm").magnitude) == pytest.approx(0.02 / math.sqrt(3))
    (gone,) = cause_of(checked, "instrument, ")
    assert float(gone.u.magnitude) == 0.0
    (check,) = cause_of(checked, "caliper as checked")
    assert float(check.u.to("mm").magnitude) == pytest.approx(0.004, rel=0.01)
    scatter = 0.01 / math.sqrt(3)  # s = 0.01, n = 3
    whole = math.hypot(scatter, 0.01 / math.sqrt(12), 0.004)
    assert float(checked.standard.to("mm").magnitude) == pytest.approx(whole, rel=0.01)
    assert checked.source == plain.source


def test_a_reading_before_the_check_or_with_another_instrument_is_untouched(record, monkeypatch):
    plain = block(record)
    for checks in (caliper(day=date(2026, 3, 4)), caliper(about="micrometer"), NO_CHECKS):
        hold(monkeypatch, checks)
        assert block(record) == plain


def test_growth_after_a_cycle_does_not_carry_what_both_readings_share(record, monkeypatch):
    plain = subtract_readings(block(record, "review", 1), block(record))
    hold(monkeypatch, caliper(standard=0.05))
    checked = subtract_readings(block(record, "review", 1), block(record))
    assert float(checked.value.to("mm").magnitude) == pytest.approx(0.04)
    assert checked.standard < plain.standard
    without = math.sqrt(2) * math.hypot(0.01 / math.sqrt(3), 0.01 / math.sqrt(12))
    assert float(checked.standard.to("mm").magnitude) == pytest.approx(without, rel=0.01)
    hold(
        monkeypatch,
        Checks((*caliper(standard=0.05).each, *caliper(standard=0.05, day=date(2026, 3, 5)).each)),
    )
    apart = subtract_readings(block(record, "review", 1), block(record))
    assert float(apart.standard.to("mm").magnitude) == pytest.approx(
        math.hypot(without, 0.05 * math.sqrt(2)), rel=0.01
    )


def test_the_mass_of_the_item_is_that_of_the_checked_balance(tmp_path, monkeypatch):
    weighed = reading(104.0, quantity="mass", place="whole item", unit="g", instrument="balance")
    record = make(tmp_path, readings=[weighed])
    hold(monkeypatch, Checks.of([accepted(BALANCE_CORRECTION, "balance", 0.5, 0.01)]))
    assert float(nouns.item_of(record).mass.to("g").magnitude) == pytest.approx(104.52)


def with_plan(record):
    """Save a plan of buffering that rests on the readings as they count now."""
    rests = rests_on("buffering", 1, read_tables(record), nouns.item_of(record))
    common = {"stage": "buffering", "cycle": 1, "plan": "buffering-1"}
    rows = [{**common, "quantity": "answer", "words": "Six sheets."}]
    rows += [{**common, "quantity": f"{RESTS}{key}", "words": said} for key, said in rests.items()]
    record.save({"plans": rows}, by="M. Tallow", at=START)
    return rests


def test_a_check_that_changes_a_reading_flags_the_plan_that_rests_on_it(tmp_path, monkeypatch):
    record = make(tmp_path, readings=[reading(4.40)])
    assert with_plan(record)["thickness: text block"] == "4400 um"
    assert flags_of(record) == ()
    hold(monkeypatch, caliper())
    (flag,) = flags_of(record)
    assert (flag.stage, flag.cycle) == ("buffering", 1)
    assert "thickness text block 4.4 mm (now 4.43 mm)" in flag.words
    (other,) = open_case(record).flags
    assert other == flag
    (at_desk,) = Treatment(record).flags
    assert at_desk == flag
    for checks in (caliper(day=date(2026, 3, 4)), caliper(about="micrometer")):
        hold(monkeypatch, checks)
        assert flags_of(record) == ()


def test_a_plan_saved_after_the_check_rests_on_the_corrected_reading(tmp_path, monkeypatch):
    record = make(tmp_path, readings=[reading(4.40)])
    hold(monkeypatch, caliper())
    assert with_plan(record)["thickness: text block"] == "4430 um"
    assert flags_of(record) == ()
    together = overlay(read_tables(record), {"readings": [reading(4.50)]})
    assert rests_on("buffering", 1, together)["thickness: text block"] == "4480 um"


def test_the_newest_check_of_the_hygrometer_is_proposed(tmp_path, monkeypatch):
    logged = {
        "stage": "humidity",
        "cycle": 1,
        "quantity": CORRECTION,
        "value": 1.5,
        "unit": "percent",
        "at": START,
    }
    record = make(tmp_path, log=[logged])
    treatment = Treatment(record)

    def check(day, about="hygrometer"):
        found = [accepted(constant, about, -2.0, 0.5, day) for constant in (HYGROMETER_75, HYGROMETER_97)]
        hold(monkeypatch, Checks.of(found))

    assert float(hygrometer_correction(treatment).magnitude) == 1.5
    check(date(2026, 3, 1))
    assert float(hygrometer_correction(treatment).magnitude) == 1.5
    check(date(2026, 3, 3))
    assert float(hygrometer_correction(treatment).magnitude) == pytest.approx(-2.0)
    assert chamber_choices(treatment).hygrometer_correction == hygrometer_correction(treatment)
    rests = rests_on("humidity", 1, read_tables(record))
    assert rests[f"log: {CORRECTION}"] == "-2 percent"
    assert logger_correction(treatment) is None
    check(date(2026, 3, 3), about="data logger")
    assert float(hygrometer_correction(treatment).magnitude) == 1.5
    assert float(logger_correction(treatment).magnitude) == pytest.approx(-2.0)


@pytest.mark.slow
def test_the_report_says_with_which_checked_instruments_was_read(tmp_path, monkeypatch):
    record = make_full(tmp_path)
    hold(monkeypatch, caliper(0.01, 0.01, about="dial caliper"))
    text = render_markdown(collect_report(record, at=WRITTEN, by="M. Tallow"))
    assert text.count("Dial caliper checked on 2026-03-01: +0.010 ± 0.020 mm, applied.") == 2  # before, after


def test_what_is_said_of_checks_goes_by_the_day_of_the_readings(record, monkeypatch):
    assert open_case(record).say_checks("intake") == ""
    said = "Caliper checked on {}: +0.030 ± 0.008 mm, applied"
    for day, before, after in (
        (date(2026, 3, 1), ".", "."),
        (date(2026, 3, 5), None, "."),
        (date(2025, 3, 2), ".", "; it was due again on 2026-03-02."),
    ):
        hold(monkeypatch, caliper(day=day))
        case = open_case(record)
        assert case.say_checks("intake") == ("" if before is None else said.format(day) + before)
        assert case.say_checks("review") == said.format(day) + after


def test_a_limit_that_is_not_given_is_not_asked_of_a_checked_reading(tmp_path, monkeypatch):
    bare = {k: v for k, v in reading(4.40).items() if k not in ("limit", "resolution")}
    record = make(tmp_path, readings=[bare])
    hold(monkeypatch, caliper(standard=0.001))
    usual_step, repeat = Q_(0.01, "mm") / math.sqrt(12), Q_(0.015 * 4.43, "mm")
    whole = math.hypot(float(usual_step.magnitude), float(repeat.magnitude), 0.001)
    assert float(block(record).standard.to("mm").magnitude) == pytest.approx(whole, rel=0.01)
