"""Materials of the bench and their published properties.

Every value is one row of a CSV file in this folder: ``material, kind, property, value,
unit, uncertainty, low, high, source, where, confidence``.

- ``uncertainty`` is the expanded uncertainty (about 95 %) in the same unit; blank if unknown.
- ``low``, ``high`` bound what has been met in practice; blank if unknown.
- ``source`` is a key of ``bench/sources.csv``; ``where`` says where in it (table, page, seen or
  from memory).
- ``confidence`` is ``high``, ``medium`` or ``low``.

What is said of a material in words (the hazard of a salt, the isotherm that stands in for a paper)
is one row of ``notes.csv``: ``material, property, text, source, where, confidence``.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib import resources

from bench.errors import NotFound
from bench.units import Q_, Quantity, difference_unit, unit_label


@dataclass(frozen=True)
class Property:
    """One property of one material, with where it comes from."""

    material: str
    kind: str
    name: str
    value: Quantity
    uncertainty: Quantity | None
    low: Quantity | None
    high: Quantity | None
    source: str
    where: str
    confidence: str

    def number(self, unit: str) -> float:
        """Give its value as a plain number."""
        return float(self.value.to(unit).magnitude)


@dataclass(frozen=True)
class MaterialNote:
    """One thing said of a material in words, with where it comes from."""

    material: str
    name: str
    text: str
    source: str
    where: str
    confidence: str


_NOTES = "notes.csv"


def _quantity(text: str, unit: str) -> Quantity | None:
    return Q_(float(text), unit) if text else None


def _read_row(row: dict[str, str]) -> Property:
    unit = row["unit"]
    value = _quantity(row["value"], unit)
    assert value is not None  # a table without a value is a programming error, caught by the table test
    delta = difference_unit(unit)
    return Property(
        material=row["material"],
        kind=row["kind"],
        name=row["property"],
        value=value,
        uncertainty=_quantity(row["uncertainty"], delta),
        low=_quantity(row["low"], unit),
        high=_quantity(row["high"], unit),
        source=row["source"],
        where=row["where"],
        confidence=row["confidence"],
    )


@cache
def _properties() -> dict[tuple[str, str], Property]:
    table: dict[tuple[str, str], Property] = {}
    for file in sorted(resources.files(__package__).iterdir(), key=lambda item: item.name):
        if file.name.endswith(".csv") and file.name != _NOTES:
            for row in csv.DictReader(file.read_text(encoding="utf-8").splitlines()):
                entry = _read_row(row)
                table[entry.material, entry.name] = entry
    return table


@cache
def _notes() -> dict[tuple[str, str], MaterialNote]:
    text = resources.files(__package__).joinpath(_NOTES).read_text(encoding="utf-8")
    table: dict[tuple[str, str], MaterialNote] = {}
    for row in csv.DictReader(text.splitlines()):
        name = row.pop("property")
        table[row["material"], name] = MaterialNote(name=name, **row)
    return table


def look_up(material: str, name: str) -> Property:
    """Find a property of a material.

    Parameters
    ----------
    material : str
        For example ``"newsprint"``, ``"copy paper 24 lb"``, ``"potassium sulphate"``.
    name : str
        For example ``"thickness"``, ``"grammage"``, ``"softening temperature"``.

    Raises
    ------
    NotFound
        With the materials that do have this property.
    """
    try:
        return _properties()[material, name]
    except KeyError:
        having = sorted(m for m, n in _properties() if n == name)
        allowed = ", ".join(having) or "no material: the property is in no table"
        remedy = "Choose one of these or add a row to bench/materials"
        raise NotFound(f"material with a {name}", repr(material), allowed, remedy) from None


def look_up_note(material: str, name: str) -> MaterialNote:
    """Find what is said of a material in words.

    Parameters
    ----------
    material : str
        For example ``"potassium nitrate"``.
    name : str
        ``"hazard"``, ``"isotherm"`` (the material whose sorption isotherm stands for this one), ``"heat"``
        (the material whose thermal properties stand for this one), ``"vapour"`` (``"paper"`` or
        ``"barrier"``) or ``"use"`` (what it is offered for beside its kind).

    Raises
    ------
    NotFound
        With the materials that do have this note.
    """
    try:
        return _notes()[material, name]
    except KeyError:
        having = ", ".join(sorted(m for m, n in _notes() if n == name))
        allowed = having or "no material: nothing of that name is in bench/materials/notes.csv"
        remedy = "Choose one of these or add a row to bench/materials/notes.csv"
        raise NotFound(f"material with a note on {name}", repr(material), allowed, remedy) from None


def has_note(material: str, name: str) -> bool:
    """Tell whether something is said of this material under this name."""
    return (material, name) in _notes()


def all_notes() -> tuple[MaterialNote, ...]:
    """Give every note, in the order of the table."""
    return tuple(_notes().values())


def has_property(material: str, name: str) -> bool:
    """Tell whether a table holds this property of this material."""
    return (material, name) in _properties()


@cache  # asked for every layer of every stack
def materials_of_kind(kind: str) -> tuple[str, ...]:
    """List the materials of a kind (``"text paper"``, ``"interleaf"``, ``"salt"``, ...), in table order."""
    return tuple(dict.fromkeys(p.material for p in _properties().values() if p.kind == kind))


def materials_for(use: str) -> tuple[str, ...]:
    """List the materials that are offered for a use (``"release sheet"``), in the order of the notes."""
    return tuple(note.material for note in all_notes() if (note.name, note.text) == ("use", use))


@cache
def say_material(material: str) -> str:
    """Name a sheet or board with the grammage and thickness that its trade name hides.

    Examples
    --------
    >>> say_material("copy paper 24 lb")
    'copy paper 24 lb (90 g/m², 0.12 mm)'
    """
    said = [
        f"{look_up(material, name).number(unit):.{digits}f} {unit_label(unit)}"
        for name, unit, digits in (("grammage", "gsm", 0), ("thickness", "mm", 2))
        if has_property(material, name)
    ]
    return f"{material} ({', '.join(said)})" if said else material


def all_properties() -> tuple[Property, ...]:
    """Give every property, for the pages and tests that go through all of them."""
    return tuple(_properties().values())


GLUES = ("none", *materials_of_kind("glue"))
"""What may hold a spine; the last one is not known."""
