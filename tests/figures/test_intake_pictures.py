"""The defect map and the order of tools: what is drawn is what was said."""

import re
from itertools import pairwise

import pytest

from bench.errors import BadValue
from bench.figures.cleaning import draw_work, left_out_page, order_page, work_table
from bench.figures.faces import draw_defect_map, draw_item
from bench.figures.intake import condition_page, gate_page, gate_table
from bench.figures.marks import Line, Region, Words
from bench.figures.style import INK
from bench.treatment.cleaning import CleaningChoices, plan_cleaning
from bench.treatment.cleaning.surfaces import Surface, SurfaceState
from bench.treatment.intake import decide_intake
from bench.treatment.intake.defects import Defect
from bench.treatment.intake.spot_tests import Result
from bench.treatment.review.comparison import DefectCourse, Sighting
from bench.units import MILLIMETRES, Q_
from tests.makers import annual

ITEM = annual()


def defect(number, term, face="front cover, outside", x=10, y=10, width=40, height=80, **more):
    sides = {"x": x, "y": y, "width": width, "height": height}
    return Defect(f"d{number}", term, face, **{k: Q_(v, "mm") for k, v in sides.items()}, **more)


DEFECTS = [
    defect(1, "cockled"),
    defect(2, "dirty", x=100),
    defect(3, "tear", y=200, height=20, severity=2),
    defect(4, "foxing", face="verso", leaf="3", in_scope=False),
]


def boxes(chart):
    """The regions that a click on the map takes for a defect, by its id."""
    return {part.chooses: part for part in chart.parts if isinstance(part, Region) and part.chooses}


def size_of(region):
    return max(region.x) - min(region.x), max(region.y) - min(region.y)


def words_of(chart):
    return [part.words for part in chart.parts if isinstance(part, Words)]


def test_every_defect_is_a_box_with_its_id_sign_and_term():
    picture = draw_defect_map(ITEM, DEFECTS)
    assert sorted(boxes(picture)) == ["d1", "d2", "d3", "d4"]
    for words in ("△ d1 cockled", "○ d2 dirty", "✕ d3 tear", "✕ d4 foxing", "leaf 3, verso"):
        assert f">{words}<" in picture.svg
    assert picture.reads == (
        "4 defects on 2 faces: 1 clean, 1 humidify and press, 2 no stage helps; d3 limits the outcome."
    )


def test_boxes_are_to_scale():
    """40 x 80 mm on the drawing, which counts both axes alike."""
    picture = draw_defect_map(ITEM, DEFECTS)
    assert picture.is_to_scale
    assert size_of(boxes(picture)["d1"]) == pytest.approx((40, 80))
    assert size_of(boxes(picture)["d2"]) == pytest.approx((40, 80))


def test_a_fine_line_is_found_by_a_finger_and_drawn_as_fine_as_it_is():
    picture = draw_defect_map(ITEM, [defect(1, "crease", width=0.5)])
    (drawn,) = (part for part in picture.parts if isinstance(part, Region) and part.edge and part.hatch)
    assert size_of(drawn) == pytest.approx((0.5, 80))
    assert size_of(boxes(picture)["d1"])[0] > 5


def test_a_small_defect_lies_over_a_large_one_for_the_hand():
    small, large = defect(1, "tear", x=30, y=30, width=10, height=10), defect(2, "dirty", width=120)
    assert list(boxes(draw_defect_map(ITEM, [small, large]))) == ["d2", "d1"]


def test_pointing_at_a_defect_says_what_it_is():
    said = boxes(draw_defect_map(ITEM, DEFECTS))
    assert said["d3"].says == "d3 tear\n2 plain\n40.0 × 20.0 mm; no stage helps"
    assert said["d4"].says.startswith("d4 foxing, out of scope\n")


def test_the_map_after_treatment_says_both_grades():
    seen = (Sighting(0, 2), Sighting(1, 0))
    courses = [
        DefectCourse("d1", "cockled", "front cover, outside", "humidify and press", True, seen),
        DefectCourse("d2", "dirty", "front cover, outside", "clean", True, seen[:1]),
    ]
    picture = draw_defect_map(ITEM, DEFECTS[:2], courses=courses)
    assert "△ d1 cockled 2 → 0" in words_of(picture)
    assert "○ d2 dirty, not looked at again" in words_of(picture)
    assert "before 2 plain, after 0 none" in boxes(picture)["d1"].says
    assert picture.reads.startswith("2 defects on 1 face, 1 seen again")


def test_the_item_shows_each_staple_at_its_place():
    """The lower staple is 215 mm from the head of a page of 257 mm, the upper 38."""
    picture = draw_item(ITEM, MILLIMETRES)
    wires = [part for part in picture.parts if isinstance(part, Region) and part.face == INK]
    assert sorted((max(wire.y) + min(wire.y)) / 2 for wire in wires) == pytest.approx([-215, -38])
    assert "upper staple: 38.0 mm from the head, 8.00 mm from the spine" in picture.svg
    assert picture.reads == "The front to scale, 168 mm × 257 mm, with 2 staples."
    assert draw_item(annual(staples=()), MILLIMETRES).reads.endswith("with no staples.")


