"""Every published answer that the appendices show holds to what its printing leaves open."""

import pytest

from bench.physics.bearing import checks as load
from bench.physics.transient import checks as moisture

WORKED = [
    moisture.check_plane_sheet,
    moisture.check_day_at_98,
    moisture.check_resting,
    moisture.check_steel_wall,
    moisture.check_buried_pipe,
    moisture.check_one_term,
    moisture.check_press,
    load.check_beams,
    load.check_rail,
    load.check_step,
    load.check_limits,
    load.check_piles,
    load.check_grid,
]


@pytest.mark.parametrize("work", WORKED, ids=lambda work: work.__name__)
def test_what_is_published_is_found(work):
    worked = work()
    checks = worked[0] if isinstance(worked[0], tuple) else worked
    assert [check.name for check in checks if not check.holds] == []
    assert all(check.source for check in checks)


def test_every_problem_of_the_appendices_is_worked():
    named = {name for room in (load, moisture) for name in vars(room) if name.startswith("check_")}
    assert named == {work.__name__ for work in WORKED}
