"""Where the laws of paper end, and items that are very thin: no answer may be too good for that."""

from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue
from bench.item import Prong, Thicknesses
from bench.physics.bearing.laws import TOP
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.load import find_spacing, weigh_spacings
from bench.treatment.plan import Verdict
from bench.units import Q_
from tests.makers import annual, annual_readings, read_thou, stapled_issue


def under(kilopascals, **changes):
    load = Range.of((kilopascals, 0.98 * kilopascals, 1.02 * kilopascals), "kPa")
    return BufferingChoices(load=load, load_words=f"{kilopascals} kPa", **changes)


@pytest.fixture(scope="module")
def hard_pressed():
    """An issue with few sheets, and a press run down harder and harder."""
    readings = Thicknesses(
        read_thou(73, "text block"),
        {"upper": read_thou(80, "upper staple"), "lower": read_thou(80, "lower staple")},
    )

    def weigh(kilopascals):
        loads = weigh_spacings(
            stapled_issue(),
            readings,
            under(kilopascals, interval=8),
            rng=np.random.default_rng(1),
            intervals=(8,),
            samples=500,
        )
        return find_spacing(loads, 8)

    return {kilopascals: weigh(kilopascals) for kilopascals in (250, 300, 350, 400, 450, 490)}


@pytest.mark.parametrize("end", ["low", "value", "high"])
@pytest.mark.parametrize("place", ["spine", "upper", "lower"])
def test_a_harder_press_never_presses_spine_or_staple_less(hard_pressed, place, end):
    found = [b.spine if place == "spine" else b.staples[place] for b in hard_pressed.values()]
    numbers = [float(getattr(r, end).to("kPa").magnitude) for r in found]
    assert numbers == sorted(numbers)


def test_samples_beyond_the_laws_count_as_the_end_of_the_laws(hard_pressed):
    bearing = hard_pressed[450]
    assert bearing.solved < 0.9
    for pressure in (bearing.spine, *bearing.staples.values()):
        assert pressure.high.to("Pa").magnitude == pytest.approx(TOP)


def test_a_sample_lost_at_a_staple_alone_is_told_too():
    """A high wire over a low spine: the section between staples holds, the balance at the wire does not."""
    proud = tuple(replace(staple, prong=Prong.PROUD) for staple in annual().staples)
    readings = replace(
        annual_readings(),
        over_staples={"upper": read_thou(200, "upper staple"), "lower": read_thou(172.5, "lower staple")},
        spine_edge=read_thou(165, "spine edge"),
    )
    item, chosen = annual(staples=proud), under(20)
    loads = weigh_spacings(item, readings, chosen, rng=np.random.default_rng(1), intervals=(6,), samples=500)
    assert loads[0].spine.high.magnitude < 1
    assert loads[0].staples["upper"].high.to("Pa").magnitude == pytest.approx(TOP)
    assert loads[0].solved < 0.9
    plan = plan_buffering(item, readings, chosen, loads=loads)
    assert any("would be crushed" in caution.words for caution in plan.cautions)


@pytest.mark.parametrize(("kilopascals", "told"), [(45, False), (60, True), (400, True)])
def test_a_load_beyond_a_firm_hand_press_is_told(kilopascals, told):
    """Common practice, no source: a screw press turned by hand comes to 50 kPa at most."""
    chosen = under(kilopascals)
    loads = weigh_spacings(
        annual(), annual_readings(), chosen, rng=np.random.default_rng(1), intervals=(6,), samples=200
    )
    plan = plan_buffering(annual(), annual_readings(), chosen, loads=loads)
    said = [c for c in plan.cautions if "firm hand press" in c.words]
    assert bool(said) is told
    assert all(c.verdict is Verdict.CARE and f"load, {kilopascals}" in c.words for c in said)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("word", ["light", "firm"])
def test_a_very_thin_issue_is_planned_all_the_way(seed, word):
    """Eight leaves in five thousandths, as of tissue: what is guessed of its spine stays above nothing."""
    item = stapled_issue(leaves=8, cover_leaves=0)
    readings = Thicknesses(read_thou(5, "text block"))
    chosen = BufferingChoices(load=pressure_from_word(word), load_words=word, interval=3)
    loads = weigh_spacings(item, readings, chosen, rng=np.random.default_rng(seed), samples=2000)
    plan = plan_buffering(item, readings, chosen, loads=loads)
    assert plan.answer
    for bearing in loads:
        for room in bearing.clearance.values():
            assert np.isfinite(room.floats("um", field="room")).all()


def test_the_guess_of_a_spine_is_as_before_where_the_item_is_not_thin():
    readings = Thicknesses(read_thou(25, "text block"))
    item = stapled_issue(leaves=8)
    chosen = BufferingChoices(load=pressure_from_word("medium"), load_words="medium", interval=3)
    loads = weigh_spacings(item, readings, chosen, rng=np.random.default_rng(1), samples=500)
    assert 0.05 < loads[0].doubt["spine edge"].to("mm").magnitude < 0.15  # 0.15 mm either way, once in twenty


def test_a_block_thinner_than_its_cover_is_refused_by_that_name():
    chosen = BufferingChoices(load=pressure_from_word("medium"), load_words="medium")
    with pytest.raises(BadValue, match=r"thickness of a leaf .*reading over the text block"):
        weigh_spacings(
            stapled_issue(leaves=8),
            Thicknesses(read_thou(5, "text block")),
            chosen,
            rng=np.random.default_rng(1),
            samples=200,
        )


def test_readings_that_reach_nothing_within_their_doubt_are_refused():
    block = read_thou(5, "text block")
    vague = replace(block, components=tuple(replace(c, u=Q_(4, "thou")) for c in block.components))
    chosen = BufferingChoices(load=pressure_from_word("medium"), load_words="medium")
    with pytest.raises(BadValue, match="as large as the thickness"):
        weigh_spacings(
            stapled_issue(leaves=8, cover_leaves=0),
            Thicknesses(vague),
            chosen,
            rng=np.random.default_rng(1),
            samples=500,
        )
