"""What samples can say of a chance."""

import numpy as np
import pytest

from bench.physics.bearing.results import sampled_range, say_sampled


@pytest.mark.parametrize(
    ("samples", "said"), [(100, "3 %"), (500, "0.6 %"), (2000, "0.2 %"), (3000, "0.1 %")]
)
def test_a_chance_that_no_sample_shows_is_below_three_over_their_number(samples, said):
    """Rule of three, from memory: (1 - 3/n)^n is 0.05 within 0.003, exact binomial; rounded up."""
    assert (1 - 3 / samples) ** samples == pytest.approx(0.05, abs=0.003)
    assert say_sampled(0.0, samples) == f"less than {said}"


def test_the_interval_of_a_chance_is_wilsons():
    """By hand: (p + z²/2n ± z sqrt(p(1-p)/n + z²/4n²)) / (1 + z²/n), z = 1.95996; 10 of 500."""
    found = sampled_range(0.02, 500)
    z, p, n = 1.959964, 0.02, 500
    middle, half = p + z**2 / (2 * n), z * np.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
    ends = [100 * (middle + sign * half) / (1 + z**2 / n) for sign in (-1, 1)]
    assert [found.low.magnitude, found.high.magnitude] == pytest.approx(ends, rel=1e-5)
    assert found.value.magnitude == pytest.approx(2)
    none = sampled_range(0.0, 500)
    assert none.low.magnitude == pytest.approx(0, abs=1e-12)
    assert none.high.magnitude == pytest.approx(100 * z**2 / (n + z**2), rel=1e-5)


def test_chances_found_are_written_with_their_digits():
    assert say_sampled(0.014, 500) == "1.4 %"
    assert say_sampled(0.31, 500) == "31 %"
    assert say_sampled(1.0, 500) == "more than 99.4 %"
