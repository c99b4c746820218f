"""Photographs: taken in untouched, named, found again in the report; what is no picture is refused."""

import hashlib
import io
import os
import re
import resource
import zlib
from datetime import datetime, timedelta, timezone

import pytest
from PIL import Image

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.photographs import look_at
from bench.panels.photographs import build_photographs_panel
from bench.records.check import check_treatment
from bench.records.kept_files import PHOTOGRAPHS
from bench.writeup.collect import collect_report
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from tests.records.record_makers import in_child
from tests.writeup.case_makers import at, make_bare, make_full

# Exif 2.31 (CIPA DC-008): DateTimeOriginal, OffsetTimeOriginal, Orientation; numbers from memory.
TAKEN, OFFSET, DIRECTORY, ORIENTATION = 0x9003, 0x9011, 0x8769, 0x0112


def picture(size=(300, 200), color="white", kind="JPEG", notes=None, orientation=None):
    image, buffer, exif = Image.new("RGB", size, color), io.BytesIO(), Image.Exif()
    exif.get_ifd(DIRECTORY).update(notes or {})
    if orientation:
        exif[ORIENTATION] = orientation
    image.save(buffer, kind, exif=exif)
    return buffer.getvalue()


def claims(width, height):
    """A PNG that says how large it is, and then holds nothing: what a file claims costs no memory yet."""
    whole = picture((8, 8), kind="PNG")
    head = b"IHDR" + width.to_bytes(4, "big") + height.to_bytes(4, "big") + whole[24:29]
    return whole[:12] + head + zlib.crc32(head).to_bytes(4, "big") + whole[33:]


def test_an_image_that_claims_to_be_vast_is_refused_before_it_is_decoded():
    with pytest.raises(BadValue, match=r"vast\.png, of 20000 × 20000 pixels; allowed is at most 160 million"):
        look_at(claims(20_000, 20_000), name="vast.png")


@pytest.mark.slow
@pytest.mark.skipif(not hasattr(os, "fork"), reason="the memory of a process of its own is read")
@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF"])
def test_the_largest_image_keeps_to_the_memory_of_a_small_machine(kind):
    """144 million pixels; the peak of a process of its own, as the kernel counts it."""
    data = picture((12_000, 12_000), kind=kind)

    def look() -> None:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        seen = look_at(data)
        assert (seen.width, seen.height) == (12_000, 12_000)
        assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 1_100_000  # KiB

    assert in_child(look) == 0


def upload(panel, name, data):
    chosen = {"name": name, "type": "image/jpeg", "size": len(data), "content": memoryview(data)}
    panel.field("upload").widget.value = ({**chosen, "last_modified": at(2, 9)},)


@pytest.fixture
def treatment(tmp_path):
    return Treatment(make_full(tmp_path), clock=lambda: at(6, 12))


def rows(treatment):
    return treatment.latest.read("photographs").to_dict("records")


def test_a_file_is_kept_byte_for_byte_with_its_checksum(treatment):
    panel, data, before = build_photographs_panel(treatment), picture(), len(rows(treatment))
    assert not panel.can_save
    upload(panel, "IMG 0001.JPG", data)
    panel.field("scale").widget.value = "rule of 100 mm"
    assert "1 row to photographs" in panel.save()
    row = rows(treatment)[before]
    kept = treatment.record.folder / row["file"]
    assert kept.read_bytes() == data
    assert row["sha256"] == hashlib.sha256(data).hexdigest()
    assert (row["stage"], row["view"], row["light"]) == ("intake", "front cover", "normal")
    assert row["file"] == "photographs/img-0001.jpg"
    assert not [f for f in check_treatment(treatment.record.folder) if "photographs" in f.file]
    assert not panel.can_save  # the file is let go of, so that a second press adds nothing


def test_the_same_picture_is_not_taken_in_twice(treatment):
    panel, data = build_photographs_panel(treatment), picture()
    upload(panel, "a.jpg", data)
    panel.save()
    upload(panel, "b.jpg", data)
    assert not panel.can_save
    assert "recorded as front cover already" in panel.answer


def test_two_files_of_one_name_are_both_kept(treatment):
    first = PHOTOGRAPHS.keep(treatment.record, "cover.jpg", picture(color="red"))
    second = PHOTOGRAPHS.keep(treatment.record, "cover.jpg", picture(color="blue"))
    again = PHOTOGRAPHS.keep(treatment.record, "cover.jpg", picture(color="red"))
    assert (first, second, again) == ("photographs/cover.jpg", "photographs/cover-2.jpg", first)


