"""A sheet over a jar against the textbook's diffusion tube, the law of still air, and itself."""

import math
from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BadValue, NotYet
from bench.physics.ranges import draw
from bench.physics.saturation import VAPOUR_CONSTANT, pressure_pa
from bench.physics.vapour import COVER_AS_AIR, air_permeability
from bench.treatment import measured
from bench.trials.jars import AIR, DEEPEST, HOURS, HUMIDITY, JARS, MOUTH, Around, stefan_flux
from bench.trials.sheet_over_jar import SHEET_OVER_JAR, constant_of, fit, list_sheets, make_up
from bench.units import Q_

SHEET, OPEN, DEEP = (dict(zip(("gap", "water", "before", "after"), jar.asked(), strict=True)) for jar in JARS)


def sheet(mm, **more):
    return make_up("coated cover", {"cover-as-air": mm}, None, **more)


def with_reading(readings, asked, *numbers):
    values = tuple(Q_(number, asked.plain_unit) for number in numbers)
    return replace(readings, read={**readings.read, asked.key: values})


def without(readings, *asked):
    left_out = {one.key for one in asked}
    return replace(readings, read={k: v for k, v in readings.read.items() if k not in left_out})


def found_mm(outcome):
    return outcome.found[0].value.floats("mm", field="sheet")


def keys_of(outcome):
    return {caution.key for caution in outcome.cautions}


def test_a_diffusion_tube_gives_what_the_textbook_prints():
    # C. J. Geankoplis, Transport Processes and Unit Operations, example 6.2-2 (from memory): water at 293 K
    # in a narrow tube, 0.1524 m to dry air at 1 atm, D = 0.250e-4 m2/s, p = 2341 Pa: 1.595e-7 kmol/m2 s.
    kelvin, diffusivity = 293.0, 0.250e-4
    permeability = diffusivity * 18.015 / (8314.3 * kelvin)
    assert stefan_flux(permeability, 0.1524, 2341.0, 0.0) / 18.015 == pytest.approx(1.595e-7, abs=0.002e-7)


def test_the_law_of_still_air_is_within_six_per_cent_of_that_tube():
    diffusivity = air_permeability(20.0) * VAPOUR_CONSTANT * 293.15
    assert diffusivity == pytest.approx(0.250e-4, rel=0.06)


def test_stefans_flow_is_the_mean_pressure_of_vapour_over_that_of_the_air():
    # first order: 1 + (p_wet + p_dry) / 2 P: two per cent at 23 °C and half humidity
    wet, dry = pressure_pa(23.0), 0.5 * pressure_pa(23.0)
    more = stefan_flux(1.0, 1.0, wet, dry) / (wet - dry)
    assert more == pytest.approx(1 + (wet + dry) / 2 / 101325, abs=5e-4)
    assert 1.015 < more < 1.025


def test_a_jar_loses_what_is_reckoned_by_hand():
    # mouth of 60 mm, 15 mm of air and 10 mm of film, 22 °C throughout, 50 %, a day: Schirmer's law by hand,
    # D = 2.306e-5 (295.15/273.15)^1.81 = 2.653e-5 m2/s; p = 2646 and 1323 Pa; flow of Stefan 1.020
    flux = 2.653e-5 / (461.5 * 295.15) * (2646 - 1323) / 0.025 * 1.020
    by_hand = flux * math.pi / 4 * 0.06**2 * 86400 * 1000
    around = Around(60.0, 24.0, 22.0, 0.5)
    assert around.grams_by_mm(22.0) / 25.0 == pytest.approx(by_hand, rel=0.003)


def test_in_the_deepest_gap_that_is_allowed_the_air_is_still():
    # Rayleigh's number g (d rho/rho) L^3 / (nu D), light vapour against cooler water (Incropera, appendix A)
    vapour = 0.378 * 0.5 * pressure_pa(22.0) / 101325
    by_vapour = 9.81 * vapour * (DEEPEST / 1000) ** 3 / (1.53e-5 * 2.65e-5)
    by_warmth = 9.81 * 0.6 / 295 * (DEEPEST / 1000) ** 3 / (1.53e-5 * 2.16e-5)
    assert by_vapour == pytest.approx(1900, rel=0.05)
    assert by_warmth == pytest.approx(900, rel=0.06)
    assert by_vapour - by_warmth < 1101


@pytest.mark.parametrize("mm", [5.0, 20.0, 60.0, 120.0])
@pytest.mark.parametrize("with_deep", [False, True])
def test_a_bench_without_error_finds_the_truth(mm, with_deep):
    outcome = fit(sheet(mm, with_deep=with_deep))
    value, low, high = found_mm(outcome)
    assert value == pytest.approx(mm, rel=0.01)  # cut off at zero, the median of a small one is a little more
    assert low < mm < high
    assert outcome.is_usable
    assert outcome.shown.misfit < 0.1


