"""Examination and spot tests before treatment: what, in which order, with which instrument.

Looking comes first because nothing is touched; each test tries a stage on a tiny, chosen place.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from bench.errors import NotFound
from bench.treatment.plan import PlannedStep, minutes


class Result(StrEnum):
    """What came out of a test."""

    PASS = "pass"
    FAIL = "fail"
    DOUBT = "doubt"
    NOT_DONE = "not done"


@dataclass(frozen=True)
class SpotTest:
    """One test, how it is done, and what its results mean.

    Attributes
    ----------
    id, name, how, place : str
        Id in the code, name in the record, how and where it is done.
    passes, fails : str
        What is seen when it passes, and when it fails.
    forbids : str
        What a failure forbids.
    gate : str
        Gate that a failure answers.
    on_pass, on_fail, on_doubt : str
        Key of the finding there; empty where a result answers nothing by itself.
    source : str
        Key of a source.
    """

    id: str
    name: str
    how: str
    place: str
    passes: str
    fails: str
    forbids: str
    gate: str
    on_fail: str
    on_doubt: str
    on_pass: str = ""
    source: str = "memory"


SPOT_TESTS = (
    SpotTest(
        "rub",
        "dry rub test",
        "one light stroke of a dry white swab",
        "each dark solid",
        "the swab stays white",
        "colour on the swab",
        "everything but a soft brush",
        "ink",
        on_fail="rubs",
        on_doubt="not tested",
    ),
    SpotTest(
        "damp",
        "damp strip test",
        "a barely damp blotter strip laid on; look at it in normal and in ultraviolet light",
        "each colour, inner margin",
        "no colour on the strip",
        "any colour on the strip",
        "humidity",
        "ink",
        on_fail="bleeds",
        on_doubt="not tested",
    ),
    SpotTest(
        "vapour",
        "vapour test",
        "one corner over a small damp pack under film for 10 to 30 minutes",
        "each kind of surface",
        "no tack, no clouding, no loss of gloss, no colour on the sheet above",
        "tack, clouding, loss of gloss, or colour on the sheet above",
        "humidity",
        "coated_cover",
        on_fail="reacts",
        on_doubt="unknown",
    ),
    SpotTest(
        "flex",
        "flex test",
        "a corner is lifted and bends under its own weight; it is never folded",
        "an outer and an inner leaf",
        "it bends and comes back",
        "it cracks, or pieces come off",
        "turning leaves, rubbing, pressing",
        "brittle_leaves",
        on_fail="breaks",
        on_doubt="stiff",
        on_pass="no",
        source="double-fold",
    ),
    SpotTest(
        "mould",
        "mould under a dry brush",
        "a dry soft brush on the spot, under a loupe, with mask and gloves",
        "each spot that may be mould",
        "dry and powdery, or no mould",
        "it smears, or is fuzzy or damp",
        "every stage",
        "live_mould",
        on_fail="yes",
        on_doubt="unsure",
    ),
    SpotTest(
        "heat",
        "heat test",
        "warmed as in the press; never on the object",
        "a sacrificial copy of the same printer and time",
        "no sheen, no set-off, the glue stays hard",
        "sheen, set-off, or soft glue",
        "heat",
        "spine_glue",
        on_fail="reacts",
        on_doubt="reacts",
    ),
    SpotTest(
        "ultraviolet",
        "ultraviolet look",
        "365 nm lamp in a dark room, with goggles, for a short time",
        "both covers, spine, centre spread",
        "no retouching, adhesive or tideline lights up",
        "retouching, adhesive or a tideline lights up",
        "going on before the owner has been told",
        "restoration",
        on_fail="not told",
        on_doubt="not told",
    ),
)


def spot_test(key: str) -> SpotTest:
    """Give a test by its id or its name in the record.

    Raises
    ------
    NotFound
        No test of intake has that id or name.
    """
    for test in SPOT_TESTS:
        if key in (test.id, test.name):
            return test
    allowed = ", ".join(test.name for test in SPOT_TESTS)
    raise NotFound("spot test", repr(key), allowed, "Choose one of the tests of intake")


@dataclass(frozen=True)
class TestResult:
    """One test as it was done.

    Attributes
    ----------
    test : str
        Id of the test.
    result : Result
        What came out of it.
    place, note : str
        Where, and what was seen.
    """

    test: str
    result: Result
    place: str = ""
    note: str = ""

    __test__ = False  # a noun of the bench, not a case for pytest

    def __post_init__(self) -> None:
        spot_test(self.test)


def findings_from_tests(results: Iterable[TestResult]) -> tuple[tuple[str, str, str], ...]:
    """Read the gates that test results answer.

    Returns
    -------
    tuple of (gate id, finding key, evidence)
        Colours count as tested only when the dry rub and the damp strip are both done; a failure
        among them is an answer of its own, and the graver answer stands.
    """
    done = [r for r in results if r.result is not Result.NOT_DONE]
    found = []
    for result in done:
        test = spot_test(result.test)
        key = {Result.PASS: test.on_pass, Result.FAIL: test.on_fail, Result.DOUBT: test.on_doubt}[
            result.result
        ]
        if key:
            place = f" on {result.place}" if result.place else ""
            found.append((test.gate, key, f"{test.name}{place}: {result.result}"))
    colours = {r.test for r in done if r.test in ("rub", "damp") and r.result is not Result.DOUBT}
    if len(colours) == 1:
        other = spot_test("damp" if "rub" in colours else "rub").name
        found.append(("ink", "not tested", f"{other} not done"))
    elif colours:
        tried = [
            f"{spot_test(r.test).name} on {r.place or spot_test(r.test).place}"
            for r in done
            if r.test in colours
        ]
        found.append(("ink", "no", " and ".join(tried)))
    return tuple(found)


@dataclass(frozen=True)
class Look:
    """One step of the examination.

    Attributes
    ----------
    what, instruments, note : str
        What is done, with what, and what to mind.
    minutes : float
        From memory of the work, to be corrected from the log.
    """

    what: str
    instruments: str
    minutes: float
    note: str


EXAMINATION = (
    Look("let it rest in the room", "thermometer, hygrometer", 0, "until it feels as warm as the room"),
    Look(
        "look, touching nothing",
        "even light, loupe",
        10,
        "Looking comes first; note what is seen apart from what it may mean",
    ),
    Look(
        "look in raking and ultraviolet light",
        "lamp at most 10° above the sheet; 365 nm lamp, goggles",
        15,
        "From head, tail, spine and fore edge; short times under ultraviolet",
    ),
    Look(
        "photograph before treatment",
        "camera on a stand, scale, grey scale",
        20,
        "With id, date, scale and direction of the light, so that it can be repeated after",
    ),
    Look(
        "count the leaves and look at the staples", "thin bone folder, loupe, magnet", 10, "Leaves or pages?"
    ),
    Look("weigh and measure", "balance 0.01 g, ruler, caliper", 15, "Five readings at each place"),
    Look(
        "do the spot tests", "swabs, blotter strips, film, loupe", 40, "The vapour test runs 10 to 30 minutes"
    ),
    Look("list the defects", "ruler, defect map", 15, "Term, face, place and size for each"),
)


def examination_steps() -> tuple[PlannedStep, ...]:
    """Give the examination as steps for the schedule."""
    return tuple(
        PlannedStep(look.what, minutes(look.minutes), True, note=look.note)
        for look in EXAMINATION
        if look.minutes
    )
