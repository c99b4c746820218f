"""Defects: what is wrong, where, and which stage could help, so that effort goes where it counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from bench.errors import BadValue, NotFound
from bench.item import Item, typical_thicknesses
from bench.treatment.intake.condition_terms import FACES, SEVERITIES, Help, term
from bench.units import Q_, Amount, Quantity, Told, to_float

_COVER_LEAVES = {"front": "C1", "back": "C2"}
# A fold or an edge of a few leaves is still seen and measured as broad as this (judgement).
_LEAST_EDGE = Q_(5.0, "mm")


def edge_depth(item: Item) -> Quantity:
    """Give how deep spine and edges may be: the most that so many leaves of such paper stand high.

    Nothing is read yet where defects are listed, so that the upper limit of the typical thickness
    stands, spine and staples included (:func:`bench.item.typical_thicknesses`).
    """
    typical = typical_thicknesses(item)
    highest = typical.spine_edge or typical.text_block
    return max(highest.value + highest.expanded(), _LEAST_EDGE).to("mm")


def faces_of(item: Item) -> tuple[str, ...]:
    """Give the faces that an item has: without a cover, none of a cover."""
    return tuple(face for face in FACES if item.cover_leaves or "cover" not in face)


def face_size(item: Item, face: str) -> tuple[Quantity, Quantity]:
    """Give width and height of a face as one looks at it; edges are as deep as the item may be thick.

    Raises
    ------
    NotFound
        No such face on this item.
    """
    if face not in faces_of(item):
        allowed = ", ".join(faces_of(item))
        raise NotFound("face", repr(face), allowed, "Choose one of the faces of this item")
    if face in ("spine", "fore edge"):
        return edge_depth(item), item.height
    if face in ("head edge", "tail edge"):
        return item.width, edge_depth(item)
    return item.width, item.height


def spine_side(face: str) -> str:
    """Say on which side of a face the spine lies: left of a recto, right of a verso.

    Examples
    --------
    >>> spine_side("recto"), spine_side("verso"), spine_side("back cover, inside")
    ('left', 'right', 'left')
    """
    return "left" if face in ("recto", "front cover, outside", "back cover, inside") else "right"


def place_from_spine(item: Item, face: str, from_spine: Quantity, *, width: Quantity) -> Quantity:
    """Turn a distance from the spine into x, from the left edge of the face.

    Parameters
    ----------
    item : Item
        Its width is where a verso ends.
    face : str
        A page or cover face.
    from_spine : Quantity
        From the spine to the nearest edge of the defect.
    width : Quantity
        Width of the defect; zero for a point.

    Returns
    -------
    Quantity [mm]
        Left edge of the defect, as a :class:`Defect` records it.
    """
    page, _ = face_size(item, face)
    if spine_side(face) == "left":
        return from_spine.to("mm")
    return (page - from_spine - width).to("mm")


FINE_LINE = Amount(Q_(0.5, "mm"), "mm", fine=0.05)
"""Width of the box around a fine line."""


SHAPES = ("area", "falling line", "rising line", "point")
_ROUNDED = 0.1
"""Millimetres by which a box may stand out beyond its face: place and size are read and shown rounded."""


@dataclass(frozen=True)
class Defect:
    """One defect as it was seen.

    Attributes
    ----------
    id : str
        ``"d1"``, ``"d2"``, ...; the same before and after.
    term : str
        One of :data:`bench.treatment.intake.condition_terms.TERMS`.
    face : str
        One of :data:`bench.treatment.intake.condition_terms.FACES`.
    x, y : Quantity
        Left and upper edge of the box around it, from the head-left corner of that face.
    width, height : Quantity
        Of the box.
    leaf : str
        Number of the leaf for a recto or verso; ``"C1"`` and ``"C2"`` for the cover.
    severity : int
        0 none, 1 just visible, 2 plain, 3 loss of function or legibility.
    active : bool
        Whether it goes on; otherwise it is stable.
    helped_by : Help or None
        None takes it from the term.
    limits_outcome : bool or None
        None lets :func:`judge_defects` say.
    in_scope : bool
        Whether the owner wants it treated.
    note : str
        What the term does not say; empty for nothing.
    shape : str
        What lies in the box, one of :data:`SHAPES`; a falling line ends lower on the right.
    """

    id: str
    term: str
    face: str
    x: Quantity
    y: Quantity
    width: Quantity
    height: Quantity
    leaf: str = ""
    severity: int = 1
    active: bool = False
    helped_by: Help | None = None
    limits_outcome: bool | None = None
    in_scope: bool = True
    note: str = ""
    shape: str = "area"

    def __post_init__(self) -> None:
        term(self.term)
        if not self.id.strip():
            raise BadValue("defect", "without an id", "d1, d2, …", "Give each defect its own id")
        if self.shape not in SHAPES:
            remedy = "Choose one of these"
            raise BadValue(f"shape of {self.id}", repr(self.shape), ", ".join(SHAPES), remedy)
        if self.severity not in (0, 1, 2, 3):
            allowed = ", ".join(f"{grade} {word}" for grade, word in enumerate(SEVERITIES))
            raise BadValue(f"severity of {self.id}", self.severity, allowed, "Choose one of these")
        for name, value in (("x", self.x), ("y", self.y)):
            to_float(
                value, "mm", field=f"{name} of {self.id}", low=0.0, remedy="Measure from the head-left corner"
            )
        for name, value in (("width", self.width), ("height", self.height)):
            remedy = Told("Draw a box around it; a fine line is {} wide", FINE_LINE)
            to_float(value, "mm", field=f"{name} of {self.id}", low=0.1, remedy=remedy)

    @property
    def help(self) -> Help:
        """The stage that could help it: by the operator's word, or else by its term."""
        return self.helped_by or term(self.term).helped_by

    @property
    def area(self) -> Quantity:
        """Area of the box around it."""
        return (self.width * self.height).to("cm^2")


