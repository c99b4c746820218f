"""Intervals of 95 % hold the truth of 95 benches in 100, on every format.

From outside: the meaning of an interval itself (JCGM 101, coverage; GUM 6.2.2).  Each number of a plan is
held against 500 invented benches whose inputs are drawn as their ranges say, with a fixed seed.
"""

import math
from dataclasses import replace

import pytest

from bench.physics.isotherms import PAPER_FITS
from bench.stack import Role
from bench.treatment import facts
from bench.treatment.humidity import plan_humidity
from bench.treatment.humidity.plan import HumidityChoices
from bench.treatment.humidity.uptake import set_up
from bench.treatment.prediction import follow
from bench.units import Q_
from tests.benchmarks.bench_coverage import cover, items

pytestmark = pytest.mark.slow

BENCHES, LEAST, MOST = 500, 0.925, 0.99


def chance_of_passing(coverage):
    """Give the chance that an interval of such a coverage passes, by the normal law of a share."""
    spread = math.sqrt(coverage * (1 - coverage) / BENCHES)
    return 0.5 * (1 + math.erf((coverage - LEAST) / spread / math.sqrt(2)))


def test_so_many_benches_tell_nine_in_ten_from_nineteen_in_twenty():
    assert chance_of_passing(0.90) < 0.04
    assert chance_of_passing(0.95) > 0.99


@pytest.mark.parametrize("kind", list(items()))
def test_intervals_hold_the_truth_as_often_as_they_say(kind):
    for row in cover(kind, BENCHES):
        assert LEAST <= row.inside <= MOST, row
        assert max(row.below, row.above) < 0.05, row


@pytest.mark.parametrize("paper", PAPER_FITS)
def test_paper_that_follows_any_published_isotherm_stays_within(paper):
    """Fits to the rows of a handbook's table of regain (from memory), and a published pulp [heikkila1993]."""
    item, readings = items()["square-bound, side-stapled"]
    choices = HumidityChoices(planned=Q_(12, "hour"))
    setting, plan = set_up(item, readings, choices), plan_humidity(item, readings, choices)
    history = follow(replace(setting.course, isotherms={Role.LEAF: paper}))
    mean = history.at(history.humidity("mean"), choices.planned).to("percent")
    gain = (history.at(history.item_mass(), choices.planned) - history.item_mass()[0]).to("g")
    for fact, found in ((facts.LEAVES_HUMIDITY, mean), (facts.MASS_GAIN, gain)):
        low, high = plan.value(fact).ends
        assert low <= found <= high, (fact.label, found)
