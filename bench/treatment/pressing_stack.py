"""The press stack: the pack above and below, and the same layers as heat sees them."""

from __future__ import annotations

from functools import lru_cache

from bench.errors import BadValue
from bench.item import Item, Thicknesses
from bench.materials import has_note, look_up, look_up_note
from bench.physics.heating import HeatLayer
from bench.physics.ranges import Range, as_range
from bench.physics.sorption import moisture_content
from bench.stack import Layer, Role, Stack, build_item_stack, build_layer, insert_interleaves
from bench.treatment.interleaves import place_interleaves
from bench.treatment.pressing_plan import PressingChoices
from bench.units import Q_, Quantity, to_humidity

PARTS = ("near half", "far half")
"""The item in two equal halves, from the hot platen down, as the heat estimate sees it."""

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
        places = [place.after_leaf for place in place_interleaves(item, choices.interval)]
        stack = insert_interleaves(stack, places, choices.sheet)
    pack = _pack(choices)
    plate = [build_layer(Role.PLATE, choices.plate)] if choices.plate else []
    return stack.between(pack, [*reversed(pack), *plate])


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


def build_heat_layers(stack: Stack, choices: PressingChoices) -> list[HeatLayer]:
    """Build the layers as heat sees them: the pack as it lies, the item as two equal halves.

    The sheets of the item are thin against the whole, so that they are taken as one pile with their
    resistances in series and their heat added up, with the water that each holds.
    """
    layers: list[HeatLayer] = []
    inside = [layer for layer in stack.layers if layer.role in ITEM_ROLES]
    done = False
    for layer in stack.layers:
        if layer.role in ITEM_ROLES:
            if not done:
                layers += _item_halves(inside, choices)
                done = True
        else:
            layers.append(_outside(layer, choices))
    return layers


@lru_cache(maxsize=256)
def _content(material: str, percent: float, celsius: float) -> Range:
    """Moisture content; a stack asks for the same few sheets again and again."""
    return moisture_content(material, Q_(percent, "percent"), temperature=Q_(celsius, "degC"))


@lru_cache(maxsize=64)
def _thermal(material: str, name: str) -> Range:
    stand_in = look_up_note(material, "heat").text if has_note(material, "heat") else material
    return as_range(look_up(stand_in, name))


def _dry_density(layer: Layer, humidity: Quantity, temperature: Quantity) -> tuple[Quantity, Range]:
    """Dry mass over volume, and water over dry mass; a plate holds no water."""
    if layer.grammage is None:
        return _thermal(layer.material, "density").value, Range(Q_(0.0, ""), Q_(0.0, ""), Q_(0.0, ""))
    percent, celsius = 100 * to_humidity(humidity), float(temperature.to("degC").magnitude)
    water = _content(layer.material, percent, celsius)
    held = float(water.value.to("").magnitude)
    return (layer.grammage / (1 + held) / layer.thickness).to("kg/m^3"), water


def _heat_capacity(material: str, water: Range) -> Range:
    """Heat capacity per dry mass: that of the dry sheet and of its water, 4180 J/(kg K)."""
    dry = _thermal(material, "specific heat").floats("J/kg/K", field="heat capacity")
    wet = water.floats("", field="moisture content")
    value, low, high = (Q_(c + 4180 * x, "J/kg/K") for c, x in zip(dry, wet, strict=True))
    return Range(value, low, high)


def _outside(layer: Layer, choices: PressingChoices) -> HeatLayer:
    density, water = _dry_density(layer, choices.room_humidity, choices.room_temperature)
    return HeatLayer(
        layer.role.value,
        layer.total_thickness,
        _thermal(layer.material, "thermal conductivity"),
        density,
        _heat_capacity(layer.material, water),
    )


def _item_halves(layers: list[Layer], choices: PressingChoices) -> list[HeatLayer]:
    thickness = sum((layer.total_thickness for layer in layers), start=Q_(0.0, "mm"))
    if thickness.magnitude <= 0:
        raise BadValue("thickness of the item", f"{thickness:~P}", "above zero", "Read it again")
    density, water = 0.0, 0.0
    resistance, heat = [0.0, 0.0, 0.0], [0.0, 0.0, 0.0]
    metres = float(thickness.to("m").magnitude)
    for layer in layers:
        damp = choices.room_humidity if layer.role is Role.INTERLEAF else choices.item_humidity.value
        dry, content = _dry_density(layer, damp, choices.room_temperature)
        part = float(layer.total_thickness.to("m").magnitude)
        mass = part * float(dry.to("kg/m^3").magnitude)
        density += mass
        water += mass * float(content.value.to("").magnitude)
        flow = _thermal(layer.material, "thermal conductivity").floats("W/m/K", field="conductivity")
        store = _heat_capacity(layer.material, content).floats("J/kg/K", field="heat capacity")
        resistance = [r + part / k for r, k in zip(resistance, flow, strict=True)]
        heat = [h + mass * c for h, c in zip(heat, store, strict=True)]
    conductivity = Range(*(Q_(metres / r, "W/m/K") for r in resistance))
    capacity = Range(*(Q_(h / density, "J/kg/K") for h in heat))
    dry_density = Q_(density / metres, "kg/m^3")
    return [HeatLayer(name, thickness / len(PARTS), conductivity, dry_density, capacity) for name in PARTS]
