"""Pictures under a real hand: hover, click, drag, keys and touch; one plotly a page, no outside request."""

import re

import pytest

HUMIDITY, NAMES = ".bench-humidity", ".bench-humidity .bench-chart-names button"
FRAME = f"{HUMIDITY} .nsewdrag"
HOURS = f"{HUMIDITY} .field-hours input[type=text]"


@pytest.fixture(scope="module")
def chamber(shared):
    """Open the page of the chamber once for the tests that follow each other on it."""
    shared.open("03_humidity").run_all()
    show_first(shared)
    return shared


def show_first(book):
    """Scroll to the first picture of the panel, which is drawn once it is in sight."""
    book.page.locator(f"{HUMIDITY} .bench-chart").first.scroll_into_view_if_needed()
    book.page.locator(f"{HUMIDITY} .bench-chart[data-drawn] .main-svg").first.wait_for()


def place(book, share):
    """Give a place within the frame of the first picture, by its share of the width."""
    frame = book.page.locator(FRAME).first
    frame.scroll_into_view_if_needed()
    box = frame.bounding_box()
    return box["x"] + share * box["width"], box["y"] + 0.5 * box["height"]


def hours(book):
    return int(book.page.locator(HOURS).first.input_value())


def wait_for_hours(book, wanted):
    book.page.wait_for_function(
        "([css, wanted]) => document.querySelector(css).value === String(wanted)", arg=[HOURS, wanted]
    )


def spec(book):
    """Give what the page was told to draw in the first picture of the panel."""
    return book.page.evaluate(
        f"""() => {{ const box = document.querySelector('{HUMIDITY} .bench-chart-drawing');
             return {{x: box.data.map(t => t.x), said: box.data.map(t => t.customdata || []),
                      template: box.data.map(t => t.hovertemplate || ''),
                      names: box.data.map(t => t.name || ''), range: box.layout.xaxis.range}} }}"""
    )


def test_hovering_says_what_the_plan_holds_at_that_hour(chamber):
    told = spec(chamber)
    number = told["names"].index("innermost leaf")
    index = len(told["x"][number]) // 2
    words = told["template"][number].removesuffix("<extra></extra>")
    for place_in, value in enumerate(told["said"][number][index]):
        words = words.replace(f"%{{customdata[{place_in}]}}", value)
    assert re.fullmatch(r"innermost leaf: \d+ % RH \(\d+ to \d+\)", words)
    low, high = told["range"]
    chamber.page.mouse.move(*place(chamber, (told["x"][number][index] - low) / (high - low)))
    box = chamber.page.locator(f"{HUMIDITY} .hoverlayer").first
    chamber.page.wait_for_function(
        "([css, words]) => document.querySelector(css).textContent.includes(words)",
        arg=[f"{HUMIDITY} .hoverlayer", words],
    )
    assert "average of the leaves: " in box.text_content()


def test_a_click_on_the_curve_sets_the_hours_and_the_answer_follows(chamber):
    low, high = spec(chamber)["range"]
    chamber.page.mouse.click(*place(chamber, (12 - low) / (high - low)))
    wait_for_hours(chamber, 12)
    chamber.page.locator(f"{HUMIDITY} .say", has_text=re.compile(r"\b12 h\b")).first.wait_for()


def test_a_drag_sets_the_hours_and_the_axis_stands_still_meanwhile(chamber):
    page = chamber.page
    before = spec(chamber)["range"]
    page.mouse.move(*place(chamber, 0.2))
    page.mouse.down()
    for share in (0.3, 0.5, 0.7):
        page.mouse.move(*place(chamber, share), steps=4)
    wanted = round(before[0] + 0.7 * (before[1] - before[0]))
    wait_for_hours(chamber, wanted)
    assert spec(chamber)["range"] == before
    page.mouse.up()
    page.wait_for_function(
        f"old => document.querySelector('{HUMIDITY} .bench-chart-drawing').layout.xaxis.range[1] !== old",
        arg=before[1],
    )
    assert hours(chamber) == wanted


def test_the_slider_is_the_equal_of_the_drag_by_keyboard(chamber):
    before = hours(chamber)
    chamber.press(f"{HUMIDITY} .field-hours input[type=range]", "ArrowLeft", f"{HUMIDITY} .say")
    wait_for_hours(chamber, before - 1)


