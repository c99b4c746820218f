"""What a plan of buffering takes of its bench's own measurements, what gives way to what, and what stays."""

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from bench.physics.bearing.knowns import Assumed
from bench.physics.bearing.plates import build_pack
from bench.physics.contact import pressure_from_word
from bench.physics.ranges import Range
from bench.treatment import facts
from bench.treatment.buffering import plan_buffering
from bench.treatment.buffering.choices import BufferingChoices, LoadPath
from bench.treatment.buffering.load import find_spacing, weigh_spacings
from bench.treatment.buffering.measured import assumed_here, boards_here, taken_here
from bench.treatment.measured import BOARD_BENDING, K1, K2, STAPLE_MARKS, THINNING, Accepted
from bench.treatment.plan import Verdict
from tests.makers import annual, annual_readings

TEXT, COVER, BOARD, CARD = "newsprint", "coated cover", "backing board 24 pt", "card 90 lb index"


def accepted(constant, about, *numbers, **more):
    value = Range.of(numbers, constant.unit)
    return Accepted(constant, about, value, date(2026, 1, 5), date(2028, 1, 5), **more)


PILE = (
    accepted(K1, TEXT, 5, 3.5, 7),
    accepted(K2, TEXT, 60, 53, 68),
    accepted(THINNING, TEXT, 2, 1.2, 3),
)
BOARDS = (
    accepted(BOARD_BENDING, BOARD, 0.057, 0.05, 0.065),
    accepted(BOARD_BENDING, CARD, 0.002, 0.0018, 0.0022),
)
STAPLES = (accepted(STAPLE_MARKS, COVER, 6, 2.1, 12),)


def choices(measured=(), *, even=False, **changes):
    usual = BufferingChoices(
        load=pressure_from_word("medium"), load_words="medium", path=LoadPath(even=even), measured=measured
    )
    return replace(usual, **changes)


def weigh(chosen, samples=400):
    rng = np.random.default_rng(1)
    readings = annual_readings()
    return weigh_spacings(annual(), readings, chosen, rng=rng, intervals=(6, 10), samples=samples)


def planned(chosen):
    return plan_buffering(annual(), annual_readings(), chosen, loads=weigh(chosen))


def width(estimate, unit):
    _, low, high = estimate.floats(unit, field="range")
    return high - low


@pytest.fixture(scope="module")
def usual():
    return planned(choices())


@pytest.fixture(scope="module")
def with_pile():
    return planned(choices(PILE))


def test_a_pile_of_the_same_paper_narrows_the_clearance(usual, with_pile):
    before, after = (plan.decision.chosen.clearance["upper staple"] for plan in (usual, with_pile))
    assert width(after, "um") < 0.75 * width(before, "um")
    give, narrower = (plan.value(facts.GIVE).uncertainty for plan in (usual, with_pile))
    assert narrower < 0.85 * give
    assert with_pile.value(facts.GIVE).source == "Pfeiffer's law, constants measured on this bench"


def test_it_is_listed_with_its_day(usual, with_pile):
    assert not [one for one in usual.assumptions if one.key.startswith("measured")]
    names = {one.name: one.words for one in with_pile.assumptions if one.key.startswith("measured")}
    assert list(names) == [K1.label, K2.label, THINNING.label]
    assert names[K1.label] == "5.0 kPa (3.5 to 7.0), newsprint, measured on this bench on 2026-01-05"
    give = next(one for one in with_pile.assumptions if one.name == "give of block, spine and boards")
    assert "as measured on this bench, the rest within wide ranges" in give.words
    assert give.source == "reading"


def test_boards_measured_stand_in_the_pack_beside_what_the_tables_say():
    pack = build_pack((BOARD, 2), (CARD, 1), measured={BOARD: Range.of((0.06, 0.05, 0.07), "N*m")})
    card = build_pack((CARD, 1)).bending
    for end, one in (("value", 0.06), ("low", 0.05), ("high", 0.07)):
        expected = 2 * one + float(getattr(card, end).to("N*m").magnitude)
        assert float(getattr(pack.bending, end).to("N*m").magnitude) == pytest.approx(expected)
    assert pack.give == build_pack((BOARD, 2), (CARD, 1)).give


@pytest.mark.slow
def test_boards_move_what_loose_weights_do():
    load = Range.of((4, 4, 4), "kPa")  # known, as the pile is: what is left is boards, readings and ramp
    before, after = (
        find_spacing(weigh(choices(m, even=True, load=load), samples=1000), 6) for m in (PILE, PILE + BOARDS)
    )
    assert width(after.unpressed, "mm") < 0.95 * width(before.unpressed, "mm")
    softer = (accepted(BOARD_BENDING, BOARD, 0.012, 0.011, 0.013),)
    tilted = find_spacing(weigh(choices((*PILE, *softer), even=True, load=load)), 6)
    assert tilted.unpressed.value < before.unpressed.value
    assert boards_here(annual(), choices(softer)).keys() == {BOARD}


