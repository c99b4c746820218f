"""Learning from the bench: made findings give back what made them; nothing is learned from nothing."""

import math

import numpy as np
import pytest

from bench.errors import BadValue
from bench.physics.bearing.fit import Finding, fit_bench, fit_compression
from bench.physics.bearing.knowns import Assumed, Press, draw_values
from bench.physics.bearing.measures import unpressed_width
from bench.physics.bearing.zones import Profile, Sheets, lay_out, section_places, section_profile
from bench.physics.ranges import Range
from bench.uncertainty import exactly, from_expanded
from bench.units import Q_
from tests.makers import annual, annual_readings
from tests.oracles.one_section import solve_section

TRUE_THINNING, TRUE_RAMP = 0.045, 9.0e-3
LOAD = Range(Q_(4, "kPa"), Q_(3.5, "kPa"), Q_(4.5, "kPa"))


def one(value, unit):
    return Range(*[Q_(value, unit)] * 3)


def made_width(sheets, ramp, press):
    """Work the model forwards with constants that the fit does not know."""
    true = Assumed(thinning=one(TRUE_THINNING, ""), ramp=one(ramp, "m"))
    item, read = annual(), annual_readings()
    values = draw_values(item, read, sheets, press, true, rng=None)
    layout = lay_out(item, read)
    places = section_places(layout)
    full = section_profile(places, layout, sheets, values)
    profile = Profile(full.height[:, 0], full.first[:, 0], full.soft[:, 0])
    known = {name: float(values[name][0]) for name in ("bending", "give")}
    section = solve_section(places, profile, known, load=4e3 * layout.width)
    return float(unpressed_width(section.places, section.pressure, 1e3))


def finding(name="first", inner=5, thickness=True, width=True):
    press = Press(load=LOAD)
    sheets = Sheets(inner, 2)
    before = annual_readings().text_block.value
    thinned = from_expanded(before * (1 - TRUE_THINNING), Q_(20, "um"), cause=f"reading after {name}")
    found = from_expanded(
        Q_(made_width(sheets, TRUE_RAMP, press) * 1e3, "mm"), Q_(1, "mm"), cause=f"strip of {name}"
    )
    return Finding(
        name,
        annual(),
        annual_readings(),
        sheets,
        press,
        thinned if thickness else None,
        found if width else None,
    )


@pytest.fixture(scope="module")
def fit():
    return fit_bench([finding("first", 5), finding("second", 4), finding("third", 3)])


def test_the_fit_gives_back_the_thinning_that_made_the_findings(fit):
    thinning = fit.assumed.thinning
    assert thinning.value.m == pytest.approx(TRUE_THINNING, abs=0.004)
    assert thinning.low.m < TRUE_THINNING < thinning.high.m


def test_the_fit_gives_back_the_ramp_that_made_the_findings(fit):
    """Within its own interval, and nearer than what was believed before (6 mm)."""
    ramp = fit.assumed.ramp
    assert ramp.low.to("m").m < TRUE_RAMP < ramp.high.to("m").m
    assert abs(ramp.value.to("m").m - TRUE_RAMP) < abs(6e-3 - TRUE_RAMP) / 2


def test_predicted_after_the_fit_is_nearer_to_what_was_found(fit):
    assert fit.agreement < 1
    for row in fit.compared:
        found = row.found.value
        assert abs(row.after - found) <= abs(row.before - found) + Q_(0.3, "mm")


def test_the_fit_says_what_it_did_not_learn(fit):
    """Under a rigid platen the strip hardly depends on the boards."""
    assert fit.learned["ramp where the sheets end"] > 0.3
    assert fit.learned["bending stiffness of the pack"] < 0.1
    assert "next to nothing of" in fit.words
    assert "bending stiffness of the pack" in fit.words.split("next to nothing of")[1]


def test_a_thickness_alone_says_nothing_of_the_ramp():
    fit = fit_bench([finding(width=False)])
    assert fit.assumed.ramp.value.to("mm").m == pytest.approx(6, rel=1e-6)
    assert fit.learned["ramp where the sheets end"] == pytest.approx(0, abs=1e-9)


