"""Which version of the schema a record was made with."""

from __future__ import annotations

from bench.errors import RecordError
from bench.records.faults import Note, say_fault
from bench.records.schema import SCHEMA_VERSION, TREATMENT
from bench.records.sheet import Sheet, read_sheet


def find_version(treatment: bytes | None) -> int:
    """Highest schema version named in the first table; the first one if none can be read."""
    return version_of(read_sheet(treatment, TREATMENT, version=SCHEMA_VERSION + 1))


def version_of(treatment: Sheet | None) -> int:
    """Highest schema version that the rows of the first table name; the first one if they name none."""
    versions = [row.values["schema_version"] for row in treatment.rows] if treatment else []
    return max((version for version in versions if isinstance(version, int)), default=1)


def refuse_newer(treatment: bytes | None) -> None:
    """Refuse to write to a record that a newer program keeps.

    Raises
    ------
    RecordError
        It does.
    """
    version = find_version(treatment)
    if version > SCHEMA_VERSION:
        raise RecordError([explain_newer(version)])


def explain_newer(version: int) -> Note:
    """Say that a record can only be read here."""
    came = f"is {version}: a newer program made this record"
    remedy = (
        "It is open for reading only, and columns not known here are left out; use the newer program to save"
    )
    what = say_fault(came, f"at most {SCHEMA_VERSION}", remedy)
    return Note(TREATMENT.file, None, "schema_version", what)
