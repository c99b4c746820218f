"""How the tests of panels run: what a panel draws is tried where pictures are looked at."""

from collections.abc import Iterator

import pytest

from tests.notebooks.every_item import without_pictures


@pytest.fixture(autouse=True)
def _leave_pictures_blank(request: pytest.FixtureRequest) -> Iterator[None]:
    """Set pictures up, but do not draw them, unless the test is marked as one that looks at them."""
    if request.node.get_closest_marker("drawn"):
        yield
        return
    with without_pictures():
        yield
