"""The report tells everything recorded, says what is missing, and is never written over."""

import errno
import html as html_module
import os
import re
import shutil
from datetime import datetime
from typing import get_args

import pytest
from markdown_it import MarkdownIt

from bench.errors import BadValue, NotFound, RecordError
from bench.records import nouns
from bench.records.store import create_treatment
from bench.sources import all_sources, cite
from bench.treatment import facts
from bench.treatment.doses import Spent
from bench.treatment.plan import Plan, PlannedValue, Verdict
from bench.treatment.resting import RESTS
from bench.units import MILLIMETRES, Q_, THOUSANDTHS
from bench.writeup import html, markdown, pdf, report
from bench.writeup.blocks import Block, Bullets, Cautions, Drawing, Facts, Grid, Heading, Missing, Text
from bench.writeup.case import say_number
from bench.writeup.html import render_html
from bench.writeup.markdown import render_markdown
from bench.writeup.report import collect_report, write_report
from tests.writeup.case_makers import ITEM, OWN_WORDS, WHO, WRITTEN, at, make_bare, make_full

STORY = (
    "identification",
    "examination",
    "agreement",
    "work",
    "predictions",
    "result",
    "left",
    "costs",
    "disclosure",
    "storage",
    "signatures",
)
APPENDIX = (
    "plan",
    "steps",
    "doses",
    "cautions",
    "tests",
    "decisions",
    "photographs",
    "corrections",
    "sources",
)
SECTIONS = (*STORY, *APPENDIX)


@pytest.fixture(scope="module")
def full_folder(tmp_path_factory):
    return make_full(tmp_path_factory.mktemp("records")).folder


@pytest.fixture
def record(full_folder, tmp_path):
    from bench.records.store import open_record

    shutil.copytree(full_folder, tmp_path / full_folder.name)
    return open_record(tmp_path / full_folder.name)


@pytest.fixture(scope="module")
def full(full_folder):
    from bench.records.store import open_record

    return collect_report(open_record(full_folder), at=WRITTEN, by=WHO)


@pytest.fixture
def bare(tmp_path):
    return collect_report(make_bare(tmp_path), at=WRITTEN, by=WHO)


def words_of(block):
    """Give every sentence and cell of a block."""
    match block:
        case Text() | Missing() | Heading():
            return [block.words]
        case Facts():
            return [cell for pair in block.pairs for cell in pair]
        case Grid():
            return [*block.head, *(cell for row in block.rows for cell in row)]
        case Bullets():
            return list(block.items)
        case Cautions():
            return [caution.words for caution in block.cautions]
        case Drawing():
            return [block.picture.reads]
    return list(block.lines)


def text_of_html(page):
    body = re.sub(r"<style>.*?</style>", "", page, flags=re.DOTALL)
    body = re.sub(r"<svg.*?</svg>", " ", body, flags=re.DOTALL)
    return squeeze(html_module.unescape(re.sub(r"<[^>]+>", " ", body)))


def text_of_markdown(text):
    return text_of_html(MarkdownIt("commonmark").enable("table").render(text))


def squeeze(text):
    return re.sub(r"\s+", " ", text.replace("\u00a0", " ")).strip()


def section_words(made, key):
    return "\n".join(words for block in made.section(key).blocks for words in words_of(block))


def test_both_formats_say_every_word_of_every_block(full):
    page, text = text_of_html(render_html(full)), text_of_markdown(render_markdown(full))
    told = [words for _, section in full.parts for block in section.blocks for words in words_of(block)]
    told += [*full.summary, *full.noted]
    assert len(told) > 300
    assert [words for words in told if squeeze(words) not in page] == []
    assert [words for words in told if squeeze(words) not in text] == []


def test_every_section_stands_in_order_also_when_nothing_is_recorded(full, bare):
    for made in (full, bare):
        assert tuple(section.key for section in made.sections) == STORY
        assert tuple(section.key for section in made.appendix) == APPENDIX


