"""The parts of a class that need no accounts: notebooks given out, the lock, who can enter a folder."""

from __future__ import annotations

import json
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.makers import ROOT, load_script

AT = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
LOCK = (ROOT / ".ci" / "class" / "locked.txt").read_text(encoding="utf-8")
LEARNER, SETUP = load_script("class/learner"), load_script("class/set_up")


class Desk:
    """The notebooks of a class, and those of a learner."""

    def __init__(self, folder: Path) -> None:
        self.source, self.target, self.noted = folder / "book", folder / "hers", folder / "given.json"
        self.write("a.ipynb", "one")
        self.write("practice/b.ipynb", "one")
        self.give()

    def write(self, name: str, text: str) -> None:
        path = self.source / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def change(self, name: str) -> None:
        (self.target / name).write_text("hers", encoding="utf-8")

    def give(self) -> dict[str, str]:
        LEARNER.give_notebooks(self.source, self.target, self.noted, AT)
        return {
            path.relative_to(self.target).as_posix(): path.read_text(encoding="utf-8")
            for path in sorted(self.target.rglob("*.ipynb"))
        }


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def test_a_page_that_she_left_alone_is_brought_up_to_date(desk: Desk) -> None:
    desk.write("practice/b.ipynb", "two")
    desk.write("new.ipynb", "one")
    assert desk.give() == {"a.ipynb": "one", "new.ipynb": "one", "practice/b.ipynb": "two"}


def test_a_page_that_she_changed_stays_while_the_original_does(desk: Desk) -> None:
    desk.change("a.ipynb")
    assert desk.give() == {"a.ipynb": "hers", "practice/b.ipynb": "one"}
    assert desk.give()["a.ipynb"] == "hers"


def test_a_page_that_she_changed_is_kept_beside_a_newer_one(desk: Desk) -> None:
    desk.change("a.ipynb")
    desk.write("a.ipynb", "two")
    kept = "a-mine-2026-03-02-090000"
    assert desk.give() == {"a.ipynb": "two", f"{kept}.ipynb": "hers", "practice/b.ipynb": "one"}
    desk.change("a.ipynb")
    desk.write("a.ipynb", "three")
    assert {name for name, text in desk.give().items() if text == "hers"} == {
        f"{kept}.ipynb",
        f"{kept}-2.ipynb",
    }


def test_without_the_list_of_what_was_given_nothing_of_hers_is_lost(desk: Desk) -> None:
    desk.change("a.ipynb")
    desk.noted.unlink()
    assert "hers" in desk.give().values()


def test_a_page_that_left_the_book_goes_unless_she_changed_it(desk: Desk) -> None:
    desk.change("a.ipynb")
    for name in ("a.ipynb", "practice/b.ipynb"):
        (desk.source / name).unlink()
    assert desk.give() == {"a.ipynb": "hers"}
    assert json.loads(desk.noted.read_text(encoding="utf-8")) == {}


def test_the_lock_of_a_class_holds_hashes_and_no_address() -> None:
    entries = re.split(r"\n(?=\S)", LOCK.strip())
    names = [re.match(r"[\w.-]+", entry)[0].lower() for entry in entries]  # type: ignore[index]
    assert {"jupyterhub", "configurable-http-proxy"} <= set(names)
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []
    assert re.findall(r"https?:|--index|--find-links|--extra| @ ", LOCK) == []


def test_a_class_works_with_the_same_versions_as_the_workbook() -> None:
    """Else a stored notebook would show a learner other numbers."""
    pins = re.compile(r"^([\w.-]+)==([^ \\;]+)", re.MULTILINE)
    known: dict[str, set[str]] = {}
    for name, version in pins.findall((ROOT / ".ci" / "locked.txt").read_text(encoding="utf-8")):
        known.setdefault(name, set()).add(version)
    hers = pins.findall(LOCK)
    assert len([name for name, _ in hers if name in known]) > 80
    assert [(name, version) for name, version in hers if version not in known.get(name, {version})] == []
    assert {"mypy", "playwright"} & {name for name, _ in hers} == set()
    assert "rfc3987-syntax" not in LOCK


def test_the_pins_of_a_class_are_in_its_lock() -> None:
    wanted = (ROOT / ".ci" / "class" / "packages.txt").read_text(encoding="utf-8").split()
    assert len(wanted) == 2
    assert [pin for pin in wanted if f"{pin} " not in LOCK] == []


def test_a_folder_that_others_cannot_enter_is_named(tmp_path: Path) -> None:
    shut = tmp_path / "shut"
    (shut / "within").mkdir(parents=True)
    shut.chmod(0o700)
    assert SETUP.hidden_from_others(shut / "within") in (shut, *shut.parents)
    assert SETUP.hidden_from_others(Path("/usr")) is None


def test_only_the_superuser_sets_a_class_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SETUP.os, "geteuid", lambda: 1000)
    with pytest.raises(SETUP.SetupError, match="Use sudo"):
        SETUP.set_up(tmp_path)
    assert list(tmp_path.iterdir()) == []
