"""Cleaning: what may touch each surface, and how far does it pay? The gentlest tools, and their time."""

from bench.treatment.cleaning.planning import CleaningChoices, CleaningPlan, plan_cleaning

__all__ = ["CleaningChoices", "CleaningPlan", "plan_cleaning"]
