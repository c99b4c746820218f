"""What no book knows and the bench can measure in an afternoon: a module a protocol.

Every one says what to do in six steps, what to read, how that is fitted, and which constant of later plans it
finds.  Nothing is used that nobody accepted.
"""

from bench.trials.board_stiffness import BOARD_STIFFNESS
from bench.trials.hygrometer import HYGROMETER_CHECK
from bench.trials.ice_point import THERMOMETER_CHECK
from bench.trials.instruments import BALANCE_CHECK, CALIPER_CHECK
from bench.trials.leaf_sorption import LEAF_SORPTION
from bench.trials.leaf_temperature import LEAF_TEMPERATURE
from bench.trials.pile_compression import PILE_COMPRESSION
from bench.trials.platen import PLATEN_MAP
from bench.trials.protocol import Protocol, Readings, TrialOutcome
from bench.trials.sheet_over_jar import SHEET_OVER_JAR
from bench.trials.spine_softening import SPINE_SOFTENING
from bench.trials.staple_marking import STAPLE_MARKING

__all__ = [
    "BALANCE_CHECK",
    "BOARD_STIFFNESS",
    "CALIPER_CHECK",
    "HYGROMETER_CHECK",
    "LEAF_SORPTION",
    "LEAF_TEMPERATURE",
    "PILE_COMPRESSION",
    "PLATEN_MAP",
    "PROTOCOLS",
    "SHEET_OVER_JAR",
    "SPINE_SOFTENING",
    "STAPLE_MARKING",
    "THERMOMETER_CHECK",
    "Protocol",
    "Readings",
    "TrialOutcome",
]

PROTOCOLS: tuple[Protocol, ...] = (
    CALIPER_CHECK,
    BALANCE_CHECK,
    HYGROMETER_CHECK,
    THERMOMETER_CHECK,
    LEAF_SORPTION,
    SHEET_OVER_JAR,
    PILE_COMPRESSION,
    BOARD_STIFFNESS,
    STAPLE_MARKING,
    PLATEN_MAP,
    LEAF_TEMPERATURE,
    SPINE_SOFTENING,
)
"""In the order in which a new bench would carry them out."""
