"""Enter thousands of hostile texts into every field of every panel, and count what nobody expected.

    python -m tests.benchmarks.bench_entries [--entries 10000] [--list FILE] [--seed 1]

``FILE`` holds more texts: a JSON list of strings.  An entry is either refused beside its field or taken; any
other error is a fault of the workbook.  What was taken is saved now and then, and the record must be sound
afterwards.  It asserts nothing, and pytest does not collect it.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import ipywidgets as widgets
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from bench import trouble
from bench.desk import Treatment
from bench.errors import BenchError, RecordError
from bench.panels.base import Panel
from bench.panels.field import Field
from bench.records.check import check_treatment
from bench.records.faults import only_faults
from bench.writeup.report import collect_report, write_report
from tests.panels.test_every_panel import BUILDERS, COUNTS, NUMBERS, WORDS, open_sample

UNSAVED = {"write-up", "start", "new treatment"}
"""Panels that write files beside the record, or begin another one."""

HOSTILE = (
    *COUNTS,
    *NUMBERS,
    *WORDS,
    *json.loads((Path(__file__).parent / "hostile_texts.json").read_text("ascii")),
    *("9" * 400, "9" * 5000, "0." + "0" * 400 + "1", "1;" * 3000, "0 1; " * 900, "(" * 500, "[" * 500),
    *(
        "x" * 9_999,
        "x" * 10_001,
        " " * 5000,
        "1**" * 60 + "1",
        "\N{BOOKS}" * 200,
        "\N{LATIN SMALL LETTER SHARP S}" * 99,
    ),
)
"""Other digits and signs, broken numbers and units, days that never were, formulas, markup, what steers a
terminal, names of nothing, texts without end."""


def more_texts(seed: int, count: int) -> list[str]:
    """Let hypothesis make texts of every kind of sign, and of the signs that fields read."""
    found: list[str] = []
    signs = st.text(alphabet="0123456789.,-+/ eE:;T%°'\"mnkgthouµ²½", max_size=14)

    @settings(
        max_examples=count,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(st.one_of(st.text(max_size=40), signs, signs, st.floats().map(str), st.datetimes().map(str)))
    def collect(text: str) -> None:
        found.append(text)

    random.seed(seed)
    collect()
    return found


def values_for(field: Field, text: str, chance: random.Random) -> Any:
    """Give what a page may send to a control: only a control of text can be given any text."""
    control = field.widget
    if isinstance(control, widgets.Checkbox):
        return chance.random() < 0.5
    if isinstance(control, widgets.IntSlider):
        return chance.randint(control.min, control.max)
    if isinstance(control, widgets.Dropdown | widgets.ToggleButtons):
        return chance.choice([o[1] if isinstance(o, tuple) else o for o in control.options])
    return text


class Try:
    """What came of the entries into one panel."""

    def __init__(self, name: str, chance: random.Random) -> None:
        self.name, self._chance = name, chance
        self.counts: Counter[tuple[str, str]] = Counter()
        self.faults: list[str] = []

    def unexpected(self, kind: str, how: str, text: str) -> None:
        """Note an error that nobody expected."""
        self.counts[kind, "unexpected"] += 1
        last = "".join(traceback.format_exc().splitlines(keepends=True)[-9:])
        self.faults.append(f"{self.name}, {how}, {text[:60]!r}: {last}")

    def enter(self, field: Field, text: str) -> None:
        """Enter one text, as typed or as a record had kept it."""
        if self._chance.random() < 0.2:
            is_sound = self._try(field, text, lambda: field.put_back(text))
        else:
            is_sound = self.put(field, values_for(field, text, self._chance))
        if is_sound:
            self.counts[type(field).__name__, "refused" if field.refused else "taken"] += 1

    def put(self, field: Field, value: Any) -> bool:
        """Set a control; give whether nothing unexpected came of it."""
        return self._try(field, str(value), lambda: setattr(field.widget, "value", value))

    def _try(self, field: Field, text: str, act: Callable[[], None]) -> bool:
        try:
            act()
        except Exception:
            self.unexpected(type(field).__name__, field.key, text)
            return False
        return True

    def save(self, panel: Panel) -> None:
        """Press Save, where it is offered."""
        if not panel.can_save:
            return
        try:
            panel.save()
        except (BenchError, RecordError):
            self.counts["Save", "refused"] += 1
        except Exception:
            self.unexpected("Save", "Save", "")
        else:
            self.counts["Save", "taken"] += 1


def build(name: str, treatment: Treatment) -> Panel:
    """Build a panel that calculates for itself."""
    builder: Any = BUILDERS[name]
    how = getattr(builder, "keywords", {})
    real = {key: value for key, value in how.items() if key != "plan"}
    if name == "write-up":
        real = {"collect": collect_report, "write": write_report}
    return getattr(builder, "func", builder)(treatment, **real)


def try_panel(name: str, texts: Iterator[str], entries: int, chance: random.Random) -> Try:
    """Enter texts into the fields of one panel, one after the other."""
    treatment = open_sample(None)
    panel, tried = build(name, treatment), Try(name, chance)
    fields = [field for field in panel._fields if not isinstance(field.widget, widgets.FileUpload)]
    first = [field.widget.value for field in fields]
    for number in range(entries if fields else 0):
        field = fields[number % len(fields)]
        tried.enter(field, next(texts))
        if name in UNSAVED or number % 10:
            continue
        for each, value in zip(fields, first, strict=True):  # a panel that waits for an entry offers no Save
            if each.refused:
                tried.put(each, value)
        tried.save(panel)
    for fault in only_faults(check_treatment(treatment.record.folder)):
        if fault.row is not None:  # that plans made by chance do not agree with each other is told without
            tried.faults.append(f"{name}, the record afterwards: {fault}")
            tried.counts["record", "unexpected"] += 1
    return tried


def main() -> None:
    """Try all panels and print what came of it."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--entries", type=int, default=10_000)
    parser.add_argument("--list", type=Path, help="a JSON list of more texts")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    chance = random.Random(options.seed)
    listed = json.loads(options.list.read_text("utf-8")) if options.list else []
    pool = [*HOSTILE, *map(str, listed), *more_texts(options.seed, 3000)]
    texts = iter(chance.choice(pool) if k >= len(pool) else pool[k] for k in range(10**9))
    chance.shuffle(pool)
    with tempfile.TemporaryDirectory() as home:
        trouble.trouble_file = lambda: Path(home) / "trouble.log"
        total: Counter[tuple[str, str]] = Counter()
        for name in BUILDERS:
            tried = try_panel(name, texts, options.entries // len(BUILDERS) + 1, chance)
            total += tried.counts
            for fault in tried.faults:
                print(fault, file=sys.stderr, flush=True)
    print("| kind of field | entries | refused | taken | unexpected |\n|---|---|---|---|---|")
    for kind in sorted({kind for kind, _ in total}):
        row = [total[kind, what] for what in ("refused", "taken", "unexpected")]
        print(f"| {kind} | {sum(row)} | {row[0]} | {row[1]} | {row[2]} |")


if __name__ == "__main__":
    main()
