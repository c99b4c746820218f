"""What marks exercises, a module a judgement of the trade: its question, its way, its wrong ways."""

from bench.practice.markers import clearance, gates, leaves, places, staples, tools
from bench.practice.task import Marker

MARKERS: dict[str, Marker] = {
    "clearance": clearance.MARKER,
    "gates": gates.MARKER,
    "leaves": leaves.MARKER,
    "places": places.MARKER,
    "staples": staples.MARKER,
    "tools": tools.MARKER,
}
"""By the name that an exercise gives under ``marks``."""
