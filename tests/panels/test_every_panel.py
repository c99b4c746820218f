"""What any panel plans hangs on what its fields show, and on nothing that stood in them before."""

import importlib
import pkgutil
import re
from datetime import datetime, timedelta, timezone
from functools import partial
from random import Random

import ipywidgets as widgets
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

import bench.panels
from bench.desk import Treatment, open_treatment
from bench.handover import schedule as handed_schedule
from bench.handover.intake import intake_of
from bench.panels import (
    buffering,
    cleaning,
    defects,
    humidity,
    intake,
    item,
    learning,
    logged,
    materials,
    photographs,
    pressing,
    readings,
    review,
    schedule,
    seen,
    start,
    weighing,
    writeup,
)
from bench.panels.base import Panel, View
from bench.panels.day import SAMPLE_MOMENT, Day
from bench.panels.fields import CountField, NumberField
from bench.panels.slider import Slider
from bench.records.store import create_treatment, open_record
from bench.units import UnitChoice

pytestmark = pytest.mark.slow

NINE = datetime(2026, 4, 13, 9, 0, tzinfo=timezone(timedelta(hours=1)))
ENTRIES = 40
UNITS = [UnitChoice(length, warmth) for length in ("thou", "mm", "um") for warmth in ("degC", "degF")]
WORDS = ("", "a few words", "2026-04-13 09:00", "14:30", "0 104.2; 6 106.4", "4.40 4.42 4.41", "190,191,190")
COUNTS = ("", "64", "65", "0", "-3", "many")
NUMBERS = (
    "",
    " ",
    "0",
    "1",
    "3",
    "12.5",
    "45",
    "60",
    "70",
    "95",
    "120",
    "400",
    "-1000",
    "1e9",
    "5500 %",
    "190,191,190",
    "4,41",
    "6 5/8",
    "6 5/8 in",
    "4.4 mm",
    "173.5 thou",
    "140 °F",
    "26 lb",
    "118 N",
    "twelve",
)


def give_choices(*args, **_):
    """Stand in for a calculation that takes seconds: its answer hangs on nothing but what it is given."""
    return args[-1]


def give_how(_, **how):
    """Stand in for the report: how it was asked for, but for the hour."""
    return {name: value for name, value in how.items() if name != "at"}


def build_seen_panel_of(treatment):
    """Build the panel of what was seen at the bench, for the folder in which a treatment lies."""
    return seen.build_seen_panel(Day(treatment.record.folder.parent, clock=lambda: SAMPLE_MOMENT))


BUILDERS = {
    "materials": materials.build_materials_panel,
    "item": item.build_item_panel,
    "spot tests": intake.build_tests_panel,
    "intake": intake.build_intake_panel,
    "defects": defects.build_defects_panel,
    "readings": readings.build_readings_panel,
    "readings at review": partial(readings.build_readings_panel, stage="review", cycle=1),
    "cleaning": partial(cleaning.build_cleaning_panel, cycle=1),
    "cleaning log": partial(cleaning.build_cleaning_log_panel, cycle=1),
    "humidity": partial(humidity.build_humidity_panel, plan=give_choices, cycle=1),
    "hygrometer": partial(humidity.build_hygrometer_panel, cycle=1),
    "logged": partial(logged.build_logged_panel, cycle=1),
    "buffering": partial(buffering.build_buffering_panel, plan=give_choices, cycle=1),
    "pressing": partial(pressing.build_pressing_panel, plan=give_choices, cycle=1),
    "weighing": partial(weighing.build_weighing_panel, cycle=1),
    "review": partial(review.build_review_panel, plan=give_choices, cycle=1),
    "learning": partial(learning.build_learning_panel, cycle=1),
    "schedule": partial(schedule.build_schedule_panel, cycle=1),
    "photographs": photographs.build_photographs_panel,
    "write-up": partial(writeup.build_writeup_panel, collect=give_how, write=give_how),
    "seen": build_seen_panel_of,
    "start": start.build_start_panel,
    "new treatment": start.build_new_panel,
}
SLOW = {"item", "intake", "defects", "readings", "readings at review", "cleaning", "weighing", "learning"}
SLOW |= {"photographs", "seen"}
"""Their work reads the whole record or fits a model at each entry: here it hands on what the fields gave."""


def give_steps(treatment, cycle, *, without):
    """Stand in for the plans of all stages: the steps of the examination alone."""
    return {} if "intake" in without else {"intake": intake_of(treatment).steps}


def once(work, key):
    """Give a function that works only once for what ``key`` makes of its arguments."""
    known = {}

    def recall(*args, **how):
        asked = key(*args, **how)
        if asked not in known:
            known[asked] = work(*args, **how)
        return known[asked]

    return recall


@pytest.fixture
def quick(monkeypatch):
    """Leave fields, reading and refusal as they are; nothing is drawn, and no load is followed."""
    build = Panel.__init__

    def build_quickly(panel, *, work, show, **rest):
        seen = (lambda values, units: dict(values)) if panel_is_slow else work
        build(panel, work=seen, show=lambda result, units: View(""), **rest)

    panel_is_slow = False

    def choose(name):
        nonlocal panel_is_slow
        panel_is_slow = name in SLOW

    # The record does not change here: what is read of it at length is read once.
    read_at_length = (
        (humidity, "humidity_choices"),
        (pressing, "pressing_choices"),
        (review, "read_cycle"),
    )
    for stage, name in read_at_length:
        monkeypatch.setattr(stage, name, once(getattr(stage, name), lambda treatment, cycle: cycle))
    monkeypatch.setattr(handed_schedule, "usual_steps", give_steps)
    monkeypatch.setattr(buffering, "hold_back", lambda plan, conditions: plan)
    monkeypatch.setattr(buffering.LoadTable, "read", lambda self, choices: ())
    monkeypatch.setattr(Panel, "__init__", build_quickly)
    return choose


