"""The chamber along a leaf: the fore edge ahead of the spine."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import erfcinv

from bench.figures.humidity_edges import draw_edges
from bench.treatment.humidity import HumidityChoices, Source, plan_humidity
from bench.treatment.humidity.edges import say_edges
from bench.units import Q_
from tests.makers import annual, annual_readings


@pytest.fixture(scope="module")
def edges():
    given = replace(HumidityChoices(), source=Source.GIVEN, given_humidity=Q_(98, "percent"))
    return plan_humidity(annual(), annual_readings(), given).edges


def millimetres(ahead):
    return [float(q.to("mm").magnitude) for q in (ahead.low, ahead.value, ahead.high)]


def test_the_outer_centimetre_runs_ahead_and_the_lead_is_gone_after_a_day(edges):
    """By hand: square root of diffusivity times time, 7e-10 to 7e-9 m2/s, is 3 to 9 mm after three hours."""
    low, value, high = millimetres(edges[0].ahead)
    assert edges[0].hours == pytest.approx(3)
    assert 3 <= low < value < high <= 20
    assert millimetres(edges[-1].ahead)[1] == 0


def test_near_the_edge_it_is_the_error_function_of_a_half_space(edges):
    """Crank, The Mathematics of Diffusion, eq. 3.13 (from memory): 1 - C/C0 = erf(x / sqrt(4 D t)).

    What is still missing beside the edge, over what is missing at the spine, gives sqrt(4 D t) at every
    place; it must be the same number.
    """
    profile = edges[0]
    missing = 98.0 - profile.humidity
    from_edge = profile.from_spine[-1] - profile.from_spine
    share = missing / missing[0]
    near = (share > 0.05) & (share < 0.95)
    depth = from_edge[near] / erfcinv(1 - share[near])
    assert near.sum() >= 5
    np.testing.assert_allclose(depth, depth.mean(), rtol=0.01)


def test_it_never_falls_towards_the_fore_edge(edges):
    for profile in edges:
        assert np.all(np.diff(profile.humidity) >= -1e-9)


def test_a_sentence_says_how_far_and_the_picture_says_the_same(edges):
    words = say_edges(edges)
    assert "After 3 h the outer" in words
    assert "even again" in words
    assert draw_edges(edges).reads == words
    assert draw_edges(()) is None
