r"""Heat through a press stack: how long until it is warm, and how warm it becomes at all.

The layers are a chain of thin slices that store heat and pass it on; the response to a platen
that is suddenly hot is worked out in closed form from the eigenvectors of the chain, so any
order of layers, a heavy plate, a contact and a cold base are all allowed.  Water that moves or
evaporates is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue, NotFound, OutOfRange
from bench.physics.heat_chain import Chain, build_chain, rise, time_to
from bench.physics.ranges import Estimate, Range, RangeLike, Triple, as_range, spread
from bench.units import Q_, Quantity, to_float

_NEARLY = Q_(95, "percent")  # default share, when nothing else is asked
_NO_WATER = ("Water that leaves the paper takes heat with it; a damp or open stack stays cooler for longer.",)

CONTACT = Range(Q_(200, "W/m^2/K"), Q_(100, "W/m^2/K"), Q_(450, "W/m^2/K"))
"""Contact of dry paper with a metal platen, 97 W/(m2 K) at 2.3 kPa to 452 near 300 kPa [asme-contact]_."""

BASE_FILM = Range(Q_(8, "W/m^2/K"), Q_(4, "W/m^2/K"), Q_(15, "W/m^2/K"))
"""Loss of a base plate to a room through its free side, air and radiation; from memory."""


@dataclass(frozen=True)
class HeatLayer:
    """One layer of a press stack, as heat sees it.

    Attributes
    ----------
    name : str
        In the words of the bench, e.g. ``"item"``, ``"backing board"``, ``"aluminium plate"``.
    thickness : Quantity [length]
        1 µm to 100 mm.
    conductivity : Quantity or range [W/(m K)]
        0.02 to 500.  Pressed paper about 0.08 to 0.18.
    density : Quantity [mass/volume]
        50 to 10 000 kg/m3; of the dry mass if the heat capacity is per dry mass.
    heat_capacity : Quantity or range [J/(kg K)]
        300 to 5000; see :func:`heat_capacity_of_damp_paper`.
    """

    name: str
    thickness: Quantity
    conductivity: RangeLike
    density: Quantity
    heat_capacity: RangeLike

    def __post_init__(self) -> None:
        self._numbers()

    def _numbers(self) -> tuple[float, Triple, Triple]:
        """Thickness (m), conductivity (W/(m K)) and heat per volume (J/(m3 K))."""
        where = f" of {self.name}"
        thickness = to_float(self.thickness, "m", field="thickness" + where, low=1e-6, high=0.1)
        density = to_float(self.density, "kg/m^3", field="density" + where, low=50.0, high=1e4)
        capacity = as_range(self.heat_capacity).floats(
            "J/kg/K", field="heat capacity" + where, low=300.0, high=5000.0
        )
        conductivity = as_range(self.conductivity).floats(
            "W/m/K", field="conductivity" + where, low=0.02, high=500.0
        )
        return thickness, conductivity, (density * capacity[0], density * capacity[1], density * capacity[2])


@dataclass(frozen=True)
class TemperatureReached:
    """How warm a layer is: its coldest and its warmest place.

    Attributes
    ----------
    coldest, warmest : Estimate [temperature]
        Each with its interval; in the middle of the outermost slice, some tenths of a kelvin
        from the face itself.
    """

    coldest: Estimate
    warmest: Estimate


def heat_capacity_of_damp_paper(moisture_content: Quantity) -> Quantity:
    """Give the heat capacity of paper with its water, per dry mass.

    Parameters
    ----------
    moisture_content : Quantity, dimensionless
        Water over dry mass, 0 to 0.5.

    Returns
    -------
    Quantity [J/(kg K)]

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    ``c = 1400 + 4180 X``: furnish 1400 J/(kg K) [forestbiofacts]_ and liquid water; the heat of
    sorption is left out.

    Examples
    --------
    >>> print(heat_capacity_of_damp_paper(Q_(0.15, "")).round())
    2027.0 J/K/kg
    """
    water = to_float(moisture_content, "", field="moisture content", low=0.0, high=0.5)
    return Q_(1400.0 + 4180.0 * water, "J/kg/K")


@dataclass(frozen=True)
class _Press:
    """A press stack with the limits of everything uncertain, as plain numbers."""

    names: tuple[str, ...]
    thicknesses: tuple[float, ...]
    conductivities: tuple[Triple, ...]
    heats: tuple[Triple, ...]
    contact: Triple
    heated: str
    base: Triple

    @classmethod
    def read(
        cls, layers: Sequence[HeatLayer], heated: str, contact: RangeLike, base_film: RangeLike | None
    ) -> _Press:
        if not layers:
            raise BadValue("layers", "none", "one layer or more", "Give the stack from the platen down")
        if heated not in ("one", "both"):
            raise BadValue("heated sides", repr(heated), "one or both", "Say how many platens are hot")
        if heated == "both" and base_film is not None:
            raise BadValue(
                "base film", "given", "none if both sides are hot", "Leave it out: there is no cold base"
            )
        numbers = [layer._numbers() for layer in layers]
        base: Triple = (0.0, 0.0, 0.0)
        if base_film is not None:
            base = as_range(base_film).floats("W/m^2/K", field="base film", low=0.1, high=1e5)
        return cls(
            tuple(layer.name for layer in layers),
            tuple(thickness for thickness, _, _ in numbers),
            tuple(conductivity for _, conductivity, _ in numbers),
            tuple(heat for _, _, heat in numbers),
            as_range(contact).floats("W/m^2/K", field="contact", low=1.0, high=1e7),
            heated,
            base,
        )

    def chain(self, conductivity: int = 0, heat: int = 0, contact: int = 0, base: int = 0) -> Chain:
        """Build the chain with each group of constants at value (0), low (1) or high (2)."""
        return _chain(self, conductivity, heat, contact, base)

    def choose(self, chain: Chain, where: str | None) -> NDArray[np.intp]:
        """Give the slices of the named layers; of all without a name."""
        if where is None:
            return np.arange(len(chain.places))
        if where not in self.names:
            raise NotFound("layer", repr(where), ", ".join(self.names), "Name one of the layers of the stack")
        wanted = [index for index, name in enumerate(self.names) if name == where]
        return np.flatnonzero(np.isin(chain.layer, wanted))

    def assumption(self) -> str:
        """Say what was assumed, in one sentence."""
        if self.heated == "both":
            side = "both sides are at the platens' temperature"
        elif self.base[0] > 0:
            side = "the far side loses heat to the room"
        else:
            side = "no heat leaves by the far side"
        return f"Heat goes straight through, the platen is hot at once, {side}; dry contact between layers."


@lru_cache(maxsize=64)
def _chain(press: _Press, conductivity: int, heat: int, contact: int, base: int) -> Chain:
    """Build a chain once: a plan asks for time and temperatures of the same stack."""
    return build_chain(
        press.thicknesses,
        [triple[conductivity] for triple in press.conductivities],
        [triple[heat] for triple in press.heats],
        press.contact[contact],
        press.heated,
        press.base[base],
    )


_INDEX = (0, 1, 2)


def estimate_heating_time(
    layers: Sequence[HeatLayer],
    *,
    where: str | None = None,
    fraction: Quantity = _NEARLY,
    heated: str = "one",
    contact: RangeLike = CONTACT,
    base_film: RangeLike | None = None,
) -> Estimate:
    r"""Estimate how long a press stack takes to warm up.

    Parameters
    ----------
    layers : sequence of HeatLayer
        From the hot platen to the far side.
    where : str, optional
        Name of the layers to judge, e.g. ``"item"``; the whole stack without it.
    fraction : Quantity, dimensionless
        Share of its own final rise that the slowest place there has made; above 0, at most
        99.9 %.  Without loss at the far side the final rise is the platen's whole step.
    heated : str
        ``"one"`` or ``"both"`` sides.
    contact : Quantity or range [W/(m**2 K)]
        Between platen and stack; 1 to 1e7 (very large for a perfect contact).
    base_film : Quantity or range [W/(m**2 K)], optional
        Loss from the far side to the room, e.g. :data:`BASE_FILM` under a bare plate; without it
        the far side is insulated.

    Returns
    -------
    Estimate [minute]

    Raises
    ------
    BadValue, UnitMismatch
    NotFound
        No layer has that name.

    Notes
    -----
    .. math:: C \dot T = -K T + g_p T_{platen}, \qquad
              T(t) = T_\infty - \sum_i v_i e^{-\lambda_i t} a_i

    Conduction through a chain of slices; for one layer it tends to the plane-wall series of
    [carslaw-jaeger]_ and [incropera]_.  The interval joins the ranges of all conductivities
    together, all heat capacities together, contact and loss as independent factors.

    Valid for a dry stack under steady pressure.  For damp paper use
    :func:`heat_capacity_of_damp_paper`; evaporation is left out.

    Examples
    --------
    >>> item = HeatLayer("item", Q_(4.4, "mm"), Q_(0.12, "W/m/K"), Q_(650, "kg/m^3"), Q_(1500, "J/kg/K"))
    >>> print(f"{estimate_heating_time([item], contact=Q_(200, 'W/m^2/K')).value.to('s'):.0f~P}")
    265 s
    """
    press = _Press.read(layers, heated, contact, base_film)
    share = to_float(fraction, "", field="fraction", low=1e-6, high=0.999)

    def seconds(**one: int) -> float:
        chain = press.chain(**one)
        return time_to(chain, share, press.choose(chain, where))

    value, low, high = spread(seconds, conductivity=_INDEX, heat=_INDEX, contact=_INDEX, base=_INDEX)
    return Estimate.of(
        (value / 60, low / 60, high / 60), "minute", assumption=press.assumption(), cautions=_NO_WATER
    )


def _read_temperatures(platen: Quantity, room: Quantity) -> tuple[float, float]:
    hot = to_float(platen, "degC", field="platen temperature", low=-20.0, high=200.0)
    cold = to_float(room, "degC", field="room temperature", low=-20.0, high=60.0)
    if hot > 100:
        raise OutOfRange(
            "platen temperature", f"{hot:g} °C", "at most 100 °C", "Water in the paper would boil"
        )
    return hot, cold


def temperature_reached(
    layers: Sequence[HeatLayer],
    *,
    platen_temperature: Quantity,
    room_temperature: Quantity,
    after: Quantity | None = None,
    where: str | None = None,
    heated: str = "one",
    contact: RangeLike = CONTACT,
    base_film: RangeLike | None = BASE_FILM,
) -> TemperatureReached:
    r"""Estimate how warm the layers become, in the end or after a dwell.

    Parameters
    ----------
    layers : sequence of HeatLayer
        From the hot platen to the far side.
    platen_temperature, room_temperature : Quantity [temperature]
        Up to 100 and 60 °C; the stack starts at the temperature of the room.
    after : Quantity [time], optional
        0 to 1000 h; without it the steady end.
    where, heated, contact, base_film
        As in :func:`estimate_heating_time`; here the far side loses heat unless ``base_film``
        is None or both sides are hot.

    Returns
    -------
    TemperatureReached

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound

    Notes
    -----
    In the end, with *R* the resistances from the platen down:

    .. math:: T(x) = T_{platen} - (T_{platen} - T_{room})
              \frac{1/h_{contact} + R(x)}{1/h_{contact} + R_{stack} + 1/h_{base}}

    Series resistances [incropera]_; so a platen of 60 °C on one side never brings an item on a
    bare base to 60 °C.

    Examples
    --------
    >>> item = HeatLayer("item", Q_(8, "mm"), Q_(0.12, "W/m/K"), Q_(650, "kg/m^3"), Q_(1500, "J/kg/K"))
    >>> end = temperature_reached([item], platen_temperature=Q_(60, "degC"),
    ...                           room_temperature=Q_(22, "degC"), base_film=Q_(8, "W/m^2/K"))
    >>> print(f"{end.coldest.value.magnitude:.0f} to {end.warmest.value.magnitude:.0f} °C")
    46 to 59 °C
    """
    loss = None if heated == "both" else base_film
    press = _Press.read(layers, heated, contact, loss)
    hot, cold = _read_temperatures(platen_temperature, room_temperature)
    seconds = None if after is None else to_float(after, "s", field="dwell", low=0.0, high=3.6e6)

    def celsius(extreme: str, **one: int) -> float:
        chain = press.chain(**one)
        chosen = cold + (hot - cold) * rise(chain, seconds)[press.choose(chain, where)]
        return float(chosen.min() if extreme == "coldest" else chosen.max())

    found = {}
    for extreme in ("coldest", "warmest"):
        numbers = spread(
            lambda extreme=extreme, **one: celsius(extreme, **one),
            log=False,
            conductivity=_INDEX,
            heat=_INDEX,
            contact=_INDEX,
            base=_INDEX,
        )
        found[extreme] = Estimate.of(numbers, "degC", assumption=press.assumption(), cautions=_NO_WATER)
    return TemperatureReached(**found)


def temperature_profile(
    layers: Sequence[HeatLayer],
    *,
    platen_temperature: Quantity,
    room_temperature: Quantity,
    after: Quantity | None = None,
    heated: str = "one",
    contact: RangeLike = CONTACT,
    base_film: RangeLike | None = BASE_FILM,
) -> tuple[Quantity, Quantity]:
    """Give the temperature through the stack, for a picture; most likely values only.

    Parameters
    ----------
    layers, platen_temperature, room_temperature, after, heated, contact, base_film
        As in :func:`temperature_reached`.

    Returns
    -------
    depth : Quantity [m], shape (n,)
        From the hot platen down, in the middle of each slice.
    temperature : Quantity [degC], shape (n,)

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange
    """
    press = _Press.read(layers, heated, contact, None if heated == "both" else base_film)
    hot, cold = _read_temperatures(platen_temperature, room_temperature)
    seconds = None if after is None else to_float(after, "s", field="dwell", low=0.0, high=3.6e6)
    chain = press.chain()
    return Q_(chain.places, "m"), Q_(cold + (hot - cold) * rise(chain, seconds), "degC")
