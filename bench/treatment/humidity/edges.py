"""The chamber seen along a leaf: how far the fore edge runs ahead of the spine."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from bench.errors import BadValue
from bench.item import Format
from bench.physics.ranges import Range
from bench.physics.transient import profile_to_fore_edge
from bench.physics.transient.answers import first_time
from bench.treatment.humidity.plan import EdgeProfile
from bench.treatment.humidity.uptake import Setting
from bench.units import Q_

Floats = NDArray[np.float64]

AHEAD = 5.0  # % RH by which an edge is said to run ahead: judgement, as for the loss on the bench
_PARTS = (1 / 8, 1 / 3, 1.0)  # of the planned hours
_POINTS = 121


def follow_edges(setting: Setting) -> tuple[EdgeProfile, ...]:
    """Follow the middle leaf from spine to fore edge at three times up to the planned hour.

    A single or folded sheet has no spine and no pile to hold the damp back: nothing is followed.  Times at
    which the leaf has not yet gained, or no longer gains, are left out.  The interval of
    ``ahead`` comes from how open the leaf is along its plane over through it, and from the transport
    ratio; see :func:`bench.physics.transient.profile_to_fore_edge` for the model and its limits.
    """
    if setting.item.format is Format.SHEET:
        return ()
    profiles = (_follow(setting, part * setting.choices.hours) for part in _PARTS)
    return tuple(profile for profile in profiles if profile is not None)


def _follow(setting: Setting, hours: float) -> EdgeProfile | None:
    triples = setting.inputs.triples
    ratio, through = triples["edge_ratio"], triples["transport_ratio"]
    likely = (ratio[0], through[0])
    try:
        place, humidity = _profile(setting, hours, *likely)
    except BadValue:  # not rising towards the air at that time
        return None
    ends = [(one, likely[1]) for one in ratio[1:]] + [(likely[0], one) for one in through[1:]]
    reach = _ahead(place, humidity)
    others = [_ahead(*_profile(setting, hours, *end)) for end in ends]
    ahead = Range.of((reach, min(reach, *others), max(reach, *others)), "mm")
    return EdgeProfile(hours, place, humidity, ahead)


def _profile(setting: Setting, hours: float, ratio: float, through: float) -> tuple[Floats, Floats]:
    place, humidity = profile_to_fore_edge(
        setting.taken_out,
        "chamber",
        width=setting.item.width,
        edge_ratio=Q_(ratio, ""),
        transport_ratio=Q_(through, ""),
        when=Q_(hours, "hour"),
        points=_POINTS,
    )
    return np.asarray(place.to("mm").magnitude), np.asarray(humidity.to("percent").magnitude)


def _ahead(place: Floats, humidity: Floats) -> float:
    """Give the width along the fore edge that is damper than the spine by more than that, mm."""
    begins = first_time(place, humidity, float(humidity[0]) + AHEAD, rising=True)
    return 0.0 if begins is None else float(place[-1]) - begins


def say_edges(profiles: Sequence[EdgeProfile]) -> str:
    """Say in a sentence how far the edges run ahead, and what follows; empty without profiles."""
    if not profiles:
        return ""
    first, last = profiles[0], profiles[-1]
    if float(first.ahead.high.magnitude) == 0:
        return "No part of the leaf runs ahead of the others: it fills through its faces."
    words = (
        f"After {first.hours:.2g} h the outer {_say(first.ahead)} along fore edge, head and tail run ahead "
        "of the middle; edges that run far ahead wave."
    )
    if len(profiles) == 1:
        return words
    if float(last.ahead.value.magnitude) == 0:
        return f"{words} After {last.hours:.2g} h the leaf is even again, to within {AHEAD:.0f} % RH."
    return f"{words} After {last.hours:.2g} h it is still the outer {_say(last.ahead)}: leave it in longer."


def _say(ahead: Range) -> str:
    value, low, high = (round(mm) for mm in ahead.floats("mm", field="width that runs ahead"))
    return f"{value} ({low} to {high}) mm"
