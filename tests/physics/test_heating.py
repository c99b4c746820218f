"""Heat through a press stack."""

import math

import numpy as np
import pytest

from bench.errors import BadValue, NotFound, OutOfRange, UnitMismatch
from bench.physics import heating, slab
from bench.physics.heating import HeatLayer
from bench.physics.ranges import Range
from bench.units import Q_

PERFECT = Q_(1e7, "W/m^2/K")


def paper(thickness=4.4, conductivity=0.12, density=650, capacity=1500, name="item"):
    return HeatLayer(
        name,
        Q_(thickness, "mm"),
        Q_(conductivity, "W/m/K"),
        Q_(density, "kg/m^3"),
        Q_(capacity, "J/kg/K"),
    )


def plate(thickness=3.2):
    """Aluminium alloy as in ht 1.2.0 (seen): 160 W/(m K), 2800 kg/m3, 880 J/(kg K)."""
    return paper(thickness, 160, 2800, 880, "plate")


def seconds(layers, percent, contact=PERFECT, **more):
    found = heating.estimate_heating_time(layers, fraction=Q_(percent, "percent"), contact=contact, **more)
    return found.value.to("s").m


# One face at the platen's temperature, the other insulated: seconds to 50, 90, 95 and 98 % at the far
# face.  Calculated from the exact series apart from this code (not a citation), whole seconds.
TABLE = [
    (2.2, (0.08, 600, 1500), (21, 56, 71, 92)),
    (4.4, (0.08, 600, 1500), (82, 225, 286, 367)),
    (8.0, (0.08, 600, 1500), (273, 742, 945, 1212)),
    (2.2, (0.12, 650, 1500), (15, 41, 52, 66)),
    (4.4, (0.12, 650, 1500), (60, 162, 206, 265)),
    (8.0, (0.12, 650, 1500), (197, 536, 682, 875)),
    (2.2, (0.18, 930, 1340), (13, 35, 44, 56)),
    (4.4, (0.18, 930, 1340), (51, 138, 176, 226)),
    (8.0, (0.18, 930, 1340), (168, 457, 581, 746)),
]


@pytest.mark.parametrize(("thickness", "constants", "times"), TABLE)
def test_press_heating(thickness, constants, times):
    for percent, expected in zip((50, 90, 95, 98), times, strict=True):
        assert seconds([paper(thickness, *constants)], percent) == pytest.approx(expected, abs=0.6, rel=2e-3)


@pytest.mark.parametrize(("thickness", "times"), [(2.2, (64, 81)), (4.4, (208, 265)), (8.0, (618, 787))])
def test_press_heating_through_a_contact(thickness, times):
    """Contact 200 W/(m2 K): calculated apart from this code (not a citation), whole seconds."""
    for percent, expected in zip((90, 95), times, strict=True):
        assert seconds([paper(thickness)], percent, Q_(200, "W/m^2/K")) == pytest.approx(expected, abs=0.6)


@pytest.mark.parametrize("contact", [50, 200, 1e6])
def test_one_layer_is_the_plane_wall(contact):
    """The exact series with Bi = h L / k; the slices may cost 0.3 %, as the module says."""
    exact = slab.fourier_for(0.9, contact * 0.0044 / 0.12, place="core") * 0.0044**2 * 650 * 1500 / 0.12
    assert seconds([paper()], 90, Q_(contact, "W/m^2/K")) == pytest.approx(exact, rel=3e-3)


def test_heating_from_both_sides_takes_a_quarter():
    """Exact with a perfect contact: half the way, time goes with its square."""
    assert seconds([paper()], 95, heated="both") == pytest.approx(seconds([paper()], 95) / 4, rel=3e-3)


def test_a_layer_cut_in_two_is_the_same_layer():
    whole, halves = seconds([paper(8)], 95), seconds([paper(4), paper(4)], 95)
    assert halves == pytest.approx(whole, rel=3e-3)


def test_a_plate_at_the_far_side_must_be_warmed_through_the_paper():
    """Exact limit: much heat behind a resistance rises as 1 - exp(-t / R C)."""
    thin = paper(0.2, density=100, capacity=300)
    heavy = paper(50, 400, 9000, 900, "plate")
    resistance, capacity = 0.2e-3 / 0.12 + 1 / 200, 0.05 * 9000 * 900
    expected = resistance * capacity * math.log(1 / (1 - 0.9))
    assert seconds([thin, heavy], 90, Q_(200, "W/m^2/K")) == pytest.approx(expected, rel=0.02)


def test_order_matters():
    """A plate next to the platen costs almost nothing, at the far side minutes."""
    near, far = seconds([plate(), paper(8)], 95), seconds([paper(8), plate()], 95)
    assert near < 1.2 * seconds([paper(8)], 95)
    assert far > 1.5 * near


def test_a_layer_nearer_to_the_platen_is_warm_earlier():
    stack = [paper(1, name="board"), paper(4.4), paper(3, name="lower board")]
    times = [seconds(stack, 95, where=name) for name in ("board", "item", "lower board")]
    assert times == sorted(times)
    assert seconds(stack, 95) == pytest.approx(times[-1])


def test_damp_paper_takes_longer():
    """Heat capacity 1.65 and 2.03 kJ/K per kg dry at 6 and 15 % moisture (calculated, three digits)."""
    dry, damp = (heating.heat_capacity_of_damp_paper(Q_(x, "percent")) for x in (6, 15))
    assert dry.to("kJ/kg/K").m == pytest.approx(1.65, abs=0.005)
    assert damp.to("kJ/kg/K").m == pytest.approx(2.03, abs=0.005)
    ratio = seconds([paper(capacity=damp.m)], 95) / seconds([paper(capacity=dry.m)], 95)
    assert ratio == pytest.approx(1.2, abs=0.05)


