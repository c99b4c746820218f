"""Facts: each number of a plan has one key and one label, and both lead to it."""

import csv
from pathlib import Path

import pytest

from bench.treatment import facts
from bench.treatment.facts import FACTS, Fact, find_fact
from bench.treatment.review.levers import Conditions
from bench.units import ureg

NAMED = {name: value for name, value in vars(facts).items() if isinstance(value, Fact)}
VERSIONS = Path(__file__).parents[1] / "records" / "versions"


def test_every_fact_is_found_by_its_key_and_by_its_label():
    for fact in NAMED.values():
        one = fact.of("spine edge") if "{}" in fact.label else fact
        assert find_fact(one.key) == one
        assert find_fact("", one.label) == one


def test_keys_and_labels_are_unique():
    assert len(FACTS) == len(NAMED)
    assert len({fact.label for fact in FACTS.values()}) == len(FACTS)
    assert all(fact.key == fact.key.lower() and " " not in fact.key for fact in FACTS.values())


def test_units_are_known_and_conditions_are_fields():
    for fact in FACTS.values():
        ureg.parse_units(fact.unit)
        assert fact.condition == "" or fact.condition in Conditions.__dataclass_fields__


@pytest.mark.parametrize("version", ["1", "2", "3"])
def test_numbers_of_older_records_are_found_by_their_labels(version):
    with (VERSIONS / version / "plans.csv").open(encoding="utf-8", newline="") as file:
        labels = [row["quantity"] for row in csv.DictReader(file) if row["value"]]
    assert labels
    for label in labels:
        assert find_fact("", label).family in FACTS, label


def test_a_key_of_a_newer_program_keeps_its_own_words():
    found = find_fact("gloss_after", "gloss after the press", "percent")
    assert (found.key, found.label, found.unit) == ("gloss_after", "gloss after the press", "percent")
