"""Humidity: how damp, by what, and how long? The time in the chamber, and what limits it."""

from bench.treatment.humidity.plan import HumidityChoices, HumidityPlan
from bench.treatment.humidity.planning import plan_humidity, propose_choices
from bench.treatment.humidity.source import Source

__all__ = ["HumidityChoices", "HumidityPlan", "Source", "plan_humidity", "propose_choices"]
