"""Constants from what was measured and believed: exact linear cases, a known truth, bounds."""

import numpy as np
import pytest

from bench.physics.most_probable import Belief, find_most_probable


def believe(values, doubts, reach=50.0):
    values, doubts = np.array(values, dtype=float), np.array(doubts, dtype=float)
    return Belief(values, doubts, values - reach * doubts, values + reach * doubts, 0.1 * doubts)


def test_a_straight_model_has_the_closed_answer():
    """Generalized least squares with a prior: normal equations, correlated readings [gum]."""
    matrix = np.array([[1.0, 0.5], [0.2, 2.0], [1.5, -1.0]])
    read, covariance = (
        np.array([1.0, 3.0, 0.5]),
        np.array([[0.5, 0.2, 0.0], [0.2, 0.4, 0.1], [0.0, 0.1, 0.3]]),
    )
    belief, trust = believe([0.3, 0.7], [2.0, 0.5]), np.linalg.inv(covariance)
    found = find_most_probable(lambda points: matrix @ points, read, trust, belief)
    normal = matrix.T @ trust @ matrix + np.diag(belief.doubts**-2.0)
    exact = np.linalg.solve(normal, matrix.T @ trust @ read + belief.values / belief.doubts**2)
    assert found.values == pytest.approx(exact, rel=1e-5)
    assert found.covariance == pytest.approx(np.linalg.inv(normal), rel=1e-9)
    assert found.predicted == pytest.approx(matrix @ found.values)


def test_what_nothing_was_measured_of_stays_as_believed():
    found = find_most_probable(lambda points: points[:1], np.array([4.0]), np.eye(1), believe([0, 7], [9, 2]))
    assert found.values[1] == 7
    assert found.covariance[1, 1] == pytest.approx(4)


def test_a_step_that_does_not_pay_is_shortened():
    """arctan x = 0 from x = 3: plain Newton leaps from side to side ever farther, a textbook case."""
    one, seen = np.array([1.0]), []

    def predict(points):
        seen.append(float(abs(points).max()))
        return np.arctan(points)

    belief = Belief(3 * one, 1e3 * one, -1e6 * one, 1e6 * one, 1e-3 * one)
    found = find_most_probable(predict, 0 * one, 1e4 * np.eye(1), belief)
    assert found.values[0] == pytest.approx(0, abs=1e-3)
    assert max(seen) < 20


@pytest.mark.parametrize(("read", "end"), [(9.0, 2.0), (-9.0, -1.0)])
def test_a_constant_stops_at_how_far_it_may_go(read, end):
    one = np.array([1.0])
    belief = Belief(0.5 * one, one, -1 * one, 2 * one, 0.1 * one)
    seen = []

    def predict(points):
        seen.append(points)
        return points

    found = find_most_probable(predict, read * one, 1e4 * np.eye(1), belief)
    assert found.values[0] == end
    assert max(points.max() for points in seen) <= 2.0


def test_points_are_worked_out_together():
    """One question a round: the point and one step beside it for each constant."""
    asked = []

    def predict(points):
        asked.append(points.shape)
        return points**3

    find_most_probable(predict, np.array([8.0, 1.0]), np.eye(2), believe([1, 2], [1, 1]))
    assert set(asked) == {(2, 3)}
    assert len(asked) < 12
