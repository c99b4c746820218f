"""What is handed to buffering of the bench's own measurements, beside fits and readings under load."""

from datetime import date

import pytest

from bench.handover import learning
from bench.handover.learning import give_of_block
from bench.panels.buffering import build_buffering_panel
from bench.physics.bearing.fit import fit_compression
from bench.physics.ranges import Range
from bench.records.nouns import thicknesses_under_load
from bench.treatment.measured import K1, K2, THINNING, Accepted
from tests.panels.test_stage_panels import make
from tests.panels.test_under_load import read_under

pytestmark = pytest.mark.slow


def accepted(constant, *numbers):
    value = Range.of(numbers, constant.unit)
    return Accepted(constant, "newsprint", value, date(2026, 1, 5), date(2028, 1, 5))


PILE = (accepted(K1, 5, 3.5, 7), accepted(K2, 60, 53, 68), accepted(THINNING, 2, 1.2, 3))


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def test_what_was_measured_is_handed_on_and_nothing_where_nothing_was(treatment, monkeypatch):
    assert "measured" not in give_of_block(treatment, 1)
    monkeypatch.setattr(learning, "measured_here", lambda _: PILE)
    assert give_of_block(treatment, 1)["measured"] == PILE
    panel = build_buffering_panel(treatment)
    assert "newsprint, measured on this bench on 2026-01-05" in panel.answer
    taken = [one.key for one in panel.plan().assumptions if one.key.startswith("measured")]
    assert taken == ["measured: k1", "measured: k2", "measured: thinning"]


def test_readings_under_load_are_fitted_from_what_the_trial_found(treatment, monkeypatch):
    read_under(treatment, 1, "4.60 4.61 4.60 4.60 4.61")
    read_under(treatment, 10, "4.47 4.47 4.48 4.47 4.47")
    alone = give_of_block(treatment, 1)
    monkeypatch.setattr(learning, "measured_here", lambda _: PILE)
    found = give_of_block(treatment, 1)
    readings = thicknesses_under_load(treatment.record, stage="intake", cycle=0)
    k1, k2, _ = fit_compression(readings, k1=PILE[0].value, k2=PILE[1].value)
    assert (found["assumed"].k1, found["assumed"].k2) == (k1, k2)
    for name, unit in (("k1", "kPa"), ("k2", "")):
        ends = [getattr(known["assumed"], name).floats(unit, field=name) for known in (alone, found)]
        assert ends[1][2] / ends[1][1] < ends[0][2] / ends[0][1]
    assert found["assumed"].thinning == alone["assumed"].thinning
    answer = build_buffering_panel(treatment).answer
    assert "the readings under 4.97 and 49.7 kPa are fitted from it" in answer
