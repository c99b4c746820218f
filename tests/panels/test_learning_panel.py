"""The panel of learning: a fit is used only once it is accepted, and what cannot be read is named."""

import shutil

import pytest

from bench.desk import Treatment
from bench.handover import learning as learned
from bench.handover.learning import gather_findings, learned_bench
from bench.handover.review import read_cycle
from bench.panels.buffering import build_buffering_panel
from bench.panels.learning import build_learning_panel
from bench.panels.readings import build_readings_panel
from bench.records.check import check_treatment
from bench.records.learned import BENCH, fits_of
from bench.records.rules import UNPRESSED
from bench.records.store import open_record
from bench.treatment import learning
from bench.treatment.plan import Verdict
from tests.makers import ANNUAL, ISSUE, copy_bench

pytestmark = pytest.mark.slow


@pytest.fixture
def bench(tmp_path):
    return copy_bench(tmp_path)


@pytest.fixture
def treatment(bench):
    return Treatment(open_record(bench / ANNUAL))


def put(panel, **entries):
    panel.fill(entries)


def give_of(panel):
    return next(a.words for a in panel.result.assumptions if a.name.startswith("give of block, spine"))


def test_nothing_is_used_before_it_is_accepted_and_everything_afterwards(treatment, bench):
    other = Treatment(open_record(bench / ISSUE))
    before = build_buffering_panel(other)
    panel = build_learning_panel(treatment)
    assert "2 cycles on this bench" in panel.answer
    assert not panel.can_save  # no reason yet
    put(panel, reason="two books read")
    assert "Saved" in panel.save()  # left, not used
    assert learned_bench(other) == {}
    assert "wide ranges" in give_of(build_buffering_panel(other))
    put(panel, use=True, reason="two books read, both explained")
    assert "Saved" in panel.save()
    fit = fits_of(treatment.latest, BENCH)[0]
    assert fit.is_accepted
    fitted = learned_bench(other)["assumed"]
    saved = panel.result.lesson.fit.assumed
    assert fitted.ramp.value.magnitude == pytest.approx(saved.ramp.value.magnitude, rel=1e-5)
    after = build_buffering_panel(other)
    assert "as fitted to findings on this bench, accepted on" in give_of(after)
    assert "The Tin Orchard Annual" in give_of(after)
    assert after.result.decision.chosen.unpressed != before.result.decision.chosen.unpressed
    assert check_treatment(treatment.record.folder) == []


def test_the_next_cycle_follows_an_accepted_fit(treatment):
    strip = read_cycle(treatment, 2).following.loads[0].unpressed.value
    panel = build_learning_panel(treatment)
    put(panel, use=True, reason="explained")
    panel.save()
    assert read_cycle(treatment, 2).following.loads[0].unpressed.value > strip  # the ramp came out longer


def test_a_decision_is_written_once_and_shown_again(treatment):
    panel = build_learning_panel(treatment)
    put(panel, use=True, reason="explained")
    panel.save()
    rows = len(treatment.latest.read("decisions"))
    again = build_learning_panel(treatment)
    assert again.field("use").widget.value is True
    again.save()
    assert "Nothing new to save" in again.status
    assert len(treatment.latest.read("decisions")) == rows


def test_a_treatment_that_cannot_be_read_is_named(treatment, bench):
    (bench / ISSUE / "readings.csv").write_text("spoilt", encoding="utf-8")
    found, left_out = gather_findings(treatment)
    assert len(found) == 2
    assert [words.split(":")[0] for words in left_out] == [ISSUE]
    panel = build_learning_panel(treatment)
    assert any(f"Left out: {ISSUE}" in caution.words for caution in panel.result.lesson.cautions)


def test_a_fit_that_can_no_longer_be_read_is_not_dropped_in_silence(treatment, bench):
    panel = build_learning_panel(treatment)
    put(panel, use=True, reason="explained")
    panel.save()
    (bench / ANNUAL / "log.csv").write_text("spoilt", encoding="utf-8")
    found = build_buffering_panel(Treatment(open_record(bench / ISSUE))).result
    assert any(f"Not read for what the bench taught: {ANNUAL}" in c.words for c in found.cautions)
    assert found.verdict is not Verdict.GO


def test_a_press_with_stops_is_left_out_and_named(treatment):
    plan = build_buffering_panel(treatment, cycle=2)
    put(plan, gap="190")
    plan.save()
    found, left_out = gather_findings(treatment)
    assert [finding.name for finding in found] == ["The Tin Orchard Annual, no. 2, cycle 1"]
    assert "cycle 2: it was pressed otherwise (room that the stops leave), which is not fitted" in left_out[0]


def test_a_bench_without_findings_says_what_to_do(bench):
    panel = build_learning_panel(Treatment(open_record(bench / ISSUE)), cycle=1)
    shutil.rmtree(bench / ANNUAL)
    panel = build_learning_panel(Treatment(open_record(bench / ISSUE)), cycle=1)
    assert not panel.can_save
    assert "Nothing found yet" in panel.answer
    assert "Read the thickness of the text block and the unpressed width" in panel.answer
    assert "no fit to decide on" in panel.status


@pytest.mark.parametrize(
    ("entry", "words"),
    [("-2", "is -2 in; allowed is 0.019686 to 6.6929 in"), ("7", "is 7 in"), ("0,55", "0.55")],
)
def test_a_width_that_cannot_be_is_refused_beside_its_field(treatment, entry, words):
    panel = build_readings_panel(treatment, stage="review", cycle=2)
    put(panel, quantity=UNPRESSED, readings=entry)
    assert not panel.can_save
    assert words in panel.field("readings").below.value + panel.answer


def test_a_width_is_read_along_the_spine_with_the_doubt_of_a_soft_edge(treatment):
    panel = build_readings_panel(treatment, stage="review", cycle=3)
    put(panel, quantity=UNPRESSED, readings="0.55 0.6 0.57 0.59 0.55")
    assert "Unpressed width along the spine" in panel.answer
    assert "Saved" in panel.save()
    rows = treatment.latest.read("readings")
    assert set(rows[rows["quantity"] == UNPRESSED]["place"]) == {"spine"}
    assert UNPRESSED not in [o for o in build_readings_panel(treatment).field("quantity").widget.options]


def test_where_nothing_was_learned_there_is_nothing_to_decide(treatment, monkeypatch):
    """As if every interval had stayed as wide as it was believed."""
    monkeypatch.setattr(learning, "LITTLE", 1.1)
    panel = build_learning_panel(treatment)
    put(panel, reason="read on")
    assert not panel.can_save
    assert "nothing to decide" in panel.status


def test_findings_are_fitted_once_until_one_of_them_changes(treatment, monkeypatch):
    """The decision on a fit is saved with the record, and is no finding."""
    fitted = []
    fit = learning.fit_bench
    monkeypatch.setattr(learned, "_learned", [])
    monkeypatch.setattr(learning, "fit_bench", lambda *a, **named: fitted.append(a) or fit(*a, **named))
    panel = build_learning_panel(treatment)
    put(panel, reason="two books read")
    panel.save()
    answer = build_learning_panel(treatment).answer
    assert len(fitted) == 1
    assert "2 cycles on this bench" in answer
    row = next(row for row in treatment.latest.rows("readings") if row["quantity"] == UNPRESSED)
    own = ("row", "saved_at", "by", "save", "replaces")
    changed = {key: value for key, value in row.items() if key not in own}
    changed |= {"value": row["value"] * 1.1, "replaces": row["row"]}
    treatment.save({"readings": [changed]})
    build_learning_panel(treatment)
    assert len(fitted) == 2
