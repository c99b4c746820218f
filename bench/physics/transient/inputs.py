"""What the model must be told and nobody knows well: the named inputs, each with its range."""

from __future__ import annotations

from collections.abc import Iterable
from copy import copy
from dataclasses import dataclass, field
from functools import cached_property

from bench.physics.ranges import Range, RangeLike, Triple, as_range
from bench.physics.vapour import COVER_AS_AIR, STILL_AIR_FILM
from bench.units import Q_

TRANSPORT_RATIO = Range.of((0.03, 0.01, 0.1), "")
"""Paper of 500 to 900 kg/m3: about 0.01 to 0.1, from memory [nilsson1993]_; the middle is a guess."""
SCALE_BELIEF = 1.4
"""Factor within which a paper's water is believed to lie of that of its isotherm (95 %) before any weighing:
the published fits of whole papers hold 0.8 to 1.4 times as much as that of newsprint."""
AS_PUBLISHED = Range.of((1.0, 1 / SCALE_BELIEF, SCALE_BELIEF), "")
_FILM = STILL_AIR_FILM.floats("mm/s", field="film of still air")
STILL_AIR = Range.of((speed / _FILM[0] for speed in _FILM), "")
"""The doubt of still air as a factor on its film."""
THICKNESS = Range.of((1.0, 0.97, 1.03), "")
CONDUCTION = Range.of((1.0, 0.6, 1.5), "")
CONTACT = Range.of((1.0, 0.5, 2.0), "")
PLATEN = Range.of((0.0, -3.0, 3.0), "delta_degC")
"""Error of a platen's dial or thermostat; common practice, no source."""
HYSTERESIS = Range.of((0.01, 0.0, 0.02), "")
"""About one per cent of moisture content at 50 % RH [tappi-t402]_."""
EDGES = Range.of((5.0, 3.0, 20.0), "")
"""Transport along over through a single sheet, from memory; air gaps make it more."""


@dataclass(frozen=True)
class Inputs:
    """The named inputs of a prediction, each a value with the ends that are believable.

    Attributes
    ----------
    transport_ratio : Quantity or range, dimensionless
        Diffusivity of vapour through a pile of paper over that in still air, 0.001 to 1.
        Paper of 500 to 900 kg/m3: 0.01 to 0.1 (from memory, [nilsson1993]_).
    cover_as_air : Quantity or range [length]
        A coated cover (or a silicone sheet) as a layer of still air, 0 to 200 mm.
    isotherm_scale : Quantity or range, dimensionless
        Factor on the water that cover and leaves hold at any humidity; 0.3 to 3.  Weighing finds it.
    film_factor : Quantity or range, dimensionless
        Factor on the films of air; the default is the doubt of still air, 1 to 3 about 2.5 mm/s.
    thickness_factor : Quantity or range, dimensionless
        Factor on the thickness of cover and leaves (their mass stays).
    conductivity_factor, contact_factor : Quantity or range, dimensionless
        Factors on the conduction of paper and board, and on the contacts.
    platen_error : Quantity or range [temperature difference]
        What the platen is warmer than it says.
    hysteresis : Quantity or range, dimensionless
        What paper that has been giving water off holds above its isotherm; 0 to 0.03 (about 0.01).
    release_as_air : Quantity or range [length], optional
        A silicone sheet as a layer of still air, 0 to 200 mm, where it is known apart from the cover; without
        it both are the same, and vary together.
    edge_ratio : Quantity or range, dimensionless
        Transport within a sheet over that through it, 3 to 20 (from memory); counts at the edges.
    """

    transport_ratio: RangeLike = TRANSPORT_RATIO
    cover_as_air: RangeLike = COVER_AS_AIR
    isotherm_scale: RangeLike = field(default_factory=lambda: Q_(1.0, ""))
    film_factor: RangeLike = STILL_AIR
    thickness_factor: RangeLike = THICKNESS
    conductivity_factor: RangeLike = CONDUCTION
    contact_factor: RangeLike = CONTACT
    platen_error: RangeLike = PLATEN
    hysteresis: RangeLike = HYSTERESIS
    edge_ratio: RangeLike = EDGES
    release_as_air: RangeLike | None = None

    def __post_init__(self) -> None:
        self.middle()  # reading them checks them

    def __hash__(self) -> int:
        """Give a hash of the plain numbers."""
        return hash(tuple(self.triples.values()))

    @cached_property
    def triples(self) -> dict[str, Triple]:
        """Value, low and high of every input that is given, checked, in SI units."""
        return {
            name: as_range(getattr(self, name)).floats(unit, field=words, low=low, high=high)
            for name, (unit, words, low, high) in _LIMITS.items()
            if getattr(self, name) is not None
        }

    def middle(self) -> dict[str, float]:
        """Give the value of every input that is given in SI units."""
        return {name: triple[0] for name, triple in self.triples.items()}

    def with_end(self, name: str, end: int) -> Inputs:
        """Give the same inputs with one of them known to be at its low (1) or high (2) end."""
        value = self.triples[name][end]
        changed = copy(self)  # not made anew: nothing in it needs to be checked a second time
        changed.__dict__.update(
            {name: Q_(value, _LIMITS[name][0]), "triples": {**self.triples, name: (value,) * 3}}
        )
        return changed

    def at_ends(self, names: Iterable[str]) -> list[tuple[str, Inputs]]:
        """Give the cause and the same inputs with one of those named at one of its ends, each in turn."""
        wanted = set(names)
        return [
            (name, self.with_end(name, end))
            for name, triple in self.triples.items()
            if name in wanted
            for end in (1, 2)
            if triple[end] != triple[0]
        ]


_LIMITS: dict[str, tuple[str, str, float, float]] = {
    "transport_ratio": ("", "transport ratio", 1e-3, 1.0),
    "cover_as_air": ("m", "cover as a layer of air", 0.0, 0.2),
    "isotherm_scale": ("", "scale of the isotherm", 0.3, 3.0),
    "film_factor": ("", "factor on the film of air", 0.05, 20.0),
    "thickness_factor": ("", "factor on the thickness", 0.5, 2.0),
    "conductivity_factor": ("", "factor on the conduction", 0.1, 10.0),
    "contact_factor": ("", "factor on the contacts", 0.01, 1e6),
    "platen_error": ("delta_degC", "error of the platen", -15.0, 15.0),
    "hysteresis": ("", "hysteresis", 0.0, 0.03),
    "edge_ratio": ("", "in-plane over through-plane transport", 1.0, 1000.0),
    "release_as_air": ("m", "release sheet as a layer of air", 0.0, 0.2),
}


def limits_of(name: str) -> tuple[float, float]:
    """Give the least and the largest value that the model takes of an input, in SI units."""
    return _LIMITS[name][2:]


INPUT_WORDS = {
    "transport_ratio": "how easily vapour passes through the pile",
    "cover_as_air": "how tight the cover is",
    "isotherm_scale": "how much water this paper holds",
    "film_factor": "how still the air is",
    "thickness_factor": "thickness",
    "conductivity_factor": "how well paper and board conduct heat",
    "contact_factor": "how well the layers touch",
    "platen_error": "error of the platen",
    "hysteresis": "how much more drying paper holds than wetting paper",
    "edge_ratio": "how open the edges are",
    "release_as_air": "how tight the release sheet is",
}
"""The inputs in the words of the bench."""

USUAL = Inputs()
"""The inputs when nothing better is known."""
