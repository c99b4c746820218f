"""A field gives what it shows: entries read as people write them, refused in their units, kept by none."""

import re
import threading
import time
from dataclasses import replace
from html import unescape

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.errors import BadValue, BenchError
from bench.item import Format, Item
from bench.panels.base import Panel, UnitSwitch, View
from bench.panels.chamber import chamber_fields
from bench.panels.defects import _fields as defect_fields
from bench.panels.face import FacePad
from bench.panels.fields import ChoiceField, CountField, NumberField, StepField
from bench.panels.loads import load_fields, read_load
from bench.physics.contact import pressure_from_mass
from bench.treatment.entries import Entry
from bench.treatment.humidity import HumidityChoices
from bench.treatment.intake.condition_terms import FACES
from bench.units import MILLIMETRES, Q_, THOUSANDTHS, UnitChoice, read_numbers, to_float

FAHRENHEIT = UnitChoice("mm", "degF")


def panel_of(*fields, work=None, **rest):
    return Panel(
        name="try",
        strip=["x"],
        fields=fields,
        work=work or (lambda values, units: dict(values)),
        show=lambda result, units: View(f"<p>answer {len(result)}</p>"),
        save=lambda result, values: "Saved.",
        units=UnitSwitch(),
        **rest,
    )


def put(panel, **entries):
    for key, entry in entries.items():
        panel.field(key).widget.value = entry


def why(panel, key):
    return unescape(re.sub(r"<[^>]+>", "", panel.field(key).below.value))


def platen():
    return NumberField("platen", "Platen temperature", Q_(60.0, "degC"), "temperature")


def wanted(**ends):
    return NumberField("wanted", "Humidity wanted", Q_(85.0, "percent"), "percent", **ends)


def long(key="long", value=None, **ends):
    return NumberField(key, "Length", value, "length", **ends)


# --- what is planned is what stands there ---------------------------------------------------------


def test_a_platen_set_to_70_and_back_to_60_is_planned_at_60():
    panel = panel_of(platen())
    put(panel, platen="70")
    put(panel, platen="60")
    assert panel.inputs()["platen"] == Q_(60.0, "degC")
    assert panel.result == panel_of(platen()).result


def test_a_humidity_raised_to_95_and_back_to_85_is_planned_at_85():
    panel = panel_of(wanted())
    put(panel, wanted="95")
    put(panel, wanted="85")
    assert panel.inputs()["wanted"] == Q_(85.0, "percent")


@pytest.mark.parametrize(
    ("field", "bad", "back"),
    [
        (wanted(high=Q_(100.0, "percent")), "5500 %", "85"),
        (wanted(high=Q_(100.0, "percent")), "120 %", "85"),
        (wanted(), "eighty", "85.0"),
        (NumberField("wanted", "Area", Q_(1000.0, "cm^2"), "cm^2", low=Q_(1.0, "cm^2")), "-1000", "1000"),
    ],
)
def test_the_default_typed_back_after_a_refused_entry_is_planned(field, bad, back):
    panel = panel_of(field)
    before = panel.inputs()
    put(panel, wanted=bad)
    assert field.refused
    assert not panel.can_save
    assert panel.inputs() == {}
    put(panel, wanted=back)
    assert not field.refused
    assert panel.can_save
    assert panel.inputs() == before


def test_a_value_that_the_calculation_refuses_leaves_nothing_behind():
    """The field itself allows 120 %; what refuses it is the plan."""

    def plan(values, units):
        to_float(values["wanted"], "percent", field="humidity wanted", low=0, high=100)
        return dict(values)

    panel = panel_of(wanted(), work=plan)
    put(panel, wanted="120")
    assert "Humidity wanted is 120 %; allowed is 0 to 100 %" in why(panel, "wanted").capitalize()
    put(panel, wanted="85")
    assert panel.can_save
    assert panel.inputs()["wanted"] == Q_(85.0, "percent")


