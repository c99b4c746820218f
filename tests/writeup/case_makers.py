"""An invented treatment with two cycles, and one of which next to nothing is recorded."""

from datetime import datetime, timedelta, timezone

from bench.records import nouns
from bench.records.store import create_treatment
from bench.treatment import facts
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.cleaning.log import LoggedPass, log_rows
from bench.treatment.cleaning.surfaces import Surface
from bench.treatment.clock.done import TAKEN_OVER
from bench.treatment.doses import Spent
from bench.treatment.plan import Caution, Plan, PlannedValue, Verdict
from bench.treatment.review import ReviewChoices, plan_review
from bench.treatment.review.levers import Conditions
from bench.units import Q_, UnitChoice

ZONE = timezone(timedelta(hours=1))
WHO = "M. Tallow"
WRITTEN = datetime(2026, 3, 12, 9, 30, tzinfo=ZONE)
ITEM = {
    "title": "The Tin Orchard Annual, no. 2",
    "owner": "E. Fenwright",
    "conservator": WHO,
    "planned_start": datetime(2026, 3, 2, 9, tzinfo=ZONE),
    "format": "square-bound, side-stapled",
    "width_mm": 170,
    "height_mm": 258,
    "count": 76,
    "counted_as": "pages",
    "cover_leaves": 2,
    "text_paper": "newsprint",
    "cover_paper": "coated cover",
    "cover_coated": "yes",
    "glue": "animal glue",
    "mass_g": 104.2,
    "length_unit": "thou",
    "temperature_unit": "degF",
    "note": "Subscriber's stamp inside the front cover.",
}
_BRUSHED = LoggedPass(Surface.COVER_OUTSIDE, "brush", remark="grey came off")
OWN_WORDS = "The blotter strip stayed white after an hour at 80 % on a corner of the back cover."


def at(day, hour, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ZONE)


def readings(stage, cycle, quantity, unit, places, taken, **instrument):
    return [
        {
            "stage": stage,
            "cycle": cycle,
            "quantity": quantity,
            "place": place,
            "value": round(value + step, 4),
            "unit": unit,
            "replicate": number,
            "taken_at": taken,
            "taken_by": WHO,
            **instrument,
        }
        for place, value in places.items()
        for number, step in enumerate(_steps(unit), start=1)
    ]


def _steps(unit):
    size = {"thou": 0.5, "mm": 0.1, "g": 0.01}[unit]
    return (-size, size, 0.0, size, -size)


CALIPER = {"instrument": "dial caliper", "limit": 0.8, "resolution": 0.5}
RULER = {"instrument": "steel rule", "limit": 0.1, "resolution": 0.1}
BALANCE = {"instrument": "balance", "limit": 0.02, "resolution": 0.01}


def examine(stage, cycle, taken, block, grown, mass):
    places = {"text block": block, "upper staple": block + 5.5, "spine edge": block + 2.5}
    return [
        *readings(stage, cycle, "thickness", "thou", places, taken, **CALIPER),
        *readings(stage, cycle, "width", "mm", {"cover": 170.0 + grown}, taken, **RULER),
        *readings(stage, cycle, "height", "mm", {"cover": 258.0 - grown / 4}, taken, **RULER),
        *readings(stage, cycle, "mass", "g", {"whole": mass}, taken, **BALANCE),
    ]


def defect(name, term, face, grade, helped, moment, cycle, **more):
    return {
        "defect": name,
        "term": term,
        "face": face,
        "x_mm": 20,
        "y_mm": 31,
        "width_mm": 4,
        "height_mm": 118,
        "severity": grade,
        "state": "stable",
        "helped_by": helped,
        "limits_outcome": "no",
        "in_scope": "yes",
        "moment": moment,
        "cycle": cycle,
        **more,
    }


def step(name, title, stage, cycle, begin, end, *, late=0, hands="yes", done=True):
    row = {
        "step": name,
        "stage": stage,
        "cycle": cycle,
        "name": title,
        "hands": hands,
        "planned_start": begin,
        "planned_end": end,
    }
    if done:
        row |= {"actual_start": begin, "actual_end": end + timedelta(minutes=late)}
    return row


def decision(stage, cycle, word, when, reason="", **more):
    row = {"stage": stage, "cycle": cycle, "decision": word, "decided_at": when, "decided_by": WHO, **more}
    return {**row, "reason": reason} if reason else row


