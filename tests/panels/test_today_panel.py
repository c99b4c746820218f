"""The page of the day and the panel of what was seen: touches, counts, alarms, and what review finds."""

import re
import shutil
from datetime import datetime, timedelta, timezone

import pytest

from bench.desk import Treatment
from bench.handover.review import read_cycle
from bench.panels.buffering import build_buffering_panel
from bench.panels.day import Day, open_day
from bench.panels.humidity import build_humidity_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.seen import build_seen_panel
from bench.panels.today import TodayBoard, build_today_panel
from bench.records import nouns
from bench.records.check import check_treatment
from bench.records.store import create_treatment, open_record
from bench.treatment import facts
from bench.treatment.weighing.lines import find_saved, say_rows
from tests.panels.test_stage_panels import make

pytestmark = pytest.mark.slow

ZONE = timezone(timedelta(hours=1))
ANNUAL, REFERRED = "tin-orchard-annual-2", "gale-cove-pictorial-4"


def at(day, hour, minute=0, second=0):
    return datetime(2026, 3, day, hour, minute, second, tzinfo=ZONE)


@pytest.fixture(scope="module")
def planned(tmp_path_factory):
    """An annual with chamber, sheets and press planned, and an item of which nothing is."""
    folder = tmp_path_factory.mktemp("records")
    treatment = make(folder)
    treatment.now = lambda: at(2, 8)
    build_humidity_panel(treatment).save()
    build_buffering_panel(treatment).save()
    build_pressing_panel(treatment).save()
    row = {"title": "Gale Cove Pictorial, no. 4", "conservator": "M. Tallow", "length_unit": "mm"}
    rows = {"treatment": [{**row, "temperature_unit": "degC"}]}
    create_treatment(folder, REFERRED, rows, by="M. Tallow", at=at(2, 8))
    return folder


class Hand:
    """Somebody at the page, with a clock that is set by hand."""

    def __init__(self, folder):
        self.clock = at(2, 9)
        self.day = Day(folder, clock=lambda: self.clock)
        self.board = TodayBoard(self.day)
        self.seen = build_seen_panel(self.day)
        self.folder = folder / ANNUAL

    def touch(self, what, *clock, key=ANNUAL):
        if clock:
            self.clock = at(*clock)
            self.board.refresh()
        button = self.board.card(key).buttons[what]
        assert button.layout.display != "none", f"{what} is not offered"
        button.click()
        return plain(self.board.status)

    def write(self, *clock, **values):
        self.clock = at(*clock)
        for key, value in values.items():
            self.seen.field(key).widget.value = value
        return self.seen.save()

    @property
    def card(self):
        return plain(self.board.card(ANNUAL).words.value)

    @property
    def record(self):
        return open_record(self.folder)

    def steps(self):
        return {step.name: step for step in reversed(nouns.timeline_of(self.record).steps)}

    def log(self):
        return self.record.read("log")


def plain(html):
    return " ".join(re.sub(r"<[^>]+>", " ", html).split()).replace(" ", " ")


@pytest.fixture
def hand(planned, tmp_path):
    folder = tmp_path / "records"
    shutil.copytree(planned, folder)
    return Hand(folder)


def put_in(hand):
    hand.touch("begin", 2, 9, 2)
    hand.touch("finish", 2, 9, 20)
    hand.touch("begin", 3, 9, 20)
    hand.touch("finish", 3, 9, 30)


def take_out(hand):
    put_in(hand)
    hand.touch("begin", 4, 9, 30)
    hand.touch("finish", 4, 9, 36)


def test_it_says_in_words_what_is_due_and_counts_down(hand):
    assert "● Now" in hand.card
    assert "Prepare the chamber with potassium sulphate" in hand.card
    hand.touch("begin", 2, 9, 2)
    assert "under way; ends at 09:22, in 20 min" in hand.card or "in 20 min 0 s" in hand.card
    hand.clock = at(2, 9, 12, 23)
    hand.board.refresh()
    assert "ends at 09:22, in 9 min 35 s" in hand.card
    hand.clock = at(2, 9, 40)  # nobody counted the minutes between
    hand.board.refresh()
    assert "▲ Late" in hand.card
    assert "should have ended at 09:22, 18 min ago" in hand.card
    assert "as of Mon 2 Mar 09:40:00" in plain(hand.board._strip.value)


