"""Photographs on a page: their size and date, and small copies that fit a panel or a report."""

from __future__ import annotations

import base64
import io
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from PIL import Image, ImageOps

from bench.errors import BadValue
from bench.figures.templates import PIECES

PANEL_PX, REPORT_PX = 480, 1000  # longest side of a small copy
_QUALITY = 80
_TAKEN, _OFFSET, _EXIF = 0x9003, 0x9011, 0x8769  # when, its offset, where both are [exif]
_ORIENTATION, _ON_ITS_SIDE = 0x0112, (5, 6, 7, 8)
_MOST_PIXELS = 160_000_000  # above any camera in use; chosen here
Image.MAX_IMAGE_PIXELS = None  # the library's own limit would only warn here
_FEW_COLOURS = ("1", "P")  # that would not be smoothed as they are made small
_EXIF_TIME = "%Y:%m:%d %H:%M:%S"


@dataclass(frozen=True)
class Photograph:
    """What an image file says of itself.

    Attributes
    ----------
    width, height : int
        In pixels, as it is to be looked at.
    taken_at : datetime or None
        By the camera's clock; without an offset if the camera did not write one.
    small : bytes
        A small copy as JPEG, the right way up, without the camera's notes.
    """

    width: int
    height: int
    taken_at: datetime | None
    small: bytes

    @property
    def source(self) -> str:
        """The small copy as the source of an image on a page that needs no other file."""
        return f"data:image/jpeg;base64,{base64.b64encode(self.small).decode('ascii')}"


def look_at(data: bytes, *, longest: int = PANEL_PX, name: str = "photograph") -> Photograph:
    """Read an image file and make a small copy of it.

    Parameters
    ----------
    data : bytes
        Of the file, in any form that the image library reads.
    longest : int
        Longest side of the small copy, in pixels; a smaller image stays as large as it is.
    name : str
        For the error.

    Raises
    ------
    BadValue
        The bytes are no image that can be read.
    """
    try:
        with Image.open(io.BytesIO(data)) as image:
            _check_size(image, name)
            taken, (width, height) = _taken(image), _upright_size(image)
            # Made small first, as it is decoded if it can be: what is turned and converted is small then.
            image.draft("RGB", (longest, longest))
            small = image.convert("RGB") if image.mode in _FEW_COLOURS else image
            small.thumbnail((longest, longest))
            upright = ImageOps.exif_transpose(small).convert("RGB")
    except BadValue:
        raise
    except (OSError, ValueError, SyntaxError) as error:
        remedy = "Open it in an image program; export it again as JPEG, PNG or TIFF"
        raise BadValue("photograph", name, "an image that can be read", remedy) from error
    buffer = io.BytesIO()
    upright.save(buffer, "JPEG", quality=_QUALITY)
    return Photograph(width, height, taken, buffer.getvalue())


def _check_size(image: Image.Image, name: str) -> None:
    """Refuse an image that would take more memory than a small machine has, whatever the file claims."""
    width, height = image.size
    if width * height > _MOST_PIXELS:
        came = f"{name}, of {width} × {height} pixels"
        allowed = f"at most {_MOST_PIXELS // 10**6} million pixels"
        raise BadValue("photograph", came, allowed, "Export it smaller, and keep the large file elsewhere")


def _upright_size(image: Image.Image) -> tuple[int, int]:
    width, height = image.size
    return (height, width) if image.getexif().get(_ORIENTATION, 1) in _ON_ITS_SIDE else (width, height)


def _taken(image: Image.Image) -> datetime | None:
    notes = image.getexif().get_ifd(_EXIF)
    try:
        taken = datetime.strptime(str(notes.get(_TAKEN, "")).strip("\0 "), _EXIF_TIME)
    except ValueError:
        return None
    offset = str(notes.get(_OFFSET, "")).strip("\0 ")
    try:
        return datetime.fromisoformat(f"{taken.isoformat()}{offset}")
    except ValueError:
        return taken


def figure_row(shown: Iterable[tuple[str, str]]) -> str:
    """Write small copies beside each other.

    Parameters
    ----------
    shown : iterable of (source, caption)
        A source may be empty where the file cannot be shown: the caption then says so.
    """
    return str(PIECES.photographs(list(shown)))
