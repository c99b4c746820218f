"""Trials carried out in a browser, with made-up readings of a bench whose truth is known.

One protocol of one page, all of all pages with ``EVERY_TRIAL`` set: the same panel serves all of them,
and is tried with each of them in ``tests/panels``.
"""

import os
from pathlib import Path

import numpy as np
import pytest

from bench.records.bench_record import look_at_trials
from bench.records.nouns import units_of
from bench.records.store import open_record
from bench.trials import PROTOCOLS
from bench.trials.worked import Example, work_example
from bench.units import UnitChoice
from tests.browser.test_walk import save
from tests.trials.entries import entries_of

WORKBOOK = Path(__file__).parents[2] / "workbook"
EVERY = bool(os.environ.get("EVERY_TRIAL"))
PAGES = sorted(path.stem for path in WORKBOOK.glob("trials_*.ipynb"))[: None if EVERY else 1]
SEED = 8


def fill(page, panel: str, example: Example, units: UnitChoice) -> None:
    """Enter the readings by keyboard, field by field, in the units of the record."""
    for key, text in entries_of(example.protocol, example.readings, units).items():
        entry = page.locator(f"{panel} .field-{key} input")
        entry.fill(text)
        entry.press("Tab")


@pytest.mark.parametrize("name", PAGES)
def test_each_protocol_of_a_page_is_carried_out_and_saved(book, lab, name):
    book.open(name).run_all()
    page = book.page
    shown = [protocol for protocol in PROTOCOLS if page.locator(f".bench-trial-{protocol.key}").count()]
    assert shown
    book.check_sound(name)
    for protocol in shown if EVERY else shown[-1:]:
        panel = f".bench-trial-{protocol.key}"
        about = page.locator(f"{panel} .field-about select option:checked").inner_text().replace("\xa0", " ")
        example = work_example(protocol, np.random.default_rng(SEED), about=about)
        fill(page, panel, example, units_of(open_record(lab.treatment)))
        page.locator(f"{panel} .field-use button", has_text="use it").press("Enter")
        reason = page.locator(f"{panel} .field-reason input")
        reason.fill("made up, with a known truth")
        reason.press("Tab")
        page.wait_for_function(f"() => !document.querySelector('{panel} .bench-save').disabled")
        book.screenshot(f"trial-{protocol.key}", 800, panel)
        assert "Saved" in save(book, f"trial-{protocol.key}")
        trial = look_at_trials(lab.treatment.parent / "_bench")[-1]
        assert (trial.protocol, trial.about) == (protocol.key, about)
        for constant, true in example.truth.items():
            if constant.key in trial.found:
                _, low, high = trial.found[constant.key].floats(constant.unit, field=constant.label)
                assert low <= true <= high, f"{protocol.key}: {constant.label}"
    assert book.external == []
    assert book.errors == []