def test_the_number_under_which_a_proposal_is_shown_means_the_proposal():
    """258.1 mm is 10.161 in to the nearest thousandth, which a caliper reads; the record keeps 258.1 mm."""
    panel = panel_of(long(value=Q_(258.1, "mm")))
    panel._units.choice = THOUSANDTHS
    shown = panel.field("long").widget.value
    assert shown == "10.161"
    put(panel, long="11")
    put(panel, long=shown)
    assert panel.inputs()["long"] == Q_(258.1, "mm")
    assert panel.entries() == []


def test_no_digits_stand_behind_a_proposal():
    field = NumberField("x", "Rest", Q_(26.938271, "hour"), "hour")
    assert field.widget.value == "26.938"
    assert field.read(MILLIMETRES) == Q_(26.938, "hour")


@pytest.mark.parametrize("entry", ["170", "168.275", "6 5/8 in", "0.3", "171.33"])
@pytest.mark.parametrize("choice", [THOUSANDTHS, UnitChoice("um", "degF")])
def test_an_entry_comes_back_as_it_was_typed_when_units_are_switched_there_and_back(entry, choice):
    panel = panel_of(long(), platen())
    put(panel, long=entry, platen="61.3")
    before = panel.inputs()
    for _ in range(3):
        panel._units.choice = choice
        panel._units.choice = MILLIMETRES
    assert panel.field("long").widget.value == entry
    assert panel.field("platen").widget.value == "61.3"
    assert panel.inputs() == before


@settings(deadline=None)
@given(millimetres=st.integers(500, 60_000).map(lambda n: n / 100))
def test_a_switched_unit_moves_a_length_by_less_than_a_caliper_shows(millimetres):
    """A caliper for inches reads thousandths: by half of one; and what is planned is the number shown."""
    field = long()
    field.widget.value = f"{millimetres:g}"
    field.show_in(THOUSANDTHS)
    found = field.read(THOUSANDTHS)
    assert abs(found.to("inch").magnitude - millimetres / 25.4) <= 0.0005 + 1e-9
    assert found == Q_(float(field.widget.value), "inch")
    assert len(field.widget.value.partition(".")[2]) <= 3


@pytest.mark.parametrize("entry", ["", "  ", "twelve", "190,191,190", "4,41"])
def test_what_is_no_number_stays_as_it_stands_when_units_are_switched(entry):
    """An emptied field was filled again, and a refused entry replaced, by the last sound value."""
    panel = panel_of(long(value=Q_(170.0, "mm")))
    put(panel, long="160")
    put(panel, long=entry)
    panel._units.choice = THOUSANDTHS
    assert panel.field("long").widget.value == entry
    assert not panel.can_save


def test_an_entry_at_its_limit_is_allowed_in_every_unit():
    panel = panel_of(long(low=Q_(30.0, "mm"), high=Q_(258.75, "mm")), long("other", high=Q_(85.0, "mm")))
    put(panel, long="30", other="85")
    panel._units.choice = THOUSANDTHS
    assert panel.can_save
    put(panel, long="258.75 mm")
    assert panel.can_save
    panel._units.choice = MILLIMETRES
    assert panel.can_save


def test_an_entry_beyond_its_limit_stays_refused_in_every_unit():
    panel = panel_of(long(value=Q_(170.0, "mm"), high=Q_(258.75, "mm")))
    put(panel, long="5500")
    panel._units.choice = THOUSANDTHS
    assert panel.field("long").widget.value == "216.535"
    assert "Length is 216.535 in; allowed is at most 10.187 in" in why(panel, "long")
    assert not panel.can_save


def test_a_field_out_of_sight_holds_nothing_up():
    """A bad humidity of the machine was waited for, unseen, after another source was chosen."""
    panel = panel_of(*chamber_fields(HumidityChoices()))
    fresh = panel.inputs()
    put(panel, source="machine", given="much")
    assert panel.field("given").refused
    put(panel, source=fresh["source"])
    assert panel.field("given").box.layout.display == "none"
    assert panel.can_save
    assert panel.inputs() == fresh


