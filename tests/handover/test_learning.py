"""What a bench has learned, gathered over its treatments without a panel."""

import shutil

import pytest

from bench.desk import SAMPLES, Treatment
from bench.handover import learning as learned
from bench.handover.learning import gather_findings
from bench.records.rules import UNPRESSED
from bench.records.store import open_treatment
from tests.makers import ANNUAL, copy_bench


@pytest.fixture
def bench(tmp_path):
    return copy_bench(tmp_path)


@pytest.fixture
def treatment(bench):
    return Treatment(open_treatment(bench / ANNUAL))


def test_a_strip_wider_than_a_third_of_the_page_is_left_out_and_named(treatment):
    rows = treatment.latest.read("readings")
    old = rows[(rows["quantity"] == UNPRESSED) & (rows["cycle"] == 2)].to_dict("records")
    names = ("stage", "cycle", "quantity", "place", "unit", "instrument", "replicate", "taken_at", "taken_by")
    wide = [{**{n: row[n] for n in names}, "value": 70.0, "replaces": int(row["row"])} for row in old]
    treatment.save({"readings": wide})
    found, left_out = gather_findings(treatment)
    assert len(found) == 1
    assert "more than a third of the page" in left_out[0]


def test_only_a_treatment_that_has_changed_is_searched_again(treatment, bench, monkeypatch):
    opened = []
    look = learned.look_at_treatment
    monkeypatch.setattr(
        learned, "look_at_treatment", lambda folder: opened.append(folder.name) or look(folder)
    )
    first = gather_findings(treatment)
    opened.clear()
    assert gather_findings(treatment) == first
    assert opened == []
    shutil.copytree(SAMPLES / ANNUAL, bench / "another")
    assert len(gather_findings(treatment)[0]) == 2 * len(first[0])
    assert set(opened) == {"another"}
