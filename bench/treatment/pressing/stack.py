"""The press stack: the pack above and below, and the same layers as heat sees them."""

from __future__ import annotations

from bench.item import Item, Thicknesses
from bench.stack import Layer, Role, Stack, build_item_stack, build_layer, insert_interleaves
from bench.treatment.interleaves import place_interleaves
from bench.treatment.pressing.plan import PressingChoices
from bench.units import Q_, Quantity

ITEM_ROLES = (Role.COVER, Role.LEAF, Role.INTERLEAF)


def build_press_stack(item: Item, thicknesses: Thicknesses, choices: PressingChoices) -> Stack:
    """Build the stack from the hot platen down: boards, card, release, item, release, card, boards, plate.

    Raises
    ------
    NotFound, BadValue
        A material that no table holds, or more interleaves than leaves.
    """
    stack = build_item_stack(item, thicknesses)
    if choices.interval is not None:
        places = [p.after_leaf for p in place_interleaves(item, choices.interval, choices.sheets)]
        stack = insert_interleaves(stack, places, choices.sheet)
    pack = _pack(choices)
    plate = [build_layer(Role.PLATE, choices.plate)] if choices.plate else []
    return stack.between(pack, [*reversed(pack), *plate])


def contact_load(choices: PressingChoices) -> Quantity:
    """Give the load under which the sheets touch: the platen itself touches, without any load."""
    return max(choices.load.value.to("kPa"), Q_(0.05, "kPa"))


def _pack(choices: PressingChoices) -> list[Layer]:
    """Build one side of the pack, from the platen to the item."""
    pack = []
    if choices.boards:
        pack.append(build_layer(Role.BOARD, choices.board, choices.boards))
    if choices.cards:
        pack.append(build_layer(Role.CARD, choices.card, choices.cards))
    if choices.release:
        pack.append(build_layer(Role.RELEASE, choices.release))
    return pack
