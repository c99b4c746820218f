"""Load what the panels need into a kernel that nobody waits for yet; an extension of IPython."""

from __future__ import annotations

import importlib
import os
import pkgutil
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the server reads the name above, and needs no shell
    from IPython.core.interactiveshell import InteractiveShell

AHEAD = "BENCH_AHEAD"
"""Set in the environment of a kernel that is started before anybody waits for it."""
_SLOW = ("scipy.interpolate", "scipy.optimize")  # loaded at their first use elsewhere


def load_ipython_extension(_: InteractiveShell) -> None:
    """Import every panel and all libraries, and draw once; the kernel's own names stay as they are.

    Only in a kernel that is started ahead: one that somebody waits for loads what its page needs.
    """
    if not os.environ.pop(AHEAD, ""):
        return
    from bench import panels
    from bench.figures.style import finish, new_axes

    for name in (*_SLOW, *(module.name for module in pkgutil.iter_modules(panels.__path__, "bench.panels."))):
        importlib.import_module(name)
    finish(new_axes()[0], "")
    compile_model()


def compile_model() -> None:
    """Follow a pile for a minute and solve a plate: what is compiled at its first use is then ready."""
    import numpy as np

    from bench.physics.bearing.compiled import eliminate
    from bench.physics.transient import Air, Phase, simulate
    from bench.stack import Layer, Role, Stack
    from bench.units import Q_

    pile = Stack((Layer(Role.LEAF, "newsprint", 3, Q_(0.1, "mm"), Q_(52, "gsm")),), Q_(0.04, "m^2"))
    history = simulate(pile, [Phase("chamber", Q_(1, "minute"), Air())])
    history.humidity("mean")
    eliminate(np.ones((3, 1)), np.zeros((2, 1)), np.zeros((1, 1)), np.ones((3, 2, 1)))
