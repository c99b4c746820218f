"""Drawings that stand in for photographs of the invented annual: its front cover, before and after."""

from __future__ import annotations

import io

from PIL import Image, ImageDraw, ImageFont

PER_MM = 8  # pixels
_MARGIN, _RULE = 12, 16  # mm: table round the cover, and the strip with scale and grey patches below it
_WIDTH, _HEIGHT = 170, 258
_TABLE, _SKY, _EARTH, _TIN, _RUST, _INK = "#5b5853", "#e8d9a8", "#a9793f", "#b9c2c6", "#b5562f", "#2b2620"
# Creases and dents as lines on the cover, in mm from its upper left corner; the last two stay.
_CREASES = (
    ((4, 30), (16, 46)),
    ((5, 200), (22, 216)),
    ((120, 236), (166, 250)),
    ((60, 70), (84, 76)),
    ((7, 2), (8, 256)),
    ((150, 4), (168, 18)),
)


def draw_cover(*, creases: int, raking: bool) -> bytes:
    """Draw the cover lying on a table beside a scale, as PNG.

    Parameters
    ----------
    creases : int
        How many of the creases show, counted from the last.
    raking : bool
        In light from the left, which shows every crease as a bright and a dark line.
    """
    size = ((_WIDTH + 2 * _MARGIN) * PER_MM, (_HEIGHT + 2 * _MARGIN + _RULE) * PER_MM)
    image = Image.new("RGB", size, _TABLE)
    draw = ImageDraw.Draw(image)
    _draw_print(draw)
    for line in _CREASES[len(_CREASES) - creases :] if creases else ():
        _draw_crease(draw, line, raking)
    _draw_scale(draw)
    shown = image.point(lambda value: int(0.62 * value)) if raking else image
    buffer = io.BytesIO()
    shown.quantize(48).save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


def _px(*mm: float) -> tuple[int, ...]:
    return tuple(round((value + _MARGIN) * PER_MM) for value in mm)


def _draw_print(draw: ImageDraw.ImageDraw) -> None:
    """Draw what is printed: an orchard whose trees are of tin."""
    draw.rectangle(_px(0, 0, _WIDTH, _HEIGHT), fill=_SKY)
    draw.ellipse(_px(112, 50, 146, 84), fill="#d98f3a")
    draw.rectangle(_px(0, 196, _WIDTH, _HEIGHT), fill=_EARTH)
    for x, y, wide in ((22, 96, 34), (70, 118, 30), (118, 104, 36)):
        draw.rectangle(_px(x + wide / 2 - 3, y + wide, x + wide / 2 + 3, 206), fill=_RUST)
        for row in range(3):
            draw.rectangle(
                _px(x + 4 * row, y + row * 12, x + wide - 4 * row, y + row * 12 + 10), fill=_TIN, outline=_INK
            )
    draw.rectangle(_px(0, 0, _WIDTH, 42), fill=_RUST)
    for words, place, height in (
        ("THE TIN ORCHARD", (12, 8), 15),
        ("ANNUAL", (12, 24), 12),
        ("no. 2", (140, 26), 9),
        ("a drawing in place of a photograph", (12, 246), 6),
    ):
        font = ImageFont.load_default(size=height * PER_MM)
        draw.text(_px(*place), words, fill=_SKY, font=font)


def _draw_crease(draw: ImageDraw.ImageDraw, line: tuple[tuple[float, float], ...], raking: bool) -> None:
    (x0, y0), (x1, y1) = line
    bright, dark = ("#ffffff", "#3a3128") if raking else ("#f3ead0", "#c9b98c")
    draw.line(_px(x0, y0, x1, y1), fill=bright, width=5 if raking else 3)
    draw.line(_px(x0 + 0.7, y0, x1 + 0.7, y1), fill=dark, width=5 if raking else 2)


def _draw_scale(draw: ImageDraw.ImageDraw) -> None:
    """Draw a rule of 100 mm and six grey patches under the cover."""
    top = _HEIGHT + 5
    for step in range(10):
        fill = "#ffffff" if step % 2 else "#000000"
        draw.rectangle(_px(10 * step, top, 10 * step + 10, top + 5), fill=fill)
    for step in range(6):
        level = 255 - 51 * step
        draw.rectangle(_px(112 + 9 * step, top, 120 + 9 * step, top + 8), fill=(level, level, level))
    font = ImageFont.load_default(size=5 * PER_MM)
    draw.text(_px(0, top + 6), "100 mm", fill="#ffffff", font=font)
