"""Items and readings that tests share.  The readings of `annual` are the trade's own example."""

import os
import shutil

from bench.desk import SAMPLES
from bench.item import Format, Item, Staple, Thicknesses
from bench.treatment.intake import Decision, decide_intake
from bench.treatment.intake.consent import PERMANENT_CHANGES, Consent
from bench.treatment.intake.rows import answer_rows, decision_rows, test_rows, ticked_gates
from bench.treatment.intake.spot_tests import Result, TestResult
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


def intake_rows(item, *, at, by="M. Tallow"):
    """What intake saves of a sound item that the owner agreed to have treated: rows of its tables."""
    answers = {gate.id: gate.findings[0].key for gate in ticked_gates()}
    tests = tuple(TestResult(name, Result.PASS) for name in ("rub", "damp", "vapour", "flex", "ultraviolet"))
    consent = Consent("E. Fenwright", True, PERMANENT_CHANGES)
    # A square spine of glue that softens is treated for a written reason only.
    overrides = {"spine_glue": "The spine lies outside the platen"} if item.is_square_bound else {}
    plan = decide_intake(item, findings=answers, tests=tests, overrides=overrides, consent=consent)
    assert plan.decision is Decision.TREAT, plan.answer
    return {
        "tests": [*answer_rows(answers, at=at), *test_rows(tests, at=at)],
        "decisions": decision_rows(plan, (), answers, by=by, at=at),
    }


ANNUAL, ISSUE = "tin-orchard-annual-2", "saltmarsh-signal-31"
"""The samples that are treated."""


def copy_bench(folder):
    """Copy the samples that are treated into a folder, as one bench."""
    for name in (ANNUAL, ISSUE):
        shutil.copytree(SAMPLES / name, folder / name)
    return folder


AS_ROOT = ["--as-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
"""What the superuser, as in a container of the tests, must say to serve the workbook."""
