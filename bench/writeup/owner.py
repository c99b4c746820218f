"""Sections for the owner: disclosure of treatment, and how to keep the item."""

from __future__ import annotations

import re
from collections.abc import Sequence

from bench.figures.said import say_change
from bench.item import Answer
from bench.treatment.actual.acts import Act
from bench.treatment.cleaning.log import tools_logged
from bench.treatment.review.comparison import EdgeChange
from bench.uncertainty import Measured
from bench.writeup.blocks import Block, Bullets, Grid, Missing, Section, Text
from bench.writeup.case import Case, join_words, say_days, upper_first
from bench.writeup.result import size_changes

_TAKES_OUT = re.compile(r"(take|taken|remov|pull).*(sheet|interlea)", re.IGNORECASE)
# Kinds of material that would stay in the item.
_ADDED = ("adhesive", "glue", "paste", "filler", "colour", "paint", "tissue", "mend", "staple", "tape")

PERMANENT = (
    "Humidifying and pressing change the size, thickness, surface and gloss of paper for good. "
    "This cannot be undone."
)
KEEP_REPORT = (
    "This report goes with the item whenever it changes hands; the conservator keeps a second copy. It is "
    "not an appraisal: it says nothing about value, age or authenticity beyond what was seen and measured."
)


def write_disclosure(case: Case) -> Section:
    """Write the text that the owner hands on with the item."""
    title = case.treatment["title"]
    blocks: list[Block]
    if not say_acts(case):
        words = f"According to this record {title} was neither cleaned nor humidified nor pressed."
        blocks = [Text(words), Text(KEEP_REPORT)]
        return Section("disclosure", "Disclosure of treatment", tuple(blocks))
    blocks = [Text(f"{title} was treated as follows."), Bullets((*say_acts(case), *say_not_done(case)))]
    blocks += say_size(case)
    if is_damped(case):
        blocks.append(Text(PERMANENT))
    blocks.append(Text(say_added(case)))
    blocks += say_taken_out(case)
    blocks.append(Text(KEEP_REPORT))
    return Section("disclosure", "Disclosure of treatment", tuple(blocks))


def is_damped(case: Case) -> bool:
    """Tell whether the item was humidified or pressed."""
    return bool(case.acts_of("humidity") or case.acts_of("pressing"))


def say_when(acts: Sequence[Act]) -> str:
    """Say on which days a stage was carried out; an end that nobody recorded is said so."""
    spans = say_days([(act.start, act.end or act.start) for act in acts])
    cycles = f", in {len(acts)} cycles" if len(acts) > 1 else ""
    is_open = any(act.end is None for act in acts)
    return f"{spans}{cycles}" + ("; when it ended is not recorded" if is_open else "")


def say_acts(case: Case) -> list[str]:
    """Say what was done to the item and when: what is only planned or prepared is not told."""
    damp, pressed, cleaned = (case.acts_of(stage) for stage in ("humidity", "pressing", "cleaning"))
    acts = []
    if cleaned:
        tools = tools_logged(case.rows["log"])
        used = f" with {join_words(tools)}" if tools else ". Which tools were used is not recorded"
        acts.append(f"Surface cleaned, dry, {say_when(cleaned)}{used}.")
    if damp:
        acts.append(f"Humidified in water vapour {say_when(damp)}.")
    if pressed:
        acts.append(f"Pressed flat {say_when(pressed)}{_say_between(case)}.")
    return acts


def _say_between(case: Case) -> str:
    """Name the sheets that were laid between the leaves."""
    laid = {act.cycle for act in case.acts_of("buffering")}
    rows = [r for r in case.of("materials", stage="buffering", kind="interleaf") if r["cycle"] in laid]
    names = list(dict.fromkeys(str(row["material"]) for row in rows))
    return f", with sheets of {join_words(names)} between the leaves" if names else ""


def say_not_done(case: Case) -> list[str]:
    """Name the kinds of treatment of which nothing is recorded."""
    names = (("cleaning", "cleaning"), ("humidity", "humidifying"), ("pressing", "pressing"))
    left = [name for stage, name in names if not case.acts_of(stage)]
    return [f"No {' and no '.join(left)} is recorded."] if left else []


def say_size(case: Case) -> list[Block]:
    """Say by how much the size changed; of what was pressed it must be known."""
    if size_changes(case):
        return [Text(say_size_changes(case))]
    return [Missing("By how much the size changed was not measured.")] if case.acts_of("pressing") else []


def say_size_changes(case: Case) -> str:
    """Say by how much width and height changed, each by the most of its places."""
    sizes = size_changes(case)
    said = [_say_edge(edge, sizes, case) for edge in dict.fromkeys(size.edge for size in sizes)]
    return upper_first(f"{'; '.join(said)}.")


