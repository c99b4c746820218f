"""Weighings entered by keyboard alone: the answer follows, Save writes them, and they stand there again."""

from tests.browser.test_walk import current, save

PANEL = ".bench-weighing"
MADE_UP = "0 104.19; 0.75 105.24; 2 106.40; 5 108.08; 8 109.11; 24 111.45"  # drawn from the model for this annual


def test_weighings_are_entered_saved_and_shown_again(book, lab):
    page = book.page
    book.open("03_humidity").run_all()
    entry = page.locator(f"{PANEL} .field-weighings textarea")
    entry.focus()
    page.keyboard.insert_text(MADE_UP)
    page.keyboard.press("Tab")
    page.locator(f"{PANEL} .say", has_text="Vapour passes this pile").wait_for()
    assert page.locator(f"{PANEL} .bench-save").is_disabled()
    page.locator(f"{PANEL} .field-use button", has_text="use it").press("Enter")
    page.locator(f"{PANEL} .field-reason input").fill("six looks agree")
    page.keyboard.press("Tab")
    page.wait_for_function(f"() => !document.querySelector('{PANEL} .bench-save').disabled")
    book.screenshot("weighing", 800, PANEL)
    assert "Saved" in save(book, "weighing")
    masses = [row["value"] for row in current(lab, "readings") if row["place"] == "item in the chamber"]
    assert [float(mass) for mass in masses] == [104.19, 105.24, 106.40, 108.08, 109.11, 111.45]

    book.open("03_humidity").run_all()
    assert "24 111.45" in page.locator(f"{PANEL} .field-weighings textarea").input_value()
    chosen = page.locator(".bench-humidity .field-ratio select option:checked").inner_text()
    assert chosen.split()[:2] == ["from", "weighings:"]  # the list sets hard blanks
    book.screenshot("humidity-weighed", 800, ".bench-humidity")
    assert book.external == []
    assert book.errors == []
