"""Uptake with a bent isotherm, by finite volumes: what the model of the bench is held against.

An independent calculation for the tests: vapour pressure drives, the water content stores, the
isotherm is the full one.  40 cells; checked against the plane-sheet series with a straight
isotherm.
"""

from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

from bench.physics import saturation

VAPOUR_CONSTANT = 461.523  # J/(kg K)
TEMPERATURE = 22.0  # °C
DENSITY = 600.0  # kg/m3
FILM = 2.5e-3  # m/s
CELLS = 40


def gab(m, c, k):
    return lambda a: m * c * k * a / ((1 - k * a) * (1 - k * a + c * k * a))


def heikkila(celsius=TEMPERATURE):
    x = np.linspace(0.0, 0.6, 20001)
    a = 1 - np.exp(-(47.58 * x**1.877 + 0.10085 * celsius * x**1.0585))
    return lambda humidity: np.interp(humidity, a, x)


# GAB constants fitted to the handbook table of regain (table from memory); Heikkilä from memory.
ISOTHERMS = {
    "filled newsprint": gab(0.0381, 14.56, 0.7254),
    "writing paper": gab(0.0522, 13.65, 0.7211),
    "pulp": heikkila(),
}


@dataclass(frozen=True)
class Uptake:
    """Mean uptake over the hours, and the humidity of the core."""

    hours: np.ndarray
    mean: np.ndarray
    core: np.ndarray

    def hours_to(self, fraction):
        return float(np.interp(fraction, self.mean, self.hours))

    def mean_after(self, hours):
        return float(np.interp(hours, self.hours, self.mean))

    def core_after(self, hours):
        return float(np.interp(hours, self.hours, self.core))


def take_up(isotherm, *, ratio, path, start=0.5, end=0.98, cover=0.0, film=FILM, until=700.0):
    """Solve one sheet, open on one side of a path in m, for ``until`` hours."""
    kelvin = TEMPERATURE + 273.15
    still = 2.306e-5 * (kelvin / 273.15) ** 1.81 / (VAPOUR_CONSTANT * kelvin)
    pressure = saturation.pressure_pa(TEMPERATURE)
    delta, cell = ratio * still, path / CELLS
    humidity = np.linspace(0.01, 0.9999, 4000)
    water = isotherm(humidity)
    outside = VAPOUR_CONSTANT * kelvin / film + cover / still + cell / 2 / delta

    def change(_, content):
        vapour = pressure * np.interp(content, water, humidity)
        flow = np.zeros(CELLS + 1)
        flow[0] = (end * pressure - vapour[0]) / outside
        flow[1:-1] = delta * (vapour[:-1] - vapour[1:]) / cell
        return (flow[:-1] - flow[1:]) / (DENSITY * cell)

    hours = np.linspace(0, until, 2601)
    first, last = float(isotherm(start)), float(isotherm(end))
    solved = solve_ivp(
        change,
        (0, until * 3600),
        np.full(CELLS, first),
        method="LSODA",
        t_eval=hours * 3600,
        lband=1,
        uband=1,
        rtol=1e-6,
        atol=1e-9,
    )
    mean = (solved.y.mean(axis=0) - first) / (last - first)
    return Uptake(hours, mean, np.interp(solved.y[-1], water, humidity))
