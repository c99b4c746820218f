"""The text block read under two loads: what is saved, what the plan makes of it, what it refuses."""

import numpy as np
import pytest

from bench.handover.learning import give_of_block
from bench.panels.buffering import build_buffering_panel
from bench.panels.readings import build_readings_panel
from bench.physics.bearing.fit import fit_compression
from bench.physics.contact import PFEIFFER_K1, PFEIFFER_K2
from bench.records.check import check_treatment
from bench.records.nouns import measured_at, place_under, thicknesses_under_load
from bench.uncertainty import estimate_from_readings
from bench.units import Q_
from tests.panels.test_stage_panels import make, put, why

FOOT = 16.0  # mm; TAPPI T 411 and ISO 534 take a foot of 200 mm2, which is 16 mm across (from memory)


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def read_under(treatment, newtons, readings, **others):
    panel = build_readings_panel(treatment)
    put(panel, place="text block under load", force=str(newtons), foot=str(FOOT), **others)
    put(panel, readings=readings)
    assert panel.can_save, panel.answer
    panel.save()
    return panel


def test_ten_newtons_on_the_foot_of_the_standard_are_fifty_kilopascals(treatment):
    """TAPPI T 411: 50 kPa under a foot of 16 mm, which takes 10 N (from memory)."""
    read_under(treatment, 10, "4.55 4.56 4.55")
    ((pressure, thickness),) = thicknesses_under_load(treatment.record, stage="intake", cycle=0)
    assert pressure.to("kPa").magnitude == pytest.approx(50, rel=0.01)
    assert thickness.value.to("mm").magnitude == pytest.approx(4.553, abs=0.002)
    assert check_treatment(treatment.record.folder) == []
    assert "under 49.7 kPa</td><td>4.553\xa0±\xa00.025 mm" in build_readings_panel(treatment).answer


def test_readings_under_load_leave_the_thickness_of_the_text_block_alone(treatment):
    before = measured_at(treatment.record, "thickness", stage="intake", cycle=0)["text block"]
    read_under(treatment, 10, "4.32 4.34 4.32")
    after = measured_at(treatment.record, "thickness", stage="intake", cycle=0)["text block"]
    assert after.value == before.value


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"force": "", "foot": "16"}, "force", "Pressing force"),
        ({"force": "10", "foot": ""}, "foot", "Width of its round foot"),
    ],
)
def test_force_and_foot_are_asked_for(treatment, entries, key, words):
    panel = build_readings_panel(treatment)
    put(panel, place="text block under load", readings="4.57 4.60 4.57", **entries)
    assert not panel.can_save
    assert words in why(panel, key)
    assert "thickness under load" in why(panel, key)


def test_a_pressure_that_crushes_paper_is_refused(treatment):
    panel = build_readings_panel(treatment)
    put(panel, place="text block under load", readings="4.57 4.60 4.57", force="900", foot="5")
    assert not panel.can_save
    assert "300" in panel.answer


def test_two_loads_give_the_law_of_the_block_and_the_plan_names_them(treatment):
    usual = build_buffering_panel(treatment)
    assert "wide ranges" in usual.answer
    read_under(treatment, 1, "4.60 4.61 4.60 4.60 4.61")
    alone = give_of_block(treatment, 1)
    assert "read under one load, 4.97 kPa" in alone["unsettled"]
    assert "assumed" not in alone
    read_under(treatment, 10, "4.47 4.47 4.48 4.47 4.47")
    found = give_of_block(treatment, 1)
    assert found["read_under"] == "readings under 4.97 and 49.7 kPa"
    _, low, high = found["assumed"].k2.floats("", field="k2")
    _, least, most = PFEIFFER_K2.floats("", field="k2")
    assert high / low < 0.9 * most / least
    panel = build_buffering_panel(treatment)
    assert (
        "the block as fitted to readings under 4.97 and 49.7 kPa, the rest within wide ranges" in panel.answer
    )
    assert "second one" not in panel._cautions.value
    assert "the block as fitted to" in build_buffering_panel(treatment, cycle=2).answer


def test_a_pile_that_grows_under_load_is_not_believed(treatment):
    read_under(treatment, 1, "4.47 4.47 4.48")
    read_under(treatment, 10, "4.60 4.61 4.60")
    found = give_of_block(treatment, 1)
    assert "contradict each other" in found["unsettled"]
    assert "assumed" not in found
    panel = build_buffering_panel(treatment)
    assert "contradict each other" in panel._cautions.value
    assert "wide ranges" in panel.answer


def test_the_truth_lies_within_the_interval_as_often_as_it_says():
    """Piles drawn from what is believed, read at 5 and 50 kPa with a caliper; 95 % wanted, 90 % allowed."""
    rng = np.random.default_rng(7)
    believed = [r.floats(unit, field="K") for r, unit in ((PFEIFFER_K1, "kPa"), (PFEIFFER_K2, ""))]
    hits = np.zeros(2)
    count = 80
    for _ in range(count):
        truth = [
            value * np.exp(rng.normal() * np.log(high / low) / (2 * 1.96)) for value, low, high in believed
        ]
        readings = []
        for kilopascals in (5.0, 50.0):
            height = 4.6 * (1 - np.log1p(kilopascals / truth[0]) / truth[1])
            drawn = [Q_(round(height + 0.01 * rng.normal(), 2), "mm") for _ in range(5)]
            measured = estimate_from_readings(
                drawn,
                place=place_under(Q_(kilopascals, "kPa")),
                instrument_limit=Q_(0.02, "mm"),
                resolution=Q_(0.01, "mm"),
            )
            readings.append((Q_(kilopascals, "kPa"), measured))
        *found, _ = fit_compression(readings)
        ends = [r.floats(unit, field="K")[1:] for r, unit in zip(found, ("kPa", ""), strict=True)]
        hits += [low <= true <= high for true, (low, high) in zip(truth, ends, strict=True)]
    assert (hits / count > 0.90).all()
