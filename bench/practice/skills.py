"""What a learner can do: skill by skill, from the attempts; no points."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from bench.practice.capstone import CAPSTONE, PARTS, SKILL
from bench.practice.shapes import Judgement


@dataclass(frozen=True)
class Attempt:
    """One answer that a learner committed to.

    Attributes
    ----------
    learner, exercise, skill : str
        Who, at what, to train what.
    number : int
        1 for the first of this exercise.
    help : str
        How much of the way was shown.
    answer : str
        As it was entered.
    judged : Judgement
        What it was.
    wrong_way : str
        Key of the wrong way that was recognised; empty for none.
    hints : int
        That were asked for.
    words : str
        Free words for the teacher.
    at : datetime
        When.
    """

    learner: str
    exercise: str
    skill: str
    number: int
    help: str
    answer: str
    judged: Judgement
    wrong_way: str
    hints: int
    words: str
    at: datetime


class SkillStanding(StrEnum):
    """How far a learner has come with a skill."""

    CAN = "can do"
    NEARLY = "nearly"
    NOT_YET = "not yet"


ALONE = "alone"
MOST_HINTS = 1


def stand(attempts: Iterable[Attempt]) -> SkillStanding:
    """Tell how far a learner has come with one skill, from what was tried alone.

    Parameters
    ----------
    attempts : iterable of Attempt
        Of one learner and one skill, in any order.

    Returns
    -------
    SkillStanding
        *Can do*: the last two alone were right, with a hint each at most.  *Nearly*: the last one alone was
        right or near.  Worked and half-worked examples count for nothing.
    """
    alone = [each for each in sorted(attempts, key=lambda each: each.at) if each.help == ALONE]
    marked = [each for each in alone if each.judged is not Judgement.READ]
    last = marked[-2:]
    if len(last) == 2 and all(each.judged is Judgement.RIGHT and each.hints <= MOST_HINTS for each in last):
        return SkillStanding.CAN
    if last and last[-1].judged in (Judgement.RIGHT, Judgement.NEAR):
        return SkillStanding.NEARLY
    return SkillStanding.NOT_YET


def stand_whole(attempts: Iterable[Attempt]) -> SkillStanding:
    """Tell how far a learner has come with the capstone, from the last item of which she worked every part.

    Parameters
    ----------
    attempts : iterable of Attempt
        Of one learner at the parts of the capstone, in any order.

    Returns
    -------
    SkillStanding
        *Can do*: all parts of one item were right, with a hint each at most.  *Nearly*: none was wrong.
    """
    items: dict[int, dict[str, Attempt]] = {}
    for each in sorted(attempts, key=lambda each: each.at):
        items.setdefault(each.number, {})[each.exercise.removeprefix(CAPSTONE)] = each
    whole = [items[number] for number in sorted(items) if set(PARTS) <= set(items[number])]
    if not whole:
        return SkillStanding.NOT_YET
    parts = whole[-1].values()
    if all(each.judged is Judgement.RIGHT and each.hints <= MOST_HINTS for each in parts):
        return SkillStanding.CAN
    is_wrong = any(each.judged is Judgement.WRONG for each in parts)
    return SkillStanding.NOT_YET if is_wrong else SkillStanding.NEARLY


def by_skill(attempts: Sequence[Attempt]) -> dict[tuple[str, str], SkillStanding]:
    """Give how far each learner has come with each skill that was tried: learner and skill to standing."""
    groups: dict[tuple[str, str], list[Attempt]] = {}
    for each in attempts:
        groups.setdefault((each.learner, each.skill), []).append(each)
    return {
        (learner, skill): stand_whole(own) if skill == SKILL else stand(own)
        for (learner, skill), own in groups.items()
    }


def suggest_next(skills: Mapping[str, str], attempts: Sequence[Attempt]) -> str:
    """Suggest what to take up next: what was begun and is not yet mastered, the last first; else the next.

    Parameters
    ----------
    skills : mapping of str to str
        Name of each exercise to the skill that it trains, in the order of the folder.
    attempts : sequence of Attempt
        Of one learner.

    Returns
    -------
    str
        Name of an exercise; empty if every skill is mastered.
    """
    done = {skill for (_, skill), standing in by_skill(attempts).items() if standing is SkillStanding.CAN}
    for each in sorted(attempts, key=lambda each: each.at, reverse=True):
        if each.exercise in skills and skills[each.exercise] not in done:
            return each.exercise
    return next((name for name, skill in skills.items() if skill not in done), "")


def commonest_ways(attempts: Iterable[Attempt], most: int = 5) -> list[tuple[str, str, int, Attempt]]:
    """Give the wrong ways that were recognised most often: exercise, key, how often, and the last of them.

    A part of the capstone counts with its exercise.
    """
    wrong = [each for each in sorted(attempts, key=lambda each: each.at) if each.wrong_way]
    pairs = [(each.exercise.removeprefix(CAPSTONE), each.wrong_way) for each in wrong]
    counted, last = Counter(pairs), dict(zip(pairs, wrong, strict=True))
    return [(*pair, count, last[pair]) for pair, count in counted.most_common(most)]
