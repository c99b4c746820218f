"""Courses side by side: the answers of one by one, nothing lost, nothing passed from stack to stack."""

from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue
from bench.physics.transient import Course, Inputs, Phase, Platen, Rest, simulate_together
from bench.stack import Layer, Role, Stack
from bench.units import Q_
from tests.oracles.balances import balance_heat, balance_water
from tests.physics.transient.cases import CLOSED, DAMP, ROOM, page, stack, treatment

THIN = Stack((Layer(Role.LEAF, "newsprint", 8, Q_(0.1, "mm"), Q_(52, "gsm")),), Q_(0.03, "m^2"))
DRY = Rest(Q_(30, "percent"), Q_(18, "degC"))
RISING = Platen((Q_(22, "degC"), Q_(60, "degC")), (Q_(0, "min"), Q_(10, "min")))


def unlike_courses(tolerance):
    """A whole treatment, thin piles in a closed chamber and in open air, a platen on the move."""
    sure = Inputs(hysteresis=Q_(0.0, ""))
    hour = Q_(1, "hour")
    found = [
        Course(stack(), tuple(treatment()), page=page()),
        Course(THIN, (Phase("room", hour, CLOSED),), DRY),
        Course(THIN, (Phase("damp", hour, DAMP), Phase("room", Q_(3, "hour"), ROOM)), inputs=sure),
        Course(stack(), (Phase("hot", hour, ROOM, RISING),), isotherms={Role.LEAF: "white bond"}),
        Course(THIN, (Phase("hot", hour, ROOM, RISING), Phase("cool", Q_(3, "hour"), ROOM))),
    ]
    return [replace(course, tolerance=tolerance) for course in found]


@pytest.mark.parametrize(("tolerance", "activity", "kelvin"), [(1e-6, 2e-5, 2e-3), (1e-3, 3e-3, 0.1)])
def test_side_by_side_gives_what_one_by_one_gives(tolerance, activity, kelvin):
    """To the error of a step; at the end of every phase, in every sheet."""
    courses = unlike_courses(tolerance)
    together = simulate_together(courses)
    for course, one in zip(courses, together, strict=True):
        (alone,) = simulate_together([course])
        assert [p.phase.name for p in one.phases] == [p.name for p in course.phases]
        for found, expected in zip(one.phases, alone.phases, strict=True):
            for values, reference, near in zip(
                found.climate, expected.climate, (kelvin, activity), strict=True
            ):
                assert values[-1] == pytest.approx(reference[-1], abs=near)


def test_no_water_and_no_heat_passes_from_stack_to_stack():
    """Each balances for itself to 1e-8 of what it moved."""
    for history in simulate_together(unlike_courses(1e-3)):
        balance = balance_water(history)
        assert abs(balance.residual) < 1e-8 * (abs(balance.crossed) + 1.0)
        left, carried = balance_heat(history)
        assert abs(left) < 1e-8 * carried


def test_company_costs_no_course_its_accuracy():
    """A stack that is at rest is not disturbed by a neighbour under a hot platen."""
    still = Course(THIN, (Phase("room", Q_(1, "hour"), ROOM),), Rest(Q_(50, "percent"), Q_(22, "degC")))
    hot = Course(stack(), (Phase("hot", Q_(1, "hour"), ROOM, RISING),))
    quiet, _ = simulate_together([still, hot])
    assert np.ptp(quiet.humidity("middle leaf").magnitude) < 1e-5  # % RH; the tables of isotherms
    assert np.ptp(quiet.temperature("middle leaf").magnitude) < 1e-5


def test_no_courses_give_no_histories_and_a_course_without_phases_is_refused():
    assert simulate_together([]) == ()
    with pytest.raises(BadValue, match="phases"):
        Course(stack(), ())
