"""Files beside the tables: photographs and logger files, taken in untouched, each with its checksum."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path

from bench.errors import BadValue
from bench.records import disk
from bench.records.faults import explain_os_error
from bench.records.store import Record


def checksum(data: bytes) -> str:
    """Give the SHA-256 checksum by which a file is known to be untouched."""
    return hashlib.sha256(data).hexdigest()


@dataclass(frozen=True)
class Shelf:
    """Where files of one kind are kept.

    Attributes
    ----------
    table : str
        Its rows name the files; the folder beside the tables has the same name.
    one : str
        What one of them is called.
    endings : tuple of str
        Of the files that are taken in.
    remedy : str
        What to do with a file of another kind.
    edited : str
        What to do where a file was changed after it was taken in.
    """

    table: str
    one: str
    endings: tuple[str, ...]
    remedy: str
    edited: str

    def waiting(self, record: Record) -> tuple[str, ...]:
        """Name the files that lie in the folder and in no row yet."""
        folder = record.folder / self.table
        if not folder.is_dir():
            return ()
        known = set(record.read(self.table)["file"])
        found = (path for path in folder.iterdir() if path.suffix.lower().lstrip(".") in self.endings)
        names = sorted(f"{self.table}/{path.name}" for path in found if not path.name.startswith("."))
        return tuple(name for name in names if name not in known)

    def read(self, record: Record, file: str) -> bytes:
        """Read a file of a record.

        Raises
        ------
        BadValue
            It is not there.
        RecordError
            It cannot be read.
        """
        data = disk.read_bytes(record.folder / file)
        if data is None:
            remedy = "Put the file back, or choose another"
            raise BadValue(self.one, file, "a file in the folder of the treatment", remedy)
        return data

    def keep(self, record: Record, name: str, data: bytes) -> str:
        """Keep a file beside the tables, its bytes untouched, and give its place in the folder.

        A file that is there already is never written over: the same bytes are found again, others get a
        number behind their name.

        Parameters
        ----------
        record : Record
            Whose folder it is.
        name : str
            As the instrument or the operator called it; made plain.
        data : bytes
            All of the file.

        Raises
        ------
        BadValue
            The name has none of the endings.
        RecordError
            The folder cannot be written; nothing was kept.
        """
        return self.put(record.folder, name, data)

    def put(self, into: Path, name: str, data: bytes) -> str:
        """Do what :meth:`keep` does, for a folder that is not opened as a record.

        Parameters
        ----------
        into : Path
            Folder of a treatment.
        name : str
            Of the file; made plain.
        data : bytes
            All of the file.
        """
        stem, ending = self._plain(name)
        folder = into / self.table
        try:
            folder.mkdir(exist_ok=True)
            path, number = folder / f"{stem}.{ending}", 1
            while path.exists() and path.read_bytes() != data:
                number += 1
                path = folder / f"{stem}-{number}.{ending}"
            if not path.exists():
                disk.replace_file(path, data)
        except OSError as error:
            raise explain_os_error(error, folder, f"The {self.one} was not kept") from error
        return f"{self.table}/{path.name}"

    def check_name(self, name: str) -> str:
        """Give the ending of a name.

        Raises
        ------
        BadValue
            It is none of those that are taken in.
        """
        ending = Path(name).suffix.lower().lstrip(".")
        if ending not in self.endings:
            allowed = f"a name that ends in {', '.join(self.endings)}"
            raise BadValue(self.one, repr(name), allowed, self.remedy)
        return ending

    def _plain(self, name: str) -> tuple[str, str]:
        """Take a file name apart into a stem that every system can hold, and its ending."""
        ending = self.check_name(name)
        stem = re.sub(r"[^a-z0-9]+", "-", Path(name).stem.lower()).strip("-")
        return stem[:60] or self.one.replace(" ", "-"), ending


PHOTOGRAPHS = Shelf(
    "photographs",
    "photograph",
    ("jpg", "jpeg", "png", "tif", "tiff", "webp"),
    "Export the image in one of these formats",
    "an edited one is a photograph of its own",
)
LOGGERS = Shelf(
    "loggers",
    "logger file",
    ("csv", "txt", "xlsx", "ods"),
    "Export the readings as text or as a sheet, one a line, with time, temperature and humidity",
    "what is wrong in it is left out by how it is read, not by editing it",
)
SHELVES = (PHOTOGRAPHS, LOGGERS)
"""Every kind of file that is kept beside the tables."""
