"""Saturated salts against printed tables, and a hygrometer checked against them."""

import pytest

from bench.errors import BadValue, NotFound, OutOfRange
from bench.physics import salts
from bench.units import Q_


def celsius(value):
    return Q_(value, "degC")


def percent(value):
    return Q_(value, "percent")


# Greenspan 1977, tables: sodium chloride and magnesium chloride read in an open copy, the others from
# memory (potassium sulphate and carbonate against a rounded table that was read).
GREENSPAN = {
    "potassium sulphate": ((97.89, 0.63), (97.59, 0.53), (97.30, 0.45), (97.00, 0.40)),
    "potassium nitrate": ((95.41, 0.96), (94.62, 0.66), (93.58, 0.55), (92.31, 0.60)),
    "potassium chloride": ((85.92, 0.33), (85.11, 0.29), (84.34, 0.26), (83.62, 0.25)),
    "sodium chloride": ((75.61, 0.18), (75.47, 0.14), (75.29, 0.12), (75.09, 0.11)),
    "magnesium nitrate": ((55.87, 0.27), (54.38, 0.23), (52.89, 0.22), (51.40, 0.24)),
    "potassium carbonate": ((43.15, 0.33), (43.16, 0.33), (43.16, 0.39), (43.17, 0.50)),
    "magnesium chloride": ((33.30, 0.21), (33.07, 0.18), (32.78, 0.16), (32.44, 0.14)),
    "lithium chloride": ((11.30, 0.35), (11.31, 0.31), (11.30, 0.27), (11.28, 0.24)),
}
ROWS = [
    (salt, t, *row) for salt, rows in GREENSPAN.items() for t, row in zip((15, 20, 25, 30), rows, strict=True)
]


@pytest.mark.parametrize(("salt", "t", "humidity", "uncertainty"), ROWS)
def test_salts_agree_with_greenspans_table(salt, t, humidity, uncertainty):
    """Printed to 0.01 and cut off rather than rounded, so 0.01.

    The two salts whose sign of A1 is misprinted in open implementations fail here with a minus.
    """
    found = salts.salt_humidity(salt, temperature=celsius(t))
    assert found.humidity.to("percent").m == pytest.approx(humidity, abs=0.0101)
    assert found.uncertainty.to("percent").m == pytest.approx(uncertainty)


def test_every_salt_is_checked_above():
    assert set(salts.salt_names()) == set(GREENSPAN)


@pytest.mark.parametrize(
    ("salt", "printed"),
    [
        ("potassium sulphate", 97),
        ("potassium nitrate", 92),
        ("potassium chloride", 84),
        ("sodium chloride", 75),
        ("magnesium nitrate", 53),
        ("magnesium chloride", 33),
        ("lithium chloride", 11),
    ],
)
def test_the_second_fit_agrees_with_the_handbook_at_25(salt, printed):
    """CRC Handbook, Constant humidity solutions, column RH(25 °C) (read): printed to 1 %."""
    second = salts.salt_humidity(salt, temperature=celsius(25)).second_humidity
    assert second.to("percent").m == pytest.approx(printed, abs=0.5)


def test_a_disagreement_between_the_fits_is_said():
    """Potassium nitrate at 25 °C: 91.92 % by the handbook's constants, 93.58 % by Greenspan."""
    found = salts.salt_humidity("potassium nitrate", temperature=celsius(25))
    apart = found.second_humidity - found.humidity
    assert apart.to("percent").m == pytest.approx(91.92 - 93.58, abs=0.02)
    assert any("91.9 %" in caution for caution in found.cautions)
    assert "Oxidiser" in found.hazard


def test_where_the_second_fit_does_not_hold_there_is_none():
    """Potassium chloride: the handbook gives 5 to 25 °C."""
    found = salts.salt_humidity("potassium chloride", temperature=celsius(30))
    assert found.second_humidity is None


def test_uncertainty_runs_straight_between_the_printed_temperatures():
    found = salts.salt_humidity("sodium chloride", temperature=celsius(22.5))
    assert found.uncertainty.to("percent").m == pytest.approx((0.14 + 0.12) / 2)


def test_outside_the_printed_uncertainties_the_wider_one_is_taken_and_said():
    found = salts.salt_humidity("sodium chloride", temperature=celsius(35))
    assert found.uncertainty.to("percent").m == pytest.approx(2.0)
    assert any("above 30 °C" in caution for caution in found.cautions)


def test_a_salt_outside_its_fit_is_refused():
    with pytest.raises(
        OutOfRange, match="temperature of potassium carbonate is 40 °C; allowed is 5 to 30 °C"
    ):
        salts.salt_humidity("potassium carbonate", temperature=celsius(40))


def test_an_unknown_salt_is_refused_with_the_salts_there_are():
    with pytest.raises(NotFound, match="potassium sulphate"):
        salts.salt_humidity("barium chloride", temperature=celsius(20))


# --- hygrometer ----------------------------------------------------------------------------------


def check(reading, salt="sodium chloride", t=20.0, own=1.0):
    return salts.check_hygrometer(
        percent(reading), salt=salt, temperature=celsius(t), instrument_uncertainty=percent(own)
    )


@pytest.mark.parametrize(
    ("reading", "verdict", "way"), [(76.0, "agrees", 0), (79.0, "reads high", -1), (71.0, "reads low", 1)]
)
def test_a_hygrometer_is_judged_against_its_uncertainty(reading, verdict, way):
    result = check(reading)
    assert result.verdict == verdict
    assert verdict in result.words
    assert result.correction.m * way >= 0
    assert (result.correction.m == 0) == (way == 0)


def test_error_and_uncertainty_by_hand():
    """79.0 - 75.48 = 3.52; root of 1² + 0.14² = 1.01 (Greenspan's table at 20 °C)."""
    result = check(79.0)
    assert result.error.to("percent").m == pytest.approx(3.52, abs=0.005)
    assert result.uncertainty.to("percent").m == pytest.approx(1.01, abs=0.005)
    assert (result.reading + result.correction).to("percent").m == pytest.approx(75.48, abs=0.005)


@pytest.mark.parametrize(("salt", "printed"), [("potassium sulphate", 6), ("magnesium nitrate", 3)])
def test_one_kelvin_between_salt_and_sensor(salt, printed):
    """A sensor maker's guide (quoted in an open note, read): 1 K at 20 °C is 6 % at 97 %, 3 % at 50 %."""
    result = check(60.0, salt=salt)
    said = f"One kelvin between salt and sensor is about {printed} % RH here"
    assert any(said in caution for caution in result.cautions)


def test_a_very_large_error_doubts_the_set_up_first():
    assert any("wrong salt" in caution for caution in check(60.0).cautions)
    assert not any("wrong salt" in caution for caution in check(79.0).cautions)


def test_an_instrument_without_doubt_is_refused():
    with pytest.raises(BadValue, match=r"instrument uncertainty is 0 %.*last digit"):
        check(75.0, own=0.0)
