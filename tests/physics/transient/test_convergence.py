"""Smaller steps and smaller cells come nearer to the answer at the rate that the method promises."""

import numpy as np
import pytest

from bench.physics.isotherms import isotherm_of
from bench.physics.transient import Air, Inputs, Phase, compiled, simulate
from bench.physics.transient.equations import Equations
from bench.physics.transient.hysteresis import start_lag
from bench.physics.transient.slabs import damp_air, make_slices
from bench.physics.transient.stepper import Track, integrate
from bench.stack import Layer, Role, Stack
from bench.units import Q_
from tests.physics.transient.cases import CLOSED, DAMP, stack

PAPER = isotherm_of("newsprint")


def coupled_slab(cells, humidity=0.9):
    slices = make_slices(cells, isotherm=PAPER)
    outside = damp_air(slices, humidity, film=2.5e-3)
    equations = Equations(slices, outside)
    state = equations.state_of(np.full(cells, PAPER.content(0.6, 23.0)), np.full(cells, 23.0))
    return equations, state, outside.air_pressure


def linear(equations, seconds, state, airs):
    return compiled.linear(equations.cells, equations.rim, equations.lag, seconds, state, airs)


def fixed_steps(count, equations, state, air, seconds):
    """Take equal steps and accept them all."""
    step, airs = seconds / count, np.array([air])
    for number in range(count):
        point, slope = linear(equations, number * step, state, airs)
        trial = compiled.try_step(
            equations.cells, equations.rim, equations.lag, point, slope, number * step, state, airs, step
        )
        state = state + trial.change
    return state


def test_half_the_step_leaves_an_eighth_of_the_error():
    """Third order in time; away from the jump at the start, which no method of its kind resolves."""
    equations, state, air = coupled_slab(20)
    track = Track()
    begun, _ = integrate(equations, state, air, start=0.0, end=3600.0, tolerance=1e-7, track=track)
    reference = fixed_steps(2560, equations, begun, air, 3600.0)
    errors = [
        np.abs(fixed_steps(n, equations, begun, air, 3600.0) - reference)[0::2].max() for n in (80, 160, 320)
    ]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert orders == pytest.approx(3.0, abs=0.2)


def test_half_the_cell_leaves_a_quarter_of_the_error():
    """Second order in space: mean content after two hours, three successive halvings, extrapolated."""
    means = []
    for cells in (10, 20, 40, 80):
        equations, state, air = coupled_slab(cells)
        end, _ = integrate(equations, state, air, start=0.0, end=7200.0, tolerance=1e-7, track=Track())
        means.append(end[0::2].mean())
    steps = np.abs(np.diff(means))
    assert np.log2(steps[:-1] / steps[1:]) == pytest.approx(2.0, abs=0.2)


def test_one_cell_a_leaf_is_enough():
    """The annual after a day: one, two and four cells a leaf differ by less than 0.02 % RH."""
    day = [Phase("day", Q_(24, "hour"), DAMP)]
    found = []
    for cells in (1, 2, 4):
        history = simulate(stack(), day, cells_per_sheet=cells, tolerance=1e-5)
        found.append(float(history.humidity("middle leaf")[-1].magnitude))
    assert found == pytest.approx([found[-1]] * 3, abs=0.02)


def test_the_tolerance_in_use_is_right_to_some_hundredths_of_a_percent():
    day = [Phase("day", Q_(24, "hour"), DAMP)]
    tight, usual = simulate(stack(), day, tolerance=1e-7), simulate(stack(), day)
    for hours in (0.5, 2, 6, 12, 24):
        for place in ("middle leaf", "front cover", "mean"):
            when = Q_(hours, "hour")
            values = [h.at(h.humidity(place), when).magnitude for h in (tight, usual)]
            assert values[1] == pytest.approx(values[0], abs=0.15)
    assert usual.humidity("mean")[-1].magnitude == pytest.approx(
        tight.humidity("mean")[-1].magnitude, abs=0.03
    )


