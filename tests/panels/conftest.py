"""How the tests of panels run: what a panel draws is tried where pictures are looked at."""

import threading
from collections.abc import Iterator

import pytest

from bench.panels import long_work
from tests.notebooks.every_item import without_pictures


@pytest.fixture(autouse=True)
def _leave_pictures_blank(request: pytest.FixtureRequest) -> Iterator[None]:
    """Set pictures up, but do not draw them, unless the test is marked as one that looks at them."""
    if request.node.get_closest_marker("drawn"):
        yield
        return
    with without_pictures():
        yield


@pytest.fixture(autouse=True)
def _listen_in_threads_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no loop in the thread of the tests pass for a kernel's: one stays there once a browser was open."""
    listen, own = long_work.loop_of_kernel, threading.current_thread()
    monkeypatch.setattr(
        long_work, "loop_of_kernel", lambda: None if threading.current_thread() is own else listen()
    )
