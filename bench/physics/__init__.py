"""The physics of paper, water, heat and load: pure calculations without files, clock or state.

Each module answers questions of the bench and says how far its answer holds; where it is an
estimate, the result carries its interval (:class:`bench.physics.ranges.Range`).

Where a docstring gives a range, what lies outside it is refused with BadValue; what measures something
else, or has no unit, with UnitMismatch.  *Raises* names what is refused besides.
"""