def test_the_slope_is_that_of_the_rates():
    """Every derivative against a difference of the rates, hysteresis, edges and chamber among them."""
    slices = make_slices(6, isotherm=PAPER)
    slices = type(slices)(**{**vars(slices), "edge_vapour": np.full(6, 1e-11), "edge_heat": np.full(6, 0.01)})
    outside = damp_air(slices, 0.9, film=2.5e-3)
    outside.edges, outside.chamber, outside.rate = True, (1e-7, 2700.0, 1e-9, 1300.0, 5e-6), (0.1, 0.0)
    equations = Equations(slices, outside)
    state = equations.state_of(np.linspace(0.05, 0.09, 6), np.linspace(20.0, 40.0, 6))
    lag = np.full(6, 0.004)
    equations.lag = start_lag(np.full(6, 0.01), state[0::2], lag)
    air = 1500.0
    point, (same, slope) = equations.at(10.0, state, air), linear(equations, 10.0, state, np.array([air]))
    assert same.rates == pytest.approx(point.rates, rel=1e-9, abs=1e-12)
    for column in range(12):
        moved = state.copy()
        moved[column] += 1e-7 if column % 2 == 0 else 1e-5
        step = moved[column] - state[column]
        there = equations.at(10.0, moved, air)
        change = (there.rates - point.rates) / step
        crossing = (there.crossing - point.crossing) / step
        cell, unknown = divmod(column, 2)
        blocks = {cell - 1: slope.after, cell: slope.own, cell + 1: slope.before}
        for row in range(12):
            block = blocks.get(row // 2)
            found = 0.0 if block is None else block[row // 2, row % 2, unknown]
            assert found == pytest.approx(change[row], rel=1e-4, abs=1e-4 * np.abs(change).max())
        largest = np.abs(crossing).max()
        assert slope.crossing[:, unknown, cell] == pytest.approx(
            crossing[:, cell], rel=1e-4, abs=1e-4 * largest
        )
        others = np.delete(crossing, cell, axis=1)
        assert others == pytest.approx(0 * others, abs=1e-12)
    change = (equations.at(10.0, state, air + 0.1).rates - point.rates) / 0.1
    assert slope.by_air == pytest.approx(change, rel=1e-6, abs=1e-12)
    later = (equations.at(11.0, state, air).rates - point.rates) / 1.0
    assert slope.by_time == pytest.approx(later, rel=1e-6, abs=1e-12)


def test_more_cells_and_hysteresis_agree_in_a_cycle():
    """Wet, dry, wet: with hysteresis the cycle ends where fine steps say it does."""
    leaf = Layer(Role.LEAF, "newsprint", 12, Q_(0.1, "mm"), Q_(52, "gsm"))
    pile = Stack((leaf,), Q_(0.04, "m^2"))
    dry = Air(Q_(22, "degC"), Q_(40, "percent"))
    phases = [
        Phase("wet", Q_(12, "hour"), DAMP),
        Phase("dry", Q_(4, "hour"), dry),
        Phase("wet again", Q_(2, "hour"), DAMP),
    ]
    inputs = Inputs(hysteresis=Q_(0.01, ""))
    usual, tight = (simulate(pile, phases, inputs=inputs, tolerance=t) for t in (3e-4, 1e-6))
    for name in ("dry", "wet again"):
        ends = [h.phase(name).contents[-1] for h in (usual, tight)]
        assert ends[0] == pytest.approx(ends[1], abs=1e-4)
    without = simulate(pile, phases[:2], inputs=Inputs(hysteresis=Q_(0.0, "")))
    held = usual.phase("dry").contents[-1].mean() - without.phase("dry").contents[-1].mean()
    assert 0.004 < held < 0.0105


def test_paper_that_only_takes_up_water_knows_nothing_of_hysteresis():
    """The flickers of a solver's own error must not be taken for drying."""
    day = [Phase("day", Q_(24, "hour"), CLOSED)]
    with_it, without = (simulate(stack(), day, inputs=Inputs(hysteresis=Q_(h, ""))) for h in (0.02, 0.0))
    assert len(with_it.phases[0].track.times) <= len(without.phases[0].track.times) + 2
    ends = [h.humidity("middle leaf")[-1].magnitude for h in (with_it, without)]
    assert ends[0] == pytest.approx(ends[1], abs=1e-4)
