"""A choice is declared once: check, field, record, read-back, report and glossary follow from it."""

from dataclasses import dataclass, replace

import pytest

from bench.desk import Treatment
from bench.errors import BadValue
from bench.figures.choices import choices_page
from bench.panels.declared import build_fields, first_keys, read_fields
from bench.panels.field import Field
from bench.panels.humidity import build_humidity_panel
from bench.records.nouns import entered_of
from bench.treatment.choices import (
    NONE,
    check,
    declared,
    listed,
    number,
    one_of,
    staying,
    steps,
    tick,
    with_entries,
)
from bench.treatment.chosen import DECLARED, say_entry, usual_choices
from bench.treatment.entries import Entry
from bench.treatment.humidity import HumidityChoices
from bench.treatment.pressing import PressingChoices
from bench.units import MILLIMETRES, Q_, THOUSANDTHS
from tests.panels.test_stage_panels import make, put


@dataclass(frozen=True)
class Choices:
    """A stage that asks one thing of every kind."""

    warmth: object = number(
        Q_(22, "degC"), "warmth", "Warmth", "temperature", low=10, high=40, group="Air", is_first=True
    )
    gap: object = number(None, "gap", "Gap", "thickness", low=0.1, high=5, is_optional=True)
    times: int = steps(2, "times", "Times", 0, 4, most=10, stays=True)
    fan: bool = tick(False, "fan", "Fan", group="More")
    side: str = one_of("one", "side", "Side", (("from above", "one"), ("both", "both")))
    sheet: str | None = listed(
        "tissue",
        "sheet",
        "Sheet",
        lambda: [("thin tissue", "tissue"), (NONE, NONE)],
        shown=lambda sheet: sheet or NONE,
        taken=lambda shown: None if shown == NONE else shown,
    )

    def __post_init__(self):
        check(self)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"warmth": Q_(50, "degC")}, "warmth is 50 °C; allowed is 10 to 40 °C"),
        ({"gap": Q_(0.01, "mm")}, "gap is 0.01 mm; allowed is 0.1 to 5 mm"),
        ({"times": 11}, "times is 11; allowed is 0 to 10"),
        ({"times": 1.5}, "times is 1.5; allowed is 0 to 10"),
        ({"fan": "perhaps"}, "fan is 'perhaps'; allowed is yes or no"),
        ({"side": "left"}, "side is 'left'; allowed is from above; both"),
    ],
)
def test_a_value_outside_what_is_declared_is_refused_by_name(changes, words):
    with pytest.raises(BadValue) as refused:
        replace(Choices(), **changes)
    assert words in str(refused.value)


def test_more_than_a_control_offers_may_still_be_planned():
    assert replace(Choices(), times=10).times == 10


def test_fields_stand_in_order_under_their_headings_and_give_the_choices_back():
    built = build_fields(Choices())
    fields = [entry for entry in built if isinstance(entry, Field)]
    assert [entry.key for entry in fields] == ["warmth", "gap", "times", "fan", "side", "sheet"]
    assert [built.index(entry) for entry in built if not isinstance(entry, Field)] == [0, 4]
    values = {entry.key: entry.read(MILLIMETRES) for entry in fields}
    assert Choices(**read_fields(Choices, values)) == Choices()
    without = replace(Choices(), sheet=None)
    values = {e.key: e.read(MILLIMETRES) for e in build_fields(without) if isinstance(e, Field)}
    assert Choices(**read_fields(Choices, values)) == without
    assert first_keys(Choices) == ["warmth"]
    assert staying(Choices) == {"times": "Times"}


def test_what_is_left_out_leaves_its_heading_to_the_next():
    left = build_fields(Choices(), but=("warmth",))
    assert not isinstance(left[0], Field)
    assert left[1].key == "gap"


@pytest.mark.parametrize(
    ("name", "kept", "words"),
    [
        ("warmth", "40 degC", "104 °F"),
        ("gap", "", "left empty"),
        ("times", "3", "3"),
        ("fan", "yes", "yes"),
        ("side", "both", "both"),
        ("sheet", "tissue", "thin tissue"),
    ],
)
def test_an_entry_is_said_in_the_operators_words_and_units(name, kept, words):
    assert declared(Choices)[name].say(kept, THOUSANDTHS) == words


