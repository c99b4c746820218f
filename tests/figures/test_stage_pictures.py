"""Pictures of chamber, press and clock: what they name, what their sentence says, and that words carry it."""

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from bench.figures.doses import dose_page
from bench.figures.humidity import draw_uptake, handed_down_page, salts_page, ways_page, ways_table
from bench.figures.marks import Points
from bench.figures.pressing import draw_changes, draw_heat, draw_stack, heat_page
from bench.figures.schedule import (
    clock_page,
    draw_timeline,
    say_timeline,
    step_table,
    window_table,
)
from bench.figures.screen import draw_on_screen
from bench.treatment.actual.observed import ReadSince
from bench.treatment.clock.schedule import lay_out, pieces_from, record_actual
from bench.treatment.clock.windows import find_windows
from bench.treatment.conditions import Condition, Kind
from bench.treatment.humidity import HumidityChoices, plan_humidity
from bench.treatment.plan import Verdict
from bench.treatment.pressing import plan_pressing
from bench.uncertainty import from_expanded
from bench.units import MILLIMETRES, Q_, THOUSANDTHS, UnitChoice
from tests.makers import annual, annual_readings
from tests.treatment.test_pressing import choices as press_choices
from tests.treatment.test_schedule import at


@pytest.fixture(scope="module")
def chamber():
    return plan_humidity(annual(), annual_readings(), HumidityChoices())


@pytest.fixture(scope="module")
def press():
    return plan_pressing(annual(), annual_readings(), press_choices())


def text_of(picture):
    return re.findall(r"<text[^>]*>([^<]*)</text>", picture.svg)


def test_the_uptake_names_its_curves_and_reads_its_end(chamber):
    picture = draw_uptake(chamber)
    words = text_of(picture)
    assert {"air of the chamber", "average of the leaves", "innermost leaf", "wanted 85 %"} <= set(words)
    assert "out after 24 h" in words
    core = chamber.end.core.value.to("percent").magnitude
    assert f"is at {core:.0f} % RH" in picture.reads
    assert f'aria-label="{picture.reads}"' in picture.svg


def since(unit, number, value, *, where=""):
    return ReadSince(Q_(number, unit), from_expanded(value, Q_(3, "percent"), cause="read"), where)


def test_the_air_that_was_read_lies_beside_what_was_planned(chamber):
    picture = draw_uptake(chamber, (since("min", 90, Q_(91, "percent")),))
    (read,) = (part for part in picture.parts if isinstance(part, Points) and part.name == "air as read")
    assert (read.x, read.y) == ((1.5,), (91.0,))
    assert (read.low, read.high) == (pytest.approx((88.0,), abs=0.01), pytest.approx((94.0,), abs=0.01))
    assert read.of in {curve.name for curve in picture.curves}
    assert "as it was read" in picture.reads
    assert "as it was read" not in draw_uptake(chamber).reads


def test_the_leaves_that_were_read_lie_beside_their_own_curve(press):
    fahrenheit = UnitChoice("mm", "degF")
    far = ReadSince(Q_(600, "s"), from_expanded(Q_(40, "degC"), Q_(2, "delta_degC"), cause="read"), "far")
    picture = draw_heat(press, fahrenheit, (far,))
    (read,) = (part for part in picture.parts if isinstance(part, Points) and part.name.endswith("as read"))
    assert read.of == "far leaf"
    assert (read.x, read.y) == ((pytest.approx(10.0),), (pytest.approx(104.0),))
    assert read.high[0] - read.y[0] == pytest.approx(3.6, abs=0.01)
    assert "Diamonds" in picture.reads
    assert "Diamonds" not in draw_heat(press).reads


def test_the_same_plan_gives_the_same_picture(chamber, press):
    assert draw_uptake(chamber).svg == draw_uptake(chamber).svg
    assert draw_stack(press).svg == draw_stack(press).svg


def test_the_ways_mark_the_chosen_one_and_what_intake_forbids(chamber):
    html = ways_table(chamber)
    assert html.index("this chamber") < html.index("(chosen)") < html.index("one face on a solid base")
    dry = Condition(Kind.MAX_HUMIDITY, ("humidity",), "Humidity at most", limit=Q_(80, "percent"))
    limited = plan_humidity(annual(), annual_readings(), HumidityChoices(), conditions=[dry])
    assert "no: too damp" in ways_table(limited)
    assert "the leaf that the damp reaches last" in ways_page(chamber).words


def test_salts_show_two_fits_and_their_hazard():
    """Greenspan 1977 and the CRC fit at 25 °C: potassium nitrate 93.6 against 91.9 %."""
    page = salts_page(Q_(25, "degC"))
    assert "93.6" in page.html
    assert "91.9" in page.html
    assert "Oxidiser" in page.html
    assert "no wall above freezing gets wet" in page.html


def test_conditions_and_doses_are_shown_in_words(chamber):
    damp = Condition(Kind.MAX_HUMIDITY, ("humidity",), "Humidity at most", limit=Q_(80, "percent"))
    assert handed_down_page((damp,)).words == "Humidity at most 80 %."
    assert handed_down_page(()).words == "Intake sets no condition for this stage."
    assert "strict rule" in dose_page(chamber.account).words


