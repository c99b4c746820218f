"""The fields in which a panel asks whether the steps of its stage were done, and when they ended."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from bench.errors import BadValue
from bench.panels.fields import Field, SegmentField, TextField, TickField
from bench.treatment.clock.done import ENDED_AT
from bench.treatment.clock.times import SURE, ask_if_before, check_past

_NOT_YET, _NOW, _AT = "not yet", "just now", "at …"


class EndedFields:
    """Whether the steps of a stage are done, the time if it was not just now, and a tick if it looks wrong.

    Parameters
    ----------
    label : str
        What was done, e.g. ``"Examination is done"``.
    """

    def __init__(self, label: str) -> None:
        self._time = TextField("ended_at", ENDED_AT, hint="like 2026-03-02 09:10")
        self._sure = TickField("ended_sure", SURE)
        self._sure.box.layout.display = "none"
        hint = "enters its steps as done up to then; the schedule panel of 05 takes each time by itself"
        self._done = SegmentField("ended", label, [_NOT_YET, _NOW, _AT], _NOT_YET, hint=hint)

    @property
    def fields(self) -> list[Field]:
        """All of them, for the panel."""
        return [self._done, self._time, self._sure]

    def read(self, values: Mapping[str, Any], now: datetime, began: datetime) -> datetime | None:
        """Give when the steps ended, to the minute; None while they are not done.

        Parameters
        ----------
        values : mapping of str to object
            Of the panel.
        now : datetime
            With offset.
        began : datetime
            When the record was begun: an earlier time is asked about.

        Raises
        ------
        BadValue
            A time that cannot be read, one that lies ahead, or one that is asked about.
        """
        self._time.box.layout.display = "" if values["ended"] == _AT else "none"
        if values["ended"] == _NOT_YET:
            return None
        if values["ended"] == _NOW:
            return now.replace(second=0, microsecond=0)  # as it is typed, shown and compared
        moment = read_moment(values["ended_at"], ENDED_AT, now)
        if moment is None:
            raise BadValue(ENDED_AT, "empty", "a date and an hour", "Write it like 2026-03-02 09:10")
        check_past(moment, now, ENDED_AT)
        self._sure.box.layout.display = "" if moment < began else "none"
        ask_if_before(moment, began, ENDED_AT, sure=values["ended_sure"])
        return moment


def read_moment(text: str, field: str, zone: datetime) -> datetime | None:
    """Read a date with its hour; without an offset it is taken in that of ``zone``."""
    if not text:
        return None
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise BadValue(field, repr(text), "a date and an hour", "Write it like 2026-03-02 09:10") from None
    return moment if moment.tzinfo else moment.replace(tzinfo=zone.tzinfo)
