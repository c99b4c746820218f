"""Predicted against found over the treatments of a bench, before and after a fit."""

from __future__ import annotations

from collections.abc import Sequence

from bench.figures.bearing import fit_table
from bench.figures.chart import Chart
from bench.figures.marks import Anchor, Axis, Line, Points, Shape, Words, plain, with_ends
from bench.figures.page import Page, lead_of, table, verdict_tag
from bench.figures.style import CURVES, SOFT
from bench.physics.bearing.fit import Compared
from bench.treatment.learning import CONSTANTS, Lesson, NothingFound, say_constant
from bench.treatment.plan import Verdict
from bench.units import say, say_count

_BEFORE, _AFTER = CURVES[1], CURVES[0]
_KINDS = (("thickness", "thickness of the text block, mm"), ("unpressed", "width left unpressed, mm"))


def show_found(lesson: Lesson | NothingFound) -> tuple[Chart, ...] | tuple[Page]:
    """Show in a notebook what was found over what was predicted, or that nothing was found yet."""
    return (lesson_page(lesson),) if isinstance(lesson, NothingFound) else draw_found(lesson)


def draw_found(lesson: Lesson) -> tuple[Chart, ...]:
    """Draw what was found over what was predicted, with the line on which both are equal: a chart a kind."""
    kinds = ((words, [row for row in lesson.fit.compared if row.quantity == kind]) for kind, words in _KINDS)
    return tuple(_draw_kind(lesson, rows, words) for words, rows in kinds if rows)


def _draw_kind(lesson: Lesson, rows: Sequence[Compared], words: str) -> Chart:
    found, low, high = with_ends([row.found for row in rows], "mm")
    predicted = {name: [plain(getattr(row, name), "mm") for row in rows] for name in ("before", "after")}
    ends = [*predicted["before"], *predicted["after"], *low, *high]
    reach = 0.12 * max(max(ends) - min(ends), 0.02)
    least, most = min(ends) - reach, max(ends) + reach
    marks = (
        Points(
            words_for,
            predicted[name],
            found,
            color,
            shape,
            low=low,
            high=high,
            hover=tuple(_say_compared(row, name, words_for) for row in rows),
        )
        for name, words_for, color, shape in (
            ("before", "as believed before", _BEFORE, Shape.RING),
            ("after", "after the fit", _AFTER, Shape.SQUARE),
        )
    )
    return Chart(
        Axis(f"predicted {words}", "mm", least, most, digits=2),
        Axis("found, mm (bars 95 %)", "mm", least, most, digits=2),
        (
            Line([least, most], [least, most], SOFT, 0.9),
            Words(most, most - 0.04 * (most - least), "found as predicted ", anchor=Anchor.END),
            *marks,
        ),
        _read(lesson, rows, words),
        height=3.0,
    )


def _say_compared(row: Compared, name: str, words: str) -> str:
    found = say(row.found.value, "mm", uncertainty=row.found.expanded())
    return f"{row.name}\n{words}: {say(getattr(row, name), 'mm')}, found {found}"


def _read(lesson: Lesson, rows: Sequence[Compared], words: str) -> str:
    return (
        f"{say_count(len(rows), 'reading')} of the {words.split(',')[0]}. Open rings: as believed before; "
        "filled squares: after the fit. The nearer to the line, the better the prediction: all "
        f"{len(lesson.fit.compared)} numbers are off by "
        f"{lesson.fit.agreement:.1f} standard uncertainties on the mean after the fit."
    )


def learned_lead(lesson: Lesson | NothingFound) -> str:
    """Write the opening: verdict, what was learned, and how far off it was."""
    if isinstance(lesson, NothingFound):
        return lead_of(verdict_tag(Verdict.CARE, lesson.tag), lesson.answer, "")
    tag = verdict_tag(lesson.verdict, "Learned" if lesson.is_explained else "Not explained")
    return lead_of(tag, lesson.answer, lesson.because)


def constant_table(lesson: Lesson) -> str:
    """Write each constant as believed before beside what the findings say."""
    rows = []
    for name, words, unit in CONSTANTS:
        before = getattr(lesson.believed, name)
        said = "as the table of boards has it" if before is None else say_constant(before, unit)
        factor = ", as a factor" if name == "stiffness" else ""
        found = say_constant(getattr(lesson.fit.assumed, name), unit)
        rows.append((f"{words}{factor}", said, found if name in lesson.found() else "nothing learned"))
    return table(("constant", "believed before", "with the findings"), rows, words=True)


def lesson_page(lesson: Lesson | NothingFound) -> Page:
    """Show in a notebook what the findings say."""
    if isinstance(lesson, NothingFound):
        return Page(learned_lead(lesson), lesson.answer)
    body = learned_lead(lesson) + fit_table(lesson.fit) + constant_table(lesson)
    return Page(body, f"{lesson.answer} {lesson.because}")
