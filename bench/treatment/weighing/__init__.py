"""Weighing: what does the balance say? How fast this very paper takes up water, and what to do now."""

from bench.treatment.weighing.reading import Weighed, Weighing, read_weighings

__all__ = ["Weighed", "Weighing", "read_weighings"]
