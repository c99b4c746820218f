"""What happened: temperature, humidity and moisture of every sheet, through every phase."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue, NotFound
from bench.physics import saturation
from bench.physics.transient.cells import Cut
from bench.physics.transient.equations import Equations
from bench.physics.transient.phases import Change, Phase
from bench.physics.transient.stepper import Track
from bench.stack import Role
from bench.units import Q_, Quantity, to_float

Floats = NDArray[np.float64]

_BETWEEN = 4  # points read within each step of the solver, by its own cubic

_ABOVE = (
    "Above 99 % RH somewhere in the stack: no isotherm holds there, and water may stand as liquid. "
    "Do not rely on the numbers of that time."
)
_NEAR = (
    "Above 90 % RH the published isotherms are carried on past their data and disagree widely: "
    "weigh the item to know what it took up."
)

PLACES = ("middle leaf", "first leaf", "last leaf", "front cover", "back cover", "mean", "wettest", "driest")
"""Places within the item; without a cover its first and last leaf stand for it."""


class HistoryStep(NamedTuple):
    """A step of a history in plain numbers, read like an :class:`Exposure`.

    Attributes
    ----------
    hours, celsius, fraction, moisture : float
        Time, temperature, relative humidity and moisture content, the last three the mean of its ends.
    """

    hours: float
    celsius: float
    fraction: float
    moisture: float


@dataclass(frozen=True)
class PhaseHistory:
    """One phase as it went (plain numbers, SI; times from the start of the whole sequence).

    Attributes
    ----------
    phase : Phase
        As it was asked for.
    cut : Cut
        The stack in it.
    equations : Equations
        Of the stack in its surroundings.
    track : Track
        The steps of the solver.
    start : float
        s
    change : Change
        Of the stack, before it began.
    """

    phase: Phase
    cut: Cut
    equations: Equations
    track: Track
    start: float
    change: Change

    @cached_property
    def _dense(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Times, states, hysteresis and chamber pressures, with points between the solver's steps."""
        t, states, rates = self.track.times, self.track.states, self.track.rates
        lags, airs = self.track.lags, self.track.airs
        part = (np.arange(_BETWEEN) + 1)[:, None] / _BETWEEN
        step = np.diff(t)
        times = np.concatenate([[t[0]], (t[:-1] + part * step).T.reshape(-1)])
        p = part[:, :, None]
        width = step[:, None]
        h10, h01, h11 = p * (1 - p) ** 2, p**2 * (3 - 2 * p), p**2 * (p - 1)
        rise = np.diff(states, axis=0)
        # Held to a rising or falling curve: where a step bridges a jump the rates at its ends say nothing.
        low, high = np.minimum(0.0, 3 * rise), np.maximum(0.0, 3 * rise)
        left, right = (np.clip(width * r, low, high) for r in (rates[:-1], rates[1:]))
        inner = states[:-1] + h01 * rise + h10 * left + h11 * right
        dense = np.concatenate([states[:1], inner.transpose(1, 0, 2).reshape(-1, states.shape[1])])
        held = ((1 - p) * lags[:-1] + p * lags[1:]).transpose(1, 0, 2).reshape(-1, lags.shape[1])
        air = np.concatenate([airs[:1], np.interp(times[1:], t, airs)])
        return times, dense, np.concatenate([lags[:1], held]), air

    @property
    def times(self) -> Floats:
        """Seconds from the start of the sequence."""
        return self._dense[0] + self.start

    @cached_property
    def climate(self) -> tuple[Floats, Floats]:
        """Temperature in °C and water activity of every cell, shape (times, cells)."""
        _, states, lags, _ = self._dense
        return self.equations.climate(states, lags)

    @property
    def contents(self) -> Floats:
        """Moisture content of every cell, shape (times, cells)."""
        return np.asarray(self._dense[1][:, 0::2])

    @property
    def air_humidity(self) -> Floats:
        """Relative humidity of the air about it, as a fraction."""
        full = saturation.pressure_pa(self.equations.outside.air_celsius)
        return np.asarray(self._dense[3] / full)

    def water(self, *roles: Role) -> Floats:
        """Water held by the sheets of these roles (all without one), kg/m2 of face."""
        cells = np.zeros(len(self.cut.slices.mass), dtype=bool)
        for sheet in self.cut.sheets:
            if not roles or sheet.role in roles:
                cells[sheet.cells] = True
        return np.asarray(self.contents[:, cells & self.cut.slices.wet] @ self._mass(cells))

    def _mass(self, cells: NDArray[np.bool_]) -> Floats:
        return self.cut.slices.mass[cells & self.cut.slices.wet]

    def sheet_values(self, values: Floats) -> Floats:
        """Average cell values over each sheet of the item, shape (times, sheets of the item)."""
        return self.cut.means_of_item(values)

    @cached_property
    def last(self) -> dict[str, Floats]:
        """Temperature in °C, activity and content of each sheet of the item at the end, shape (1, sheets)."""
        state = self.track.states[-1:]
        celsius, activity = self.equations.climate(state, self.track.lags[-1:])
        values = {"celsius": celsius, "activity": activity, "content": state[:, 0::2]}
        return {name: self.sheet_values(part) for name, part in values.items()}

    @cached_property
    def dry_shares(self) -> Floats:
        """Dry mass of each sheet of the item, kg/m2."""
        return np.array([self.cut.slices.mass[s.cells].sum() for s in self.cut.sheets if s.of_item])


