"""What was really done is told from getting ready, waiting, resting and looking."""

from datetime import datetime, timedelta, timezone

import pytest

from bench.treatment.actual.acts import find_acts, find_overruns, is_act, kind_of
from bench.treatment.cleaning.log import LoggedPass, log_rows, tools_logged
from bench.treatment.cleaning.surfaces import Surface
from bench.treatment.clock.done import TAKEN_OVER

AT = datetime(2026, 3, 3, 9, tzinfo=timezone(timedelta(hours=1)))
HOUR = timedelta(hours=1)


def row(stage, name, hour=0, length=1, *, cycle=1, ended=True, note=None, at_most=None):
    start = AT + hour * HOUR
    return {
        "stage": stage,
        "cycle": cycle,
        "name": name,
        "actual_start": start,
        "actual_end": start + length * HOUR if ended else None,
        "note": note,
        "at_most_min": at_most,
    }


@pytest.mark.parametrize(
    ("stage", "name"),
    [
        ("cleaning", "set up for dry cleaning"),
        ("cleaning", "look again and photograph"),
        ("humidity", "prepare the chamber with potassium sulphate"),
        ("humidity", "the closed chamber comes to rest"),
        ("humidity", "set the machine and let it come to rest"),
        ("humidity", "weigh it and put it in the chamber"),
        ("humidity", "take it out and weigh it"),
        ("pressing", "build the press stack"),
        ("pressing", "rest under light weight"),
        ("pressing", "weigh it again and release"),
        ("review", "follow-up after 7 days"),
    ],
)
def test_getting_ready_and_resting_are_no_treatment(stage, name):
    assert not is_act(stage, name)
    assert find_acts([row(stage, name)]) == ()


@pytest.mark.parametrize(
    ("stage", "name"),
    [
        ("cleaning", "clean leaves: brush"),
        ("humidity", "in the chamber"),
        ("buffering", "put 8 interleaves by the bench slip"),
        ("pressing", "heat under load"),
        ("pressing", "cool under load"),
        ("pressing", "in the press overnight"),
        ("pressing", "flattened by some means that no plan knows"),
    ],
)
def test_work_on_the_item_is_told_even_under_a_name_that_no_plan_gives(stage, name):
    (act,) = find_acts([row(stage, name)])
    assert (act.stage, act.start, act.end) == (stage, AT, AT + HOUR)


def test_an_act_begins_with_the_item_and_not_with_its_preparation():
    rows = [
        row("humidity", "prepare the chamber with wet felt"),
        row("humidity", "in the chamber", 24, 10),
        row("humidity", "take it out and weigh it", 34),
        row("humidity", "prepare the chamber with wet felt", 90, cycle=2),
    ]
    (act,) = find_acts(rows)
    assert (act.cycle, act.start, act.end) == (1, AT + 24 * HOUR, AT + 34 * HOUR)


def test_an_end_that_nobody_recorded_stays_open_and_a_reckoned_time_is_none_that_was_read():
    rows = [
        row("pressing", "heat under load", note=TAKEN_OVER),
        row("pressing", "cool under load", 1, ended=False),
    ]
    (act,) = find_acts(rows)
    assert act.end is None
    assert not act.is_measured


def test_a_step_that_lasted_longer_than_it_may_is_found():
    rows = [
        row("pressing", "in the press overnight", length=20, at_most=18 * 60),
        row("pressing", "in the press", length=18, at_most=18 * 60),
        row("pressing", "in the press", length=30, ended=False, at_most=60),
        row("pressing", "rest under light weight", length=40, at_most=float("nan")),
    ]
    (found,) = find_overruns(rows)
    assert (found.name, found.took, found.at_most) == ("in the press overnight", 20 * HOUR, 18 * HOUR)


def test_steps_of_one_kind_share_a_name():
    assert {kind_of(f"look in, {n} h") for n in (2, 5)} == {"look in"}
    assert {kind_of(f"change the interleaves, {n} of 4") for n in (1, 2)} == {"change the interleaves"}


def test_every_step_that_a_plan_lays_out_is_known_for_what_it_is(sample_steps):
    """The words of the plans are the key: a renamed step must not pass for treatment in silence."""
    acts = {(stage, kind_of(name)) for stage, name in sample_steps if is_act(stage, name)}
    assert {stage for stage, _ in acts} == {"cleaning", "humidity", "buffering", "pressing"}
    said = {kind for _, kind in acts if not kind.startswith(("clean ", "put "))}
    assert said == {
        "in the chamber",
        "look in",
        "heat under load",
        "cool under load",
        "in the press overnight",
        "in the press",
    }


@pytest.fixture
def sample_steps(request):
    """Give stage and name of every step of the plans of the samples."""
    import csv

    folder = request.config.rootpath / "sample_records"
    steps = set()
    for file in sorted(folder.glob("*/steps.csv")):
        with file.open(encoding="utf-8", newline="") as lines:
            steps |= {(line["stage"], line["name"]) for line in csv.DictReader(lines)}
    assert len(steps) > 30
    return steps


def test_only_tools_that_the_log_names_count_as_used():
    logged = [
        *log_rows(LoggedPass(Surface.LEAVES, "brush"), cycle=1, at=AT),
        {"stage": "cleaning", "quantity": None, "value": None, "remark": "the sponge lay ready"},
    ]
    rows = [{"quantity": None, "value": None, **each} for each in logged]
    assert tools_logged(rows) == ("soft hair brush",)
    assert tools_logged([]) == ()
