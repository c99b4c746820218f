"""Files of data loggers, as many ways as they are written: read whole, or what is left out is counted."""

import time
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from bench.errors import BadValue
from bench.handover.logged import as_logged
from bench.records.logger_files import LoggerLayout, look_at_file, propose_reading, read_logger, read_zone

ISO = "Time,Temperature (°C),Humidity (%)\n" + "".join(
    f"2026-03-02T09:{minute:02d}:00,21.{minute % 10},{60 + minute / 10:.1f}\n" for minute in range(30)
)


def read(text, **changes):
    file = look_at_file(text.encode())
    how = propose_reading(file)
    table, left_out = read_logger(file, LoggerLayout(**{**how.__dict__, **changes}))
    return as_logged(table), left_out


WRITTEN = {
    "plain": ISO,
    "decimal comma, day first": "Datum;Zeit;Temperatur;Feuchte\n"
    "02.03.2026;09:00:00;21,0;60,0\n02.03.2026;09:01:00;21,1;60,1\n13.03.2026;09:02:00;21,2;60,2\n",
    "month first, am and pm": "No.\tDate Time\tTemp °F\tRH %\n"
    "1\t03/02/2026 09:00:00 AM\t69.8\t60.0\n2\t03/02/2026 01:00:00 PM\t70.0\t61.0\n"
    "3\t03/13/2026 01:00:00 PM\t70.0\t61.0\n",
    "decimal comma between quotation marks": '"Time","Temperature","Humidity"\n'
    '"2026-03-02 09:00:00","21,0","60,0"\n"2026-03-02 09:01:00","21,1","60,1"\n',
    "units in the cells, words above": "Bench logger 4\nstarted by hand\n\nTime,T,RH\n"
    "2026-03-02 09:00,21.0 °C,60.0 %\n2026-03-02 09:01,21.1 °C,60.1 %\n",
}


@pytest.mark.parametrize("name", WRITTEN)
def test_files_of_many_kinds_are_read_with_what_is_proposed(name):
    air, left_out = read(WRITTEN[name])
    assert left_out == ()
    assert air.begin == datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    assert air.celsius[0] == pytest.approx(21.0)
    assert air.percent[0] == 60.0
    assert np.all(np.diff(air.seconds) > 0)


def test_the_clock_of_the_logger_is_put_right():
    air, _ = read(ISO, zone="+02:00", ahead=7.0)
    assert air.begin == datetime(2026, 3, 2, 6, 53, tzinfo=UTC)


def test_the_hour_that_comes_twice_is_told_by_the_order_of_the_readings():
    """On 25 October 2026 at 3:00 clocks in central Europe go back to 2:00 (EU directive 2000/84)."""
    hours = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
    text = "Time,T,RH\n" + "".join(f"2026-10-25 {hour},20.0,50\n" for hour in hours)
    air, left_out = read(text, zone="Europe/Berlin")
    assert left_out == ()
    assert list(np.diff(air.seconds)) == [1800.0] * 5


def test_an_hour_that_no_clock_showed_is_left_out_and_told():
    """On 29 March 2026 at 2:00 clocks in central Europe go on to 3:00."""
    text = "Time,T,RH\n" + "".join(f"2026-03-29 {hour},20.0,50\n" for hour in ("01:30", "02:30", "03:30"))
    air, left_out = read(text, zone="Europe/Berlin")
    assert len(air.seconds) == 2
    assert left_out == ("1 line without a time that can be read",)


def test_what_cannot_be_used_is_left_out_and_counted():
    bad = (
        "2026-03-02T09:30:00,,60.0\n2026-03-02T09:31:00,err,60.0\nyesterday,21.0,60.0\n"
        "2026-03-02T09:32:00,21.0,260\n2026-03-02T09:33:00,850,60\n2026-03-02T09:05:00,20.0,61.0\n"
    )
    air, left_out = read(ISO + bad)
    assert len(air.seconds) == 30
    assert left_out == (
        "1 line without a time that can be read",
        "2 lines without a number",
        "1 line with a temperature that no bench comes to",
        "1 line with a humidity that no air has",
        "1 line of a moment that was read already",
    )


def test_readings_out_of_order_are_put_in_order():
    lines = ISO.splitlines()
    air, _ = read("\n".join([lines[0], *reversed(lines[1:])]))
    assert list(air.percent[:2]) == [60.0, 60.1]


def test_a_gap_is_told_and_not_bridged():
    text = "Time,T,RH\n2026-03-02 09:00,21,60\n2026-03-02 09:30,21,60\n2026-03-02 13:00,21,60\n"
    air, _ = read(text)
    assert air.gaps() == [(datetime(2026, 3, 2, 9, 30, tzinfo=UTC), datetime(2026, 3, 2, 13, 0, tzinfo=UTC))]
    cut = air.between(air.begin + timedelta(minutes=10), air.end)
    assert (cut.begin, list(cut.seconds)) == (datetime(2026, 3, 2, 9, 30, tzinfo=UTC), [0.0, 12600.0])
    with pytest.raises(BadValue, match="zone and the clock"):
        air.between(air.end + timedelta(hours=1), air.end + timedelta(hours=2))


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "without a table"),
        (b"nothing here\nat all\n", "without a table"),
        (b"PK\x03\x04rest", "a spreadsheet that cannot be unpacked"),
        (b"Time,T,RH\n", "without a table"),
    ],
)
def test_a_file_without_readings_is_refused_in_words(data, words):
    with pytest.raises(BadValue, match=words):
        look_at_file(data)


def test_columns_and_zones_that_do_not_exist_are_refused_by_name():
    with pytest.raises(BadValue, match="column of humidity is 'damp'"):
        read(ISO, humidity="damp")
    with pytest.raises(BadValue, match="zone of the logger is 'the moon'"):
        read_zone("the moon")
    with pytest.raises(BadValue, match="none of use"):
        read(ISO, temperature="Time")


def test_a_logger_that_writes_utf_16_is_read():
    file = look_at_file(ISO.encode("utf-16"))
    assert propose_reading(file).humidity == "Humidity (%)"


@pytest.mark.slow
@pytest.mark.parametrize("written", ["%Y-%m-%dT%H:%M:%S", "%d.%m.%Y %H:%M:%S"])
def test_a_hundred_thousand_lines_are_read_whole(written):
    start = datetime(2026, 1, 1)
    lines = [
        f"{(start + timedelta(seconds=30 * n)).strftime(written)},{20 + n % 7 / 10:.1f},{55 + n % 9:.1f}"
        for n in range(100_000)
    ]
    data = ("Time,T,RH\n" + "\n".join(lines)).encode()
    begin = time.process_time()
    file = look_at_file(data)
    table, left_out = read_logger(file, propose_reading(file))
    air = as_logged(table)
    print(f"{time.process_time() - begin:.2f} s of processor time")
    assert (len(air.seconds), left_out) == (100_000, ())
    assert air.seconds[-1] == 30.0 * 99_999
