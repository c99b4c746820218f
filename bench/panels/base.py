"""The one shape that every panel has: fields, answer, Save."""

from __future__ import annotations

import re
import threading
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Future
from contextlib import contextmanager
from dataclasses import dataclass, field
from html import escape, unescape
from typing import Any, TypeAlias

import ipywidgets as widgets
import traitlets

from bench.errors import BadValue, BenchError, NotFound, NotYet, RecordError
from bench.figures.chart import Chart
from bench.figures.marks import Choose, Pick
from bench.figures.page import caution_list
from bench.panels.assets import read_asset
from bench.panels.fields import Field, GroupLabel
from bench.panels.fold import Fold, split
from bench.panels.long_work import LongWork, attempt
from bench.panels.parts import LatePart, Parts
from bench.progress import Progress, Stopped
from bench.treatment.entries import Entry
from bench.treatment.plan import Caution
from bench.trouble import write_down
from bench.units import MILLIMETRES, Q_, UnitChoice, say_error

_LENGTHS = [("thou", "thou"), ("mm", "mm"), ("µm", "um")]
_TEMPERATURES = [("°C", "degC"), ("°F", "degF")]
_WORKING = '<p class="working" role="status">working …</p>'  # in sight while the panel is at it
_AT_WORK, _REFUSED = "bench-at-work", "bench-refused"
"""How the page sees that what is shown is no longer, or not, the answer to the fields: it is dimmed."""
PATIENCE_S = 0.2
"""An answer that takes longer is announced, and the old one dimmed; most come before that, and to dim and
undim the page would take it longer than to show them."""


Strip: TypeAlias = Sequence[str] | Callable[[], Sequence[str]]


class UnitSwitch(traitlets.HasTraits):
    """What all panels of a treatment share: the operator's units, and that one of them has saved."""

    choice = traitlets.Instance(UnitChoice, default_value=MILLIMETRES)
    saves = traitlets.Int(0)


@dataclass(frozen=True)
class View:
    """What a panel shows for a result.

    Attributes
    ----------
    lead : str
        Verdict, answer and reason, as HTML.
    parts : iterable of str, Chart, Picture, None, or callable that gives one
        Pictures and tables in reading order; None is left out.  They are asked for once the words are
        shown: drawn by a generator or a callable, they do not keep the words waiting.
    cautions : sequence of Caution
        Those that belong to the step.
    save_says : str
        What Save will write, e.g. ``"writes 9 rows to plans and 1 to steps"``.
    save_blocked : str
        What is to come before the result may be saved, such as an entry; empty if it may.
    save_refused : str
        Why a result of what was entered may not be saved, such as a plan that says stop: shown in red.
    """

    lead: str
    parts: Iterable[LatePart] = ()
    cautions: Sequence[Caution] = field(default_factory=tuple)
    save_says: str = ""
    save_blocked: str = ""
    save_refused: str = ""


def _answer_of(lead: str) -> str:
    """Give the sentence that answers, out of the opening of a view."""
    said = re.search(r'<p class="say">(.*?)</p>', lead)
    return said[1] if said else ""


def _as_stale(words: str) -> str:
    return f'<div class="stale" aria-hidden="true">{words}</div>' if words else ""


