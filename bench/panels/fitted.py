"""The decision on a fit, shared by the panels that learn: used or left, why, and saved once."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from bench.desk import Treatment
from bench.panels.fields import Field, GroupLabel, SegmentField, TextField
from bench.physics.ranges import Range
from bench.records.learned import Learned, decision_row, fits_of

NO_REASON = "Say why it is used or left; nothing is saved without a reason."


def saved_fit(treatment: Treatment, kind: str, cycle: int) -> Learned | None:
    """Give the fit of a kind that is saved with a cycle; None if there is none."""
    return next((fit for fit in fits_of(treatment.record, kind) if fit.cycle == cycle), None)


def decision_fields(saved: Learned | None, hint: str) -> list[Field | GroupLabel]:
    """Build the fields ``use`` and ``reason``, as they were saved; ``hint`` says what using it does."""
    used = saved is not None and saved.is_accepted
    return [
        GroupLabel("The decision"),
        SegmentField("use", "This fit", [("leave it", False), ("use it", True)], used, hint=hint),
        TextField("reason", "Why", saved.reason if saved else "", hint="needed to save"),
    ]


def new_decision(
    treatment: Treatment,
    kind: str,
    cycle: int,
    last: Learned | None,
    *,
    use: bool,
    reason: str,
    at: datetime,
) -> dict[str, list[dict[str, Any]]]:
    """Give the row of a decision by its table; none if the same was decided last."""
    if last is not None and last.decided_at is not None and (last.is_accepted, last.reason) == (use, reason):
        return {}
    by = treatment.conservator
    return {"decisions": [decision_row(kind, cycle, use=use, reason=reason, by=by, at=at)]}


def is_saved(last: Learned | None, found: Mapping[str, tuple[Range, str]]) -> bool:
    """Tell whether the last saved fit is this one, in all the digits that a record keeps."""
    if last is None or last.found.keys() != found.keys():
        return False
    pairs = [(last.found[name], now, unit) for name, (now, unit) in found.items()]
    return all(_digits(old, unit) == _digits(now, unit) for old, now, unit in pairs)


def _digits(value: Range, unit: str) -> tuple[str, ...]:
    return tuple(f"{number:.4g}" for number in value.floats(unit, field="constant of a fit"))
