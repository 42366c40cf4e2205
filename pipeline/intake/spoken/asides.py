"""Whether a food with an amount goes into the dish or is only talked of.

What speaks for either are the small words around it, up to the full stop or the next food, and how it
stands there: first in its sentence, named again, led in by words that lead in others. The weights of
a logistic regression are in ``shared/spoken_asides.csv``; ``benchmarks/fit_asides.py`` fits them.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.words import STRONG
from pipeline.resources import shared_rows

_LEFT, _RIGHT = 10, 6  # words that are looked at before and behind
_SURE = 2.0  # what has to speak for a food that is only talked of
_NEAR = 150  # words in which a food is named again
_CLASSES = {
    "uses": "puts_in", "somebody else": "kin", "denies": "negative", "eats": "eaten", "trades": "traded",
    "elsewhere": "elsewhere", "another time": "other_time", "if": "irrealis", "sets against": "compares",
}  # fmt: skip


class Asides:
    """What speaks for and against each food with an amount of a script."""

    def __init__(self, talk: Talk, chunks: Sequence[Chunk]) -> None:
        self.talk = talk
        self.both = [c for c in chunks if c.kind == "both"]
        self._leads = Counter(self._lead(c) for c in self.both)
        self._named: dict[str, list[int]] = {}
        for at, word in enumerate(talk.folded):
            if word:
                self._named.setdefault(word, []).append(at)

    def weigh(self) -> None:
        """Weigh what speaks for each being an ingredient."""
        table = weights()
        for at, chunk in enumerate(self.both):
            chunk.doubt = -_SURE - sum(table.get(name, 0.0) for name in {*self.features(at)})

    def features(self, at: int) -> Iterator[str]:
        """Names of what holds of the chunk at a place among those of a food and an amount."""
        talk, chunk = self.talk, self.both[at]
        since = self.both[at - 1].end if at else 0
        until = self.both[at + 1].start if at + 1 < len(self.both) else talk.n
        yield "any"
        left = self._left(chunk.start, max(since, chunk.start - _LEFT))
        right = self._right(chunk.end, min(until, chunk.end + _RIGHT))
        yield from self._said("before", left)
        yield from self._said("behind", right)
        amount, food = chunk.amount, chunk.of.food
        assert amount is not None
        yield "an article" if amount.article and not amount.unit else "an amount"
        yield f"{chunk.order or 'no'} first"
        if not food.known:
            yield "an unknown food"
        lead = self._leads[self._lead(chunk)]
        yield f"led in as {min(lead - 1, 3)} others"
        again = self._named.get(food.head[-1], []) if food.head else []
        yield from {
            f"named {'before' if k < chunk.start else 'later'}"
            for k in again
            if abs(k - chunk.start) < _NEAR and not chunk.start <= k < chunk.end
        }

    def _left(self, at: int, stop: int) -> list[str]:
        """Words before a place, the nearest first, back to a full stop; commas are words."""
        out: list[str] = []
        words = self.talk.words
        while at > stop and words[at].breaks != STRONG:
            if words[at].breaks:
                out.append(",")
            at -= 1
            out.append(self._word(at))
        return out if at <= stop and stop and words[stop].breaks != STRONG else [*out, "|"]

    def _right(self, at: int, stop: int) -> list[str]:
        out: list[str] = []
        words = self.talk.words
        while at < stop and words[at].breaks != STRONG:
            if words[at].breaks:
                out.append(",")
            out.append(self._word(at))
            at += 1
        return [*out, "|"] if at >= self.talk.n or words[at].breaks == STRONG else out

    def _word(self, at: int) -> str:
        talk = self.talk
        if talk.words[at].value is not None:
            return "a" if talk.words[at].article else "#"
        return "food" if talk.food_length(at) else talk.text[at]

    def _lead(self, chunk: Chunk) -> str:
        return " ".join(self._left(chunk.start, max(chunk.start - 2, 0)))

    def _said(self, side: str, words: list[str]) -> Iterator[str]:
        yield f"{side}: {min(sum(w not in ('|', ',') for w in words), 4)} words"
        for place, word in enumerate(words[:2], 1):
            yield f"{side} {place}: {word}"
        comma = words.index(",") if "," in words else len(words)
        for part, said in ((side, words[:comma]), (f"{side} a comma", words[comma + 1 :])):
            for word in said:
                yield f"{part}: {word}"
                for kind in kinds_of(word):
                    yield f"{part} {kind}"


@cache
def kinds_of(word: str) -> tuple[str, ...]:
    """What a word tells of: somebody else, another time, a condition ..."""
    said = {word, word.removesuffix("'s").removesuffix("'d")}
    out = [name for name, listed in _CLASSES.items() if not said.isdisjoint(word_class(listed))]
    past = (
        word in word_class("past") or (word.endswith("ed") and len(word) > 4) or word.endswith("'d")
    )
    return (*out, "past") if past else tuple(out)


@cache
def weights() -> dict[str, float]:
    """Feature → how much it speaks for an ingredient."""
    return {row["feature"]: float(row["weight"]) for row in shared_rows("spoken_asides.csv")}
