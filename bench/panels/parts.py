"""Pictures and tables of an answer, in reading order: what stays as it was is not sent again."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from html import escape
from typing import Any, TypeAlias

import ipywidgets as widgets

from bench.figures.chart import Chart
from bench.figures.style import Picture
from bench.panels.chart import ChartView, OnPick

Part: TypeAlias = str | Picture | Chart | None
LatePart: TypeAlias = Part | Callable[[], Part]

_KEEP, _DROP = "Keep this answer to compare", "Take the kept answer away"


def _write(part: str | Picture | None) -> str:
    """Write a part of the answer as HTML; a picture brings the sentence that reads it."""
    if isinstance(part, Picture):
        return f'<div class="picture">{part.svg}<p>{escape(part.reads)}</p></div>'
    return part or ""


def opening(say: str, *because: str, tag: str = "") -> str:
    """Write the words at the head of a view as HTML.

    Parameters
    ----------
    say : str
        The answer, in a sentence or two.
    *because : str
        Why, or what then; in sight beneath it, but for empty ones.
    tag : str
        The verdict, as HTML already.
    """
    then = "".join(f'<p class="because">{escape(words)}</p>' for words in because if words)
    return f'{tag}<p class="say">{escape(say)}</p>{then}'


class Parts:
    """The place beneath the words of an answer.

    Parameters
    ----------
    on_pick : callable
        ``on_pick(pick, value)`` is called when somebody picks a number or a region on a picture.
    """

    def __init__(self, on_pick: OnPick) -> None:
        self._on_pick = on_pick
        self._texts: list[widgets.HTML] = []
        self._views: list[ChartView] = []
        self._shown: list[str | Chart] = []
        self._kept: dict[str, Chart] = {}
        self._words = ""  # of the answer that is shown
        self._keep = widgets.ToggleButton(description=_KEEP)
        self._keep.add_class("bench-keep")
        self._keep.observe(self._turn, names="value")
        self._kept_words = widgets.HTML()
        self._compare = widgets.HBox([self._keep, self._kept_words])
        self._compare.add_class("bench-compare")
        self.box = widgets.VBox([])
        self.box.add_class("bench-parts")

    @property
    def html(self) -> str:
        """What is shown, as HTML; of a picture, the sentence that reads it."""
        return "".join(
            f'<div class="picture"><p>{escape(part.reads)}</p></div>' if isinstance(part, Chart) else part
            for part in self._shown
        )

    @property
    def charts(self) -> list[Chart]:
        """The pictures that answer the hand."""
        return [part for part in self._shown if isinstance(part, Chart)]

    def show(self, parts: Iterable[LatePart], words: str = "") -> None:
        """Show the parts of an answer that begins with some words."""
        self._words = words
        shown: list[str | Chart] = []
        for part in parts:
            found = part() if callable(part) else part
            if isinstance(found, Chart):
                shown.append(found)
            elif text := _write(found):
                if shown and isinstance(shown[-1], str):
                    shown[-1] += text
                else:
                    shown.append(text)
        self._shown = shown
        self._draw()

    def clear(self) -> None:
        """Show nothing."""
        self.show(())

    def _draw(self) -> None:
        texts, views = iter(self._texts), iter(self._views)
        children: list[Any] = []
        can_compare = any(chart.curves and not chart.is_past for chart in self.charts)
        for part in self._shown:
            if isinstance(part, Chart):
                view = next(views, None) or self._new_view()
                view.show(part, kept=self._kept.get(_key(part)))
                children.append(view)
            else:
                text = next(texts, None) or self._new_text()
                if text.value != part:
                    text.value = part
                children.append(text)
        if can_compare:
            last = max(n for n, part in enumerate(self._shown) if isinstance(part, Chart))
            children.insert(last + 1, self._compare)
        if list(self.box.children) != children:
            self.box.children = children

    def _new_text(self) -> widgets.HTML:
        self._texts.append(widgets.HTML())
        return self._texts[-1]

    def _new_view(self) -> ChartView:
        self._views.append(ChartView(on_pick=self._on_pick))
        return self._views[-1]

    def _turn(self, change: Any) -> None:
        """Lay the present answer beneath those that follow, or take it away again."""
        self._kept = {_key(chart): chart for chart in self.charts} if change["new"] else {}
        self._keep.description = _DROP if change["new"] else _KEEP
        said = f'<span class="hint">Kept, in grey: {self._words}</span>' if change["new"] else ""
        self._kept_words.value = said
        self._draw()


def _key(chart: Chart) -> str:
    """Two pictures of the same thing in the same units lie over each other."""
    return f"{chart.x.title}; {chart.y.title}"
