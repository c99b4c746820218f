"""How often the intervals of a trial hold the truth, over made-up benches."""

import numpy as np

from bench.physics.ranges import draw
from bench.trials import Readings


def count_misses(protocol, about, believed, draws, seed):
    """Give, by constant, how often the truth lay below and above the interval; truths as believed."""
    rng = np.random.default_rng(seed)
    below, above = dict.fromkeys(believed, 0), dict.fromkeys(believed, 0)
    units = {constant.key: constant.unit for constant in protocol.finds}
    for _ in range(draws):
        truth = {
            key: float(draw(each.floats(units[key], field=key), rng.standard_normal(1))[0])
            for key, each in believed.items()
        }
        for found in protocol.fit(protocol.made_up(about, truth, rng)).found:
            key = found.constant.key
            _, low, high = found.value.floats(units[key], field=key)
            below[key] += truth[key] < low
            above[key] += truth[key] > high
    return below, above


def assert_covered(protocol, about, believed, *, draws=200, seed=7):
    """Hold that nine in ten are covered at least, and that the misses do not all lie on one side."""
    below, above = count_misses(protocol, about, believed, draws, seed)
    for key in believed:
        misses = below[key] + above[key]
        assert misses <= draws / 10, (key, below[key], above[key])
        assert misses < 8 or min(below[key], above[key]) > 0, (key, below[key], above[key])


def changed(readings, **read):
    """Give readings with some exchanged; None takes one out.  Keys with underscores for dashes."""
    kept = dict(readings.read)
    for key, values in read.items():
        kept.pop(key.replace("_", "-"), None)
        if values is not None:
            kept[key.replace("_", "-")] = values
    return Readings(readings.about, kept, readings.calibrated)


def found_of(outcome):
    """Give value, low and high of each constant, by its key, in its unit."""
    return {
        each.constant.key: each.value.floats(each.constant.unit, field=each.constant.label)
        for each in outcome.found
    }
