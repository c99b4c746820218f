"""The press run of a trial's stack by the bench's own model, kept so that it can be fitted at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from bench.materials import look_up
from bench.physics.arrays import Floats
from bench.physics.transient import Air, Course, History, Inputs, Phase, Platen, SolidBase, simulate_together
from bench.physics.transient.inputs import TRANSPORT_RATIO
from bench.physics.transient.phases import Rest
from bench.stack import Layer, Role, Stack
from bench.units import Q_

_BOARD = "backing board 24 pt"  # all boards conduct alike as far as the table knows
_LOAD, _HUMIDITY = Q_(4, "kPa"), Q_(50, "percent")  # about a medium load; the room
USUAL_RATIO = float(TRANSPORT_RATIO.value.magnitude)
"""How easily vapour passes, in the runs that are kept."""
_PLACES = ("middle leaf", "last leaf")


@dataclass(frozen=True)
class Setup:
    """The trial's stack and what is about it, in plain numbers, so that it can be kept.

    Attributes
    ----------
    paper : str
        Of the scrap block.
    leaves, boards : int
        Of the block, and on each side.
    block, board : float
        Thickness of the block and of one board, mm.
    grammage : float
        Of a leaf, g/m2.
    platen, room : float
        °C, to 5 K: the course is a share of the rise between them, which moves by 0.2 % with that.
    """

    paper: str
    leaves: int
    boards: int
    block: float
    board: float
    grammage: float
    platen: float
    room: float

    @property
    def stack(self) -> Stack:
        """From the platen down."""
        leaf = Layer(
            Role.LEAF, self.paper, self.leaves, Q_(self.block / self.leaves, "mm"), Q_(self.grammage, "g/m^2")
        )
        if not self.boards:
            return Stack((leaf,), Q_(0.04, "m^2"))
        usual = look_up(_BOARD, "grammage").number("g/m^2") / look_up(_BOARD, "thickness").number("mm")
        pack = Layer(Role.BOARD, _BOARD, self.boards, Q_(self.board, "mm"), Q_(usual * self.board, "g/m^2"))
        return Stack((pack, leaf, pack), Q_(0.04, "m^2"))

    def course(self, factor: float, loss: float, ratio: float, minutes: float) -> Course:
        """Give the press run with a factor on all resistance, a loss in W/(m2 K), and vapour that passes."""
        better = Q_(1 / factor, "")
        inputs = Inputs(transport_ratio=Q_(ratio, ""), conductivity_factor=better, contact_factor=better)
        room = Q_(self.room, "degC")
        phase = Phase(
            "hot",
            Q_(minutes, "min"),
            Air(room, _HUMIDITY),
            Platen((Q_(self.platen, "degC"),)),
            SolidBase(Q_(loss, "W/m^2/K")),
            _LOAD,
        )
        return Course(self.stack, (phase,), Rest(_HUMIDITY, room), inputs)

    def shares(self, history: History, minutes: Floats) -> Floats:
        """Give the share of the rise at both places, shape (2, n)."""
        seen = history.seconds / 60
        warm = [np.interp(minutes, seen, history.series("celsius", place)) for place in _PLACES]
        return (np.array(warm) - self.room) / (self.platen - self.room)


LONGEST = 60.0
"""Minutes that a run is followed."""
_DENSE = np.linspace(0.0, math.sqrt(LONGEST), 121) ** 2
_FACTORS = np.linspace(-1.15, 1.15, 9)
_LOSSES = np.log(np.array([1.5, 3.0, 6.0, 12.0, 24.0, 40.0]))
_CENTRE = math.log(8.0)


def _basis(factor: Floats, loss: Floats) -> Floats:
    """Give the polynomials in the logarithms of factor and loss, (n, terms)."""
    f, s = factor / _FACTORS[-1], (loss - _CENTRE) / 2
    return np.stack([f**i * s**j for i in range(7) for j in range(5)], axis=-1)


@lru_cache(maxsize=32)
def _tabulate(setup: Setup) -> Floats:
    """Follow the run over factors and losses by the full model; give polynomials, (terms, 2, times)."""
    pairs = [(f, s) for f in _FACTORS for s in _LOSSES]
    courses = [setup.course(math.exp(f), math.exp(s), USUAL_RATIO, LONGEST) for f, s in pairs]
    shares = np.array([setup.shares(history, _DENSE) for history in simulate_together(courses)])
    basis = _basis(*np.array(pairs).T)
    found, *_ = np.linalg.lstsq(basis, shares.reshape(len(pairs), -1), rcond=None)
    return np.asarray(found.reshape(-1, 2, len(_DENSE)))


def predict(setup: Setup, factor: float, loss: float, kept: float, minutes: Floats) -> Floats:
    """Give the share of the rise at both places, from the kept runs of the full model, shape (2, n).

    Parameters
    ----------
    setup : Setup
        The stack.
    factor, loss, kept : float
        Logarithms: of the factor on all resistance, of the loss in W/(m2 K), of the factor on the heat kept.
    minutes : array
        0 to 60, over ``exp(kept)``.

    Notes
    -----
    As the full model to 0.2 % of the rise (0.1 % was seen), for a factor of 0.4 to 2.5 and a loss of 3 to 20
    W/(m2 K).  A stack that keeps c times the heat warms c times as slowly, which is exact for conduction.
    """
    course = np.tensordot(_basis(np.array(factor), np.array(loss)), _tabulate(setup), axes=1)
    return np.array([np.interp(minutes / math.exp(kept), _DENSE, place) for place in course])
