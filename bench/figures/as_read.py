"""What was read at the bench, as points beside the curve that was planned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bench.figures.marks import Points, Shape, plain, with_ends
from bench.treatment.actual.observed import ReadSince


def mark_as_read(
    read: Sequence[ReadSince], name: str, color: str, *, time_unit: str, unit: str, of: str
) -> Iterator[Points]:
    """Mark what was read, with its 95 %; it is put aside with the curve ``of`` it stands beside.

    Parameters
    ----------
    read : sequence of ReadSince
        Nothing is marked if it is empty.
    name, color : str
        Of the points; the name is said where one of them is pointed at.
    time_unit, unit : str
        In which the axis below counts the time, and the axis at the side the value.
    of : str
        Name of the curve.
    """
    if not read:
        return
    values, low, high = with_ends([each.value for each in read], unit)
    times = [plain(each.since, time_unit) for each in read]
    yield Points(name, times, values, color, Shape.DIAMOND, low=low, high=high, of=of)
