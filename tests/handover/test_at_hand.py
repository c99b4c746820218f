"""Hand-overs read a record and an item: who asks them needs no desk, and no screen."""

import shutil
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest

from bench.desk import SAMPLES, Treatment
from bench.handover.buffering import handed_on_load, planned_interleaves
from bench.handover.cleaning import cleaning_choices
from bench.handover.humidity import humidity_choices
from bench.handover.intake import conditions_of
from bench.handover.learning import give_of_block
from bench.handover.pressing import pressing_choices
from bench.handover.schedule import whole_timeline
from bench.handover.seen import expected_of
from bench.handover.weighing import chamber_used, press_used
from bench.item import Item
from bench.records import nouns
from bench.records.record import Record
from bench.records.store import open_record
from bench.treatment.actual.sheets_counted import SheetCount
from bench.units import UnitChoice

SAMPLE = "tin-orchard-annual-2"
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)


@dataclass
class Bare:
    """A record and its item, and nothing else of a desk."""

    record: Record
    latest: Record
    item: Item
    units: UnitChoice
    cycle: int

    def thicknesses(self, cycle=1):
        stage, number = nouns.before_cycle(cycle)
        return nouns.thicknesses_of(self.record, self.item, stage=stage, cycle=number)


@pytest.mark.parametrize("cycle", [1, 2])
@pytest.mark.parametrize(
    "hand_over",
    [
        humidity_choices,
        planned_interleaves,
        handed_on_load,
        give_of_block,
        pressing_choices,
        lambda treatment, cycle: cleaning_choices(treatment, cycle=cycle),
        lambda treatment, cycle: conditions_of(treatment, "pressing"),
        chamber_used,
        press_used,
        lambda treatment, cycle: expected_of(treatment, cycle, SheetCount()),
        lambda treatment, cycle: whole_timeline(treatment, cycle, start=NOON),
    ],
    ids=[
        "chamber",
        "interleaves",
        "load",
        "block",
        "press",
        "cleaning",
        "conditions",
        "chamber weighed in",
        "press weighed in",
        "before a look",
        "schedule",
    ],
)
def test_a_record_and_its_item_are_all_that_is_asked_for(hand_over, cycle, tmp_path):
    record = open_record(shutil.copytree(SAMPLES / SAMPLE, tmp_path / SAMPLE))
    bare = Bare(record, record, nouns.item_of(record), nouns.units_of(record), cycle)
    assert hand_over(bare, cycle) == hand_over(Treatment(record), cycle)