def test_nothing_is_written_without_a_touch(hand):
    before = {path.name: path.read_bytes() for path in hand.folder.glob("*.csv")}
    hand.clock = at(5, 9)
    hand.board.refresh()
    hand.seen.field("remark").widget.value = "limp"
    assert {path.name: path.read_bytes() for path in hand.folder.glob("*.csv")} == before


def test_a_touch_writes_the_time_and_says_so(hand):
    assert hand.touch("begin", 2, 9, 2).endswith("begun: prepare the chamber with potassium sulphate.")
    hand.touch("finish", 2, 9, 20)
    steps = hand.steps()
    assert steps["prepare the chamber with potassium sulphate"].actual_end == at(2, 9, 20)
    assert steps["the closed chamber comes to rest"].actual_start == at(2, 9, 20)
    assert check_treatment(hand.folder) == []


def test_a_double_touch_counts_once(hand):
    hand.touch("begin", 2, 9, 2)
    hand.clock = at(2, 9, 2, 1)
    hand.board.card(ANNUAL).buttons["finish"].click()
    assert hand.steps()["prepare the chamber with potassium sulphate"].actual_end is None


def test_what_happened_a_while_ago_is_written_with_its_own_time(hand):
    hand.board._ago.value = 15
    hand.touch("begin", 2, 9, 30)
    assert hand.steps()["prepare the chamber with potassium sulphate"].actual_start == at(2, 9, 15)
    assert hand.board._ago.value == 0  # only for one touch
    hand.touch("finish", 2, 9, 40)
    hand.board._ago.value = 30
    assert "Nothing was written. actual" in hand.touch("begin", 2, 9, 50)


def test_a_touch_by_mistake_is_taken_back_also_after_a_new_start(hand):
    hand.touch("begin", 4, 9, 2)
    again = Hand(hand.folder.parent)
    again.clock = at(4, 9, 3)
    again.board.refresh()
    assert again.board._back.description == "Take back: begun: prepare the chamber with potassium sulphate"
    again.board._back.click()
    assert again.steps()["prepare the chamber with potassium sulphate"].actual_start is None
    assert "taken back (begun: prepare" in plain(again.board.status)
    assert again.board._back.layout.display == "none"


def test_the_latest_touch_is_offered_whichever_treatment_it_was_of(hand):
    """The second treatment's name comes later in the alphabet; it was touched earlier."""
    other = hand.folder.with_name("wharf-lights-1")
    shutil.copytree(hand.folder, other)
    hand.board.refresh()
    hand.touch("begin", 4, 9, 2, key=other.name)
    hand.touch("begin", 4, 9, 5)
    again = Day(hand.folder.parent, clock=lambda: at(4, 9, 6))
    assert again.last.key == ANNUAL


def test_a_second_window_is_told_and_writes_nothing_twice(hand):
    other = Hand(hand.folder.parent)
    hand.touch("begin", 2, 9, 2)
    other.clock = at(2, 9, 3)
    other.board.card(ANNUAL).buttons["begin"].click()  # as it was drawn before
    assert "begun already" in other.board.status
    assert sum(row["actual_start"] is not None for row in hand.record.all_rows("steps")) == 1


def test_the_look_in_closes_the_planned_one_and_notes_it(hand):
    put_in(hand)
    assert "Look in, 45 min: at 10:15" in hand.card
    hand.touch("look", 3, 10, 12)
    steps = hand.steps()
    assert steps["look in, 45 min"].actual_start == steps["look in, 45 min"].actual_end == at(3, 10, 12)
    assert list(hand.log()["quantity"]) == ["look-in"]
    hand.touch("look", 3, 10, 20)  # one more than planned
    assert len(hand.log()) == 2
    assert hand.steps()["look in, 2 h"].actual_start is None


