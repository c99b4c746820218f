"""A Stack cut into cells: what each stores and what it passes on to its neighbour."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from typing import TypeAlias

import numpy as np

from bench.errors import BadValue
from bench.materials import has_property, look_up, look_up_note, materials_of_kind
from bench.physics.arrays import Flags, Floats, Whole
from bench.physics.contact import HIGHEST_KPA
from bench.physics.isotherms import Isotherm, isotherm_of
from bench.physics.saturation import VAPOUR_CONSTANT, ZERO_CELSIUS
from bench.physics.transient.equations import REFERENCE, Slices
from bench.physics.transient.faces import RADIATION
from bench.physics.transient.isotherm_table import IsothermTable, pack, tabulate
from bench.physics.vapour import LEWIS, STILL_AIR_FILM, air_permeability
from bench.stack import Layer, Role, Stack
from bench.units import Q_, Quantity, to_float

ITEM = (Role.COVER, Role.LEAF)
"""Roles of the item itself; all other sheets come and go."""

STILL_AIR = air_permeability(REFERENCE - ZERO_CELSIUS)
"""Vapour permeability of still air at 23 °C, kg/(m s Pa)."""

THICKEST_CELL = 3e-4  # m; a board is cut into cells no thicker than this, a leaf is one cell
_ROOM_HUMIDITY = 0.5  # at which a grammage is stated, [iso187]

_CONTACT_KPA, _CONTACT_POWER = 2.3, 0.126  # from 140 at 2.3 kPa to 257 near 300 kPa, geometric means
PAPER_CONTACT = Q_(2500, "W/m^2/K")
"""Between unlike sheets: a gap of some ten micrometres of air.  Estimated, no source.  Contacts between
the leaves of a pile are in the conductivity of the pile."""


def contact_conductance(pressure: Quantity) -> Quantity:
    r"""Give the conductance of the contact between paper and metal under a pressure.

    Parameters
    ----------
    pressure : Quantity [pressure]
        0.05 to 500 kPa.

    Returns
    -------
    Quantity [W/(m**2 K)]

    Notes
    -----
    .. math:: h = 140 (P / 2.3\,\mathrm{kPa})^{0.126}

    A power law through the geometric means of what is published for dry sheets at two pressures
    [asme-contact]_ (abstract seen): 97 to 200 at 2.3 kPa, 146 to 452 near 300 kPa.  Good to a factor of
    1.5 or so.
    """
    kilopascal = to_float(pressure, "kPa", field="pressure", low=0.05, high=HIGHEST_KPA)
    return Q_(140.0 * (kilopascal / _CONTACT_KPA) ** _CONTACT_POWER, "W/m^2/K")


Kinds: TypeAlias = tuple[tuple[Role, str, int], ...]
"""What the sheets of a stack are, top first: role, material, number of cells."""


@dataclass(frozen=True)
class SheetCells:
    """One sheet of the stack and the cells that it takes up.

    Attributes
    ----------
    role : Role
        In the stack.
    material : str
        Its name in the materials table.
    cells : slice
        Where they lie in the row.
    """

    role: Role
    material: str
    cells: slice

    @property
    def of_item(self) -> bool:
        """Tell whether the sheet belongs to the item."""
        return self.role in ITEM


@dataclass(frozen=True, eq=False)  # compared by identity: each is made once
class Cut:
    """A stack cut into cells.

    Attributes
    ----------
    slices : Slices
        The numbers of the model.
    sheets : tuple of SheetCells
        Top first.
    area : float
        Of one face, m2.
    thickness : array, shape (n,)
        Of each cell, m.
    """

    slices: Slices
    sheets: tuple[SheetCells, ...]
    area: float
    thickness: Floats

    @cached_property
    def kinds(self) -> Kinds:
        """Role and material of each sheet, and the number of its cells."""
        return tuple((s.role, s.material, s.cells.stop - s.cells.start) for s in self.sheets)

    @cached_property
    def _item(self) -> tuple[Whole, Whole, Whole]:
        """Cells of the item; where each of its sheets begins among them, and how many cells it has."""
        sheets = [s.cells for s in self.sheets if s.of_item]
        cells = np.concatenate([np.arange(s.start, s.stop) for s in sheets])
        counts = np.array([s.stop - s.start for s in sheets])
        return cells, np.cumsum(counts) - counts, counts

    def means_of_item(self, values: Floats) -> Floats:
        """Average over the cells of each sheet of the item, all alike; from shape (..., cells)."""
        cells, first, counts = self._item
        return np.asarray(np.add.reduceat(values[..., cells], first, axis=-1) / counts)


def is_metal(material: str) -> bool:
    """Tell whether a material takes up no water and lets none through."""
    return material in materials_of_kind("plate")


_OPEN = "vapour through it"


def is_barrier(material: str) -> bool:
    """Tell whether a sheet holds vapour back as a coating does.

    Raises
    ------
    NotFound
        Nothing is said of vapour and it: a new material must not pass for porous paper unasked.
    """
    return not has_property(material, _OPEN) and look_up_note(material, "vapour").text == "barrier"


@dataclass(frozen=True)
class _Material:
    """What one layer is made of, in SI units, per sheet."""

    thickness: float
    dry: float
    heat: float
    vapour: float  # resistance of the sheet, m2 s Pa/kg
    resistance: float  # for heat, m2 K/W
    scale: float = 1.0  # of its isotherm
    metal: bool = False


@dataclass(frozen=True)
class _Row:
    """One sheet on its way to cells: what it is made of, how many cells, its isotherm and its layer."""

    material: _Material
    cells: int
    table: int
    layer: int


@cache
def _thermal(material: str) -> tuple[float, float, float]:
    """Conductivity, specific heat and density of what stands for a material in heat (SI)."""
    name = material if has_property(material, "thermal conductivity") else look_up_note(material, "heat").text
    conductivity, specific = look_up(name, "thermal conductivity"), look_up(name, "specific heat")
    density = look_up(name, "density")
    return conductivity.number("W/m/K"), specific.number("J/kg/K"), density.number("kg/m^3")


@cache  # asked for every layer of every stack
def _at_room(isotherm: Isotherm) -> float:
    return isotherm.content(_ROOM_HUMIDITY, 23.0)


def _read_layer(layer: Layer, numbers: Mapping[str, float], isotherm: Isotherm | None) -> _Material:
    thickness, moist = layer.numbers
    conductivity, specific, density = _thermal(layer.material)
    if isotherm is None:
        mass = density * thickness
        return _Material(thickness, mass, mass * specific, math.inf, thickness / conductivity, metal=True)
    scale = 1.0
    if layer.role in ITEM:
        thickness *= numbers["thickness_factor"]
        scale = numbers["isotherm_scale"]
    if moist is None:
        remedy = "Weigh a sheet or take a material whose grammage is known"
        raise BadValue(f"grammage of {layer.material}", "unknown", "a value in g/m²", remedy)
    dry = moist / (1 + scale * _at_room(isotherm))
    ratio = numbers["transport_ratio"]
    if has_property(layer.material, _OPEN):
        ratio = max(look_up(layer.material, _OPEN).number(""), ratio)
    vapour = thickness / (ratio * STILL_AIR)
    if is_barrier(layer.material):  # as a layer of still air more, whatever it is made of
        known = "release_as_air" if layer.role not in ITEM and "release_as_air" in numbers else "cover_as_air"
        vapour += numbers[known] / STILL_AIR
    resistance = thickness / (conductivity * numbers["conductivity_factor"])
    return _Material(thickness, dry, dry * specific, vapour, resistance, scale)


_LUMP = "aluminium"  # of what a platen is taken to be: it conducts so well that it is one lump


def platen_layer(capacity: float) -> Layer:
    """Give a platen that keeps so much heat, J/(m2 K), as a layer of metal."""
    _, specific, density = _thermal(_LUMP)
    return Layer(Role.PLATEN, _LUMP, 1, Q_(capacity / (specific * density), "m"))


LEAST_CAPACITY = 10.0
"""Heat that a platen keeps, J/(m2 K), below which it is none: less than a leaf of paper."""


def cut_stack(
    stack: Stack,
    numbers: Mapping[str, float],
    *,
    contact: float,
    page: tuple[Quantity, Quantity] | None = None,
    isotherms: Mapping[Role, str] | None = None,
    cells_per_sheet: int = 1,
) -> Cut:
    """Cut a stack into cells, one or more a sheet.

    Parameters
    ----------
    stack : Stack
        Top first.  A hot platen is a boundary and not a layer; a metal plate is a layer, and so is a platen
        that cools.
    numbers : mapping of str to float
        The inputs in SI units, from :meth:`Inputs.middle`.
    contact : float
        Conductance of a contact with metal, W/(m2 K); see :func:`contact_conductance`.
    page : (Quantity, Quantity), optional
        Width and height, for the exchange at head, tail and fore edge; none without it.
    isotherms : mapping of Role to str, optional
        Materials whose isotherm is used in place of the role's own.
    cells_per_sheet : int
        Factor on the number of cells, 1 to 20.

    Returns
    -------
    Cut

    Raises
    ------
    NotFound
        A material that is not in the table, or has no isotherm.
    BadValue
        No layers, no paper among them, or a sheet of unknown grammage.
    """
    if not 1 <= cells_per_sheet <= 20:
        raise BadValue("cells for each sheet", cells_per_sheet, "1 to 20", "Give a number in this range")
    if not stack.layers:
        raise BadValue("layers of the stack", "none", "one or more", "Build the stack from the item")
    instead = isotherms or {}
    tables: list[IsothermTable] = []
    rows: list[_Row] = []
    sheets: list[SheetCells] = []
    first = 0
    for index, layer in enumerate(stack.layers):
        paper = None if is_metal(layer.material) else instead.get(layer.role, layer.material)
        isotherm = isotherm_of(paper) if paper is not None else None
        material = _read_layer(layer, numbers, isotherm)
        table = tabulate(isotherm) if isotherm is not None else None
        if table is not None and table not in tables:
            tables.append(table)
        which = tables.index(table) if table is not None else 0
        cells = 1 if material.metal else cells_per_sheet * max(1, round(material.thickness / THICKEST_CELL))
        for _ in range(layer.count):
            sheets.append(SheetCells(layer.role, layer.material, slice(first, first + cells)))
            rows.append(_Row(material, cells, which, index))
            first += cells
    if not tables:
        raise BadValue("stack", "metal only", "at least one sheet of paper", "Put the item in")
    slices, thickness = _assemble(rows, tables, numbers, contact, page)
    return Cut(
        slices, tuple(sheets), to_float(stack.area, "m^2", field="area", low=1e-4, high=2.0), thickness
    )


def _assemble(
    rows: list[_Row],
    tables: list[IsothermTable],
    numbers: Mapping[str, float],
    metal_contact: float,
    page: tuple[Quantity, Quantity] | None,
) -> tuple[Slices, Floats]:
    counts = [row.cells for row in rows]

    def of_cell(name: str) -> Floats:
        """Share what a sheet has out among its cells."""
        return np.repeat([getattr(row.material, name) / row.cells for row in rows], counts)

    thickness, mass, heat = of_cell("thickness"), of_cell("dry"), of_cell("heat")
    half_vapour, half_heat = of_cell("vapour") / 2, of_cell("resistance") / 2
    metal = np.repeat([row.material.metal for row in rows], counts)
    layer = np.repeat([row.layer for row in rows], counts)
    touches_metal, paper_contact = metal[:-1] | metal[1:], float(PAPER_CONTACT.magnitude)
    contact = 1 / (np.where(touches_metal, metal_contact, paper_contact) * numbers["contact_factor"])
    contact = np.where(layer[:-1] == layer[1:], 0.0, contact)
    edge_vapour, edge_heat = np.zeros_like(mass), np.zeros_like(mass)
    if page is not None:
        edge_vapour, edge_heat = _edges(thickness, half_vapour, half_heat, metal, numbers, page)
    scale = np.repeat([row.material.scale for row in rows], counts)
    which = np.repeat([row.table for row in rows], counts)
    slices = Slices(
        mass=mass,
        heat=heat,
        vapour=1 / (half_vapour[:-1] + half_vapour[1:]),
        conductance=1 / (half_heat[:-1] + half_heat[1:] + contact),
        half_vapour=half_vapour,
        half_heat=half_heat,
        edge_vapour=edge_vapour,
        edge_heat=edge_heat,
        pack=pack(tables, which, scale),
        wet=~metal,
    )
    return slices, np.asarray(thickness)


def _edges(
    thickness: Floats,
    half_vapour: Floats,
    half_heat: Floats,
    metal: Flags,
    numbers: Mapping[str, float],
    page: tuple[Quantity, Quantity],
) -> tuple[Floats, Floats]:
    r"""Conductance of each cell to the air at head, tail and fore edge (the spine is closed).

    The first mode of a sheet open on three sides, :math:`(\pi/H)^2 + (\pi/2W)^2`, in series with the
    film of air on its edges.
    """
    width = to_float(page[0], "m", field="width of the page", low=0.03, high=0.6)
    height = to_float(page[1], "m", field="height of the page", low=0.03, high=0.8)
    shape = (math.pi / height) ** 2 + (math.pi / (2 * width)) ** 2
    rim = thickness * (2 * width + height) / (width * height)  # area of edge per area of face
    film = float(STILL_AIR_FILM.value.to("m/s").magnitude) * numbers["film_factor"]
    permeability = np.where(metal, 0.0, thickness / np.where(metal, np.inf, 2 * half_vapour))
    along = np.minimum(permeability * numbers["edge_ratio"], STILL_AIR)
    within, beyond = along * thickness * shape, rim * film / (VAPOUR_CONSTANT * REFERENCE)
    warm = thickness**2 / (2 * half_heat) * shape
    cool = rim * (film * LEWIS + float(RADIATION.magnitude))
    return within * beyond / (within + beyond), warm * cool / (warm + cool)


def contents_at(cut: Cut, activity: float, celsius: float) -> Floats:
    """Give the moisture content of each cell at an activity, by its table (metal: none)."""
    pack = cut.slices.pack
    tabled = np.array([table.content(activity, celsius) for table in pack.tables])
    return np.where(cut.slices.wet, pack.scale * tabled[pack.which], 0.0)