def test_what_was_not_recorded_is_said_and_listed_first(bare):
    gaps = list(bare.missing())
    for words in ("No reading before", "No test", "No plan", "No step", "No decision and no consent"):
        assert any(said.startswith(words) for _, said in gaps), words
    page = text_of_html(render_html(bare))
    assert page.index("Not recorded") < page.index("1. The item")
    assert "Owner not recorded" in page
    assert "was neither cleaned nor humidified nor pressed" in page


def test_a_full_record_leaves_only_true_gaps(full):
    assert [words for _, words in full.missing()] == [
        "No photographs are recorded.",
        "No plan is recorded for: dry cleaning, cycle 1; humidifying, cycles 1 and 2; "
        "pressing, cycles 1 and 2.",
        "Not looked at again: dirty, back cover, outside.",
        "Not counted, because no plan is saved: cycle 1, cycle 2.",
    ]


def test_readings_carry_their_uncertainty(full):
    """GUM 5.1.2: 1.2 and 1.1 thou combine to 1.6 in the difference."""
    rows = {
        row[:2]: row
        for block in full.section("result").blocks
        if isinstance(block, Grid)
        for row in block.rows
    }
    assert rows["thickness", "text block"][2:] == (
        "180.9 ± 1.2 thou",
        "178.5 ± 1.1 thou",
        "−2.4 ± 1.6 thou",
    )


def test_an_overridden_gate_is_printed_with_its_written_reason(full):
    for text in (text_of_html(render_html(full)), text_of_markdown(render_markdown(full))):
        assert f"Written reason: {OWN_WORDS}" in text


def test_predictions_stand_beside_measurements(full):
    words = section_words(full, "predictions")
    assert "Thickness with the sheets in\n1\n" in words
    assert "as planned" in words
    assert "clearance over upper staple" not in words, "what nobody measures is no gap"


def test_the_disclosure_tells_what_a_later_owner_must_know(full):
    words = section_words(full, "disclosure")
    assert "Surface cleaned, dry, on 3 March 2026 with soft hair brush." in words
    assert "Humidified in water vapour from 3 to 4 March and from 7 to 8 March 2026, in 2 cycles." in words
    assert "The width grew by 20 ± 9 thou (0.29 ± 0.14 %; at the cover)" in words
    assert "This cannot be undone." in words
    assert "nothing was added" in words
    assert "This report goes with the item" in words


def test_sheets_that_were_not_taken_out_on_record_are_asked_for(record):
    steps = record.read("steps")
    out = steps[steps["name"] == "take the sheets out"]
    keys = ("step", "stage", "name", "hands", "planned_start", "planned_end")
    rows = [
        {**{key: row[key] for key in keys}, "cycle": int(row["cycle"]), "replaces": int(row["row"])}
        for row in out.to_dict("records")
    ]
    record.save({"steps": rows}, by=WHO, at=at(11, 9))
    made = collect_report(record, at=WRITTEN, by=WHO)
    assert any(
        "not recorded that the sheets laid between the leaves in cycle 1 and 2" in words
        for _, words in made.missing()
    )


def test_consent_that_does_not_cover_what_was_done_is_said(record):
    rows = record.read("decisions")
    row = rows[(rows["decision"] == "consent") & (rows["stage"] == "review")].iloc[0]
    taken_back = {
        **{k: row[k] for k in ("stage", "decided_at", "decided_by")},
        "cycle": 1,
        "decision": "no consent yet",
        "replaces": int(row["row"]),
    }
    record.save({"decisions": [taken_back]}, by=WHO, at=at(11, 9))
    made = collect_report(record, at=WRITTEN, by=WHO)
    assert any("2 cycles were begun, but consent is recorded for 1" in words for _, words in made.missing())


def test_corrections_show_what_was_and_what_is(full):
    words = section_words(full, "corrections")
    told = ("reading, thickness, text block: value", "180.5", "180", "misread", "P. Quill")
    assert [part for part in told if part not in words] == []