def test_a_fit_makes_the_next_answer_surer(fit):
    before, after = Assumed().thinning, fit.assumed.thinning
    assert after.high - after.low < 0.5 * (before.high - before.low)


def test_findings_that_the_model_cannot_explain_are_said_to_be_so():
    """A pile that grew by a tenth under the press."""
    grown = Finding(
        "grown",
        annual(),
        annual_readings(),
        Sheets(5, 2),
        Press(load=LOAD),
        from_expanded(1.1 * annual_readings().text_block.value, Q_(20, "um"), cause="reading"),
    )
    fit = fit_bench([grown])
    assert fit.agreement > 2
    assert "do not accept" in fit.words


@pytest.mark.parametrize(
    ("findings", "words"),
    [
        ([], "findings is empty"),
        ([Finding("bare", annual(), annual_readings(), Sheets(5, 2), Press(load=LOAD))], "findings is empty"),
        (
            [Finding("set", annual(), annual_readings(), Sheets(5, 2), Press(load=None, gap=one(5, "mm")))],
            "load of set is not given",
        ),
    ],
)
def test_nothing_found_is_refused(findings, words):
    with pytest.raises(BadValue, match=words):
        fit_bench(findings)


# --- thickness under two loads ---------------------------------------------------------------------


def pile(pressure_kpa, k1=8.0, k2=55.0, height=4.6):
    return height * (1 - math.log1p(pressure_kpa / k1) / k2)


def test_readings_under_many_loads_give_the_law_back():
    """Pfeiffer's law worked forwards by hand at seven loads."""
    readings = [
        (Q_(p, "kPa"), from_expanded(Q_(pile(p), "mm"), Q_(2, "um"), cause=f"at {p}"))
        for p in (1, 3, 8, 20, 50, 100, 200)
    ]
    k1, k2, height = fit_compression(readings)
    assert k1.value.to("kPa").m == pytest.approx(8, rel=0.05)
    assert k2.value.m == pytest.approx(55, rel=0.02)
    assert height.to("mm").m == pytest.approx(4.6, abs=0.005)


def test_two_readings_narrow_the_law():
    """Two loads cannot tell K1 from K2, but the line between them is kept."""
    readings = [
        (Q_(p, "kPa"), from_expanded(Q_(pile(p), "mm"), Q_(10, "um"), cause=f"at {p}")) for p in (5, 100)
    ]
    k1, k2, height = fit_compression(readings)
    fallen = (
        height.to("mm").m
        * (np.log1p(100 / k1.value.to("kPa").m) - np.log1p(5 / k1.value.to("kPa").m))
        / k2.value.m
    )
    assert fallen == pytest.approx(pile(5) - pile(100), abs=0.01)
    assert k2.high.m / k2.low.m < 100 / 40


def test_one_load_twice_is_refused():
    readings = [(Q_(50, "kPa"), exactly(Q_(4.4, "mm")))] * 2
    with pytest.raises(BadValue, match="two pressures or more"):
        fit_compression(readings)


def test_no_readings_are_refused():
    with pytest.raises(BadValue, match="readings under load is 0"):
        fit_compression([])


def test_a_pile_that_grows_under_load_is_refused():
    readings = [(Q_(5, "kPa"), exactly(Q_(4.4, "mm"))), (Q_(100, "kPa"), exactly(Q_(4.5, "mm")))]
    with pytest.raises(BadValue, match="contradict each other"):
        fit_compression(readings)


def test_a_vague_finding_leaves_the_thinning_as_it_was_believed():
    """Limit: doubt of a millimetre on the thickness says nothing; 2 % stays 2 %."""
    vague = Finding(
        "vague",
        annual(),
        annual_readings(),
        Sheets(5, 2),
        Press(load=LOAD),
        from_expanded(0.9 * annual_readings().text_block.value, Q_(10, "mm"), cause="reading"),
    )
    assert fit_bench([vague]).assumed.thinning.value.m == pytest.approx(0.02, abs=2e-4)
