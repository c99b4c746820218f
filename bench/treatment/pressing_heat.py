"""What a warm platen does to the stack: how long, how warm, how long to cool."""

from __future__ import annotations

from typing import Any

import numpy as np

from bench.physics.heat_chain import Chain, build_chain, rise, time_to
from bench.physics.heating import (
    BASE_FILM,
    CONTACT,
    HeatLayer,
    TemperatureReached,
    estimate_heating_time,
    temperature_reached,
)
from bench.physics.ranges import Estimate, Range, as_range
from bench.treatment.pressing_plan import Heat, PressingChoices
from bench.treatment.pressing_stack import PARTS
from bench.units import Q_, Quantity

NEARLY = Q_(95, "percent")  # of the far leaf's own final rise
HAND_WARM = 5.0  # K above the room: no longer warm to the touch


def estimate_heat(layers: list[HeatLayer], choices: PressingChoices) -> Heat:
    """Estimate times and temperatures of a warm press.

    Parameters
    ----------
    layers : list of HeatLayer
        From the hot platen down, the item as the halves of :data:`bench.treatment.pressing_stack.PARTS`.
    choices : PressingChoices
        With a platen warmer than the room.

    Returns
    -------
    Heat

    Notes
    -----
    :mod:`bench.physics.heating`: dry conduction, the platen hot at once, evaporation left out.
    Cooling: the same chain with the air of the room on both sides, by the linearity of conduction.
    """
    near, far = PARTS
    both = choices.heated == "both"
    # With one side hot the far leaf is the slowest, with both the middle, where the halves meet.
    time = estimate_heating_time(
        layers,
        where=near if both else far,
        fraction=NEARLY,
        heated=choices.heated,
        base_film=_base(choices),
    )
    hot, cool = (_reached(layers, choices, half, choices.dwell) for half in PARTS)
    final = _reached(layers, choices, far, None)
    return Heat(
        time=time,
        top=hot.warmest,
        middle=hot.coldest,
        bottom=cool.warmest if both else cool.coldest,
        slowest=cool.coldest,
        slowest_final=final.coldest,
        slowest_name="middle leaf" if both else "far leaf",
        minutes=tuple(float(m) for m in _minutes(choices.dwell)),
        curves=_curves(layers, choices),
        cooling=_cooling(layers, choices, hot.coldest.value),
    )


def _base(choices: PressingChoices) -> Range | None:
    return BASE_FILM if choices.base == "open" and choices.heated == "one" else None


def _reached(
    layers: list[HeatLayer], choices: PressingChoices, half: str, after: Quantity | None
) -> TemperatureReached:
    assert choices.platen_temperature is not None
    return temperature_reached(
        layers,
        platen_temperature=choices.platen_temperature,
        room_temperature=choices.room_temperature,
        after=after,
        where=half,
        heated=choices.heated,
        base_film=_base(choices),
    )


def _minutes(dwell: Quantity) -> np.ndarray:
    return np.linspace(0.0, 1.5 * float(dwell.to("min").magnitude), 46)


def _likely_chain(layers: list[HeatLayer], choices: PressingChoices) -> Chain:
    numbers = [
        (
            float(layer.thickness.to("m").magnitude),
            as_range(layer.conductivity).floats("W/m/K", field="conductivity")[0],
            float(layer.density.to("kg/m^3").magnitude)
            * as_range(layer.heat_capacity).floats("J/kg/K", field="heat capacity")[0],
        )
        for layer in layers
    ]
    thicknesses, conductivities, heats = (list(column) for column in zip(*numbers, strict=True))
    base = _base(choices)
    loss = 0.0 if base is None else float(base.value.to("W/m^2/K").magnitude)
    contact = float(CONTACT.value.to("W/m^2/K").magnitude)
    return build_chain(thicknesses, conductivities, heats, contact, choices.heated, loss)


def _temperatures(choices: PressingChoices, risen: Any) -> Any:
    room = float(choices.room_temperature.to("degC").magnitude)
    assert choices.platen_temperature is not None
    return room + (float(choices.platen_temperature.to("degC").magnitude) - room) * risen


def _slices(layers: list[HeatLayer], chain: Chain) -> Any:
    """Slices of the item, from the hot platen down."""
    names = [layer.name for layer in layers]
    return np.flatnonzero(np.isin(chain.layer, [names.index(half) for half in PARTS]))


def likely_far_leaf(layers: list[HeatLayer], choices: PressingChoices) -> tuple[float, float]:
    """Give the likely temperature of the slowest leaf after the dwell in °C, and its minutes to 95 %."""
    chain = _likely_chain(layers, choices)
    item = _slices(layers, chain)
    risen = rise(chain, float(choices.dwell.to("s").magnitude))[item].min()
    return float(_temperatures(choices, risen)), time_to(chain, 0.95, item) / 60


def _curves(layers: list[HeatLayer], choices: PressingChoices) -> tuple[tuple[float, ...], ...]:
    """Most likely temperatures of top, middle and bottom over the dwell and half as long again."""
    chain = _likely_chain(layers, choices)
    rates, shapes, start = chain.modes()
    seconds = 60 * _minutes(choices.dwell)
    risen = chain.final()[:, None] - shapes @ (start[:, None] * np.exp(-np.outer(rates, seconds)))
    item = _slices(layers, chain)
    # Nearest the platen, half way, and farthest from it.
    chosen = (item[0], item[len(item) // 2], item[-1])
    return tuple(tuple(float(t) for t in _temperatures(choices, risen[index])) for index in chosen)


def _cooling(layers: list[HeatLayer], choices: PressingChoices, warm: Quantity) -> Estimate:
    rise = float((warm.to("degC") - choices.room_temperature.to("degC")).to("delta_degC").magnitude)
    left = min(0.95, HAND_WARM / rise) if rise > 0 else 0.95
    return estimate_heating_time(
        layers, where=PARTS[0], fraction=Q_(1 - left, ""), heated="both", contact=BASE_FILM
    )
