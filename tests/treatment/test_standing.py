"""Plans that rest on others: told when these change, quiet when they do not; sheets counted in and out."""

import pytest

from bench.treatment.actual.sheets_counted import COUNTED_IN as SHEETS_IN
from bench.treatment.actual.sheets_counted import COUNTED_OUT as SHEETS_OUT
from bench.treatment.plan import Verdict
from bench.treatment.resting import ChangedFact, compare, rests_on, say_changes
from bench.treatment.standing import raise_flags, say_flags
from bench.units import THOUSANDTHS
from tests.makers import annual

ITEM = {
    "row": 1,
    "title": "The Tin Orchard Annual, no. 2",
    "format": "square-bound, side-stapled",
    "width_mm": 168,
    "height_mm": 257,
    "count": 72,
    "counted_as": "pages",
    "cover_leaves": 2,
    "text_paper": "newsprint",
    "cover_coated": "no",
    "mass_g": 104.2,
}


def planned(stage, cycle=1, words=None, **numbers):
    """Rows of one plan: names are written with underscores."""
    common = {"stage": stage, "cycle": cycle, "plan": f"{stage}-{cycle}", "unit": "dimensionless"}
    rows = [
        {**common, "quantity": name.replace("_", " "), "value": value, "words": None}
        for name, value in numbers.items()
    ]
    kept = [
        {**common, "quantity": f"rests on: {key}", "value": None, "words": said}
        for key, said in (words or {}).items()
    ]
    return [*rows, *kept]


def step(stage, cycle=1, *, began=None, ended=None):
    return {"stage": stage, "cycle": cycle, "actual_start": began, "actual_end": ended, "note": None}


def count(name, number, at, cycle=1):
    return {"stage": "pressing", "cycle": cycle, "quantity": name, "value": float(number), "at": at}


def tables(**more):
    names = ("staples", "readings", "tests", "defects", "decisions", "plans", "steps", "log", "materials")
    return {"treatment": [ITEM], **{name: [] for name in names}, **more}


def with_press(sheets_then, sheets_now, **more):
    """A record whose press plan was saved when the buffering plan had so many sheets."""
    then = tables(plans=planned("buffering", sheets=sheets_then))
    kept = rests_on("pressing", 1, then, annual())
    plans = [
        *planned("buffering", sheets=sheets_now),
        *planned("pressing", words=kept, interleaves=sheets_then),
    ]
    return tables(plans=plans, **more)


def test_a_press_plan_for_ten_sheets_is_stopped_once_nine_go_in():
    (flag,) = raise_flags(with_press(10, 9), annual())
    assert (flag.stage, flag.cycle, flag.verdict) == ("pressing", 1, Verdict.STOP)
    assert "9 sheets go in by the buffering plan, but the press plan takes 10 out" in flag.words
    assert flag.mend.startswith("Open 05")
    (other,) = raise_flags(with_press(9, 10), annual())
    assert "a sheet may stay inside" in other.words


def test_nothing_is_flagged_where_nothing_changed():
    assert raise_flags(with_press(10, 10), annual()) == ()


def test_a_change_elsewhere_makes_the_plan_out_of_date_and_names_what():
    kept = rests_on("pressing", 1, tables(), annual())
    heavier = {**ITEM, "mass_g": 138.0}
    (flag,) = raise_flags(tables(plans=planned("pressing", words=kept), treatment=[heavier]), annual())
    assert flag.verdict is Verdict.CARE
    assert "the description of the item had mass 104.2 g (now 138 g)" in flag.words
    assert [change.key for change in flag.changes] == ["item: mass"]


@pytest.mark.parametrize(
    "changed",
    [
        {"title": "Another title"},
        {"count": 36, "counted_as": "leaves"},
        {"width_mm": 168.0},
        {"note": "in a new folder"},
        {"text_paper": None, "cover_leaves": None},  # the usual ones are taken
    ],
)
def test_the_same_item_said_otherwise_is_no_change(changed):
    kept = rests_on("pressing", 1, tables(), annual())
    assert raise_flags(tables(plans=planned("pressing", words=kept), treatment=[{**ITEM, **changed}])) == ()


def test_the_same_reading_in_another_unit_is_no_change():
    common = {"stage": "intake", "cycle": 0, "quantity": "thickness", "place": "text block"}
    thou = tables(readings=[{**common, "value": 181.0, "unit": "thou"}])
    mm = [{**common, "value": 4.5974, "unit": "mm"}]
    kept = rests_on("humidity", 1, thou, annual())
    assert raise_flags(tables(plans=planned("humidity", words=kept), readings=mm), annual()) == ()
    thicker = [{**common, "value": 4.62, "unit": "mm"}]
    (flag,) = raise_flags(tables(plans=planned("humidity", words=kept), readings=thicker), annual())
    assert "the readings had thickness text block 4.597 mm (now 4.62 mm)" in flag.words


