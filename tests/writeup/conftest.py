"""One browser prints what the tests of the report want printed."""

import shutil
from collections.abc import Iterator

import pytest

from bench.writeup.pdf import Printer


@pytest.fixture(scope="session")
def printer() -> Iterator[Printer]:
    """Give a browser that prints; starting one takes longer than most pages take."""
    if shutil.which("chromium") is None:
        pytest.skip("no Chromium is installed to print with")
    with Printer() as made:
        yield made
