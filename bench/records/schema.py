"""The tables of a record and their columns, as data.

The store checks every cell against these definitions, and a page of documentation can be made
from them.  A change of meaning, a new column or a new table raises ``SCHEMA_VERSION``.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property

from bench.materials import GLUES

SCHEMA_VERSION = 5
"""2 brought the list of saves, who supplied a material and the shape of a defect; 3 the keys and ends of what
was planned, and what a consent covers, in columns of their own; 4 the files of data loggers; 5 what a bench
measures of itself, and attempts at exercises."""

STAGES = ("intake", "cleaning", "humidity", "buffering", "pressing", "review", "writeup")
YES_NO = ("yes", "no")

# The longest text of one cell: a long page, and well below what the CSV reader takes in one field.
LONGEST_TEXT = 10_000
# Far more than a treatment has; a number beyond it is a slip.
MOST_ROWS = 999_999


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    name : str
        As it stands in the header.
    kind : str
        ``"integer"``, ``"number"``, ``"text"``, ``"word"`` (one of ``allowed``), ``"name"`` (a
        short name or id), ``"time"`` (ISO 8601 with offset), ``"file"`` (a path inside the
        folder) or ``"checksum"`` (SHA-256).
    required : bool
        Whether a blank cell is a fault.
    allowed : tuple of str
        The words or integers allowed; empty where anything of the kind is.
    low, high : float or None
        Closed range, in ``unit``.
    unit : str
        Unit of the number, if the column fixes it.
    meaning : str
        What the cell says.
    since : int
        Version of the schema that brought it; in an older record it is blank.
    """

    name: str
    kind: str
    required: bool = False
    allowed: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    unit: str = ""
    meaning: str = ""
    since: int = 1

    @property
    def allowed_words(self) -> str:
        """What is allowed, in words, for a fault or a page of documentation."""
        if self.allowed:
            return " or ".join((", ".join(self.allowed[:-1]), self.allowed[-1]))
        words = _KIND_WORDS[self.kind]
        words += f" in {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return f"{words}, {self.low:g} to {self.high:g}"
        if self.low is not None:
            return f"{words}, {self.low:g} or more"
        return words if self.high is None else f"{words}, at most {self.high:g}"


_KIND_WORDS = {
    "integer": "a whole number",
    "number": "a number with a decimal point",
    "text": f"a text of at most {LONGEST_TEXT} characters",
    "word": "a word",
    "name": "a short name of letters, digits, blanks, hyphens, points and underscores",
    "time": "a time with its offset from UTC",
    "file": "a path inside the folder of the treatment, with forward slashes",
    "checksum": "a SHA-256 checksum of 64 lower-case hexadecimal digits",
}


@dataclass(frozen=True)
class Table:
    """One table of a record: its name, what one row is, its own columns, and the version that brought it.

    A table that ``may_lack`` has no file before its first row; the list of saves tells if it goes later.
    """

    name: str
    meaning: str
    own: tuple[Column, ...]
    since: int = 1
    may_lack: bool = False

    @property
    def file(self) -> str:
        """Name of its file."""
        return f"{self.name}.csv"

    @cached_property
    def columns(self) -> tuple[Column, ...]:
        """All columns, the common ones first."""
        return COMMON + self.own

    @cached_property
    def header(self) -> tuple[str, ...]:
        """Names of all columns."""
        return tuple(column.name for column in self.columns)

    def column(self, name: str) -> Column:
        """Give a column by its name."""
        return next(column for column in self.columns if column.name == name)


COMMON = (
    Column(
        "row",
        "integer",
        True,
        low=1,
        high=MOST_ROWS,
        meaning="Number of the row in its table, given by the store.",
    ),
    Column(
        "replaces",
        "integer",
        low=1,
        high=MOST_ROWS,
        meaning="The row that this one corrects; blank for a new fact.",
    ),
    Column("saved_at", "time", True, meaning="When it was saved."),
    Column("by", "text", True, meaning="Who saved it."),
    Column("save", "name", True, meaning="Short id shared by all rows of one save."),
)
# Filled in by the store; a row that is handed over must not carry them.
STAMPS = ("row", "saved_at", "by", "save")

_NOTE = Column("note", "text", meaning="Anything else worth saying.")
_STAGE = Column("stage", "word", True, STAGES, meaning="The stage it belongs to.")
_CYCLE = Column("cycle", "integer", True, low=0, high=99, meaning="0 before any cycle, 1 for the first, …")

