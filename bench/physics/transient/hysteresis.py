r"""Hysteresis: drying paper holds more than wetting paper at the same humidity (plain numbers).

From the content :math:`X_0` at the start of a step, with the lag :math:`\delta_0` there, the lag runs
towards its most, :math:`\Delta`, while water leaves and towards zero while it enters,

.. math:: \delta = \Delta - (\Delta - \delta_0)\,e^{-3(X_0-X)/\Delta}, \qquad
          \delta = \delta_0\,e^{-3(X-X_0)/\Delta}

so that the activity is a single-valued function of the content within a step.  Which of the two holds
is settled before the step, by where the content went in the last one, and kept for all of it: a change
of branch within a step would be a kink that no implicit method gets over.  The stepper tries again with
the other branch where a cell has plainly turned.
"""

from __future__ import annotations

import numpy as np

from bench.physics.arrays import Floats
from bench.physics.transient.compiled import Lag

NO_LAG = Lag(np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, dtype=np.bool_))


def start_lag(most: Floats, content: Floats, held: Floats) -> Lag:
    """Begin with what the cells hold above their isotherms; those that hold any have been giving water off.

    Parameters
    ----------
    most, content, held : array, shape (n,)
        Largest lag, moisture content and lag of each cell.
    """
    return Lag(most, content.copy(), held.copy(), held > 0)
