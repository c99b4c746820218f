"""What a person may find at intake: how it looks, what it answers, and what it does if it is overlooked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bench.item import Item, Prong
from bench.treatment.intake.spot_tests import Result, TestResult

CLEAR: dict[str, str] = {
    "leaves": "a corner bends under its own weight and comes back; no leaf sticks to another",
    "smell and spots": "smells of old paper; no spots that a brush moves",
    "dry rub test": "the swab stays white on every dark solid",
    "damp strip test": "no colour on the strip, every colour tried",
    "vapour test on the cover": "no tack, no clouding, no loss of gloss",
    "tape": "none",
    "ultraviolet look": "nothing lights up",
}
"""What is seen where nothing is the matter, by what was looked at."""

NOTHING_FOUND = {
    "authority": "yes",
    "live_mould": "no",
    "past_mould": "no",
    "brittle_leaves": "no",
    "stuck_pages": "no",
    "tape": "no",
    "restoration": "no",
}
ALL_PASSED = tuple(TestResult(name, Result.PASS) for name in ("rub", "damp", "vapour", "flex", "ultraviolet"))


@dataclass(frozen=True)
class IntakeSign:
    """One thing that is the matter.

    Attributes
    ----------
    gate : str
        Id of the gate that it answers.
    place : str
        What was looked at.
    seen : str
        What was seen there, without the name of what it means.
    harm : str
        What happens if it is overlooked; one or two sentences.
    findings : mapping of str to str
        What is ticked, if it is ticked.
    test, result : str, Result
        What a spot test came to, if it was a test.
    rust : int
        Grade of the upper staple, 0 to 3.
    is_proud : bool
        Whether a prong of it stands proud.
    """

    gate: str
    place: str
    seen: str
    harm: str
    findings: Mapping[str, str] = field(default_factory=dict)
    test: str = ""
    result: Result = Result.PASS
    rust: int = 0
    is_proud: bool = False

    @property
    def needs_staples(self) -> bool:
        """Whether only a stapled item can have it."""
        return self.is_proud or self.rust > 0


SIGNS = (
    IntakeSign(
        "past_mould",
        "smell and spots",
        "grey spots along the gutter, dry; a brush lifts powder and they do not smear",
        "In the chamber the spores in those grey spots wake within days, here and on the shelf around.",
        {"past_mould": "yes"},
    ),
    IntakeSign(
        "live_mould",
        "smell and spots",
        "musty; a fuzzy spot at the tail smears under a dry brush",
        "The brush spreads the fuzz over the bench and into your lungs, and the chamber feeds it.",
        test="mould",
        result=Result.FAIL,
    ),
    IntakeSign(
        "live_mould",
        "smell and spots",
        "slightly musty; one dark spot that may or may not smear",
        "If that spot is alive, brush and damp spread it before anybody knows; a dry week would have told.",
        test="mould",
        result=Result.DOUBT,
    ),
    IntakeSign(
        "ink",
        "damp strip test",
        "the strip on the red of the cover comes away pink",
        "In the chamber the red runs into the white beside it and sets off; nothing takes it back.",
        test="damp",
        result=Result.FAIL,
    ),
    IntakeSign(
        "ink",
        "damp strip test",
        "not done: the strips had run out",
        "The first colour that bleeds would show it in the chamber, over the whole cover instead of one dot.",
        test="damp",
        result=Result.NOT_DONE,
    ),
    IntakeSign(
        "ink",
        "dry rub test",
        "grey comes off on the swab from the black solids",
        "A sponge smears the black over the page, and boards print it off on the next face.",
        test="rub",
        result=Result.FAIL,
    ),
    IntakeSign(
        "coated_cover",
        "vapour test on the cover",
        "the corner is dull and sticks to the film after 20 minutes",
        "The whole cover would cloud and fuse to whatever lies on it, and tear its picture off when parted.",
        test="vapour",
        result=Result.FAIL,
    ),
    IntakeSign(
        "brittle_leaves",
        "leaves",
        "a corner that is lifted cracks across, and a flake stays on the bench",
        "Every leaf that is turned for a sheet would break along the fold, and the flakes are lost.",
        test="flex",
        result=Result.FAIL,
    ),
    IntakeSign(
        "brittle_leaves",
        "leaves",
        "a corner bends stiffly and comes back slowly; nothing breaks",
        "Rubbed and bent back dry, the edges of such leaves break where they would have borne a brush.",
        test="flex",
        result=Result.DOUBT,
    ),
    IntakeSign(
        "stuck_pages",
        "leaves",
        "they bend and come back, but two leaves near the middle hold together over a hand's breadth",
        "Parted by force the two leaves skin each other; in damp they fuse for good.",
        {"stuck_pages": "yes"},
    ),
    IntakeSign(
        "tape",
        "tape",
        "a strip along the spine, yellow, and the owner wants it off",
        "Pulled off dry it takes the surface of the cover with it; that is work with solvents.",
        {"tape": "remove"},
    ),
    IntakeSign(
        "tape",
        "tape",
        "a short strip at the head of the spine, yellow; it is to stay",
        "Under a warm platen its adhesive creeps into the cover and through to the next leaf.",
        {"tape": "stays"},
    ),
    IntakeSign(
        "rusted_staples",
        "staples",
        "the upper one half eaten away, brown through three leaves",
        "Under load the eaten wire breaks, and damp carries the brown further into the leaves.",
        rust=3,
    ),
    IntakeSign(
        "rusted_staples",
        "staples",
        "the upper one brown all over, its metal whole; no stain in the leaves",
        "Without film and below no limit of damp, the rust moves into the leaves around the wire.",
        rust=2,
    ),
    IntakeSign(
        "proud_staples",
        "staples",
        "a prong of the upper one catches the finger",
        "Under load the prong goes through the back cover before the leaves feel the press.",
        is_proud=True,
    ),
    IntakeSign(
        "restoration",
        "ultraviolet look",
        "a patch at the fore edge lights up; the owner has not been told",
        "The colour laid there before may run or lift, and the owner learns of it from the damage.",
        test="ultraviolet",
        result=Result.FAIL,
    ),
)


@dataclass(frozen=True)
class IntakeNotes:
    """What intake is decided from."""

    item: Item
    findings: Mapping[str, str]
    tests: tuple[TestResult, ...]

    def without(self, sign: IntakeSign, bare: Item) -> IntakeNotes:
        """Give the same as one who overlooked a sign has it."""
        item = bare if sign.needs_staples else self.item
        unseen = {key: NOTHING_FOUND[key] for key in sign.findings}
        tests = tuple(t for t in self.tests if t.test != sign.test)
        passed = tuple(t for t in ALL_PASSED if t.test == sign.test)
        return IntakeNotes(item, {**self.findings, **unseen}, (*tests, *passed))


def find(item: Item, signs: tuple[IntakeSign, ...]) -> IntakeNotes:
    """Give what stands in the notes of intake where these signs were found and nothing else."""
    findings = dict(NOTHING_FOUND)
    tests = {test.test: test for test in ALL_PASSED}
    for sign in signs:
        findings |= sign.findings
        if sign.test:
            tests[sign.test] = TestResult(sign.test, sign.result)
        if sign.needs_staples:
            item = with_staple(item, sign)
    return IntakeNotes(item, findings, tuple(tests.values()))


def with_staple(item: Item, sign: IntakeSign) -> Item:
    """Give the item with its upper staple as the sign has it."""
    first, *others = item.staples
    worse = replace(first, rust=sign.rust, prong=Prong.PROUD if sign.is_proud else Prong.FLUSH)
    return replace(item, staples=(worse, *others))
