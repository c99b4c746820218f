"""The panel of a data logger: what it proposes, what it says, what it refuses, what Save keeps."""

import io
import re
import time
import zipfile
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pytest

from bench.desk import Treatment, open_treatment
from bench.panels.humidity import build_humidity_panel
from bench.panels.logged import build_logged_panel
from bench.records.check import check_treatment
from bench.records.nouns import happened
from bench.treatment.actual.observed import find_stay
from bench.writeup.collect import collect_report
from bench.writeup.markdown import render_markdown

pytestmark = pytest.mark.slow

NOON = datetime(2026, 3, 6, 12, tzinfo=UTC)
HEAD = "Time,Temperature (°C),Humidity (%)\n"


@pytest.fixture
def treatment(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    return open_treatment("tin-orchard-annual-2")


def stay_of(treatment, cycle):
    return find_stay(happened(treatment.record, "humidity", cycle)[1])


def rise(hour):
    return 97.0 - 27.0 * np.exp(-hour / 1.5)


def lines(stay, *, step=300, zone=None, head=HEAD, write="{:%Y-%m-%d %H:%M:%S},{:.1f},{:.1f}", warm=22.0):
    """Write the file of a logger that stood in the chamber from an hour before to an hour after."""
    seconds = np.arange(-3600, stay.hours * 3600 + 3600, step)
    moments = [
        (stay.begins + timedelta(seconds=float(s))).astimezone(zone or stay.begins.tzinfo) for s in seconds
    ]
    humid = [rise(max(0.0, s / 3600)) for s in seconds]
    return (head + "\n".join(write.format(m, warm, h) for m, h in zip(moments, humid, strict=True))).encode()


def upload(panel, data, name="logger.csv"):
    chosen = {"name": name, "type": "text/csv", "size": len(data), "content": memoryview(data)}
    panel.field("upload").widget.value = ({**chosen, "last_modified": NOON},)


def below(panel, key):
    return panel.field(key).below.value


def test_without_a_file_it_is_a_quiet_hint(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    assert "No logger is kept yet." in panel.answer
    assert 'class="why"' not in panel.answer + panel.status
    assert "Choose a file first." in panel.status
    assert not panel.can_save


def test_a_file_is_read_told_saved_and_found_again(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    data = lines(stay_of(treatment, 1))
    upload(panel, data)
    assert panel.field("temperature").widget.value == "Temperature (°C)"
    assert "changed" not in panel._fold._button.description  # it was proposed
    assert panel.field("zone").widget.value == "+01:00"
    assert "chamber stood" in panel.answer
    assert "The innermost leaf came to" in panel.answer
    words = panel.save()
    assert "1 row to loggers" in words
    assert "kept as loggers/logger.csv" in words
    assert "another window" not in words  # the record was widened, by nobody else
    (row,) = treatment.latest.rows("loggers")
    assert (row["stage"], row["cycle"], row["place"], row["zone"]) == ("humidity", 1, "chamber", "+01:00")
    assert (treatment.record.folder / row["file"]).read_bytes() == data
    assert not [fault for fault in check_treatment(treatment.record.folder) if "logger" in str(fault)]
    assert "chamber stood" in panel.answer  # the kept file is chosen now
    assert "nothing new" in panel.save().lower()
    again = build_logged_panel(Treatment(treatment.latest), cycle=1)
    again.field("kept").widget.value = row["file"]
    assert again.field("humidity").widget.value == "Humidity (%)"
    again.field("correction").widget.value = "-2"
    again.save()
    (row,) = treatment.latest.rows("loggers")
    assert row["correction"] == -2.0
    assert build_logged_panel(Treatment(treatment.latest), cycle=1).field("correction").widget.value == "0"


def test_what_a_kept_logger_was_told_comes_back_with_it(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    upload(panel, lines(stay_of(treatment, 1)))
    panel.field("ahead").widget.value = "7"
    panel.field("correction").widget.value = "1.5"
    panel.field("place").widget.value = "room"
    assert "kept as the air of the room" in panel.answer
    panel.save()
    again = build_logged_panel(treatment, cycle=1)
    again.field("kept").widget.value = "loggers/logger.csv"
    told = [again.field(key).widget.value for key in ("ahead", "correction", "place")]
    assert told == ["7", "1.5", "room"]


def test_fahrenheit_zone_and_a_clock_that_is_ahead_give_the_same_answer(treatment):
    stay = stay_of(treatment, 1)
    plain, other = (build_logged_panel(treatment, cycle=1) for _ in range(2))
    upload(plain, lines(stay))
    zone = timezone(timedelta(hours=-5))
    upload(
        other,
        lines(
            stay, zone=zone, head="Date Time;T °F;RH\n", write="{:%d.%m.%Y %H:%M:%S};{:.1f};{:.1f}", warm=71.6
        ),
    )
    assert other.field("unit").widget.value == "degF"
    assert other.field("dates").widget.value == "day first"
    assert other.answer != plain.answer
    other.field("zone").widget.value = "-05:00"
    assert other.answer.split("<details")[0] == plain.answer.split("<details")[0]
    other.field("ahead").widget.value = "600"
    assert other.answer != plain.answer


def test_the_second_cycle_is_held_against_its_own_plan(treatment):
    panel = build_logged_panel(treatment, cycle=2)
    stay = stay_of(treatment, 2)
    upload(panel, lines(stay))
    assert panel.result.told.plan.cycle == 2
    assert panel.result.told.stay == stay
    panel.save()
    assert [row["cycle"] for row in treatment.latest.rows("loggers")] == [2]
    assert "No logger is kept yet." in build_logged_panel(treatment, cycle=1).answer


def test_it_is_held_against_the_plan_as_its_panel_shows_it(treatment):
    chamber = build_humidity_panel(treatment, cycle=2)
    chamber.field("ratio").widget.value = "soft, open paper"
    chamber.field("area").widget.value = "400"
    chamber.field("hours").widget.value = 22
    chamber.save()
    panel = build_logged_panel(treatment, cycle=2)
    upload(panel, lines(stay_of(treatment, 2)))
    for name in ("mean", "core", "air"):
        shown, held = (getattr(plan.end, name) for plan in (chamber.plan(), panel.result.told.plan))
        assert str(shown) == str(held)


def spreadsheet():
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as file:
        file.writestr("xl/workbook.xml", "<workbook/>")
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("cover.jpg", b"\xff\xd8\xff", "a name that ends in csv, txt, xlsx, ods"),
        ("cover.csv", b"\xff\xd8\xff\xe0" + bytes(range(256)) * 9, "without a table"),
        ("empty.csv", b"", "without a table"),
        ("sheet.csv", spreadsheet(), "ave the sheet as CSV"),
        ("spoilt.csv", (HEAD + "########,21.0,60.0\n" * 50).encode(), "a table|without a table|readings"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_beside_its_field(treatment, name, data, words):
    panel = build_logged_panel(treatment, cycle=1)
    panel.field("correction").widget.value = "2"
    upload(panel, data, name)
    assert re.search(words, below(panel, "upload"))
    assert not panel.can_save
    assert panel.field("correction").widget.value == "2"
    assert not (treatment.record.folder / "loggers").exists()
    upload(panel, lines(stay_of(treatment, 1)))
    assert "chamber stood" in panel.answer
    assert 'class="why"' not in below(panel, "upload")


def test_a_column_or_a_zone_that_does_not_fit_is_refused_beside_its_field(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    upload(panel, lines(stay_of(treatment, 1)))
    panel.field("zone").widget.value = "the moon"
    assert "Look at the logger" in below(panel, "zone")
    panel.field("zone").widget.value = "+01:00"
    panel.field("humidity").widget.value = ""
    assert "Choose one of these" in below(panel, "humidity")


def test_another_year_is_kept_but_not_held_against_the_plan(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    upload(panel, lines(stay_of(treatment, 1)).replace(b"2026-", b"2025-"))
    assert "cannot be held against the plan" in panel.answer
    assert "Check the zone and the clock of the logger" in panel.answer
    assert panel.can_save


def test_five_readings_are_told_with_what_they_leave_open(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    stay = stay_of(treatment, 1)
    upload(panel, lines(stay, step=stay.hours * 3600 / 4))
    assert "Nothing was read from" in panel.answer
    assert "The leaves are not followed" in panel.answer


def test_a_hundred_thousand_lines_answer_in_about_a_second(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    data = lines(stay_of(treatment, 1), step=0.93, write="{:%Y-%m-%d %H:%M:%S.%f},{:.1f},{:.1f}")
    assert data.count(b"\n") > 95_000
    begin = time.process_time()
    upload(panel, data)
    print(f"{time.process_time() - begin:.2f} s of processor time")
    assert "chamber stood" in panel.answer


def test_the_report_tells_what_a_kept_logger_said(treatment):
    panel = build_logged_panel(treatment, cycle=1)
    upload(panel, lines(stay_of(treatment, 1)))
    said = panel.result.row["said"]
    panel.save()
    words = render_markdown(collect_report(treatment.latest, at=NOON, by="M. Tallow"))
    assert "Logger in the chamber, cycle 1:" in words
    assert said.split(":")[0] in words
    bare = render_markdown(
        collect_report(open_treatment("saltmarsh-signal-31").record, at=NOON, by="M. Tallow")
    )
    assert "Logger in the" not in bare