TREATMENT = Table(
    "treatment",
    "The item's identity and description, one row a saved version; unknown is blank until intake.",
    (
        Column("treatment_id", "name", True, meaning="Name of the folder."),
        Column("schema_version", "integer", True, low=1, meaning="Version of these tables."),
        Column("title", "text", True, meaning="As the owner calls the item."),
        Column("owner", "text", meaning="Whose it is."),
        Column("conservator", "text", meaning="Who is responsible for the treatment."),
        Column("planned_start", "time", meaning="When the work is to begin."),
        Column(
            "format",
            "word",
            allowed=(
                "saddle-stitched",
                "square-bound, side-stapled",
                "square-bound, glued",
                "single or folded sheet",
            ),
            meaning="How the item holds together.",
        ),
        Column("width_mm", "number", low=30, high=600, unit="mm", meaning="Spine to fore edge."),
        Column("height_mm", "number", low=30, high=800, unit="mm", meaning="Head to tail."),
        Column("count", "integer", low=1, high=2000, meaning="Leaves or pages of the text block, no cover."),
        Column("counted_as", "word", allowed=("leaves", "pages"), meaning="What was counted; never assumed."),
        Column("cover_leaves", "integer", allowed=("0", "2"), meaning="2 for a cover, 0 without."),
        Column("text_paper", "text", meaning="Name in the materials table."),
        Column("cover_paper", "text", meaning="Name in the materials table."),
        Column("cover_coated", "word", allowed=("yes", "no", "unknown"), meaning="Whether it is coated."),
        Column(
            "glue",
            "word",
            allowed=GLUES,
            meaning="Glue of the spine.",
        ),
        Column(
            "mass_g",
            "number",
            low=0.5,
            high=5000,
            unit="g",
            meaning="Of older records only.",
        ),
        Column("length_unit", "word", True, ("thou", "mm", "um"), meaning="Unit of thickness on screens."),
        Column("temperature_unit", "word", True, ("degC", "degF"), meaning="Unit of temperature on screens."),
        _NOTE,
    ),
)

STAPLES = Table(
    "staples",
    "One staple.",
    (
        Column("staple", "name", True, meaning="Its name: upper, lower, …"),
        Column(
            "from_head_mm", "number", True, low=0, high=600, unit="mm", meaning="Head edge to its middle."
        ),
        Column(
            "from_spine_mm",
            "number",
            True,
            low=0,
            high=50,
            unit="mm",
            meaning="From the spine edge; 0 in a fold.",
        ),
        Column("prong", "word", True, ("flush", "proud"), meaning="How its ends lie."),
        Column("rust", "integer", True, low=0, high=3, meaning="0 none, 1 just visible, 2 plain, 3 loss."),
    ),
)

READINGS = Table(
    "readings",
    "One reading of one quantity at one place.",
    (
        _STAGE,
        _CYCLE,
        Column("quantity", "text", True, meaning="thickness, mass, width, height, humidity, temperature, …"),
        Column(
            "place", "text", True, meaning="text block, spine edge, fore edge, “upper staple”, chamber, …"
        ),
        Column("value", "number", True, meaning="As the instrument showed it."),
        Column(
            "unit", "text", True, meaning="Unit of value, limit and resolution: mm, thou, um, g, percent, …"
        ),
        Column("instrument", "text", meaning="What it was read with."),
        Column("limit", "number", low=0, meaning="Largest error the maker allows, plus or minus."),
        Column("resolution", "number", low=0, meaning="Smallest step the instrument shows."),
        Column("force_n", "number", low=0, high=1000, unit="N", meaning="Force of the instrument, if known."),
        Column("replicate", "integer", low=1, meaning="1, 2, … for repeats at one place."),
        Column("taken_at", "time", True, meaning="When it was read."),
        Column("taken_by", "text", meaning="Who read it."),
        _NOTE,
    ),
)

TESTS = Table(
    "tests",
    "One spot test.",
    (
        Column("test", "text", True, meaning="What was tested."),
        Column("place", "text", meaning="Where on the item."),
        Column("method", "text", meaning="How."),
        Column("result", "word", True, ("pass", "fail", "doubt", "not done"), meaning="What came out."),
        Column("forbids", "text", meaning="What the result forbids."),
        Column("taken_at", "time", True, meaning="When."),
        _NOTE,
    ),
)

