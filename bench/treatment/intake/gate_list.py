"""The gates of intake, one by one, with every answer that can be given and what it does."""

from __future__ import annotations

from bench.errors import NotFound
from bench.treatment.conditions import Condition, Kind
from bench.treatment.intake.gates import Effect, Gate, GateFinding
from bench.units import Q_, Quantity

COATED_LIMIT = Q_(80, "percent")  # cautious range for a coated cover 70 to 80 %: from memory
WET_LIMIT = Q_(80.0, "percent")  # ISO 9223 counts hours of wetness above 80 % (open implementation seen)


def _on(
    kind: Kind,
    stages: str,
    words: str,
    where: str = "whole item",
    limit: Quantity | None = None,
    source: str = "common-practice",
) -> Condition:
    return Condition(kind, tuple(stages.split()), words, where, limit, source)


_EVERY_STAGE = "cleaning humidity buffering pressing"
_ONCE_DAMP = "humidity buffering pressing"


_NON_STICK = _on(
    Kind.NON_STICK,
    _ONCE_DAMP,
    "A non-stick sheet lies against every face of the cover; two coated faces never touch",
    "cover",
    source="coated-books",
)
_COVER_TEST = _on(
    Kind.TEST_FIRST,
    "humidity",
    "Hold one corner of the cover over a small damp pack first and look for tack, clouding and loss of gloss",
    "cover",
    source="memory",
)
_COVER_DAMP = _on(
    Kind.MAX_HUMIDITY, "humidity", "Relative humidity at most", "cover", COATED_LIMIT, source="memory"
)
_COLD_SPINE = _on(
    Kind.NO_HEAT, "pressing", "No heat at the spine: the spine stays off the warm platen", "spine"
)
_STAPLE_LOOK = _on(
    Kind.LOOK_AT,
    "humidity pressing",
    "Look at the staples each time for new rust",
    "staples",
    source="memory",
)
_BARRIER = _on(
    Kind.BARRIER,
    _ONCE_DAMP,
    "A piece of polyester film lies between each staple and the leaves it touches",
    "staples",
    source="memory",
)
_RUST_DAMP = _on(
    Kind.MAX_HUMIDITY, "humidity", "Relative humidity at most", "staples", WET_LIMIT, source="iso9223"
)
_CUT_OUT = _on(
    Kind.CUT_OUT,
    "buffering pressing",
    "Card with a cut-out over each prong, and no load before a finger feels nothing through it",
    "staples",
)
_BRUSH = _on(Kind.BRUSH_ONLY, "cleaning", "Nothing but a soft brush on printed areas", source="surface-dirt")
_INK_SHEET = _on(
    Kind.NON_STICK,
    "buffering pressing",
    "A non-stick sheet lies against every printed face that touches a board or an interleaf",
    "leaves",
    source="memory",
)

LIVE_MOULD = Gate(
    "live_mould",
    "live mould",
    "Is any mould alive: damp, fuzzy, musty, smearing under a dry brush?",
    (
        GateFinding("no", "no sign of it"),
        GateFinding(
            "unsure",
            "not sure",
            Effect.HOLD,
            "Mould that may be alive is isolated in a dry place and looked at again; until it is settled "
            "neither brush nor humidity comes near it.",
            source="nedcc-mould",
        ),
        GateFinding(
            "yes",
            "yes",
            Effect.REFER,
            "Live mould harms people and spreads to other items, and humidity feeds it. Isolate the item "
            "dry and refer it; people with weak immunity must not handle it.",
            source="nedcc-mould",
        ),
    ),
    final="live mould is a danger to people and to every other item on the bench, and every later stage "
    "would feed it",
)

