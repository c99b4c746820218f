"""Workbench of a paper conservator: numbers, risks, schedule and record of a treatment.

The package is kept empty at the top so that ``import bench`` costs nothing; import the
room you need (``bench.item``, ``bench.physics.air``, ...).  The rooms and the direction
in which they may import each other are described in ``DEVELOPERS.md``.
"""

__version__ = "0.1.0"
