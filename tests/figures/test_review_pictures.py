"""Pictures of the review: what they say in words, and that they say it without colour."""

import re

from bench.figures.review import draw_defects, draw_planned_beside_measured, draw_size_changes
from bench.treatment import facts
from bench.treatment.plan import PlannedValue
from bench.treatment.review.comparison import (
    DefectCourse,
    Examination,
    Sighting,
    compare_sizes,
    compare_with_plan,
)
from bench.uncertainty import from_expanded
from bench.units import MILLIMETRES, Q_, THOUSANDTHS


def course(name, *grades):
    seen = tuple(Sighting(cycle, grade) for cycle, grade in enumerate(grades))
    return DefectCourse(name, "crease", "front cover", "humidify and press", True, seen)


def text_of(picture):
    return re.findall(r"<text[^>]*>([^<]*)</text>", picture.svg)


def compared(measured, unit="mm"):
    planned = PlannedValue(facts.THICKNESS_WITH_SHEETS, Q_(5290, "um"), Q_(30, "um"))
    return compare_with_plan(planned, from_expanded(Q_(measured, unit), Q_(0.04, "mm"), cause="reading"))


def test_every_defect_says_in_words_what_became_of_it():
    picture = draw_defects([course("d1", 3, 1), course("d2", 2, 2), course("d3", 1, 2), course("d4", 2)])
    words = text_of(picture)
    assert [w for w in words if w in ("better", "no change", "worse", "not looked at again")] == [
        "better",
        "no change",
        "worse",
        "not looked at again",
    ]
    assert "1 better, 1 unchanged, 1 worse, 1 not looked at again." in picture.reads
    assert draw_defects([]).reads == "No defects are listed."


def test_planned_and_measured_stand_in_the_operators_unit():
    comparisons = [compared(5.31)]
    assert "planned 5.29 ± 0.03 mm" in text_of(draw_planned_beside_measured(comparisons, MILLIMETRES))
    assert "planned 208.3 ± 1.2 thou" in text_of(draw_planned_beside_measured(comparisons, THOUSANDTHS))


def test_a_disagreement_is_said_in_a_word():
    picture = draw_planned_beside_measured([compared(5.31), compared(5.60)])
    assert {"agrees", "higher"} <= set(text_of(picture))
    assert picture.reads == "1 of 2 agree within the uncertainty of both; thickness with sheets is higher."


def test_the_size_is_drawn_with_both_limits():
    def sized(width):
        return Examination(widths={"cover": from_expanded(Q_(width, "mm"), Q_(0.1, "mm"), cause="reading")})

    sizes = compare_sizes(sized(168.0), sized(168.4))
    limits = {"growth_limit": Q_(0.5, "percent"), "shortening_limit": Q_(0.3, "percent")}
    picture = draw_size_changes(sizes, **limits)
    assert {"limit +0.5 %", "limit −0.3 %", "width, cover"} <= {words.strip() for words in text_of(picture)}
    assert (
        picture.reads == "The largest change is that of the width, cover: 0.24 ± 0.09 %, or 0.40 ± 0.15 mm."
    )
    assert "not read" in draw_size_changes((), **limits).reads
