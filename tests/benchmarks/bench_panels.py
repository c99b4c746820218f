"""Time what a moved control costs in Python alone, with the panels of a scratch copy of a sample.

    python -m tests.benchmarks.bench_panels

What a person waits for, in a browser, is in :mod:`tests.benchmarks.bench_browser`.  A benchmark and not a
test: it asserts nothing and pytest does not collect it.  Every control is moved to values that it has
not had before, so that no answer is at hand already.
"""

import os
import sys
import tempfile
import time
from collections import defaultdict
from contextlib import contextmanager

import numpy as np

from bench.desk import open_treatment
from bench.panels import buffering, humidity, pressing

MOVES = {
    "humidity": {
        "hours": [25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 35, 36],
        "wanted": [str(n) for n in range(62, 74)],
        "air": [f"{20 + 0.3 * n:.1f}" for n in range(12)],
        "area": [str(n) for n in range(310, 430, 10)],
        "ratio": ["soft, open paper", "dense or coated paper", "not known"],
    },
    "buffering": {
        "interval": [7, 9, 10, 5, 4],
        "risk": [3, 4, 5, 6, 7, 8, 10],
    },
    "pressing": {
        "dwell": [str(n) for n in range(610, 850, 20)],
        "humidity": [f"{n}" for n in range(66, 78)],
        "changes": [3, 4, 5, 6, 1, 0],
        "night": [f"{12 + 0.5 * n:.1f}" for n in range(12)],
        "weight": [f"{n}" for n in range(30, 54, 2)],
        "platen": [f"{50 + n}" for n in range(12)],
    },
}
BUILDERS = {
    "humidity": (humidity, humidity.build_humidity_panel),
    "buffering": (buffering, buffering.build_buffering_panel),
    "pressing": (pressing, pressing.build_pressing_panel),
}


class Spent:
    """Seconds spent in named parts since the last reset."""

    def __init__(self):
        self.parts = defaultdict(float)

    def around(self, name, function):
        """Give the function with its time added to a part."""

        def timed(*args, **kwargs):
            begin = time.perf_counter()
            try:
                return function(*args, **kwargs)
            finally:
                self.parts[name] += time.perf_counter() - begin

        return timed


@contextmanager
def scratch():
    """Work on a scratch copy of the first sample."""
    os.environ.pop("BENCH_RECORDS", None)
    with tempfile.TemporaryDirectory() as folder:
        tempfile.tempdir = folder
        try:
            yield open_treatment()
        finally:
            tempfile.tempdir = None


def build(name, treatment, spent):
    """Build a panel whose calculation and pictures are timed."""
    module, builder = BUILDERS[name]
    for drawing in [n for n in vars(module) if n.startswith("draw_")]:
        plain = getattr(getattr(module, drawing), "plain", getattr(module, drawing))
        timed = spent.around("figures", plain)
        timed.plain = plain
        setattr(module, drawing, timed)
    panel = builder(treatment)
    panel._work = spent.around("plan", panel._work)
    return panel


def in_python():
    """Move every control and print what each costs."""
    head = ("panel", "control", "moves", "median", "9 of 10", "CPU", "plan", "figures", "rest")
    print("| " + " | ".join(head) + " |\n|" + "---|" * len(head))
    with scratch() as treatment:
        for name, controls in MOVES.items():
            spent = Spent()
            panel = build(name, treatment, spent)
            for key, values in controls.items():
                print(say(name, key, move(panel, key, values, spent)), flush=True)


def move(panel, key, values, spent):
    """Move one control through its values and back; rows of whole, CPU, plan, figures and rest in ms."""
    control = panel.field(key).widget
    before, rows = control.value, []
    for value in values:
        if value == control.value:
            continue
        spent.parts.clear()
        begin, cpu = time.perf_counter(), time.process_time()
        control.value = value
        whole, cpu = time.perf_counter() - begin, time.process_time() - cpu
        if panel.field(key).refused or not panel._is_current:
            print(f"  {key} = {value}: refused, {panel.status}", file=sys.stderr)
            continue
        plan, figures = spent.parts["plan"], spent.parts["figures"]
        rows.append([1e3 * part for part in (whole, cpu, plan, figures, whole - plan - figures)])
    control.value = before
    return np.array(rows)


def say(name, key, rows):
    """Write one row of the table, in ms."""
    whole, cpu, plan, figures, rest = np.median(rows, axis=0)
    nine = np.percentile(rows[:, 0], 90)
    numbers = (whole, nine, cpu, plan, figures, rest)
    return f"| {name} | {key} | {len(rows)} | " + " | ".join(f"{n:.0f}" for n in numbers) + " |"


if __name__ == "__main__":
    in_python()
