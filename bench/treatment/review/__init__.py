"""Review: what came of the cycle? The same readings again beside the plan, and whether to stop or repeat."""

from bench.treatment.review.planning import ReviewChoices, ReviewPlan, plan_review

__all__ = ["ReviewChoices", "ReviewPlan", "plan_review"]
