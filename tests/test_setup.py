"""The set-up script and the lock: what a newcomer's first command leans on."""

import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from packaging.requirements import Requirement

from tests.makers import ROOT, load_script

LOCK = (ROOT / ".ci" / "locked.txt").read_text(encoding="utf-8")


@pytest.fixture
def setup(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """Load a fresh copy of the script that works on a folder of its own and runs no command."""
    module = load_script("setup")
    monkeypatch.setattr(module, "VENV", tmp_path / "venv")
    monkeypatch.setattr(module, "run", lambda words: pytest.fail(f"ran {words}"))
    return module


@pytest.mark.parametrize("machine", [("linux", "x86_64"), ("darwin", "arm64"), ("darwin", "x86_64")])
def test_every_pin_of_the_project_is_in_the_lock(machine: tuple[str, str]) -> None:
    """On Macs with Intel processors two of them are older: newer ones have no wheels there."""
    there = dict(zip(("sys_platform", "platform_machine"), machine, strict=True))

    def applying(lines: list[str]) -> set[str]:
        read = [Requirement(line) for line in lines]
        return {
            f"{one.name}{one.specifier}".lower()
            for one in read
            if not one.marker or one.marker.evaluate(there)
        }

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    groups = project["dependency-groups"]
    pins = [*project["project"]["dependencies"], *groups["test"], *groups["setup"]]
    wanted, locked = applying(pins), applying(re.findall(r"^([\w.-]+==[^\\\n]+)", LOCK, re.MULTILINE))
    assert wanted - locked == set()
    assert len([pin for pin in wanted if pin.startswith("num")]) == 2


def test_the_lock_holds_hashes_and_no_address() -> None:
    entries = re.split(r"\n(?=\S)", LOCK.strip())
    assert len(entries) > 100
    assert [entry for entry in entries if "--hash=sha256:" not in entry] == []
    assert re.findall(r"https?:|--index|--find-links|--extra| @ ", LOCK) == []


def test_the_slow_grammar_is_left_out() -> None:
    """With it, the first picture in every kernel takes two seconds longer."""
    assert "rfc3987" not in LOCK


def test_a_python_without_ensurepip_is_told_what_to_install(
    setup: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(setup.importlib.util, "find_spec", lambda name: None)
    with pytest.raises(setup.SetupError, match="sudo apt-get install python3-venv"):
        setup.make_venv()


def test_a_folder_that_is_no_environment_is_left_alone(setup: ModuleType) -> None:
    setup.VENV.mkdir()
    (setup.VENV / "letter.txt").write_text("keep", encoding="utf-8")
    with pytest.raises(setup.SetupError, match="is in the way"):
        setup.make_venv()
    assert (setup.VENV / "letter.txt").read_text(encoding="utf-8") == "keep"


def test_uv_itself_is_installed_by_its_hashes(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    seen = []

    def read_lock(words: list[str]) -> bool:
        if "-r" in words:
            seen.append(Path(words[words.index("-r") + 1]).read_text(encoding="utf-8"))
        return True

    monkeypatch.setattr(setup, "run", read_lock)
    assert setup.get_uv()
    (text,) = seen
    assert re.findall(r"^\S+==", text, re.MULTILINE) == ["uv=="]
    assert text.count("--hash=sha256:") > 5
    assert not text.rstrip().endswith("\\")


@pytest.mark.parametrize("had", [False, True], ids=["no uv", "uv does not get through"])
def test_pip_takes_over_from_uv(had: bool, setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    commands = []

    def refuse_uv(words: list[str]) -> bool:
        commands.append(words[2])
        return words[2] == "pip"

    monkeypatch.setattr(setup, "get_uv", lambda: had)
    monkeypatch.setattr(setup, "run", refuse_uv)
    setup.install_locked()
    assert commands == (["uv", "pip"] if had else ["pip"])


def test_a_failed_installation_says_what_to_do(setup: ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(setup, "run", lambda words: False)
    with pytest.raises(setup.SetupError, match="check the network"):
        setup.install_locked()