def make_full(folder, *, reviewed=True):
    """Make the record of a treatment with two cycles, everything in it.

    Not reviewed, it ends with the readings after the first cycle; no defect was looked at again.
    """
    rows = {
        "treatment": [ITEM],
        "staples": [
            {"staple": "upper", "from_head_mm": 41, "from_spine_mm": 8.5, "prong": "flush", "rust": 1},
            {"staple": "lower", "from_head_mm": 214, "from_spine_mm": 8.0, "prong": "flush", "rust": 0},
        ],
        "readings": examine("intake", 0, at(2, 9), 181.0, 0.0, 104.2),
        "tests": [
            {
                "test": "solubility of red",
                "place": "inner margin of leaf 3 | verso",
                "method": "damp blotter strip, 5 min",
                "result": "pass",
                "taken_at": at(2, 10),
            }
        ],
        "defects": [
            defect("d1", "crease", "front cover, outside", 3, "humidify and press", "before", 0, leaf="C1"),
            defect("d2", "cockled", "recto", 2, "humidify and press", "before", 0, leaf="12"),
            defect("d3", "foxing", "verso", 2, "none", "before", 0, leaf="30", limits_outcome="yes"),
            defect("d4", "dirty", "back cover, outside", 2, "clean", "before", 0),
        ],
        "decisions": [
            decision("intake", 0, "treat", at(2, 11), "No gate is closed.", evidence="tests; readings"),
            decision("intake", 0, "consent", at(2, 12), "Signed letter of 1 March; permanent change ticked."),
            decision("intake", 0, "override", at(2, 11), OWN_WORDS, gate="coated cover"),
        ],
    }
    record = create_treatment(folder, "tin-orchard-annual-2", rows, by=WHO, at=at(2, 13))
    item, units = nouns.item_of(record), UnitChoice("thou", "degF")
    _do_cycle(record, item, units, 1, 3, block=179.5, grown=0.3, mass=104.5, reviewed=reviewed)
    if not reviewed:
        return record
    record.save(
        {"decisions": [decision("review", 1, "consent", at(6, 12), "Letter of 6 March, second cycle.")]},
        by=WHO,
        at=at(6, 12),
    )
    _do_cycle(record, item, units, 2, 7, block=178.5, grown=0.5, mass=104.4)
    reading = record.read("readings").iloc[0]
    corrected = {
        key: reading[key]
        for key in ("stage", "cycle", "quantity", "place", "unit", "taken_at", "taken_by", *CALIPER)
    }
    row = {**corrected, "cycle": 0, "value": 180.0, "replicate": 1, "replaces": 1, "note": "misread"}
    record.save({"readings": [row]}, by="P. Quill", at=at(11, 8))
    return record


