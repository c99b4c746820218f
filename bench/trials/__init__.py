"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials.leaf_temperature import LEAF_TEMPERATURE
from bench.trials.platen import PLATEN_TRIAL
from bench.trials.protocol import Outcome, Protocol, Readings
from bench.trials.spine_softening import SPINE_SOFTENING

__all__ = ["PROTOCOLS", "Outcome", "Protocol", "Readings"]

PROTOCOLS: tuple[Protocol, ...] = (
    PLATEN_TRIAL,
    LEAF_TEMPERATURE,
    SPINE_SOFTENING,
)
"""In the order in which a new bench would carry them out."""