def test_two_boards_have_a_row_each():
    names = [one.name for one in planned(choices(BOARDS)).assumptions]
    assert {f"{BOARD_BENDING.label}, {BOARD}", f"{BOARD_BENDING.label}, {CARD}"} <= set(names)
    assert len(names) == len(set(names))


def test_the_limit_on_a_staple_follows_the_load_at_which_one_marks(usual):
    """Half of 2.1 N on 12 mm by 0.7 mm is 125 kPa."""
    plan = planned(choices(STAPLES))
    found = plan.value(facts.STAPLE_PRESSURE.of("upper"))
    assert found.limit.to("kPa").magnitude == pytest.approx(125)
    assert found.limit_source.startswith("50 %, for damp paper (judgement), of 2.1 N, the low end")
    assert "measured on this bench on 2026-01-05" in found.limit_source
    assert usual.value(facts.STAPLE_PRESSURE.of("upper")).limit.to("kPa").magnitude == 50
    told = [one for one in plan.cautions if one.key == "staple-limit-measured"]
    assert [one.verdict for one in told] == [Verdict.GO]
    assert "staple-limit-measured" not in {one.key for one in usual.cautions}


@pytest.mark.slow
def test_a_higher_limit_is_exceeded_less_often_and_a_lower_one_more():
    low = (accepted(STAPLE_MARKS, COVER, 0.2, 0.05, 1.0),)
    chances = [
        find_spacing(weigh(choices(m, even=True)), 10).chances["upper staple"] for m in (STAPLES, (), low)
    ]
    assert chances[0] < chances[1] < chances[2]


OTHERS = (
    accepted(K1, "coated text", 1, 0.5, 2),
    accepted(K2, "coated text", 90, 80, 100),
    accepted(THINNING, "coated text", 5, 4, 6),
    accepted(BOARD_BENDING, "blotter", 0.001, 0.0009, 0.0011),
    accepted(STAPLE_MARKS, "uncoated cover", 6, 2.1, 12),
)


def test_what_was_measured_of_other_things_changes_nothing(usual):
    plan = planned(choices(OTHERS))
    assert plan.values == usual.values
    assert (plan.assumptions, plan.cautions) == (usual.assumptions, usual.cautions)


def test_findings_of_the_bench_go_before_a_trial_on_scrap():
    fitted = replace(Assumed(), k1=Range.of((8, 7, 9), "kPa"), stiffness=Range.of((1.1, 1, 1.2), ""))
    chosen = choices((*PILE, *BOARDS), assumed=fitted, learned="findings", fitted=("k1", "stiffness"))
    assert [one.constant for one in taken_here(annual(), chosen)] == [K2, THINNING]
    known = assumed_here(annual(), chosen)
    assert (known.k1, known.stiffness) == (fitted.k1, fitted.stiffness)
    assert (known.k2, known.thinning) == (PILE[1].value, PILE[2].value)
    unnamed = replace(chosen, fitted=())
    assert taken_here(annual(), unnamed) == taken_here(annual(), chosen)


def test_readings_of_the_item_go_before_both_but_leave_the_thinning():
    read = replace(Assumed(), k1=Range.of((6, 5, 7), "kPa"), k2=Range.of((62, 60, 64), ""))
    chosen = choices(PILE, assumed=read, read_under="readings under 5 and 50 kPa")
    known = assumed_here(annual(), chosen)
    assert (known.k1, known.k2, known.thinning) == (read.k1, read.k2, PILE[2].value)
    words = {one.name: one.words for one in planned(chosen).assumptions}
    assert words[K1.label].endswith("; the readings under 5 and 50 kPa are fitted from it")
    give = words["give of block, spine and boards"]
    assert f"the block as fitted to readings under 5 and 50 kPa, {THINNING.label} as measured" in give


def test_without_measurements_nothing_is_put_in_place():
    assert assumed_here(annual(), choices()) is None
    assert taken_here(annual(), choices()) == ()
    assert taken_here(replace(annual(), staples=()), choices(STAPLES)) == ()


def test_what_is_due_is_told():
    due = (accepted(K1, TEXT, 5, 3.5, 7, is_due=True), *PILE[1:])
    told = [one for one in planned(choices(due)).cautions if one.key == "measured-due"]
    assert [one.verdict for one in told] == [Verdict.CARE]
    assert "K1 of the text block, newsprint (since 2028-01-05)" in told[0].words


def test_by_thickness_alone_only_the_law_is_taken():
    plan = plan_buffering(annual(), annual_readings(), choices((*PILE, *BOARDS, *STAPLES)))
    keys = [one.key for one in plan.assumptions if one.key.startswith("measured")]
    assert keys == ["measured: k1", "measured: k2"]
    assert float(plan.value(facts.GIVE).value.magnitude) == pytest.approx(-0.0314, abs=2e-3)
