"""Every notebook is true of the item on the bench: whatever it is, and in either cycle.

Items of every format are made through the panels, as a user works them; each notebook is then run on each
of them.  Nothing may end in a traceback, in an error in place of an answer, or with the name or a number of
an item that is not on the bench.  What is true of an example alone stands under the heading *Worked example*.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

import pytest
from nbformat.v4 import new_code_cell, new_markdown_cell

from bench.desk import Treatment
from bench.errors import BenchError
from bench.item import Item
from bench.panels.base import Panel
from bench.records import nouns
from bench.records.store import open_record
from bench.treatment.plan import Plan
from tests.makers import SAMPLES
from tests.notebooks.every_item import BEGIN, ITEMS, NEW, WHO, make_both, make_new, without_pictures
from tests.notebooks.run_cells import ROOT, Shown, run_cells, run_notebook

pytestmark = pytest.mark.slow

OF_NO_ITEM = ("appendix", "glossary")
NOTEBOOKS = sorted(p.stem for p in (ROOT / "workbook").glob("*.ipynb") if not p.stem.startswith(OF_NO_ITEM))
WITHOUT_LEAVES = ("00_start", "07_writeup", "today")  # they show the item by its title
TRIALS = "trials_"
"""Pages of trials: of the item they show only what a trial would be worth, so that one item does for them."""
CASES = [
    (item, cycle, notebook)
    for item in ITEMS
    for cycle in (1, 2)
    for notebook in NOTEBOOKS
    if not notebook.startswith(TRIALS) or (item, cycle) == (next(iter(ITEMS)), 2)
]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory):
    """Give a function that makes the treatments of an item once."""

    @cache
    def make(name: str) -> Mapping[int, Path]:
        folder = tmp_path_factory.mktemp("records")
        with without_pictures():
            if name == NEW:
                return {1: make_new(folder).record.folder.parent}
            return make_both(folder, name)

    return make


@cache
def facts_of_samples() -> tuple[str, ...]:
    """Give what would betray a sample: its names, its people, its counts, its mass and its size."""
    facts: set[str] = set()
    for folder in sorted(p for p in SAMPLES.iterdir() if (p / "treatment.csv").exists()):
        record = open_record(folder)
        row, item = nouns.treatment_row(record), nouns.item_of(record)
        facts |= {folder.name, row["title"], row["conservator"], row["owner"]}
        facts |= {f"{item.leaves} leaves", f"{2 * item.leaves} pages"}
        mass = nouns.measured_at(record, "mass", stage="intake", cycle=0)
        facts |= {f"{float(m.value.to('g').magnitude):.1f} g" for m in mass.values()}
        size = [float(side.to("mm").magnitude) for side in (item.width, item.height)]
        facts |= {" × ".join(f"{side:g} mm" for side in size), " × ".join(f"{side:g}" for side in size)}
    return tuple(sorted(facts))


def find_foreign(cells: list[Shown]) -> list[str]:
    """Name the cells outside an example that show what belongs to another item."""
    return [
        f"cell {cell.number} shows {fact!r}"
        for cell in cells
        if not cell.is_example
        for fact in facts_of_samples()
        if re.search(rf"(?<![\w.]){re.escape(fact)}(?!\w)", cell.words)
    ]


def find_strangers(cells: list[Shown], treatment: Treatment) -> list[str]:
    """Name the cells outside an example that compute on another item or another cycle than that at hand."""
    found = []
    for cell in [cell for cell in cells if not cell.is_example]:
        for name, value in cell.names.items():
            if isinstance(value, Treatment) and value.record.folder != treatment.record.folder:
                found.append(f"cell {cell.number}: {name} is another treatment, {value!r}")
            if isinstance(value, Item) and not _is_own(value, treatment):
                found.append(f"cell {cell.number}: {name} is another item, {value.title}")
            if isinstance(value, Plan) and value.stage != "intake" and value.cycle != treatment.cycle:
                found.append(f"cell {cell.number}: {name} is of cycle {value.cycle}, not {treatment.cycle}")
    return found


def _is_own(item: Item, treatment: Treatment) -> bool:
    try:
        return item == treatment.item
    except BenchError:  # it has not been described: every item is another
        return False


def find_disagreement(cells: list[Shown]) -> list[str]:
    """Name the cells whose plan says something else than the panel of its stage on the same page."""
    panels = [plan for cell in cells if cell.panel and (plan := _plan_of(cell.panel))]
    answers = {plan.stage: plan.answer for plan in panels}
    return [
        f"cell {cell.number}: the {plan.stage} plan says {plan.answer!r}, its panel {answers[plan.stage]!r}"
        for cell in cells
        if not cell.is_example
        and isinstance(plan := cell.names.get("plan"), Plan)
        and plan.stage in answers
        and plan.answer != answers[plan.stage]
    ]


def find_panels_in_examples(cells: list[Shown]) -> list[str]:
    """Name the examples that offer a panel: what is true of no item on the bench is not to be saved."""
    return [
        f"cell {cell.number}: an example shows a panel" for cell in cells if cell.is_example and cell.panel
    ]


def _plan_of(panel: Panel) -> Plan | None:
    result = getattr(panel.result, "plan", panel.result)
    return result if isinstance(result, Plan) else None


def run_on(notebook: str, folder: Path) -> tuple[list[Shown], Treatment]:
    """Run a notebook on the treatment that lies in a folder of records."""
    os.environ["BENCH_RECORDS"], os.environ["BENCH_TREATMENT"] = str(folder), "item"
    return run_notebook(ROOT / "workbook" / f"{notebook}.ipynb"), Treatment(open_record(folder / "item"))


@pytest.fixture(autouse=True)
def _leave_no_treatment_at_hand() -> Iterator[None]:
    yield
    for name in ("BENCH_RECORDS", "BENCH_TREATMENT"):
        os.environ.pop(name, None)


def say_ends(cells: list[Shown]) -> list[str]:
    """Name the cells that ended in an error, whether of the bench or not."""
    return [f"cell {c.number}: {c.crash or c.refusal}" for c in cells if c.crash or c.refusal]


@pytest.mark.parametrize(
    ("item", "cycle", "notebook"), CASES, ids=[f"{i}, cycle {c}-{n}" for i, c, n in CASES]
)
def test_a_notebook_is_true_of_the_item_on_the_bench(item: str, cycle: int, notebook: str, made) -> None:
    cells, treatment = run_on(notebook, made(item)[cycle])
    assert treatment.cycle == cycle
    faults = [*say_ends(cells), *find_foreign(cells), *find_strangers(cells, treatment)]
    faults += [*find_disagreement(cells), *find_panels_in_examples(cells)]
    words = "\n".join(cell.words for cell in cells)
    leaves = ITEMS[item].leaves
    own = {ITEMS[item].title: "title"}
    if notebook not in WITHOUT_LEAVES and not notebook.startswith(TRIALS):
        own["1 leaf" if leaves == 1 else f"{leaves} leaves"] = "count of leaves"
    faults += [
        f"the {what} of the item, {fact}, stands nowhere" for fact, what in own.items() if fact not in words
    ]
    assert not faults, "\n".join(["", *faults])


@pytest.mark.parametrize("notebook", NOTEBOOKS)
def test_a_notebook_answers_in_sentences_before_the_item_is_described(notebook: str, made) -> None:
    """A cell that needs the item says so; none ends in a traceback."""
    cells, treatment = run_on(notebook, made(NEW)[1])
    faults = [f"cell {cell.number}: {cell.crash}" for cell in cells if cell.crash]
    faults += [*find_foreign(cells), *find_strangers(cells, treatment), *find_panels_in_examples(cells)]
    faults += [f"cell {cell.number} refuses: {cell.refusal}" for cell in cells if not is_plain(cell.refusal)]
    assert not faults, "\n".join(["", *faults])
    assert treatment.title in "\n".join(cell.words for cell in cells)


def is_plain(refusal: str) -> bool:
    """Tell whether a refusal asks for the description of the item, or waits for a cell that does."""
    asks = ("Describe the item", "waits for", "Waiting for an entry")
    return not refusal or any(words in refusal for words in asks)


class TestTheChecks:
    """Each of the checks above finds the fault that it is there for."""

    OTHER = "from bench.desk import open_treatment\nother = open_treatment('tin-orchard-annual-2')\n"

    def _run(self, made, *cells) -> tuple[list[Shown], Treatment]:
        folder = made("self-cover")[1]
        os.environ["BENCH_RECORDS"], os.environ["BENCH_TREATMENT"] = str(folder), "item"
        return run_cells(list(cells)), Treatment(open_record(folder / "item"))

    def test_a_cell_that_prints_another_title_is_found(self, made) -> None:
        cells, treatment = self._run(made, new_code_cell(f"{self.OTHER}print(other.title)"))
        assert find_foreign(cells) == ["cell 0 shows 'The Tin Orchard Annual, no. 2'"]
        assert "cell 0: other is another treatment" in find_strangers(cells, treatment)[0]

    def test_prose_that_counts_the_leaves_of_a_sample_is_found(self, made) -> None:
        cells, _ = self._run(made, new_markdown_cell("An item of **38 leaves** takes six sheets."))
        assert find_foreign(cells) == ["cell 0 shows '38 leaves'"]

    def test_a_number_in_a_picture_is_found(self, made) -> None:
        source = "from IPython.display import SVG\nSVG('<svg><text>104.2 g</text></svg>')"
        cells, _ = self._run(made, new_code_cell(source))
        assert find_foreign(cells) == ["cell 0 shows '104.2 g'"]

    def test_a_marked_example_may_name_its_item_and_ends_with_the_next_heading(self, made) -> None:
        cells, treatment = self._run(
            made,
            new_markdown_cell("## Worked example: an annual"),
            new_code_cell(f"{self.OTHER}print(other.title)"),
            new_markdown_cell("## The item"),
            new_code_cell("print(other.title)"),
        )
        assert find_foreign(cells) == ["cell 3 shows 'The Tin Orchard Annual, no. 2'"]
        assert find_strangers(cells, treatment) == []

    def test_an_example_that_offers_a_panel_is_found(self, made) -> None:
        source = (
            f"{self.OTHER}from bench.panels.item import build_item_panel as build\nbuild(open_treatment())"
        )
        cells, _ = self._run(made, new_markdown_cell("## Worked example"), new_code_cell(source))
        assert find_panels_in_examples(cells) == ["cell 1: an example shows a panel"]

    def test_a_plan_of_another_cycle_and_against_its_panel_is_found(self, made) -> None:
        source = (
            "from bench.desk import open_treatment\nfrom bench.panels.humidity import build_humidity_panel\n"
            "from bench.treatment.humidity import HumidityChoices, plan_humidity\n"
            "from bench.units import Q_\n"
            "treatment, choices = open_treatment(), HumidityChoices(planned=Q_(7, 'hour'))\n"
            "plan = plan_humidity(treatment.item, treatment.thicknesses(1), choices, cycle=2)\n"
            "build_humidity_panel(treatment)"
        )
        cells, treatment = self._run(made, new_code_cell(source))
        assert find_strangers(cells, treatment) == ["cell 0: plan is of cycle 2, not 1"]
        assert "the humidity plan says" in find_disagreement(cells)[0]

    def test_a_crash_and_a_refusal_are_told_apart(self, made) -> None:
        refused = (
            "from bench.errors import BadValue\nraise BadValue('mass', '-1 g', 'above 0', 'Weigh again')"
        )
        cells, _ = self._run(made, new_code_cell("1 / 0"), new_code_cell(refused))
        assert "ZeroDivisionError" in cells[0].crash
        assert cells[1].refusal == "mass is -1 g; allowed is above 0. Weigh again."
        assert [end[:7] for end in say_ends(cells)] == ["cell 0:", "cell 1:"]


def test_what_betrays_a_sample_stands_on_the_pages_of_that_sample(monkeypatch) -> None:
    """The check would be blind if samples wrote their facts in another way than it looks for them."""
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    cells = run_notebook(ROOT / "workbook" / "01_intake.ipynb")
    words = "\n".join(cell.words for cell in cells)
    assert {"The Tin Orchard Annual, no. 2", "38 leaves", "76 pages"} <= {
        fact for fact in facts_of_samples() if fact in words
    }


def test_the_items_are_no_samples() -> None:
    """None of them shares with a sample what the check takes for a sign of it."""
    own = {
        word for kind in ITEMS.values() for word in (kind.title, f"{kind.leaves} leaves", f"{kind.mass} g")
    }
    assert not own & set(facts_of_samples())
    assert WHO not in facts_of_samples()
    assert BEGIN.year == 2026
