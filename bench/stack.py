"""The stack: layers in contact, top first.  Every calculation runs on a stack.

It is built once from the item and the operator's choices; buffering puts interleaves in, pressing
adds boards, plate and platen.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from bench.errors import BadValue, NotFound
from bench.item import Item, Thicknesses, cover_thickness
from bench.materials import look_up
from bench.units import Q_, Quantity, to_float


class Role(StrEnum):
    """What a layer is in the stack."""

    PLATEN = "platen"
    PLATE = "plate"
    BOARD = "board"
    CARD = "card"
    RELEASE = "release sheet"
    COVER = "cover"
    LEAF = "leaf"
    INTERLEAF = "interleaf"


@dataclass(frozen=True)
class Layer:
    """One or more like sheets in contact.

    Attributes
    ----------
    role : Role
        What it is in the stack.
    material : str
        Its name in the materials table.
    count : int
        How many sheets.
    thickness : Quantity
        Of one sheet, as it lies in this stack.
    grammage : Quantity or None
        Mass per area of one sheet at room humidity (ISO 536), if known.
    """

    role: Role
    material: str
    count: int
    thickness: Quantity
    grammage: Quantity | None = None

    def __post_init__(self) -> None:
        if self.count < 1:
            raise BadValue(
                f"count of {self.material}", self.count, "1 or more", "Leave the layer out instead"
            )

    def __hash__(self) -> int:
        """Give a hash of what is told fast; two alike in that are compared in full."""
        return hash((self.role, self.material, self.count))

    @cached_property
    def numbers(self) -> tuple[float, float | None]:
        """Thickness in m and grammage in kg/m², if known, of one sheet in plain numbers.

        Raises
        ------
        BadValue
            No sheet is like that.
        """
        thickness = to_float(self.thickness, "m", field=f"thickness of {self.material}", low=1e-6, high=0.1)
        if self.grammage is None:
            return thickness, None
        field = f"grammage of {self.material}"
        return thickness, to_float(self.grammage, "kg/m^2", field=field, low=1e-3, high=5.0)

    @property
    def total_thickness(self) -> Quantity:
        """Thickness of all its sheets."""
        return (self.count * self.thickness).to("mm")


@dataclass(frozen=True)
class Stack:
    """Layers in contact, top first, over one face area."""

    layers: tuple[Layer, ...]
    area: Quantity

    def __hash__(self) -> int:
        """Give a hash of the layers; two alike in that are compared in full."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash(self.layers)

    def of(self, *roles: Role) -> tuple[Layer, ...]:
        """Give the layers of these roles; without a role, all of them."""
        return tuple(layer for layer in self.layers if not roles or layer.role in roles)

    def thickness(self, *roles: Role) -> Quantity:
        """Give the total thickness, of these roles or of all."""
        return sum((layer.total_thickness for layer in self.of(*roles)), start=Q_(0.0, "mm"))

    def mass(self, *roles: Role) -> Quantity:
        """Give the mass at room humidity of these roles; a layer without a grammage is refused."""
        total = Q_(0.0, "g")
        for layer in self.of(*roles):
            if layer.grammage is None:
                remedy = "Weigh a sheet or take a material whose grammage is known"
                raise BadValue(f"grammage of {layer.material}", "unknown", "a value in g/m²", remedy)
            total += (layer.count * layer.grammage * self.area).to("g")
        return total

    def between(self, above: Sequence[Layer], below: Sequence[Layer]) -> Stack:
        """Put layers on top and underneath; ``above`` and ``below`` are listed top first."""
        return replace(self, layers=(*above, *self.layers, *below))


def build_layer(role: Role, material: str, count: int = 1) -> Layer:
    """Build a layer from the materials table."""
    thickness = look_up(material, "thickness").value.to("mm")
    try:
        grammage: Quantity | None = look_up(material, "grammage").value
    except NotFound:
        grammage = None
    return Layer(role, material, count, thickness, grammage)


def build_item_stack(item: Item, thicknesses: Thicknesses) -> Stack:
    """Build the stack of the closed item as it was read: cover, leaves, cover.

    The leaves share what the text block reading leaves after the cover, so that the stack is as
    thick as it was read.  The grammage of a leaf comes from the mass of the item if it was weighed,
    otherwise from the materials table.
    """
    cover = cover_thickness(item).to("mm")
    block = thicknesses.text_block.value.to("mm")
    leaf = (block - item.cover_leaves * cover) / item.leaves
    if leaf.magnitude <= 0:
        remedy = "Check the reading over the text block and the cover paper"
        raise BadValue("thickness of a leaf", f"{leaf:.3f~P}", "above zero", remedy)
    cover_grammage = look_up(item.cover_paper, "grammage").value
    leaf_grammage = look_up(item.text_paper, "grammage").value
    if item.mass is not None:
        left = item.mass / item.area - item.cover_leaves * cover_grammage
        leaf_grammage = (left / item.leaves).to("gsm")
    leaves = Layer(Role.LEAF, item.text_paper, item.leaves, leaf, leaf_grammage)
    if not item.cover_leaves:
        return Stack((leaves,), item.area)
    face = Layer(Role.COVER, item.cover_paper, 1, cover, cover_grammage)
    return Stack((face, leaves, face), item.area)


def insert_interleaves(stack: Stack, after: Iterable[int], material: str) -> Stack:
    """Put one sheet after each of the given leaves (0 is under the front cover).

    Parameters
    ----------
    stack : Stack
        The closed item: cover, leaves, cover, or leaves alone.
    after : iterable of int
        Leaf numbers; the last leaf's number puts a sheet under the back cover.
    material : str
        Of the sheets.

    Raises
    ------
    BadValue
        A place outside the text block, or the same place twice.
    """
    leaves = stack.of(Role.LEAF)[0]
    places = sorted(after)
    if len(set(places)) != len(places):
        raise BadValue("places of interleaves", places, "each place once", "Take the second sheet out")
    if places and not 0 <= places[0] <= places[-1] <= leaves.count:
        raise BadValue("places of interleaves", places, f"0 to {leaves.count}", "Count within the text block")
    built: list[Layer] = []
    done = 0
    for place in places:
        if place > done:
            built.append(replace(leaves, count=place - done))
        built.append(build_layer(Role.INTERLEAF, material))
        done = place
    if done < leaves.count:
        built.append(replace(leaves, count=leaves.count - done))
    position = stack.layers.index(leaves)
    return replace(stack, layers=(*stack.layers[:position], *built, *stack.layers[position + 1 :]))
