"""What was seen at the bench: refused if it cannot be, judged, counted, found again beside the plan."""

from datetime import datetime, timedelta, timezone

import pytest

from bench.errors import BadValue, BenchError
from bench.treatment import facts
from bench.treatment.actual.observed import read_air, read_leaves
from bench.treatment.actual.seen import (
    SIGNS,
    Expected,
    Seen,
    check_seen,
    judge_seen,
    log_rows,
    moment_of_mass,
    signs_for,
)
from bench.treatment.actual.sheets_counted import (
    COUNTED_IN,
    COUNTED_OUT,
    SheetCount,
    caution_of_sheets,
    caution_of_uncounted,
    count_sheets,
)
from bench.treatment.clock.done import BEGIN_RECKONED
from bench.treatment.clock.schedule import Timeline, lay_out
from bench.treatment.clock.today import begin_step, finish_step
from bench.treatment.humidity.words import IN_CHAMBER, TAKE_OUT
from bench.treatment.humidity.words import STOP_SIGNS as IN_DAMP
from bench.treatment.plan import PlannedValue, Verdict
from bench.treatment.pressing.words import CHANGE_SHEETS, HEAT, SHEETS_OUT
from bench.treatment.pressing.words import STOP_SIGNS as IN_PRESS
from bench.treatment.recorded import Moments, gather_measured
from bench.treatment.review.comparison import Agreement, compare_with_plan
from bench.uncertainty import exactly
from bench.units import Q_
from tests.treatment.test_today import piece

CET = timezone(timedelta(hours=1))
KNOWN = Expected(mass=Q_(104.2, "g"), platen=Q_(60, "degC"), thickness=Q_(5.5, "mm"), openings=42, sheets=8)


