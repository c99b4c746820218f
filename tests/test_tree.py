"""What the tree may hold: the listed names at the top, and no trace of the machine it was made on."""

import re
import subprocess
from collections import Counter
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


GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
BENCH = ROOT / "bench"
QUOTED = re.compile(r"`([^`\n]+)`")


def read_rooms(guide: str) -> dict[str, set[str]]:
    """Read the table of rooms: each with what its row names within it; a name of a folder ends in a slash."""
    rows = re.findall(r"^\| (`.+?) \| (.+) \|$", guide.partition("| room | holds |")[2], re.MULTILINE)
    return {name: {*QUOTED.findall(holds)} for names, holds in rows for name in QUOTED.findall(names)}


def list_room(folder: str) -> set[str]:
    """List the modules and the folders of a folder, as the table names them."""
    inner = [name.removeprefix(folder).partition("/") for name in TRACKED if name.startswith(folder)]
    return {
        first + slash if slash else first.removesuffix(".py")
        for first, slash, _ in inner
        if slash or (first.endswith(".py") and first != "__init__.py")
    }


def test_the_map_names_the_rooms_that_there_are() -> None:
    assert sorted(read_rooms(GUIDE)) == sorted(list_room("bench/"))


def test_the_map_names_each_folder_of_a_room_and_nothing_that_is_not_in_it() -> None:
    for room, named in read_rooms(GUIDE).items():
        there = list_room(f"bench/{room}") if room.endswith("/") else set()
        assert {name for name in there if name.endswith("/")} <= named <= there, room


PATH = re.compile(r"[\w.]+(/[\w.]+)+/?|\w+\.(py|csv|md|toml)")


def find_paths(guide: str) -> set[str]:
    """Find the paths that a guide names: quoted, or among the words of its commands."""
    words = {word for quoted in QUOTED.findall(guide) for word in quoted.split()}
    for block in guide.split("```")[1::2]:
        words |= {*re.sub(r"-m (tests[\w.]+)", lambda m: m[1].replace(".", "/"), block).split()}
    return {word for word in words if PATH.fullmatch(word) and not word.startswith(".venv")}


def exists(path: str) -> bool:
    """Tell whether it is a path of the project or of ``bench``, with or without ``.py`` or a file's name."""
    ways = [root / f"{path}{end}" for root in (ROOT, BENCH) for end in ("", ".py")]
    return any(way.exists() for way in ways) or path in {Path(name).name for name in TRACKED}


def test_every_path_of_the_guide_exists() -> None:
    assert sorted(path for path in find_paths(GUIDE) if not exists(path)) == []


def test_the_reader_of_the_guide_sees_rooms_and_paths() -> None:
    table = "| room | holds |\n|---|---|\n| `a` | b |\n| `c/` | `d/` and `e` |\n"
    guide = f"{table}\n`e/f`, `g.py h`\n```\npython -m tests.i j/k\n```\n"
    assert read_rooms(guide) == {"a": set(), "c/": {"d/", "e"}}
    assert find_paths(guide) == {"e/f", "g.py", "tests/i", "j/k"}


def test_every_class_of_the_bench_has_a_name_of_its_own():
    """Two things of one name are told apart by nobody who searches for them."""
    texts = [path.read_text(encoding="utf-8") for path in (ROOT / "bench").rglob("*.py")]
    found = re.findall(r"^class (\w+)", "\n".join(texts), re.MULTILINE)
    assert sorted(name for name, count in Counter(found).items() if count > 1) == []
