"""The air as a data logger kept it, and what of it belongs to a stage."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.treatment.actual.observed import TOUCH

Floats = NDArray[np.float64]

LONGEST_STEP = timedelta(hours=1)
"""Two readings further apart leave a gap: what the air did between them is not known.  Judgement."""


@dataclass(frozen=True, eq=False)
class LoggedAir:
    """Temperature and humidity of the air against time, as read by one logger.

    Attributes
    ----------
    begin : datetime
        Of the first reading, with its offset from UTC.
    seconds : array
        Since then, rising.
    celsius, percent : array
        Temperature in °C and relative humidity in %, reading by reading.
    """

    begin: datetime
    seconds: Floats
    celsius: Floats
    percent: Floats

    @property
    def end(self) -> datetime:
        """Time of the last reading."""
        return self.begin + timedelta(seconds=float(self.seconds[-1]))

    @property
    def holds(self) -> timedelta:
        """For how long a reading speaks: its usual time to the next, at least that of a touch."""
        usual = timedelta(seconds=float(np.median(np.diff(self.seconds)))) if len(self.seconds) > 1 else TOUCH
        return min(LONGEST_STEP, max(TOUCH, usual))

    def between(self, first: datetime, last: datetime) -> LoggedAir:
        """Give the readings from one time to another.

        Parameters
        ----------
        first, last : datetime
            With their offsets; both ends count.

        Raises
        ------
        BadValue
            The logger read nothing in between.
        """
        start, stop = ((moment - self.begin).total_seconds() for moment in (first, last))
        inside = (self.seconds >= start) & (self.seconds <= stop)
        if not inside.any():
            came = f"{self.begin:%Y-%m-%d %H:%M} to {self.end:%Y-%m-%d %H:%M}"
            allowed = f"readings between {first:%Y-%m-%d %H:%M} and {last:%Y-%m-%d %H:%M}"
            raise BadValue("logged air", came, allowed, "Check the zone and the clock of the logger")
        seconds = self.seconds[inside]
        begin = self.begin + timedelta(seconds=float(seconds[0]))
        return LoggedAir(begin, seconds - seconds[0], self.celsius[inside], self.percent[inside])

    def corrected(self, points: float) -> LoggedAir:
        """Give the air with its humidity put right.

        Parameters
        ----------
        points : float
            Of per cent, to be added to every reading.
        """
        return LoggedAir(self.begin, self.seconds, self.celsius, self.percent + points)

    def above(self, percent: float) -> list[tuple[datetime, datetime]]:
        """Give from when to when the air was damper than that, as far as it was read.

        Parameters
        ----------
        percent : float
            Relative humidity; from the first reading above it to the first that is not.
        """
        over = np.r_[False, self.percent > percent, False]
        starts = np.flatnonzero(over[1:] & ~over[:-1])
        stops = np.minimum(np.flatnonzero(~over[1:] & over[:-1]), len(self.seconds) - 1)
        return [(self._at(a), self._at(b)) for a, b in zip(starts.tolist(), stops.tolist(), strict=True)]

    def gaps(self, longest: timedelta = LONGEST_STEP) -> list[tuple[datetime, datetime]]:
        """Give where nothing was read for longer than a time.

        Parameters
        ----------
        longest : timedelta
            That two readings may lie apart.
        """
        apart = np.flatnonzero(np.diff(self.seconds) > longest.total_seconds())
        return [(self._at(number), self._at(number + 1)) for number in apart.tolist()]

    def _at(self, number: int) -> datetime:
        return self.begin + timedelta(seconds=float(self.seconds[number]))
