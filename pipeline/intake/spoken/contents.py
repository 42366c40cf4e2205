"""What stands between two words of a script: numbers, amounts and foods, looked up by their places."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import accumulate

from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import Total
from pipeline.intake.spoken.statements import in_a_row
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import STRONG

NAMED = 12  # words before a total in which its dish is named
_SENTENCE = 40  # words of a sentence, at most, in a script with full stops
_SHORT = 8  # words of a sentence that only counts shares


class Contents:
    """What a script holds.

    Attributes:
        talk: all that is said.
        totals: its statements of numbers, in order.
        chunks: its foods and amounts, in order.
        both: its foods with amounts, without those that are only talked of.
        row: totals of different recipes with no ingredients between them.
        punctuated: somebody wrote the full stops.
    """

    def __init__(self, talk: Talk, totals: Sequence[Total], chunks: list[Chunk]) -> None:
        self.talk = talk
        self.totals = sorted(totals, key=lambda t: t.start)
        self.chunks = chunks
        self.both = [c for c in chunks if c.kind == "both" and not c.aside]
        self._total_at = [t.start for t in self.totals]
        self._chunk_at = [c.start for c in chunks]
        self._both_at = [c.start for c in self.both]
        self._weight = [0.0, *accumulate(map(_worth, self.both))]
        self.row = in_a_row(self.totals, self.weighs)
        full = sum(word.breaks == STRONG for word in talk.words)
        self.punctuated = full * _SENTENCE >= talk.n

    def totals_in(self, start: int, end: int) -> list[Total]:
        """Statements that begin in a stretch."""
        return self.totals[bisect_left(self._total_at, start) : bisect_left(self._total_at, end)]

    def chunks_in(self, start: int, end: int) -> list[Chunk]:
        """Foods and amounts that begin in a stretch."""
        return self.chunks[bisect_left(self._chunk_at, start) : bisect_left(self._chunk_at, end)]

    def within(self, start: int, end: int) -> tuple[int, int]:
        """First and last index, the last not included, of the foods with amounts of a stretch."""
        return bisect_left(self._both_at, start), bisect_left(self._both_at, end)

    def both_in(self, start: int, end: int) -> list[Chunk]:
        """Foods with amounts that begin in a stretch."""
        first, last = self.within(start, end)
        return self.both[first:last]

    def both_before(self, at: int) -> Chunk | None:
        """The last food with an amount that begins before a place."""
        first = bisect_left(self._both_at, at)
        return self.both[first - 1] if first else None

    def weighs(self, start: int, end: int) -> float:
        """How much the foods of a stretch speak for a recipe."""
        first, last = self.within(start, end)
        return self._weight[last] - self._weight[first]

    def states(self, start: int, end: int) -> bool:
        """A total begins and ends in a stretch."""
        return any(total.end <= end for total in self.totals_in(start, end))

    def total_from(self, at: int) -> Total | None:
        """The first total that begins at a place or behind it."""
        first = bisect_left(self._total_at, at)
        return self.totals[first] if first < len(self.totals) else None

    def end_before(self, at: int) -> int:
        """Where the last total that begins before a place ends; 0 where there is none."""
        first = bisect_left(self._total_at, at)
        return self.totals[first - 1].end if first else 0

    def lead(self, total: Total) -> list[int]:
        """The words before a total that tell dishes apart."""
        start = max(self.end_before(total.start), total.start - NAMED)
        return [at for at in range(start, total.start) if self.talk.tells(at)]

    def behind(self, total: Total) -> int:
        """First word of the clause after a total."""
        talk, at = self.talk, total.end
        small = word_class("behind_totals") | word_class("container")
        if talk.close(at) in ("per", "each", "every") or (at < talk.n and talk.words[at].article):
            at += 1 + (talk.close(at + 1) in word_class("dish"))  # "205 calories per burger"
        stop = min(talk.n, total.end + 6)
        while at < stop and not talk.words[at].breaks and talk.text[at] in small:
            at += 1
        if at < talk.n and not talk.stops(at) and self.punctuated:
            at = self._sentence_end(at)  # "9 fat, and I have it with rice."
        end = self._sentence_end(at)
        return end if self._only_serves(at, end) else at

    def _sentence_end(self, at: int) -> int:
        """The first word of the next sentence."""
        words = self.talk.words
        return next((k for k in range(at + 1, len(words)) if words[k].breaks == STRONG), len(words))

    def _only_serves(self, start: int, end: int) -> bool:
        """ "So that's eight bowls." A sentence that counts shares, and names no food."""
        talk, shares = self.talk, word_class("serving") | word_class("container")
        return end - start <= _SHORT and not any(map(talk.food_length, range(start, end))) and any(
            talk.counts(at) and not shares.isdisjoint(talk.text[at + 1 : min(at + 3, end)])
            for at in range(start, end)
        )  # fmt: skip


def _worth(chunk: Chunk) -> float:
    """How much a mention speaks for a recipe: a bare "a lemon" says less than 40 g."""
    amount = chunk.amount
    assert amount is not None
    if amount.unit is not None:
        return 1.0
    return 0.35 if amount.article else 0.7