def test_storage_shows_that_the_sources_disagree(full):
    """Library of Congress about 35 %, ALA 30 to 40 %, WA Museum 45 to 55 % (copies seen)."""
    words = section_words(full, "storage")
    assert all(range_ in words for range_ in ("about 35 %", "30 to 40 %", "45 to 55 %"))
    assert "disagree" in words


def test_every_source_that_is_named_is_given_in_full(full):
    words = "\n".join(section_words(full, key) for key in SECTIONS if key not in ("corrections", "sources"))
    listed = section_words(full, "sources")
    for key in ("munoz-vinas2009", "loc-comics", "tappi-t402"):
        source = cite(key)
        assert source.short in words
        assert source.reference in listed


def test_no_internal_key_of_a_source_is_shown(full):
    words = "\n".join(section_words(full, key) for key in SECTIONS)
    keys = [source.key for source in all_sources() if re.search(r"[\d-]", source.key)]
    assert [key for key in keys if re.search(rf"(?<![\w-]){re.escape(key)}(?![\w-])", words)] == []


def test_values_follow_the_operators_units(tmp_path):
    row = {**ITEM, "length_unit": "mm", "temperature_unit": "degC"}
    made = collect_report(
        create_treatment(tmp_path, "tin-orchard-annual-2", {"treatment": [row]}, by=WHO, at=at(2, 9)),
        at=WRITTEN,
        by=WHO,
    )
    assert "170 mm" in section_words(made, "identification")


@pytest.mark.parametrize(
    ("row", "length", "said"),
    [
        ({"value": 60.0, "unit": "degC"}, "thou", "140 °F"),
        ({"value": 5290.0, "uncertainty": 30.0, "unit": "um"}, "mm", "5.29 ± 0.03 mm"),
        ({"value": 5290.0, "uncertainty": 30.0, "unit": "um"}, "thou", "208.3 ± 1.2 thou"),
        ({"value": 8.0, "unit": "dimensionless"}, "mm", "8"),
        ({"value": None, "unit": None}, "mm", "–"),
    ],
)
def test_numbers_are_written_in_the_unit_of_the_operator(row, length, said):
    from bench.units import MILLIMETRES, THOUSANDTHS

    units = {"mm": MILLIMETRES, "thou": THOUSANDTHS}[length]
    assert say_number({"uncertainty": None, **row}, units) == said


HOSTILE = 'A </style><script>alert(1)</script> | *b* _c_ #1 & "d" \\ `e` [f](g)'


def test_what_a_user_wrote_stays_text(tmp_path):
    row = {**ITEM, "title": HOSTILE, "note": "# no heading\n- no list", "owner": "1. Fenwright"}
    record = create_treatment(tmp_path, "tin-orchard-annual-2", {"treatment": [row]}, by=WHO, at=at(2, 9))
    made = collect_report(record, at=WRITTEN, by=WHO)
    page, text = render_html(made), render_markdown(made)
    assert "<script" not in page
    assert page.count("</style>") == 1
    assert text_of_html(page).count(HOSTILE) >= 2
    shown = MarkdownIt("commonmark").enable("table").render(text)
    assert squeeze(HOSTILE) in text_of_html(shown)
    assert "<h1>no heading" not in shown
    assert not {"<em>b</em>", "<code>e</code>", "<a href"} & {
        tag for tag in re.findall(r"<[^>]+>.*?</\w+>", shown)
    }


def test_the_page_needs_nothing_from_outside(full):
    page = render_html(full)
    outside = re.findall(r"""(?:src|href)\s*=\s*["'](?!#)[^"']*["']|url\((?!#)[^)]*\)|@import""", page)
    assert outside == []
    assert "<script" not in page
    assert page.count("<figure>") == 2
    links = set(re.findall(r'href="#([^"]+)"', page))
    assert links >= set(SECTIONS)


def test_it_is_ready_to_be_printed(full):
    page = render_html(full)
    assert "@page{margin:" in page
    assert 'counter(page) " of " counter(pages)' in page
    assert re.search(r"tr,figure[^{]*\{break-inside:avoid\}", page)