PAST_MOULD = Gate(
    "past_mould",
    "past mould",
    "Are there traces of old mould: dry spots, powder, stains?",
    (
        GateFinding("no", "none"),
        GateFinding(
            "yes",
            "yes, dry and old",
            Effect.REFER,
            "Spores of old mould wake when the paper is damp; archives leave items with past mould out of "
            "humidification. It belongs to someone with screened suction and a hood.",
            (
                _on(
                    Kind.NO_HUMIDITY,
                    "humidity",
                    "No humidification: spores wake in damp paper",
                    source="missouri-archives",
                ),
                _on(
                    Kind.SCREENED_SUCTION,
                    "cleaning",
                    "HEPA suction through a screen before any brush, with a fitted respirator and gloves",
                    source="nedcc-mould",
                ),
            ),
            "missouri-archives",
        ),
    ),
)

COATED_COVER = Gate(
    "coated_cover",
    "coated cover",
    "Is the cover coated?",
    (
        GateFinding("no", "not coated"),
        GateFinding(
            "yes",
            "coated",
            Effect.CONDITIONS,
            "A coating can turn sticky or cloudy when damp, and two coated faces fuse in contact.",
            (_COVER_DAMP, _NON_STICK, _COVER_TEST),
            "missouri-archives",
        ),
        GateFinding(
            "unknown",
            "not known, so taken as coated",
            Effect.CONDITIONS,
            "Whether the cover is coated is not known, so it is taken as coated: a coating can turn sticky "
            "or cloudy when damp, and two coated faces fuse in contact.",
            (_COVER_DAMP, _NON_STICK, _COVER_TEST),
            "missouri-archives",
        ),
        GateFinding(
            "reacts",
            "reacted to the vapour test",
            Effect.REFER,
            "The surface turned tacky, cloudy or dull, or gave colour, over a small damp pack. General "
            "advice leaves such covers to a professional conservator.",
            (
                _on(
                    Kind.NO_HUMIDITY,
                    "humidity",
                    "No humidification: the cover reacted to the vapour test",
                    source="nps-13-2",
                ),
                _NON_STICK,
            ),
            "nps-13-2",
        ),
    ),
    given_by="item",
)

BRITTLE = Gate(
    "brittle_leaves",
    "brittle leaves",
    "Do leaves stand flexing? Let a corner bend under its own weight; do not fold it.",
    (
        GateFinding("no", "they bend and come back"),
        GateFinding(
            "stiff",
            "stiff, but nothing breaks",
            Effect.CONDITIONS,
            "Stiff leaves break where they are made to bend, and rubbing breaks edges.",
            (
                _on(
                    Kind.LIGHT_HANDLING,
                    _EVERY_STAGE,
                    "Open no further than the leaves go by themselves, and damp before they are bent back",
                    "leaves",
                    source="surface-dirt",
                ),
                _on(
                    Kind.BRUSH_ONLY,
                    "cleaning",
                    "Nothing but a soft brush on the leaves",
                    "leaves",
                    source="nedcc-cleaning",
                ),
            ),
            "nedcc-cleaning",
        ),
        GateFinding(
            "breaks",
            "they crack or shed pieces",
            Effect.REFER,
            "Leaves that break when a corner flexes lose pieces with every touch; brittle paper is left out "
            "of cleaning and flattening.",
            (
                _on(
                    Kind.LIGHT_HANDLING,
                    _EVERY_STAGE,
                    "Leaves are not turned: every leaf is carried on a support",
                    "leaves",
                    source="memory",
                ),
                _on(
                    Kind.BRUSH_ONLY,
                    "cleaning",
                    "Nothing but a soft brush, on the cover only",
                    source="nedcc-cleaning",
                ),
            ),
            "nedcc-cleaning",
        ),
    ),
)

