"""Workbench of a paper conservator: numbers, risks, schedule and record of a treatment.

The package is kept empty at the top so that ``import bench`` costs nothing; import the
room you need (``bench.item``, ``bench.physics.air``, ...).  The rooms and the direction
in which they may import each other are described in ``DEVELOPERS.md``.
"""

import os

# The matrices here are small: a second thread of the linear algebra only waits, and many times as
# long when the machine is busy.  It must be said before numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
