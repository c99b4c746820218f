"""Hysteresis: drying paper holds more than wetting paper at the same humidity (plain numbers)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_SCAN = 3.0  # a scanning curve is this much steeper than the isotherm at its start; no source


@dataclass
class Lag:
    r"""Hysteresis: what each cell holds above the adsorption isotherm when it has been giving water off.

    From the content :math:`X_0` at the start of a step, with the lag :math:`\delta_0` there, the lag runs
    towards its most, :math:`\Delta`, while water leaves and towards zero while it enters,

    .. math:: \delta = \Delta - (\Delta - \delta_0)\,e^{-3(X_0-X)/\Delta}, \qquad
              \delta = \delta_0\,e^{-3(X-X_0)/\Delta}

    so that the activity is a single-valued function of the content within a step.  Which of the two holds
    is settled before the step, by where the content went in the last one, and kept for all of it: a change
    of branch within a step would be a kink that no implicit method gets over.  The stepper tries again with
    the other branch where a cell has plainly turned.
    """

    most: Floats
    start: Floats
    value: Floats
    leaves: NDArray[np.bool_]  # cells that give water off in this step

    def _room(self, content: Floats) -> Floats:
        """Give how far the lag still has to go on its branch."""
        moved = content - self.start
        away = np.where(self.leaves, -moved, moved)
        fade = np.exp(np.minimum(-(_SCAN / self.most) * away, 30.0))
        room: Floats = np.where(self.leaves, self.most - self.value, self.value) * fade
        return room

    def at(self, content: Floats) -> Floats:
        """Give the lag where the content has moved to."""
        room = self._room(content)
        return np.asarray(np.where(self.leaves, self.most - room, room))

    def slope(self, content: Floats) -> Floats:
        """Give how the lag changes with the content."""
        return -(_SCAN / self.most) * self._room(content)

    def moved_to(self, content: Floats) -> Lag:
        """Begin a new step; where the content turned within the last one the lag stays within its bounds."""
        return Lag(self.most, content, np.clip(self.at(content), 0.0, self.most), content < self.start)

    def turned(self, change: Floats, least: Floats) -> NDArray[np.bool_]:
        """Tell which cells have moved against their branch by more than the least that counts in each."""
        against: NDArray[np.bool_] = ((change < 0) != self.leaves) & (np.abs(change) > least)
        return against
