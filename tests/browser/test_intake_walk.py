"""Intake and cleaning as a user works them: answered, saved, and found in the tables."""

from __future__ import annotations

SAY = ".bench-intake .say"
REASON = "Seen under the loupe with the owner, and dry for years"


def answer_says(book, panel, words):
    book.page.wait_for_function(
        "([css, words]) => document.querySelector(css).innerText.includes(words)",
        arg=[f".bench-{panel} .bench-answer", words],
    )


def save(book, panel):
    foot = book.page.locator(f".bench-{panel} .bench-end")
    foot.locator(".bench-save:not([disabled])").press("Enter")  # a key does not wait for it
    foot.locator("[role=status]").wait_for()
    return foot.inner_text()


def test_a_gate_decides_and_a_written_reason_overrides_it(book, lab):
    book.open("01_intake").run_all()
    book.check_sound("01_intake")
    page = book.page
    assert "Treat" in page.locator(".bench-intake .tag").first.inner_text()
    assert "Save" in page.locator(".bench-intake .bench-save").inner_text()
    gate = page.locator(".bench-intake .field-past_mould select")
    reason = page.locator(".bench-intake .field-override_past_mould textarea")
    assert not reason.is_visible()
    gate.select_option(label="yes, dry and old")
    answer_says(book, "intake", "Refer")
    reason.fill("fine")
    reason.press("Tab")
    page.locator(".bench-intake .why", has_text="a written reason of 6 words or more").wait_for()
    assert page.locator(".bench-intake .bench-save").is_disabled()
    reason.fill(REASON)
    reason.press("Tab")
    answer_says(book, "intake", "no humidity")
    assert "Saved" in save(book, "intake")
    (saved,) = [row for row in lab.rows("decisions") if row["gate"] == "past mould"]
    assert (saved["decision"], saved["reason"]) == ("override", REASON)
    gate.select_option(label="none")
    page.wait_for_function(f"() => !document.querySelector('{SAY}').innerText.includes('no humidity')")
    assert "Saved" in save(book, "intake")
    assert lab.rows("decisions")[-1]["decision"] == "treat"
    assert book.errors == []


def test_soil_moves_the_plan_and_a_pass_reaches_the_log(book, lab):
    book.open("02_cleaning").run_all()
    book.check_sound("02_cleaning")
    page = book.page
    bare = ".bench-cleaning .field-bare_cover_outside input[type=range]"
    book.press(bare, "End", ".bench-cleaning .bench-answer")  # a bare cover gains more
    for key, value in (("area", "400"), ("time", "5")):
        entry = page.locator(f".bench-cleaning-log .field-{key} input")
        entry.fill(value)
        entry.press("Tab")
    answer_says(book, "cleaning-log", "80 cm² a minute")
    before = len(lab.rows("log"))
    assert "Saved 3 rows to log" in save(book, "cleaning-log")
    assert len(lab.rows("log")) == before + 3
    assert book.errors == []


def test_a_defect_is_boxed_by_hand_on_the_face_and_lands_in_the_table(book, lab):
    """By mouse, then moved by keys; what is saved is what was drawn, within a millimetre."""
    book.open("01_intake")
    page = book.page
    panel = page.locator(".bench-defects")
    panel.locator(".field-term select").select_option(label="crease")
    panel.locator(".field-face select").select_option(label="front cover, outside")
    pad = panel.locator(".bench-face svg")
    pad.scroll_into_view_if_needed()
    frame = pad.bounding_box()
    width, height = (float(row_of(lab)[side]) for side in ("width_mm", "height_mm"))
    scale = (frame["height"] - 2) / height
    left, top = frame["x"] + 1, frame["y"] + 1
    page.mouse.move(left + 40 * scale, top + 60 * scale)
    page.mouse.down()
    page.mouse.move(left + 90 * scale, top + 100 * scale, steps=5)
    page.mouse.up()
    page.wait_for_function("() => document.querySelector('.bench-defects .field-height input').value !== ''")
    for _ in range(3):
        pad.press("ArrowRight")
    page.wait_for_function(  # the fields follow what was drawn; this treatment is read in inches
        """() => Math.abs(document.querySelector('.bench-defects .field-x input').value - 43 / 25.4) < 0.02
            && !document.querySelector('.bench-defects .bench-save').disabled"""
    )
    assert "Saved 1 row" in save(book, "defects")
    row = lab.rows("defects")[-1]
    found = [float(row[side]) for side in ("x_mm", "y_mm", "width_mm", "height_mm")]
    assert all(abs(a - b) <= 1.0 for a, b in zip(found, (43, 60, 50, 40), strict=True)), found
    assert found[0] + found[2] <= width


def row_of(lab):
    return lab.rows("treatment")[-1]