def _do_cycle(record, item, units, cycle, day, *, block, grown, mass, reviewed=True):
    """Carry out one cycle: plans, steps, log, materials, review."""
    from bench.physics.contact import pressure_from_word

    load = pressure_from_word("medium")
    choices = BufferingChoices(load=load, load_words="medium", interval=4 + 2 * cycle)
    stage, number = nouns.before_cycle(cycle)
    read = nouns.thicknesses_of(record, item, stage=stage, cycle=number)
    plan = plan_buffering(item, read, choices, cycle=cycle, units=units)
    common = {"stage": "buffering", "cycle": cycle}
    with_sheets = {"text block": read.text_block.value.to("thou").magnitude + 4.8 * plan.chosen.sheets}
    letter = "abc"[cycle]
    record.save(
        {
            "plans": nouns.plan_rows(plan, record),
            "steps": [
                step(f"{letter}1", "brush", "cleaning", cycle, at(day, 9), at(day, 10))
                if cycle == 1
                else step(f"{letter}1", "look over", "review", 1, at(day, 9), at(day, 10)),
                step(f"{letter}2", "chamber", "humidity", cycle, at(day, 10), at(day + 1, 8), hands="no"),
                step(f"{letter}3", "interleave", "buffering", cycle, at(day + 1, 8), at(day + 1, 9), late=12),
                step(f"{letter}4", "press", "pressing", cycle, at(day + 1, 9), at(day + 1, 18), hands="no"),
                step(
                    f"{letter}5", "take the sheets out", "pressing", cycle, at(day + 1, 18), at(day + 1, 19)
                ),
                step(
                    f"{letter}6", "follow-up after 7 days", "review", cycle, at(20, 9), at(20, 10), done=False
                ),
            ],
            "materials": [
                {
                    **common,
                    "kind": "interleaf",
                    "material": "copy paper 24 lb",
                    "count": plan.chosen.sheets,
                    "thickness_um": 121.9,
                    "grammage_gsm": 90.3,
                },
                *(
                    [{"stage": "cleaning", "cycle": 1, "kind": "brush", "material": "soft goat-hair brush"}]
                    if cycle == 1
                    else []
                ),
            ],
            "log": [
                *(log_rows(_BRUSHED, cycle=1, at=at(day, 9, 30)) if cycle == 1 else []),
                {
                    "stage": "humidity",
                    "cycle": cycle,
                    "at": at(day, 18),
                    "quantity": "humidity",
                    "value": 78.5,
                    "unit": "percent",
                    "remark": "cover limp, no tack",
                },
            ],
            "readings": [
                *readings("buffering", cycle, "thickness", "thou", with_sheets, at(day + 1, 9), **CALIPER),
                *examine("review", cycle, at(day + 3, 9), block, grown, mass),
            ],
            "defects": []
            if not reviewed
            else [
                defect(
                    "d1", "crease", "front cover, outside", 3 - cycle, "humidify and press", "after", cycle
                ),
                defect("d2", "cockled", "recto", 2 - cycle, "humidify and press", "after", cycle, leaf="12"),
                defect("d3", "foxing", "verso", 2, "none", "after", cycle, leaf="30"),
            ],
        },
        by=WHO,
        at=at(day + 3, 10),
    )
    if reviewed:
        _review(record, item, units, cycle, at(day + 3, 11))


def _review(record, item, units, cycle, when):
    from bench.writeup.case import open_case

    case = open_case(record)
    plan = plan_review(
        item,
        case.examination("intake", 0),
        case.examination("review", cycle),
        case.courses,
        ReviewChoices(
            done_with=Conditions(interval=4 + 2 * cycle),
            consented_cycles=2,
            rested=Q_(30, "hour"),
            chances={8: 0.99, 10: 0.9},
        ),
        cycle=cycle,
        units=units,
    )
    record.save(
        {
            "plans": nouns.plan_rows(plan, record),
            "decisions": [decision("review", cycle, plan.decision.value, when, plan.answer)],
        },
        by=WHO,
        at=when,
    )


def make_bare(folder):
    """Make a record in which only the title is known."""
    row = {"title": "Nettle Lane Mystery, no. 7", "length_unit": "mm", "temperature_unit": "degC"}
    return create_treatment(folder, "nettle-lane-mystery-7", {"treatment": [row]}, by=WHO, at=at(2, 9))


def extra_plan():
    """Give a value and a caution with signs that HTML and Markdown would take as their own."""
    return (
        PlannedValue("dwell <b>|*", Q_(16.65, "min"), "min"),
        Caution(Verdict.CARE, "Never # more than <1> sheet & no *force*."),
    )


