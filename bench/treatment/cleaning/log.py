"""The log of cleaning: what each pass took, as rows, and the rates of one's own hand from them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from bench.errors import BadValue
from bench.treatment.cleaning.surfaces import Surface
from bench.treatment.cleaning.tools import TOOLS, tool
from bench.treatment.plan import Caution, Verdict
from bench.treatment.rows import is_given
from bench.units import Q_, Quantity, to_float

Row = Mapping[Any, Any]
_AREA, _TIME = "area cleaned, ", "time, "
_PASS = re.compile(r"[^:;]+: (?P<tool>[^;]+); \d+ pass")  # how the words of a pass begin, see log_rows


@dataclass(frozen=True)
class LoggedPass:
    """One pass as it was done.

    Attributes
    ----------
    surface : Surface
    tool : str
        Id of the tool.
    area, time : Quantity or None
        Area cleaned and time taken, if noted.
    passes : int
        How often the tool went over it.
    dirt : int
        Dirt on the tool, 0 none to 3 much.
    colour, residue : bool
        Whether colour came off, and whether anything of the tool is left behind.
    remark : str
    """

    surface: Surface
    tool: str
    area: Quantity | None = None
    time: Quantity | None = None
    passes: int = 1
    dirt: int = 0
    colour: bool = False
    residue: bool = False
    remark: str = ""

    def __post_init__(self) -> None:
        tool(self.tool)
        if self.area is not None:
            to_float(self.area, "cm^2", field="area cleaned", low=0.1, high=1e6)
        if self.time is not None:
            to_float(self.time, "min", field="time of the pass", low=0.05, high=1440.0)
        if self.dirt not in (0, 1, 2, 3):
            raise BadValue("dirt on the tool", self.dirt, "0 none to 3 much", "Choose one of these")
        if not isinstance(self.passes, int) or not 1 <= self.passes <= 100:
            raise BadValue("passes", self.passes, "1 to 100", "Count how often the tool went over it")

    @property
    def rate(self) -> Quantity | None:
        """Area in a time for one going over, if both were noted."""
        if self.area is None or self.time is None:
            return None
        return (self.passes * self.area / self.time).to("cm^2/min")

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """What the pass says about going on with this tool."""
        cautions = []
        if self.colour:
            words = f"Colour came off: stop with the {tool(self.tool).name} here, and note where."
            cautions.append(Caution(Verdict.STOP, words, "memory"))
        if self.residue:
            words = "Something of the tool is left behind: take every crumb off before the next tool."
            cautions.append(Caution(Verdict.CARE, words, "memory"))
        if not self.dirt and not self.colour:
            words = "The tool came away clean: another pass brings nothing."
            cautions.append(Caution(Verdict.GO, words))
        return tuple(cautions)


def log_rows(logged: LoggedPass, *, cycle: int, at: datetime) -> list[dict[str, Any]]:
    """Turn a pass into rows of ``log``: one in words, and its area and time as numbers."""
    common = {"stage": "cleaning", "cycle": cycle, "at": at}
    words = [
        f"{logged.surface}: {tool(logged.tool).name}",
        f"{logged.passes} pass" + ("" if logged.passes == 1 else "es"),
        f"dirt on the tool {logged.dirt} of 3",
        "colour came off" if logged.colour else "no colour came off",
        "residue left" if logged.residue else "no residue left",
    ]
    if logged.remark:
        words.append(logged.remark)
    rows: list[dict[str, Any]] = [{**common, "remark": "; ".join(words)}]
    if logged.area is not None:
        done = round(logged.passes * float(logged.area.to("cm^2").magnitude), 1)
        rows.append({**common, "quantity": f"{_AREA}{logged.tool}", "value": done, "unit": "cm^2"})
    if logged.time is not None:
        spent = round(float(logged.time.to("min").magnitude), 2)
        rows.append({**common, "quantity": f"{_TIME}{logged.tool}", "value": spent, "unit": "min"})
    return rows


def rates_from_log(rows: Iterable[Row]) -> dict[str, Quantity]:
    """Work out the rates of one's own hand.

    Parameters
    ----------
    rows : iterable of rows
        Of ``log``; areas and times of one moment and tool belong together.

    Returns
    -------
    dict of str to Quantity [cm**2/min]
        By tool: all area over all time, of the passes where both were noted.
    """
    areas: dict[tuple[Any, str], float] = {}
    times: dict[tuple[Any, str], float] = {}
    for row in rows:
        name = str(row["quantity"]) if is_given(row["quantity"]) else ""
        for start, kept in ((_AREA, areas), (_TIME, times)):
            if row["stage"] == "cleaning" and name.startswith(start):
                kept[row["at"], name.removeprefix(start)] = float(row["value"])
    rates = {}
    for each in TOOLS:
        both = [key for key in areas if key in times and key[1] == each.id]
        spent = sum(times[key] for key in both)
        if spent > 0:
            rates[each.id] = Q_(sum(areas[key] for key in both) / spent, "cm^2/min")
    return rates


def tools_logged(rows: Iterable[Row]) -> tuple[str, ...]:
    """Name the tools that the log says were used, the gentlest first.

    Parameters
    ----------
    rows : iterable of rows
        Of ``log``.
    """
    used = {name for row in rows if row["stage"] == "cleaning" and (name := _tool_of(row))}
    return tuple(each.name for each in TOOLS if used & {each.id, each.name})


def _tool_of(row: Row) -> str:
    """Give id or name of the tool that a row of the log is about; empty if none."""
    quantity = str(row["quantity"]) if is_given(row["quantity"]) else ""
    for start in (_AREA, _TIME):
        if quantity.startswith(start):
            return quantity.removeprefix(start)
    match = _PASS.match(str(row["remark"])) if is_given(row["remark"]) else None
    return match["tool"] if match else ""