def test_a_plan_saved_without_what_it_rests_on_is_not_flagged():
    """A record of an older program: nothing is known of what was handed on, so nothing is claimed."""
    older = tables(plans=[*planned("buffering", sheets=8), *planned("pressing", interleaves=8)])
    assert raise_flags(older, annual()) == ()
    fewer = tables(plans=[*planned("buffering", sheets=9), *planned("pressing", interleaves=8)])
    assert [flag.verdict for flag in raise_flags(fewer, annual())] == [Verdict.STOP]


def test_a_plan_whose_work_is_done_is_history():
    kept = rests_on("humidity", 1, tables(), annual())
    plans, heavier = planned("humidity", words=kept), [{**ITEM, "mass_g": 138.0}]
    assert len(raise_flags(tables(plans=plans, treatment=heavier))) == 1
    begun = [step("humidity", began=1)]
    assert len(raise_flags(tables(plans=plans, treatment=heavier, steps=begun))) == 1
    for steps in ([step("humidity", began=1, ended=2)], [step("humidity"), step("pressing", began=3)]):
        assert raise_flags(tables(plans=plans, treatment=heavier, steps=steps)) == ()


def test_a_plan_made_before_the_one_that_it_rests_on_says_so():
    kept = rests_on("pressing", 1, tables(), annual())
    chamber = planned("humidity", mean_humidity_of_the_leaves=95.0)
    (flag,) = raise_flags(tables(plans=[*chamber, *planned("pressing", words=kept)]), annual())
    assert "when it was saved, there was no humidity plan." in flag.words


def test_flags_come_in_the_order_in_which_they_are_mended():
    kept = {stage: rests_on(stage, 1, tables(), annual()) for stage in ("humidity", "pressing")}
    plans = [*planned("pressing", words=kept["pressing"]), *planned("humidity", words=kept["humidity"])]
    flags = raise_flags(tables(plans=plans, treatment=[{**ITEM, "count": 100}]), annual())
    assert [flag.stage for flag in flags] == ["humidity", "pressing"]
    said = "Out of date now: the humidity plan of cycle 1 (03) and the pressing plan of cycle 1 (05)."
    assert say_flags(flags) == f"{said} Look at each in this order and save it again."
    assert say_flags(flags[:1]) == str(flags[0])


@pytest.mark.parametrize(
    ("logged", "said"),
    [
        ([(SHEETS_IN, 10), (SHEETS_OUT, 9)], "10 sheets in, 9 sheets out. Find the missing sheet"),
        ([(SHEETS_IN, 10), (SHEETS_OUT, 10)], ""),
        ([(SHEETS_IN, 10), (SHEETS_OUT, 10), (SHEETS_IN, 10), (SHEETS_OUT, 9)], "10 sheets in, 9 sheets out"),
        ([(SHEETS_IN, 10), (SHEETS_OUT, 9), (SHEETS_OUT, 1)], ""),
        ([(SHEETS_IN, 9), (SHEETS_OUT, 10)], "count both piles again"),
        ([(SHEETS_IN, 10), (SHEETS_OUT, 9), (SHEETS_IN, 10)], "10 sheets in, 9 sheets out"),
        ([(SHEETS_IN, 9)], "9 sheets were counted going in, but the press plan takes 10 out"),
        ([(SHEETS_OUT, 9)], "10 sheets in, 9 sheets out. Find the missing sheet"),
    ],
)
def test_sheets_that_were_counted_are_held_against_each_other(logged, said):
    log = [count(name, number, at) for at, (name, number) in enumerate(logged)]
    flags = raise_flags(with_press(10, 10, log=log), annual())
    assert [flag.verdict for flag in flags] == ([Verdict.STOP] if said else [])
    assert said in "".join(map(str, flags))


def test_a_cycle_is_counted_by_itself():
    plans = [*planned("buffering", sheets=8), *planned("pressing", interleaves=8)]
    plans += [*planned("buffering", 2, sheets=6), *planned("pressing", 2, interleaves=8)]
    assert [flag.cycle for flag in raise_flags(tables(plans=plans), annual())] == [2]


def test_what_changed_is_said_in_the_operators_unit_and_at_most_three_at_once():
    change = ChangedFact("thickness: text block", "4597.4 um", "4699 um")
    assert (
        say_changes([change], THOUSANDTHS) == "the readings had thickness text block 181 thou (now 185 thou)"
    )
    many = compare({str(n): "1" for n in range(5)}, {})
    assert say_changes(many).endswith("and 2 more")
