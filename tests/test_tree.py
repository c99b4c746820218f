"""What the tree may hold: the listed names at the top, and no trace of the machine it was made on."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "bench",
    "workbook",
    "tests",
    "sample_records",
}
# Written so that no pattern matches itself.
TRACES = {
    "a path of a machine": r"(?<![\w.])/(work|root|home|Users)/",
    "the host of a registry": r"py[p]i\.org|python[h]osted|np[m]js|con[d]a\.anaconda|deb\.de[b]ian",
    "a number of a tracker": r"(?i)\bissue[ ]*(#|no\.? ?|number )?\d+\b",
}


def list_tracked() -> list[str]:
    """List the files of the project: those git tracks, or, without git, all that are not hidden."""
    try:
        result = subprocess.run(
            ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=True, text=True
        )
        return [name for name in result.stdout.split("\0") if name and (ROOT / name).is_file()]
    except (OSError, subprocess.CalledProcessError):  # unpacked from an archive
        made = {"records", "build", "bench.egg-info", "__pycache__"}
        names = (path.relative_to(ROOT) for path in ROOT.rglob("*") if path.is_file())
        return [
            name.as_posix()
            for name in names
            if not name.parts[0].startswith(".") and not made & {*name.parts}
        ]


TRACKED = list_tracked()


def find_traces(text: str) -> list[str]:
    """List what a text gives away, as ``what: the words``."""
    return [
        f"{what}: {match.group()!r}"
        for what, pattern in TRACES.items()
        for match in re.finditer(pattern, text)
    ]


def test_the_top_holds_only_what_is_listed() -> None:
    top = {name.split("/")[0] for name in TRACKED}
    assert sorted(name for name in top if not name.startswith(".") and name not in TOP) == []


def test_no_file_gives_away_where_it_was_made() -> None:
    found = {}
    for name in TRACKED:
        if name == Path(__file__).relative_to(ROOT).as_posix():
            continue
        try:
            traces = find_traces(name + "\n" + (ROOT / name).read_text(encoding="utf-8"))
        except UnicodeDecodeError:  # a picture
            continue
        if traces:
            found[name] = traces
    assert found == {}


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("see /home/ann/records", 1),
        ('open("/root/x")', 1),
        ("https://py" + "pi.org/simple", 1),
        ("as told in issue 2", 1),
        ("Closes issue #14", 1),
        ("workbook/00_start.ipynb and notes/work/plan", 0),
        ("a saddle-stitched issue of 32 pages", 0),
    ],
)
def test_a_trace_is_found(text: str, count: int) -> None:
    assert len(find_traces(text)) == count
