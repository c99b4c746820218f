"""Basis weight in pounds to grammage: only together with the basis size."""

from __future__ import annotations

from bench.errors import BadValue
from bench.units import Q_, Quantity, to_float

BASIS_SIZES = {  # inches, 500 sheets [tappi-t410]_
    "bond": (17.0, 22.0),
    "index": (25.5, 30.5),
    "cover": (20.0, 26.0),
    "book": (25.0, 38.0),
    "news": (24.0, 36.0),
}
_SHEETS = 500
_GRAMS_PER_POUND = 453.59237
_SQUARE_METRES_PER_SQUARE_INCH = 0.0254**2


def _ream_area_si(basis_size: str | None, weight: str) -> float:
    sizes = ", ".join(f"{name} ({w:g} x {h:g} in)" for name, (w, h) in BASIS_SIZES.items())
    if basis_size is None:
        remedy = "Say which: 20 lb bond and 50 lb book are nearly the same paper"
        raise BadValue("basis weight", f"{weight} without a basis size", f"a basis size: {sizes}", remedy)
    if basis_size not in BASIS_SIZES:
        raise BadValue("basis size", repr(basis_size), sizes, "Choose the grade that the ream was sold as")
    width, height = BASIS_SIZES[basis_size]
    return _SHEETS * width * height * _SQUARE_METRES_PER_SQUARE_INCH


def grammage_from_basis_weight(basis_weight: Quantity, *, basis_size: str | None = None) -> Quantity:
    r"""Turn a basis weight into a grammage.

    Parameters
    ----------
    basis_weight : Quantity [mass]
        Mass of 500 sheets of the basis size, e.g. ``Q_(24, "lb")``; 1 to 1000 lb.
    basis_size : str
        ``"bond"``, ``"index"``, ``"cover"``, ``"book"`` or ``"news"``.  Pounds alone say nothing and
        are refused.

    Returns
    -------
    Quantity [g/m**2]

    Raises
    ------
    BadValue, UnitMismatch

    Notes
    -----
    .. math:: g = m / (500\,w\,h)

    with 453.59237 g to the pound; basis sizes after [tappi-t410]_.

    Examples
    --------
    >>> print(f"{grammage_from_basis_weight(Q_(24, 'lb'), basis_size='bond').to('gsm').magnitude:.1f}")
    90.2
    """
    pounds = to_float(basis_weight, "lb", field="basis weight", low=1.0, high=1000.0)
    area = _ream_area_si(basis_size, f"{pounds:g} lb")
    return Q_(pounds * _GRAMS_PER_POUND / area, "gsm")


def basis_weight_from_grammage(grammage: Quantity, *, basis_size: str | None = None) -> Quantity:
    """Turn a grammage into a basis weight, the inverse of :func:`grammage_from_basis_weight`.

    Parameters
    ----------
    grammage : Quantity [mass/area]
        Above 0.
    basis_size : str
        As there.

    Returns
    -------
    Quantity [lb]

    Raises
    ------
    BadValue, UnitMismatch
    """
    grams = to_float(grammage, "gsm", field="grammage", low=1.0, high=5000.0)
    return Q_(grams * _ream_area_si(basis_size, "pounds") / _GRAMS_PER_POUND, "lb")