def test_a_curve_is_put_aside_by_key_and_comes_back(chamber):
    button = chamber.page.locator(NAMES, has_text="innermost leaf")
    shown = f"""() => document.querySelector('{HUMIDITY} .bench-chart-drawing').data
        .filter(t => t.meta === 'innermost leaf' && t.visible !== false).length"""
    assert chamber.page.evaluate(shown) == 2, "a curve and its band"
    button.press("Enter")
    chamber.page.wait_for_function(f"() => ({shown})() === 0")
    assert button.get_attribute("aria-pressed") == "false"
    button.press("Enter")
    chamber.page.wait_for_function(f"() => ({shown})() === 2")


def test_the_numbers_can_be_read_as_a_table(chamber):
    numbers = chamber.page.locator(f"{HUMIDITY} .bench-chart-numbers").first
    numbers.locator("summary").press("Enter")
    numbers.locator("th").first.wait_for()  # written once it is seen to be open
    head = numbers.locator("th").all_inner_texts()
    assert head[1:4] == ["air of the chamber", "average of the leaves", "innermost leaf"]
    told = spec(chamber)
    last = numbers.locator("tr").last.locator("td").all_inner_texts()
    value, low, high = told["said"][told["names"].index("innermost leaf")][-1]
    assert last[3] == f"{value} % RH ({low} to {high})"
    numbers.locator("summary").press("Enter")


def test_what_is_kept_lies_in_grey_beneath(chamber):
    chamber.page.locator(f"{HUMIDITY} .bench-keep").press("Enter")
    chamber.press(f"{HUMIDITY} .field-hours input[type=range]", "ArrowRight", f"{HUMIDITY} .say")
    chamber.page.locator(NAMES, has_text="kept before").first.wait_for()
    assert "kept: innermost leaf" in spec(chamber)["names"]
    chamber.page.locator(f"{HUMIDITY} .bench-keep").press("Enter")
    chamber.page.locator(f"{HUMIDITY} .bench-chart").first.scroll_into_view_if_needed()
    chamber.page.wait_for_function(
        f"""() => document.querySelector('{HUMIDITY} .bench-chart-drawing').data
            .every(t => t.meta !== 'kept')"""
    )


def test_answer_and_save_stay_in_sight_while_the_page_scrolls(chamber):
    for size in ({"width": 1400, "height": 900}, {"width": 800, "height": 1200}):
        chamber.page.set_viewport_size(size)
        panel = chamber.page.locator(HUMIDITY).first
        panel.evaluate("e => e.scrollIntoView()")
        scroller = chamber.page.locator(".jp-NotebookPanel:not(.lm-mod-hidden) .jp-WindowedPanel-outer")
        scroller.evaluate("e => { e.scrollTop += 700 }")
        chamber.page.wait_for_timeout(200)
        for part in (".say", ".bench-save"):
            box = chamber.page.locator(f"{HUMIDITY} {part}").first.bounding_box()
            assert 60 < box["y"] < 0.5 * size["height"], f"{part} at {size['width']} px"
    chamber.page.set_viewport_size({"width": 1400, "height": 1000})


def test_all_pictures_of_a_page_share_one_plotly_and_ask_nobody_else(chamber):
    page = chamber.page
    charts = page.locator(".bench-chart").all()
    assert len(charts) >= 3, "in the panel and in the chapter"
    for chart in charts:  # drawn once somebody comes near
        chart.scroll_into_view_if_needed()
        chart.locator(".main-svg").first.wait_for()
    scripts = "() => [...document.scripts].filter(s => s.src.includes('/static/plotly.min.js')).length"
    assert page.evaluate(scripts) == 1
    assert chamber.external == []
    assert chamber.errors == []


def test_without_the_server_s_script_the_kernel_sends_it(book):
    """As in a Jupyter that was not started by the workbook."""
    book.page.route("**/static/plotly.min.js", lambda route: route.abort())
    book.open("03_humidity")
    show_first(book)
    assert book.page.locator(f"{HUMIDITY} .bench-chart .scatterlayer path").count() > 0
