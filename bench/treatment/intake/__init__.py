"""Intake: may this item be treated at all? Treat, hold or refer, and under which conditions."""

from bench.treatment.intake.planning import Decision, IntakePlan, decide_intake

__all__ = ["Decision", "IntakePlan", "decide_intake"]
