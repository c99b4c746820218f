"""The tables of materials: every row sound, sourced and plausible."""

import csv
from importlib import resources

import pytest

from bench.errors import NotFound
from bench.materials import (
    all_notes,
    all_properties,
    has_note,
    has_property,
    look_up,
    look_up_note,
    materials_for,
    materials_of_kind,
)
from bench.physics.transient.cells import is_barrier
from bench.sources import cite
from bench.units import Q_

FOLDER = resources.files("bench.materials")
FILES = sorted(item.name for item in FOLDER.iterdir() if item.name.endswith(".csv"))
HEADER = [
    "material",
    "kind",
    "property",
    "value",
    "unit",
    "uncertainty",
    "low",
    "high",
    "source",
    "where",
    "confidence",
]
NOTES_HEADER = ["material", "property", "text", "source", "where", "confidence"]
KINDS = {
    "text paper",
    "cover paper",
    "interleaf",
    "board",
    "card",
    "plate",
    "pad",
    "salt",
    "glue",
    "isotherm",
    "thermal",
}


def rows_of(name):
    """Read a table as it is written, so that a row that hides another is found."""
    return list(csv.reader(FOLDER.joinpath(name).read_text(encoding="utf-8").splitlines()))


PROPERTIES = all_properties()
LABELS = [f"{p.material}: {p.name}" for p in PROPERTIES]


@pytest.mark.parametrize("name", FILES)
def test_every_row_fills_the_columns(name):
    header, *rows = rows_of(name)
    assert header == (NOTES_HEADER if name == "notes.csv" else HEADER)
    assert rows
    for row in rows:
        assert len(row) == len(header), row
        assert all(cell == cell.strip() for cell in row), row


def test_no_key_stands_twice():
    keys = [(row[0], row[2]) for name in FILES if name != "notes.csv" for row in rows_of(name)[1:]]
    assert len(keys) == len(set(keys)) == len(PROPERTIES)
    notes = [(row[0], row[1]) for row in rows_of("notes.csv")[1:]]
    assert len(notes) == len(set(notes)) == len(all_notes())


@pytest.mark.parametrize("entry", PROPERTIES, ids=LABELS)
def test_a_property_is_sourced_and_in_order(entry):
    assert cite(entry.source).reference
    assert entry.where
    assert entry.confidence in ("high", "medium", "low")
    assert entry.kind in KINDS
    for end in (entry.low, entry.high):
        assert end is None or end.is_compatible_with(entry.value)
    assert entry.low is None or entry.low <= entry.value
    assert entry.high is None or entry.value <= entry.high
    if entry.uncertainty is not None:
        assert entry.uncertainty.magnitude > 0
        assert entry.uncertainty.is_compatible_with(
            Q_(1, "delta_degC") if entry.value.check("[temperature]") else entry.value
        )


@pytest.mark.parametrize("entry", all_notes(), ids=lambda n: f"{n.material}: {n.name}")
def test_a_note_is_sourced_and_belongs_to_a_material(entry):
    assert cite(entry.source).reference
    assert entry.text
    assert entry.where
    assert entry.confidence in ("high", "medium", "low")
    assert entry.material in {p.material for p in PROPERTIES}


def test_a_value_from_memory_alone_is_never_of_high_confidence():
    """High confidence needs a copy, a library or plain arithmetic."""
    bold = [
        label
        for label, p in zip(LABELS, PROPERTIES, strict=True)
        if p.source == "memory" and p.confidence == "high"
    ]
    assert bold == []


