"""What every panel says first: short enough for a tired person, what may do harm before what is advice."""

import re
from functools import cache
from html import unescape

import pytest

from bench.desk import open_treatment
from bench.figures.page import caution_list
from bench.panels.buffering import build_buffering_panel
from bench.panels.cleaning import build_cleaning_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.review import build_review_panel
from bench.treatment.plan import Caution, Verdict

pytestmark = pytest.mark.slow

LONGEST = 50
"""Words in view before anything is unfolded."""
BUILDERS = (
    build_cleaning_panel,
    build_humidity_panel,
    build_buffering_panel,
    build_pressing_panel,
    build_review_panel,
)
STAGES = [
    pytest.param(sample, cycle, build, id=f"{sample}-{cycle}-{build.__name__}")
    for sample, cycle in (
        ("tin-orchard-annual-2", 1),
        ("tin-orchard-annual-2", 2),
        ("saltmarsh-signal-31", 1),
        ("nettle-lane-mystery-7", 1),
    )
    for build in BUILDERS
]


@pytest.fixture(autouse=True)
def _on_samples(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)


def words_in_view(html):
    """Give the words that are shown before anything is unfolded."""
    open_part = re.sub(r"<details>.*?</details>", " ", html, flags=re.DOTALL)
    told = unescape(re.sub(r"<[^>]+>", " ", open_part)).split()
    return [word for word in told if any(character.isalnum() for character in word)]


@cache
def answered(sample, cycle, build):
    """Build a panel of a sample once: the tests here only read it."""
    return build(open_treatment(sample), cycle=cycle)


@pytest.mark.parametrize(("sample", "cycle", "build"), STAGES)
def test_the_answer_in_view_is_at_most_fifty_words(sample, cycle, build):
    panel = answered(sample, cycle, build)
    said = words_in_view(panel._lead.value)
    assert 5 < len(said) <= LONGEST, " ".join(said)


@pytest.mark.parametrize(("sample", "cycle", "build"), STAGES)
def test_no_caution_is_said_twice(sample, cycle, build):
    panel = answered(sample, cycle, build)
    said = re.findall(r"<li>(.*?)</li>", panel._cautions.value)
    assert len(said) == len(set(said))


def test_cautions_stand_in_order_of_harm_each_degree_under_one_heading():
    advice, harm, watch = (
        Caution(Verdict.GO, "Look at it in raking light."),
        Caution(Verdict.STOP, "The wall runs with water."),
        Caution(Verdict.CARE, "The cover may be coated."),
    )
    html = caution_list([advice, watch, harm, watch])
    assert [html.index(c.words) for c in (harm, watch, advice)] == sorted(
        html.index(c.words) for c in (advice, watch, harm)
    )
    assert html.count(watch.words) == html.count("▲ Watch") == 1


@pytest.mark.parametrize("sample", ["tin-orchard-annual-2", "saltmarsh-signal-31"])
def test_a_plan_with_staples_that_harms_nothing_shows_no_red(sample):
    """Damp above 60 % RH is what museums avoid for good; a day is no alarm (common practice, no source)."""
    for build in (build_humidity_panel, build_pressing_panel):
        panel = answered(sample, 1, build)
        assert panel.plan().verdict is not Verdict.STOP
        assert "halt" not in panel.answer + panel._cautions.value
        assert "limit 0 h" not in panel.answer + panel._cautions.value