def check_place(item: Item, defect: Defect) -> Defect:
    """Check that a defect lies inside its face and names a leaf that exists.

    Returns
    -------
    Defect
        The same, with the leaf filled in for a face of the cover.

    Raises
    ------
    BadValue, NotFound
        Outside the page, or no such face or leaf.
    """
    width, height = face_size(item, defect.face)
    for way, start, size, whole in (
        ("x", defect.x, defect.width, width),
        ("y", defect.y, defect.height, height),
    ):
        end = to_float(start + size, "mm", field=f"{way} of {defect.id}")
        limit = to_float(whole, "mm", field="size of the face")
        if end > limit + _ROUNDED:
            side = {"x": "width", "y": "height"}[way]
            came = Told("{} at its far edge", Amount(Q_(end, "mm"), "mm", 1, fine=5e-6))
            most = Amount(Q_(limit, "mm"), "mm", -1)
            allowed = Told(f"at most {{}}, the {side} of the {defect.face}", most)
            raise BadValue(
                f"{way} of {defect.id}", came, allowed, "Measure from the head-left corner of that face"
            )
    return _with_leaf(item, defect)


def _with_leaf(item: Item, defect: Defect) -> Defect:
    if "cover" in defect.face:
        return replace(defect, leaf=_COVER_LEAVES[defect.face.split()[0]])
    if defect.face not in ("recto", "verso"):
        return defect
    number = int(defect.leaf) if defect.leaf.isdigit() else 0
    if not 1 <= number <= item.leaves:
        allowed = f"1 to {item.leaves}"
        raise BadValue(
            f"leaf of {defect.id}", repr(defect.leaf), allowed, "Count from the first leaf of the text block"
        )
    return defect


@dataclass(frozen=True)
class Judged:
    """One defect with what could help it and whether work on it pays.

    Attributes
    ----------
    defect : Defect
        As it was seen.
    helped_by : Help
        The stage that could help it.
    reason : str
        Why that stage, or why none.
    limits : bool
        Whether it limits what can be reached.
    pays : bool
        Whether work on it would be seen in the outcome.
    words : str
        The judgement in a sentence.
    """

    defect: Defect
    helped_by: Help
    reason: str
    limits: bool
    pays: bool
    words: str


@dataclass(frozen=True)
class DefectJudgement:
    """All defects judged together.

    Attributes
    ----------
    judged : tuple of Judged
        Each defect, in the order given.
    answer : str
        Where effort counts and where it stops, in words.
    """

    judged: tuple[Judged, ...]
    answer: str

    def helped(self, stage: Help) -> tuple[Judged, ...]:
        """Give the defects in scope that a stage could help."""
        return tuple(j for j in self.judged if j.helped_by is stage and j.defect.in_scope)

    @property
    def limiting(self) -> tuple[Judged, ...]:
        """Give the defects that limit the outcome."""
        return tuple(j for j in self.judged if j.limits)


