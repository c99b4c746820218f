"""Items, samples and scripts that tests share.  The readings of `annual` are the trade's own example."""

import importlib.util
import os
import shutil
from pathlib import Path
from types import ModuleType

from bench.item import Format, Item, Staple, Thicknesses
from bench.uncertainty import estimate_from_readings
from bench.units import Q_

SCATTER = (-0.5, 0.5, 0.0, 0.5, -0.5)  # thousandths of an inch, sums to zero


def read_thou(value, place):
    """Five readings around a value in thousandths of an inch, with a hand caliper."""
    return estimate_from_readings(
        [Q_(value + d, "thou") for d in SCATTER],
        place=place,
        instrument_limit=Q_(0.8, "thou"),
        resolution=Q_(0.5, "thou"),
        source="caliper",
    )


def annual(**changes):
    """A square-bound, side-stapled annual of 36 leaves."""
    facts = {
        "title": "The Tin Orchard Annual, no. 2",
        "format": Format.SIDE_STAPLED,
        "width": Q_(168.0, "mm"),
        "height": Q_(257.0, "mm"),
        "leaves": 36,
        "glue": "unknown",
        "staples": (
            Staple("upper", Q_(38.0, "mm"), Q_(8.0, "mm")),
            Staple("lower", Q_(215.0, "mm"), Q_(8.0, "mm")),
        ),
    }
    return Item(**{**facts, **changes})


def annual_readings():
    """Common practice, no source: 173.5 over the text block, 178.5 and 172.5 over the staples."""
    return Thicknesses(
        read_thou(173.5, "text block"),
        {"upper": read_thou(178.5, "upper staple"), "lower": read_thou(172.5, "lower staple")},
    )


def stapled_issue(**changes):
    """A saddle-stitched issue of 16 leaves with a coated cover."""
    facts = {
        "title": "Saltmarsh Signal, no. 31",
        "format": Format.SADDLE_STITCHED,
        "width": Q_(168.0, "mm"),
        "height": Q_(257.0, "mm"),
        "leaves": 16,
        "staples": (
            Staple("upper", Q_(60.0, "mm"), Q_(0.0, "mm")),
            Staple("lower", Q_(195.0, "mm"), Q_(0.0, "mm")),
        ),
    }
    return Item(**{**facts, **changes})


ROOT = Path(__file__).parents[1]
SAMPLES = ROOT / "sample_records"
ANNUAL, ISSUE = "tin-orchard-annual-2", "saltmarsh-signal-31"
"""The samples that are treated."""


def copy_bench(folder):
    """Copy the samples that are treated into a folder, as one bench."""
    for name in (ANNUAL, ISSUE):
        shutil.copytree(SAMPLES / name, folder / name)
    return folder


AS_ROOT = ["--as-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
"""What the superuser, as in a container of the tests, must say to serve the workbook."""


def load_script(name: str) -> ModuleType:
    """Load a fresh copy of a script of ``.ci``, which is no package."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
