"""What marks exercises, a module a judgement of the trade: its question, its way, its wrong ways."""

from bench.practice.markers import (
    chamber_holds,
    chamber_hours,
    clearance,
    compare_decide,
    far_leaf,
    gates,
    leaves,
    let_go,
    places,
    staples,
    told_to_owner,
    tools,
    two_days,
)
from bench.practice.task import Marker

MARKERS: dict[str, Marker] = {
    "chamber-holds": chamber_holds.MARKER,
    "chamber-hours": chamber_hours.MARKER,
    "clearance": clearance.MARKER,
    "compare-decide": compare_decide.MARKER,
    "far-leaf": far_leaf.MARKER,
    "gates": gates.MARKER,
    "leaves": leaves.MARKER,
    "let-go": let_go.MARKER,
    "places": places.MARKER,
    "report": told_to_owner.MARKER,
    "staples": staples.MARKER,
    "tools": tools.MARKER,
    "two-days": two_days.MARKER,
}
"""By the name that an exercise gives under ``marks``."""