def test_a_field_goes_out_of_sight_with_the_one_that_it_hangs_on():
    """A number of the leaf was asked for where no place was."""
    what = ChoiceField("what", "What", ["width", "mass"], "width")
    place = ChoiceField("place", "Place", ["cover", "a leaf"], "cover")
    place.use_while(what, lambda chosen: chosen == "width")
    leaf = CountField("leaf", "Leaf", needed="Count it")
    leaf.use_while(place, lambda chosen: chosen == "a leaf")
    panel = panel_of(what, place, leaf)
    put(panel, place="a leaf")
    assert leaf.refused
    put(panel, what="mass")
    assert leaf.box.layout.display == "none"
    assert panel.inputs() == {"what": "mass", "place": "cover", "leaf": ""}
    put(panel, what="width")
    assert leaf.box.layout.display == ""
    assert leaf.refused


# --- entries as people write them -----------------------------------------------------------------


def loaded(by, entry, **more):
    panel = panel_of(*load_fields(by_height=True))
    put(panel, load_by=by, load_number=entry, **more)
    return panel


@pytest.mark.parametrize(
    ("by", "entry", "value", "unit"),
    [
        ("mass", "12", 12, "kg"),
        ("mass", "12 kg", 12, "kg"),
        ("mass", "26 lb", 11.793, "kg"),
        ("mass", "26 lbs", 11.793, "kg"),
        ("force", "118 N", 118, "N"),
        ("force", "26 lbf", 115.65, "N"),
        ("gauge", "20 psi", 1.379, "bar"),
        ("pressure", "0.5 psi", 3.4474, "kPa"),
    ],
)
def test_a_load_is_read_with_its_unit(by, entry, value, unit):
    """By definition: a pound is 0.45359237 kg, and with standard gravity 4.448 N; 1 psi is 6.8948 kPa."""
    given = loaded(by, entry).inputs()["load_number"]
    assert given.to(unit).magnitude == pytest.approx(value, rel=1e-4)


def test_26_pounds_press_as_their_kilograms_do():
    area = Q_(0.0438, "m^2")
    load, words = read_load(loaded("mass", "26 lb").inputs(), area)
    assert load.value == pressure_from_mass(Q_(26.0, "lb").to("kg"), area=area)
    assert words == "11.79 kg on top, 2.64 kPa"


@pytest.mark.parametrize(
    ("by", "entry", "words"),
    [
        ("mass", "5500 %", "Mass on top is '5500 %'; allowed is a value in g, kg, mg, oz, lb"),
        ("mass", "118 N", "Mass on top is '118 N'; allowed is a value in g, kg, mg, oz, lb"),
        ("force", "12 kg", "Force of the press is '12 kg'; allowed is a value in N"),
        ("mass", "-3", "Mass on top is -3 kg; allowed is 0 kg or more"),
    ],
)
def test_a_load_of_another_kind_is_refused_in_words_of_the_kind_asked_for(by, entry, words):
    panel = loaded(by, entry)
    assert words in why(panel, "load_number")
    assert not panel.can_save


def test_a_load_that_would_crush_the_item_is_refused_in_the_unit_entered():
    """By hand: 500 kPa on 0.0438 m² is 21.9 kN; a fifth of doubt leaves 18.25 kN."""
    values = loaded("force", "18 kN").inputs()
    read_load(values, Q_(0.0438, "m^2"))
    with pytest.raises(BadValue, match=r"Force of the press is 19000 N; allowed is 0 to 18250 N"):
        read_load(loaded("force", "19 kN").inputs(), Q_(0.0438, "m^2"))