@pytest.mark.parametrize("name", ["../../outside.jpg", "/etc/x.jpg", "..\\..\\x.jpg", "a\0b.jpg", ".jpg.jpg"])
def test_no_name_leads_out_of_the_folder(treatment, name):
    kept = treatment.record.folder / PHOTOGRAPHS.keep(treatment.record, name, picture())
    assert kept.resolve().parent == (treatment.record.folder / "photographs").resolve()


def test_a_file_put_into_the_folder_is_offered_and_stays_where_it_is(treatment):
    folder = treatment.record.folder / "photographs"
    folder.mkdir(exist_ok=True)
    (folder / "Back Cover.png").write_bytes(picture(kind="PNG"))
    assert "photographs/Back Cover.png" in PHOTOGRAPHS.waiting(treatment.record)
    panel = build_photographs_panel(treatment, moment="after")
    panel.field("waiting").widget.value = "photographs/Back Cover.png"
    panel.field("view").widget.value = "back cover"
    panel.save()
    row = rows(treatment)[-1]
    assert (row["file"], row["stage"], row["view"]) == ("photographs/Back Cover.png", "review", "back cover")
    assert [path.name for path in folder.glob("*ack*")] == ["Back Cover.png"]


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("notes.jpg", b"not a picture", "an image that can be read"),
        ("half.jpg", picture((2000, 1500))[:900], "an image that can be read"),
        ("notes.txt", picture(), "a name that ends in"),
    ],
)
def test_what_is_no_picture_is_refused_and_nothing_is_written(treatment, name, data, words):
    panel, before = build_photographs_panel(treatment), len(rows(treatment))
    upload(panel, name, data)
    said = panel.answer if not panel.can_save else ""
    if panel.can_save:
        panel._on_save(None)
        said = panel.status
    assert words in said
    assert len(rows(treatment)) == before


def test_the_camera_s_clock_is_read_with_its_offset_and_the_picture_turned_upright():
    notes = {TAKEN: "2026:03:02 09:15:00", OFFSET: "+01:00"}
    seen = look_at(picture((300, 200), notes=notes, orientation=6))
    assert seen.taken_at == datetime(2026, 3, 2, 9, 15, tzinfo=timezone(timedelta(hours=1)))
    assert (seen.width, seen.height) == (200, 300)


def test_a_broken_clock_of_the_camera_is_left_out():
    assert look_at(picture(notes={TAKEN: "0000:00:00 00:00:00"})).taken_at is None
    assert look_at(picture(notes={TAKEN: "2026:03:02 09:15:00"})).taken_at == datetime(2026, 3, 2, 9, 15)


def test_cautions_name_scale_resolution_and_ultraviolet(treatment):
    """By hand: 300 pixels over a cover of 258 mm are 1.2 pixels a millimetre, 30 an inch."""
    panel = build_photographs_panel(treatment)
    upload(panel, "a.jpg", picture())
    panel.field("light").widget.value = "ultraviolet"
    said = re.sub(r"<[^>]+>", "", panel._cautions.value)
    assert "No scale is named" in said
    assert "About 1 pixels a millimetre (30 an inch)" in said
    assert "goggles" in said


def test_views_without_a_picture_after_treatment_are_named(tmp_path):
    bare = Treatment(make_bare(tmp_path), clock=lambda: at(6, 12))
    panel = build_photographs_panel(bare)
    assert "No photograph is saved yet" in panel.answer
    upload(panel, "a.jpg", picture())
    panel.save()
    assert "Without a picture after treatment: front cover" in panel.answer


def test_the_report_shows_the_pictures_and_says_which_it_cannot_show(treatment):
    panel = build_photographs_panel(treatment)
    upload(panel, "a.jpg", picture())
    panel.save()
    page = render_html(collect_report(treatment.latest, by="M. Tallow", at=at(12, 9)))
    assert page.count('src="data:image/jpeg;base64,') == 1
    assert "front cover, before treatment, light: normal" in page
    (treatment.record.folder / rows(treatment)[-1]["file"]).unlink()
    report = collect_report(treatment.latest, by="M. Tallow", at=at(12, 9))
    assert "a file in the folder of the treatment" in render_html(report)
    assert "](<photographs/a.jpg>)" in render_markdown(report)


def test_a_folder_that_cannot_be_written_is_told(treatment, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("bench.records.disk.replace_file", full)
    panel, before = build_photographs_panel(treatment), len(rows(treatment))
    upload(panel, "a.jpg", picture())
    panel._on_save(None)
    assert "Nothing was saved" in panel.status
    assert len(rows(treatment)) == before
    with pytest.raises(BadValue):
        PHOTOGRAPHS.keep(treatment.record, "a.gif", b"")
