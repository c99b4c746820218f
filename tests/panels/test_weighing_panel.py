"""The panel of weighings: what it refuses, saves and shows again, and to whom the fit is offered."""

from dataclasses import replace
from datetime import timedelta

import pytest

from bench.desk import open_treatment
from bench.handover.learning import weighed_on_bench
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.weighing import build_weighing_panel
from bench.physics.transient import simulate
from bench.records.check import check_treatment
from bench.records.learned import WEIGHINGS, fits_of
from bench.records.nouns import treatment_row
from bench.records.store import create_treatment
from bench.treatment.actual.observed import ITEM_IN
from bench.treatment.humidity import HumidityChoices
from bench.treatment.humidity.uptake import set_up
from bench.units import Q_
from tests.panels.test_stage_panels import NINE, make, put, why

pytestmark = pytest.mark.slow

TRUTH = 0.018, 1.2
HOURS = (0, 0.75, 2, 5, 8, 24)


def weighings_of(treatment):
    """What a balance of 0.01 g reads of an item whose paper is as TRUTH says, followed far more tightly."""
    setting = set_up(treatment.item, treatment.thicknesses(1), HumidityChoices())
    ratio, scale = (Q_(number, "") for number in TRUTH)
    inputs = replace(setting.inputs, transport_ratio=ratio, isotherm_scale=scale)
    phases = setting.course.phases
    history = simulate(setting.stack, phases, start=setting.start, inputs=inputs, tolerance=1e-5)
    masses = [history.at(history.item_mass(), Q_(hour, "hour")).to("g").magnitude for hour in HOURS]
    return "\n".join(f"{hour} {mass:.2f}" for hour, mass in zip(HOURS, masses, strict=True))


@pytest.fixture
def treatment(tmp_path):
    return make(tmp_path)


def save_fit(treatment, *, use=True, reason="two looks agree"):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=weighings_of(treatment), use=use, reason=reason)
    return panel, panel.save()


def second(treatment, name="lantern-2", paper=None):
    """Another treatment in the same folder, its paper as described."""
    row = {
        **treatment_row(treatment.record),
        "treatment_id": name,
        "title": "Lantern, no. 2",
        **({"text_paper": paper} if paper else {}),
    }
    folder = treatment.record.folder.parent
    record = create_treatment(folder, name, {"treatment": [row]}, by="M. Tallow", at=NINE)
    return type(treatment)(record, clock=lambda: NINE + timedelta(days=9))


def test_the_time_it_went_in_is_that_of_its_own_cycle(monkeypatch):
    """The sample went into the chamber twice, a week apart; by its record, at these times."""
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    sample = open_treatment("tin-orchard-annual-2")
    steps = sample.record.read("steps")
    steps = steps[(steps["stage"] == "humidity") & (steps["name"] == "in the chamber")]
    for cycle in (1, 2):
        began = steps[steps["cycle"] == cycle]["actual_start"].min()
        panel = build_weighing_panel(sample, cycle=cycle)
        assert panel.field("went_in").widget.value == f"{began:%Y-%m-%d %H:%M}"


def test_an_empty_panel_says_what_to_enter_and_offers_no_save(treatment):
    panel = build_weighing_panel(treatment)
    assert "like 0 104.20" in why(panel, "weighings")
    assert not panel.can_save


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 104,2", "Write them like 2.5 106.31"),
        ("0 104.2\n2 105 3", "two numbers on a line"),
        ("0 104.2\n2 105.1", "3 or more"),
        ("0 104.2\n5 105.1\n2 106.0", "times that rise"),
        ("0 104.2\n2 106.1\n5 104.3", "does not fall in the chamber"),
    ],
)
def test_what_cannot_be_is_refused_beside_the_field(treatment, text, words):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=text)
    assert words in why(panel, "weighings")
    assert not panel.can_save


def test_a_reason_is_needed_before_anything_is_saved(treatment):
    panel = build_weighing_panel(treatment)
    put(panel, weighings=weighings_of(treatment))
    assert panel.answer.index("Vapour passes this pile") < panel.answer.index('class="picture"')
    assert not panel.can_save
    assert "Say why" in panel.status
    put(panel, reason="two looks agree")
    assert panel.can_save


