"""Questions of ``regimes`` put to the whole match stage, on all cores, and counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from typing import NamedTuple

from regimes import Question

from pipeline.match.matcher import Matcher
from pipeline.match.rank import rank_all
from pipeline.match.tables import choose_all

_MATCHER: Matcher | None = None
_QUESTIONS: Sequence[Question] = ()


class Answer(NamedTuple):
    """Position of the food that answers, -1 when none does, and whether it was accepted."""

    food: int
    accepted: bool


def answer(question: Question, matcher: Matcher) -> Answer:
    """What the product says; with names taken out, by the same steps on the rest of the names."""
    index = matcher.index
    if not question.without:
        found = matcher.match_one(question.line)
        at = matcher.position(found.food_id) if found.food_id else -1
        return Answer(at, found.status == "accepted")
    chosen = choose_all(rank_all([question.query], index, [question.without])).get(0)
    if chosen is None:
        return Answer(-1, False)
    return Answer(chosen.food, chosen.food >= 0 and chosen.confidence >= chosen.accept_from)


def _answer_at(at: int) -> Answer:
    assert _MATCHER is not None
    return answer(_QUESTIONS[at], _MATCHER)


def answers(questions: Sequence[Question], matcher: Matcher) -> list[Answer]:
    """One answer a question, in order, on all cores."""
    global _MATCHER, _QUESTIONS
    _MATCHER, _QUESTIONS = matcher, questions
    with get_context("fork").Pool() as pool:
        return pool.map(_answer_at, range(len(questions)), chunksize=100)


@dataclass(frozen=True)
class Tally:
    """Counts over questions and their answers.

    Attributes:
        asked: questions that a food of the table answers.
        right: answered by a right food.
        accepted: accepted, of ``asked``.
        wrong, taken: wrong among all that was accepted, lacking foods counted too.
        right_or_asked: right, or left to a person.
    """

    asked: int
    right: int
    accepted: int
    wrong: int
    taken: int
    right_or_asked: int

    @classmethod
    def of(cls, questions: Sequence[Question], given: Sequence[Answer]) -> Tally:
        """Count; ``given`` in the order of ``questions``."""
        pairs = list(zip(questions, given, strict=True))
        real = [(q.right(a.food), a.accepted) for q, a in pairs if not q.lacking]
        taken = [not q.lacking and q.right(a.food) for q, a in pairs if a.accepted]
        return cls(
            len(real), sum(r for r, _ in real), sum(t for _, t in real), taken.count(False),
            len(taken), sum(r or not t for r, t in real),
        )  # fmt: skip

    @property
    def shares(self) -> tuple[float, float, float, float]:
        """Right, right or asked, accepted (of the asked); wrong (of the accepted)."""
        asked = max(1, self.asked)
        return (
            self.right / asked, self.right_or_asked / asked, self.accepted / asked,
            self.wrong / max(1, self.taken),
        )  # fmt: skip