def test_an_item_without_defects_still_has_its_map():
    assert "No defect is listed yet" in draw_defect_map(ITEM, []).reads
    assert "<svg" in draw_defect_map(annual(cover_leaves=0), []).svg


def test_many_faces_go_into_more_rows():
    many = [defect(n, "crease", face="recto", leaf=str(n)) for n in range(1, 8)]
    picture = draw_defect_map(ITEM, many)
    assert len(boxes(picture)) == 7


def test_a_defect_outside_its_page_is_not_drawn_elsewhere():
    with pytest.raises(BadValue, match="x of d1"):
        draw_defect_map(ITEM, [defect(1, "crease", x=160)])


def plan(rub_test=Result.PASS):
    states = (
        SurfaceState(Surface.COVER_OUTSIDE, soil=2, unprinted=0.4),
        SurfaceState(Surface.LEAVES, soil=1, share=0.1),
        SurfaceState(Surface.SPINE, soil=0),
    )
    return plan_cleaning(ITEM, CleaningChoices(states, rub_test=rub_test))


def test_every_pass_is_drawn_once_and_in_order():
    found = plan()
    picture = draw_work(found)
    bars = [part for part in picture.parts if isinstance(part, Region)]
    assert [bar.says.split("\n")[0] for bar in bars] == [p.tool.name for p in found.passes]
    lengths = [size_of(bar)[0] for bar in bars]
    assert lengths == pytest.approx([p.time.m_as("min") for p in found.passes])
    assert f"{len(found.passes)} passes on 2 surfaces" in picture.reads
    assert "gain is to be expected on: cover, outside" in picture.reads
    assert "no soil" in picture.svg


def test_a_plan_without_a_pass_says_so_in_place_of_an_empty_picture():
    clean = plan_cleaning(ITEM, CleaningChoices((SurfaceState(Surface.LEAVES, soil=0),)))
    assert order_page(clean).words.startswith("No tool is taken up in this plan. No soil is entered")
    assert left_out_page(clean).words == "Where no soil is entered, no tool is weighed up."
    assert order_page(plan()).svg == draw_work(plan()).svg


def test_the_same_plan_gives_the_same_bytes():
    assert draw_work(plan()).svg == draw_work(plan()).svg
    assert draw_defect_map(ITEM, DEFECTS).svg == draw_defect_map(ITEM, DEFECTS).svg


def test_pages_hold_every_pass_and_every_tool_left_out():
    found = plan(Result.FAIL)
    assert work_table(found).count("<tr>") == 1 + len(found.passes)
    assert "soft polyurethane sponge" in left_out_page(found).words


def test_a_gate_page_names_effect_and_evidence_and_escapes_what_was_typed():
    reason = "seen with the owner <b>and dry</b> for many years"
    decided = decide_intake(ITEM, findings={"past_mould": "yes"}, overrides={"past_mould": reason})
    html = gate_page(decided).html
    assert "▲&nbsp;overridden" in html
    assert "■&nbsp;hold" in html
    short = gate_table(decided.gates, only_met=True)
    assert "proud staples" in short.split("</table>")[1]
    assert "&lt;b&gt;and dry" in html
    assert "Relative humidity at most 80 %" in condition_page(decided).words


def test_pictures_stay_small_enough_for_a_page():
    """A notebook of 300 000 bytes holds several."""
    assert len(draw_defect_map(ITEM, DEFECTS).svg) < 60_000
    assert len(draw_work(plan()).svg) < 60_000


def test_labels_of_defects_that_lie_close_do_not_cover_each_other():
    """Lines of type of 7.5 points that share a stretch stand at least 7.5 points from each other."""
    close = [defect(k, "discoloration", x=20 + k, y=20 + k, width=30, height=6) for k in range(1, 6)]
    svg = draw_defect_map(ITEM, close).svg
    lines = re.findall(r'<text[^>]* x="([-\d.]+)" y="([-\d.]+)"[^>]*>[^<]*discoloration', svg)
    heights = sorted(float(y) for _, y in lines)
    assert len(heights) == 5
    assert all(after - before > 7.5 for before, after in pairwise(heights))


def test_a_line_and_a_point_are_drawn_as_what_they_are():
    """From corner to corner of their boxes, a spot in the middle; all are found by the hand."""
    shapes = ("falling line", "rising line", "point")
    listed = [defect(n, "crease", x=10 + 40 * n, width=30, shape=shape) for n, shape in enumerate(shapes)]
    picture = draw_defect_map(ITEM, listed)
    lines = (part for part in picture.parts if isinstance(part, Line))
    falling, rising = (line for line in lines if line.x[1] - line.x[0] == pytest.approx(30))
    assert falling.y[0] > falling.y[1]
    assert rising.y[0] < rising.y[1]
    (spot,) = (part for part in picture.parts if isinstance(part, Region) and part.face and not part.edge)
    assert (max(spot.x) + min(spot.x)) / 2 == pytest.approx(10 + 80 + 15)
    assert sorted(boxes(picture)) == ["d0", "d1", "d2"]
    assert draw_defect_map(ITEM, [defect(1, "crease")]).parts != picture.parts
    with pytest.raises(BadValue, match="shape of d1"):
        defect(1, "crease", shape="circle")