DEFECTS = Table(
    "defects",
    "One defect as it was seen at one moment; the same id before and after.",
    (
        Column("defect", "name", True, meaning="Its id: d1, d2, …"),
        Column("term", "text", True, meaning="Standard term: crease, cockled, foxing, tear, …"),
        Column("face", "text", True, meaning="front cover, outside; recto; verso; spine; …"),
        Column("leaf", "text", meaning="Leaf number, or the cover leaf (C1, C2)."),
        Column("x_mm", "number", low=0, high=600, unit="mm", meaning="From the left edge of that face."),
        Column("y_mm", "number", low=0, high=800, unit="mm", meaning="From the head, downwards."),
        Column("width_mm", "number", low=0, high=600, unit="mm", meaning="Across."),
        Column("height_mm", "number", low=0, high=800, unit="mm", meaning="Along."),
        Column(
            "shape",
            "word",
            allowed=("area", "falling line", "rising line", "point"),
            meaning="What lies in that box; an area if blank. A falling line ends lower on the right.",
            since=2,
        ),
        Column(
            "severity", "integer", True, low=0, high=3, meaning="0 none, 1 just visible, 2 plain, 3 loss."
        ),
        Column("state", "word", True, ("active", "stable"), meaning="Whether it goes on."),
        Column(
            "helped_by", "word", True, ("clean", "humidify and press", "none"), meaning="What could help."
        ),
        Column("limits_outcome", "word", True, YES_NO, meaning="Whether it limits what can be reached."),
        Column("in_scope", "word", True, YES_NO, meaning="Whether the owner wants it treated."),
        Column("moment", "word", True, ("before", "after"), meaning="Before or after treatment."),
        _CYCLE,
        _NOTE,
    ),
)

DECISIONS = Table(
    "decisions",
    "One decision: who, why, on what evidence.",
    (
        _STAGE,
        _CYCLE,
        Column("decision", "text", True, meaning="treat, hold, refer, consent, override, stop, repeat, …"),
        Column("gate", "text", meaning="The gate that was overridden, if one was."),
        Column("reason", "text", meaning="Why; a gate is overridden only with a reason."),
        Column("evidence", "text", meaning="Readings, tests and defects it rests on."),
        Column("decided_at", "time", True, meaning="When."),
        Column("decided_by", "text", True, meaning="Who."),
        Column("cycles", "integer", low=1, high=99, meaning="Cycles in all that a consent covers.", since=3),
        Column("agreed_on", "text", meaning="Day of the consent, as on its letter.", since=3),
        Column("document", "text", meaning="Where the consent is kept.", since=3),
    ),
)

PLANS = Table(
    "plans",
    "One planned quantity, or one answer in words, of one stage and cycle.",
    (
        Column("plan", "name", True, meaning="Stage and running number: buffering-1."),
        _STAGE,
        _CYCLE,
        Column("quantity", "text", True, meaning="What is planned."),
        Column("value", "number", meaning="Best estimate."),
        Column("uncertainty", "number", low=0, meaning="Expanded (about 95 %), in the same unit."),
        Column(
            "unit", "text", meaning="Unit of value, uncertainty and limit; dimensionless for a plain count."
        ),
        Column("limit", "number", meaning="Limit it is held against, in the same unit."),
        Column("limit_source", "text", meaning="Where the limit comes from."),
        Column("source", "text", meaning="Where the value comes from."),
        Column("words", "text", meaning="An answer in words."),
        Column("key", "text", meaning="Which number or words it is, however they are called.", since=3),
        Column("low", "number", meaning="Lower end of its interval (about 95 %), in the same unit.", since=3),
        Column("high", "number", meaning="Upper end of its interval, in the same unit.", since=3),
    ),
)

STEPS = Table(
    "steps",
    "One step of the schedule, planned and actual times side by side.",
    (
        Column("step", "name", True, meaning="Its id: s01, s02, …"),
        _STAGE,
        _CYCLE,
        Column("name", "text", True, meaning="What happens."),
        Column("hands", "word", True, YES_NO, meaning="Whether someone must be there."),
        Column("planned_start", "time", meaning="As laid out."),
        Column("planned_end", "time", meaning="As laid out."),
        Column("actual_start", "time", meaning="As it happened."),
        Column("actual_end", "time", meaning="As it happened."),
        Column("least_min", "number", low=0, unit="min", meaning="How short it may be."),
        Column("at_most_min", "number", low=0, unit="min", meaning="How long it may be; blank for no limit."),
        Column("optional", "word", allowed=YES_NO, meaning="A look-in that may be left out at night."),
        _NOTE,
    ),
)