def test_fields_of_the_load_appear_only_where_they_are_used():
    panel = panel_of(*load_fields())

    def seen():
        keys = ("load_word", "load_number", "ram_area")
        return [key for key in keys if panel.field(key).box.layout.display != "none"]

    assert seen() == ["load_word"]
    put(panel, load_by="mass")
    assert seen() == ["load_number"]
    assert panel.field("load_number").widget.description == "Mass on top, kg"
    put(panel, load_by="gauge", load_number="1.4")
    assert seen() == ["load_number", "ram_area"]
    assert panel.field("load_number").widget.description == "Gauge of the ram, bar"


def test_a_load_kept_with_its_number_comes_back():
    before = loaded("mass", "26 lb")
    kept = {entry.key: entry for entry in before.entries()}
    assert kept["load_number"].kept == "11.7934016 kg"
    after = panel_of(*load_fields(by_height=True), entered=before.entries())
    assert after.inputs()["load_number"].to("lb").magnitude == pytest.approx(26, abs=0.002)
    bare = {**kept, "load_number": replace(kept["load_number"], kept="14")}
    assert panel_of(*load_fields(by_height=True), entered=list(bare.values())).inputs()["load_number"] == Q_(
        14.0, "kg"
    )


def test_a_percentage_is_no_number_of_sheets():
    """5500 % was read as 55."""
    panel = panel_of(NumberField("sheets", "Sheets in all", None, "dimensionless", optional=True))
    put(panel, sheets="5500 %")
    assert "Sheets in all is '5500 %'; allowed is a number. Write the number alone." in why(panel, "sheets")


@pytest.mark.parametrize(
    ("entry", "inches"),
    [
        ("6 5/8 in", 6.625),
        ("6 5/8", 6.625),
        ("6-5/8", 6.625),
        ("6⅝", 6.625),
        ("5/8", 0.625),
        ('6 5/8"', 6.625),
        ("6 5/8 inches", 6.625),
        ("1/64 in", 0.015625),
        ("10", 10),
    ],
)
def test_a_rule_is_read_in_parts_of_an_inch(entry, inches):
    panel = panel_of(long())
    panel._units.choice = THOUSANDTHS
    put(panel, long=entry)
    assert panel.inputs()["long"].to("inch").magnitude == inches


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (
            "6 5/8",
            "Length is '6 5/8'; allowed is a number of mm. Write 6 5/8 in, if it was read off a rule in",
        ),
        ("6 8/5 in", "Length is '6 8/5 in'"),
        ("5/0 in", "Length is '5/0 in'"),
        ("190,191,190", "with commas; allowed is a number of mm. Write one number, without commas."),
        ("1,234.5", "with a comma; allowed is a number of mm. Write 1234.5, without a comma."),
        ("4,41", "with a comma; allowed is a number of mm. Write 4.41, with a decimal point."),
    ],
)
def test_a_length_that_cannot_be_read_is_told_with_what_to_type(entry, words):
    panel = panel_of(long())
    put(panel, long=entry)
    assert words in why(panel, "long")
    assert "190.191.190" not in why(panel, "long")


def test_a_fraction_is_read_of_lengths_alone():
    panel = panel_of(wanted())
    put(panel, wanted="1/2")
    assert panel.field("wanted").refused


@pytest.mark.parametrize(
    ("text", "unit", "numbers"),
    [
        ("190 191 190", "thou", [190, 191, 190]),
        ("190; 191;190", "thou", [190, 191, 190]),
        ("190, 191, 190", "thou", [190, 191, 190]),
        ("190\n191\n190", "thou", [190, 191, 190]),
        ("6 5/8 6 11/16; 6.5", "inch", [6.625, 6.6875, 6.5]),
        ("4.40mm 4.42", "mm", [4.40, 4.42]),
        ("", "mm", []),
    ],
)
def test_readings_stand_apart_by_blank_semicolon_line_or_comma_and_blank(text, unit, numbers):
    assert [
        reading.to(unit).magnitude for reading in read_numbers(text, unit, field="Readings")
    ] == pytest.approx(numbers)