INK = Gate(
    "ink",
    "ink",
    "Does any colour come off dry, or bleed when damp? Test every colour.",
    (
        GateFinding("no", "none, every colour tested"),
        GateFinding(
            "rubs",
            "comes off on a dry swab",
            Effect.CONDITIONS,
            "Ink that dried by soaking in can stay smudgy: it is brushed only, and set off against a sheet.",
            (_BRUSH, _INK_SHEET),
            "surface-dirt",
        ),
        GateFinding(
            "not tested",
            "not tested",
            Effect.HOLD,
            "No method is safe for a colour that was not tested. Do the dry rub test and the damp strip on "
            "each colour first.",
            (_BRUSH, _INK_SHEET),
            "aic-spot-tests",
        ),
        GateFinding(
            "bleeds",
            "bleeds or gives colour when damp",
            Effect.REFER,
            "A colour that moves in damp runs and sets off for good when the item is humidified.",
            (
                _BRUSH,
                _INK_SHEET,
                _on(Kind.NO_HUMIDITY, "humidity", "No humidification: a colour bleeds", source="memory"),
            ),
            "memory",
        ),
    ),
)

STUCK = Gate(
    "stuck_pages",
    "stuck pages",
    "Are leaves stuck to each other?",
    (
        GateFinding("no", "none"),
        GateFinding(
            "yes",
            "yes",
            Effect.REFER,
            "Stuck leaves tear their surface off when parted, coated ones above all; damp can fuse them.",
            (
                _on(
                    Kind.LEAVE_ALONE,
                    _EVERY_STAGE,
                    "Stuck leaves are not parted",
                    "leaves",
                    source="coated-books",
                ),
            ),
            "coated-books",
        ),
    ),
)

TAPE = Gate(
    "tape",
    "tape",
    "Is there tape or old adhesive?",
    (
        GateFinding("no", "none"),
        GateFinding(
            "stays",
            "yes, and it stays",
            Effect.CONDITIONS,
            "Adhesive creeps and stains when warm and pressed. The tape stays and is no part of the work.",
            (
                _on(Kind.NO_HEAT, "pressing", "No heat over the tape", "tape", source="memory"),
                _on(
                    Kind.NON_STICK,
                    _ONCE_DAMP,
                    "A non-stick sheet lies over the tape",
                    "tape",
                    source="memory",
                ),
                _on(Kind.LEAVE_ALONE, "cleaning", "The tape is not lifted or rubbed", "tape"),
            ),
            "memory",
        ),
        GateFinding(
            "remove",
            "yes, and it is to come off",
            Effect.REFER,
            "Taking off tape needs solvents and skills outside this work; it tears the surface when forced.",
            source="memory",
        ),
    ),
)

RUSTED = Gate(
    "rusted_staples",
    "rusted staples",
    "How rusted is the worst staple?",
    (
        GateFinding("no", "no rust"),
        GateFinding(
            "just visible",
            "just visible",
            Effect.CONDITIONS,
            "Rust grows in damp air and stains; it is watched.",
            (_STAPLE_LOOK,),
            "staples-museum",
        ),
        GateFinding(
            "plain",
            "plain rust",
            Effect.CONDITIONS,
            "Steel counts as wet above 80 % relative humidity, and rust moves into damp paper.",
            (_RUST_DAMP, _BARRIER, _STAPLE_LOOK),
            "iso9223",
        ),
        GateFinding(
            "loss",
            "loss of metal, or a stain through a leaf",
            Effect.REFER,
            "A staple that has lost metal breaks under load, and its rust spreads in damp paper. Whether it "
            "stays is for the owner and a conservator.",
            (_RUST_DAMP, _BARRIER, _STAPLE_LOOK),
            "memory",
        ),
    ),
    given_by="item",
)

PROUD = Gate(
    "proud_staples",
    "proud staples",
    "Does a prong stand proud?",
    (
        GateFinding("no", "all flush, or no staples"),
        GateFinding(
            "yes",
            "stands proud",
            Effect.HOLD,
            "Under load a proud prong goes through the cover. It waits until someone qualified has laid it "
            "flush, or the stack is cut out over it.",
            (_CUT_OUT,),
        ),
    ),
    given_by="item",
)