def make_sheet(folder):
    """Make the record of a folded sheet: humidified and pressed once, its second cycle only prepared.

    Its times were taken over from the plan, one night in the press was too long, two limits are passed.
    """
    title = "Fernhollow Circular"
    rows = {
        "treatment": [{**_SHEET, "title": title}],
        "readings": [
            *readings("intake", 0, "thickness", "mm", {"text block": 0.6}, at(2, 9), **CALIPER_MM),
            *readings("intake", 0, "width", "mm", {"leaf 1": 210.0}, at(2, 9), **RULER),
            *readings("intake", 0, "height", "mm", {"leaf 1": 297.0}, at(2, 9), **RULER),
            *readings("intake", 0, "mass", "g", {"whole": 21.4}, at(2, 9), **BALANCE),
        ],
        "tests": [
            {
                "test": "damp strip test",
                "place": "blue of the heading",
                "result": "doubt",
                "note": "a trace of blue",
                "taken_at": at(2, 10),
            }
        ],
        "defects": [
            defect("d1", "crease", "recto", 2, "humidify and press", "before", 0, leaf="1"),
            defect("d2", "stain", "verso", 2, "none", "before", 0, leaf="2", in_scope="no"),
            defect("d1", "crease", "recto", 1, "humidify and press", "after", 1, leaf="1"),
            defect("d2", "stain", "verso", 2, "none", "after", 1, leaf="2", in_scope="no"),
        ],
        "decisions": [
            decision("intake", 0, "treat", at(2, 11), "Treat it: the blue is kept dry."),
            decision("intake", 0, "consent", at(2, 12), "Letter of 1 March.", evidence="in writing"),
            decision("review", 1, "hold", at(9, 9), "Hold: consent to a second cycle is asked for."),
        ],
        "materials": [
            {"stage": "cleaning", "cycle": 1, "kind": "cleaning tool", "material": "soft hair brush"},
            {"stage": "humidity", "cycle": 1, "kind": "felt", "material": "wool felt", "lot": "F-12"},
        ],
        "log": [
            {"stage": "humidity", "cycle": 1, "at": at(4, 9), "remark": "limp and even; no colour moved"},
        ],
        "steps": _sheet_steps(),
    }
    record = create_treatment(folder, "fernhollow-circular", rows, by=WHO, at=at(9, 10))
    record.save({"plans": nouns.plan_rows(_plan_of_sheet(), record)}, by=WHO, at=at(9, 11))
    sizes = {"width": {"leaf 1": 210.05}, "height": {"leaf 1": 297.0}}
    again = [
        row
        for quantity, places in sizes.items()
        for row in readings("review", 1, quantity, "mm", places, at(9, 9), **RULER)
    ]
    record.save({"readings": again}, by=WHO, at=at(9, 12))
    return record


CALIPER_MM = {"instrument": "dial caliper", "limit": 0.02, "resolution": 0.01}
_SHEET = {
    "owner": "The Fernhollow Society",
    "conservator": WHO,
    "planned_start": at(2, 9),
    "format": "single or folded sheet",
    "width_mm": 210,
    "height_mm": 297,
    "count": 2,
    "counted_as": "leaves",
    "cover_leaves": 0,
    "text_paper": "newsprint",
    "cover_coated": "no",
    "glue": "none",
    "mass_g": 21.4,
    "length_unit": "mm",
    "temperature_unit": "degC",
}


def _sheet_steps():
    moments = (
        ("set up for dry cleaning", "cleaning", 1, at(2, 13), at(2, 13, 10)),
        ("clean leaves: brush", "cleaning", 1, at(2, 13, 10), at(2, 13, 40)),
        ("prepare the chamber with wet felt", "humidity", 1, at(2, 14), at(2, 14, 20)),
        ("the closed chamber comes to rest", "humidity", 1, at(2, 14, 20), at(3, 9)),
        ("weigh it and put it in the chamber", "humidity", 1, at(3, 9), at(3, 9, 10)),
        ("in the chamber", "humidity", 1, at(3, 9, 10), at(4, 9, 10)),
        ("take it out and weigh it", "humidity", 1, at(4, 9, 10), at(4, 9, 20)),
        ("build the press stack", "pressing", 1, at(4, 9, 20), at(4, 9, 30)),
        ("in the press overnight", "pressing", 1, at(4, 9, 30), at(5, 11, 30)),
        ("rest under light weight", "pressing", 1, at(5, 11, 30), at(8, 9)),
        ("prepare the chamber with wet felt", "humidity", 2, at(9, 13), at(9, 13, 20)),
    )
    rows = [
        step(f"s{n:02}", name, stage, cycle, begin, end)
        for n, (name, stage, cycle, begin, end) in enumerate(moments, start=1)
    ]
    for row in rows:
        row["note"] = "" if row["cycle"] == 2 else TAKEN_OVER
        row["at_most_min"] = 24 * 60 if "overnight" in row["name"] else None
    later = step("s12", "in the chamber", "humidity", 2, at(30, 9), at(31, 9), hands="no", done=False)
    return [*rows, later]


def _plan_of_sheet():
    spent = Spent(index=0.1, strict=50.0, milder=20.0, clock=60.0, first=3.0, second=30.0)
    return Plan(
        stage="pressing",
        cycle=1,
        verdict=Verdict.GO,
        answer="Press it cold overnight.",
        because="The sheet is thin.",
        values=(*spent.values(), PlannedValue(facts.MIDDLE_LEAF, Q_(30, "degC"))),
    )