def test_the_interval_follows_the_conductivity():
    """From 0.08 to 0.18 W/(m K) with a perfect contact: time goes with its inverse."""
    known = Range(Q_(0.12, "W/m/K"), Q_(0.08, "W/m/K"), Q_(0.18, "W/m/K"))
    layer = HeatLayer("item", Q_(4.4, "mm"), known, Q_(650, "kg/m^3"), Q_(1500, "J/kg/K"))
    found = heating.estimate_heating_time([layer], contact=PERFECT)
    assert (found.high / found.value).m == pytest.approx(1.5, rel=1e-3)
    assert (found.low / found.value).m == pytest.approx(0.12 / 0.18, rel=1e-3)
    wider = heating.estimate_heating_time([layer])
    assert wider.high > found.high
    assert "platen is hot at once" in wider.assumption


# --- how warm it becomes -------------------------------------------------------------------------


def reached(layers, **more):
    given = {"platen_temperature": Q_(60, "degC"), "room_temperature": Q_(22, "degC")}
    return heating.temperature_reached(layers, **(given | more))


def test_two_layers_share_the_drop_as_their_resistances():
    """Hand calculation: 60 to 22 °C over 0.005, 0.0667, 0.01 and 0.125 m2 K/W.

    The coldest slice is warmer than the face by half a slice, here an eighth of 1.8 K over two.
    """
    stack = [paper(8), paper(1, 0.1, name="board")]
    found = reached(stack, contact=Q_(200, "W/m^2/K"), base_film=Q_(8, "W/m^2/K"))
    resistances = [0.005, 0.008 / 0.12, 0.001 / 0.1, 0.125]
    bottom = 60 - 38 * sum(resistances[:3]) / sum(resistances)
    assert found.coldest.value.to("degC").m == pytest.approx(bottom, abs=0.12)


def test_a_bare_base_never_lets_the_item_reach_the_platen():
    item = reached([paper(1, 0.1, name="board"), paper(4.4), plate()], where="item")
    assert item.coldest.high.to("degC").m < 58
    assert item.coldest.value < item.warmest.value < Q_(60, "degC")


def test_an_insulated_or_twice_heated_stack_does():
    for case in ({"base_film": None}, {"heated": "both"}):
        assert reached([paper()], **case).coldest.value.to("degC").m == pytest.approx(60)


def test_after_the_time_to_95_percent_the_far_face_is_at_58_degrees():
    """22 to 60 °C: 95 % of the step is 58.1 °C (arithmetic)."""
    time = heating.estimate_heating_time([paper()])
    there = reached([paper()], after=time.value, base_film=None)
    assert there.coldest.value.to("degC").m == pytest.approx(58.1, abs=0.01)


def test_the_stack_starts_cold_and_only_warms():
    layers = [paper(), plate()]
    warm = [reached(layers, after=Q_(t, "minute")).coldest.value.to("degC").m for t in (0, 2, 10, 60, 6e4)]
    assert warm[0] == pytest.approx(22)
    assert warm == sorted(warm)
    assert warm[-1] == pytest.approx(reached(layers).coldest.value.to("degC").m)


def test_the_profile_falls_straight_through_a_layer_in_the_end():
    depth, temperature = heating.temperature_profile(
        [paper(8)],
        platen_temperature=Q_(60, "degC"),
        room_temperature=Q_(22, "degC"),
        base_film=Q_(8, "W/m^2/K"),
    )
    slope = np.diff(temperature.to("degC").m) / np.diff(depth.to("m").m)
    assert slope == pytest.approx(slope[0])
    assert slope[0] == pytest.approx(-(38 / (0.005 + 0.008 / 0.12 + 0.125)) / 0.12, rel=1e-9)


def test_fahrenheit_and_celsius_agree():
    """60 °C is 140 °F."""
    one = reached([paper()])
    other = reached([paper()], platen_temperature=Q_(140, "degF"), room_temperature=Q_(71.6, "degF"))
    assert other.coldest.value.to("degC").m == pytest.approx(one.coldest.value.to("degC").m)


@pytest.mark.parametrize(
    ("call", "error", "words"),
    [
        (lambda: paper(-4.4), BadValue, "thickness of item is -0.0044 m"),
        (lambda: paper(conductivity=0), BadValue, "conductivity of item is 0"),
        (lambda: paper(density=0.65), BadValue, "density of item is 0.65"),
        (lambda: HeatLayer("b", 1.0, 1.0, 1.0, 1.0), UnitMismatch, "thickness of b is the bare number"),
        (lambda: heating.estimate_heating_time([]), BadValue, "layers is none"),
        (lambda: seconds([paper()], 95, where="cover"), NotFound, "layer is 'cover'; allowed is item"),
        (lambda: seconds([paper()], 100), BadValue, r"fraction is 1; allowed is 0.000001 to 0.999"),
        (lambda: seconds([paper()], 95, heated="top"), BadValue, "heated sides is 'top'"),
        (lambda: seconds([paper()], 95, heated="both", base_film=Q_(8, "W/m^2/K")), BadValue, "no cold base"),
        (lambda: seconds([paper()], 95, Q_(0, "W/m^2/K")), BadValue, "contact is 0"),
        (lambda: reached([paper()], platen_temperature=Q_(140, "degC")), OutOfRange, "Water in the paper"),
        (
            lambda: reached([paper()], platen_temperature=Q_(600, "degC")),
            BadValue,
            "platen temperature is 600",
        ),
        (lambda: reached([paper()], after=Q_(-1, "s")), BadValue, "dwell is -1 s"),
    ],
)
def test_refusals(call, error, words):
    with pytest.raises(error, match=words):
        call()