GLUE = Gate(
    "spine_glue",
    "spine glue",
    "What holds the spine, and does warmth soften it?",
    (
        GateFinding("no", "no glue, or one that warmth does not soften"),
        GateFinding(
            "softens",
            "softens with warmth",
            Effect.CONDITIONS,
            "This glue softens at or below the temperature of a warm press; a soft spine leans, and glue is "
            "pressed out at its ends.",
            (_COLD_SPINE,),
            "memory",
        ),
        GateFinding(
            "unknown",
            "not known",
            Effect.CONDITIONS,
            "A glue that is not known may be the one that softens first, so the spine stays cold.",
            (_COLD_SPINE,),
            "memory",
        ),
        GateFinding(
            "reacts",
            "sheen, set-off or soft glue in the heat test",
            Effect.CONDITIONS,
            "A sacrificial copy of the same printer and time changed when warmed.",
            (
                _on(
                    Kind.NO_HEAT,
                    "pressing",
                    "No heat: a copy of the same kind changed when warmed",
                    source="memory",
                ),
            ),
            "memory",
        ),
    ),
    given_by="item",
)

RESTORATION = Gate(
    "restoration",
    "earlier restoration",
    "Are there signs of earlier work: retouching, glue, trimming, replaced staples?",
    (
        GateFinding("no", "none seen, in ultraviolet light too"),
        GateFinding(
            "owner knows",
            "yes, and the owner knows",
            Effect.CONDITIONS,
            "Earlier colour and adhesive may react to damp and warmth where the rest does not.",
            (
                _on(
                    Kind.TEST_FIRST,
                    "cleaning humidity pressing",
                    "Test each place of earlier work by itself before the stage begins",
                    "earlier work",
                    source="memory",
                ),
                _on(
                    Kind.LEAVE_ALONE,
                    "cleaning",
                    "Places of earlier work are not cleaned",
                    "earlier work",
                    source="memory",
                ),
            ),
            "memory",
        ),
        GateFinding(
            "not told",
            "yes, and the owner has not been told",
            Effect.HOLD,
            "What was found is told to the owner before anything else: it changes what the owner agreed to.",
            source="memory",
        ),
    ),
)

AUTHORITY = Gate(
    "authority",
    "who may approve",
    "Is it clear who owns the item and who may approve the work?",
    (
        GateFinding("yes", "yes"),
        GateFinding(
            "no",
            "no",
            Effect.HOLD,
            "Only the owner, or someone the owner has named, can agree to a change of the item.",
            source="aic-commentaries",
        ),
    ),
    final="a reason of the bench cannot stand in for the owner's right to decide",
)

CONSENT = Gate(
    "consent",
    "written consent",
    "Has the owner agreed in writing to this work?",
    (
        GateFinding("yes", "yes, in writing"),
        GateFinding(
            "no",
            "no",
            Effect.HOLD,
            "The owner approves plan and examination report in writing before work begins.",
            source="aic-commentaries",
        ),
    ),
    given_by="consent",
    final="the owner's written approval cannot be waived by the person who wants to do the work",
)

PERMANENT = Gate(
    "permanent_change",
    "permanent change explained",
    "Has every permanent change been explained and ticked?",
    (
        GateFinding("yes", "explained and ticked"),
        GateFinding(
            "no",
            "not explained, or not all of it",
            Effect.HOLD,
            "Pressing cannot be undone: consent given without knowing what changes for good is no consent.",
            source="aic-communication",
        ),
    ),
    given_by="consent",
    final="consent without it would not be consent",
)

GATES = (
    AUTHORITY,
    LIVE_MOULD,
    PAST_MOULD,
    BRITTLE,
    INK,
    STUCK,
    COATED_COVER,
    TAPE,
    RUSTED,
    PROUD,
    GLUE,
    RESTORATION,
    PERMANENT,
    CONSENT,
)


def gate(gate_id: str) -> Gate:
    """Give a gate by its id.

    Raises
    ------
    NotFound
        No gate has that id.
    """
    for candidate in GATES:
        if candidate.id == gate_id:
            return candidate
    allowed = ", ".join(candidate.id for candidate in GATES)
    raise NotFound("gate", repr(gate_id), allowed, "Choose one of the gates of intake")