@pytest.mark.parametrize("stage", DECLARED)
def test_keys_and_labels_of_a_stage_are_each_alone(stage):
    choices = [choice for kind in DECLARED[stage] for choice in declared(kind).values()]
    assert len({choice.key for choice in choices}) == len(choices)
    assert len({choice.label for choice in choices}) == len(choices)


@pytest.mark.parametrize("stage", DECLARED)
def test_what_is_usual_is_among_what_is_allowed(stage):
    for choice, usual in usual_choices(stage, MILLIMETRES):
        options = [words for words, _ in choice.options()]
        assert not options or usual in options, choice.label


def test_the_glossary_tells_every_choice_of_every_stage():
    page = choices_page(MILLIMETRES)
    for stage in DECLARED:
        for choice, _ in usual_choices(stage, MILLIMETRES):
            assert choice.label in page.html.replace("\N{NO-BREAK SPACE}", " ")
    counts = {stage: len(list(usual_choices(stage, MILLIMETRES))) for stage in DECLARED}
    assert page.words == "; ".join(f"{stage}: {count} choices" for stage, count in counts.items())


def test_an_entry_comes_back_by_its_key_though_its_label_reads_otherwise(tmp_path):
    """A label is for people: a record written under another wording keeps its entry."""
    treatment = make(tmp_path)
    panel = build_humidity_panel(treatment)
    put(panel, volume="80")
    panel.save()
    (entry,) = entered_of(treatment.record, "humidity", 1)
    assert entry == Entry("volume", "Volume of the chamber", "80 litre")
    assert Entry("volume", "Room in the box", "80 litre").is_of("volume", "Volume of the chamber")
    assert not Entry("volume", "Volume of the chamber", "80").is_of("area", "Volume of the chamber")
    again = build_humidity_panel(Treatment(treatment.record, clock=treatment.now))
    assert again.field("volume").widget.value == "80"


def test_an_entry_from_before_keys_comes_back_by_its_label():
    assert Entry("", "Volume of the chamber", "80 litre").is_of("volume", "Volume of the chamber")


def test_an_entry_is_told_in_words():
    assert say_entry("pressing", Entry("platen", "Platen temperature", "40 degC"), MILLIMETRES) == "40 °C"
    assert say_entry("pressing", Entry("platen", "Platen temperature", ""), MILLIMETRES) == "left empty"
    assert say_entry("pressing", Entry("gone", "Gone", "7"), MILLIMETRES) == "7"
    assert say_entry("review", Entry("any", "Any", "7"), MILLIMETRES) == "7"


def test_the_stages_can_be_made_with_what_is_usual():
    assert HumidityChoices().longest == Q_(26, "hour")
    assert {choice.key for choice in declared(PressingChoices).values()} >= {"platen", "dwell", "load"}


@pytest.mark.parametrize(
    ("name", "kept", "value"),
    [
        ("warmth", "30 degC", Q_(30.0, "degC")),
        ("gap", "", None),
        ("times", "3", 3),
        ("fan", "yes", True),
        ("side", "both", "both"),
        ("sheet", NONE, None),
    ],
)
def test_an_entry_is_read_back_as_the_stage_holds_it(name, kept, value):
    assert declared(Choices)[name].read(kept) == value
    choice = declared(Choices)[name]
    made = with_entries(Choices(), [Entry(choice.key, choice.label, kept)])
    assert getattr(made, name) == value


@pytest.mark.parametrize(
    ("name", "kept"), [("warmth", "hot"), ("times", "many"), ("fan", "perhaps"), ("side", "left")]
)
def test_an_entry_that_can_be_read_no_more_leaves_what_is_proposed(name, kept):
    choice = declared(Choices)[name]
    with pytest.raises(BadValue):
        choice.read(kept)
    assert with_entries(Choices(), [Entry(choice.key, choice.label, kept)]) == Choices()
