"""From the load on one staple to the pressure on its wire, as the model of the load has it, and back."""

from __future__ import annotations

from bench.physics.bearing.results import Limits
from bench.physics.bearing.zones import WIRE
from bench.physics.contact import HIGHEST_LOAD, pressure_from_force
from bench.physics.ranges import Range
from bench.units import Q_, Quantity, to_float

CROWN = Q_(12.0, "mm")
"""Length of wire with which a usual staple of a periodical lies on the paper; from memory."""

FOOTPRINT = Q_(CROWN.to("m").magnitude * WIRE, "m^2")
"""Of such a staple, as wide as the section has it (:data:`bench.physics.bearing.zones.WIRE`)."""

DAMP_PART = 0.5
"""Part of the dry load that damp, warm paper takes without a mark; judgement."""


def pressure_on_wire(load: Quantity) -> Quantity:
    r"""Give the mean pressure on the wire of a staple that carries a load.

    Parameters
    ----------
    load : Quantity [force]
        On one staple, 0 to 10 kN.

    Returns
    -------
    Quantity [kPa]

    Notes
    -----
    :math:`p = F / (b\,l)` with the width :math:`b` and the length :math:`l` of the wire that bear.

    Examples
    --------
    >>> print(f"{pressure_on_wire(Q_(4.2, 'N')):.0f~P}")
    500 kPa
    """
    to_float(load, "N", field="load on a staple", low=0.0, high=1e4)
    return pressure_from_force(load, area=FOOTPRINT)


def load_on_wire(pressure: Quantity) -> Quantity:
    """Give the load on one staple whose wire carries a pressure, 0 to 10 MPa; the inverse.

    Examples
    --------
    >>> print(f"{load_on_wire(Q_(50, 'kPa')):.2f~P}")
    0.42 N
    """
    pascals = to_float(pressure, "Pa", field="pressure on a staple", low=0.0, high=1e7)
    return Q_(pascals * float(FOOTPRINT.to("m^2").magnitude), "N")


MARKS = Range(Q_(6.0, "N"), load_on_wire(Limits().staple) / DAMP_PART, Q_(40.0, "N"))
"""Load at which a staple marks dry paper: its low end stands for the usual limit on a staple, the
rest is judgement of low confidence."""


def marking_limit(marks: Range) -> Quantity:
    """Give the pressure on a staple that is not to be exceeded, from the load at which one marks dry.

    Parameters
    ----------
    marks : Range [force]
        Load at which a staple marks dry paper, for one staple more.

    Returns
    -------
    Quantity [kPa]
        The low end, the part of it that damp paper takes, spread over the wire; and never above the pressure
        at which paper is crushed anyway (:data:`bench.physics.contact.HIGHEST_LOAD`).

    Examples
    --------
    >>> print(f"{marking_limit(MARKS):.0f~P}")
    50 kPa
    """
    damp = DAMP_PART * marks.low
    return min(pressure_on_wire(damp), HIGHEST_LOAD)
