"""Humidity: what the chamber holds, what the item takes up, how long that takes, what limits it.

The wet source, the air, the item's cover and its pile of leaves hinder the vapour one after the
other, so that the humidity really reached in the chamber is worked out and not set.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from bench.item import Item, Thicknesses
from bench.physics.air import water_in_air
from bench.physics.vapour import water_supply
from bench.treatment.conditions import Condition, highest_humidity
from bench.treatment.doses import Spent, add_up
from bench.treatment.humidity import words as say
from bench.treatment.humidity.cautions import gather_cautions
from bench.treatment.humidity.edges import follow_edges
from bench.treatment.humidity.plan import HumidityChoices, HumidityPlan
from bench.treatment.humidity.source import Source, read_source
from bench.treatment.humidity.uptake import set_up
from bench.treatment.humidity.ways import SALTS_TO_COMPARE, compare_ways
from bench.treatment.plan import worst
from bench.units import MILLIMETRES, Q_, UnitChoice


def propose_choices(conditions: Sequence[Condition] = ()) -> HumidityChoices:
    """Propose a chamber: the dampest harmless salt that intake allows, and what it can bring the leaves to.

    Examples
    --------
    >>> propose_choices().salt
    'potassium sulphate'
    """
    choices = HumidityChoices()
    strictest = highest_humidity(conditions)
    if strictest is None or strictest.limit is None:
        return choices
    for salt in SALTS_TO_COMPARE:
        held = read_source(Source.SALT, air_temperature=choices.air_temperature, salt=salt)
        if held.is_within(strictest.limit):
            # Leaves come close to the source but never quite to it: five per cent below, in fives.
            reached = 5.0 * math.floor((held.percent - 5.0) / 5.0 + 0.5)
            wanted = min(choices.wanted, reached)
            return replace(choices, salt=salt, wanted_humidity=Q_(wanted, "percent"))
    return choices


def plan_humidity(
    item: Item,
    thicknesses: Thicknesses,
    choices: HumidityChoices,
    *,
    cycle: int = 1,
    units: UnitChoice = MILLIMETRES,
    conditions: Sequence[Condition] = (),
) -> HumidityPlan:
    """Plan the hours in the humidity chamber, with what they do and what limits them.

    Parameters
    ----------
    item : Item
        What goes into the chamber.
    thicknesses : Thicknesses
        Of the closed item; typical values are allowed and are said aloud.
    choices : HumidityChoices
        The chamber, its source and the hours.
    cycle : int
        1 for the first pass.
    units : UnitChoice
        For the words.
    conditions : sequence of Condition
        Handed down from intake; a source that holds more than the strictest limit among them is forbidden.

    Returns
    -------
    HumidityPlan

    Raises
    ------
    BadValue, UnitMismatch, OutOfRange, NotFound
        Among others a source that is no damper than the item, or a temperature outside the range
        of the salt.

    Notes
    -----
    Uptake: :mod:`bench.physics.transient`, moisture and heat leaf by leaf, with the chamber as a balance
    of its own.  Each interval joins the doubts of transport, film, cover, thickness, source, of how much
    water this paper holds and (from tabled papers) of its mass, one at a time at its ends.  Vapour
    through the edges is left out: in a day it reaches a centimetre or two.
    """
    strictest = highest_humidity(conditions)
    highest = None if strictest is None else strictest.limit
    setting = set_up(item, thicknesses, choices)
    held, water = setting.held, setting.water()
    moments, window = setting.moments(water), setting.window()
    core, doubts = setting.hours_to_wanted(setting.place)
    spent = Spent.during(setting.exposures(), sensitivity=choices.sensitivity)
    plan = HumidityPlan(
        stage="humidity",
        cycle=cycle,
        verdict=worst(()),
        answer="",
        because="",
        choices=choices,
        held=held,
        water=water,
        air_water=water_in_air(
            choices.chamber_volume,
            temperature=choices.air_temperature,
            humidity_from=choices.start_humidity,
            humidity_to=held.step_end,
        ),
        supply=water_supply(
            area=choices.source_area,
            deficit=Q_(1, "percent"),
            temperature=choices.air_temperature,
            film=choices.film,
        ),
        moments=moments,
        end=next(m for m in moments if m.hours >= choices.hours - 1e-9),
        hours_mean=setting.hours_to_wanted("mean")[0],
        hours_core=core,
        hours_cover=setting.hours_to_wanted("front cover")[0],
        earliest=window.earliest,
        latest=window.latest,
        edges=follow_edges(setting),
        bench=setting.minutes_on_bench(),
        limits=setting.limits(),
        hindrances=setting.hindrances(),
        doubts=doubts,
        spent=spent,
        account=add_up(choices.earlier + spent, (), item),
        alternatives=compare_ways(setting, highest),
        leaves=item.all_leaves,
    )
    cautions = gather_cautions(item, thicknesses, plan, highest, conditions, units)
    return replace(
        plan,
        verdict=worst(caution.verdict for caution in cautions),
        answer=say.answer(plan, cautions),
        because=say.because(plan),
        values=say.values(item, plan, highest),
        cautions=cautions,
        steps=say.steps(plan),
        assumptions=say.assumptions(item, thicknesses, plan),
    )