LOG = Table(
    "log",
    "One observation during a step.",
    (
        _STAGE,
        _CYCLE,
        Column("at", "time", True, meaning="When."),
        Column("quantity", "text", meaning="What was read, if a number was."),
        Column("value", "number", meaning="The number."),
        Column("unit", "text", meaning="Its unit."),
        Column("remark", "text", meaning="What was seen, felt, smelled or done."),
    ),
)

MATERIALS = Table(
    "materials",
    "One material used.",
    (
        _STAGE,
        _CYCLE,
        Column("kind", "text", True, meaning="interleaf, blotter, board, eraser, salt, …"),
        Column("material", "text", True, meaning="Name in the materials table, or in words."),
        Column("lot", "text", meaning="Maker's lot or the packet's label."),
        Column("supplier", "text", meaning="Who sold it.", since=2),
        Column("count", "integer", low=0, high=10_000, meaning="How many sheets or pieces."),
        Column("thickness_um", "number", low=0.1, high=100_000, unit="µm", meaning="Of one piece."),
        Column("grammage_gsm", "number", low=0.1, high=10_000, unit="g/m²", meaning="Of one sheet."),
        _NOTE,
    ),
)

PHOTOGRAPHS = Table(
    "photographs",
    "One image.",
    (
        _STAGE,
        Column("view", "text", True, meaning="front cover, spine, leaf 12 recto, …"),
        Column("light", "text", meaning="normal, raking from the left, transmitted, …"),
        Column("scale", "text", meaning="The scale in the picture."),
        Column("file", "file", True, meaning="Path inside the folder of the treatment."),
        Column("sha256", "checksum", True, meaning="Checksum of the file as it was taken in."),
        Column("taken_at", "time", meaning="When."),
        _NOTE,
    ),
)

_COLUMN = "Name of the column in the file that holds"
LOGGERS = Table(
    "loggers",
    "One file of a data logger, and how it is read.",
    (
        _STAGE,
        _CYCLE,
        Column("place", "word", True, ("chamber", "room", "press"), meaning="Where the logger stood."),
        Column("file", "file", True, meaning="Path inside the folder of the treatment."),
        Column("sha256", "checksum", True, meaning="Checksum of the file as it was taken in."),
        Column("time_column", "text", True, meaning=f"{_COLUMN} the time, or the date alone."),
        Column("clock_column", "text", meaning=f"{_COLUMN} the time of day, beside a date alone."),
        Column("temperature_column", "text", True, meaning=f"{_COLUMN} the temperature."),
        Column("humidity_column", "text", True, meaning=f"{_COLUMN} the relative humidity, in percent."),
        Column("unit", "word", True, ("degC", "degF"), meaning="Unit of its temperature."),
        Column(
            "dates",
            "word",
            True,
            ("day first", "month first", "year first"),
            meaning="How dates are written in it.",
        ),
        Column("zone", "text", True, meaning="Of its clock: UTC, an offset like +02:00, or a name."),
        Column("ahead_min", "number", unit="min", meaning="How far its clock is ahead of the right time."),
        Column(
            "correction",
            "number",
            low=-20,
            high=20,
            unit="percent",
            meaning="Points to be added to its humidity.",
        ),
        Column("first_reading", "time", True, meaning="By the right time."),
        Column("last_reading", "time", True, meaning="By the right time."),
        Column("readings", "integer", True, low=1, meaning="How many could be used."),
        Column("said", "text", meaning="What it said beside the plan when it was saved."),
        Column("note", "text", meaning="What was left out of it."),
    ),
    since=4,
)