def test_a_chamber_left_too_long_is_red(hand):
    put_in(hand)
    hand.clock = at(4, 16)
    hand.board.refresh()
    assert "■ Too long" in hand.card
    assert "take it out and weigh it now" in hand.card


def test_damp_leaves_are_interleaved_at_once(hand):
    take_out(hand)
    assert "Put 8 interleaves by the bench slip: at 09:36, now" in hand.card


def test_the_panel_follows_the_step_and_asks_only_for_what_belongs_to_it(hand):
    put_in(hand)
    fields = hand.seen
    assert fields.field("during").widget.label == "in the chamber (humidity, cycle 1)"
    shown = {
        key: fields.field(key).box.layout.display != "none" for key in ("humidity", "sheets_in", "sign_glue")
    }
    assert shown == {"humidity": True, "sheets_in": False, "sign_glue": False}
    hand.touch("begin", 4, 9, 30)
    hand.touch("finish", 4, 9, 36)
    hand.touch("begin", 4, 9, 37)
    assert fields.field("during").widget.label.startswith("put 8 interleaves")
    assert fields.field("sheets_in").box.layout.display != "none"


def test_a_sign_says_at_once_what_to_do_and_asks_to_write_it_down(hand):
    put_in(hand)
    hand.seen.field("sign_drops").widget.value = True
    answer = plain(hand.seen.answer)
    assert "■ Stop" in answer
    assert "Take it out now" in answer
    assert "then write it down" in answer
    assert "written down: drops on lid or walls" in hand.write(3, 10, 0)
    assert list(hand.log()["quantity"]) == ["sign: drops"]
    assert hand.seen.field("sign_drops").widget.value is False


@pytest.mark.parametrize(
    ("entries", "key", "words"),
    [
        ({"humidity": "980"}, "humidity", "Humidity in the chamber is 980 %; allowed is 1 to 100 %"),
        ({"mass": "52.1"}, "mass", "Mass of the item alone is 52.1 g; allowed is 88.57 to 140.7 g"),
        ({"air": "70"}, "air", "Temperature in the chamber is 70 °C; allowed is 5 to 45 °C"),
    ],
)
def test_what_cannot_be_is_told_beside_its_field(hand, entries, key, words):
    put_in(hand)
    for name, value in entries.items():
        hand.seen.field(name).widget.value = value
    assert words in plain(hand.seen.field(key).below.value)
    assert not hand.seen.can_save


def test_a_hidden_entry_never_stands_in_the_way_and_is_never_written(hand):
    put_in(hand)
    hand.seen.field("humidity").widget.value = "980"
    hand.touch("begin", 4, 9, 30)
    hand.touch("finish", 4, 9, 36)
    hand.touch("begin", 4, 9, 37)
    hand.write(4, 9, 50, sheets_in="8")
    assert list(hand.log()["quantity"]) == ["sheets put in"]


def interleaved(hand):
    take_out(hand)
    hand.touch("begin", 4, 9, 37)
    hand.write(4, 9, 50, sheets_in="8", thickness="5.6")
    hand.touch("finish", 4, 9, 52)


def test_a_sheet_too_few_is_red_at_once_and_stays_red_on_the_page(hand):
    interleaved(hand)
    hand.touch("begin", 4, 9, 53)
    hand.touch("finish", 4, 10, 0)
    hand.seen.field("sheets_out").widget.value = "7"
    assert "8 sheets in, 7 sheets out: a sheet may still be inside" in plain(hand.seen.answer)
    hand.write(5, 8, 10)
    assert "■ May damage this item now 8 sheets in, 7 sheets out: a sheet may still be inside" in hand.card
    hand.write(5, 8, 15, sheets_out="1")
    assert "may still be inside" not in hand.card


def test_a_count_taken_back_counts_no_more(hand):
    interleaved(hand)
    hand.touch("begin", 4, 9, 53)
    hand.write(4, 9, 55, sheets_out="7")
    hand.board._back.click()
    assert "may still be inside" not in hand.card
    assert hand.day.count(ANNUAL, 1).inside == 8


