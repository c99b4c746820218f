"""Pressing: how hard, how warm, how long? What flattens, where the water goes, when the item may come out."""

from bench.treatment.pressing.plan import PressingChoices, PressingPlan
from bench.treatment.pressing.planning import plan_pressing

__all__ = ["PressingChoices", "PressingPlan", "plan_pressing"]
