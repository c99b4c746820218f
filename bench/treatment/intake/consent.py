"""Consent: what changes for good, explained in figures for this item, and who agreed to it in writing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from bench.errors import BadValue
from bench.item import Item
from bench.units import MILLIMETRES, Quantity, UnitChoice, unit_label

# Machine-made paper pressed flat after damping: 0.25 to 1 % larger across the grain and up to 0.30 %
# shorter along it (abstract seen).  The grain of periodicals usually runs along the spine: from memory.
CROSS_GROWTH = (0.0025, 0.010)
ALONG_SHRINKAGE = 0.0030


@dataclass(frozen=True)
class PermanentChange:
    """One change that cannot be undone, as it is explained to the owner.

    Attributes
    ----------
    name : str
        ``"size"``, ``"thickness"``, ``"tooth"`` or ``"gloss"``.
    words : str
        The text that is ticked.
    source : str
        Key of a source.
    """

    name: str
    words: str
    source: str


PERMANENT_CHANGES = ("size", "thickness", "tooth", "gloss")


def explain_permanent_change(item: Item, *, units: UnitChoice = MILLIMETRES) -> tuple[PermanentChange, ...]:
    """Explain what pressing changes for good, with figures for this item.

    Parameters
    ----------
    item : Item
        Width and height give the change of size.
    units : UnitChoice
        For the words.

    Returns
    -------
    tuple of PermanentChange
        In the order of :data:`PERMANENT_CHANGES`; each is ticked by itself.

    Notes
    -----
    Size: width times 0.25 to 1 %, height times up to 0.30 %, taking the grain as running along the
    spine; where it runs across, the two change places.
    """
    low, high = (_say_change(share * item.width, units) for share in CROSS_GROWTH)
    shorter = _say_change(ALONG_SHRINKAGE * item.height, units)
    unit = unit_label(units.long_length)
    return (
        PermanentChange(
            "size",
            f"Size: a leaf usually ends {low} to {high} {unit} wider and up to {shorter} {unit} shorter than "
            "it was; more pressure gives more.",
            "munoz-vinas2009",
        ),
        PermanentChange(
            "thickness",
            "Thickness: the paper is pressed closer and stays thinner; it is measured before and after.",
            "groundwood-press",
        ),
        PermanentChange(
            "tooth",
            "Tooth: the surface becomes smoother, the more so the damper and the harder it is pressed.",
            "groundwood-press",
        ),
        PermanentChange(
            "gloss",
            "Gloss: a coated or printed surface may become glossier or duller, in places or all over.",
            "groundwood-press",
        ),
    )


def _say_change(change: Quantity, units: UnitChoice) -> str:
    """Write a change of size without its unit, to a tenth of a millimetre or a hundredth of an inch."""
    digits = 2 if units.long_length == "inch" else 1
    return f"{float(change.to(units.long_length).magnitude):.{digits}f}"


@dataclass(frozen=True)
class Consent:
    """What the owner agreed to.

    Attributes
    ----------
    given_by : str
        Who agreed.
    in_writing : bool
        A signed paper or a kept message; a word on the telephone is not.
    explained : tuple of str
        The permanent changes that were explained and ticked.
    cycles : int
        How many cycles the writing covers; a further cycle needs a further consent.
    agreed_on : str
        Day of the agreement, year-month-day; empty if not known.
    document : str
        The letter, message or form, and where it is kept.
    """

    given_by: str = ""
    in_writing: bool = False
    explained: tuple[str, ...] = ()
    cycles: int = 1
    agreed_on: str = ""
    document: str = ""

    def __post_init__(self) -> None:
        unknown = [name for name in self.explained if name not in PERMANENT_CHANGES]
        if unknown:
            allowed = ", ".join(PERMANENT_CHANGES)
            raise BadValue("permanent change", repr(unknown[0]), allowed, "Tick one of the changes explained")
        if not isinstance(self.cycles, int) or self.cycles < 1:
            raise BadValue("cycles agreed", self.cycles, "a whole number, 1 or more", "Say how many cycles")
        if self.agreed_on and not _is_day(self.agreed_on):
            remedy = "Write it like 2026-03-02"
            raise BadValue("agreed on", repr(self.agreed_on), "a day, year-month-day", remedy)
        if self.in_writing and not self.given_by.strip():
            raise BadValue("consent given by", "empty", "a name", "Say who agreed in writing")

    @property
    def missing(self) -> tuple[str, ...]:
        """The permanent changes that have not been explained."""
        return tuple(name for name in PERMANENT_CHANGES if name not in self.explained)

    def covers(self, cycle: int) -> bool:
        """Tell whether a cycle may begin: in writing, every change explained, and this cycle in it."""
        return self.in_writing and not self.missing and cycle <= self.cycles


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


NO_CONSENT = Consent()


def say_consent(consent: Consent, cycle: int = 1) -> str:
    """Say in a sentence whether a cycle is covered.

    Examples
    --------
    >>> agreed = Consent("E. Fenwright", True, PERMANENT_CHANGES)
    >>> say_consent(agreed)
    'E. Fenwright agreed in writing to 1 cycle, and every permanent change was explained.'
    >>> say_consent(agreed, cycle=2)
    'E. Fenwright agreed in writing to 1 cycle; cycle 2 needs a further written consent.'
    """
    if not consent.in_writing:
        return "No written consent is recorded."
    many = f"{consent.cycles} cycle" + ("" if consent.cycles == 1 else "s")
    paper = f" ({consent.document})" if consent.document else ""
    day = f" on {consent.agreed_on}" if consent.agreed_on else ""
    words = f"{consent.given_by} agreed in writing{paper}{day} to {many}"
    if consent.missing:
        return (
            f"{words}, but not every permanent change was explained: {', '.join(consent.missing)} is missing."
        )
    if cycle > consent.cycles:
        return f"{words}; cycle {cycle} needs a further written consent."
    return f"{words}, and every permanent change was explained."
