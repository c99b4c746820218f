"""Moisture and heat through the stack, followed through the phases of a treatment.

:func:`simulate` takes a Stack and its phases and gives a :class:`History`; the functions beside it ask
of that history what the bench wants to know.
"""

from bench.physics.transient.answers import (
    Hindrances,
    Resting,
    TakeOut,
    changes_until,
    dwell_needed,
    hours_until,
    humidity_after,
    minutes_before_loss,
    release_time,
    take_out_window,
    water_moved,
    what_limits,
)
from bench.physics.transient.cells import contact_conductance
from bench.physics.transient.chamber import Air, ClosedChamber
from bench.physics.transient.edges import profile_to_fore_edge
from bench.physics.transient.faces import CoolingPlaten, Insulated, Open, Platen, SolidBase
from bench.physics.transient.fit import Fit, Weighing, fit_weighings
from bench.physics.transient.history import PLACES, History
from bench.physics.transient.inputs import Inputs
from bench.physics.transient.phases import Phase, Rest
from bench.physics.transient.sequence import TOLERANCE, Course, simulate, simulate_together

__all__ = [
    "PLACES",
    "TOLERANCE",
    "Air",
    "ClosedChamber",
    "CoolingPlaten",
    "Course",
    "Fit",
    "Hindrances",
    "History",
    "Inputs",
    "Insulated",
    "Open",
    "Phase",
    "Platen",
    "Rest",
    "Resting",
    "SolidBase",
    "TakeOut",
    "Weighing",
    "changes_until",
    "contact_conductance",
    "dwell_needed",
    "fit_weighings",
    "hours_until",
    "humidity_after",
    "minutes_before_loss",
    "profile_to_fore_edge",
    "release_time",
    "simulate",
    "simulate_together",
    "take_out_window",
    "water_moved",
    "what_limits",
]