def _say_edge(edge: str, sizes: Sequence[EdgeChange], case: Case) -> str:
    """Say the largest change of an edge among the places where it was read."""
    places = [size for size in sizes if size.edge == edge]
    most = max(places, key=lambda size: abs(float(size.relative.value.magnitude)))
    where = f"at the {most.place}" if not most.place.startswith("leaf") else f"at {most.place}"
    where += f", the largest of {len(places)} readings" if len(places) > 1 else ""
    change, share = (say_change(each, case.units) for each in (most.change, most.relative))
    if _is_lost(most.change):
        return f"no change of the {edge} was found ({change}; {where})"
    turn = "grew" if float(most.change.value.magnitude) > 0 else "shrank"
    return f"the {edge} {turn} by {_unsigned(change)} ({_unsigned(share)}; {where})"


def _is_lost(change: Measured) -> bool:
    """Tell whether a change is no larger than its uncertainty."""
    spread = float(change.expanded().to(change.value.units).magnitude)
    return abs(float(change.value.magnitude)) <= spread


def _unsigned(words: str) -> str:
    return words.lstrip("+−")


def say_added(case: Case) -> str:
    """Say what may have stayed in the item, or that nothing was added."""
    kept = [
        f"{row['kind']} ({row['material']})"
        for row in case.rows["materials"]
        if any(word in str(row["kind"]).lower() for word in _ADDED) and row["stage"] != "cleaning"
    ]
    if kept:
        return f"Materials that may have stayed in the item: {', '.join(dict.fromkeys(kept))}."
    return (
        "According to the record nothing was added (no colour, filler, adhesive, patch or new staple) and "
        "nothing was trimmed."
    )


def say_taken_out(case: Case) -> list[Block]:
    """Say whether the sheets came out again, cycle by cycle, which the record must show."""
    laid = [act.cycle for act in case.acts_of("buffering")]
    if not laid:
        return []
    out = {int(r["cycle"]) for r in case.rows["steps"] if r["actual_end"] and _TAKES_OUT.search(r["name"])}
    left = [str(cycle) for cycle in laid if cycle not in out]
    if left:
        of = f" in cycle {join_words(left)}"
        return [
            Missing(f"It is not recorded that the sheets laid between the leaves{of} were taken out again.")
        ]
    if any(flag.is_grave for flag in case.flags):
        words = "That all sheets laid between the leaves were taken out again is not certain: see the counts."
        return [Missing(words)]
    return [Text("The sheets laid between the leaves were taken out again.")]


def write_storage(case: Case) -> Section:
    """Recommend how to keep the item, with sources, and say where they disagree."""
    head = ("Advice", "Temperature", "Relative humidity", "Also", "Source")
    rows = (
        (
            "A national library, for comics",
            "cool, room temperature or below",
            "about 35 %",
            "dark, away from vents; sleeves stiff enough; boxes; buffered or neutral boards",
            "Library of Congress",
        ),
        (
            "A library association, for comics",
            "at most 68 °F (20 °C)",
            "30 to 40 %",
            "uncoated polyester, polyethylene or polypropylene, never PVC; no plastic where the humidity "
            "cannot be kept below 80 %; upright with a board",
            "American Library Association",
        ),
        (
            "A museum, for paper",
            "15 to 25 °C, at most 4 °C a day",
            "45 to 55 %, at most 5 % a day",
            "at most 50 lux, and 75 µW/lm of ultraviolet",
            "Western Australian Museum",
        ),
        (
            "A standard for archives",
            "cooler keeps longer",
            "drier keeps longer; no sharp swings",
            "let it warm up in its box when it comes from the cold; at most 75 µW/lm",
            "ISO 11799",
        ),
        (
            "Advice to museums on staples",
            "–",
            "below 60 % staples may stay",
            "iron is kept below 35 % where it can be",
            "MUSEUM-L 2010",
        ),
    )
    blocks: list[Block] = [
        Grid(head, rows, caption="Where to keep it: what is published"),
        Text(
            "The sources disagree on humidity. Drier air slows the ageing of acid paper and the rusting of "
            "staples; the museum range is kinder to glue and to paper that is handled. A steady 35 to 50 %, "
            "cool and dark, lies between them; all agree that above 60 % is too damp."
        ),
        Bullets(advise_storage(case)),
    ]
    return Section("storage", "Recommendations for storage", tuple(blocks))


FROM_MEMORY = " (from memory)"


def advise_storage(case: Case) -> tuple[str, ...]:
    """Give what to do with this item, beside the air it is kept in."""
    points = [
        "Let the item rest at room conditions before it goes into a sleeve: polyester holds damp in.",
        "Use boards as large as the item, free of lignin, with an alkaline reserve of at least "
        f"2 %{FROM_MEMORY}.",
    ]
    if case.item is not None and case.item.cover_leaves and case.item.cover_coated is not Answer.NO:
        points.append(
            "Lay something smooth and neutral next to the coated cover; alkaline boards may change some "
            f"colours{FROM_MEMORY}."
        )
    points += [
        "Keep poor paper apart from good, and take out acid card, tape and old plastic (CCI Notes 11/2).",
        "Look at it after a week and after a month for warping, smell and rust, and write down what you see.",
    ]
    return tuple(points)
