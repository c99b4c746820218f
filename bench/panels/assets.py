"""Scripts and looks of the panels, which lie beside them."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources


@lru_cache
def read_asset(name: str) -> str:
    """Read a file of this folder, such as ``"panel.css"``."""
    return resources.files("bench.panels").joinpath(name).read_text(encoding="utf-8")
