"""How easily vapour passes a pile of leaves: as told where nobody has weighed it, or as it was weighed."""

from __future__ import annotations

from typing import Any, Protocol

from bench.physics.ranges import Range
from bench.physics.transient.inputs import AS_PUBLISHED, TRANSPORT_RATIO
from bench.units import Q_

KEY, LABEL = "ratio", "How easily vapour passes the pile"
"""Of its field."""
WEIGHED = "weighed"
RATIOS = {
    "not known": TRANSPORT_RATIO,
    "soft, open paper": Range(Q_(0.055, ""), Q_(0.03, ""), Q_(0.1, "")),
    "dense or coated paper": Range(Q_(0.018, ""), Q_(0.01, ""), Q_(0.03, "")),
}
"""Halves of the range from memory, divided at its middle: judgement, until the item is weighed."""


class KnowsPile(Protocol):
    """Choices of a stage that follows vapour through the pile."""

    @property
    def transport_ratio(self) -> Range:
        """Diffusivity of vapour through the pile over that in still air."""

    @property
    def isotherm_scale(self) -> Range:
        """How much more water this paper holds than published."""

    @property
    def weighed(self) -> str:
        """Whose weighings gave the two; empty if they are as published."""


def read_transport(shown: str, usual: KnowsPile) -> dict[str, Any]:
    """Read what the field shows as fields of the choices: both constants and where they come from.

    Parameters
    ----------
    shown : str
        A key of :data:`RATIOS`, or :data:`WEIGHED`.
    usual : KnowsPile
        With what was found by weighing, if anything was.
    """
    if shown == WEIGHED:
        return {
            "transport_ratio": usual.transport_ratio,
            "isotherm_scale": usual.isotherm_scale,
            "weighed": usual.weighed,
        }
    return {"transport_ratio": RATIOS[shown], "isotherm_scale": AS_PUBLISHED, "weighed": ""}
