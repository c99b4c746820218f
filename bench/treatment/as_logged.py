"""The saved plans of a treatment with what the loggers of its chambers say in their place."""

from __future__ import annotations

from bench.treatment.actual.followed import Tables, follow_in_use
from bench.treatment.doses import LOGGER, TAKEN, Plans
from bench.treatment.resting import rows_of_plan, taken_of_logger


def with_loggers(plans: Plans, tables: Tables) -> Plans:
    """Add to plans what the loggers of their chambers say, as :mod:`bench.treatment.doses` takes it.

    Parameters
    ----------
    plans : mapping of (str, int) to sequence of PlannedValue
        As saved.
    tables : mapping of str to rows
        Current rows of ``log``, ``loggers``, ``plans`` and ``steps``.
    """
    found = dict(plans)
    for cycle in sorted({cycle for _, cycle in plans}):
        followed = follow_in_use(tables, cycle)
        taken = taken_of_logger(rows_of_plan(tables, "pressing", cycle), cycle)
        if followed is not None:
            found[LOGGER, cycle] = followed.values
        if taken:
            found[TAKEN, cycle] = taken
    return found
