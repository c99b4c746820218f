"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials.board_stiffness import BOARD_STIFFNESS
from bench.trials.pile_compression import PILE_COMPRESSION
from bench.trials.protocol import Outcome, Protocol, Readings
from bench.trials.staple_marking import STAPLE_MARKING

__all__ = ["PROTOCOLS", "Outcome", "Protocol", "Readings"]

PROTOCOLS: tuple[Protocol, ...] = (PILE_COMPRESSION, BOARD_STIFFNESS, STAPLE_MARKING)
"""In the order in which a new bench would carry them out."""
