"""Faults of the workbook itself: written down in one file of the user, for its makers."""

from __future__ import annotations

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

import platformdirs

_LARGEST = 500_000  # bytes of the file; two older ones are kept
_NAME = "bench-workbook"


def trouble_file() -> Path:
    """Give the file in which faults of the workbook are written down; it may not exist yet."""
    return platformdirs.user_log_path(_NAME, appauthor=False) / "trouble.log"


def write_down(error: BaseException, where: str) -> str:
    """Write the traceback of an unexpected error down, and say where in a sentence.

    Parameters
    ----------
    error : BaseException
        As it was caught.
    where : str
        What was being done, such as ``"panel pressing"``.

    Returns
    -------
    str
        A sentence; it says so if even that could not be written.
    """
    path = trouble_file()
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handler = RotatingFileHandler(path, maxBytes=_LARGEST, backupCount=2, encoding="utf-8", delay=True)
    except OSError as refused:
        return f"It could not be written down ({refused.strerror or refused})."
    handler.setFormatter(logging.Formatter("%(asctime)s %(message)s"))
    record = logging.LogRecord(
        _NAME, logging.ERROR, "", 0, where, None, (type(error), error, error.__traceback__)
    )
    handler.handleError = lambda record: None  # type: ignore[method-assign]  # a full disk is no second fault
    handler.emit(record)
    handler.close()
    return f"It is written down in {path}."
