"""Predicted against found over the treatments of a bench, before and after a fit."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

import numpy as np
from matplotlib.axes import Axes

from bench.figures.bearing import fit_table
from bench.figures.page import Page, lead_of, table, verdict_tag
from bench.figures.style import CURVES, INK, LINE, SOFT, Picture, finish, new_columns, plain_frame
from bench.physics.bearing.fit import Compared
from bench.treatment.learning import CONSTANTS, Lesson, NothingFound, say_constant
from bench.treatment.plan import Verdict
from bench.units import Quantity

_BEFORE, _AFTER = CURVES[1], CURVES[0]
_KINDS = (("thickness", "thickness of the text block, mm"), ("unpressed", "width left unpressed, mm"))


def show_found(lesson: Lesson | NothingFound) -> Picture | Page:
    """Show in a notebook what was found over what was predicted, or that nothing was found yet."""
    return lesson_page(lesson) if isinstance(lesson, NothingFound) else draw_found(lesson)


def draw_found(lesson: Lesson) -> Picture:
    """Draw what was found over what was predicted, with the line on which both are equal."""
    kinds = [(kind, words) for kind, words in _KINDS if _of(lesson, kind)]
    figure, columns = new_columns(len(kinds), height=3.0)
    for axes, (kind, words) in zip(columns, kinds, strict=True):
        _draw_kind(axes, _of(lesson, kind), words)
    return finish(figure, _read(lesson))


def _of(lesson: Lesson, kind: str) -> list[Compared]:
    return [row for row in lesson.fit.compared if row.quantity == kind]


def _draw_kind(axes: Axes, rows: Sequence[Compared], words: str) -> None:
    before, after = (np.array([_mm(getattr(row, name)) for row in rows]) for name in ("before", "after"))
    found = np.array([_mm(row.found.value) for row in rows])
    doubt = np.array([_mm(row.found.expanded()) for row in rows])
    ends = np.r_[before, after, found - doubt, found + doubt]
    reach = 0.12 * max(float(np.ptp(ends)), 0.02)
    low, high = float(ends.min()) - reach, float(ends.max()) + reach
    axes.plot([low, high], [low, high], color=SOFT, linewidth=0.9)
    axes.text(high, high, "found as predicted ", color=SOFT, fontsize=8, ha="right", va="top")
    marks = ((before, "o", "none", _BEFORE), (after, "s", _AFTER, _AFTER))
    for predicted, mark, face, color in marks:
        axes.errorbar(
            predicted,
            found,
            yerr=doubt,
            fmt=mark,
            color=color,
            markerfacecolor=face,
            markersize=6,
            capsize=2,
            linewidth=0.9,
        )
    axes.set_xlim(low, high)
    axes.set_ylim(low, high)
    axes.set_xlabel(f"predicted {words}")
    axes.set_ylabel("found (bars 95 %)")
    plain_frame(axes)
    axes.grid(True, color=LINE)
    axes.tick_params(colors=INK)


def _read(lesson: Lesson) -> str:
    return (
        "Open circles: as believed before; filled squares: after the fit. The nearer to the line, the better "
        f"the prediction: {len(lesson.fit.compared)} numbers, off by {lesson.fit.agreement:.1f} standard "
        "uncertainties on the mean after the fit."
    )


def learned_lead(lesson: Lesson | NothingFound) -> str:
    """Write the opening: verdict, what was learned, and how far off it was."""
    if isinstance(lesson, NothingFound):
        return f'{verdict_tag(Verdict.CARE, "Nothing found yet")}<p class="say">{escape(lesson.answer)}</p>'
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


def _mm(length: Quantity) -> float:
    return float(length.to("mm").magnitude)


def lesson_page(lesson: Lesson | NothingFound) -> Page:
    """Show in a notebook what the findings say."""
    if isinstance(lesson, NothingFound):
        return Page(learned_lead(lesson), lesson.answer)
    body = learned_lead(lesson) + fit_table(lesson.fit) + constant_table(lesson)
    return Page(body, f"{lesson.answer} {lesson.because}")
