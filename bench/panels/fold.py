"""Settings that a usual cycle does not touch: folded away, with what was changed among them named."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import ipywidgets as widgets

from bench.panels.field import Field
from bench.panels.fields import GroupLabel

_OPEN, _SHUT = "▾", "▸"


class Fold:
    """A button that shows and hides fields.

    Parameters
    ----------
    fields : sequence of Field or GroupLabel
        In order; a heading without a field beneath it is left out.
    """

    def __init__(self, fields: Sequence[Field | GroupLabel]) -> None:
        self.fields = [entry for entry in fields if isinstance(entry, Field)]
        self._inside = widgets.VBox([entry.box for entry in _without_bare_headings(fields)])
        self._inside.add_class("bench-folded")
        self._button = widgets.ToggleButton()
        self._button.add_class("bench-fold")
        self._button.observe(lambda _: self._turn(), names="value")
        self._changed: list[str] = []
        self.box = widgets.VBox([self._button, self._inside])
        self.box.add_class("wide")
        self._turn()

    @property
    def is_open(self) -> bool:
        """Whether the fields are in sight."""
        return bool(self._button.value)

    def follow(self, proposed: Mapping[str, str]) -> None:
        """Name what differs from its proposal, and open where an entry was refused."""
        used = [entry for entry in self.fields if entry.is_used]
        self._changed = [entry.label for entry in used if entry.kept() != proposed[entry.key]]
        if any(entry.refused for entry in used):
            self._button.value = True
        self._turn()

    def _turn(self) -> None:
        self._inside.layout.display = "" if self.is_open else "none"
        said = f"More settings; changed: {', '.join(self._changed)}" if self._changed else "More settings"
        shown = f"{_OPEN if self.is_open else _SHUT} {said}"
        if self._button.description != shown:
            self._button.description = shown


def split(
    fields: Sequence[Field | GroupLabel], first: Collection[str]
) -> tuple[list[Field | GroupLabel], list[Field | GroupLabel]]:
    """Part fields into those that stay in sight and the rest; without a choice all stay."""
    if not first:
        return list(fields), []
    seen: list[Field | GroupLabel] = [f for f in fields if isinstance(f, Field) and f.key in first]
    return seen, [f for f in fields if not (isinstance(f, Field) and f.key in first)]


def _without_bare_headings(fields: Sequence[Field | GroupLabel]) -> list[Field | GroupLabel]:
    following = [*fields[1:], None]
    return [
        entry
        for entry, then in zip(fields, following, strict=True)
        if isinstance(entry, Field) or isinstance(then, Field)
    ]