def judge_defects(item: Item, defects: Sequence[Defect]) -> DefectJudgement:
    """Judge where effort counts: what each stage could help, and what limits the outcome.

    Parameters
    ----------
    item : Item
        The one they are on; each must lie within its faces.
    defects : sequence of Defect
        As they were seen, each with an id of its own.

    Returns
    -------
    DefectJudgement

    Raises
    ------
    BadValue, NotFound
        A defect outside its face, two defects of one id, an unknown face or leaf.

    Notes
    -----
    A defect that no stage helps and that is plain (severity 2) or worse limits the outcome, unless
    the operator says otherwise: it will still be seen when everything else is done.  Work on a
    defect pays when that defect is at least as severe as the worst one that will stay; on milder
    ones it changes little that anyone would notice.  Common practice, no source; the operator's own
    word on a defect goes before the rule.
    """
    seen: set[str] = set()
    for defect in defects:
        if defect.id in seen:
            raise BadValue("defect", repr(defect.id), "an id used once", "Give each defect its own id")
        seen.add(defect.id)
    placed = [check_place(item, defect) for defect in defects]
    stays = {d.id for d in placed if _limits(d)}
    ceiling = max((d.severity for d in placed if d.id in stays), default=0)
    judged = tuple(_judge(d, d.id in stays, ceiling) for d in placed)
    return DefectJudgement(judged, _say_all(judged, ceiling))


def _limits(defect: Defect) -> bool:
    if defect.limits_outcome is not None:
        return defect.limits_outcome
    return defect.help is Help.NONE and defect.severity >= 2


def _judge(defect: Defect, limits: bool, ceiling: int) -> Judged:
    known, helped = term(defect.term), defect.help
    reason = known.reason if helped is known.helped_by else "as the operator judges"
    pays = helped is not Help.NONE and defect.in_scope and defect.severity >= max(ceiling, 1)
    if not defect.in_scope:
        words = "out of scope, left as it is"
    elif defect.severity == 0:
        words = "nothing to gain"
    elif helped is Help.NONE:
        words = f"no stage helps: {reason}" + ("; it limits the outcome" if limits else "")
    elif pays:
        words = f"work on it counts: {reason}"
    else:
        words = f"{helped} could help, but it is milder than what will stay"
    return Judged(defect, helped, reason, limits, pays, words)


def say_defect(defect: Defect) -> str:
    """Name a defect with its id, term and place.

    Examples
    --------
    >>> box = dict(x=Q_(5, "mm"), y=Q_(5, "mm"), width=Q_(40, "mm"), height=Q_(2, "mm"))
    >>> say_defect(Defect("d4", "tear", "front cover, outside", **box))
    'd4, tear, front cover, outside'
    """
    leaf = f" of leaf {defect.leaf}" if defect.face in ("recto", "verso") else ""
    return f"{defect.id}, {defect.term}, {defect.face}{leaf}"


def _say_all(judged: tuple[Judged, ...], ceiling: int) -> str:
    if not judged:
        return "No defect is listed, so nothing says where work would count."
    scope = [j for j in judged if j.defect.in_scope]
    counts = {stage: sum(j.helped_by is stage for j in scope) for stage in Help}
    words = (
        f"Of {_many(len(scope), 'defect')} in scope, humidifying and pressing could help "
        f"{counts[Help.PRESS]}, cleaning {counts[Help.CLEAN]}, neither {counts[Help.NONE]}."
    )
    limiting = [j.defect for j in judged if j.limits]
    if limiting:
        names = "; ".join(say_defect(d) for d in limiting)
        words += f" What limits the outcome: {names}."
    idle = [j.defect.id for j in scope if j.helped_by is not Help.NONE and not j.pays and j.defect.severity]
    worth = [j.defect.id for j in scope if j.pays]
    if worth:
        words += f" Effort counts on {', '.join(worth)}."
    if idle:
        words += f" On {', '.join(idle)} it stops paying: milder than what will stay ({SEVERITIES[ceiling]})."
    return words


def _many(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")


def implied_findings(defects: Sequence[Defect]) -> tuple[tuple[str, str, str], ...]:
    """Read the gates that the listed defects answer.

    Returns
    -------
    tuple of (gate id, finding key, evidence)
    """
    found = []
    for defect in defects:
        evidence = f"defect {say_defect(defect)}"
        if defect.term == "mould":
            found.append(("live_mould" if defect.active else "past_mould", "yes", evidence))
        elif defect.term in ("tape carrier", "adhesive residue"):
            found.append(("tape", "stays", evidence))
        elif defect.term == "blocking":
            found.append(("stuck_pages", "yes", evidence))
        elif defect.term == "retouch":
            found.append(("restoration", "owner knows", evidence))
        elif defect.term in ("rust", "corrosion") and defect.severity == 3:
            found.append(("rusted_staples", "loss", evidence))
    return tuple(found)
