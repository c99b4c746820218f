"""What is filled into a template is words, whatever it holds; what a piece of a page gave stays markup."""

from html.parser import HTMLParser

from bench.figures.page import caution_list, lead_of, table, verdict_cell, verdict_tag
from bench.figures.photographs import figure_row
from bench.figures.slip import slip_document
from bench.physics.contact import pressure_from_word
from bench.treatment.buffering import BufferingChoices, plan_buffering
from bench.treatment.plan import Caution, Verdict
from tests.makers import annual, annual_readings

HOSTILE = "<script>alert(1)</script> \" onerror='alert(2)' & {{ 7 * 7 }}"


class Reader(HTMLParser):
    """Reads a page as a browser does: its tags, and its words."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: dict[str, str | None] = {}
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes |= dict(attrs)

    def handle_data(self, data):
        self.words += data


def test_hostile_words_stay_words_in_every_piece():
    source = "data:image/jpeg;base64,AA+/=="
    pieces = (
        table((HOSTILE,), [(HOSTILE,), (HOSTILE,)], picked=1),
        caution_list([Caution(Verdict.STOP, HOSTILE)]),
        lead_of(verdict_tag(Verdict.CARE, HOSTILE), HOSTILE, HOSTILE),
        figure_row([(source, HOSTILE)]),
    )
    for read in map(Reader, pieces):
        assert "script" not in read.tags
        assert HOSTILE in read.words
        assert "onerror" not in read.attributes
    assert Reader(pieces[-1]).attributes == {"class": "photographs", "src": source, "alt": HOSTILE}


def test_a_slip_of_a_hostile_title_runs_nothing():
    item = annual(title=HOSTILE)
    plan = plan_buffering(item, annual_readings(), BufferingChoices(load=pressure_from_word("medium")))
    read = Reader(slip_document(item, plan))
    assert "script" not in read.tags
    assert read.words.count(HOSTILE) == 2  # in the title of the page and at its head


def test_a_cell_that_is_markup_stays_markup():
    page = table(("dose", "stands"), [("heat", verdict_cell(Verdict.GO, "within"))])
    assert '<td><span class="tag go">● within</span></td>' in page
