"""Fine grids and stiff plates: rounding grows there, and is no lack of balance."""

import numpy as np
import pytest

from bench.errors import OutOfRange
from bench.physics.bearing import solve
from bench.physics.bearing.laws import Bed, Law, linear_bed
from bench.physics.bearing.plates import section_plate, shares
from bench.physics.bearing.solve import Chain, rigid_height, solve_chain

pytestmark = pytest.mark.slow

MEAN = 4000.0


def pressed(nodes, bending):
    """A pile that is higher by 0.2 mm at the spine, under a pack."""
    places = np.linspace(0, 0.168, nodes)
    height = 4.4e-3 + 0.2e-3 * np.exp(-places / 3e-3)
    bed = Bed(Law.PFEIFFER, height, np.full(nodes, 5e3), height / 60)
    boards = linear_bed(np.full(nodes, 1e-3), np.full(nodes, 1e10))
    share = shares(places)
    return Chain(share, (bed, boards), (section_plate(places, bending),)), MEAN * float(share.sum())


@pytest.mark.parametrize("bending", [0.1, 10.0, 100.0, 1e4])
@pytest.mark.parametrize("nodes", [601, 1501, 3001])
def test_a_fine_grid_is_balanced_and_agrees_with_a_coarse_one(nodes, bending):
    """Places that both grids have are pressed alike, to the error of the coarse."""
    chain, load = pressed(nodes, bending)
    fine = solve_chain(chain, load=load)
    assert float(chain.share @ fine.pressures[0]) == pytest.approx(load, rel=1e-5)
    assert fine.unbalance < 1e-5
    coarse = solve_chain(pressed(301, bending)[0], load=load)
    step = (nodes - 1) // 300
    assert fine.pressures[0][::step] == pytest.approx(coarse.pressures[0], rel=0.02, abs=5.0)


def test_a_very_stiff_plate_on_a_fine_grid_is_a_rigid_platen():
    chain, load = pressed(3001, 1e4)
    rigid = rigid_height(chain.beds[0], chain.share, load)
    pressure = chain.beds[0].at(chain.beds[0].height - rigid)[0]
    found = solve_chain(chain, load=load)
    tilt = chain.plates[0].flat @ found.heights[0]
    assert abs(tilt[1] / np.sqrt(3001)) < 2e-4  # level to less than the step: the platen above is held level
    assert float(chain.share @ pressure) == pytest.approx(float(chain.share @ found.pressures[0]), rel=1e-5)


def test_what_is_out_of_balance_by_more_than_rounding_is_still_refused(monkeypatch):
    """A solver that is out by a millionth of the load in all its steps must not pass."""
    newton = solve._newton
    monkeypatch.setattr(solve, "_newton", lambda *a: [part * (1 - 1e-1) + 1e-9 for part in newton(*a)])
    chain, load = pressed(301, 0.1)
    with pytest.raises(OutOfRange, match="balance of the contact"):
        solve_chain(chain, load=load)
