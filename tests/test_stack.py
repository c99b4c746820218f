"""The stack of layers."""

import pytest

from bench.errors import BadValue
from bench.stack import Role, build_item_stack, build_layer, insert_interleaves
from bench.units import Q_
from tests.makers import annual, annual_readings


def built():
    return build_item_stack(annual(), annual_readings())


def test_the_stack_is_as_thick_as_the_item_was_read():
    assert built().thickness().to("thou").magnitude == pytest.approx(173.5, abs=1e-9)


def test_interleaves_keep_every_leaf_and_add_their_thickness():
    stack = insert_interleaves(built(), [0, 6, 12, 18, 24, 30, 36], "copy paper 24 lb")
    assert sum(layer.count for layer in stack.of(Role.LEAF)) == 36
    gain = stack.thickness() - built().thickness()
    assert gain.to("thou").magnitude == pytest.approx(7 * 4.8, abs=1e-6)
    roles = [layer.role for layer in stack.layers]
    assert roles[:3] == [Role.COVER, Role.INTERLEAF, Role.LEAF]
    assert roles[-3:] == [Role.LEAF, Role.INTERLEAF, Role.COVER]


@pytest.mark.parametrize(("places", "words"), [([40], "0 to 36"), ([6, 6], "each place once")])
def test_impossible_places_are_refused(places, words):
    with pytest.raises(BadValue, match=words):
        insert_interleaves(built(), places, "copy paper 24 lb")


def test_mass_follows_the_balance_if_the_item_was_weighed():
    weighed = build_item_stack(annual(mass=Q_(96.0, "g")), annual_readings())
    assert weighed.mass().to("g").magnitude == pytest.approx(96.0)


def test_a_sheet_of_24_lb_trimmed_to_the_page_weighs_about_4_g():
    """Arithmetic: 90.2 g/m² × 168 × 257 mm = 3.9 g at room humidity."""
    stack = insert_interleaves(built(), [0], "copy paper 24 lb")
    assert stack.mass(Role.INTERLEAF).to("g").magnitude == pytest.approx(3.89, abs=0.01)


def test_the_trade_press_pack_is_about_a_millimetre_and_a_half_a_side():
    """Two 24 pt boards and a 90 lb card: 24 + 24 + 7.2 thousandths."""
    pack = [build_layer(Role.BOARD, "backing board 24 pt", 2), build_layer(Role.CARD, "card 90 lb index")]
    stack = built().between(pack, pack[::-1])
    added = stack.thickness() - built().thickness()
    assert added.to("thou").magnitude == pytest.approx(2 * 55.2, abs=0.1)
    assert stack.layers[0].role is Role.BOARD
    assert stack.layers[-1].role is Role.BOARD
