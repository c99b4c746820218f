"""How long the sheets take to put in, held against how long the item may lie open out of the chamber."""

from __future__ import annotations

from bench.treatment.plan import Caution, Notice, PlannedValue, Verdict, minutes
from bench.units import Quantity, say_minutes

# About a minute and a half a sheet, and five to begin and to count; from memory of the work.  It is
# logged and can be corrected.
_FIRST, _A_SHEET = 5.0, 1.5
_LONG = 30.0  # minutes on the bench beyond which more than the outer leaves dry: judgement

_DRIES_MEANWHILE = Notice(
    "dries-while-interleaving",
    Verdict.GO,
    "Putting in {sheets} sheets takes about {needs}, but out of the chamber the first leaf loses 5 % RH in "
    "about {likely}. Keep the item closed under polyester film, open only the place where the next sheet "
    "goes, and have the sheets counted and in order before it comes out.",
    "memory",
)


def time_to_interleave(sheets: int) -> Quantity:
    """Give how long it takes to put sheets in.

    Examples
    --------
    >>> time_to_interleave(8)
    <Quantity(17.0, 'minute')>
    """
    return minutes(_FIRST + _A_SHEET * sheets)


def caution_of_bench(sheets: int, may_lie_open: PlannedValue | None) -> tuple[Caution, ...]:
    """Hold the time that the sheets take against the minutes that the item may lie open.

    Parameters
    ----------
    sheets : int
        In all.
    may_lie_open : PlannedValue or None
        Until the first leaf has lost 5 % RH, from the humidity plan; None if it was not planned.

    Returns
    -------
    tuple of Caution
        Empty where there is time enough, also at the short end of the doubt, or nothing was planned.  A
        note up to half an hour, which costs the outer leaves some softness; care beyond.
    """
    if may_lie_open is None:
        return ()
    needs = float(time_to_interleave(sheets).to("min").magnitude)
    likely = float(may_lie_open.value.to("min").magnitude)
    doubt = 0.0 if may_lie_open.uncertainty is None else float(may_lie_open.uncertainty.to("min").magnitude)
    if needs <= max(0.0, likely - doubt):
        return ()
    level = Verdict.CARE if needs > max(likely, _LONG) else Verdict.GO
    return (_DRIES_MEANWHILE(level, sheets=sheets, needs=say_minutes(needs), likely=say_minutes(likely)),)