def test_the_same_record_gives_the_same_bytes(full, full_folder):
    from bench.records.store import open_record

    again = collect_report(open_record(full_folder), at=WRITTEN, by=WHO)
    assert render_html(again) == render_html(full)
    assert render_markdown(again) == render_markdown(full)


def test_an_earlier_report_is_never_written_over(record, tmp_path):
    first = write_report(record, out=tmp_path, at=WRITTEN, by=WHO)
    assert [path.name for path in first] == [
        "report-tin-orchard-annual-2-2026-03-12-1.html",
        "report-tin-orchard-annual-2-2026-03-12-1.md",
    ]
    kept = [path.read_bytes() for path in first]
    second = write_report(record, out=tmp_path, at=WRITTEN, by=WHO, formats=("md",))
    assert [path.name for path in second] == ["report-tin-orchard-annual-2-2026-03-12-2.md"]
    third = write_report(record, out=tmp_path, at=WRITTEN, by=WHO)
    assert third[0].name.endswith("-3.html")
    assert [path.read_bytes() for path in first] == kept


def test_a_name_taken_at_the_last_moment_is_left_alone(record, tmp_path, monkeypatch):
    taken = tmp_path / "report-tin-orchard-annual-2-2026-03-12-1.md"
    taken.write_text("somebody else's", encoding="utf-8")
    monkeypatch.setattr(report, "_free_number", lambda folder, stem: 1)
    paths = write_report(record, out=tmp_path, at=WRITTEN, by=WHO)
    assert [path.name.rsplit("-", 1)[1] for path in paths] == ["2.html", "2.md"]
    assert taken.read_text(encoding="utf-8") == "somebody else's"
    assert not (tmp_path / taken.name.replace(".md", ".html")).exists()


def test_a_full_disk_leaves_nothing_behind(record, tmp_path, monkeypatch):
    out = tmp_path / "out"
    out.mkdir()
    real, calls = os.fsync, []

    def fail_second(handle):
        calls.append(handle)
        if len(calls) > 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(handle)

    monkeypatch.setattr(os, "fsync", fail_second)
    with pytest.raises(RecordError, match="No report was written"):
        write_report(record, out=out, at=WRITTEN, by=WHO)
    assert list(out.iterdir()) == []


def test_a_folder_that_is_not_there_is_said(record, tmp_path):
    with pytest.raises(RecordError, match="not there any more"):
        write_report(record, out=tmp_path / "nowhere", at=WRITTEN, by=WHO)


def test_bad_wishes_are_refused_before_anything_is_written(record, tmp_path):
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(NotFound, match="format of the report is 'docx'"):
        write_report(record, out=out, at=WRITTEN, by=WHO, formats=("html", "docx"))
    with pytest.raises(BadValue, match="a time with its offset"):
        write_report(record, out=out, at=datetime(2026, 3, 12), by=WHO)
    with pytest.raises(BadValue, match="written by"):
        write_report(record, out=out, at=WRITTEN, by=" ")
    assert list(out.iterdir()) == []


def test_without_a_browser_the_pdf_says_what_to_do(record, tmp_path, monkeypatch):
    monkeypatch.setattr(pdf.shutil, "which", lambda name: None)
    with pytest.raises(NotFound, match="Open the HTML report in any browser and print it to a file"):
        write_report(record, out=tmp_path, at=WRITTEN, by=WHO, formats=("pdf",))


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("chromium") is None, reason="no Chromium is installed")
@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_it_prints_on_both_papers(full, paper, points):
    """A4 (ISO 216) is 210 by 297 mm, 595 by 842 points; Letter 8.5 by 11 in, 612 by 792; to a point."""
    printed = pdf.print_page(render_html(full), paper=paper)
    boxes = re.findall(rb"/MediaBox \[([\d. ]+)\]", printed)
    assert len(boxes) >= 8
    sizes = {tuple(float(n) for n in found.split()[2:]) for found in boxes}
    assert [size == pytest.approx(points, abs=1.1) for size in sizes] == [True]
    with pytest.raises(NotFound, match="A4 or Letter"):
        pdf.print_page("", paper="A3")