def test_the_stack_names_every_layer_once_a_side(press):
    words = text_of(draw_stack(press, MILLIMETRES))
    assert words.count("2 × backing board 24 pt, 1.22 mm") == 2
    assert words.count("card 90 lb index, 0.183 mm") == 2
    assert "hot platen" in words
    line = words.index("the item: 36 leaves and cover")
    assert words[line + 1].startswith("7 interleaves, ")
    assert any("thou" in text for text in text_of(draw_stack(press, THOUSANDTHS)))


def test_labels_of_thin_layers_do_not_run_into_each_other(press):
    svg = draw_stack(press).svg
    # One of two lines, that of the item, is placed by a translation.
    moved = re.findall(r"<text[^>]*?translate\([\d.]+ ([\d.]+)\)[^>]*>[^<]*mm</text>", svg)
    placed = re.findall(r'<text[^>]* y="([\d.]+)"[^>]*>[^<]*mm</text>', svg)
    heights = sorted(float(y) for y in (*moved, *placed))
    assert len(heights) == 8
    assert min(b - a for a, b in pairwise(heights)) > 9


def test_heat_follows_the_units_and_is_missing_from_a_cold_press(press):
    assert "temperature, °F" in text_of(draw_heat(press, THOUSANDTHS))
    assert "never comes to the temperature of the platen" in draw_heat(press).reads
    cold = plan_pressing(annual(), annual_readings(), press_choices(platen_temperature=None))
    assert draw_heat(cold) is None
    assert heat_page(cold, MILLIMETRES).words == "This press is not heated, so there is no heat to follow."
    both = plan_pressing(annual(), annual_readings(), press_choices(heated="both"))
    assert "far leaf" not in text_of(draw_heat(both))
    assert "both sides hot" in heat_page(press, MILLIMETRES).words


def test_changes_show_the_limit_and_the_planned_one(press):
    picture = draw_changes(press)
    assert {"limit for release", "planned", "night"} <= set(text_of(picture))
    assert f"below the limit: {press.changes_needed}." in picture.reads
    bare = plan_pressing(annual(), annual_readings(), press_choices(interval=None))
    assert draw_changes(bare) is None


def test_the_clock_tells_hands_and_waits_apart_by_word_and_shape(chamber, press):
    timeline = lay_out(pieces_from(chamber, press), start=at(2, 9))
    picture = draw_timeline(timeline)
    words = text_of(picture)
    assert {"someone is there", "waits", "look in, if someone is there", "night"} <= set(words)
    assert "Mon 2 Mar" in words
    assert "pattern" in picture.svg  # the hatch of the waits
    assert picture.reads == say_timeline(timeline)
    spec = draw_on_screen(picture)
    means = ["someone is there", "waits", "look in, if someone is there", "night"]
    assert [shape["words"] for shape in spec["key"]] == means
    assert not {note["text"] for note in spec["layout"]["annotations"]} & {*means}, "drawn where they overlap"
    assert all(words in picture.svg for words in means)


def test_windows_join_what_follows_at_once(chamber, press):
    timeline = lay_out(pieces_from(chamber, press), start=at(2, 9))
    windows = find_windows(timeline)
    busy = next(w for w in windows if w.steps[0].name == "take it out and weigh it")
    assert [step.name for step in busy.steps][1:4] == ["build the press stack", "heat under load"]
    assert all(w.is_optional == w.steps[0].if_present for w in windows)
    assert sum(w.is_optional for w in windows) == 4
    assert "take it out and weigh it; build the press stack" in window_table(timeline)


def test_days_on_which_nobody_is_needed_are_drawn_as_one():
    from bench.treatment.plan import PlannedStep, minutes

    pieces = [
        ("review", 1, PlannedStep("look", minutes(10), True)),
        ("review", 1, PlannedStep("rest", Q_(20, "day"), False)),
        ("review", 1, PlannedStep("look again", minutes(10), True)),
    ]
    words = text_of(draw_timeline(lay_out(pieces, start=at(2, 9))))
    assert "19 days of waiting, nobody needed" in words
    assert "Sun 22 Mar" in words


def test_done_steps_are_ticked_and_past_windows_left_out_of_the_table(press):
    timeline = lay_out(pieces_from(press), start=at(2, 14))
    for step, minute in (("s01", 10), ("s02", 27), ("s03", 62)):
        timeline = record_actual(timeline, step, ended=at(2, 14 + minute // 60, minute % 60))
    assert any("✓" in text for text in text_of(draw_timeline(timeline)))
    assert "1 window is past" in window_table(timeline)
    assert "heat under load" not in window_table(timeline)
    assert "s01" in step_table(timeline)


def test_a_late_wait_that_is_over_is_told_in_the_past():
    late = lay_out(pieces_from(plan_pressing(annual(), annual_readings(), press_choices())), start=at(2, 8))
    night = next(step for step in late.steps if step.name == "in the press overnight")
    assert "Start at another time" in late.cautions[0].words
    done = replace(night, actual_start=night.planned_start, actual_end=night.planned_end)
    from bench.treatment.clock.schedule import with_cautions

    assert "lasted" in with_cautions([done]).cautions[0].words


def test_a_chapter_lays_out_its_hours_from_the_start_it_is_told(chamber):
    """The hours of a second cycle are its own; a plan that says stop gets none."""
    told = clock_page(chamber, at(9, 9))
    assert told.reads.startswith("From Mon\u00a09\u00a0Mar\u00a009:00")
    assert "09:00" in told.svg
    assert ">s01" not in told.svg
    stopped = clock_page(replace(chamber, verdict=Verdict.STOP), at(9, 9))
    assert stopped.words == "The plan says stop, so there are no hours to lay out."