def at(hour, minute=0, day=2):
    return datetime(2026, 3, day, hour, minute, tzinfo=CET)


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ({"mass": Q_(52.1, "g")}, r"alone is 52.1 g; allowed is 88.57 to 140.7 g. Read before: 104.2 g"),
        ({"mass": Q_(0.052, "kg")}, r"Mass of the item alone is 0.052 kg"),
        (
            {"stage": "pressing", "leaf_temperature": Q_(140, "degC")},
            r"Temperature of the leaf is 140 °C; allowed is 5 to 75 °C. The platen is planned at 60 °C",
        ),
        (
            {"stage": "pressing", "leaf_temperature": Q_(284, "degF")},
            r"Temperature of the leaf is 284 °F; allowed is 41 to 167 °F",
        ),
        ({"stage": "buffering", "thickness": Q_(55, "mm")}, r"Thickness with the sheets in is 55 mm"),
        ({"stage": "buffering", "sheets_in": 80}, r"Sheets put in is 80; allowed is 0 to 42"),
        ({"signs": ("glue",)}, r"signs is 'glue'"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_one_sentence(entries, words):
    with pytest.raises(BadValue, match=words):
        check_seen(Seen(**{"stage": "humidity", "cycle": 1, **entries}), KNOWN)


def test_what_can_be_is_taken_with_or_without_anything_known():
    seen = Seen("pressing", 1, mass=Q_(111.3, "g"), leaf_temperature=Q_(62, "degC"), thickness=Q_(5.4, "mm"))
    check_seen(seen, KNOWN)
    check_seen(seen, Expected())
    with pytest.raises(BenchError, match="No platen is planned"):
        check_seen(Seen("pressing", 1, leaf_temperature=Q_(140, "degC")), Expected())


@pytest.mark.parametrize("stage", ["humidity", "pressing"])
def test_every_sign_says_what_to_do_now(stage):
    for sign in signs_for(stage):
        (caution,) = judge_seen(Seen(stage, 1, signs=(sign.key,)), KNOWN)
        assert caution.verdict is Verdict.STOP
        assert caution.words.lower().startswith(sign.words)
        assert len(caution.words) > len(sign.words) + 20


def test_the_signs_are_those_at_which_the_plans_stop():
    """Each sign that a plan of chamber or press names has its tick here."""
    named = " ".join(sign.words for sign in SIGNS)
    for sign in (*IN_DAMP.split(", "), *IN_PRESS.split(", ")):
        key = max(sign.split(), key=len)
        assert key in named, sign


def test_sheets_that_do_not_agree_are_told_at_once():
    eight = SheetCount().after(put_in=8)
    (missing,) = caution_of_sheets(eight.after(taken_out=7))
    assert missing.verdict is Verdict.STOP
    assert missing.words.startswith("8 sheets in, 7 sheets out: a sheet may still be inside.")
    assert caution_of_sheets(eight.after(taken_out=7).after(taken_out=1)) == ()
    assert "more came out than were counted in" in caution_of_sheets(eight.after(taken_out=9))[0].words
    changed = eight.after(taken_out=8, put_in=8)
    assert (changed.inside, changed.left) == (8, 0)
    assert caution_of_sheets(changed.after(taken_out=8), planned=8) == ()


def test_sheets_that_came_out_are_to_be_counted_until_they_are():
    counted = SheetCount().after(put_in=8)
    assert caution_of_uncounted(1, counted, 7)[0].words.endswith("write it down: 8 went in.")
    assert caution_of_uncounted(1, SheetCount(), 7)[0].words.endswith("write it down: 7 were planned.")
    assert caution_of_uncounted(1, SheetCount(), None)[0].words.endswith("write it down.")
    assert caution_of_uncounted(1, counted.after(taken_out=8), 8) == ()


def test_a_sheet_left_behind_at_a_change_is_not_forgotten_later():
    """Seven out and eight in at the change leave one that the last count misses again."""
    count = SheetCount().after(put_in=8).after(taken_out=7, put_in=8).after(taken_out=8)
    assert count.left == 1
    assert "may still be inside" in caution_of_sheets(count)[0].words


def test_fewer_sheets_than_planned_is_a_care():
    (caution,) = caution_of_sheets(SheetCount().after(put_in=7), planned=8)
    assert caution.verdict is Verdict.CARE
    assert "7 sheets put in, 8 planned" in caution.words


def test_rows_of_the_log_count_in_the_order_of_the_bench():
    rows = log_rows(Seen("buffering", 1, sheets_in=8), at(11))
    rows += log_rows(Seen("pressing", 1, sheets_out=8, sheets_in=8), at(8, day=3))
    blank = {"quantity": None, "value": None}
    found = count_sheets([{**blank, **row} for row in (*rows, {"at": at(12), "remark": "limp"})])
    assert (found.put_in, found.taken_out, found.left) == (16, 8, 0)


def test_rows_carry_numbers_under_their_names_and_signs_under_keys():
    seen = Seen(
        "humidity", 2, humidity=Q_(93.5, "percent"), air=Q_(71.6, "degF"), signs=("drops",), remark="supple"
    )
    rows = log_rows(seen, at(12))
    assert [(row.get("quantity"), row.get("value"), row.get("remark")) for row in rows] == [
        ("humidity in the chamber", 93.5, None),
        ("temperature in the chamber", pytest.approx(22.0), None),
        ("sign: drops", None, "drops on lid or walls"),
        (None, None, "supple"),
    ]


def worked():
    """A chamber of six hours, and a press with heat, touched as they happened."""
    timeline = lay_out(
        [
            piece("put in", Q_(10, "min"), hands=True),
            piece(IN_CHAMBER, Q_(6, "hour"), hands=False),
            piece(TAKE_OUT, Q_(10, "min"), hands=True),
            piece("build the press stack", Q_(10, "min"), stage="pressing", hands=True),
            piece(HEAT, Q_(17, "min"), stage="pressing", hands=True),
            piece("in the press overnight", Q_(14, "hour"), stage="pressing", hands=False),
            piece(f"{CHANGE_SHEETS}1 of 1", Q_(20, "min"), stage="pressing", hands=True),
            piece("in the press", Q_(2, "hour"), stage="pressing", hands=False),
            piece(SHEETS_OUT, Q_(17, "min"), stage="pressing", hands=True),
            piece("rest under light weight", Q_(24, "hour"), stage="pressing", hands=False),
        ],
        start=at(8),
    )
    return timeline


def touched(timeline, *names):
    """Begin and end steps one after the other; gives the timeline, and the moments of the beginnings."""
    now = at(8)
    for name in names:
        now += timedelta(minutes=1)
        timeline = begin_step(name, timeline, now)
        now += timedelta(minutes=9)
        timeline = finish_step(name, timeline, now)
    return timeline, now


@pytest.mark.parametrize(
    ("names", "stage", "moment"),
    [
        (["s01"], "humidity", ""),
        (["s01", "s03"], "humidity", "out"),
        (["s01", "s03", "s04"], "pressing", "bench"),
        (["s01", "s03", "s04", "s05"], "pressing", "night"),
        (["s01", "s03", "s04", "s05", "s07"], "pressing", "change 1"),
        (["s01", "s03", "s04", "s05", "s07", "s09"], "pressing", "weight"),
    ],
)
def test_a_weighing_goes_to_the_moment_it_was_made_at(names, stage, moment):
    timeline, now = touched(worked(), *names)
    found, under = moment_of_mass(timeline, stage, 1, now + timedelta(hours=24))
    assert found == moment
    assert under == (24.0 if moment == "weight" else None)


def steps(timeline: Timeline, stage):
    return [
        {"name": s.name, "actual_start": s.actual_start, "actual_end": s.actual_end, "note": s.note}
        for s in timeline.steps
        if s.stage == stage
    ]


NOTHING = Moments(lambda quantity: {}, lambda quantity: {}, lambda quantity: {})
CHAMBER = (
    PlannedValue(facts.HOURS_IN_CHAMBER, Q_(6, "hour")),
    PlannedValue(facts.CHAMBER_HUMIDITY, Q_(96, "percent"), Q_(1.5, "percent")),
    PlannedValue(facts.HYGROMETER_SHOWS, Q_(94, "percent")),
    PlannedValue(facts.AIR_TEMPERATURE, Q_(22, "degC")),
)


def logged(*rows):
    blank = {"quantity": None, "value": None, "unit": None, "remark": None}
    return [{**blank, **row} for row in rows]


def air(moment, percent):
    return log_rows(Seen("humidity", 1, humidity=Q_(percent, "percent"), air=Q_(21, "degC")), moment)


def in_chamber():
    timeline = finish_step("s01", begin_step("s01", worked(), at(8)), at(8, 10))
    return finish_step("s03", begin_step("s03", timeline, at(14, 40)), at(14, 50))


def test_the_chamber_is_measured_by_clock_and_hygrometer():
    rows = logged(*air(at(9), 80), *air(at(14, 10), 95))
    found = gather_measured("humidity", CHAMBER, NOTHING, rows, steps(in_chamber(), "humidity"))
    assert set(found) == {value.key for value in CHAMBER}
    assert found[facts.HOURS_IN_CHAMBER.key].value.to("hour").magnitude == pytest.approx(6.5)
    assert found[facts.HYGROMETER_SHOWS.key].value.magnitude == 95
    # The hygrometer is off by what the plan corrected, 96 against 94.
    assert found[facts.CHAMBER_HUMIDITY.key].value.magnitude == pytest.approx(97)
    assert found[facts.AIR_TEMPERATURE.key].value.magnitude == pytest.approx(21)
    assert compare_with_plan(CHAMBER[0], found[CHAMBER[0].key]).agreement is Agreement.HIGHER
    assert compare_with_plan(CHAMBER[1], found[CHAMBER[1].key]).agreement is Agreement.AGREES


def test_a_reading_of_the_first_hour_is_not_taken_for_the_end():
    rows = logged(*air(at(9), 80))
    found = gather_measured("humidity", CHAMBER, NOTHING, rows, steps(in_chamber(), "humidity"))
    assert set(found) == {facts.HOURS_IN_CHAMBER.key, facts.AIR_TEMPERATURE.key}


def test_a_time_that_was_reckoned_measures_nothing():
    """Done without begun: when the item came out of the chamber is not known."""
    timeline = finish_step("s01", begin_step("s01", worked(), at(8)), at(8, 10))
    timeline = finish_step("s03", timeline, at(14, 50))
    assert BEGIN_RECKONED in timeline.steps[2].note
    found = gather_measured(
        "humidity", CHAMBER, NOTHING, logged(*air(at(14), 95)), steps(timeline, "humidity")
    )
    assert set(found) == {facts.AIR_TEMPERATURE.key}


def test_a_number_under_the_name_of_the_plan_still_counts_first():
    rows = logged(
        {"quantity": "hygrometer shows at the end", "value": 91.0, "unit": "percent", "at": at(14)},
        *air(at(14), 95),
    )
    found = gather_measured("humidity", CHAMBER, NOTHING, rows, steps(in_chamber(), "humidity"))
    assert found[facts.HYGROMETER_SHOWS.key].value.magnitude == 91


def test_the_gain_is_taken_between_going_in_and_coming_out():
    gain = (PlannedValue(facts.MASS_GAIN, Q_(7, "g"), Q_(2, "g")),)
    masses = {
        "item in the chamber": exactly(Q_(107.0, "g")),
        "item out of the chamber": exactly(Q_(111.6, "g")),
    }
    first = {"item in the chamber": exactly(Q_(104.4, "g"))}
    before = {"whole item": exactly(Q_(104.2, "g"))}
    read = Moments(lambda q: before, lambda q: masses, lambda q: {}, lambda q: first)
    key = facts.MASS_GAIN.key
    assert gather_measured("humidity", gain, read)[key].value.magnitude == pytest.approx(7.2)
    without = Moments(lambda q: before, lambda q: masses, lambda q: {})
    assert gather_measured("humidity", gain, without)[key].value.magnitude == pytest.approx(7.4)


def test_a_leaf_is_measured_as_the_heat_ends_and_sheets_as_they_came_out_last():
    timeline, _ = touched(worked(), "s01", "s03", "s04", "s05")
    heat = next(s for s in timeline.steps if s.name == HEAT)
    planned = (
        PlannedValue(facts.MIDDLE_LEAF, Q_(48, "degC"), Q_(3, "delta_degC")),
        PlannedValue(facts.FAR_LEAF, Q_(45, "degC"), Q_(3, "delta_degC")),
        PlannedValue(facts.DWELL, Q_(17, "min")),
        PlannedValue(facts.INTERLEAVES, Q_(8, "")),
    )
    early = Seen("pressing", 1, leaf_temperature=Q_(30, "degC"), leaf="far")
    last = Seen("pressing", 1, leaf_temperature=Q_(47.5, "degC"))
    rows = logged(
        *log_rows(early, heat.actual_start + timedelta(minutes=1)),
        *log_rows(last, heat.actual_end - timedelta(minutes=1)),
        *log_rows(Seen("pressing", 1, sheets_out=8, sheets_in=8), at(9, day=3)),
        *log_rows(Seen("pressing", 1, sheets_out=7), at(12, day=3)),
    )
    found = gather_measured("pressing", planned, NOTHING, rows, steps(timeline, "pressing"))
    assert set(found) == {facts.MIDDLE_LEAF.key, facts.DWELL.key, facts.INTERLEAVES.key}
    assert found[facts.DWELL.key].value.to("min").magnitude == pytest.approx(9)
    assert found[facts.INTERLEAVES.key].value.magnitude == 7
    assert compare_with_plan(planned[3], found[facts.INTERLEAVES.key]).agreement is Agreement.LOWER


def test_the_air_is_given_by_the_time_since_the_item_went_in():
    """In at 8:10, out at 14:40; what was read before, or the next day, was not read around the item."""
    rows = logged(*air(at(14, 10), 95), *air(at(9, 10), 80), *air(at(7), 75), *air(at(9, day=3), 50))
    first, last = read_air(rows, steps(in_chamber(), "humidity"), Q_(2, "percent"))
    assert first.since.to("hour").magnitude == pytest.approx(1.0)
    assert last.since.to("hour").magnitude == pytest.approx(6.0)
    assert first.value.value.magnitude == pytest.approx(82)  # as the check against a salt corrects it
    assert first.value.expanded().magnitude == pytest.approx(3, abs=0.1)
    assert read_air(rows, ()) == ()


def test_the_air_is_given_while_the_item_is_still_in():
    timeline = finish_step("s01", begin_step("s01", worked(), at(8)), at(8, 10))
    (one,) = read_air(logged(*air(at(9, 10), 80)), steps(timeline, "humidity"))
    assert one.since.to("hour").magnitude == pytest.approx(1.0)


def test_leaves_are_given_by_the_time_since_the_heat_began():
    timeline, _ = touched(worked(), "s01", "s03", "s04", "s05")
    heat = next(s for s in timeline.steps if s.name == HEAT)

    def leaf(name, celsius, moment):
        return log_rows(Seen("pressing", 1, leaf_temperature=Q_(celsius, "degC"), leaf=name), moment)

    rows = logged(
        *leaf("far", 30, heat.actual_start + timedelta(minutes=1)),
        *leaf("near", 60, heat.actual_end - timedelta(minutes=1)),
        *leaf("near", 25, heat.actual_end + timedelta(hours=2)),
        *leaf("near", 22, heat.actual_start - timedelta(minutes=1)),
    )
    near, far = read_leaves(rows, steps(timeline, "pressing"))
    assert (near.where, far.where) == ("near", "far")
    assert near.value.value.to("degC").magnitude == pytest.approx(60)
    assert far.since.to("min").magnitude == pytest.approx(1.0)


def test_sheets_put_in_are_counted_for_the_plan_of_the_sheets():
    planned = (PlannedValue(facts.SHEETS, Q_(8, "")),)
    rows = logged({"quantity": COUNTED_IN, "value": 8.0, "unit": "dimensionless", "at": at(11)})
    found = gather_measured("buffering", planned, NOTHING, rows)
    assert compare_with_plan(planned[0], found[facts.SHEETS.key]).agreement is Agreement.AGREES
    rows = logged({"quantity": COUNTED_OUT, "value": 8.0, "unit": "dimensionless", "at": at(11)})
    assert gather_measured("buffering", planned, NOTHING, rows) == {}
