"""What a plan of cleaning starts from: surfaces and their soil, the rub test, conditions, one's own rates."""

from __future__ import annotations

from bench.handover.at_hand import AtHand
from bench.handover.intake import defects_before, intake_of, known_findings
from bench.records.nouns import planned_number
from bench.treatment import facts
from bench.treatment.cleaning import CleaningChoices
from bench.treatment.cleaning.log import rates_from_log
from bench.treatment.cleaning.surfaces import Soiled, Surface, SurfaceState, find_soiled, surfaces_of
from bench.treatment.facts import Fact
from bench.treatment.intake.spot_tests import Result
from bench.units import Quantity

# Where nothing was entered: all of a surface, but of the leaves only the outermost.
_SHARES = {Surface.LEAVES: 10}
_BARE = {Surface.EDGES: 100, Surface.LEAVES: 20, Surface.SPINE: 10}


def listed_soiled(treatment: AtHand, cycle: int) -> dict[Surface, Soiled]:
    """Give the surfaces with a listed defect that cleaning could help, as graded before a cycle."""
    thickness = treatment.thicknesses(cycle).text_block.value
    return find_soiled(treatment.item, defects_before(treatment, cycle), thickness)


def read_states(treatment: AtHand, cycle: int) -> tuple[SurfaceState, ...]:
    """Give how each surface looks: as saved with the plan, else as listed among the defects, else clean."""
    listed = listed_soiled(treatment, cycle)
    return tuple(
        _read_saved(treatment, cycle, surface, listed.get(surface)) for surface in surfaces_of(treatment.item)
    )


def _read_saved(treatment: AtHand, cycle: int, surface: Surface, listed: Soiled | None) -> SurfaceState:
    soil = _saved(treatment, cycle, facts.SOIL.of(surface), listed.soil if listed else 0)
    usual = round(100 * listed.share) if listed else _SHARES.get(surface, 100)
    share = _saved(treatment, cycle, facts.SHARE_TO_CLEAN.of(surface), usual)
    bare = _saved(treatment, cycle, facts.UNPRINTED_SHARE.of(surface), _BARE.get(surface, 20))
    return SurfaceState(surface, soil=round(soil), share=share / 100, unprinted=bare / 100)


def _saved(treatment: AtHand, cycle: int, fact: Fact, default: float) -> float:
    found = planned_number(treatment.record, "cleaning", cycle, fact)
    return default if found is None else float(found.to(fact.unit).magnitude)


def rub_test_of(treatment: AtHand) -> Result:
    """Give the worst result of the dry rub test, or not done."""
    order = (Result.PASS, Result.NOT_DONE, Result.DOUBT, Result.FAIL)
    results = [r.result for r in known_findings(treatment).tests if r.test == "rub"]
    return max(results, key=order.index, default=Result.NOT_DONE)


def own_rates(treatment: AtHand) -> dict[str, Quantity]:
    """Give the rates that the log of this treatment shows."""
    return rates_from_log(treatment.record.rows("log"))


def cleaning_choices(treatment: AtHand, *, cycle: int | None = None) -> CleaningChoices:
    """Gather what is known for a plan of cleaning: surfaces, listed soil, rub test, conditions, own rates."""
    decided = intake_of(treatment)
    number = cycle or treatment.cycle
    return CleaningChoices(
        surfaces=read_states(treatment, number),
        rub_test=rub_test_of(treatment),
        conditions=decided.conditions,
        rates=own_rates(treatment),
        thickness=treatment.thicknesses(number).text_block.value,
        decision=decided.decision,
        listed={surface: soiled.words for surface, soiled in listed_soiled(treatment, number).items()},
    )
