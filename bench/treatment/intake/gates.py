"""Gates of intake: the questions that must be answered before anything is done, and why.

Each gate holds the answers that can be given and what each does: nothing, go on with conditions,
hold, or refer.  What the record already says (staples, cover, glue, spot tests, defects) answers
its gates by itself; the graver of two answers stands.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bench.errors import BadValue
from bench.item import Item, Prong
from bench.materials import look_up
from bench.treatment.conditions import Condition
from bench.units import Q_, Quantity


class Effect(StrEnum):
    """What an answer does, from nothing to the gravest."""

    GO = "go on"
    CONDITIONS = "go on with conditions"
    HOLD = "hold"
    REFER = "refer"


WARM_PLATEN = Q_(60, "degC")  # common practice, no source: about 140 °F


@dataclass(frozen=True)
class GateFinding:
    """One answer to a gate and what follows.

    Attributes
    ----------
    key : str
        Short name, unique within the gate.
    words : str
        The answer as it is offered.
    effect : Effect
        What it does to the treatment.
    reason : str
        One or two sentences; empty for an answer that does nothing.
    conditions : tuple of Condition
        Set when the treatment goes on with this answer (also after an override).
    source : str
        Key of a source.
    """

    key: str
    words: str
    effect: Effect = Effect.GO
    reason: str = ""
    conditions: tuple[Condition, ...] = ()
    source: str = "common-practice"


@dataclass(frozen=True)
class Gate:
    """One question with its answers.

    Attributes
    ----------
    id, name, question : str
        Id in the record, short name on screens, question in the bench's words.
    findings : tuple of GateFinding
        From the mildest to the gravest.
    given_by : str
        ``"tick"`` (answered by the operator) or ``"item"`` (read off the item's description).
    final : str
        Why no reason overrides it; empty if one may.
    """

    id: str
    name: str
    question: str
    findings: tuple[GateFinding, ...]
    given_by: str = "tick"
    final: str = ""

    def finding(self, key: str) -> GateFinding:
        """Give an answer by its key.

        Raises
        ------
        BadValue
            No such answer.
        """
        for finding in self.findings:
            if finding.key == key:
                return finding
        allowed = " or ".join(finding.key for finding in self.findings)
        raise BadValue(f"gate {self.name}", repr(key), allowed, "Choose one of the answers offered")


def graver(subject: Gate, first: GateFinding, second: GateFinding) -> bool:
    """Tell whether the first answer to a gate is graver than the second: by effect, then by order."""
    gravity = list(Effect)
    ranks = [(gravity.index(f.effect), subject.findings.index(f)) for f in (first, second)]
    return ranks[0] > ranks[1]


def softens_when_warm(glue: str, *, platen: Quantity = WARM_PLATEN) -> bool:
    """Tell whether a spine glue may soften at the temperature of a warm press.

    The lowest softening temperature in the materials table decides, not the usual one: a spine
    that leans cannot be undone.

    Examples
    --------
    >>> softens_when_warm("EVA hot melt"), softens_when_warm("polyurethane")
    (True, False)
    """
    softening = look_up(glue, "softening temperature")
    lowest = softening.low if softening.low is not None else softening.value
    return bool(lowest.to("kelvin") < platen.to("kelvin"))


def findings_from_item(item: Item) -> dict[str, str]:
    """Read the answers that the item's own description gives.

    Returns
    -------
    dict of str to str
        Gate id to key of the finding, for the gates of cover, staples and spine glue.
    """
    rust = max((staple.rust for staple in item.staples), default=0)
    if item.glue == "none":
        glue = "unknown" if item.is_square_bound and not item.staples else "no"
    elif item.glue == "unknown":
        glue = "unknown"
    else:
        glue = "softens" if softens_when_warm(item.glue) else "no"
    return {
        "coated_cover": item.cover_coated.value if item.cover_leaves else "no",
        "rusted_staples": ("no", "just visible", "plain", "loss")[rust],
        "proud_staples": "yes" if any(s.prong is Prong.PROUD for s in item.staples) else "no",
        "spine_glue": glue,
    }
