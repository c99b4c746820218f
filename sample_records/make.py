"""Make the three sample treatments anew, through the same panels that a user presses Save on.

Titles, people and numbers are invented.  Run it after a change that alters what a plan says::

    python sample_records/make.py

It works in a folder beside this file and puts each sample in place only when it is whole.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Mapping
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

from drawn import draw_cover
from found_at_intake import annual_at_intake, issue_at_intake, referred_at_intake

from bench.desk import Treatment
from bench.panels.base import Panel
from bench.panels.buffering import build_buffering_panel
from bench.panels.cleaning import build_cleaning_panel
from bench.panels.humidity import build_humidity_panel
from bench.panels.photographs import build_photographs_panel
from bench.panels.pressing import build_pressing_panel
from bench.panels.review import build_review_panel
from bench.records import nouns
from bench.records.store import create_treatment
from bench.treatment.actual.seen import AIR_HUMIDITY, name_of_leaf
from bench.treatment.clock.schedule import record_actual
from bench.treatment.pressing.words import HEAT

HERE = Path(__file__).resolve().parent
ZONE = timezone(timedelta(hours=1))
WHO = "M. Tallow"
SCATTER = (-0.5, 0.5, 0.0, 0.5, -0.5)  # of five caliper readings, thousandths of an inch


def at(day: int, hour: int, minute: int = 0) -> datetime:
    """Give a moment of the invented March."""
    return datetime(2026, 3, day, hour, minute, tzinfo=ZONE)


class Worker:
    """Somebody at the bench with a clock that is set by hand."""

    def __init__(self, folder: Path, name: str, description: Mapping[str, Any], begin: datetime) -> None:
        self.clock = begin
        facts = {
            "owner": "E. Fenwright",
            "conservator": WHO,
            "planned_start": begin,
            "length_unit": "thou",
            "temperature_unit": "degC",
            **description,
        }
        staples = facts.pop("staples")
        rows = {
            "treatment": [facts],
            "staples": [dict(zip(_STAPLE, staple, strict=True)) for staple in staples],
        }
        record = create_treatment(folder, name, rows, by=WHO, at=begin)
        self.treatment = Treatment(record, clock=lambda: self.clock)

    def save(self, moment: datetime, **rows: list[dict[str, Any]]) -> None:
        """Save rows at a moment."""
        self.clock = moment
        self.treatment.save(rows)

    def press_save(self, moment: datetime, panel: Panel, **values: Any) -> Panel:
        """Set fields of a panel and press Save at a moment."""
        self.clock = moment
        for key, value in values.items():
            panel.field(key).widget.value = value
        said = panel.save()
        if not said.startswith("●"):
            raise SystemExit(f"{self.treatment.title}: {said}")
        return panel

    def read(
        self, moment: datetime, stage: str, cycle: int, thou: Mapping[str, float], **other: Mapping[str, Any]
    ) -> None:
        """Enter five caliper readings for each place, and single readings of size and mass."""
        common = {"stage": stage, "cycle": cycle, "taken_at": moment, "taken_by": WHO}
        caliper = {
            "quantity": "thickness",
            "unit": "thou",
            "instrument": "dial caliper",
            "limit": 0.8,
            "resolution": 0.5,
        }
        rows = [
            {**common, **caliper, "place": place, "value": value + step, "replicate": number}
            for place, value in thou.items()
            for number, step in enumerate(SCATTER, start=1)
        ]
        for quantity, places in other.items():
            tool = _TOOLS[quantity]
            rows += [
                {
                    **common,
                    **tool,
                    "quantity": quantity,
                    "place": place,
                    "value": round(value + step, 2),
                    "replicate": n,
                }
                for place, value in places.items()
                for n, step in enumerate((0.0,) if quantity == "mass" else (-0.1, 0.0, 0.1), start=1)
            ]
        self.save(moment, readings=rows)

    def photograph(self, moment: datetime, when: str, creases: int) -> None:
        """Put drawings of the front cover into the folder and save them as its photographs."""
        folder = self.treatment.record.folder / "photographs"
        folder.mkdir(exist_ok=True)
        for light in ("normal", "raking from the left"):
            name = f"front-cover-{when}-{light.split()[0]}.png"
            drawn = draw_cover(creases=creases, raking=light != "normal")
            (folder / name).write_bytes(drawn)
            self.press_save(
                moment,
                build_photographs_panel(self.treatment, moment=when),
                waiting=f"photographs/{name}",
                light=light,
                scale="rule of 100 mm, six grey steps",
                note="a drawing in place of a photograph",
            )

    def note(self, moment: datetime, stage: str, cycle: int, remark: str, **number: Any) -> None:
        """Log a remark, or a number under the name it was planned by."""
        row = {"stage": stage, "cycle": cycle, "at": moment, "remark": remark, **number}
        self.save(moment, log=[row])

    def carry_out(self, stage: str, cycle: int, *, late: int = 5) -> datetime:
        """Do the steps of a stage as planned, a few minutes late, and enter the actual times."""
        lateness = timedelta(minutes=late)
        timeline = self.treatment.timeline
        for name in [s.step for s in timeline.steps if (s.stage, s.cycle) == (stage, cycle)]:
            index = next(k for k, s in enumerate(timeline.steps) if s.step == name)
            step = timeline.steps[index]
            begun = max(
                [s.actual_end for s in timeline.steps[:index] if s.actual_end], default=step.planned_start
            )
            begun = max(begun, step.planned_start) + (lateness if step.hands else timedelta())
            ended = max(begun + step.least, step.planned_end if not step.hands else begun)
            timeline = record_actual(timeline, name, started=begun, ended=ended)
            lateness = timedelta(minutes=2)
        done = max(s.actual_end for s in timeline.steps if (s.stage, s.cycle) == (stage, cycle))
        self.save(done, steps=nouns.step_rows(timeline, self.treatment.latest))
        return done

    def ended(self, name: str, cycle: int) -> datetime:
        """Give when a step was done."""
        steps = self.treatment.timeline.steps
        return next(s.actual_end for s in steps if (s.name, s.cycle) == (name, cycle))


_STAPLE = ("staple", "from_head_mm", "from_spine_mm", "prong", "rust")
_TOOLS = {
    "width": {"unit": "mm", "instrument": "steel rule and loupe", "limit": 0.1, "resolution": 0.1},
    "height": {"unit": "mm", "instrument": "steel rule and loupe", "limit": 0.1, "resolution": 0.1},
    "mass": {"unit": "g", "instrument": "balance", "limit": 0.02, "resolution": 0.01},
    "unpressed width": {"unit": "mm", "instrument": "steel rule", "limit": 1.5, "resolution": 0.5},
}


def make_annual(folder: Path) -> Worker:
    """Make the square-bound annual that needs two cycles."""
    description = {
        "title": "The Tin Orchard Annual, no. 2",
        "format": "square-bound, side-stapled",
        "width_mm": 170,
        "height_mm": 258,
        "count": 76,
        "counted_as": "pages",
        "cover_leaves": 2,
        "text_paper": "newsprint",
        "cover_paper": "uncoated cover",
        "cover_coated": "no",
        "glue": "animal glue",
        "staples": [("upper", 41, 8.5, "flush", 1), ("lower", 214, 8.0, "flush", 0)],
    }
    worker = Worker(folder, "tin-orchard-annual-2", description, at(2, 9))
    treatment = worker.treatment
    thou = {
        "text block": 181.0,
        "upper staple": 186.5,
        "lower staple": 180.0,
        "spine edge": 183.5,
        "fore edge": 182.0,
    }
    worker.read(
        at(2, 9, 30),
        "intake",
        0,
        thou,
        width=_places(170.0),
        height=_places(258.0),
        mass={"whole item": 109.6},
    )
    wrong = treatment.record.read("readings").iloc[-1]
    again = {key: wrong[key] for key in ("stage", "quantity", "place", "unit", "instrument", "taken_by")}
    again |= {
        "cycle": 0,
        "value": 104.2,
        "limit": 0.02,
        "resolution": 0.01,
        "replicate": 1,
        "taken_at": at(2, 9, 50),
    }
    note = "the balance had not been set to zero"
    worker.save(at(2, 9, 50), readings=[{**again, "note": note, "replaces": int(wrong["row"])}])
    worker.photograph(at(2, 10), "before", creases=6)
    worker.save(at(2, 10, 30), **annual_at_intake(treatment.item, by=WHO, at=at(2, 10, 30)))
    soil = {"soil_edges": 2, "soil_cover_outside": 2, "bare_cover_outside": "35", "soil_leaves": 1}
    worker.press_save(at(2, 11), build_cleaning_panel(treatment, cycle=1), **soil, strongest="rubber sponge")
    done = worker.carry_out("cleaning", 1)
    worker.note(
        done, "cleaning", 1, "grey came off the unprinted sky; sponge clean at the third pass; no colour"
    )
    first = {
        "text block": 177.5,
        "upper staple": 185.5,
        "lower staple": 180.0,
        "spine edge": 183.0,
        "fore edge": 178.0,
    }
    second = {
        "text block": 176.0,
        "upper staple": 185.5,
        "lower staple": 179.5,
        "spine edge": 183.0,
        "fore edge": 176.5,
    }
    done = _go_through_cycle(
        worker, 1, interval=6, built=216.5, after=first, sizes=(170.4, 257.7, 104.3), strip=17.5
    )
    seen = {
        "defect_d1": 1,
        "defect_d2": 2,
        "defect_d3": 2,
        "defect_d4": 1,
        "defect_d5": 0,
        "defect_d6": 1,
        "defect_d7": 1,
    }
    agreed = {"consent": True, "consent_by": "E. Fenwright", "consent_how": "letter of 8 March"}
    worker.press_save(
        done, build_review_panel(treatment, cycle=1), **seen, rested="26", **agreed, next_interval="8"
    )
    worker.carry_out("review", 1)
    done = _go_through_cycle(
        worker, 2, interval=8, built=206.0, after=second, sizes=(170.6, 257.6, 104.2), strip=16.0
    )
    seen = {
        "defect_d1": 0,
        "defect_d2": 1,
        "defect_d3": 2,  # the roll lies in the strip that stays unpressed: no cycle reaches it
        "defect_d4": 1,
        "defect_d5": 0,
        "defect_d6": 1,
        "defect_d7": 1,
    }
    worker.photograph(done, "after", creases=2)
    worker.press_save(done, build_review_panel(treatment, cycle=2), **seen, rested="26")
    return worker


def _go_through_cycle(
    worker: Worker,
    cycle: int,
    *,
    interval: int,
    built: float,
    after: Mapping[str, float],
    sizes: tuple[float, float, float],
    strip: float,
) -> datetime:
    """Humidify, buffer, press and measure again; gives the moment of the review."""
    treatment = worker.treatment
    worker.press_save(worker.clock, build_humidity_panel(treatment, cycle=cycle))
    out = worker.carry_out("humidity", cycle)
    percent = {"unit": "percent"}
    into = out - timedelta(hours=24)
    worker.note(
        into + timedelta(hours=2),
        "humidity",
        cycle,
        "cover supple",
        quantity=AIR_HUMIDITY,
        value=93.5,
        **percent,
    )
    end = "humidity of the chamber at the end"
    worker.note(out, "humidity", cycle, "limp, cool; staples bright", quantity=end, value=97.0, **percent)
    worker.note(out, "humidity", cycle, "weighed on coming out", quantity="mass gain", value=7.4, unit="g")
    worker.press_save(out, build_buffering_panel(treatment, cycle=cycle), interval=interval)
    out = worker.carry_out("buffering", cycle)
    worker.read(out, "buffering", cycle, {"text block": built})
    panel = build_pressing_panel(treatment, cycle=cycle)
    worker.press_save(out, panel, interval=interval, cold_spine=True, changes=4)
    out = worker.carry_out("pressing", cycle)
    middle, warm = name_of_leaf("middle"), worker.ended(HEAT, cycle)
    worker.note(warm, "pressing", cycle, "thin probe at leaf 19", quantity=middle, value=47.5, unit="degC")
    worker.note(out, "pressing", cycle, "sheets came out crinkled, none stuck; spine square, staples flush")
    review = out + timedelta(hours=26)
    width, height, mass = sizes
    places = {"width": _places(width), "height": _places(height), "mass": {"whole item": mass}}
    places["unpressed width"] = {"spine": strip}
    worker.read(review, "review", cycle, after, **places)
    return review


def make_issue(folder: Path) -> Worker:
    """Make the saddle-stitched issue with a coated cover, under way."""
    description = {
        "title": "Saltmarsh Signal, no. 31",
        "format": "saddle-stitched",
        "width_mm": 168,
        "height_mm": 257,
        "count": 32,
        "counted_as": "pages",
        "cover_leaves": 2,
        "text_paper": "newsprint",
        "cover_paper": "coated cover",
        "cover_coated": "yes",
        "glue": "none",
        "length_unit": "mm",
        "staples": [("upper", 62, 0, "flush", 0), ("lower", 196, 0, "flush", 0)],
    }
    worker = Worker(folder, "saltmarsh-signal-31", description, at(9, 9))
    treatment = worker.treatment
    thou = {
        "text block": 76.0,
        "upper staple": 82.5,
        "lower staple": 81.0,
        "spine edge": 80.0,
        "fore edge": 75.0,
    }
    worker.read(
        at(9, 9, 20),
        "intake",
        0,
        thou,
        width=_places(168.0),
        height=_places(257.0),
        mass={"whole item": 47.6},
    )
    worker.save(at(9, 10), **issue_at_intake(treatment.item, by=WHO, at=at(9, 10)))
    worker.press_save(at(9, 10, 20), build_cleaning_panel(treatment, cycle=1), soil_cover_outside=1)
    done = worker.carry_out("cleaning", 1)
    salt = {"source": "sodium chloride", "wanted": "70", "hours": 20}
    worker.press_save(done, build_humidity_panel(treatment, cycle=1), **salt)
    worker.press_save(done, build_buffering_panel(treatment, cycle=1), interval=6, load_word="light")
    cool = {"platen": "40", "load_word": "light", "release": "silicone release paper"}
    worker.press_save(done, build_pressing_panel(treatment, cycle=1), **cool)
    return worker


def make_referred(folder: Path) -> Worker:
    """Make the one that intake refers."""
    description = {
        "title": "Nettle Lane Mystery, no. 7",
        "format": "square-bound, glued",
        "width_mm": 168,
        "height_mm": 256,
        "count": 64,
        "counted_as": "leaves",
        "cover_leaves": 2,
        "text_paper": "newsprint",
        "cover_paper": "coated cover",
        "cover_coated": "unknown",
        "glue": "unknown",
        "temperature_unit": "degF",
        "staples": [],
    }
    worker = Worker(folder, "nettle-lane-mystery-7", description, at(16, 14))
    thou = {"text block": 268.0, "spine edge": 276.0}
    sizes = {"width": _places(168.0), "height": _places(256.0), "mass": {"whole item": 181.5}}
    worker.read(at(16, 14, 20), "intake", 0, thou, **sizes)
    worker.save(at(16, 15), **referred_at_intake(worker.treatment.item, by=WHO, at=at(16, 15)))
    return worker


def _places(value: float) -> dict[str, float]:
    """Give a size read at three places of the cover and one leaf inside."""
    return {"front cover": value, "back cover": value, "leaf 10": value - 0.5}


def main() -> None:
    """Make every sample."""
    with tempfile.TemporaryDirectory(prefix=".making-", dir=HERE) as unfinished:
        for make in (make_annual, make_issue, make_referred):
            made = make(Path(unfinished)).treatment.record.folder
            (made / ".lock").unlink(missing_ok=True)
            shutil.rmtree(HERE / made.name, ignore_errors=True)
            made.rename(HERE / made.name)
    shutil.rmtree(HERE / "__pycache__", ignore_errors=True)  # nothing here may look like a treatment


if __name__ == "__main__":
    main()
