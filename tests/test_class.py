"""A class from nothing: learners sign in; what is hers, what is nobody else's, what the teacher may read.

The accounts are made up for the test and removed after it.
"""

from __future__ import annotations

import os
import pwd
import stat
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.hub import LEARNERS, TEACHERS, Browser, accounts, missing, run_hub, set_up_class, start_servers

MAKES = "a class makes accounts on this machine: it is tried with CI set"
WHY_NOT = missing() if os.environ.get("CI") else MAKES
pytestmark = [pytest.mark.slow, pytest.mark.skipif(bool(WHY_NOT), reason=WHY_NOT or "it can be tried")]

TRY = """
from bench.classroom import open_practice
from bench.practice.shapes import Judgement, Marked
practice = open_practice()
practice.save(
    practice.task("reading-thickness"), Marked(Judgement.READ), answer="", hints=0, words="mine alone"
)
print(practice.learner, len(practice.attempts), practice.is_scratch)
"""


class Signed(NamedTuple):
    """Somebody who is signed in, with a server and a kernel."""

    name: str
    browser: Browser
    kernel: str
    folder: Path

    def run(self, code: str) -> str:
        return self.browser.run(self.kernel, code)

    def ask(self, path: str) -> tuple[int, object]:
        return self.browser.ask(f"/user/{self.name}{path}")

    @property
    def home(self) -> Path:
        return Path(pwd.getpwnam(self.name).pw_dir)

    @property
    def attempts(self) -> Path:
        return self.folder / "attempts" / self.name


@pytest.fixture(scope="module")
def signed_in() -> Iterator[list[Signed]]:
    """Two learners and a teacher, the learners with one attempt each."""
    with (
        set_up_class() as folder,
        accounts(LEARNERS, LEARNERS, TEACHERS) as made,
        run_hub(folder) as address,
    ):
        browsers = [Browser(address) for _ in made]
        with pytest.raises(PermissionError):
            Browser(address).sign_in(made[0][0], "a guess")
        for browser, (name, password) in zip(browsers, made, strict=True):
            browser.sign_in(name, password)
        start_servers(browsers)
        people = [Signed(each.name, each, each.start_kernel(), folder) for each in browsers]
        for learner in people[:2]:
            assert learner.run(TRY).split() == [learner.name, "1", "False"]
        yield people


def mode_of(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


def test_each_has_her_notebooks_and_records_in_her_own_account(signed_in: list[Signed]) -> None:
    for one in signed_in:
        uid = pwd.getpwnam(one.name).pw_uid
        assert one.run("import os; print(os.getuid())").strip() == f"{uid}"
        status, page = one.ask("/api/contents/practice/00_practice.ipynb")
        assert status == 200
        assert page["content"]["cells"]  # type: ignore[index]
        for place in ("bench", "bench/records"):
            assert mode_of(one.home / place) == 0o700
            assert (one.home / place).stat().st_uid == uid
        assert one.run("import os; print(os.environ['BENCH_RECORDS'])").strip() == str(
            one.home / "bench/records"
        )
        assert one.attempts.stat().st_uid == uid
        assert mode_of(one.attempts) == 0o2750


def test_no_file_of_a_learner_is_open_to_others(signed_in: list[Signed]) -> None:
    """By file mode, as another learner's own processes meet it."""
    one, other, _ = signed_in
    (table,) = one.attempts.glob("_practice-*/attempts.csv")
    assert "mine alone" in table.read_text(encoding="utf-8")
    for path in one.attempts.rglob("*"):
        assert mode_of(path) & 0o007 == 0, path
    for words in (
        ["cat", table],
        ["ls", one.attempts],
        ["ls", one.home / "bench"],
        ["touch", one.attempts / "x"],
    ):
        done = subprocess.run(
            ["setpriv", f"--reuid={other.name}", f"--regid={other.name}", "--init-groups", *map(str, words)],
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode != 0, words
        assert "Permission denied" in done.stderr
    said = other.run(f"try: print(open({str(table)!r}).read())\nexcept PermissionError: print('refused')")
    assert said.strip() == "refused"


def test_a_learner_reaches_another_by_no_page_of_hers(signed_in: list[Signed]) -> None:
    one, other, _ = signed_in
    (table,) = one.attempts.glob("_practice-*/attempts.csv")
    links = {"link-to-file.txt": table, "link-to-folder": one.attempts, "link-to-home": one.home / "bench"}
    for name, target in links.items():
        other.run(f"import os; os.symlink({str(target)!r}, {str(other.home / 'bench/workbook' / name)!r})")
    up = "/".join([".."] * 12)
    asked = [*links, f"link-to-folder/{table.parent.name}/attempts.csv", f"{up}{table}"]
    for path in asked:
        status, said = other.ask(f"/api/contents/{path}?content=1")
        assert "mine alone" not in f"{said}", path
        assert status >= 400, (path, said)
        status, said = other.ask(f"/files/{path}")
        assert "mine alone" not in f"{said}", path
        assert status >= 400, (path, said)
    status, _ = other.ask("/api/contents/practice/00_practice.ipynb")
    assert status == 200  # it is her own contents that were asked
    for who in (other, signed_in[2]):  # nor does she, or the teacher, enter the other's server
        assert who.browser.ask(f"/user/{one.name}/api/contents")[0] in (403, 404)


def test_no_kernel_listens_on_a_port(signed_in: list[Signed]) -> None:
    """Whoever can reach the port of a kernel reads all that it shows."""
    code = "from ipykernel.connect import get_connection_info as i; print(i(unpack=True)['transport'])"
    assert [one.run(code).strip() for one in signed_in] == ["ipc"] * 3


def test_the_teacher_reads_the_attempts_of_all(signed_in: list[Signed]) -> None:
    *learners, teacher = signed_in
    code = "from bench.classroom import open_practice\nfound, unread = open_practice().class_attempts()\n"
    said = teacher.run(f"{code}print(sorted((each.learner, each.words) for each in found), unread)")
    assert said.strip() == f"{sorted((one.name, 'mine alone') for one in learners)} ()"
    said = learners[0].run(f"{code}print([each.learner for each in found])")
    assert said.strip() == f"['{learners[0].name}']"
    code = "import os; print(os.access({!r}, os.W_OK), os.access({!r}, os.R_OK))"
    said = teacher.run(code.format(str(learners[0].attempts), str(learners[0].home / "bench/records")))
    assert said.split() == ["False", "False"]  # she reads attempts, writes none, and sees no treatments


def test_an_exercise_of_a_teacher_reaches_learners_who_cannot_change_it(signed_in: list[Signed]) -> None:
    learner, _, teacher = signed_in
    code = f"""
from pathlib import Path
from bench.classroom import EXERCISES, open_practice
place = Path({str(teacher.folder / "exercises")!r}) / "her-own.md"
"""
    teacher.run(f"{code}place.write_text((EXERCISES / 'reading-thickness.md').read_text())")
    assert learner.run(f"{code}print('her-own' in open_practice().exercises)").strip() == "True"
    assert mode_of(teacher.home / "bench") == 0o700  # what else she writes stays hers
    said = learner.run(f"{code}try: place.write_text('')\nexcept PermissionError: print('refused')")
    assert said.strip() == "refused"


def test_an_account_that_is_in_no_group_of_the_class_is_sent_away(signed_in: list[Signed]) -> None:
    address = signed_in[0].browser.address
    with accounts("nogroup") as ((name, password),):
        with pytest.raises(PermissionError):
            Browser(address).sign_in(name, password)
        assert not (signed_in[0].folder / "attempts" / name).exists()
    assert os.geteuid() == 0
