"""A face of the item on which a defect is boxed by hand, to scale."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeAlias

import anywidget
import traitlets

from bench.item import Item
from bench.panels.assets import read_asset
from bench.treatment.intake.defects import Defect, face_size, faces_of, spine_side
from bench.units import Q_, Quantity

Box: TypeAlias = tuple[Quantity, Quantity, Quantity, Quantity]
"""Left and upper edge, width and height, from the head-left corner of the face."""


class FacePad(anywidget.AnyWidget):
    """Shows one face with the boxes on it; a box is drawn, moved and reshaped by mouse, finger or keys.

    Attributes
    ----------
    face : dict
        Name, width and height in mm, and on which side the spine is (empty for none).
    others : list of dict
        Boxes in mm of the defects that are listed already.
    box : list of float
        The box in the fields, in mm, and which drawn box it answers (0 for none); empty for no box.
    photograph : str
        Source of an image that shows this face and nothing else, stretched over it; empty for none.
    drawn : list of float
        The box that was last drawn, in mm, and how many were drawn so far.
    """

    _esm = read_asset("face.js")
    _css = read_asset("face.css")
    face = traitlets.Dict().tag(sync=True)
    others: Any = traitlets.List().tag(sync=True)
    box: Any = traitlets.List().tag(sync=True)
    drawn: Any = traitlets.List().tag(sync=True)
    photograph = traitlets.Unicode().tag(sync=True)

    def __init__(self, on_draw: Callable[[Box], None]) -> None:
        super().__init__()
        self._on_draw = on_draw
        self._is_drawing = False
        self.observe(self._take, names="drawn")

    def show(self, item: Item, face: str, leaf: str, box: Box | None, others: Sequence[Defect]) -> None:
        """Show a face with a box, and the other defects on it; nothing of a face that the item lacks."""
        if face not in faces_of(item):
            self.face = {}
            return
        width, height = (_mm(side) for side in face_size(item, face))
        spine = spine_side(face) if face not in ("spine",) and "edge" not in face else ""
        with self.hold_sync():
            is_leaf = face in ("recto", "verso")
            name = f"Leaf {leaf or '?'}, {face}" if is_leaf else face.capitalize()
            self.face = {"name": name, "width": width, "height": height, "spine": spine}
            self.others = [
                {"id": other.id, "box": [_mm(side) for side in (other.x, other.y, other.width, other.height)]}
                for other in others
                if other.face == face and (not is_leaf or other.leaf == leaf)
            ]
            # With the number of the drawn box that it answers: a page that has moved on leaves it alone.
            count = int(self.drawn[4]) if self._is_drawing else 0
            self.box = [] if box is None else [*(_mm(side) for side in box), count]

    def _take(self, change: Any) -> None:
        x, y, width, height = (Q_(float(side), "mm") for side in change["new"][:4])
        self._is_drawing = True
        try:
            self._on_draw((x, y, width, height))
        finally:
            self._is_drawing = False


def _mm(side: Quantity) -> float:
    return round(float(side.to("mm").magnitude), 3)
