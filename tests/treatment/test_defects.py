"""Defects: where they are, what could help, and where effort stops paying."""

import pytest

from bench.errors import BadValue, NotFound
from bench.sources import cite
from bench.treatment.intake.condition_terms import TERMS, Help, term
from bench.treatment.intake.defects import Defect, check_place, judge_defects, place_from_spine
from bench.units import Q_
from tests.makers import annual

ITEM = annual()  # 168 x 257 mm, 36 leaves


def defect(number=1, name="crease", face="front cover, outside", at=(10, 10), size=(20, 5), **more):
    return Defect(
        f"d{number}",
        name,
        face,
        x=Q_(at[0], "mm"),
        y=Q_(at[1], "mm"),
        width=Q_(size[0], "mm"),
        height=Q_(size[1], "mm"),
        **more,
    )


# A library's list of terms [condition-terms, seen], less "mat burn" and "pulpy", which no periodical has.
SEEN = [
    *("abrasion", "accretion", "breakage", "cockled", "corrosion", "crease", "delamination", "dirty"),
    *("discoloration", "distortion", "dusty", "embrittlement", "fading", "fold", "foxing", "insect damage"),
    *("loss", "mould", "puncture"),
]


@pytest.mark.parametrize("name", SEEN)
def test_the_terms_of_the_published_list_are_known(name):
    assert term(name).source == "condition-terms"


def test_every_term_says_why_and_where_it_comes_from():
    assert len({t.term for t in TERMS}) == len(TERMS)
    assert all(len(t.reason.split()) >= 4 and cite(t.source) for t in TERMS)


def test_a_word_that_is_no_standard_term_is_refused_with_the_list():
    with pytest.raises(NotFound, match="term is 'spine tick'; allowed is abrasion, accretion"):
        defect(name="spine tick")


@pytest.mark.parametrize(
    ("name", "helped"),
    [
        ("cockled", Help.PRESS),
        ("dog-ear", Help.PRESS),
        ("dusty", Help.CLEAN),
        ("dirty", Help.CLEAN),
        # Embedded stains and tidelines are not removed by surface cleaning [nedcc-cleaning, seen].
        ("tideline", Help.NONE),
        ("stain", Help.NONE),
        ("tear", Help.NONE),
    ],
)
def test_the_stage_that_could_help_follows_from_the_term(name, helped):
    judged = judge_defects(ITEM, [defect(name=name)]).judged[0]
    assert judged.helped_by is helped
    assert judged.reason == term(name).reason


def test_the_operator_may_judge_otherwise():
    judged = judge_defects(ITEM, [defect(name="crease", helped_by=Help.NONE)]).judged[0]
    assert (judged.helped_by, judged.reason) == (Help.NONE, "as the operator judges")


def test_a_place_from_the_spine_on_a_verso_is_counted_from_the_right():
    """On a verso the spine is at the right: 20 mm from the spine of a page of 168 mm is x = 148."""
    spine = Q_(20, "mm")
    assert place_from_spine(ITEM, "verso", spine, width=Q_(0, "mm")).magnitude == pytest.approx(148)
    assert place_from_spine(ITEM, "recto", spine, width=Q_(5, "mm")).magnitude == pytest.approx(20)
    assert place_from_spine(ITEM, "verso", spine, width=Q_(5, "mm")).magnitude == pytest.approx(143)


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"at": (150, 10)}, "x of d1 is 170 mm at its far edge; allowed is at most 168 mm"),
        ({"at": (10, 254)}, "y of d1 is 259 mm at its far edge; allowed is at most 257 mm"),
        ({"face": "recto", "leaf": "37"}, "leaf of d1 is '37'; allowed is 1 to 36"),
        ({"face": "recto"}, "leaf of d1 is ''"),
    ],
)
def test_a_defect_outside_its_page_is_refused(facts, message):
    with pytest.raises(BadValue, match=message):
        judge_defects(ITEM, [defect(**facts)])


@pytest.mark.parametrize(
    ("facts", "message"),
    [
        ({"at": (-1, 10)}, "x of d1 is -1 mm"),
        ({"size": (0, 5)}, "width of d1 is 0 mm"),
        ({"severity": 4}, "severity of d1 is 4"),
    ],
)
def test_an_impossible_place_size_or_severity_is_refused(facts, message):
    with pytest.raises(BadValue, match=message):
        defect(**facts)


def test_a_defect_that_fills_its_page_is_inside():
    assert check_place(ITEM, defect(at=(0, 0), size=(168, 257))).leaf == "C1"


def test_two_defects_of_one_id_are_refused():
    with pytest.raises(BadValue, match="an id used once"):
        judge_defects(ITEM, [defect(), defect()])


def test_a_face_that_this_item_lacks_is_refused():
    with pytest.raises(NotFound, match="face is 'front cover, outside'"):
        judge_defects(annual(cover_leaves=0), [defect()])


def test_effort_stops_where_something_worse_will_stay():
    """Common practice, no source: beside a torn cover nobody sees a milder crease."""
    judged = judge_defects(
        ITEM,
        [
            defect(1, "tear", severity=3),
            defect(2, "crease", severity=3),
            defect(3, "cockled", severity=1),
            defect(4, "dirty", severity=2, in_scope=False),
        ],
    )
    assert [j.defect.id for j in judged.limiting] == ["d1"]
    assert [j.pays for j in judged.judged] == [False, True, False, False]
    assert judged.answer == (
        "Of 3 defects in scope, humidifying and pressing could help 2, cleaning 0, neither 1. "
        "What limits the outcome: d1, tear, front cover, outside. Effort counts on d2. "
        "On d3 it stops paying: milder than what will stay (loss of function or legibility)."
    )


def test_a_mild_defect_that_stays_limits_nothing():
    judged = judge_defects(ITEM, [defect(1, "foxing", severity=1), defect(2, "cockled", severity=1)])
    assert judged.limiting == ()
    assert [j.pays for j in judged.judged] == [False, True]


def test_the_operator_may_say_that_a_tear_does_not_limit():
    torn = defect(1, "tear", severity=3, limits_outcome=False)
    assert judge_defects(ITEM, [torn, defect(2, "cockled", severity=1)]).judged[1].pays
