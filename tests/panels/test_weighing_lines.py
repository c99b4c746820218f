"""Weighings after the chamber in the panel: what it refuses, writes, shows again and offers."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bench.handover.learning import weighed_on_bench
from bench.handover.weighing import press_used
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.weighing import build_weighing_panel
from bench.physics.transient import simulate
from bench.records.check import check_treatment
from bench.records.learned import WEIGHINGS, fits_of
from bench.treatment.humidity import HumidityChoices
from bench.treatment.weighing.through import set_up_through
from bench.units import Q_
from tests.panels.test_stage_panels import NINE, make, put, why
from tests.panels.test_weighing_panel import TRUTH, second

pytestmark = pytest.mark.slow

LATER = ("out", "night", "change 1", "change 2", "weight 24")


@pytest.fixture
def treatment(tmp_path):
    made = make(tmp_path)
    return type(made)(made.record, clock=lambda: NINE + timedelta(days=9))


def lines_of(treatment, moments=LATER, hours=(0, 2, 8)):
    """What a balance of 0.01 g reads from the chamber to the weight, followed far more tightly."""
    through = set_up_through(
        treatment.item,
        treatment.thicknesses(1),
        HumidityChoices(),
        press_used(treatment, 1),
        Q_(24, "hour"),
    )
    ratio, scale = (Q_(number, "") for number in TRUTH)
    inputs = replace(through.inputs, transport_ratio=ratio, isotherm_scale=scale)
    setting = through.setting
    history = simulate(setting.stack, through.phases(), start=setting.start, inputs=inputs, tolerance=1e-5)
    ends = {**through.ends, "out": through.ends["chamber"], "weight 24": through.ends["weight"] + 24}
    times = {**{f"{hour}": hour for hour in hours}, **{moment: ends[moment] for moment in moments}}
    masses = history.item_mass()
    read = {line: history.at(masses, Q_(when, "hour")).to("g").magnitude for line, when in times.items()}
    return "\n".join(f"{line} {round(mass, 2):g}" for line, mass in read.items())


def save_fit(treatment, **changes):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=lines_of(treatment), use=True, reason="chamber and press agree", **changes)
    return panel, panel.save()


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("afterwards 105.2", "hours in the chamber, or out, bench, night, change 1"),
        ("night", "Give the mass in g"),
        ("night 107,9", "a line like night 107.92"),
        ("change 107.4", "Say which change, then the mass in g"),
        ("change 1.5 107.4", "Say which change"),
        ("change 5 107.4", "Plan the press as it was"),
        ("weight 105.1", "Say the hours under weight"),
        ("night 115.0\nchange 1 116.0", "Take every interleaf out"),
        ("night 107.9\n9 110.2", "the lines of the chamber first"),
    ],
)
def test_a_moment_that_cannot_be_is_refused_beside_the_field(treatment, line, words):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=f"0 104.2\n2 106.4\n{line}")
    assert words in why(panel, "weighings")
    assert not panel.can_save


def test_the_answer_comes_first_and_holds_the_night_against_what_was_predicted(treatment):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=lines_of(treatment, LATER[:2]))
    assert "After the night it is at" in panel.answer
    assert "predicted" in panel.answer
    assert panel.answer.index("After the night it is at") < panel.answer.index('class="picture"')


def test_saved_weighings_are_told_apart_and_stand_there_again(treatment):
    entered, words = save_fit(treatment)
    assert "8 rows to readings" in words
    rows = treatment.record.read("readings")
    rows = rows[rows["quantity"] == "mass"]
    assert list(rows["stage"]) == [*["humidity"] * 4, *["pressing"] * 4]
    assert list(rows["place"])[3:] == [
        "item out of the chamber",
        "item after the night in the press",
        "item after change 1 of the sheets",
        "item after change 2 of the sheets",
        "item under weight",
    ]
    assert all("not read off a clock" in note for note in rows["note"].iloc[3:])
    assert (rows["taken_at"].iloc[3] - NINE).total_seconds() == 24 * 3600
    again = build_weighing_panel(treatment)
    assert again.field("weighings").widget.value == entered.field("weighings").widget.value
    assert again.result.told.fit.transport_ratio == entered.result.told.fit.transport_ratio
    assert "Nothing new to save" in again.save()
    assert check_treatment(treatment.record.folder) == []


def test_a_slip_is_corrected_in_its_own_line_and_none_may_be_left_out(treatment):
    save_fit(treatment)
    (first,) = fits_of(treatment.record, WEIGHINGS)
    panel = build_weighing_panel(treatment)
    lines = panel.field("weighings").widget.value.splitlines()
    word, mass = lines[4].split()
    assert word == "night"
    put(panel, weighings="\n".join([*lines[:4], f"night {float(mass) + 0.05:.2f}", *lines[5:]]))
    assert "1 row to readings" in panel.save()
    (fit,) = fits_of(treatment.record, WEIGHINGS)
    assert fit.found["transport ratio"].value != first.found["transport ratio"].value
    hour = build_weighing_panel(treatment)
    text = hour.field("weighings").widget.value.replace("weight 24", "weight 26")
    put(hour, weighings=text)
    assert "1 row to readings" in hour.save()
    assert build_weighing_panel(treatment).field("weighings").widget.value == text
    short = build_weighing_panel(treatment)
    put(short, weighings="\n".join(line for line in text.splitlines() if "night" not in line))
    assert "no line for 'night'" in short.save()


def test_later_lines_are_added_to_those_of_the_chamber(treatment):
    panel = build_weighing_panel(treatment)
    whole = lines_of(treatment).splitlines()
    put(panel, weighings="\n".join(whole[:3]), use=True, reason="a first look")
    panel.save()
    later = build_weighing_panel(treatment)
    put(later, weighings="\n".join(whole[:5]))
    assert "2 rows to readings" in later.save()
    found, first = later.result.told.fit.transport_ratio, panel.result.told.fit.transport_ratio
    assert found.high / found.low < first.high / first.low


def test_an_accepted_fit_is_taken_by_the_plans_of_the_same_paper(treatment):
    save_fit(treatment)
    other = second(treatment)
    found = weighed_on_bench(other)[0]
    assert found["transport_ratio"].low.magnitude < TRUTH[0] < found["transport_ratio"].high.magnitude
    assert found["isotherm_scale"].low.magnitude < TRUTH[1] < found["isotherm_scale"].high.magnitude
    for build in (build_humidity_panel, build_pressing_panel):
        assert build(other).result.choices.isotherm_scale == found["isotherm_scale"]


def test_the_press_is_taken_as_it_was_planned(treatment):
    usual = press_used(treatment, 1)
    assert usual.changes == 2
    panel = build_pressing_panel(treatment)
    put(panel, changes=3, platen="", night="16", between="3")
    panel.save()
    press = press_used(treatment, 1)
    assert press.changes == 3
    assert press.platen_temperature is None
    steps = [step for step in treatment.timeline.steps if step.stage == "pressing"]
    night = next(step for step in steps if step.name == "in the press overnight")
    hours = (night.planned_end - night.planned_start).total_seconds() / 3600
    assert hours >= 16  # until somebody is there to open the press
    assert press.night.to("hour").magnitude == pytest.approx(hours)
    assert press.between_changes.to("hour").magnitude >= 3


def test_neighbours_that_cannot_be_read_are_named(treatment):
    save_fit(treatment)
    other = second(treatment)
    put(panel := build_weighing_panel(other), weighings=lines_of(other))
    assert "Not read for what weighings found" not in panel._cautions.value
    (treatment.record.folder / "log.csv").write_bytes(b"\xff\xfe\x00")
    put(panel := build_weighing_panel(other), weighings=lines_of(other))
    told = f"Not read for what weighings found on this bench: {treatment.record.folder.name}"
    assert told in panel._cautions.value
    for build in (build_humidity_panel, build_pressing_panel):
        plan = build(other).result
        named = [a.words for a in plan.assumptions if a.name == "weighings on this bench"]
        assert len(named) == 1
        assert treatment.record.folder.name in named[0]
