"""The register says where each treatment stands, and one broken folder does not hide the others."""

import csv
from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest

from bench.errors import NotFound, RecordError
from bench.records import disk
from bench.records.record import Record
from bench.records.register import COLUMNS, list_treatments, rebuild_register
from bench.records.schema import SCHEMA_VERSION
from bench.records.store import open_record
from tests.records.record_makers import AT, SAVING, make, names_in, reading, remark, step


@pytest.fixture
def record(tmp_path: Path) -> Record:
    return make(tmp_path / "records")


def line(record: Record) -> pd.Series:
    frame = list_treatments(record.folder.parent)
    return frame.loc[frame["treatment_id"] == record.folder.name].iloc[0]


def decide(decision: str, **more: object) -> dict[str, object]:
    row = {"stage": "intake", "cycle": 0, "decision": decision, "decided_at": AT, "decided_by": "Ada Quill"}
    return row | more


def test_a_new_treatment_has_not_begun(record: Record):
    now = line(record)
    assert now["title"] == "Lantern Annual"
    assert now["owner"] == "R. Vane"
    assert now["stage_reached"] == "not begun"
    assert (now["last_decision"], now["next_step"], now["fault"]) == ("", "", "")
    assert pd.isna(now["due_at"])


def test_the_stage_is_the_furthest_done_and_not_the_furthest_planned(record: Record):
    record.save({"tests": [{"test": "ink", "result": "pass", "taken_at": AT}]}, **SAVING)
    assert line(record)["stage_reached"] == "intake"
    plan = {"plan": "pressing-1", "stage": "pressing", "cycle": 1, "quantity": "answer", "words": "press"}
    record.save({"readings": [reading()], "plans": [plan], "steps": [step()]}, **SAVING)
    assert line(record)["stage_reached"] == "intake"
    record.save({"log": [remark(stage="humidity", cycle=1)]}, **SAVING)
    assert line(record)["stage_reached"] == "humidity"
    record.save({"steps": [step(replaces=1, actual_start=AT)]}, **SAVING)
    assert line(record)["stage_reached"] == "pressing"
    record.save({"readings": [reading(stage="review", cycle=1)]}, **SAVING)
    record.save({"log": [remark(stage="humidity", cycle=2)]}, **SAVING)
    assert line(record)["stage_reached"] == "humidity (cycle 2)"


def test_the_last_decision_is_the_latest_taken(record: Record):
    rows = [decide("treat", decided_at=AT + timedelta(hours=1)), decide("hold")]
    record.save({"decisions": rows}, **SAVING)
    assert line(record)["last_decision"] == "treat"


@pytest.mark.parametrize(
    "later",
    [
        decide("consent"),
        decide("authority is clear"),
        decide("override", gate="spine glue", reason="it lies outside the platen"),
        decide("use the fit", stage="humidity", cycle=1, evidence="fit of the weighings"),
    ],
)
def test_the_last_decision_is_one_on_the_treatment(record: Record, later: dict[str, object]):
    rows = [decide("treat"), later | {"decided_at": AT + timedelta(hours=1)}]
    record.save({"decisions": rows}, **SAVING)
    assert line(record)["last_decision"] == "treat"


def test_a_planned_stage_is_not_where_it_stands(record: Record):
    """Saving a plan writes materials, and a check of the hygrometer goes before the chamber."""
    material = {"stage": "pressing", "cycle": 1, "kind": "board", "material": "backing board 24 pt"}
    check = remark(stage="humidity", cycle=1, quantity="hygrometer correction", value=-1.0, unit="percent")
    fit = remark(stage="humidity", cycle=1, quantity="fit of the weighings")
    over = reading(97.0, stage="humidity", cycle=1, quantity="humidity", unit="percent", place="over salt")
    record.save({"materials": [material], "log": [check, fit], "readings": [over]}, **SAVING)
    assert line(record)["stage_reached"] == "not begun"
    record.save({"readings": [reading()]}, **SAVING)
    assert line(record)["stage_reached"] == "intake"


def plan_steps(**begun: object) -> list[dict[str, object]]:
    """A day in the chamber: prepared, put in, looked at, taken out; then the sheets."""
    names = {
        "s01": "prepare",
        "s02": "put in",
        "s03": "wait",
        "s04": "look in",
        "s05": "wait",
        "s06": "take out",
    }
    rows = []
    for number, (key, name) in enumerate(names.items()):
        start = AT + timedelta(hours=number)
        rows.append(
            step(
                step=key,
                stage="humidity",
                name=name,
                hands="no" if name == "wait" else "yes",
                optional="yes" if name == "look in" else "no",
                planned_start=start,
                planned_end=start + timedelta(hours=1),
            )
        )
    done = {"actual_start": AT, "actual_end": AT + timedelta(minutes=30)}
    return [row | (done if begun.get(str(row["step"])) == "done" else {}) for row in rows]


def test_what_is_due_is_the_next_time_somebody_must_be_there(record: Record):
    """Not the wait that goes on by itself, not a look-in that was missed, not a step passed over."""
    record.save({"steps": plan_steps(s01="done", s02="done")}, **SAVING)
    assert (line(record)["next_step"], line(record)["due_at"]) == ("take out", AT + timedelta(hours=5))


def test_a_step_that_nobody_marked_is_not_overdue_for_ever(record: Record):
    record.save({"steps": plan_steps(s02="done")}, **SAVING)
    assert line(record)["next_step"] == "take out"