class Panel:
    """Fields on one side, the answer on the other, Save at the foot.

    Parameters
    ----------
    name : str
        Short name, for the page's own use (a class on the panel).
    strip : sequence of str, or callable
        Who and what: the first is set in bold.  A callable is asked again after every save.
    fields : sequence of Field or GroupLabel
        In order.
    work : callable
        ``work(values, units)`` gives the result; values is a mapping from field key to value.  It
        may raise BenchError, which is shown beside the field it names.
    show : callable
        ``show(result, units)`` gives a :class:`View`.
    save : callable, optional
        ``save(result, values)`` writes and gives a sentence on what was written.
    save_long : callable, optional
        ``save_long(result, values, progress)`` in its place, where it takes longer than a moment: it tells
        its steps, and can be stopped.
    units : UnitSwitch
        Shared by the panels of a treatment.
    save_label : str
        On the button.
    entered : sequence of Entry
        Entries that a record kept: they are put back.
    first : collection of str
        Keys of the fields that a usual cycle asks for: they stand in sight, the others are folded away.
        Empty leaves all in sight.
    follow : callable, optional
        ``follow(panel)`` is called before the fields are read; it may :meth:`propose` what has changed
        in the record since.
    stays : callable, optional
        ``stays()`` gives the parts that hold whatever is entered: they are shown while an entry is refused,
        where otherwise nothing is.
    has_switch : bool
        Whether units can be switched; no where what the panel says is written in one set of them.
    """

    def __init__(
        self,
        *,
        name: str,
        strip: Strip,
        fields: Sequence[Field | GroupLabel],
        work: Callable[[Mapping[str, Any], UnitChoice], Any],
        show: Callable[[Any, UnitChoice], View],
        save: Callable[[Any, Mapping[str, Any]], str] | None = None,
        save_long: Callable[[Any, Mapping[str, Any], Progress], str] | None = None,
        units: UnitSwitch | None = None,
        save_label: str = "Save this plan",
        entered: Sequence[Entry] = (),
        first: Collection[str] = (),
        follow: Callable[[Panel], None] | None = None,
        stays: Callable[[], Iterable[LatePart]] = tuple,
        has_switch: bool = True,
    ) -> None:
        self._follow, self._stays = follow, stays
        self._units = units or UnitSwitch()
        self._fields = [f for f in fields if isinstance(f, Field)]
        self._proposed = {entry.key: entry.kept() for entry in self._fields}
        self._entered: set[str] = set()  # keys of the fields whose entry was put back
        for entry in self._fields:
            for each in entered:
                if each.is_of(entry.key, entry.label):
                    entry.put_back(each.kept)
                    self._entered.add(entry.key)
        self._work, self._show, self._save, self._save_long = work, show, save, save_long
        self.long = LongWork()
        self._values: dict[str, Any] = {}
        self._result: Any = None
        self._is_current = False  # whether the result is that of the fields as they stand
        self._is_blocked = False  # whether the result, though current, may not be saved
        self._words = ""  # of the last answer
        self._said_in = self._units.choice
        self._busy = False
        self._marking = threading.Lock()
        self._look: threading.Timer | None = None  # will see whether the work still goes on
        self._strip, self._name = strip, name
        seen, folded = split(fields, first)
        self._fold = Fold(folded) if folded else None
        self._build(name, seen, save_label, has_switch=has_switch)
        for entry in self._fields:
            entry.widget.observe(self._refresh, names="value")
        self._length.observe(self._choose_units, names="value")
        self._temperature.observe(self._choose_units, names="value")
        self._units.observe(self._follow_units, names="choice")
        self._units.observe(self._follow_save, names="saves")
        self._follow_units(None)

    def _build(
        self, name: str, fields: Sequence[Field | GroupLabel], save_label: str, *, has_switch: bool
    ) -> None:
        css = read_asset("panel.css")
        self._who = widgets.HTML()
        self._say_who()
        choice = self._units.choice
        self._length = widgets.ToggleButtons(options=_LENGTHS, value=choice.length)
        self._temperature = widgets.ToggleButtons(options=_TEMPERATURES, value=choice.temperature)
        switch = widgets.HBox([self._length, self._temperature])
        switch.add_class("bench-units")
        head = widgets.Box([self._who, switch] if has_switch else [self._who])
        head.add_class("bench-strip")
        choose = widgets.VBox([f.box for f in fields] + ([self._fold.box] if self._fold else []))
        choose.add_class("bench-choose")
        self._lead, self._parts = widgets.HTML(), Parts(self._pick)
        self._lead.add_class("bench-lead")
        self._button = widgets.Button(description=save_label, disabled=True)
        self._button.add_class("bench-save")
        self._button.on_click(self._on_save)
        self._status = widgets.HTML()
        saving = [self._button] if self._can_write else []
        end = widgets.VBox([*saving, self.long.box, self._status])
        end.add_class("bench-end")
        # Answer and Save stay in sight while the controls beside or beneath them move.
        top = widgets.Box([widgets.HTML(_WORKING), self._lead, end])
        top.add_class("bench-top")
        answer = widgets.VBox([top, self._parts.box])
        answer.add_class("bench-answer")
        grid = widgets.Box([choose, answer] if fields else [answer])
        grid.add_class("bench-grid")
        self._cautions = widgets.HTML()
        self._foot = widgets.Box([self._cautions], layout={"display": "none"})
        self._foot.add_class("bench-foot")
        self.widget = widgets.VBox([widgets.HTML(f"<style>{css}</style>"), head, grid, self._foot])
        self.widget.add_class("bench")
        self.widget.add_class(f"bench-{name}")

    def _say_who(self) -> None:
        """Write on the strip who and what is at hand, as it is recorded now."""
        first, *rest = self._strip() if callable(self._strip) else self._strip
        who = f"<b>{escape(first)}</b>" + "".join(f"<span>{escape(text)}</span>" for text in rest)
        self._who.value = f'<div class="who">{who}</div>'

    @property
    def result(self) -> Any:
        """The last result that could be worked out; None before."""
        return self._result

    def plan(self) -> Any:
        """Give the result that the panel shows, for the chapter beneath it: one calculation serves both.

        Raises
        ------
        NotFound
            There is no result; the sentence says why, in the words that the panel shows.
        """
        if not self._is_current:
            said = unescape(" ".join(re.sub(r"<[^>]+>", " ", self._lead.value).split()))
            value, remedy = "still without an answer", f"It says: {said.rstrip('.')}"
            raise NotFound("The panel above", value, "", remedy)
        return self._result

    @property
    def _can_write(self) -> bool:
        return self._save is not None or self._save_long is not None

    @property
    def can_save(self) -> bool:
        """Whether Save is offered now."""
        return self._is_current and not self._button.disabled

    @property
    def status(self) -> str:
        """What the foot of the panel says, as HTML."""
        return str(self._status.value)

    @property
    def answer(self) -> str:
        """What the panel answers, as HTML."""
        return f"{self._lead.value}{self._parts.html}"

    @property
    def charts(self) -> list[Chart]:
        """The pictures of the answer that answer the hand."""
        return self._parts.charts

    def inputs(self) -> Mapping[str, Any]:
        """Give the values that the result shown was worked out from; empty while there is none."""
        return dict(self._values) if self._is_current else {}

    def entries(self) -> list[Entry]:
        """Give what was entered in place of what the panel proposed.

        What was put back stays among them, also where the proposal has come to be the same.
        """
        return [
            Entry(entry.key, entry.label, entry.kept())
            for entry in self._fields
            if entry.kept() != self._proposed[entry.key] or entry.key in self._entered
        ]

    def refresh(self) -> None:
        """Work the answer out anew, as a moved control does."""
        self._refresh(None)

    def propose(self, key: str, value: Any, *, is_anew: bool = False) -> None:
        """Put a new proposal into a field that shows the old one; what was entered in its place stays.

        Parameters
        ----------
        key : str
            Of the field.
        value : object
            As the control of the field takes it.
        is_anew : bool
            Whether what was entered goes too: it was said of something else, such as another file.
        """
        entry = self.field(key)
        if is_anew:
            entry.widget.value = value
            self._proposed[key] = entry.kept()
            return
        try:
            entry.read(self._units.choice)  # what was typed last counts
        except BenchError:  # it is the operator's, and is asked about
            return
        if key in self._entered or entry.kept() != self._proposed[key]:
            return
        if entry.widget.value != value:
            entry.widget.value = value
            entry.read(self._units.choice)
            self._proposed[key] = entry.kept()

    def tell(self, words: str) -> None:
        """Say at the foot of the panel what came of something that was neither an entry nor a save."""
        self._status.value = f'<span class="hint" role="status">{escape(words)}</span>'

    def fill(self, entries: Mapping[str, Any]) -> None:
        """Put entries into several fields, and work the answer out once.

        Parameters
        ----------
        entries : mapping of str to object
            By the keys of the fields, as their controls take them.
        """
        with self.filling():
            for key, value in entries.items():
                self.field(key).widget.value = value

    @contextmanager
    def filling(self) -> Iterator[None]:
        """Let several fields be filled, and work the answer out once."""
        was_busy, self._busy = self._busy, True
        try:
            yield
        finally:
            self._busy = was_busy
        self._refresh(None)

    def field(self, key: str) -> Field:
        """Give a field by its key, for tests and for other panels."""
        return next(f for f in self._fields if f.key == key)

    def save(self) -> str:
        """Do what the button does: write what is shown, and give what the foot then says.

        Raises
        ------
        BadValue
            Save is not offered now; the reason stands beside a field or at the foot.
        """
        if not self.can_save:
            said = " ".join(re.sub(r"<[^>]+>", " ", self.status).split())
            raise BadValue("save", "not offered", "a result that may be saved", said or "See the fields")
        self._on_save(None)
        return unescape(" ".join(re.sub(r"<[^>]+>", " ", self.status).split()))

    def _repr_mimebundle_(self, **_: object) -> dict[str, Any]:
        bundle: dict[str, Any] = self.widget._repr_mimebundle_() or {}
        said = " ".join(re.sub(r"<[^>]+>", " ", self.answer.split("<div")[0]).split())
        return {**bundle, "text/plain": unescape(said)}

    def _pick(self, pick: Pick | Choose, value: Any) -> None:
        """Set the control that a picture belongs to."""
        entry = self.field(pick.field)
        if entry.is_used:
            entry.pick(Q_(value, pick.unit) if isinstance(pick, Pick) else value)

    def _choose_units(self, _: object) -> None:
        if not self._busy:
            self._units.choice = UnitChoice(self._length.value, self._temperature.value)

    def _follow_units(self, _: object) -> None:
        choice = self._units.choice
        self._busy = True
        try:
            self._length.value, self._temperature.value = choice.length, choice.temperature
            for entry in self._fields:
                entry.show_in(choice)
        finally:
            self._busy = False
        self._refresh(None)

    def _follow_save(self, _: object) -> None:
        """Work the answer out anew after another panel has saved; what was entered here stays."""
        self._say_who()
        if not self._busy:
            self._refresh(None)

    def _read(self) -> dict[str, Any] | None:
        values: dict[str, Any] = {}
        sound = True
        for entry in self._fields:
            try:
                values[entry.key] = entry.read(self._units.choice) if entry.is_used else entry.unused()
                entry.explain(None)
            except BenchError as error:
                entry.explain(error)
                sound = False
        if self._fold:
            self._fold.follow(self._proposed)
        return values if sound else None

    def _refresh(self, _: object) -> None:
        """Read the fields, work out the result and show it."""
        if self._busy:
            return
        self._is_current = False  # nor is it, if the work breaks off
        try:
            self._answer_fields()
        except Exception as error:
            said = write_down(error, f"panel {self._name}")
            self._is_current = False
            self._refuse(f"This could not be worked out: the workbook has a fault here. {said}")
            raise

    def _answer_fields(self) -> None:
        self._follow_record()
        values = self._read()
        if values is None:
            self._wait_for([f for f in self._fields if f.refused])
            return
        self._announce()
        self._answer(values)

    def _answer(self, values: dict[str, Any]) -> None:
        """Work out the result of these values and show it."""
        try:
            result = self._work(values, self._units.choice)
        except NotYet as error:
            self._refuse(str(error), is_waiting=True)
            return
        except BenchError as error:
            self._place(error)
            return
        except (RecordError, OSError) as error:  # the record was spoilt from outside meanwhile
            self._refuse(str(error).splitlines()[0])
            return
        self._values, self._result, self._is_current = values, result, True
        self._show_view(self._show(result, self._units.choice))

    def _follow_record(self) -> None:
        if self._follow is None:
            return
        self._busy = True
        try:
            self._follow(self)
        except (BenchError, RecordError, OSError):  # the work, which reads the same, says it in words
            pass
        finally:
            self._busy = False

    def _announce(self) -> None:
        """Say that the panel is at work, if it still is a moment later: another thread looks."""

        def look() -> None:
            with self._marking:
                if self._look is timer:
                    self._put_mark(_AT_WORK)
                    self._button.disabled = True

        timer = self._look = threading.Timer(PATIENCE_S, look)
        timer.daemon = True
        timer.start()

    def _mark(self, how: str = "") -> None:
        """Have the page dim what is not the answer to the fields; whatever was under way has ended."""
        with self._marking:
            if self._look is not None:
                self._look.cancel()
                self._look = None
            self._put_mark(how)

    def _put_mark(self, how: str) -> None:
        plain = [name for name in self.widget._dom_classes if name not in (_AT_WORK, _REFUSED)]
        self.widget._dom_classes = (*plain, how) if how else tuple(plain)

    def _show_view(self, view: View) -> None:
        """Show the words at once, then what is drawn: a picture takes longer than many an answer."""
        self._words, self._said_in = view.lead, self._units.choice
        self._lead.value = view.lead
        self._cautions.value = caution_list(view.cautions)
        self._foot.layout.display = "" if view.cautions else "none"
        self._mark()
        self._is_blocked = bool(view.save_refused or view.save_blocked)
        self._button.disabled = self._is_blocked or self.long.is_running
        if view.save_refused:
            self._status.value = f'<span class="why" role="alert">{escape(view.save_refused)}</span>'
        else:
            self._status.value = f'<span class="hint">{escape(view.save_blocked or view.save_says)}</span>'
        self._parts.show(view.parts, _answer_of(view.lead))

    def _place(self, error: BenchError) -> None:
        """Show an error beside the field it names, or above the answer."""
        named = [f for f in self._fields if f.is_used and f.is_named(error.field)]
        for entry in named:
            entry.explain(error)
        if named:
            self._wait_for(named)
        else:
            self._refuse(say_error(error, self._units.choice))

    def _wait_for(self, refused: Sequence[Field]) -> None:
        """Ask for the entries that are refused: quietly where nothing was entered yet."""
        words = f"Waiting for an entry that can be used: {refused[0].label}."
        self._refuse(words, is_waiting=all(entry.is_empty for entry in refused))

    def _refuse(self, words: str, *, is_waiting: bool = False) -> None:
        """Say why there is no answer; the old one stays beneath, dimmed."""
        self._button.disabled = True
        self._mark(_REFUSED)
        look = 'class="hint" role="status"' if is_waiting else 'class="why" role="alert"'
        refused = f"<p {look}>{escape(words)}</p>"
        self._lead.value = f"{refused}{_as_stale(self._words)}"
        self._parts.show(self._stays())
        self._status.value = (
            '<span class="hint">Nothing can be saved until then.</span>' if self._can_write else ""
        )
        if self._result is not None and self._said_in != self._units.choice:
            self._words, self._said_in = self._show(self._result, self._units.choice).lead, self._units.choice
            self._lead.value = f"{refused}{_as_stale(self._words)}"

    def _on_save(self, _: object) -> None:
        if not self._can_write or not self._is_current or self.long.is_running:
            return
        self._button.disabled = True
        result, values = self._result, self._values
        if self._save_long is not None:
            write = self._save_long
            self.long.start(lambda progress: write(result, values, progress), self._end_save)
        elif self._save is not None:
            save = self._save
            self._announce()
            self._end_save(attempt(lambda: save(result, values)))

    def _end_save(self, came: Future[str]) -> None:
        """Say what came of a save."""
        try:
            words = came.result()
            self._busy = True  # this panel says what it wrote instead
            self._units.saves += 1
            if self._is_current:
                self._lead.value = self._show(self._result, self._units.choice).lead  # no longer out of date
            self._status.value = f'<span class="go" role="status">● {escape(words)}</span>'
        except Stopped as stopped:
            self.tell(f"Stopped at step {stopped}. Nothing was written.")
        except (BenchError, RecordError, OSError) as error:
            text = escape(str(error)).replace("\n", "<br>")
            self._status.value = f'<span class="why" role="alert">Nothing was saved. {text}</span>'
        except Exception as error:
            said = escape(write_down(error, f"saving in panel {self._name}"))
            words = "The workbook has a fault here: look at the record before you save again."
            self._status.value = f'<span class="why" role="alert">{words} {said}</span>'
            self._is_current = False
            raise
        finally:
            self._mark()
            self._busy = False
            self._button.disabled = self._is_blocked or not self._is_current
