"""The next tool of dry cleaning: what published advice forbids, the signs to stop at, and each wrong way."""

from dataclasses import replace

import pytest

from bench.item import Answer
from bench.practice.drawing import draw_item
from bench.practice.markers.tools import LATER, MARKER, STOP, Story, draw_story, log_of, solve
from bench.practice.marking import mark
from bench.practice.shapes import Judgement, Solution
from bench.treatment.cleaning.planning import CleaningChoices, plan_cleaning
from bench.treatment.cleaning.surfaces import Surface, SurfaceState
from bench.treatment.cleaning.tools import STOP_SIGNS
from bench.treatment.intake.spot_tests import Result
from bench.treatment.plan import Verdict

ERASERS = {"vinyl crumbs", "vinyl block"}
DRAWN = draw_item("side-stapled", 3)


def story(
    surface: Surface,
    *,
    done: int = 0,
    sign: str = "",
    coated: bool = False,
    soil: int = 3,
    rub: Result = Result.PASS,
) -> Story:
    answer = Answer.YES if coated else Answer.NO
    item = replace(
        DRAWN.item, cover_coated=answer, cover_paper="coated cover" if coated else "uncoated cover"
    )
    choices = CleaningChoices((SurfaceState(surface, 3, unprinted=0.6),), rub_test=rub)
    return Story(item, choices, plan_cleaning(item, choices), done, sign, is_stiff=False)


def solved(monkeypatch: pytest.MonkeyPatch, told: Story) -> Solution:
    monkeypatch.setattr("bench.practice.markers.tools.draw_story", lambda _: told)
    return solve(DRAWN, {})


def test_no_eraser_is_ever_next_on_newsprint():
    """Pearlstein and others 1982, as the plan cites them: newsprint is the weak case for any eraser."""
    for seed in range(80):
        told = draw_story(draw_item("any", seed, level=seed % 5))
        if told.surface in (Surface.LEAVES, Surface.EDGES):
            assert not ERASERS & {each.id for each in told.planned}
            assert told.next not in ERASERS


def test_nothing_that_rubs_follows_a_dark_swab():
    """Common practice, no source: ink that comes off on a dry swab is brushed only."""
    told = story(Surface.LEAVES, rub=Result.FAIL)
    assert [each.id for each in told.planned] == ["brush", "suction"]


def test_work_goes_on_from_the_gentlest_and_ends(monkeypatch: pytest.MonkeyPatch):
    """Common practice, no source: gentlest first, the next when one has come clean, then stop."""
    order = [solved(monkeypatch, story(Surface.LEAVES, done=done)).right for done in range(4)]
    assert order == ["brush", "suction", "rubber sponge", STOP]
    bare = [solved(monkeypatch, story(Surface.COVER_OUTSIDE, done=done)).right for done in range(6)]
    assert bare == ["brush", "suction", "rubber sponge", "vinyl crumbs", "vinyl block", STOP]


@pytest.mark.parametrize("sign", ["colour", "fibres", "gloss"])
def test_a_sign_stops_the_work_with_tools_left_over(sign: str, monkeypatch: pytest.MonkeyPatch):
    told = story(Surface.COVER_OUTSIDE, done=3, sign=sign)
    assert len(told.planned) > told.done
    solution = solved(monkeypatch, told)
    assert solution.right == STOP
    marked = mark(MARKER.question, solution, "vinyl crumbs")
    assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, "past-the-stop-sign")


def test_colour_in_the_log_is_what_the_log_itself_stops_at():
    """The log of a real treatment says stop at colour, and that a clean tool brings nothing more."""
    last = log_of(story(Surface.COVER_OUTSIDE, done=3, sign="colour"))[-1]
    assert [caution.verdict for caution in last.cautions] == [Verdict.STOP]
    clean = log_of(story(Surface.COVER_OUTSIDE, done=3))[-1]
    assert [caution.verdict for caution in clean.cautions] == [Verdict.GO]
    assert "another pass brings nothing" in clean.cautions[0].words
    assert {"colour on the tool", "fibres lift", "the surface starts to shine"} <= set(STOP_SIGNS)


@pytest.mark.parametrize(
    ("told", "answer", "way"),
    [
        (story(Surface.LEAVES, done=3), "vinyl crumbs", "eraser-on-a-weak-surface"),
        (
            story(Surface.COVER_OUTSIDE, coated=True, done=2, rub=Result.FAIL),
            "soft sponge",
            "beyond-what-pays",
        ),
        (story(Surface.LEAVES, done=2), "brush", "went-back"),
        (story(Surface.LEAVES, done=2), "soft sponge", "not-for-this-surface"),
        (story(Surface.COVER_OUTSIDE, done=3, sign="gloss"), "vinyl block", "past-the-stop-sign"),
        (story(Surface.COVER_OUTSIDE, done=3, sign="gloss"), "rubber sponge", "past-the-stop-sign"),
        (story(Surface.COVER_OUTSIDE, done=3, sign="gloss"), "brush", "went-back"),
        (story(Surface.LEAVES, done=1), "vinyl block", "eraser-on-a-weak-surface"),
        (story(Surface.LEAVES, done=1), "rubber sponge", "skipped-the-gentler"),
        (story(Surface.LEAVES, done=1), STOP, "stopped-early"),
        (story(Surface.COVER_OUTSIDE, done=5), LATER, "after-humidifying"),
        (story(Surface.COVER_OUTSIDE, coated=True, done=2), "vinyl crumbs", "eraser-on-a-weak-surface"),
    ],
)
def test_wrong_ways_are_told(told: Story, answer: str, way: str, monkeypatch: pytest.MonkeyPatch):
    marked = mark(MARKER.question, solved(monkeypatch, told), answer)
    assert (marked.judged, marked.wrong and marked.wrong.key) == (Judgement.WRONG, way)


def test_harm_names_what_wears_there(monkeypatch: pytest.MonkeyPatch):
    def harm(told: Story) -> str:
        ways = solved(monkeypatch, told).wrong
        return next(way.harm for way in ways if way.key == "eraser-on-a-weak-surface")

    assert "unsized" in harm(story(Surface.LEAVES))
    assert "gloss" in harm(story(Surface.COVER_OUTSIDE, coated=True))
    assert "grey smear" in harm(story(Surface.COVER_OUTSIDE, rub=Result.FAIL))


def test_every_wrong_way_comes_up():
    solutions = [solve(draw_item("any", seed, level=seed % 5), {}) for seed in range(80)]
    assert {way.key for solution in solutions for way in solution.wrong} == set(MARKER.wrong)
    assert sum(solution.right == STOP for solution in solutions) >= 15
