"""The uptake of an item in a chamber: followed by the hours, with every published isotherm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from bench.errors import BadValue
from bench.item import Answer, Item, Thicknesses
from bench.physics.chamber import Band, Chamber, follow_uptake, hours_to_share, most_likely
from bench.physics.isotherms import Isotherm, alternatives, isotherm_of
from bench.physics.ranges import Estimate, Range
from bench.physics.sorption import dry_mass, water_to_take_up
from bench.physics.vapour import absorption_slope
from bench.stack import Role, build_item_stack
from bench.treatment.humidity_plan import Alternative, HumidityChoices, Moment
from bench.treatment.humidity_source import HeldHumidity, Source, read_source
from bench.units import Q_, Quantity, to_humidity

COVER_UNKNOWN = Range(Q_(10, "mm"), Q_(0, "mm"), Q_(60, "mm"))
"""Cover of which it is not known whether it is coated, as still air: from none to tight."""

SALTS_TO_COMPARE = ("potassium sulphate", "potassium chloride", "sodium chloride")

_WEIGHED, _TABLED = 0.03, 0.15  # doubt of the dry mass, weighed or from tabled papers: judgement
_EARLY = (0.1, 0.25, 0.5, 1.0, 1.5)  # h: the first hours are followed closely, there the air sags
_NEVER = 0.995  # share of the uptake that is taken as never reached


@dataclass(frozen=True)
class Branch:
    """The chamber with one isotherm, on plain numbers.

    Attributes
    ----------
    fit : Isotherm
    celsius : float
    before, after : float
        Moisture content at the start, and at rest with the source.
    share_wanted : float
        Share of the uptake at which paper rests at the humidity wanted; 1 and more if it never does.
    chamber : Chamber
    """

    fit: Isotherm
    celsius: float
    before: float
    after: float
    share_wanted: float
    chamber: Chamber

    def humidity(self, share: float) -> float:
        """Relative humidity in percent at which paper rests with a share of the uptake."""
        return 100 * self.fit.activity(self.before + share * (self.after - self.before), self.celsius)

    def likely_hours(self, place: str) -> float | None:
        """Most likely hours until the humidity wanted; None if it is never reached."""
        if self.share_wanted >= _NEVER:
            return None
        chamber = self.chamber
        # With every input at its value there is but one curve to draw.
        sure = replace(
            chamber,
            thickness=_only(chamber.thickness),
            transport_ratio=_only(chamber.transport_ratio),
            film=_only(chamber.film),
            cover=None if chamber.cover is None else _only(chamber.cover),
        )
        hours = hours_to_share(sure, self.share_wanted, place=place)
        return float(hours.value.to("hour").magnitude)


@dataclass(frozen=True)
class Setting:
    """An item in a chamber, ready to be followed.

    Attributes
    ----------
    item : Item
    thickness : Range [length]
    masses : tuple of (str, Quantity)
        Paper and dry mass of leaves and cover.
    choices : HumidityChoices
    held : HeldHumidity
    """

    item: Item
    thickness: Range
    masses: tuple[tuple[str, Quantity], ...]
    choices: HumidityChoices
    held: HeldHumidity

    @cached_property
    def own(self) -> Branch:
        """The chamber with the isotherm of the text paper."""
        return self._branch(isotherm_of(self.item.text_paper))

    @cached_property
    def rivals(self) -> tuple[Branch, ...]:
        """The same with each of the other published isotherms."""
        return tuple(self._branch(fit) for fit in alternatives(self.item.text_paper))

    @property
    def _celsius(self) -> float:
        return float(self.choices.air_temperature.to("degC").magnitude)

    def _branch(self, fit: Isotherm) -> Branch:
        choices, celsius = self.choices, self._celsius
        start, wanted = to_humidity(choices.start_humidity), choices.wanted / 100
        before, after, goal = (
            fit.content(a, celsius) for a in (start, to_humidity(self.held.step_end), wanted)
        )
        chamber = self._build(self._slope(fit, before, after))
        return Branch(fit, celsius, before, after, (goal - before) / (after - before), chamber)

    def _build(self, slope: Range) -> Chamber:
        choices, item = self.choices, self.item
        covers = {Answer.YES: choices.cover_as_air, Answer.UNKNOWN: COVER_UNKNOWN, Answer.NO: None}
        return Chamber(
            thickness=self.thickness,
            item_area=item.area,
            transport_ratio=choices.transport_ratio,
            density=self._density,
            isotherm_slope=slope,
            temperature=choices.air_temperature,
            start_humidity=choices.start_humidity,
            source_humidity=self.held.step_end,
            source_area=None if choices.source is Source.GIVEN else choices.source_area,
            faces=choices.faces,
            film=choices.film,
            cover=covers[item.cover_coated] if item.cover_leaves else None,
        )

    @property
    def _density(self) -> Range:
        total = sum((mass for _, mass in self.masses), start=Q_(0.0, "g"))
        density = (total / (self.item.area * self.thickness.value)).to("kg/m^3")
        doubt = _TABLED if self.item.mass is None else _WEIGHED
        return Range(density, (1 - doubt) * density, (1 + doubt) * density)

    def _slope(self, fit: Isotherm, before: float, after: float) -> Range:
        start, end = to_humidity(self.choices.start_humidity), to_humidity(self.held.step_end)
        if end <= start:
            allowed = f"below the {100 * end:.0f} % of the source"
            remedy = "Take a damper source, or let the item rest in a drier room first"
            raise BadValue("humidity at the start", f"{100 * start:.0f} %", allowed, remedy)
        chord = (after - before) / (end - start)
        last = (after - fit.content(end - 0.002, self._celsius)) / 0.002
        if last < chord:  # a step from dry air, where isotherms bend the other way
            return Range(Q_(chord, ""), Q_(last, ""), Q_(chord, ""))
        return absorption_slope(
            start_humidity=self.choices.start_humidity,
            start_moisture=Q_(before, ""),
            end_humidity=self.held.step_end,
            end_moisture=Q_(after, ""),
            end_slope=Q_(last, ""),
        )

    def water(self) -> Estimate:
        """Estimate the water to be taken up until at rest, leaves and cover together, in g."""
        parts = [
            water_to_take_up(
                dry,
                paper=paper,
                humidity_from=self.choices.start_humidity,
                humidity_to=self.held.step_end,
                temperature=self.choices.air_temperature,
            )
            for paper, dry in self.masses
        ]
        value, low, high = (
            sum(float(getattr(part, end).to("g").magnitude) for part in parts)
            for end in ("value", "low", "high")
        )
        cautions = tuple(dict.fromkeys(caution for part in parts for caution in part.cautions))
        return Estimate.of((value, low, high), "g", assumption=parts[0].assumption, cautions=cautions)

    def follow(self, water: Estimate) -> tuple[Moment, ...]:
        """Follow leaves and air through the hours, past the planned end, which is among them."""
        times = _times(self.choices.hours)
        run = follow_uptake(self.own.chamber, Q_(times, "hour"))
        places = zip((run.mean, run.core), self._reach(run.hours), strict=True)
        mean, core = (self._humidities(band, reach) for band, reach in places)
        full = water.floats("g", field="water to take up")
        return tuple(
            Moment(
                hours=float(hour),
                mean=mean[index],
                core=core[index],
                air=_range([100 * number for number in run.air.at(index)], "percent"),
                gain=_range([s * g for s, g in zip(run.mean.at(index), full, strict=True)], "g"),
            )
            for index, hour in enumerate(times)
        )

    def _reach(self, hours: Quantity) -> tuple[list[list[float]], list[list[float]]]:
        """Give the humidities of mean and core after the other isotherms, time by time."""
        found = [most_likely(rival.chamber, hours) for rival in self.rivals]
        mean, core = (
            [
                [
                    rival.humidity(float(shares[place][index]))
                    for rival, shares in zip(self.rivals, found, strict=True)
                ]
                for index in range(len(hours))
            ]
            for place in (0, 1)
        )
        return mean, core

    def _humidities(self, band: Band, reach: list[list[float]]) -> list[Range]:
        found = []
        for index, others in enumerate(reach):
            value, low, high = (self.own.humidity(share) for share in band.at(index))
            found.append(_range([value, min(low, value, *others), max(high, value, *others)], "percent"))
        return found

    def hours_to_wanted(self, place: str) -> Estimate | None:
        """Estimate the hours until mean or core is at the humidity wanted; None if it never is."""
        if self.own.share_wanted >= _NEVER:
            return None
        found = hours_to_share(self.own.chamber, self.own.share_wanted, place=place)
        value, low, high = found.floats("hour", field="hours")
        reach = [hours for rival in self.rivals if (hours := rival.likely_hours(place)) is not None]
        ends = (value, min(low, value, *reach), max(high, value, *reach))
        return Estimate.of(ends, "hour", assumption=found.assumption)

    def hindrances(self) -> dict[str, float]:
        """Give the share of each hindrance in the whole resistance, the largest first."""
        names = {"source": "the source", "film": "the still air", "cover": "the cover", "pile": "the pile"}
        if self.choices.is_fanned:
            names["film"] = "the air at the item"
        shares = follow_uptake(self.own.chamber, Q_([1.0], "hour")).resistances
        found = {names[key]: share for key, share in shares.items()}
        return dict(sorted(found.items(), key=lambda pair: -pair[1]))


def set_up(item: Item, thicknesses: Thicknesses, choices: HumidityChoices) -> Setting:
    """Put an item into a chamber.

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
    """
    stack = build_item_stack(item, thicknesses)
    parts = [(item.text_paper, stack.mass(Role.LEAF))]
    if item.cover_leaves:
        parts.append((item.cover_paper, stack.mass(Role.COVER)))
    masses = tuple((paper, _dry(mass, paper, choices)) for paper, mass in parts)
    low, high = thicknesses.text_block.interval()
    thickness = Range(thicknesses.text_block.value, low, high)
    return Setting(item, thickness, masses, choices, _read(choices))


def _read(choices: HumidityChoices) -> HeldHumidity:
    return read_source(
        choices.source,
        air_temperature=choices.air_temperature,
        wall_temperature=choices.wall_temperature,
        salt=choices.salt,
        given=choices.given_humidity,
    )


def _dry(mass: Quantity, paper: str, choices: HumidityChoices) -> Quantity:
    humidity, temperature = choices.start_humidity, choices.air_temperature
    return dry_mass(mass, paper=paper, humidity=humidity, temperature=temperature).value


def _times(planned: float) -> np.ndarray:
    until = 1.5 * planned
    later = np.linspace(2.0, until, 22) if until > 2.5 else np.array([])
    early = [hour for hour in _EARLY if hour < until] or [planned / 4, planned / 2]
    return np.unique(np.concatenate([early, later, [planned]]))


def _range(numbers: Sequence[float], unit: str) -> Range:
    value, low, high = (Q_(number, unit) for number in numbers)
    return Range(value, low, high)


def _only(given: Any) -> Quantity:
    value: Quantity = getattr(given, "value", given)
    return value


def compare_ways(setting: Setting, highest: Quantity | None) -> tuple[Alternative, ...]:
    """Weigh the choice against other faces, a larger or stirred source, and other salts.

    Parameters
    ----------
    setting : Setting
    highest : Quantity [dimensionless] or None
        Humidity that may not be passed.

    Returns
    -------
    tuple of Alternative
        The choice first; a source that is drier than the item is left out.
    """
    found = (_weigh(setting, words, way, highest) for words, way in _ways(setting.choices))
    return tuple(way for way in found if way is not None)


def _ways(choices: HumidityChoices) -> Sequence[tuple[str, HumidityChoices]]:
    ways = [("this chamber", choices)]
    if choices.faces == "both":
        ways.append(("one face on a solid base", replace(choices, faces="one")))
    else:
        ways.append(("both faces free on a rack", replace(choices, faces="both")))
    if choices.source is not Source.GIVEN:
        ways.append(("twice the wet area", replace(choices, source_area=2 * choices.source_area)))
        words = "air left still" if choices.is_fanned else "air stirred by a fan"
        ways.append((words, replace(choices, is_fanned=not choices.is_fanned)))
    for salt in SALTS_TO_COMPARE:
        if choices.source is not Source.SALT or salt != choices.salt:
            ways.append((f"over {salt}", replace(choices, source=Source.SALT, salt=salt)))
    return ways


def _weigh(
    setting: Setting, words: str, choices: HumidityChoices, highest: Quantity | None
) -> Alternative | None:
    held = _read(choices)
    if to_humidity(held.step_end) <= to_humidity(choices.start_humidity):
        return None
    way = replace(setting, choices=choices, held=held).own
    mean, core = (way.humidity(float(s[0])) for s in most_likely(way.chamber, choices.planned))
    return Alternative(
        words=words,
        held=held.percent,
        mean=mean,
        core=core,
        hours=way.likely_hours("core"),
        is_allowed=highest is None or held.is_within(highest),
    )
