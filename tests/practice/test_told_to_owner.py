"""What a report has to say: common practice and the codes of the profession; no calculation decides it."""

from bench.classroom import EXERCISES, read_exercises
from bench.practice.markers import MARKERS
from bench.practice.shapes import Judgement
from bench.practice.task import set_task

ALWAYS = {"before", "done", "materials", "left"}
"""In every treatment report: AIC Commentaries 24 to 28, documentation (seen)."""


def tasks():
    exercise = read_exercises(EXERCISES)["write-the-report"]
    return [set_task(exercise, MARKERS, f"Learner {n}", 3) for n in range(40)]


def test_four_things_stand_in_every_report_and_two_in_none():
    for task in tasks():
        assert task.solution.right >= ALWAYS
        assert not task.solution.right & {"promise", "worth"}


def test_what_the_log_tells_has_to_be_said():
    seen = set()
    for task in tasks():
        log = " ".join(value for name, value in task.solution.look if name.startswith("from the log"))
        assert ("tore by 4 mm" in log) == ("failed" in task.solution.right)
        assert ("it was 31 h" in log) == ("change" in task.solution.right)
        assert ("from memory" in log) == ("clock" in task.solution.right)
        seen |= task.solution.right
    assert {"failed", "change", "clock"} <= seen


def test_one_line_too_few_is_near_and_a_promise_is_named():
    (task, *_) = tasks()
    assert task.mark(task.solution.right - {"materials"}).judged is Judgement.NEAR
    told = task.mark(task.solution.right | {"promise"})
    assert (told.judged, told.wrong.key) == (Judgement.WRONG, "promised")