@pytest.mark.parametrize(
    ("text", "unit", "words"),
    [
        ("190,191,190", "thou", "Put a blank between readings, like 190 191 190."),
        ("4,41", "mm", "Write 4.41, with a decimal point, or 4 41 if these are two readings."),
        ("6.5 in", "inch", "Write the numbers alone: they are taken in inches."),
        ("nan", "mm", "Write the numbers alone: they are taken in mm."),
        ("4.4.1", "mm", "Write them like 4.40 4.42 4.41."),
    ],
)
def test_readings_that_cannot_be_told_apart_are_refused_with_what_to_type(text, unit, words):
    with pytest.raises(BadValue, match=re.escape(words)) as caught:
        read_numbers(text, unit, field="Readings")
    assert "190.191.190" not in str(caught.value)


# --- limits, errors and hints in the operator's units ----------------------------------------------


@settings(deadline=None)
@given(high=st.floats(1.0, 800.0), units=st.sampled_from([MILLIMETRES, THOUSANDTHS]))
def test_a_limit_that_is_shown_is_the_limit_that_is_applied(high, units):
    """Nobody is told ‘258.8: allowed at most 258.8’: what is shown is allowed, a step more is not."""
    field = long(high=Q_(high, "mm"))
    field.show_in(units)
    field.widget.value = "1e6"
    with pytest.raises(BenchError) as caught:
        field.read(units)
    shown = re.search(r"at most ([\d.]+) ", str(caught.value))[1]
    field.widget.value = shown
    field.read(units)
    places = len(shown.partition(".")[2])
    field.widget.value = f"{float(shown) + 1.01 * 10**-places:.{places + 2}f}"
    with pytest.raises(BenchError):
        field.read(units)


@pytest.mark.parametrize(("value", "high"), [(258.8, 258.75), (258.75001, 258.75), (10.1871, 10.18701)])
def test_a_refused_value_never_reads_like_its_limit(value, high):
    with pytest.raises(BadValue) as caught:
        to_float(Q_(value, "mm"), "mm", field="height", high=high)
    came, allowed = (
        float(re.search(r"[\d.]+", text)[0]) for text in (caught.value.value, caught.value.allowed)
    )
    assert came > high >= allowed


def test_what_a_calculation_refuses_is_said_in_the_unit_of_the_field_and_follows_the_switch():
    def plan(values, units):
        to_float(values["platen"], "degC", field="platen temperature", low=20, high=70)
        to_float(values["dwell"], "min", field="dwell", low=0.5, high=240)
        return dict(values)

    panel = panel_of(platen(), NumberField("dwell", "Dwell", Q_(999.0, "s"), "s"), work=plan)
    put(panel, platen="100")
    assert "is 100 °C; allowed is 20 to 70 °C" in why(panel, "platen")
    panel._units.choice = THOUSANDTHS
    assert "is 212 °F; allowed is 68 to 158 °F" in why(panel, "platen")
    put(panel, platen="140", dwell="12")
    assert "is 12 s; allowed is 30 to 14400 s" in why(panel, "dwell")


def test_what_no_field_is_named_in_is_said_in_the_operators_units_too():
    """The room that a defect leaves, and a staple below the page: by hand, 258.75 mm is 10.187 in."""

    def plan(values, units):
        return Item("An issue", Format.SADDLE_STITCHED, Q_(170.0, "mm"), values["long"], 16, staples=())

    panel = panel_of(long(value=Q_(258.75, "mm")), work=lambda v, u: {"item": plan(v, u)})
    panel._units.choice = THOUSANDTHS
    put(panel, long="40")
    assert "height is 40 in; allowed is 1.18111 to 31.496 in" in panel.answer


@pytest.mark.parametrize(("choice", "words"), [(MILLIMETRES, "0.5 mm wide"), (THOUSANDTHS, "0.02 in wide")])
def test_hints_follow_the_switch(choice, words):
    face, beneath = ChoiceField("face", "Face", FACES, FACES[0]), ChoiceField("beneath", "Beneath", [""], "")
    panel = panel_of(*defect_fields(FacePad(lambda box: None), face, beneath))
    panel._units.choice = choice
    assert words in why(panel, "height")


