"""What samples can say of a chance."""

import pytest
from scipy.stats import binomtest

from bench.physics.bearing.results import sampled_range, say_sampled


@pytest.mark.parametrize(
    ("samples", "said"), [(100, "3 %"), (500, "0.6 %"), (2000, "0.2 %"), (3000, "0.1 %")]
)
def test_a_chance_that_no_sample_shows_is_below_three_over_their_number(samples, said):
    """Rule of three, from memory: (1 - 3/n)^n is 0.05 within 0.003, exact binomial; rounded up."""
    assert (1 - 3 / samples) ** samples == pytest.approx(0.05, abs=0.003)
    assert say_sampled(0.0, samples) == f"less than {said}"


@pytest.mark.parametrize(
    ("hits", "samples"), [(0, 500), (1, 2000), (10, 500), (77, 100), (499, 500), (500, 500)]
)
def test_the_interval_of_a_chance_is_wilsons(hits, samples):
    """Against the binomial test of SciPy, a reference library."""
    found = sampled_range(hits / samples, samples)
    known = binomtest(hits, samples).proportion_ci(method="wilson")
    assert found.value.magnitude == pytest.approx(100 * hits / samples)
    assert found.low.magnitude == pytest.approx(100 * known.low, rel=1e-9, abs=1e-12)
    assert found.high.magnitude == pytest.approx(100 * known.high, rel=1e-9)


def test_chances_found_are_written_with_their_digits():
    assert say_sampled(0.014, 500) == "1.4 %"
    assert say_sampled(0.31, 500) == "31 %"
    assert say_sampled(1.0, 500) == "more than 99.4 %"
