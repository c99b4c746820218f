"""Where the water goes: what interleaves and boards take up, and when the item may be released."""

from __future__ import annotations

from dataclasses import replace

from bench.item import Item
from bench.physics.isotherms import isotherm_of
from bench.physics.ranges import Estimate, Range
from bench.physics.sorption import (
    DrySheetChanges,
    Part,
    changes_of_dry_sheets,
    dry_mass,
    humidity_after_warming,
    resting_humidity,
)
from bench.physics.transfer import estimate_uptake_hours
from bench.physics.vapour import STILL_AIR_FILM
from bench.stack import Role, Stack
from bench.treatment.humidity_plan import TRANSPORT_RATIO
from bench.treatment.pressing_plan import PressingChoices, Water
from bench.units import Q_, Quantity, to_humidity

VAPOUR_TIGHT = ("silicone release paper",)
"""Release sheets that keep the water from the boards; silicone slows the exchange, from memory."""

MOST_CHANGES = 15
_HIGHEST = 99.0  # % RH: no isotherm of paper is known above
_NO_FILM = Q_(0.1, "m/s")  # sheets in contact: next to no film of air between them


def estimate_water(item: Item, stack: Stack, choices: PressingChoices, warmest: Range | None) -> Water:
    """Estimate the water balance of the closed stack and of the changes of interleaves.

    Parameters
    ----------
    item : Item
    stack : Stack
        The whole press stack.
    choices : PressingChoices
    warmest : Range [temperature] or None
        Of the middle of the item while it is hot; None in a cold press.

    Returns
    -------
    Water

    Notes
    -----
    Mass balance of :mod:`bench.physics.water_balance`: nothing leaves the closed stack.  Each interval
    joins the doubt of the item's humidity with that of the published isotherms.  Paper that dries
    holds about one part in a hundred more than it took up to, which is left out: it errs towards more
    changes.
    """
    given = choices.item_humidity
    sheets, pack = _takers(stack, choices)
    rests = [
        resting_humidity([*_item_parts(item, stack, choices, end), *sheets, *pack])
        for end in (given.value, given.low, given.high)
    ]
    rest = Range(rests[0].humidity.value, rests[1].humidity.low, rests[2].humidity.high)
    parts = [*_item_parts(item, stack, choices, given.value), *sheets, *pack]
    changes = _count_changes(item, stack, choices, rest)
    dry = _total(_item_parts(item, stack, choices, given.value))
    return Water(
        warm=_warm(rest, choices, warmest),
        rest=rest,
        gains={part.name: gain for part, gain in zip(parts, rests[0].gains, strict=True)},
        changes=changes,
        released=_released(rest, choices, changes),
        sheet_mass=stack.mass(Role.INTERLEAF),
        ratio=float((_total(sheets) / dry).to("").magnitude),
        exchange=_exchange(item, stack, choices) if sheets else None,
        conditioning=_conditioning(item, stack, choices, rest),
    )


def _total(parts: list[Part]) -> Quantity:
    return sum((part.dry_mass for part in parts), start=Q_(0.0, "g"))


def _dry(mass: Quantity, paper: str, choices: PressingChoices) -> Quantity:
    air = {"humidity": choices.room_humidity, "temperature": choices.room_temperature}
    return dry_mass(mass, paper=paper, **air).value


def _item_parts(item: Item, stack: Stack, choices: PressingChoices, humidity: Quantity) -> list[Part]:
    """Leaves and cover at the humidity they came out of the chamber with."""
    damp = Q_(min(_HIGHEST, 100 * to_humidity(humidity)), "percent")
    parts = [Part("leaves", _dry(stack.mass(Role.LEAF), item.text_paper, choices), item.text_paper, damp)]
    if item.cover_leaves:
        cover = _dry(stack.mass(Role.COVER), item.cover_paper, choices)
        parts.append(Part("cover", cover, item.cover_paper, damp))
    return parts


def _takers(
    stack: Stack, choices: PressingChoices, humidity: Quantity | None = None
) -> tuple[list[Part], list[Part]]:
    """List what can take water up: interleaves, and the pack if the release sheet lets vapour through."""
    pack_air = choices.room_humidity if humidity is None else humidity
    pack = {} if choices.release in VAPOUR_TIGHT else {Role.BOARD: choices.board, Role.CARD: choices.card}
    names = {Role.BOARD: "boards", Role.CARD: "cards"}
    sheets = stack.mass(Role.INTERLEAF)
    return (
        [Part("interleaves", _dry(sheets, choices.sheet, choices), choices.sheet, choices.room_humidity)]
        if stack.of(Role.INTERLEAF)
        else [],
        [
            Part(names[role], _dry(stack.mass(role), material, choices), material, pack_air)
            for role, material in pack.items()
            if stack.of(role)
        ],
    )


