"""The next cycle: which defects lie where pressure arrives, and what wider spacings would do."""

import numpy as np
import pytest

from bench.physics.bearing.spots import Hope
from bench.physics.contact import pressure_from_word
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.plan import PlannedValue
from bench.treatment.review.comparison import DefectCourse, Sighting
from bench.treatment.review.next_cycle import DAMP, WARMTH, find_spots, margin_under_load, plan_next_cycle
from bench.units import Q_
from tests.makers import annual, annual_readings


def course(name, *grades, helped_by="humidify and press", in_scope=True):
    seen = tuple(Sighting(cycle, grade, None) for cycle, grade in enumerate(grades))
    return DefectCourse(name, "crease", "recto", helped_by, in_scope, seen)


def row(name, face, x_mm, width_mm=0.0):
    return {"defect": name, "face": face, "x_mm": x_mm, "width_mm": width_mm}


def planned(warmth, damp, doubt=1.0):
    return [
        PlannedValue(WARMTH, Q_(warmth, "degC"), Q_(doubt, "delta_degC")),
        PlannedValue(DAMP, Q_(damp, "percent"), Q_(doubt, "percent")),
    ]


def from_spine(spots):
    return {spot.name.split()[0]: spot.from_spine.to("mm").magnitude for spot in spots}


def test_the_spine_lies_left_of_a_recto_and_right_of_a_verso():
    courses = [course(name, 2) for name in ("d1", "d2", "d3", "d4", "d5")]
    rows = [
        row("d1", "recto", 20, 10),
        row("d2", "verso", 20, 10),
        row("d3", "front cover, outside", 4),
        row("d4", "spine", 2, 4),
        row("d5", "head edge", 2, 4),
    ]
    found = from_spine(find_spots(annual(), courses, rows, cycle=1))
    assert found == {"d1": 25.0, "d2": 168 - 25.0, "d3": 4.0, "d4": 0.0}


def test_what_is_gone_out_of_scope_or_without_a_place_is_left_out():
    courses = [
        course("d1", 2, 0),
        course("d2", 2, helped_by="none"),
        course("d3", 2, in_scope=False),
        course("d4", 2),
    ]
    rows = [row(name, "recto", 20) for name in ("d1", "d2", "d3")] + [row("d4", "recto", float("nan"))]
    assert find_spots(annual(), courses, rows, cycle=1) == []


def test_damp_and_warm_fibres_are_soft_and_dry_cold_ones_stiff():
    assert margin_under_load(annual(), planned(80, 97)).verdict != "stiff"
    assert margin_under_load(annual(), planned(20, 20)).verdict == "stiff"
    assert margin_under_load(annual(), planned(60, 99.5, 4.0)) is not None
    assert margin_under_load(annual(), planned(60, 97)[:1]) is None


@pytest.fixture(scope="module")
def following():
    choices = BufferingChoices(load=pressure_from_word("medium"), interval=6)
    courses = [course("d1", 2), course("d2", 2)]
    spots = find_spots(annual(), courses, [row("d1", "recto", 100), row("d2", "spine", 0)], cycle=1)
    margin = margin_under_load(annual(), planned(80, 97))
    rng = np.random.default_rng(1)
    return plan_next_cycle(annual(), annual_readings(), choices, spots, margin=margin, rng=rng)


def test_the_next_rung_is_judged_and_every_rung_has_its_chance(following):
    assert following.interval == 8
    assert set(following.chances) == {6, 8, 10}
    assert following.chances[6] >= following.chances[8] >= following.chances[10] > 0.9


def test_a_crease_on_the_page_may_relax_and_one_at_the_spine_will_not(following):
    page, spine = following.spots
    assert page.hope is not Hope.UNLIKELY
    assert page.reached > 0.99
    assert spine.hope is Hope.UNLIKELY
    assert "hardly any pressure arrives there" in spine.words


def test_without_warmth_and_damp_nothing_is_judged():
    choices = BufferingChoices(load=pressure_from_word("medium"), interval=10)
    rng = np.random.default_rng(1)
    found = plan_next_cycle(annual(), annual_readings(), choices, (), margin=None, rng=rng, samples=100)
    assert found.spots == ()
    assert found.interval == 10