def test_a_corrected_time_is_a_correction_and_a_moved_step_is_not(record):
    steps = record.read("steps")
    row = steps[steps["name"] == "interleave"].iloc[0]
    keys = ("step", "stage", "name", "hands", "actual_start")
    moved = {"planned_start": at(4, 10), "planned_end": at(4, 11), "actual_end": at(4, 9, 30)}
    changed = {**{key: row[key] for key in keys}, "cycle": 1, "replaces": int(row["row"]), **moved}
    record.save({"steps": [changed]}, by="P. Quill", at=at(11, 9))
    words = section_words(collect_report(record, at=WRITTEN, by=WHO), "corrections")
    assert "step, interleave: actual end\n4 Mar 2026, 09:12\n4 Mar 2026, 09:30" in words
    assert "planned start" not in words


def test_a_short_wait_is_told_in_hours_and_a_long_one_in_days():
    from datetime import timedelta

    from bench.writeup.work import say_duration

    assert say_duration(timedelta(hours=24)) == "24 h"
    assert say_duration(timedelta(days=7)) == "7 d"
    assert say_duration(timedelta(0)) == "0 min"


def test_an_item_that_was_referred_is_not_reproached_with_what_was_not_done(tmp_path):
    record = make_bare(tmp_path)
    row = {"stage": "intake", "cycle": 0, "decision": "refer", "decided_at": at(2, 10), "decided_by": WHO}
    record.save({"decisions": [row]}, by=WHO, at=at(2, 10))
    made = collect_report(record, at=WRITTEN, by=WHO)
    assert section_words(made, "work") == (
        "Nothing: the item was not treated, because intake ended in “refer”."
    )
    assert "result" not in [section.key for section in made.sections]
    missing = [title for title, _ in made.missing()]
    assert set(missing) == {"The item", "Condition before treatment"}


def test_a_material_of_a_plan_that_was_not_carried_out_is_not_said_to_be_used(record):
    row = {"stage": "pressing", "cycle": 3, "kind": "board", "material": "backing board 24 pt", "count": 4}
    step = {"step": "z1", "stage": "pressing", "cycle": 3, "name": "press", "hands": "no"}
    step |= {"planned_start": at(20, 9), "planned_end": at(21, 9)}
    record.save({"materials": [row], "steps": [step]}, by=WHO, at=at(11, 9))
    words = section_words(collect_report(record, at=WRITTEN, by=WHO), "work")
    assert words.count("Planned, but not recorded as used: backing board 24 pt.") == 1
    assert "board: backing board" not in words


def test_what_it_cost_is_told_over_all_cycles_with_limits(tmp_path):
    record = make_full(tmp_path)
    spent = Spent(wet=50.0, damp=60.0, strict=60.0)
    plan = Plan(
        stage="pressing",
        cycle=2,
        verdict=Verdict.GO,
        answer="Press it.",
        because="It is damp.",
        values=spent.values(),
    )
    record.save({"plans": nouns.plan_rows(plan, record)}, by=WHO, at=WRITTEN)
    made = collect_report(record, at=WRITTEN, by=WHO)
    assert "Staples above 80 % RH, 50 h (limit 48 h)." in section_words(made, "costs")
    assert "time of wetness, above 80 % RH\n50 h\n48 h\nover the limit" in section_words(made, "doses")
    assert "A limit was passed: see “Limits and risks”." in " ".join(made.noted)
    assert "Not counted, because no plan is saved: cycle 1." in [words for _, words in made.missing()]


