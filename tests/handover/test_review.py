"""What the record hands to the review of a cycle."""

import pytest

from bench.desk import Treatment
from bench.handover.review import read_cycle
from bench.treatment import facts
from tests.writeup.case_makers import at, make_full


@pytest.fixture
def treatment(tmp_path):
    """A treatment after its first cycle: read again, no defect looked at yet."""
    return Treatment(make_full(tmp_path, reviewed=False), clock=lambda: at(6, 12))


def test_what_is_recorded_is_gathered(treatment):
    known = read_cycle(treatment)
    assert known.cycle == 1
    assert known.choices.done_with.interval == 6
    assert known.choices.consented_cycles == 1
    # From the end of pressing, 4 March 19:00, to the readings of 6 March 09:00.
    assert known.choices.rested.to("hour").magnitude == pytest.approx(38)
    assert set(known.choices.chances) == {6, 8, 10}
    assert set(known.measured) == {facts.THICKNESS_WITH_SHEETS.key, facts.GAIN_IN_THICKNESS.key}