# Plausible values of each property, whatever the material; a new property needs its band here.  Common
# practice, no source: wide enough for anything on a bench, narrow enough for a slipped decimal point.
BANDS = {
    "thickness": ("mm", 0.01, 12),
    "vapour through it": ("", 0.01, 1),
    "grammage": ("gsm", 5, 1500),
    "density": ("kg/m^3", 80, 3000),
    "thermal conductivity": ("W/(m*K)", 0.02, 300),
    "specific heat": ("J/(kg*K)", 700, 2500),
    "contact conductance": ("W/(m^2*K)", 20, 5000),
    "softening temperature": ("degC", 0, 160),
    "lowest temperature": ("degC", 0, 20),
    "highest temperature": ("degC", 25, 100),
    "reference temperature": ("degC", 15, 30),
    "CRC lowest temperature": ("degC", 0, 25),
    "CRC highest temperature": ("degC", 20, 70),
    "CRC A": ("percent", 5, 100),
    "CRC B": ("kelvin", -100, 400),
    "Greenspan A0": ("percent", 5, 100),
    "Greenspan A1": ("percent/kelvin", -0.5, 0.2),
    "Greenspan A2": ("percent/kelvin**2", -0.01, 0.01),
    "Greenspan A3": ("percent/kelvin**3", -1e-4, 1e-4),
    "humidity at 15 degC": ("percent", 5, 99),
    "humidity at 20 degC": ("percent", 5, 99),
    "humidity at 25 degC": ("percent", 5, 99),
    "humidity at 30 degC": ("percent", 5, 99),
    "GAB m": ("", 0.001, 0.15),
    "GAB C": ("", 2, 100),
    "GAB K": ("", 0.5, 0.95),
    "Heikkila b": ("", 10, 100),
    "Heikkila p": ("", 1, 3),
    "Heikkila c": ("1/kelvin", 0.01, 1),
    "Heikkila q": ("", 0.5, 2),
    "Tryding GAB m": ("", 0.001, 0.15),
    "Tryding GAB C": ("", 0.1, 10),
    "Tryding GAB C heat": ("kJ/kg", 0, 1000),
    "Tryding GAB K": ("", 0.01, 1),
    "Tryding GAB K heat": ("kJ/kg", 0, 1000),
    "Henderson c": ("", 0.1, 1),
    "Henderson kappa": ("", 0.01, 1),
    "Henderson temperature": ("kelvin", 200, 600),
    "Henderson n": ("", 0, 10),
    "bending modulus": ("GPa", 0.1, 250),
    "through-thickness modulus": ("MPa", 0.1, 200),
}


@pytest.mark.parametrize("entry", PROPERTIES, ids=LABELS)
def test_a_property_is_plausible(entry):
    assert entry.name in BANDS, "a new property needs a band of plausible values in this test"
    unit, low, high = BANDS[entry.name]
    for value in (entry.value, entry.low, entry.high):
        assert value is None or low <= value.to(unit or "dimensionless").magnitude <= high


# Tighter bands by what the material is: no cork tile with the conductivity of steel.
METALS = {"aluminium"}


@pytest.mark.parametrize("entry", [p for p in PROPERTIES if p.name == "thermal conductivity"])
def test_only_metals_conduct_like_metals(entry):
    for value in (entry.value, entry.low, entry.high):
        conductivity = value.to("W/(m*K)").magnitude
        assert conductivity > 50 if entry.material in METALS else conductivity < 1


@pytest.mark.parametrize("entry", [p for p in PROPERTIES if p.name == "density"])
def test_only_metals_are_as_dense_as_metals(entry):
    density = entry.value.to("kg/m^3").magnitude
    assert density > 2000 if entry.material in METALS else density < 1600


SHEETS = [
    m for kind in ("text paper", "cover paper", "interleaf", "board", "card") for m in materials_of_kind(kind)
]


def test_the_papers_of_the_bench_are_there():
    assert {"newsprint", "uncoated writing", "coated text", "coated cover", "uncoated cover"} <= set(SHEETS)
    assert {"copy paper 20 lb", "copy paper 24 lb", "spun polyester", "thin tissue"} <= set(SHEETS)
    assert {"backing board 24 pt", "backing board 42 pt", "card 90 lb index", "blotter"} <= set(SHEETS)


@pytest.mark.parametrize("material", SHEETS)
def test_a_sheet_has_all_that_a_stack_needs(material):
    """Thickness, grammage, density, an isotherm of its own or a stand-in, and a stand-in for heat."""
    for name in ("thickness", "grammage", "density"):
        assert has_property(material, name)
    assert has_note(material, "isotherm") or has_property(material, "GAB m")
    assert has_property(look_up_note(material, "heat").text, "thermal conductivity")


