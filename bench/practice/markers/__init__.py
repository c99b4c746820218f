"""What marks exercises, a module a judgement of the trade: its question, its way, its wrong ways."""

from bench.practice.markers import clearance, leaves
from bench.practice.task import Marker

MARKERS: dict[str, Marker] = {
    "clearance": clearance.MARKER,
    "leaves": leaves.MARKER,
}
"""By the name that an exercise gives under ``marks``."""