def test_what_was_read_stands_beside_what_was_predicted(hand):
    """A cycle worked on this page alone: review finds air, hours, mass, thickness, sheets, leaf, dwell."""
    hand.touch("begin", 2, 9, 2)
    hand.touch("finish", 2, 9, 20)
    hand.touch("begin", 3, 9, 20)
    hand.write(3, 9, 25, mass="104.4")
    hand.touch("finish", 3, 9, 30)
    hand.write(4, 9, 10, humidity="95", air="21.5")
    hand.touch("begin", 4, 9, 30)
    hand.write(4, 9, 34, mass="111.3")
    hand.touch("finish", 4, 9, 36)
    hand.touch("begin", 4, 9, 37)
    hand.write(4, 9, 50, sheets_in="8", thickness="5.6")
    hand.touch("finish", 4, 9, 52)
    hand.touch("begin", 4, 9, 53)
    hand.touch("finish", 4, 10, 0)
    hand.touch("begin", 4, 10, 1)
    hand.write(4, 10, 17, leaf_temperature="47.5")
    hand.touch("finish", 4, 10, 18)
    measured = read_cycle(Treatment(hand.record, clock=lambda: hand.clock), 1).measured
    assert set(measured) == {
        facts.HOURS_IN_CHAMBER.key,
        facts.HYGROMETER_SHOWS.key,
        facts.CHAMBER_HUMIDITY.key,
        facts.AIR_TEMPERATURE.key,
        facts.MASS_GAIN.key,
        facts.THICKNESS_WITH_SHEETS.key,
        facts.GAIN_IN_THICKNESS.key,
        facts.SHEETS.key,
        facts.DWELL.key,
        facts.MIDDLE_LEAF.key,
    }
    assert measured[facts.MASS_GAIN.key].value.to("g").magnitude == pytest.approx(6.9)
    assert measured[facts.HOURS_IN_CHAMBER.key].value.to("hour").magnitude == pytest.approx(24)
    rows = find_saved(hand.day.treatment(ANNUAL).record.rows("readings"), 1)
    assert say_rows(*rows) == "0 104.4\nout 111.3"  # as the panel of weighings opens with them
    assert measured[facts.DWELL.key].value.to("min").magnitude == pytest.approx(17)
    assert check_treatment(hand.folder) == []


def test_an_item_without_steps_says_what_comes_first(hand):
    card = plain(hand.board.card(REFERRED).words.value)
    assert card.startswith("○ Nothing planned Gale Cove Pictorial, no. 4")
    assert "intake comes first" in card
    buttons = hand.board.card(REFERRED).buttons.values()
    assert [button.layout.display for button in buttons] == ["none"] * 4


def test_an_empty_folder_and_a_broken_treatment_are_told_in_words(tmp_path):
    assert "There is no treatment yet" in TodayBoard(Day(tmp_path)).answer
    assert not build_seen_panel(Day(tmp_path)).can_save
    (tmp_path / "spoilt").mkdir()
    assert "spoilt cannot be read" in TodayBoard(Day(tmp_path)).answer


def test_markup_in_a_title_and_a_remark_stays_text(hand):
    record = hand.record
    row = nouns.treatment_row(record)
    record.save({"treatment": [{**row, "title": "<b onclick=x>Tin</b>"}]}, by="M. Tallow", at=at(2, 8, 30))
    put_in(hand)
    hand.write(3, 9, 40, remark="<script>alert(1)</script>")
    for html in (hand.board.answer, hand.board.status, hand.seen.answer):
        assert "<script" not in html
        assert "<b onclick" not in html


def test_without_a_folder_it_shows_the_samples_by_their_own_clock(monkeypatch):
    monkeypatch.delenv("BENCH_RECORDS", raising=False)
    day = open_day()
    try:
        assert day.is_scratch
        assert day.now().strftime("%d %b") == "21 Mar"
        assert 'data-bench-sample="yes"' in day._repr_html_()
        board = build_today_panel(day)
        assert "Saltmarsh Signal, no. 31" in board.answer
        assert board._repr_mimebundle_()["text/plain"].startswith("Saturday 21 March 2026. ")
    finally:
        shutil.rmtree(day.folder)
