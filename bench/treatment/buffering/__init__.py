"""Buffering: how far apart do interleaves go? Where to put them, so that the text block carries the load."""

from bench.treatment.buffering.choices import BufferingChoices
from bench.treatment.buffering.planning import BufferingPlan, plan_buffering

__all__ = ["BufferingChoices", "BufferingPlan", "plan_buffering"]
