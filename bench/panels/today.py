"""The page of the day: what is to be done now and next, counted down, and one touch to write it down.

How long there is still is worked out from the times of the steps and the clock each time it is shown, never
from ticks that were counted: a page that was left, or a closed laptop, is right again at the next look.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import partial
from html import escape
from typing import Any

import ipywidgets as widgets

from bench.errors import BenchError, RecordError
from bench.figures.today import day_lead, job_card, say_day
from bench.panels.assets import read_asset
from bench.panels.day import Day
from bench.treatment.actual.seen import LOOKED_IN
from bench.treatment.clock.schedule import Timeline
from bench.treatment.clock.today import Job, begin_step, end_wait, finish_step, look_in

RENEWED_S = 5.0
"""Seconds between two looks at clock and record while the page is open."""
_TOUCHES = ("look", "begin", "finish", "see")
_TWICE = timedelta(seconds=2)  # a second touch so soon is a slip of the finger
_AGO = [("just now", 0), ("5 min ago", 5), ("15 min ago", 15), ("30 min ago", 30), ("1 h ago", 60)]
_renewals: set[asyncio.Task[None]] = set()  # at most one: a page that is run again ends the one before

Change = Callable[[Timeline, datetime], Timeline]


class _Card:
    """A treatment on the page: its words, and the touches that it takes.

    Parameters
    ----------
    key : str
        Of the treatment.
    touched : callable
        ``touched(key, what)`` with ``begin``, ``finish``, ``look`` or ``see``.
    """

    def __init__(self, key: str, touched: Callable[[str, str], None]) -> None:
        self.key = key
        self.words = widgets.HTML()
        self.buttons = {what: widgets.Button() for what in _TOUCHES}
        for what, button in self.buttons.items():
            button.add_class("bench-touch")
            button.add_class(f"touch-{what}")
            button.on_click(partial(lambda what, _: touched(key, what), what))
        row = widgets.Box(list(self.buttons.values()))
        row.add_class("bench-touches")
        self.widget = widgets.VBox([self.words, row])
        self.widget.add_class("bench-card")
        self.widget.add_class(f"card-{key}")

    def show(self, job: Job, html: str) -> None:
        """Show a job, with the touches that fit it."""
        if self.words.value != html:
            self.words.value = html
        for what, label in _labels(job).items():
            button = self.buttons[what]
            if button.description != label:
                button.description = label
                button.tooltip = f"{label} ({job.title})"
            shown = "" if label else "none"
            if button.layout.display != shown:
                button.layout.display = shown
        first = _first_touch(job)
        for what, button in self.buttons.items():
            (button.add_class if what == first else button.remove_class)("touch-first")


def _first_touch(job: Job) -> str:
    """Name the touch that comes next by the clock."""
    if job.is_by_hand or (job.coming is None and job.look is None):
        return "finish"
    return "begin" if job.look is None or job.is_too_long else "look"


def _labels(job: Job) -> dict[str, str]:
    """Name the touches of a job; an empty name leaves one out."""
    labels = dict.fromkeys(_TOUCHES, "")
    if job.at is None:
        return labels
    if job.is_by_hand and job.under_way:
        labels["finish"] = f"Done: {job.under_way.name}"
    elif job.coming:
        labels["begin"] = f"Begun: {job.coming.name}"
        labels["finish"] = f"Done: {job.coming.name}"
    elif job.under_way:
        labels["finish"] = f"Done: {job.under_way.name}"
    if job.under_way and not job.under_way.hands and job.under_way.stage in ("humidity", "pressing"):
        labels["look"] = "Look-in"
    return {**labels, "see": "Write down what was seen"}


class TodayBoard:
    """The page of the day.

    Parameters
    ----------
    day : Day
        The treatments and the clock.

    Attributes
    ----------
    widget : ipywidgets.Widget
        What stands on the page.
    """

    def __init__(self, day: Day) -> None:
        self._day = day
        self._cards: dict[str, _Card] = {}
        self._last_touch: tuple[str, datetime] | None = None
        self._build()
        day.observe(lambda _: self.refresh(), names="saves")
        self.refresh()

    def _build(self) -> None:
        css = read_asset("panel.css")
        self._strip = widgets.HTML()
        strip = widgets.Box([self._strip])
        strip.add_class("bench-strip")
        self._lead = widgets.HTML()
        self._ago = widgets.ToggleButtons(options=_AGO, value=0, description="What you touch happened")
        self._ago.add_class("bench-field")
        self._ago.add_class("field-ago")
        self._list = widgets.VBox([])
        self._list.add_class("bench-cards")
        answer = widgets.VBox([self._lead, self._ago, self._list])
        answer.add_class("bench-answer")
        self._back = widgets.Button(description="")
        self._back.add_class("bench-touch")
        self._back.add_class("touch-back")
        self._back.on_click(lambda _: self._do(self._day.take_back))
        self._status = widgets.HTML('<span class="hint">Nothing is written without a touch.</span>')
        foot = widgets.Box([self._status, self._back])
        foot.add_class("bench-foot")
        self.widget = widgets.VBox([widgets.HTML(f"<style>{css}</style>"), strip, answer, foot])
        self.widget.add_class("bench")
        self.widget.add_class("bench-today")

    @property
    def status(self) -> str:
        """What the foot says, as HTML."""
        return str(self._status.value)

    @property
    def answer(self) -> str:
        """What the page says, as HTML."""
        return self._lead.value + "".join(card.words.value for card in self._cards.values())

    def card(self, key: str) -> _Card:
        """Give the card of a treatment by its key."""
        return self._cards[key]

    def refresh(self) -> None:
        """Look at record and clock anew, and show what they say now."""
        at = self._day.now()
        try:
            jobs = self._day.look()
            html = {job.key: job_card(job, at, self._day.cautions(job)) for job in jobs}
        except (BenchError, RecordError, OSError) as error:  # a record that was spoilt from outside meanwhile
            said = f'<p class="why" role="alert">{escape(str(error).splitlines()[0])}</p>'
            _set(self._lead, f"{said}<p class='because'>What stands below may be old.</p>")
            return
        self._show_strip(len(jobs), at)
        _set(self._lead, day_lead(jobs, at) + self._say_unread())
        for job in jobs:
            if job.key not in self._cards:
                self._cards[job.key] = _Card(job.key, self._touch)
            self._cards[job.key].show(job, html[job.key])
        wanted = tuple(self._cards[job.key].widget for job in jobs)
        if self._list.children != wanted:
            self._list.children = wanted
        self._show_back()

    def _show_strip(self, number: int, at: datetime) -> None:
        count = "1 treatment" if number == 1 else f"{number} treatments"
        where = "samples, by their own clock" if self._day.is_scratch else self._day.folder.name
        _set(
            self._strip,
            f'<div class="who"><b>Today</b><span>{count}</span><span>{escape(where)}</span>'
            f'<span class="asof">as of {at:%a} {at.day} {at:%b %H:%M:%S}; if this stands still, run the page '
            "again</span></div>",
        )

    def _say_unread(self) -> str:
        lines = [f"{escape(key)} cannot be read: {escape(why)}" for key, why in self._day.unread.items()]
        return "".join(f'<p class="why" role="alert">{line}</p>' for line in lines)

    def _show_back(self) -> None:
        last = self._day.last
        label = "" if last is None else f"Take back: {last.words}"
        if self._back.description != label:
            self._back.description = label if len(label) <= 90 else f"{label[:88]} …"
        shown = "none" if last is None else ""
        if self._back.layout.display != shown:
            self._back.layout.display = shown

    def _touch(self, key: str, what: str) -> None:
        if what == "see":
            self._day.chosen = ""  # so that the same one may be chosen again
            self._day.chosen = key
            title = escape(self._day.treatment(key).title)
            self._say(f'<span class="hint">Write down what was seen of {title} in the panel below.</span>')
            return
        at = self._day.now()
        if self._last_touch and self._last_touch[0] == key and at - self._last_touch[1] < _TWICE:
            self._say('<span class="hint">Touched twice within two seconds: counted once.</span>')
            return
        self._last_touch = (key, at)
        self._do(lambda: self._write(key, what, at - timedelta(minutes=self._ago.value)))

    def _write(self, key: str, what: str, at: datetime) -> str:
        job = self._day.job(key)
        step = job.under_way if job.is_by_hand else job.coming
        log: list[dict[str, Any]] = []
        if what == "look" and job.at is not None:
            seen = {"quantity": LOOKED_IN, "remark": "looked in"}
            log = [{"stage": job.at.stage, "cycle": job.at.cycle, "at": at, **seen}]
            change: Change = look_in
        elif step is None:
            change = end_wait
        else:
            change = partial(begin_step if what == "begin" else finish_step, step.step)
        return self._day.touch(key, change, at, log)

    def _do(self, write: Callable[[], str]) -> None:
        """Write, and say what was written or why not."""
        try:
            self._say(f'<span class="go" role="status">● {escape(write())}</span>')
            self._ago.value = 0
        except (BenchError, RecordError, OSError) as error:
            text = escape(str(error)).replace("\n", "<br>")
            self._say(f'<span class="why" role="alert">Nothing was written. {text}</span>')
        self.refresh()

    def _say(self, html: str) -> None:
        self._status.value = html

    def keep_up(self) -> None:
        """Look anew every few seconds, for as long as the page is open; outside a notebook do nothing."""
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            return
        for task in _renewals:
            task.cancel()
        _renewals.clear()
        _renewals.add(loop.create_task(self._renew()))

    async def _renew(self) -> None:
        while self.widget.comm is not None:  # it has none once it was closed
            await asyncio.sleep(RENEWED_S)
            self.refresh()

    def close(self) -> None:
        """Take the page off the screen, and stop looking at the clock."""
        self.widget.close()

    def _repr_mimebundle_(self, **_: object) -> dict[str, Any]:
        bundle: dict[str, Any] = self.widget._repr_mimebundle_() or {}
        return {**bundle, "text/plain": say_day(self._day.look(), self._day.now())}


def _set(widget: widgets.HTML, html: str) -> None:
    if widget.value != html:
        widget.value = html


def build_today_panel(day: Day) -> TodayBoard:
    """Build the page of the day, and let it keep up with the clock.

    Parameters
    ----------
    day : Day
        The treatments and the clock.
    """
    board = TodayBoard(day)
    board.keep_up()
    return board
