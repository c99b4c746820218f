"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials import leaf_sorption, sheet_over_jar
from bench.trials.protocol import Outcome, Protocol, Readings

__all__ = ["PROTOCOLS", "Outcome", "Protocol", "Readings"]

PROTOCOLS: tuple[Protocol, ...] = (
    leaf_sorption.PROTOCOL,
    sheet_over_jar.PROTOCOL,
)
"""In the order in which a new bench would carry them out."""