@dataclass(frozen=True)
class History:
    """A treatment as the model sees it.

    Attributes
    ----------
    phases : tuple of PhaseHistory
        In order.
    """

    phases: tuple[PhaseHistory, ...]

    @cached_property
    def cautions(self) -> tuple[str, ...]:
        """What figure and write-up must show beside the numbers."""
        highest = max(float(p.climate[1][:, p.cut.slices.wet].max()) for p in self.phases)
        return tuple(words for limit, words in ((0.90, _NEAR), (0.99, _ABOVE)) if highest > limit)

    def phase(self, name: str) -> PhaseHistory:
        """Find a phase by its name.

        Raises
        ------
        NotFound
            No phase of that name.
        """
        for phase in self.phases:
            if phase.phase.name == name:
                return phase
        known = ", ".join(phase.phase.name for phase in self.phases)
        raise NotFound("phase", repr(name), known, "Name one of the phases")

    @cached_property
    def seconds(self) -> Floats:
        """Time since the start in s, shape (n,); the end of a phase and the start of the next are two."""
        return np.concatenate([phase.times for phase in self.phases])

    @property
    def hours(self) -> Quantity:
        """The same with its unit."""
        return Q_(self.seconds / 3600, "hour")

    @cached_property
    def _sheets(self) -> dict[str, Floats]:
        parts: dict[str, list[Floats]] = {"celsius": [], "activity": [], "content": []}
        for phase in self.phases:
            celsius, activity = phase.climate
            for name, values in (("celsius", celsius), ("activity", activity), ("content", phase.contents)):
                parts[name].append(phase.sheet_values(values))
        return {name: np.concatenate(values) for name, values in parts.items()}

    def series(self, what: str, place: str) -> Floats:
        """Give ``celsius``, ``activity`` or ``content`` at one of the :data:`PLACES`, shape (n,)."""
        if (what, place) not in self._known:
            self._known[what, place] = self._read(what, place, self._sheets)
        return self._known[what, place]

    @cached_property
    def _known(self) -> dict[tuple[str, str], Floats]:
        return {}

    def _read(self, what: str, place: str, sheets: dict[str, Floats]) -> Floats:
        """Read a place out of the values of all sheets."""
        values, inner = sheets[what], self._inner
        if place == "mean":
            weights = self.phases[0].dry_shares
            return np.asarray(values @ (weights / weights.sum()))
        if place in ("wettest", "driest"):
            key = sheets["activity"]
            chosen = key.argmax(axis=1) if place == "wettest" else key.argmin(axis=1)
            return np.asarray(values[np.arange(len(values)), chosen])
        if place == "middle leaf":
            middle = len(inner) // 2
            pair = [inner[middle]] if len(inner) % 2 else [inner[middle - 1], inner[middle]]
            return np.asarray(values[:, pair].mean(axis=1))
        index = {"first leaf": inner[0], "last leaf": inner[-1], "front cover": 0, "back cover": -1}
        if place not in index:
            raise NotFound("place in the item", repr(place), ", ".join(PLACES), "Name one of these")
        return np.asarray(values[:, index[place]])

    @cached_property
    def _inner(self) -> list[int]:
        """Which sheets of the item are leaves; all, where none is."""
        sheets = [s for s in self.phases[0].cut.sheets if s.of_item]
        return [i for i, s in enumerate(sheets) if s.role is Role.LEAF] or list(range(len(sheets)))

    def after(self, phase: str, what: str, place: str) -> float:
        """Give ``celsius``, ``activity`` or ``content`` at a place of the item at the end of a phase."""
        return float(self._read(what, place, self.phase(phase).last)[0])

    def humidity(self, place: str) -> Quantity:
        """Relative humidity at a place of the item, percent, shape (n,); see :data:`PLACES`."""
        return Q_(100 * self.series("activity", place), "percent")

    def temperature(self, place: str) -> Quantity:
        """Temperature at a place of the item, °C, shape (n,)."""
        return Q_(self.series("celsius", place), "degC")

    def sheets(self, what: str) -> Floats:
        """Give ``celsius``, ``activity`` or ``content`` of every sheet of the item, shape (n, sheets)."""
        return self._sheets[what]

    def item_mass(self) -> Quantity:
        """Mass of the item, g, shape (n,): what a balance would read."""
        grams = 1000 * self.phases[0].cut.area
        dry = float(self.phases[0].dry_shares.sum())
        water = np.concatenate([phase.water(Role.COVER, Role.LEAF) for phase in self.phases])
        return Q_(grams * (dry + water), "g")

    def air_humidity(self) -> Quantity:
        """Relative humidity of the air about the stack (that of a chamber sags), percent, shape (n,)."""
        return Q_(100 * np.concatenate([phase.air_humidity for phase in self.phases]), "percent")

    def at(self, values: Quantity, when: Quantity) -> Quantity:
        """Read a series of this history at a time; where two phases meet, the later counts."""
        seconds = to_float(when, "s", field="time", low=0.0)
        if seconds > self.seconds[-1]:
            end = f"0 to {self.seconds[-1] / 3600:.4g} h"
            raise BadValue("time", f"{seconds / 3600:.4g} h", end, "Ask for a time within the phases")
        last = int(np.searchsorted(self.seconds, seconds, side="right"))
        if last == len(self.seconds) or self.seconds[last - 1] == seconds:
            return Q_(values.magnitude[last - 1], values.units)
        t0, t1 = self.seconds[last - 1 : last + 1]
        low, high = values.magnitude[last - 1 : last + 1]
        return Q_(low + (high - low) * (seconds - t0) / (t1 - t0), values.units)

    def steps(self, place: str = "wettest", *, phases: Iterable[str] | None = None) -> list[HistoryStep]:
        """Give the history at a place as steps, for mould, rust and ageing.

        Parameters
        ----------
        place : str
            One of :data:`PLACES`.
        phases : names, optional
            Only these phases.

        Returns
        -------
        list of HistoryStep
            Plain numbers, which take a tenth of the time of an :class:`Exposure`.
        """
        wanted = [p.phase.name for p in self.phases] if phases is None else list(phases)
        for name in wanted:
            self.phase(name)
        series = np.stack([self.series(w, place) for w in ("celsius", "activity", "content")], axis=1)
        found: list[HistoryStep] = []
        first = 0
        for phase in self.phases:
            part = slice(first, first + len(phase.times))
            first = part.stop
            if phase.phase.name in wanted:
                means = (series[part][1:] + series[part][:-1]) / 2
                means[:, 1] = np.minimum(1.0, means[:, 1])
                hours = np.diff(self.seconds[part]) / 3600
                found += [HistoryStep(h, *row) for h, row in zip(hours.tolist(), means.tolist(), strict=True)]
        return found
