"""Pictures are compared by what they say: what a reader could see fails, noise of the arithmetic does not."""

import numpy as np
import pytest

from bench.figures.style import finish, frame_curves, new_axes, point_to_curve
from tests.notebooks.pictures import say_the_same


def draw(*, noise: float = 0.0, end: float = 8.0, word: str = "core", color: str = "#0072b2") -> str:
    """Draw a curve that is clipped, marked and hatched, all from numbers that carry the noise."""
    figure, axes = new_axes()
    times = np.linspace(0.0, 24.0, 40) * (1 + noise)
    axes.plot(times, end * (1 - np.exp(-times / 6)), color=color, marker="o")
    axes.axvspan(2 * (1 + noise), 5, hatch="//", fill=False)
    frame_curves(axes, "hours", "moisture, %")
    point_to_curve(axes, (12, end / 2), (0.5, 0.5), word, color)
    return finish(figure, f"The {word} ends at {end:.1f} %.").svg


PLAIN = draw()


@pytest.mark.parametrize("noise", [1e-15, -1e-13, 1e-10])
def test_noise_of_the_arithmetic_leaves_a_picture_as_it_was(noise: float) -> None:
    assert say_the_same(PLAIN, draw(noise=noise))


def test_noise_gives_a_clip_no_other_name() -> None:
    assert draw(noise=1e-13) == PLAIN


@pytest.mark.parametrize(
    "other",
    [{"end": 8.1}, {"noise": 2e-3}, {"word": "face"}, {"color": "#d55e00"}],
    ids=["a number", "a curve moved by a tenth of a point", "a word", "a colour"],
)
def test_what_a_reader_can_see_fails(other: dict[str, float | str]) -> None:
    assert not say_the_same(PLAIN, draw(**other))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (">core<", ">core 2<"),
        (">15<", ">16<"),
        ("ends at 8.0 %", "ends at 8.1 %"),
        ("clip-path=", "clip-way="),
        ("stroke-width: 0.6", "stroke-width: 0.7"),
    ],
)
def test_each_part_of_a_picture_counts(old: str, new: str) -> None:
    assert old in PLAIN
    assert not say_the_same(PLAIN, PLAIN.replace(old, new))


def test_a_thing_left_out_fails() -> None:
    svg = '<svg><path d="M 0 0"/><path d="M 0 0"/></svg>'
    assert not say_the_same(svg, '<svg><path d="M 0 0"/></svg>')
    assert not say_the_same(svg, '<svg><path d="M 0 0"><path d="M 0 0"/></path></svg>')


def test_names_may_differ_but_not_what_they_name() -> None:
    svg = '<svg><g id="{0}"/><g id="{1}"/><use href="#{2}"/><use href="#{3}"/></svg>'
    assert say_the_same(svg.format("a", "b", "a", "b"), svg.format("p", "q", "p", "q"))
    assert not say_the_same(svg.format("a", "b", "a", "b"), svg.format("p", "q", "q", "p"))


def test_words_around_a_picture_count_in_full() -> None:
    assert not say_the_same(f"<p>4.41 mm</p>{PLAIN}", f"<p>4.42 mm</p>{draw(noise=1e-13)}")
    assert say_the_same(f"<p>4.41 mm</p>{PLAIN}", f"<p>4.41 mm</p>{draw(noise=1e-13)}")
    assert not say_the_same("4.410000 mm", "4.410001 mm")


def test_two_drawings_on_one_page_share_no_name() -> None:
    names = [
        set(part.split('"')[0] for part in svg.split('id="p')[1:] if "-" in part[:12])
        for svg in (PLAIN, draw(end=9.0))
    ]
    assert names[0]
    assert not names[0] & names[1]