def open_sample(_):
    return Treatment(open_treatment("tin-orchard-annual-2").record, clock=lambda: NINE)


def open_other(folder):
    """A self-cover issue of 12 leaves that no sample resembles, just described."""
    description = {
        "title": "The Lantern Quay Bulletin, no. 5",
        "conservator": "R. Fennimore",
        "planned_start": NINE,
        "format": "saddle-stitched",
        "width_mm": 171.3,
        "height_mm": 258.75,
        "count": 12,
        "counted_as": "leaves",
        "cover_leaves": 0,
        "length_unit": "thou",
        "temperature_unit": "degF",
    }
    staple = {"staple": "upper", "from_head_mm": 61.4, "from_spine_mm": 0, "prong": "flush", "rust": 0}
    rows = {"treatment": [description], "staples": [staple]}
    if folder.exists():
        record = open_record(folder)
    else:
        record = create_treatment(folder.parent, folder.name, rows, by="R. Fennimore", at=NINE)
    return Treatment(record, clock=lambda: NINE + timedelta(days=1))


def entries_of(field, start):
    """Give what may be put into a field: good, bad, at a limit, and what it showed at the start."""
    control = field.widget
    if isinstance(control, Slider):
        return (*range(control.min, control.max + 1), control.max + 1, "12.5", "")
    if isinstance(control, widgets.Checkbox):
        return (True, False)
    if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
        return [option[1] if isinstance(option, tuple) else option for option in control.options]
    if isinstance(field, CountField):
        return COUNTS
    if isinstance(field, NumberField):
        ends = [field.write(end) for end in (field._low, field._high) if end is not None]
        return (*NUMBERS, *ends, *(f"{end}1" for end in ends), start)
    return (*WORDS, start)


def mend(panel, tried, units, chance):
    """Enter something else wherever an entry is refused; then put one field after another back as it was.

    Some entries are refused for what stands in another field, so the last step ends in a plan at the latest
    when every field is back, and in general long before.
    """
    for field, first in tried:
        entries = entries_of(field, first)
        for entry in chance.sample(entries, min(8, len(entries))):
            if not field.refused:
                break
            field.widget.value = entry
    for field, first in chance.sample(tried, len(tried)):
        if panel._is_current:
            break
        panel._units.choice = units
        field.widget.value = first


def planned(panel):
    """Give everything that a panel makes of its entries."""
    refused = {f.key: re.sub(r"<[^>]+>|needed: ", "", f.below.value) for f in panel._fields if f.refused}
    return refused, panel.inputs(), panel.result if panel._is_current else None, panel.can_save


def test_no_panel_is_left_out():
    """The page of the day has no field to type into: each of its touches stands for itself.

    Trials and exercises are tried protocol by protocol, and exercise by exercise, in tests of their own.
    """
    names = [module.name for module in pkgutil.iter_modules(bench.panels.__path__, "bench.panels.")]
    modules = [importlib.import_module(name) for name in names]
    found = {name for module in modules for name in vars(module) if re.fullmatch(r"build_\w+_panel", name)}
    tried = {getattr(build, "func", build).__name__.removesuffix("_of") for build in BUILDERS.values()}
    elsewhere = {"build_trial_panel", "build_exercise_panel", "build_look_again_panel"}
    assert found - tried == {"build_today_panel", *elsewhere}


@pytest.mark.parametrize("opened", [open_sample, open_other])
@pytest.mark.parametrize("name", BUILDERS)
def test_what_is_planned_is_what_a_fresh_panel_plans_for_the_same_entries(name, opened, quick, tmp_path):
    """After 40 entries, good and bad, units switched between them; the walked panel is never made anew."""
    quick(name)
    build = BUILDERS[name]
    walked = build(opened(tmp_path / "lantern-quay-5"))
    tried = [(f, f.widget.value) for f in walked._fields if not isinstance(f.widget, widgets.FileUpload)]
    units = walked._units.choice
    sound = 0

    @settings(
        max_examples=3 if opened is open_sample else 2,
        deadline=None,
        derandomize=True,
        database=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.integers(0, 2**32 - 1))
    def walk(seed):
        nonlocal sound
        chance = Random(seed)  # what is drawn next hangs on what is refused: not for hypothesis to draw
        for _ in range(ENTRIES):
            if chance.random() < 0.2:
                walked._units.choice = chance.choice(UNITS)
            else:
                field, first = chance.choice(tried)
                field.widget.value = chance.choice(entries_of(field, first))
        if not sound or chance.random() < 0.8:  # else a panel of many fields ends refused nearly always
            mend(walked, tried, units, chance)
        fresh = build(opened(tmp_path / "lantern-quay-5"))
        fresh._units.choice = walked._units.choice
        for field, _ in tried:
            if field.is_used:  # what is out of sight has no say
                fresh.field(field.key).widget.value = field.widget.value
        assert planned(fresh) == planned(walked)
        sound += walked._is_current

    walk()
    nothing_at_work = name == "seen" and opened is open_other  # then there is nothing to plan
    assert sound or nothing_at_work, "no walk ended in something that could be planned"
