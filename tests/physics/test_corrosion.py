"""Hours of wetness of staples."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import BadValue
from bench.physics import corrosion
from bench.physics.exposure import Exposure
from bench.units import Q_


def spell(hours, celsius, percent):
    return Exposure(Q_(hours, "hour"), Q_(celsius, "degC"), Q_(percent, "percent"))


@pytest.mark.parametrize(
    ("celsius", "percent", "wet", "damp"),
    [(22, 98, 24, 24), (22, 80.1, 24, 24), (22, 80, 0, 24), (22, 61, 0, 24), (22, 60, 0, 0), (0, 98, 0, 24)],
)
def test_what_counts_as_wet(celsius, percent, wet, damp):
    """ISO 9223: above 0 °C and above 80 % (seen in an open implementation); museum advice: above 60 %."""
    found = corrosion.assess_staples([spell(24, celsius, percent)])
    assert found.wetness.to("hour").m == wet
    assert found.above_advice.to("hour").m == damp


def test_hours_of_a_treatment_add():
    """A chamber day at 98 %, a day in the stack falling through 85 and 75 %, then the room."""
    history = [spell(24, 22, 98), spell(12, 22, 85), spell(12, 22, 75), spell(100, 22, 50)]
    found = corrosion.assess_staples(history)
    assert found.wetness == Q_(36, "hour")
    assert found.above_advice == Q_(48, "hour")


@settings(max_examples=30)
@given(st.lists(st.tuples(st.floats(0, 100), st.floats(1, 60), st.floats(0, 100)), max_size=5))
def test_wet_hours_are_never_more_than_damp_hours(steps):
    found = corrosion.assess_staples([spell(*step) for step in steps])
    assert found.wetness <= found.above_advice


def test_something_else_than_a_history_is_refused():
    with pytest.raises(BadValue, match="history is '98 %'"):
        corrosion.assess_staples(["98 %"])