def test_resistances_stand_in_a_row():
    # two sheets, one on the other, hold back twice as much: what is lost goes with one over the sum
    single, double = (fit(sheet(mm)) for mm in (20.0, 40.0))
    ways = [outcome.shown.points[0].y - outcome.shown.points[0].x for outcome in (single, double)]
    assert ways[1] - ways[0] == pytest.approx(20.0, rel=1e-6)


def test_water_that_sinks_is_followed_exactly():
    # the tube of Stefan: dm/dt = K / (L + m / rho A), so (L + m / 2 rho A) m = K t
    readings = with_reading(sheet(20.0), HOURS, 24.0)
    around, steps = Around(60.0, 24.0, 22.0, 0.5), 20000
    rate, lost = around.grams_by_mm(21.4) / steps, 0.0
    for _ in range(steps):
        lost += rate / (25.0 + around.sunk(lost))
    read = readings.number(OPEN["before"]) - readings.number(OPEN["after"])
    assert read == pytest.approx(lost, rel=1e-4)


def test_each_kind_of_sheet_finds_its_own_constant():
    assert {constant_of(name) for name in list_sheets()} == set(SHEET_OVER_JAR.finds)
    release = make_up("silicone release paper", {"release-as-air": 30.0}, None)
    outcome = fit(release)
    assert [one.constant for one in outcome.found] == [measured.RELEASE_AS_AIR]
    assert outcome.found[0].before == COVER_AS_AIR
    assert "release sheet" in outcome.answer


def test_a_third_jar_narrows_it():
    widths = []
    for with_deep in (False, True):
        _, low, high = found_mm(fit(sheet(20.0, with_deep=with_deep)))
        widths.append(high - low)
    assert widths[1] < widths[0]


@pytest.mark.parametrize("asked", [MOUTH, AIR, HUMIDITY, HOURS, *SHEET.values(), *OPEN.values()])
def test_a_missing_reading_is_asked_for(asked):
    with pytest.raises(NotYet, match=asked.label):
        fit(without(sheet(20.0), asked))


def test_a_third_jar_is_read_whole_or_not_at_all():
    readings = sheet(20.0, with_deep=True)
    assert len(fit(without(readings, *DEEP.values())).shown.points) == 2
    with pytest.raises(NotYet, match=DEEP["water"].label):
        fit(without(readings, DEEP["water"]))


def test_silly_readings_are_refused():
    with pytest.raises(BadValue, match="loss is"):
        fit(with_reading(sheet(20.0), SHEET["after"], 401.0))
    with pytest.raises(BadValue, match="down to the water"):
        fit(with_reading(sheet(20.0), OPEN["gap"], 60.0))
    damp = with_reading(with_reading(sheet(20.0), AIR, 30.0), HUMIDITY, 70.0)
    with pytest.raises(BadValue, match="temperature of the water"):
        fit(with_reading(damp, SHEET["water"], 16.0))


def test_a_draught_stops_it():
    readings = sheet(20.0)
    lost = readings.number(OPEN["before"]) - readings.number(OPEN["after"])
    blown = with_reading(readings, OPEN["after"], readings.number(OPEN["before"]) - 2.6 * lost)
    assert "jar-draught" in keys_of(fit(blown))
    assert not fit(blown).is_usable


def test_jars_that_contradict_each_other_stop_it():
    readings = sheet(20.0, with_deep=True)
    wrong = with_reading(readings, DEEP["after"], readings.number(DEEP["before"]) - 0.9)
    assert "jar-misfit" in keys_of(fit(wrong))
    assert not fit(wrong).is_usable


def test_a_sheet_that_hardly_lets_anything_through_is_not_taken():
    assert "jar-outside" in keys_of(fit(sheet(250.0)))
    assert "jar-lost-little" in keys_of(fit(sheet(250.0)))


def test_it_says_what_follows_in_few_words():
    assert len(fit(sheet(20.0)).answer.split()) <= 50
    assert len(SHEET_OVER_JAR.steps) == 6


@pytest.mark.slow
@pytest.mark.parametrize("with_deep", [False, True])
def test_the_interval_holds_the_truth_as_often_as_it_says(with_deep):
    rng, missed = np.random.default_rng(8), np.zeros(2, int)
    for _ in range(200):
        truth = float(draw(COVER_AS_AIR.floats("mm", field="sheet"), rng.standard_normal(1))[0])
        _, low, high = found_mm(
            fit(make_up("coated cover", {"cover-as-air": truth}, rng, with_deep=with_deep))
        )
        missed += [truth < low, truth > high]
    assert missed.sum() <= 20
    assert missed.min() > 0 or missed.sum() < 8
