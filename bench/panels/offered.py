"""What a list offers follows the record, and what was chosen stays chosen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bench.panels.fields import ChoiceField


def offer(entry: ChoiceField, options: Sequence[Any]) -> None:
    """Offer other options; what is chosen stays chosen while it is among them, else the first one is.

    Parameters
    ----------
    entry : ChoiceField
        The list.
    options : sequence of str or of (str, object)
        As its control takes them.
    """
    control = entry.widget
    if list(control.options) == list(options):
        return
    kept = control.value
    control.options = options
    values = [option[1] if isinstance(option, tuple) else option for option in options]
    control.value = kept if kept in values else values[0]