def _count_changes(
    item: Item, stack: Stack, choices: PressingChoices, rest: Range
) -> tuple[DrySheetChanges, ...]:
    """Count sets of fresh interleaves after the night; the pack stays in the stack, as damp as the item."""
    found = []
    for end in (rest.value, rest.low, rest.high):
        sheets, _ = _takers(stack, choices)
        if not sheets:
            return ()
        _, pack = _takers(stack, choices, end)
        stays = [*_item_parts(item, stack, choices, end), *pack]
        found.append(changes_of_dry_sheets(stays, sheets, limit=choices.release_limit, most=MOST_CHANGES))
    return tuple(found)


def _released(rest: Range, choices: PressingChoices, changes: tuple[DrySheetChanges, ...]) -> Range:
    """Humidity after the changes wished."""
    if not changes or choices.changes == 0:
        return rest
    likely, dry, damp = (_after(found, choices.changes) for found in changes)
    value = rest.value if likely is None else likely.value
    low = rest.low if dry is None else dry.low  # None: already below the limit, nothing was counted
    high = rest.high if damp is None else damp.high
    return Range(value, min(low, value), max(high, value))


def _after(found: DrySheetChanges, changes: int) -> Estimate | None:
    sets = found.humidities
    return sets[min(changes, len(sets)) - 1] if sets else None


def _warm(rest: Range, choices: PressingChoices, warmest: Range | None) -> Range:
    """Humidity of the closed stack while hot: between item as it came and at rest with its sheets."""
    value, low, high = rest.floats("percent", field="humidity")
    high = max(high, 100 * to_humidity(choices.item_humidity.high))
    high = min(high, _HIGHEST)
    if warmest is None:
        return Range(Q_(value, "percent"), Q_(low, "percent"), Q_(high, "percent"))
    room = choices.room_temperature
    ends = [
        humidity_after_warming(Q_(percent, "percent"), from_temperature=room, to_temperature=warmest.value)
        for percent in (value, low, high)
    ]
    return Range(ends[0].value, ends[1].low, ends[2].high)


def _slope(item: Item, choices: PressingChoices, damp: float) -> Range:
    """Chord of the isotherm down to room humidity, a quarter less to twice as much: no fit for drying."""
    fit = isotherm_of(item.text_paper)
    celsius = float(choices.room_temperature.to("degC").magnitude)
    room = to_humidity(choices.room_humidity)
    damp = max(damp, room + 0.02)
    chord = (fit.content(damp, celsius) - fit.content(room, celsius)) / (damp - room)
    return Range(Q_(chord, ""), Q_(0.75 * chord, ""), Q_(2 * chord, ""))


def _density(stack: Stack) -> Range:
    """Dry density of the item, its leaves as they lie; within a sixth."""
    thickness = stack.thickness(Role.LEAF, Role.COVER)
    dry = (stack.mass(Role.LEAF, Role.COVER) / (1.06 * stack.area * thickness)).to("kg/m^3")
    return Range(dry, dry / 1.17, 1.17 * dry)


def _exchange(item: Item, stack: Stack, choices: PressingChoices) -> Estimate:
    """Hours until a group of leaves rests with the sheets on both its sides, nine tenths of the way."""
    largest = max(layer.total_thickness for layer in stack.of(Role.LEAF))
    damp = 100 * to_humidity(choices.item_humidity.value)
    return estimate_uptake_hours(
        thickness=largest,
        transport_ratio=TRANSPORT_RATIO,
        density=_density(stack),
        isotherm_slope=_slope(item, choices, damp / 100),
        temperature=choices.room_temperature,
        film=_NO_FILM,
    )


def _conditioning(item: Item, stack: Stack, choices: PressingChoices, rest: Range) -> Estimate:
    """Hours until the closed item has given off nine tenths of what is left, both faces open."""
    damp = to_humidity(rest.value)
    found = estimate_uptake_hours(
        thickness=stack.thickness(Role.LEAF, Role.COVER),
        transport_ratio=TRANSPORT_RATIO,
        density=_density(stack),
        isotherm_slope=_slope(item, choices, damp),
        temperature=choices.room_temperature,
        film=STILL_AIR_FILM,
    )
    return replace(found, cautions=())
