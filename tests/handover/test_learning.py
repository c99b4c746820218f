"""What a bench has learned, gathered over its treatments without a panel."""

import shutil

import pytest

from bench.desk import SAMPLES, Treatment
from bench.handover import learning as learned
from bench.handover.learning import gather_findings
from bench.records.rules import UNPRESSED
from bench.records.schema import STAMPS
from bench.records.store import open_record
from bench.treatment.buffering.choices import PACKS, USUAL_PACK, LoadPath
from bench.treatment.rows import is_given
from tests.makers import ANNUAL, copy_bench


@pytest.fixture
def bench(tmp_path):
    return copy_bench(tmp_path)


@pytest.fixture
def treatment(bench):
    return Treatment(open_record(bench / ANNUAL))


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


def test_a_plan_from_before_there_were_keys_tells_its_press_in_words(treatment):
    press = gather_findings(treatment)[0][0].press
    other = next(pack for pack in PACKS if pack != USUAL_PACK)
    rows = [row for row in treatment.latest.rows("plans") if row["plan"] == "buffering-1"]
    kept = [{name: value for name, value in row.items() if is_given(value)} for row in rows]
    without = [
        {
            **{name: value for name, value in row.items() if name not in (*STAMPS, "key")},
            **({"words": other} if row["quantity"] == "assumed: boards on each side" else {}),
            "replaces": int(row["row"]),
        }
        for row in kept
    ]
    treatment.save({"plans": without})
    found = gather_findings(treatment)[0][0].press
    assert found == LoadPath(pack=other).build_press(press.load)
    assert found != press