def test_what_was_saved_stands_there_when_the_panel_is_opened_again(treatment):
    entered, words = save_fit(treatment)
    assert "Saved earlier" not in entered.answer
    assert "6 rows to readings" in words
    again = build_weighing_panel(treatment)
    assert again.field("use").widget.value is True
    assert again.field("reason").widget.value == "two looks agree"
    before, after = entered.result.told, again.result.told
    assert [w.mass.magnitude for w in after.weighings] == [w.mass.magnitude for w in before.weighings]
    assert [w.when.to("hour").magnitude for w in after.weighings] == pytest.approx(HOURS)
    assert after.fit.transport_ratio == before.fit.transport_ratio
    assert "Saved earlier" in again.answer
    assert "it is used" in again.answer
    assert "Nothing new to save" in again.save()
    rows = treatment.record.read("readings")
    rows = rows[rows["place"] == ITEM_IN]
    assert [(at - NINE).total_seconds() / 3600 for at in rows["taken_at"]] == pytest.approx(HOURS)
    assert check_treatment(treatment.record.folder) == []


def test_a_slip_corrected_replaces_its_row_and_the_fit(treatment):
    save_fit(treatment)
    first = fits_of(treatment.record, WEIGHINGS)[0].found["transport ratio"].value.magnitude
    panel = build_weighing_panel(treatment)
    lines = panel.field("weighings").widget.value.splitlines()
    hour, mass = lines[-1].split()
    put(panel, weighings="\n".join([*lines[:-1], f"{hour} {float(mass) + 0.2:.2f}"]))
    assert "1 row to readings" in panel.save()
    (fit,) = fits_of(treatment.record, WEIGHINGS)
    assert fit.found["transport ratio"].value.magnitude != first


def test_a_fit_that_the_model_does_not_explain_can_be_kept_but_not_used(treatment):
    panel = build_weighing_panel(treatment)
    lines = weighings_of(treatment).splitlines()
    hour, mass = lines[2].split()
    lines[2] = f"{hour} {float(mass) + 1.2:.2f}"
    put(panel, weighings="\n".join(lines), use=True, reason="a try")
    assert "scatter" in panel.answer
    assert not panel.can_save
    put(panel, use=False)
    assert panel.can_save


def test_an_accepted_fit_is_offered_to_the_same_paper_and_taken(treatment):
    save_fit(treatment)
    other = second(treatment)
    found = weighed_on_bench(other)[0]
    assert found["weighed"] == "The Tin Orchard Annual, no. 2"
    assert found["transport_ratio"].low.magnitude < TRUTH[0] < found["transport_ratio"].high.magnitude
    for build in (build_humidity_panel, build_pressing_panel):
        panel = build(other)
        assert panel.field("ratio").widget.label.startswith(
            "from weighings: The Tin Orchard Annual, no. 2, 0.0"
        )
        choices = panel.result.choices
        assert choices.transport_ratio == found["transport_ratio"]
        assert choices.isotherm_scale == found["isotherm_scale"]
        told = [a.words for a in panel.result.assumptions if a.source == "reading"]
        assert any("from weighings of The Tin Orchard Annual, no. 2" in words for words in told)
        put(panel, ratio="not known")
        assert panel.result.choices.isotherm_scale.value.magnitude == 1
        assert panel.result.choices.weighed == ""


def test_it_is_not_offered_unless_accepted_nor_to_another_paper(treatment):
    save_fit(treatment, use=False)
    assert weighed_on_bench(second(treatment))[0] == {}
    assert build_humidity_panel(treatment).field("ratio").widget.value == "not known"
    panel = build_weighing_panel(treatment)
    put(panel, use=True)
    panel.save()
    assert weighed_on_bench(treatment)[0]["weighed"]
    assert weighed_on_bench(second(treatment, "lantern-3", paper="wood-free text"))[0] == {}


def test_a_broken_neighbour_does_not_break_the_panel(treatment):
    save_fit(treatment)
    other = second(treatment)
    (treatment.record.folder / "log.csv").write_bytes(b"\xff\xfe\x00")
    assert weighed_on_bench(other)[0] == {}
    assert build_humidity_panel(other).field("ratio").widget.value == "not known"


def test_its_own_fit_is_not_believed_before_its_own_weighings(treatment):
    """Otherwise the same weighings would count twice."""
    first, _ = save_fit(treatment)
    again = build_weighing_panel(treatment)
    assert again.result.told.believed == first.result.told.believed