def test_steps_before_the_stage_that_was_reached_are_not_due(record: Record):
    look = step(step="s00", stage="intake", cycle=0, name="examine", hands="yes")
    record.save({"steps": [look, *plan_steps()]}, **SAVING)
    assert line(record)["next_step"] == "examine"
    record.save({"log": [remark(stage="humidity", cycle=1, at=AT + timedelta(hours=3))]}, **SAVING)
    assert line(record)["next_step"] == "take out"


def test_nothing_is_due_while_the_treatment_is_held(record: Record):
    record.save({"steps": plan_steps(), "decisions": [decide("hold")]}, **SAVING)
    assert line(record)["next_step"] == ""


def test_the_list_says_what_is_out_of_date(record: Record):
    common = {"value": None, "unit": "dimensionless"}
    rows = [
        {"plan": "buffering-1", "stage": "buffering", "cycle": 1, "quantity": "sheets", **common, "value": 9},
        {
            "plan": "pressing-1",
            "stage": "pressing",
            "cycle": 1,
            "quantity": "interleaves",
            **common,
            "value": 10,
        },
    ]
    assert line(record)["caution"] == ""
    record.save({"plans": rows}, **SAVING)
    assert line(record)["caution"].startswith("Cycle 1: 9 sheets go in by the buffering plan")


def test_the_next_step_is_the_first_not_ended(record: Record):
    def hours(number: int) -> object:
        return AT + timedelta(hours=number)

    rows = [
        step(step="s01", name="put in", planned_end=hours(1), actual_start=AT, actual_end=hours(1)),
        step(step="s03", name="press", planned_start=hours(30), planned_end=hours(40)),
        step(step="s02", name="wait", planned_start=hours(1), planned_end=hours(25)),
    ]
    record.save({"steps": rows}, **SAVING)
    assert (line(record)["next_step"], line(record)["due_at"]) == ("wait", hours(1))
    record.save({"steps": [rows[2] | {"replaces": 3, "actual_start": hours(2)}]}, **SAVING)
    assert (line(record)["next_step"], line(record)["due_at"]) == ("wait (under way)", hours(25))
    record.save(
        {"steps": [rows[2] | {"replaces": 4, "actual_start": hours(2), "actual_end": hours(26)}]}, **SAVING
    )
    assert (line(record)["next_step"], line(record)["due_at"]) == ("press", hours(30))


def test_the_register_is_written_beside_the_treatments(record: Record):
    parent = record.folder.parent
    record.save({"steps": [step(name='press, "hard"')]}, **SAVING)
    frame = rebuild_register(parent)
    assert list(frame.columns) == list(COLUMNS)
    with (parent / "register.csv").open(encoding="utf-8", newline="") as stream:
        (row,) = csv.DictReader(stream)
    assert row["next_step"] == 'press, "hard"'
    assert row["due_at"] == AT.isoformat()
    make(parent, "another")
    rebuild_register(parent)
    with (parent / "register.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    assert [(row["treatment_id"], row["due_at"]) for row in rows] == [
        ("another", ""),
        ("lantern-1", AT.isoformat()),
    ]
    assert names_in(parent) == {"another", "lantern-1", "register.csv", ".lock", ".index.json"}


def test_a_broken_folder_has_a_row_that_says_so(record: Record):
    parent = record.folder.parent
    for name in ("torn", "lost", "late", "odd"):
        make(parent, name)
    (parent / "torn" / "steps.csv").write_text("row,replaces\n1")
    (parent / "lost" / "treatment.csv").unlink()
    (parent / "odd" / "unfinished_save.json").write_text("{")
    path = parent / "late" / "treatment.csv"
    path.write_text(path.read_text().replace(f"late,{SCHEMA_VERSION},", f"late,{SCHEMA_VERSION + 1},"))
    faults = list_treatments(parent).set_index("treatment_id")["fault"].to_dict()
    assert faults["lantern-1"] == ""
    assert faults["torn"].startswith("steps.csv column saved_at: is missing from the header;")
    with pytest.raises(RecordError) as caught:
        open_record(parent / "torn").read("steps")
    assert faults["torn"].endswith(f" ({len(caught.value.faults)} faults in all.)")
    assert faults["lost"].startswith("treatment is '")
    assert faults["late"].startswith(
        f"treatment.csv column schema_version: is {SCHEMA_VERSION + 1}: a newer program made this record;"
    )
    assert faults["odd"].startswith("unfinished_save.json: cannot be read;")
    assert list_treatments(parent).set_index("treatment_id").loc["torn", "title"] == "Lantern Annual"


def test_a_folder_without_treatments_gives_an_empty_list(tmp_path: Path):
    frame = list_treatments(tmp_path)
    assert list(frame.columns) == list(COLUMNS)
    assert len(frame) == 0
    with pytest.raises(NotFound, match="Start a new treatment, which makes the folder"):
        list_treatments(tmp_path / "nowhere")


def test_a_register_that_cannot_be_written_stays_as_it_was(record: Record, monkeypatch: pytest.MonkeyPatch):
    parent = record.folder.parent
    rebuild_register(parent)
    before = (parent / "register.csv").read_bytes()
    make(parent, "another")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(disk.os, "fsync", full)
    with pytest.raises(
        RecordError, match=r"\(No space left on device\)\. The register stays as it was: free some"
    ):
        rebuild_register(parent)
    assert (parent / "register.csv").read_bytes() == before
    assert names_in(parent) == {"another", "lantern-1", "register.csv", ".lock", ".index.json"}
