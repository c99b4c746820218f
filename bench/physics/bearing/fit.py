"""Learning from the bench: the constants that what was found after pressing points to.

A fit starts from the ranges that are believed and moves them as far as the findings ask for; what
they say nothing about stays as it was.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from bench.errors import BadValue, OutOfRange
from bench.item import Item, Thicknesses
from bench.materials import look_up
from bench.physics.arrays import Floats
from bench.physics.bearing.batch import solve_batch
from bench.physics.bearing.knowns import Assumed, Press, draw_values
from bench.physics.bearing.measures import unpressed_width
from bench.physics.bearing.zones import Sheets, lay_out, section_places, section_profile
from bench.physics.contact import HIGHEST_KPA, PFEIFFER_K1, PFEIFFER_K2
from bench.physics.most_probable import Belief, find_most_probable
from bench.physics.ranges import REACH, Range, as_range
from bench.uncertainty import Measured
from bench.units import Q_, Quantity, to_float

# The parameters that findings can move: name in Assumed, unit, whether over the logarithm, words.
_MOVED = (
    ("thinning", "", False, "thinning of the damp block"),
    ("ramp", "m", True, "ramp where the sheets end"),
    ("k1", "Pa", True, "K1 of the text block"),
    ("k2", "", True, "K2 of the text block"),
)


@dataclass(frozen=True)
class Finding:
    """One treatment, as planned and as found.

    Attributes
    ----------
    name : str
        Of the treatment and its cycle, for messages.
    item : Item
        What was pressed.
    thicknesses : Thicknesses
        Before.
    sheets : Sheets
        Those that were in.
    press : Press
        With a load; loads known by a word make the fit wide.
    thickness : Measured or None
        Over the text block after pressing, sheets out, with the same gauge.
    unpressed : Measured or None
        Width along the spine that stayed unpressed.
    """

    name: str
    item: Item
    thicknesses: Thicknesses
    sheets: Sheets
    press: Press
    thickness: Measured | None = None
    unpressed: Measured | None = None


@dataclass(frozen=True)
class Compared:
    """One number predicted, before and after the fit, beside what was found."""

    name: str
    quantity: str
    before: Quantity
    after: Quantity
    found: Measured


@dataclass(frozen=True)
class BenchFit:
    """What the findings say of this bench.

    Attributes
    ----------
    assumed : Assumed
        To be used next time, if it is accepted.
    compared : tuple of Compared
        Every number found, beside what was predicted before and after.
    learned : dict of str to float
        By which part the interval of each parameter grew narrower, 0 to 1.
    agreement : float
        Root mean square of found less fitted, in standard uncertainties; near 1 or below is good.
    words : str
        The same in sentences.
    """

    assumed: Assumed
    compared: tuple[Compared, ...]
    learned: dict[str, float]
    agreement: float
    words: str


def fit_bench(
    findings: Sequence[Finding],
    *,
    assumed: Assumed | None = None,
    note: Callable[[int, int, int], None] | None = None,
) -> BenchFit:
    r"""Fit compression and board parameters to thickness found and width left unpressed.

    Parameters
    ----------
    findings : sequence of Finding
        One or more, each with a thickness or a width found.
    assumed : Assumed, optional
        What is believed before.
    note : callable, optional
        ``note(number, of, time)`` is told before each prediction which of the numbers found it is for, and
        for the how many-th time all are gone through; what it raises ends the fit.

    Returns
    -------
    BenchFit

    Raises
    ------
    BadValue
        Nothing was found, or no load was given.

    Notes
    -----
    The most probable values (:func:`bench.physics.most_probable.find_most_probable`), each range standing
    for 95 % before the fit, with the doubts of load, sheets and readings before added to those of what was
    found, parameters over their logarithm where they are positive.  Their uncertainty after is from the
    second derivatives there (GUM supplement 1 [gum]_ has the linear case).  The load of each treatment is
    taken at its value; its doubt widens the result by a term of its own.  Findings that scatter more than
    their doubts widen it too.

    One ramp stands for all that ends the pressed area: gap of the sheets, width and clamping of the glue,
    and where the eye puts the edge of the strip, taken as a quarter of the mean pressure.  Correlations
    between the constants are not kept.
    """
    prior = assumed or Assumed()
    rows = [row for finding in findings for row in _numbers_of(finding, prior)]
    if not rows:
        remedy = "Measure the thickness after pressing, or the width that stayed unpressed"
        raise BadValue("findings", "empty", "one thickness or width found, or more", remedy)
    belief = _believe(prior)
    measured = np.array([row.metres() for row in rows])
    doubt = np.array([max(_doubt(row.number), 1e-6) for row in rows])
    times = count(1)

    def model(points: Floats, load: str = "value") -> Floats:
        time, predicted = next(times), []
        for number, row in enumerate(rows, start=1):
            if note is not None:
                note(number, len(rows), time)
            predicted.append(row.predict(points, row.known, load))
        return np.array(predicted)

    first = belief.values[:, None]
    ends = (model(first, "high") - model(first, "low"))[:, 0]
    read = [row.doubt_before(prior, first) for row in rows]
    doubt = np.sqrt(doubt**2 + (ends / (2 * REACH)) ** 2 + np.square(read))
    fit = find_most_probable(model, measured, np.diag(doubt**-2), belief)
    best, after, before = fit.values, fit.predicted, model(first)[:, 0]
    agreement = float(np.sqrt(np.mean(((measured - after) / doubt) ** 2)))
    if not math.isfinite(agreement):
        names = {row.finding.name for row, y in zip(rows, after, strict=True) if not np.isfinite(y)}
        lost = ", ".join(sorted(names))
        remedy = "Check load and readings of that cycle, or leave it out"
        raise OutOfRange("balance of the contact", f"not found for {lost}", "a balance", remedy)
    # Findings that scatter more than their doubts say leave the constants as much less certain; what all
    # findings share (how a load in a word is meant, how far sheets stop short) moves them together.
    shared = np.array([ends / (2 * REACH), _shift_of_gap(rows, prior, best, after)])
    drift = fit.covariance @ fit.slopes.T @ (shared / doubt).T
    scatter = np.diag(fit.covariance) * max(1.0, agreement) ** 2
    sigma = np.minimum(np.sqrt(scatter + (drift**2).sum(axis=1)), belief.doubts)
    ranges = _posterior(prior, best, sigma)
    learned = {
        words: float(max(0.0, 1 - s / s0))
        for (*_, words), s, s0 in zip(_NAMES, sigma, belief.doubts, strict=True)
    }
    compared = tuple(
        Compared(row.finding.name, row.what, Q_(b * 1e3, "mm"), Q_(a * 1e3, "mm"), row.number)
        for row, b, a in zip(rows, before, after, strict=True)
    )
    fitted = replace(prior, **{name: ranges[name] for name, *_ in _MOVED}, stiffness=ranges["board"])
    return BenchFit(fitted, compared, learned, agreement, _words(learned, agreement, len(rows)))


_NAMES = (*_MOVED, ("board", "", True, "bending stiffness of the pack"))


@dataclass(frozen=True)
class _Number:
    """A number found after a treatment, with what is known of the treatment, without doubt."""

    finding: Finding
    what: str
    number: Measured
    known: Mapping[str, Floats]

    def metres(self) -> float:
        """Give what was found, m."""
        field = f"{self.what} of {self.finding.name}"
        return to_float(self.number.value, "m", field=field, low=0.0, high=0.5)

    def predict(self, points: Floats, known: Mapping[str, Floats], load: str = "value") -> Floats:
        """Predict it, for several points of the constants at once, m."""
        constants = {
            name: np.exp(row) if is_log else row
            for (name, _, is_log, _), row in zip(_NAMES, points, strict=True)
        }
        if self.what == "thickness":
            return np.asarray(known["text block"] * (1 - constants["thinning"]))
        values = {name: np.broadcast_to(column, points.shape[1:]) for name, column in known.items()}
        values |= {name: constants[name] for name, *_ in _MOVED}
        finding, press = self.finding, self.finding.press
        assert press.load is not None
        mean = float(getattr(press.load, load).to("Pa").magnitude)
        layout = lay_out(finding.item, finding.thicknesses, outside=press.outside)
        places = section_places(layout)
        carried = np.full(points.shape[1], mean * (1.0 if press.even else layout.width - layout.outside))
        solved = solve_batch(
            places,
            section_profile(places, layout, finding.sheets, values, shim=press.shim),
            bending=values["bending"] * constants["board"],
            give=values["give"],
            both_sides=press.both_sides,
            **({"even": carried} if press.even else {"load": carried}),
        )
        return np.asarray(unpressed_width(solved.places, solved.pressure, 0.25 * mean) + layout.outside)

    def doubt_before(self, assumed: Assumed, point: Floats) -> float:
        """Give what the doubts of the readings before, and of the sheets, do to the prediction, m."""
        places = self.finding.thicknesses
        sheet = as_range(look_up(self.finding.sheets.material, "thickness"))
        edge = places.spine_edge
        doubts = {
            "text block": _doubt(places.text_block),
            "spine edge": _doubt(edge) if edge else _standard(assumed.spine_rise),
            "sheet": _standard(sheet),
        }
        count = len(doubts) + 1  # the first as read, then one reading moved at a time, all worked out at once
        shifted = dict(self.known)
        for number, (name, u) in enumerate(doubts.items(), start=1):
            shifted[name] = self.known[name] + np.where(np.arange(count) == number, u, 0.0)
        found = self.predict(np.repeat(point, count, axis=1), shifted)
        return float(np.linalg.norm(found[1:] - found[0]))


def _numbers_of(finding: Finding, prior: Assumed) -> list[_Number]:
    if finding.press.load is None:
        raise BadValue(f"load of {finding.name}", "not given", "a load", "Give the load that was used")
    pairs = (("thickness", finding.thickness), ("unpressed", finding.unpressed))
    found = [(what, number) for what, number in pairs if number is not None]
    if not found:
        return []
    known = draw_values(finding.item, finding.thicknesses, finding.sheets, finding.press, prior, rng=None)
    return [_Number(finding, what, number, known) for what, number in found]


def _shift_of_gap(rows: Sequence[_Number], assumed: Assumed, best: Floats, after: Floats) -> Floats:
    """Give what one standard uncertainty of the gap of the sheets does to every prediction, m."""
    step = _standard(assumed.sheet_gap)
    moved = [
        row.predict(best[:, None], {**row.known, "sheet gap": row.known["sheet gap"] + step})[0]
        for row in rows
    ]
    return np.array(moved) - after


def _standard(length: Range) -> float:
    """Give the standard uncertainty for which the interval of a length stands, m."""
    _, low, high = length.floats("m", field="length")
    return (high - low) / (2 * REACH)


def _doubt(measured: Measured) -> float:
    """Give the standard uncertainty of a measured length, m."""
    return float(measured.standard.to("m").magnitude)


def _believe(assumed: Assumed) -> Belief:
    """Give what is believed; a parameter may go three times as far, thinning never below zero."""
    start, spread = [], []
    for name, unit, is_log, _ in _MOVED:
        value, low, high = getattr(assumed, name).floats(unit, field=name)
        start.append(math.log(value) if is_log else value)
        spread.append((math.log(high / low) if is_log else high - low) / (2 * REACH))
    values, doubts = np.array([*start, 0.0]), np.array([*spread, math.log(2.5) / REACH])
    least, most = values - 6 * doubts, values + 6 * doubts
    least[0], most[0] = 0.0, 0.4
    return Belief(values, doubts, least, most, 0.1 * doubts)


def _posterior(assumed: Assumed, best: Floats, sigma: Floats) -> dict[str, Range]:
    ranges = {}
    for (name, unit, is_log, _), value, s in zip(_NAMES, best, sigma, strict=True):
        ends = (value, value - REACH * s, value + REACH * s)
        plain = [math.exp(e) if is_log else max(e, 0.0) for e in ends]
        shown = {"m": ("mm", 1e3), "Pa": ("kPa", 1e-3)}.get(unit, (unit or "dimensionless", 1.0))
        ranges[name] = Range.of((number * shown[1] for number in plain), shown[0])
    return ranges


def _words(learned: dict[str, float], agreement: float, count: int) -> str:
    told = [f"{name} ({part:.0%} narrower)" for name, part in learned.items() if part >= 0.1]
    silent = [name for name, part in learned.items() if part < 0.1]
    words = f"{count} findings, off by {agreement:.1f} standard uncertainties after the fit. "
    words += f"They say something of {', '.join(told)}. " if told else "They move nothing. "
    if silent:
        words += f"They say next to nothing of {', '.join(silent)}, which stay as believed before."
    if agreement > 2:
        words += " The model does not explain what was found: do not accept the fit before looking again."
    return words.replace("%", " %").strip()


def fit_compression(
    readings: Sequence[tuple[Quantity, Measured]],
    *,
    k1: Range = PFEIFFER_K1,
    k2: Range = PFEIFFER_K2,
) -> tuple[Range, Range, Quantity]:
    r"""Fit Pfeiffer's law to the thickness read under two loads or more.

    Parameters
    ----------
    readings : sequence of (pressure, thickness)
        At least two, at different pressures, 0 to 500 kPa.
    k1, k2 : Range
        What is believed before.

    Returns
    -------
    k1, k2 : Range
        95 %.
    height : Quantity [length]
        Without load.

    Raises
    ------
    BadValue
        Fewer than two pressures, or a pile that is thicker under more load.

    Notes
    -----
    .. math:: T(p) = H [1 - \ln(1 + p / K_1) / K_2]

    Two readings cannot tell K1 from K2; what is believed of both decides how they share.
    """
    pairs = sorted(
        (
            to_float(p, "Pa", field="pressure of a reading", low=0.0, high=1e3 * HIGHEST_KPA),
            to_float(t.value, "m", field="thickness", low=1e-5, high=0.5),
            max(_doubt(t), 1e-7),
        )
        for p, t in readings
    )
    pressures, found, doubt = (
        (np.array(column) for column in zip(*pairs, strict=True)) if pairs else [np.array([])] * 3
    )
    if len(set(pressures)) < 2:
        remedy = "Read the thickness again with a weight on the pile"
        raise BadValue("readings under load", len(pairs), "two pressures or more", remedy)
    if found[-1] > found[0] + 2 * math.hypot(doubt[0], doubt[-1]):
        raise BadValue(
            "thickness under the higher load",
            f"{found[-1] * 1e3:.3f} mm",
            f"at most {found[0] * 1e3:.3f} mm, as under the lower load",
            "The readings contradict each other: a pile does not grow under load, read both again",
        )
    sizes = [k1.floats("Pa", field="K1"), k2.floats("", field="K2")]
    start = np.array([math.log(found[0]), *(math.log(size[0]) for size in sizes)])
    spread = np.array([1.0, *(math.log(size[2] / size[1]) / (2 * REACH) for size in sizes)])

    def model(points: Floats) -> Floats:
        height, first, second = np.exp(points)
        return np.asarray(height * (1 - np.log1p(pressures[:, None] / first) / second))

    belief = Belief(start, spread, start - 8 * spread, start + 8 * spread, 0.1 * spread)
    fit = find_most_probable(model, found, np.diag(doubt**-2), belief)
    best, sigma = fit.values, np.sqrt(np.diag(fit.covariance))
    ends = [np.exp([best[i], best[i] - REACH * sigma[i], best[i] + REACH * sigma[i]]) for i in (1, 2)]
    first, second = Range.of(1e-3 * ends[0], "kPa"), Range.of(ends[1], "dimensionless")
    return first, second, Q_(1e3 * math.exp(best[0]), "mm")
