"""What holds of every protocol: it can be carried out, finds what is true, and is refused where it must be.

How often the stated interval holds the truth is tried with each protocol by itself.
"""

import re
from dataclasses import replace

import numpy as np
import pytest

from bench.errors import BenchError, NotYet
from bench.treatment.measured import CONSTANTS
from bench.trials import PROTOCOLS
from bench.trials.protocol import Protocol
from bench.trials.worked import work_example
from bench.trials.worth import likely_outcome

EVERY = pytest.mark.parametrize("protocol", PROTOCOLS, ids=lambda protocol: protocol.key)


def test_the_keys_of_protocols_and_constants_are_their_own():
    keys = [protocol.key for protocol in PROTOCOLS]
    assert len(set(keys)) == len(keys) >= 8
    assert all(re.fullmatch(r"[a-z][a-z-]+", key) for key in keys)
    assert len({constant.key for constant in CONSTANTS}) == len(CONSTANTS)


@EVERY
def test_a_protocol_says_all_that_a_person_at_the_bench_needs(protocol: Protocol):
    assert len(protocol.steps) == 6
    assert all(step.endswith((".", "?")) and 3 <= len(step.split()) <= 60 for step in protocol.steps)
    assert protocol.question.endswith("?")
    assert protocol.needs
    assert protocol.cautions
    assert protocol.again_after >= 1
    assert not protocol.why_again.endswith(".")
    assert protocol.abouts()
    assert len({asked.key for asked in protocol.asked}) == len(protocol.asked)
    found = {constant.key for about in protocol.abouts() for constant in protocol.finds_of(about)}
    assert found == {constant.key for constant in protocol.finds}
    assert all(protocol.finds_of(about) for about in protocol.abouts())
    assert set(protocol.finds) <= set(CONSTANTS)


@EVERY
def test_what_is_made_up_can_be_entered(protocol: Protocol):
    example = work_example(protocol, np.random.default_rng(3))
    asked = {each.key: each for each in protocol.asked}
    assert set(example.readings.read) <= set(asked)
    for key, values in example.readings.read.items():
        assert 1 <= len(values) <= asked[key].most
        for value in values:
            assert asked[key].low <= float(value.to(asked[key].plain_unit).magnitude) <= asked[key].high, key


@EVERY
def test_without_errors_the_truth_is_found(protocol: Protocol):
    """Within a third of the stated interval: a fit leans on what was believed, a step on its lower end."""
    about = protocol.abouts()[0]
    outcome = likely_outcome(protocol, about)
    believed = protocol.believed(about)
    for found in outcome.found:
        value, low, high = found.value.floats(found.constant.unit, field=found.constant.label)
        true = float(believed[found.constant.key].value.to(found.constant.unit).magnitude)
        assert abs(value - true) <= (high - low) / 3, found.constant.label
        assert found.narrower > 1


@EVERY
def test_a_reading_that_is_missing_is_waited_for_by_name(protocol: Protocol):
    readings = work_example(protocol, np.random.default_rng(5)).readings
    needed = [asked for asked in protocol.asked if not asked.is_optional and readings.has(asked)]
    assert needed
    for asked in needed:
        read = {key: values for key, values in readings.read.items() if key != asked.key}
        with pytest.raises(NotYet) as told:
            protocol.fit(replace(readings, read=read))
        assert asked.label.lower() in str(told.value).lower()


@EVERY
def test_readings_that_are_nonsense_are_refused_or_stopped(protocol: Protocol):
    """Every reading with an instrument is moved far off by itself: most of that is not used without a word.

    A gap, or the temperature of a room, may well be so, and nothing else tells.
    """
    readings = work_example(protocol, np.random.default_rng(5)).readings
    tried = [asked for asked in protocol.asked if asked.tool is not None and readings.has(asked)]
    noticed = 0
    for asked in tried:
        read = {**readings.read, asked.key: (asked.quantity(asked.high),) * len(readings.read[asked.key])}
        try:
            outcome = protocol.fit(replace(readings, read=read))
            noticed += bool(outcome.cautions)
        except BenchError:
            noticed += 1
    assert noticed >= 0.5 * len(tried)
