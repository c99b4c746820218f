"""A walk through the workbook as its user takes it: run, move a control, save, look into the table."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
WALKED = ("01_intake", "02_cleaning", "03_humidity", "04_buffering", "05_pressing")  # opened by walks anyway
OTHERS = sorted(
    {path.stem for path in (ROOT / "workbook").glob("*.ipynb") if not path.stem.startswith("trials_")}
    - {*WALKED}
)
INTERVAL = ".field-interval input[type=range]"
SAY = ".bench-buffering .say"
PLANNED = ("buffering-2", "leaves between sheets")


def current(lab, table):
    """Rows that no later row replaces."""
    found = lab.rows(table)
    replaced = {row["replaces"] for row in found}
    return [row for row in found if row["row"] not in replaced]


def save(book, panel):
    page = book.page
    page.locator(f".bench-{panel} .bench-save").click()
    page.locator(f".bench-{panel} .bench-end [role=status]").wait_for()
    return page.locator(f".bench-{panel} .bench-end").inner_text()


@pytest.mark.parametrize("name", OTHERS)
def test_every_notebook_runs_and_its_panels_fit(book, name):
    book.open(name)
    if name.startswith("appendix"):  # stored pictures show before anything is run
        outputs = [output for cell in book.cells() for output in cell["outputs"]]
        stored = [output for output in outputs if "image/svg+xml" in output.get("data", {})]
        assert stored
        assert book.page.locator(".jp-RenderedSVG").count() == len(stored)
    book.run_all()
    book.check_sound(name)


@pytest.fixture(scope="module")
def buffering(shared):
    """Open the page of buffering once for the tests that follow each other here."""
    shared.open("04_buffering").run_all()
    return shared


def test_a_control_moved_by_keyboard_changes_the_answer_and_save_reaches_the_table(buffering, lab):
    book = buffering  # the sample stands at its second cycle
    assert "every 7 or 8 leaves" in book.page.locator(SAY).inner_text()
    before = len(lab.rows("plans"))
    book.press(INTERVAL, "ArrowLeft", SAY)
    assert "every 6 or 7 leaves" in book.page.locator(SAY).inner_text()
    assert len(lab.rows("plans")) == before  # nothing is written but by Save
    assert "Saved" in save(book, "buffering")
    saved = [r for r in current(lab, "plans") if (r["plan"], r["quantity"]) == PLANNED]
    assert [float(r["value"]) for r in saved] == [7]


def test_a_list_of_choices_keeps_its_keys(buffering):
    """An arrow in a list chooses the next entry, and an X does not cut the cell."""
    book, page = buffering, buffering.page
    cells = len(book.cells())
    sheet = page.locator(".bench-buffering .field-sheet select")
    sheet.focus()
    chosen = sheet.evaluate("e => e.selectedIndex")
    sheet.press("ArrowUp" if chosen else "ArrowDown")
    assert sheet.evaluate("e => e.selectedIndex") != chosen
    sheet.press("x")
    page.wait_for_timeout(300)
    assert len(book.cells()) == cells


def test_units_follow_one_switch(buffering):
    book = buffering
    answer = ".bench-buffering .bench-answer"
    assert " thou" in book.page.locator(answer).text_content()  # folded away, some of it
    book.page.locator(".bench-buffering .bench-units button", has_text="mm").click()
    book.page.wait_for_function(f"() => !document.querySelector('{answer}').textContent.includes(' thou')")


def test_a_bad_entry_disables_save_with_the_reason_beside_the_field(buffering):
    page = buffering.page
    page.locator(".bench-buffering .field-load_by select").select_option(label="by mass on top")
    entry = page.locator(".bench-buffering .field-load_number input")
    entry.fill("-3")
    entry.press("Enter")
    page.locator(".bench-buffering .why", has_text="is -3 kg; allowed is 0 kg or more").wait_for()
    assert page.locator(".bench-buffering .bench-save").is_disabled()
    entry.fill("12")
    entry.press("Enter")
    page.wait_for_function("() => !document.querySelector('.bench-buffering .bench-save').disabled")


def test_a_number_typed_beyond_the_slider_is_refused_in_words_and_never_another(buffering):
    page, panel = buffering.page, ".bench-buffering"
    number = page.locator(f"{panel} .field-interval input[type=text]")
    for typed, came in (("400", "400"), ("7.5", "'7.5'")):
        number.fill(typed)
        number.press("Enter")
        words = f"leaves is {came}; allowed is a whole number, 2 to 12. Enter one of these."
        page.locator(f"{panel} .why", has_text=words).wait_for()
        assert number.input_value() == typed, "what was typed stands, to be mended"
        assert number.get_attribute("aria-invalid") == "true"
        assert page.locator(f"{panel} .bench-save").is_disabled()
    number.fill("6")
    number.press("Enter")
    page.locator(SAY, has_text="every 5 or 6 leaves").wait_for()
    assert page.locator(f"{panel} .field-interval input[type=range]").input_value() == "6"


def test_from_the_chamber_to_the_press(book, lab):
    """Humidify, buffer, press: each answer moves with its control and reaches the tables by Save."""
    page = book.page
    book.open("03_humidity").run_all()
    book.check_sound("03_humidity")
    book.press(".bench-humidity .field-hours input[type=range]", "ArrowLeft", ".bench-humidity .say")
    assert "Leave it 23 h" in page.locator(".bench-humidity .say").inner_text()
    assert "Saved" in save(book, "humidity")
    assert value_of(lab, "humidity-2", "hours in the chamber") == 23

    book.open("04_buffering").run_all()
    book.check_sound("04_buffering")
    book.press(INTERVAL, "ArrowLeft", SAY)
    save(book, "buffering")

    book.open("05_pressing").run_all()
    book.check_sound("05_pressing")
    dwell = page.locator(".bench-pressing .field-dwell input")
    old = page.locator(".bench-pressing .say").inner_text()
    dwell.fill("1200")
    dwell.press("Enter")
    assert "20 min" in book.wait_for_change(".bench-pressing .say", old)
    assert "Saved" in save(book, "pressing")
    assert value_of(lab, "pressing-2", "dwell") == 20
    assert any(row["stage"] == "pressing" for row in current(lab, "steps"))
    click_last_block(page)
    assert book.external == []
    assert book.errors == []


# The last block on the schedule whose step is still to be done: its step, its middle on the page, its width.
BLOCK = """() => {
    const box = document.querySelector('.bench-schedule .bench-chart-drawing');
    const frame = box?.querySelector('.nsewdrag')?.getBoundingClientRect();
    const block = box?.data?.filter(trace => trace.hoveron && trace.customdata && trace.line.width).at(-1);
    if (!frame || !block) return null;
    const { xaxis, yaxis } = box._fullLayout;
    return [
        block.customdata[0],
        frame.left + xaxis.d2p((block.x[0] + block.x[1]) / 2),
        frame.top + yaxis.d2p((block.y[0] + block.y[2]) / 2),
        xaxis.d2p(block.x[1]) - xaxis.d2p(block.x[0]),
    ];
}"""


def click_last_block(page):
    """Click beside a short block of the schedule, as a hand does: its step is chosen."""
    page.set_viewport_size({"width": 800, "height": 1000})
    page.locator(".bench-schedule .bench-chart").scroll_into_view_if_needed()
    page.wait_for_function(BLOCK)
    page.locator(".bench-schedule .bench-chart-hint").scroll_into_view_if_needed()  # beneath the picture
    page.wait_for_timeout(500)
    step, x, y, width = page.evaluate(BLOCK)
    assert width < 12, "a block stays as short as its time"
    x += 9
    page.mouse.move(x - 1, y)
    page.mouse.move(x, y)
    page.locator(".bench-schedule .hoverlayer", has_text=step).wait_for()
    page.mouse.click(x, y)
    page.wait_for_function(
        "step => [...document.querySelectorAll('.bench-schedule select')].some(one =>"
        " one.selectedOptions[0].text.startsWith(step))",
        arg=step,
    )


def value_of(lab, plan, quantity):
    """Value of one planned quantity, as the table holds it now."""
    (found,) = [row for row in current(lab, "plans") if (row["plan"], row["quantity"]) == (plan, quantity)]
    return float(found["value"])
