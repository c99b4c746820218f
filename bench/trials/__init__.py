"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials.hygrometer import SALTS
from bench.trials.instruments import BALANCE, CALIPER
from bench.trials.protocol import Outcome, Protocol, Readings
from bench.trials.thermometer import ICE

__all__ = ["PROTOCOLS", "Outcome", "Protocol", "Readings"]

PROTOCOLS: tuple[Protocol, ...] = (CALIPER, BALANCE, SALTS, ICE)
"""In the order in which a new bench would carry them out."""