@pytest.mark.parametrize("material", SHEETS)
def test_density_is_grammage_over_thickness(material):
    """Within the uncertainty that the table gives to the density."""
    density = look_up(material, "density")
    worked = look_up(material, "grammage").value / look_up(material, "thickness").value
    assert abs(worked - density.value).to("kg/m^3") <= density.uncertainty


@pytest.mark.parametrize(
    ("material", "millimetres"),
    [
        ("backing board 24 pt", 0.610),
        ("backing board 42 pt", 1.067),
        ("copy paper 24 lb", 0.122),
        ("aluminium", 3.175),
    ],
)
def test_thickness_in_trade_units_by_hand(material, millimetres):
    """24 pt, 42 pt, 4.8 thou and one eighth of an inch, at 25.4 mm to the inch."""
    assert look_up(material, "thickness").value.to("mm").magnitude == pytest.approx(millimetres, abs=5e-4)


def test_isotherms_that_stand_in_exist():
    for note in all_notes():
        if note.name == "isotherm":
            assert has_property(note.text, "GAB m")


@pytest.mark.parametrize("material", [p.material for p in PROPERTIES if p.name == "GAB m"])
def test_a_gab_isotherm_is_complete(material):
    for name in ("GAB C", "GAB K", "reference temperature"):
        assert has_property(material, name)


@pytest.mark.parametrize("salt", materials_of_kind("salt"))
def test_a_salt_has_its_hazard_range_and_printed_uncertainties(salt):
    assert look_up_note(salt, "hazard").text
    assert look_up(salt, "lowest temperature").value < look_up(salt, "highest temperature").value
    for t in (15, 20, 25, 30):
        assert look_up(salt, f"humidity at {t} degC").uncertainty is not None


@pytest.mark.parametrize("salt", ["potassium nitrate", "magnesium nitrate"])
def test_a_nitrate_is_named_an_oxidiser(salt):
    """CLP hazard statement H272 (from memory)."""
    assert "H272" in look_up_note(salt, "hazard").text


@pytest.mark.parametrize("salt", [s for s in materials_of_kind("salt") if "chloride" in s])
def test_a_chloride_warns_of_the_staples(salt):
    assert "staples" in look_up_note(salt, "hazard").text


def test_an_unknown_glue_softens_as_early_as_any():
    glues = [look_up(glue, "softening temperature") for glue in materials_of_kind("glue")]
    unknown = look_up("unknown", "softening temperature")
    assert unknown.value == min(glue.value for glue in glues)
    assert unknown.low == min(glue.low for glue in glues)


def test_an_unknown_material_is_refused_with_those_there_are():
    with pytest.raises(NotFound, match=r"material with a thickness is 'vellum'; allowed is .*newsprint"):
        look_up("vellum", "thickness")


def test_an_unknown_property_is_refused():
    with pytest.raises(NotFound, match="no material: the property is in no table"):
        look_up("newsprint", "colour")


def test_a_note_that_is_not_there_is_refused():
    with pytest.raises(NotFound, match=r"note on hazard is 'newsprint'; allowed is .*potassium nitrate"):
        look_up_note("newsprint", "hazard")


@pytest.mark.parametrize("material", SHEETS)
def test_it_is_said_whether_a_sheet_lets_vapour_through(material):
    """A new barrier must not pass for porous paper because nobody said what it is."""
    is_web = has_property(material, "vapour through it")
    assert is_web != has_note(material, "vapour")
    assert is_web or look_up_note(material, "vapour").text in ("paper", "barrier")


def test_a_sheet_of_which_nothing_is_said_is_refused():
    with pytest.raises(NotFound, match="material with a note on vapour"):
        is_barrier("kraft paper")


def test_what_is_offered_between_cover_and_card_is_told_by_the_tables():
    assert materials_for("release sheet") == ("silicone release paper", "spun polyester")
    assert all(has_property(name, "thickness") for name in materials_for("release sheet"))
    assert materials_of_kind("card") == ("card 90 lb index",)
