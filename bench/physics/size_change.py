"""Change of width and height: with moisture, for good by pressing, and as it was measured.

*Across* the grain (cross direction) paper moves several times as much as *along* it (machine
direction).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bench.errors import BadValue, NotFound
from bench.physics.ranges import Range
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, to_float

PERMANENT_CHANGE = {
    "along": Range.of((-0.15, -0.30, 0.0), "percent"),
    "across": Range.of((0.6, 0.25, 1.0), "percent"),
}
"""Change that stays after damping and pressing machine-made paper flat [munoz-vinas2009]_.

*Usually* 0.25 to 1 % larger across the grain, up to about 0.30 % shorter along it; more pressure
gives more growth, aged paper changes more than new.  The value is the middle of the range.
"""

STOP_LIMIT = Q_(0.5, "percent")
"""Change at which cycles stop: half the worst published growth.  Chosen here; the user may edit it."""


@dataclass(frozen=True)
class SizeChange:
    """A measured change of width or height, held against the stop limit.

    Attributes
    ----------
    change : Measured, dimensionless
        Relative; positive is larger.
    limit : Quantity, dimensionless
        For growth and shrinkage alike.
    verdict : str
        ``"below the limit"``, ``"past the limit"`` or ``"cannot tell"``.
    words : str
        The same in a sentence.
    """

    change: Measured
    limit: Quantity
    verdict: str
    words: str


def estimate_permanent_change(size: Quantity, *, direction: str) -> Range:
    """Estimate the change of width or height that stays after pressing.

    Parameters
    ----------
    size : Quantity [length]
        Width or height, 1 mm to 2 m.
    direction : str
        ``"along"`` or ``"across"`` the grain.

    Returns
    -------
    Range [mm]
        Positive is larger.

    Raises
    ------
    NotFound
        No such direction.

    Examples
    --------
    >>> print(estimate_permanent_change(Q_(168, "mm"), direction="across").say("mm"))
    1.0 mm (0.4 to 1.7)
    """
    if direction not in PERMANENT_CHANGE:
        known, remedy = ", ".join(PERMANENT_CHANGE), "Find the grain: bend, tear, or damp one face"
        raise NotFound("direction", repr(direction), known, remedy)
    relative = PERMANENT_CHANGE[direction].floats("", field="permanent change")
    length = to_float(size, "mm", field="size", low=1.0, high=2000.0)
    return Range.of((length * share for share in relative), "mm")


def measure_size_change(before: Measured, after: Measured, *, limit: Quantity = STOP_LIMIT) -> SizeChange:
    r"""Hold a measured change of size against the stop limit.

    Parameters
    ----------
    before, after : Measured [length]
        Same leaf, same places, same humidity of the room.
    limit : Quantity, dimensionless
        0.01 to 10 %.

    Returns
    -------
    SizeChange

    Raises
    ------
    BadValue
        The two sizes are too far apart to be of one side.

    Notes
    -----
    .. math:: c = (a - b)/b, \qquad u(c) = \sqrt{u_a^2 + u_b^2}/b

    The readings are taken as independent even with the same ruler: a zero error that is the same
    both times cancels, and leaving it in errs on the safe side.  *Below* and *past* are said at
    95 % one-sided [gum]_.

    Examples
    --------
    >>> from bench.uncertainty import from_expanded
    >>> b = from_expanded(Q_(168.0, "mm"), Q_(0.3, "mm"), cause="ruler")
    >>> a = from_expanded(Q_(169.6, "mm"), Q_(0.3, "mm"), cause="ruler")
    >>> measure_size_change(b, a).verdict
    'past the limit'
    """
    first = to_float(before.value, "mm", field="size before", low=1.0, high=2000.0)
    last = to_float(after.value, "mm", field="size after", low=1.0, high=2000.0)
    stop = to_float(limit, "", field="stop limit", low=1e-4, high=0.1)
    if not 0.9 < last / first < 1.1:
        raise BadValue(
            "size after",
            f"{last:g} mm against {first:g} mm before",
            "within 10 % of the size before",
            "Check that width is compared with width, and the units",
        )
    change = _in_mm(after, "after") - _in_mm(before, "before")
    parts = tuple(replace(c, u=Q_(float(c.u.magnitude) / first, "")) for c in change.components)
    relative = Measured(Q_(last / first - 1, ""), parts, "readings before and after")
    return SizeChange(relative, limit, *_judge(relative, stop))


def _in_mm(measured: Measured, when: str) -> Measured:
    """Give it in mm, with causes named apart so that equal names do not cancel."""
    parts = tuple(replace(c, cause=f"{c.cause}, {when}", u=c.u.to("mm")) for c in measured.components)
    return Measured(measured.value.to("mm"), parts, measured.source)


def _judge(change: Measured, stop: float) -> tuple[str, str]:
    larger = change.chance_above(Q_(stop, ""))
    smaller = 1 - change.chance_above(Q_(-stop, ""))
    percent = 100 * float(change.value.magnitude)
    doubt = 100 * float(change.expanded().magnitude)
    said = f"{percent:+.2f} ± {doubt:.2f} %, limit {100 * stop:g} % either way"
    if max(larger, smaller) >= 0.95:
        return "past the limit", f"Past the limit: {said}. Stop: no further cycle."
    if larger + smaller <= 0.05:
        return "below the limit", f"Below the limit: {said}."
    return "cannot tell", f"The readings cannot tell: {said}. Measure again at more places, or stop."