def test_what_was_written_down_at_the_bench_stands_beside_the_plan(record):
    """Sheets as counted, and durations as touched, under the names of the page of the day."""
    counts = (("sheets put in", 8, at(4, 9)), ("sheets taken out", 7, at(4, 18)))
    rows = [
        {"cycle": 1, "at": when, "quantity": name, "value": number, "unit": "dimensionless", "stage": stage}
        for (name, number, when), stage in zip(counts, ("buffering", "pressing"), strict=True)
    ]
    record.save({"log": rows}, by=WHO, at=at(11, 9))
    made = collect_report(record, at=WRITTEN, by=WHO)
    assert "Sheets put in\n1\n8\n8\n0\nas planned" in section_words(made, "predictions")
    assert "Sheets put in 8" in section_words(made, "work")
    assert made.noted[0] == (
        "The sheets laid between the leaves do not add up. Cycle 1: 8 sheets in, 7 sheets out."
    )
    assert "were taken out again is not certain" in section_words(made, "disclosure")
    owner = collect_report(record, at=WRITTEN, by=WHO, audience="owner")
    assert owner.noted[0] == made.noted[0]


def test_what_matters_and_was_not_measured_is_one_sentence(full, record):
    assert "Not measured" not in section_words(full, "predictions")
    rows = record.read("readings")
    old = rows[(rows["stage"] == "buffering") & (rows["cycle"] == 2)].to_dict("records")
    keys = ("cycle", "place", "value", "unit", "taken_at", "replicate")
    moved = [
        {
            **{key: row[key] for key in keys},
            "stage": "writeup",
            "quantity": "gap",
            "replaces": int(row["row"]),
        }
        for row in old
    ]
    record.save({"readings": moved}, by=WHO, at=at(11, 9))
    words = section_words(collect_report(record, at=WRITTEN, by=WHO), "predictions")
    assert words.splitlines()[-1] == "Not measured: thickness with the sheets in (cycle 2)."


def test_a_plan_that_is_out_of_date_is_said_at_the_head_and_is_no_matter_of_the_owner(tmp_path):
    """A plan rests on eight sheets; nine went into the plan before it since."""
    sheets = PlannedValue(facts.SHEETS, Q_(9, ""))
    say = {"verdict": Verdict.GO, "answer": "Do it.", "because": "It is time."}
    record = create_treatment(tmp_path, "tin-orchard-annual-2", {"treatment": [ITEM]}, by=WHO, at=at(2, 9))
    before = Plan(stage="buffering", cycle=1, values=(sheets,), **say)
    pressing = Plan(stage="pressing", cycle=1, **say)
    record.save({"plans": nouns.plan_rows(before, record)}, by=WHO, at=at(2, 10))
    rests = {"stage": "pressing", "cycle": 1, "plan": "pressing-1"}
    rests |= {"quantity": f"{RESTS}buffering 1: sheets", "words": "8"}
    rows = [row for row in nouns.plan_rows(pressing, record) if not row["quantity"].startswith(RESTS)]
    record.save({"plans": [*rows, rests]}, by=WHO, at=at(2, 11))
    whole = collect_report(record, at=WRITTEN, by=WHO)
    assert whole.noted[0].startswith("The pressing plan of cycle 1 is out of date: when it was saved,")
    assert collect_report(record, at=WRITTEN, by=WHO, audience="owner").noted == ()


def test_every_kind_of_block_is_written_as_html_and_as_markdown():
    kinds = set(get_args(Block))
    assert {kind.__name__ for kind in kinds} <= set(vars(html._BLOCKS))
    assert set(markdown._WRITERS) == kinds


def test_a_number_is_told_with_both_its_ends_as_in_the_panel():
    """A wider side told as ± would reach below nothing: 6 ± 9 h."""
    row = {"value": 6.2, "unit": "hour", "uncertainty": 8.1, "low": 3.4, "high": 14.3}
    assert say_number(row, MILLIMETRES) == "6 h (3 to 14)"
    assert say_number({**row, "low": None, "high": None}, MILLIMETRES) == "6 ± 9 h"
    warm = {"value": 60.0, "unit": "degC", "low": 55.0, "high": 65.0}
    assert say_number(warm, THOUSANDTHS) == "140 °F (131 to 149)"
