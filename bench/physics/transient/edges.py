"""The second view: the cross-section from spine to fore edge, where the outer centimetre runs ahead."""

from __future__ import annotations

import numpy as np

from bench.errors import BadValue
from bench.physics import saturation, slab
from bench.physics.transient.cells import STILL_AIR
from bench.physics.transient.history import History
from bench.units import Q_, Quantity, to_float


def profile_to_fore_edge(
    history: History,
    phase: str,
    *,
    width: Quantity,
    edge_ratio: Quantity,
    transport_ratio: Quantity,
    when: Quantity | None = None,
    points: int = 41,
) -> tuple[Quantity, Quantity]:
    r"""Give the humidity of the middle leaf from spine to fore edge during a phase in damp air.

    Parameters
    ----------
    history : History
        Its middle leaf is what the faces alone bring about.
    phase : str
        The chamber.
    width : Quantity [length]
        Spine to fore edge.
    edge_ratio, transport_ratio : Quantity, dimensionless
        As in :class:`bench.physics.transient.inputs.Inputs`.
    when : Quantity [time], optional
        Since the start of the phase; by default its end.
    points : int
        3 to 400.

    Returns
    -------
    from_spine : Quantity [mm], shape (points,)
    humidity : Quantity [percent], shape (points,)

    Raises
    ------
    NotFound
        No phase of that name.
    BadValue
        The middle leaf does not grow damper towards the air in it.

    Notes
    -----
    .. math:: 1 - u(x, z) = (1 - u_z)(1 - u_x)

    What is still missing after uptake from two directions is the product of what either leaves
    missing: exact for constant diffusivity [carslaw-jaeger]_, an estimate here.  The spine is closed,
    the fore edge is at the humidity of the air; the diffusivity along the leaf is taken with the
    chord of the leaf's own isotherm over the phase.
    """
    if not 3 <= points <= 400:
        raise BadValue("points", points, "3 to 400", "Give a number in this range")
    length = to_float(width, "m", field="width of the page", low=0.03, high=0.6)
    ratio = to_float(edge_ratio, "", field="in-plane over through-plane transport", low=1.0, high=1000.0)
    through = to_float(transport_ratio, "", field="transport ratio", low=1e-3, high=1.0)
    part, one = history.part(phase), history.phase(phase)
    since = one.times - one.times[0]
    longest = float(since[-1])
    after = longest if when is None else to_float(when, "s", field="time", low=1.0, high=longest)
    inner, content = (history.series(what, "middle leaf")[part] for what in ("activity", "content"))
    air = float(np.interp(after, since, one.air_humidity))
    start, end = float(inner[0]), float(np.interp(after, since, inner))
    if not air > end > start:
        came = f"{100 * start:.0f} to {100 * end:.0f} % in air of {100 * air:.0f} %"
        raise BadValue("humidity of the middle leaf", came, "rising towards the air", "Ask of a damp phase")
    slope = (float(np.interp(after, since, content)) - float(content[0])) / (end - start)
    celsius = one.equations.outside.air_celsius
    along = min(1.0, ratio * through) * STILL_AIR
    diffusivity = along * saturation.pressure_pa(celsius) / (_density(history) * slope)
    fourier = diffusivity * after / length**2
    place = np.linspace(0.0, 1.0, points)
    missing = (1 - (end - start) / (air - start)) * (1 - slab.local_uptake(fourier, place))
    return Q_(1000 * length * place, "mm"), Q_(100 * (air - (air - start) * missing), "percent")


def _density(history: History) -> float:
    """Dry mass over volume of the middle leaf, kg/m3."""
    cut = history.phases[0].cut
    item = [sheet for sheet in cut.sheets if sheet.of_item]
    cells = item[len(item) // 2].cells
    return float((cut.slices.mass[cells] / cut.thickness[cells]).mean())
