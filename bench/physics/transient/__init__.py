"""Moisture and heat through the stack, followed through the phases of a treatment.

:func:`simulate` takes a Stack and its phases and gives a :class:`History`; the functions beside it ask
of that history what the bench wants to know.
"""

from bench.physics.transient.answers import (
    Limits,
    Reached,
    Resting,
    TakeOut,
    changes_until,
    dwell_needed,
    hours_until,
    humidity_after,
    minutes_before_loss,
    release_time,
    take_out_window,
    temperatures_reached,
    water_moved,
    what_limits,
)
from bench.physics.transient.cells import contact_conductance
from bench.physics.transient.chamber import Air, ClosedChamber
from bench.physics.transient.doubts import Doubt, estimate_doubts, runs_at_ends, sample_answers
from bench.physics.transient.edges import profile_to_fore_edge
from bench.physics.transient.faces import Insulated, Open, Platen, SolidBase
from bench.physics.transient.fit import Fit, Weighing, fit_weighings
from bench.physics.transient.history import PLACES, History, WaterBalance
from bench.physics.transient.inputs import Inputs
from bench.physics.transient.phases import Phase, Rest
from bench.physics.transient.sequence import TOLERANCE, Course, simulate, simulate_together
from bench.physics.transient.stepper import Stopped

__all__ = [
    "PLACES",
    "TOLERANCE",
    "Air",
    "ClosedChamber",
    "Course",
    "Doubt",
    "Fit",
    "History",
    "Inputs",
    "Insulated",
    "Limits",
    "Open",
    "Phase",
    "Platen",
    "Reached",
    "Rest",
    "Resting",
    "SolidBase",
    "Stopped",
    "TakeOut",
    "WaterBalance",
    "Weighing",
    "changes_until",
    "contact_conductance",
    "dwell_needed",
    "estimate_doubts",
    "fit_weighings",
    "hours_until",
    "humidity_after",
    "minutes_before_loss",
    "profile_to_fore_edge",
    "release_time",
    "runs_at_ends",
    "sample_answers",
    "simulate",
    "simulate_together",
    "take_out_window",
    "temperatures_reached",
    "water_moved",
    "what_limits",
]
