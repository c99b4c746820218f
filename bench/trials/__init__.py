"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials.board_stiffness import BOARD_STIFFNESS
from bench.trials.leaf_sorption import PROTOCOL as LEAF_SORPTION
from bench.trials.pile_compression import PILE_COMPRESSION
from bench.trials.protocol import Outcome, Protocol, Readings

__all__ = [
    "BOARD_STIFFNESS",
    "LEAF_SORPTION",
    "PILE_COMPRESSION",
    "PROTOCOLS",
    "Outcome",
    "Protocol",
    "Readings",
]

PROTOCOLS: tuple[Protocol, ...] = (LEAF_SORPTION, PILE_COMPRESSION, BOARD_STIFFNESS)
"""In the order in which a new bench would carry them out."""