def test_what_was_proposed_is_said_in_the_operators_unit():
    panel = panel_of(platen(), entered=[Entry("", "Platen temperature", "65 degC")])
    assert why(panel, "platen") == "as saved; proposed: 60 °C"
    panel._units.choice = FAHRENHEIT
    assert why(panel, "platen") == "as saved; proposed: 140 °F"
    assert panel.field("platen").widget.value == "149"


# --- working, and old words -------------------------------------------------------------------------


def marks_of(panel):
    """Give the classes by which the page dims what is not the answer, and shows that it is at work."""
    return {"bench-at-work", "bench-refused"} & set(panel.widget._dom_classes)


def test_a_slow_answer_shows_that_it_is_working_and_dims_the_old_words_meanwhile():
    seen = []

    def work(values, units):
        if built:
            seen.append((marks_of(panel), panel.can_save))
            while not marks_of(panel):
                time.sleep(0.01)
            seen.append((marks_of(panel), panel.can_save))
        return dict(values)

    built = False
    panel = panel_of(wanted(), work=work)
    built = True
    put(panel, wanted="90")
    assert seen == [(set(), False), ({"bench-at-work"}, False)]
    assert marks_of(panel) == set()
    assert panel.can_save


def test_a_quick_answer_is_not_announced(monkeypatch):
    """To dim the page and undim it would take it longer than to show the answer."""
    panel = panel_of(wanted())
    marks, looks = [], []
    panel.widget.observe(lambda change: marks.append(change["new"]), names="_dom_classes")
    monkeypatch.setattr(threading.Timer, "start", lambda timer: looks.append(timer))
    put(panel, wanted="90")
    (look,) = looks
    look.run()  # too late: the answer is there
    assert marks == []
    assert panel.can_save


def test_a_refused_entry_dims_the_old_words_at_once_and_works_nothing_out():
    calls = []

    def work(values, units):
        calls.append(values)
        return dict(values)

    panel = panel_of(wanted(), work=work)
    put(panel, wanted="much")
    assert len(calls) == 1
    assert '<div class="stale" aria-hidden="true"><p>answer 1</p></div>' in panel.answer
    assert panel.answer.startswith('<p class="why" role="alert">Waiting')
    assert marks_of(panel) == {"bench-refused"}
    put(panel, wanted="90")
    assert "stale" not in panel.answer
    assert marks_of(panel) == set()


def test_a_fault_of_the_workbook_itself_leaves_nothing_to_save():
    """The old answer stood there undimmed, with Save offered for it."""

    def work(values, units):
        if values["wanted"].magnitude > 90:
            raise ZeroDivisionError
        return dict(values)

    panel = panel_of(wanted(), work=work)
    with pytest.raises(ZeroDivisionError):
        put(panel, wanted="95")
    assert "could not be worked out" in panel.answer
    assert not panel.can_save
    assert panel.inputs() == {}
    assert marks_of(panel) == {"bench-refused"}
    with pytest.raises(BenchError, match="could not be worked out"):
        panel.plan()


class TestSlider:
    """A number typed beside a slider is read as it stands, or refused."""

    @pytest.fixture
    def entry(self):
        return StepField("changes", "Changes of interleaves", 3, 0, 12)

    def test_a_step_is_read(self, entry):
        for entered in (12, "12"):
            entry.widget.value = entered
            assert entry.read(MILLIMETRES) == 12

    @pytest.mark.parametrize(("typed", "came"), [(13, "13"), (-1, "-1"), ("2.5", "'2.5'"), ("", "empty")])
    def test_what_is_no_step_is_told_with_what_is_allowed(self, entry, typed, came):
        entry.widget.value = typed
        said = f"^Changes of interleaves is {came}; allowed is a whole number, 0 to 12. Enter one of these.$"
        with pytest.raises(BadValue, match=said):
            entry.read(MILLIMETRES)