_TRIAL = Column("trial", "name", True, meaning="Which trial: its protocol and running number.")
_KEY = Column("key", "name", True, meaning="Which number, however it is called.")
TRIALS = Table(
    "trials",
    "One trial by which the bench measured something of itself.",
    (
        _TRIAL,
        Column("protocol", "name", True, meaning="Key of the protocol."),
        Column("about", "text", True, meaning="Of what: a material, an instrument, the press."),
        Column("done_at", "time", True, meaning="When it was carried out."),
        Column("due_at", "time", True, meaning="When it should be done again."),
        Column("used", "word", True, YES_NO, meaning="Whether plans take what it found."),
        Column("reason", "text", True, meaning="Why it is used or left."),
        Column("said", "text", meaning="What it found, in words."),
        _NOTE,
    ),
    since=5,
    may_lack=True,
)
TRIAL_READINGS = Table(
    "trial_readings",
    "One reading of a trial.",
    (
        _TRIAL,
        _KEY,
        Column("replicate", "integer", True, low=1, high=999, meaning="1, 2, … for repeats."),
        Column("value", "number", True, meaning="As the instrument showed it."),
        Column("unit", "text", True, meaning="Its unit; dimensionless for a count."),
    ),
    since=5,
    may_lack=True,
)
TRIAL_FINDINGS = Table(
    "trial_findings",
    "One constant as a trial found it.",
    (
        _TRIAL,
        _KEY,
        Column("value", "number", True, meaning="Best estimate."),
        Column("low", "number", True, meaning="Lower end of its interval of 95 %."),
        Column("high", "number", True, meaning="Upper end."),
        Column("unit", "text", True, meaning="Unit of all three; dimensionless for a factor."),
    ),
    since=5,
    may_lack=True,
)
ATTEMPTS = Table(
    "attempts",
    "One answer that a learner committed to.",
    (
        Column("exercise", "name", True, meaning="Name of the exercise."),
        Column("skill", "text", True, meaning="What it trains."),
        Column("number", "integer", True, low=1, high=MOST_ROWS, meaning="1 for the first attempt at it."),
        Column("help", "word", True, ("worked example", "half-worked", "alone"), meaning="What was shown."),
        Column("answer", "text", meaning="As it was entered."),
        Column("judged", "word", True, ("right", "near", "wrong", "read"), meaning="What it was."),
        Column("wrong_way", "name", meaning="The wrong way that was recognised."),
        Column("hints", "integer", True, low=0, high=99, meaning="Hints that were asked for."),
        Column("words", "text", meaning="Why, in the learner's own words; for the teacher to read."),
        Column("done_at", "time", True, meaning="When."),
        _NOTE,
    ),
    since=5,
    may_lack=True,
)

_ALL = (
    TREATMENT,
    STAPLES,
    READINGS,
    TESTS,
    DEFECTS,
    DECISIONS,
    PLANS,
    STEPS,
    LOG,
    MATERIALS,
    PHOTOGRAPHS,
    LOGGERS,
    TRIALS,
    TRIAL_READINGS,
    TRIAL_FINDINGS,
    ATTEMPTS,
)
TABLES: dict[str, Table] = {table.name: table for table in _ALL}

SAVES = Table(
    "saves",
    "What one save wrote; written by the store alone, see ``bench/records/ledger.py``.",
    (
        Column("covers", "text", True, meaning="Tables and numbers of its rows: log 3-4; steps 7."),
        Column(
            "marks",
            "text",
            True,
            meaning="A digest of each of these rows, in short; “gone” for one taken out.",
        ),
        Column("note", "text", meaning="Why rows changed outside the workbook were taken over."),
        Column("before", "checksum", meaning="The digest of the line before; blank in the first."),
        Column("digest", "checksum", True, meaning="SHA-256 of all that the line says, and of before."),
    ),
    since=2,
)
"""The list of saves, beside the tables that people fill."""

KEYS: dict[str, tuple[str, ...]] = {
    "staples": ("staple",),
    "steps": ("step",),
    "defects": ("defect", "moment", "cycle"),
    "plans": ("plan", "cycle", "quantity"),
    "loggers": ("stage", "cycle", "file"),
    "trials": ("trial",),
    "trial_readings": ("trial", "key", "replicate"),
    "trial_findings": ("trial", "key"),
    "attempts": ("exercise", "number"),
}
"""Columns that tell what a row is about: two current rows must not be about the same thing."""

FILES: dict[str, Table] = {**TABLES, SAVES.name: SAVES}

_STAPLE_PLACE = re.compile(
    r"^(?:over |at )?(?:the )?(?:staple[: ]+(?P<after>.+)|(?P<before>.+) staple)$", re.I
)


def staple_at(place: str) -> str | None:
    """Tell which staple the place of a reading names, if it names one.

    Examples
    --------
    >>> staple_at("upper staple"), staple_at("over the upper staple"), staple_at("staple upper")
    ('upper', 'upper', 'upper')
    >>> staple_at("text block") is None
    True
    """
    match = _STAPLE_PLACE.match(place.strip())
    return None if match is None else (match["after"] or match["before"]).strip()
