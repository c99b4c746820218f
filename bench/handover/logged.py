"""The air as loggers kept it, out of the files of a record."""

from __future__ import annotations

from typing import Any

from bench.treatment.actual.logged import LoggedAir


def as_logged(table: Any) -> LoggedAir:
    """Give readings as the air that a stage takes.

    Parameters
    ----------
    table : DataFrame
        As :func:`bench.records.logger_files.read_logger` gives it.
    """
    seconds = (table["time"] - table["time"].iloc[0]).dt.total_seconds().to_numpy()
    begin = table["time"].iloc[0].to_pydatetime()
    return LoggedAir(begin, seconds, table["celsius"].to_numpy(), table["percent"].to_numpy())
