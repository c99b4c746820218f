"""Reading and writing quantities: what the trade means, and what is refused in which words."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bench.errors import BadValue, UnitMismatch
from bench.units import (
    MILLIMETRES,
    Q_,
    THOUSANDTHS,
    UnitChoice,
    parse_quantity,
    say,
    say_length,
    say_value,
    to_float,
    to_humidity,
)


def length(text):
    return parse_quantity(text, field="sheet thickness", dimension="[length]")


# --- what is written at the bench ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "micrometres"),
    [
        ("5 mil", 127),
        ("5 mils", 127),
        ("5 thou", 127),
        ("5 thousandths", 127),
        ("24 pt", 609.6),
        ("24 points", 609.6),
        ("0.125 in", 3175),
        ('0.125"', 3175),
        ("4.41 mm", 4410),
        ("4.41mm", 4410),
        ("4.41 MM", 4410),
        ("  .5 mm ", 500),
        ("1e-1 cm", 1000),
        ("85 µm", 85),
        ("85 μm", 85),
        ("85 um", 85),
    ],
)
def test_thickness_as_it_is_written(text, micrometres):
    """By hand: 25.4 mm to the inch (exact); mil and pt are thousandths of an inch of thickness."""
    assert length(text).to("um").magnitude == pytest.approx(micrometres)


def test_173_thousandths_and_a_half_in_millimetres():
    """173.5 x 0.0254 = 4.4069 mm, by hand."""
    assert length("173.5 thou").to("mm").magnitude == pytest.approx(4.4069)


@pytest.mark.parametrize(
    ("text", "dimension", "unit", "value"),
    [
        ("60 °C", "[temperature]", "degC", 60),
        ("60 C", "[temperature]", "degC", 60),
        ("140 °F", "[temperature]", "degC", 60),
        ("333.15 K", "[temperature]", "degC", 60),
        ("98 %", "", "percent", 98),
        ("98%", "", "percent", 98),
        ("0.98", "", "percent", 98),
        ("1.5 h", "[time]", "s", 5400),
        ("110 g", "[mass]", "kg", 0.11),
        ("2 kN", "[force]", "N", 2000),
        ("1 psi", "[pressure]", "Pa", 6894.757),
        ("90.2 g/m²", "[grammage]", "gsm", 90.2),
    ],
)
def test_other_kinds(text, dimension, unit, value):
    """By definition of the units; 1 psi is 6894.757 Pa (printed in every conversion table)."""
    found = parse_quantity(text, field="reading", dimension=dimension)
    assert found.to(unit).magnitude == pytest.approx(value)


def test_sixty_degrees_is_about_140_fahrenheit():
    """*Common practice, no source*; exact by definition."""
    assert Q_(60, "degC").to("degF").magnitude == pytest.approx(140)
    assert say(Q_(60, "degC"), THOUSANDTHS.temperature) == "140 °F"


def test_999_seconds_are_about_sixteen_and_a_half_minutes():
    """*Common practice, no source*: about, so to half a minute."""
    assert parse_quantity("999 s", field="dwell", dimension="[time]").to("min").magnitude == pytest.approx(
        16.5, abs=0.25
    )


@given(number=st.floats(0.001, 1000), unit=st.sampled_from(["thou", "pt", "in", "mm", "µm"]))
def test_what_is_written_is_read_back(number, unit):
    assert length(f"{number} {unit}").magnitude == pytest.approx(number)


# --- what is refused -----------------------------------------------------------------------------


def test_a_decimal_comma_is_never_guessed():
    with pytest.raises(
        BadValue, match=r"sheet thickness is '4,41 mm'; .*Write 4.41 mm, with a decimal point"
    ):
        length("4,41 mm")


@pytest.mark.parametrize("text", ["", "mm", "about 4 mm", "nan mm", "inf mm"])
def test_words_are_no_number(text):
    with pytest.raises(
        BadValue, match=r"sheet thickness is .*; allowed is a number with a unit \(thou, pt, in"
    ):
        length(text)


def test_a_number_without_a_unit_is_refused():
    with pytest.raises(
        UnitMismatch, match=r"sheet thickness is the bare number 5; .*Add the unit that the instrument shows"
    ):
        length("5")


@pytest.mark.parametrize("text", ["5 lb", "5 °C", "5 mm2", "5 gsm", "4.4.1 mm"])
def test_a_unit_of_another_kind_is_refused(text):
    with pytest.raises(UnitMismatch, match="sheet thickness is "):
        length(text)


@pytest.mark.parametrize("unit", ["pt", "mil"])
def test_look_alikes_are_refused_where_no_thickness_is_wanted(unit):
    """Pint reads a pint of volume or an angle; neither may pass as a mass or a humidity in silence."""
    with pytest.raises(UnitMismatch, match="if a thickness was meant"):
        to_float(Q_(24, unit), "g", field="board")


def test_a_bare_number_is_refused_at_the_boundary():
    with pytest.raises(UnitMismatch, match=r"thickness is the bare number 4.4; allowed is a value in mm"):
        to_float(4.4, "mm", field="thickness")


def test_a_negative_thickness_is_refused_with_what_is_allowed():
    with pytest.raises(BadValue, match=r"thickness is -1 mm; allowed is 0 to 10 mm"):
        to_float(Q_(-1, "mm"), "mm", field="thickness", low=0, high=10)


@pytest.mark.parametrize(
    ("ends", "allowed"), [({"low": 2}, "2 mm or more"), ({"high": 0.5}, r"at most 0\.5 mm")]
)
def test_one_sided_limits_are_said(ends, allowed):
    with pytest.raises(BadValue, match=f"allowed is {allowed}"):
        to_float(Q_(1, "mm"), "mm", field="thickness", **ends)


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_what_is_not_finite_is_refused(value):
    with pytest.raises(BadValue, match="finite"):
        to_float(Q_(value, "mm"), "mm", field="thickness")


def test_the_error_carries_its_facts():
    with pytest.raises(BadValue) as caught:
        to_float(Q_(11, "mm"), "mm", field="thickness", low=0, high=10, remedy="Read it again")
    error = caught.value
    assert (error.field, error.value, error.allowed) == ("thickness", "11 mm", "0 to 10 mm")
    assert error.remedy == "Read it again"


@pytest.mark.parametrize("quantity", [Q_(5500, "percent"), Q_(55, "")])
def test_5500_percent_is_refused_and_the_lost_decimal_point_named(quantity):
    with pytest.raises(
        BadValue,
        match=r"relative humidity is 5500 %; allowed is 0 to 100 %\. If 98 % was meant.*lost decimal point",
    ):
        to_humidity(quantity)


@pytest.mark.parametrize(("quantity", "fraction"), [(Q_(98, "percent"), 0.98), (Q_(0.98, ""), 0.98)])
def test_percent_and_ratio_are_the_same_humidity(quantity, fraction):
    assert to_humidity(quantity) == pytest.approx(fraction)


@pytest.mark.parametrize(("length_unit", "temperature"), [("furlong", "degC"), ("mm", "kelvin")])
def test_units_that_no_operator_works_in_are_refused(length_unit, temperature):
    with pytest.raises(BadValue, match="Choose one of these"):
        UnitChoice(length_unit, temperature)


# --- what is shown -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "uncertainty", "shown"),
    [
        (4.4069, 0.0213, "4.407 ± 0.022 mm"),
        (4.4069, 0.04, "4.41 ± 0.04 mm"),
        (4.4069, 0.041, "4.41 ± 0.05 mm"),
        (173.5, 0.84, "173.5 ± 0.9 mm"),
        (173.5, 21.0, "174 ± 21 mm"),
        (1735.0, 210.0, "1740 ± 210 mm"),
        (-0.5, 0.2, "-0.50 ± 0.20 mm"),
        (4.4069, None, "4.41 mm"),
        (0.00512, None, "0.00512 mm"),
        (208.0, None, "208 mm"),
        (0.0, None, "0 mm"),
    ],
)
def test_a_value_is_shown_with_the_digits_it_deserves(value, uncertainty, shown):
    """By hand: uncertainty rounded up to two digits below 3 and one above, value to the same place."""
    assert say_value(value, uncertainty, "mm") == shown


@given(value=st.floats(-1000, 1000), uncertainty=st.floats(1e-4, 500))
def test_rounding_never_shows_less_doubt_than_there_is(value, uncertainty):
    """The shown uncertainty is not below the given one, and at most a third above (3.01 becomes 4)."""
    shown = float(say_value(value, uncertainty, "").split(" ± ")[1])
    assert uncertainty * (1 - 1e-6) <= shown <= uncertainty * 4 / 3 + 1e-9


def test_a_thickness_is_shown_in_the_operators_unit():
    thickness, doubt = Q_(4.4069, "mm"), Q_(0.0213, "mm")
    assert say_length(thickness, MILLIMETRES, uncertainty=doubt) == "4.407 ± 0.022 mm"
    assert say_length(thickness, THOUSANDTHS, uncertainty=doubt) == "173.5 ± 0.9 thou"


def test_an_uncertainty_of_temperature_is_a_difference():
    """1 K is 1.8 °F of difference, not 33.8 °F."""
    assert say(Q_(60, "degC"), "degF", uncertainty=Q_(1, "kelvin")) == "140.0 ± 1.8 °F"


def test_humidity_is_shown_in_percent():
    assert say(Q_(0.98, ""), "percent", uncertainty=Q_(0.02, "")) == "98.0 ± 2.0 %"


@pytest.mark.parametrize(
    ("unit", "micrometres"), [("mil", 127.0), ("pt", 127.0), ("point", 127.0), ("thou", 127.0)]
)
def test_trade_units_of_thickness_mean_what_the_trade_means(unit, micrometres):
    """5 mil of thickness is five thousandths of an inch; a 24 pt board is 24 (common practice, no source)."""
    assert to_float(Q_(5, unit), "um", field="thickness") == pytest.approx(micrometres)


def test_a_basis_weight_without_its_basis_size_is_refused_with_the_right_word():
    with pytest.raises(UnitMismatch, match="needs its basis size"):
        to_float(Q_(24, "lb"), "gsm", field="grammage")
