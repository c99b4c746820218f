"""The panel of materials: the maker's lot and who sold it, for what the plans wrote down."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bench.desk import Treatment
from bench.panels.base import Panel, View
from bench.panels.fields import ChoiceField, GroupLabel, TextField
from bench.panels.parts import opening
from bench.panels.remembered import Remembered
from bench.records.schema import STAMPS
from bench.treatment.rows import Row, is_given, text_of
from bench.units import UnitChoice

_NONE = ("no material is recorded yet", 0)
_ORIGIN = ("lot", "supplier")


def build_materials_panel(treatment: Treatment) -> Panel:
    """Build the panel; Save corrects the row of the chosen material.

    Parameters
    ----------
    treatment : Treatment
        At hand.  What was used is written down by the plans of its stages.
    """
    known = Remembered(treatment, lambda: treatment.latest.rows("materials"))
    options = _options(known())
    which = ChoiceField("which", "Material", options, options[0][1])
    chosen: list[Any] = [None]

    def follow(panel: Panel) -> None:
        """Offer what is recorded now, and bring back what is known of the chosen one."""
        offered = _options(known())
        if list(which.widget.options) != offered:
            place = which.widget.index or 0
            which.widget.options = offered
            which.widget.index = min(place, len(offered) - 1)
        if which.widget.value != chosen[0]:
            chosen[0] = which.widget.value
            row = _row(known(), chosen[0])
            panel.fill({name: _said(row, name) for name in _ORIGIN})

    def work(values: Mapping[str, Any], units: UnitChoice) -> dict[str, Any]:
        return {name: values[name] for name in ("which", *_ORIGIN)}

    def show(entered: dict[str, Any], units: UnitChoice) -> View:
        row = _row(known(), entered["which"])
        if row is None:
            words = "No material is recorded yet: the plans of the stages write them down."
            return View(opening(words), save_blocked="There is nothing to save yet.")
        said = [f"lot {entered['lot']}"] if entered["lot"] else []
        said += [f"from {entered['supplier']}"] if entered["supplier"] else []
        name = _name(row)
        words = f"{name[0].upper()}{name[1:]}: {', '.join(said) or 'neither lot nor supplier is noted'}."
        is_same = all(_said(row, name) == entered[name] for name in _ORIGIN)
        return View(
            opening(
                words,
                "The report names both; a lot that turns out bad can then be traced to the items it touched.",
            ),
            save_says="Writes 1 row to materials, in place of the one before.",
            save_blocked="This is what is recorded." if is_same else "",
        )

    def save(entered: dict[str, Any], values: Mapping[str, Any]) -> str:
        row = _row(known(), entered["which"])
        assert row is not None  # Save is blocked without
        kept = {name: value for name, value in row.items() if name not in STAMPS and is_given(value)}
        origin = {name: entered[name] for name in _ORIGIN}
        return treatment.save({"materials": [{**kept, **origin, "replaces": int(row["row"])}]})

    return Panel(
        name="materials",
        strip=lambda: treatment.heading("writeup"),
        fields=[
            GroupLabel("One material"),
            which,
            TextField("lot", "Lot", hint="the maker's lot, or what is printed on the packet"),
            TextField("supplier", "Supplier", hint="who sold it"),
        ],
        work=work,
        show=show,
        save=save,
        units=treatment.switch,
        save_label="Save lot and supplier",
        follow=follow,
    )


def _options(rows: Sequence[Row]) -> list[tuple[str, int]]:
    """Give what is recorded, each under the number of its row."""
    return [(_name(row), int(row["row"])) for row in rows] or [_NONE]


def _row(rows: Sequence[Row], number: int) -> Row | None:
    return next((row for row in rows if int(row["row"]) == number), None)


def _name(row: Row) -> str:
    cycle = f", cycle {int(row['cycle'])}" if row["cycle"] else ""
    return f"{row['kind']}: {row['material']} ({row['stage']}{cycle})"


def _said(row: Row | None, name: str) -> str:
    return "" if row is None else text_of(row, name)
