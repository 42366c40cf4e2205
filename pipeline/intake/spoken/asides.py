"""Whether a food with an amount goes into the dish, and numbers are of it, or both are only talked of.

What speaks for either are the small words around it, up to the full stop or the next food, and how it
stands there: first in its sentence, named again, led in by words that lead in others. The weights of
logistic regressions are in ``shared/spoken_asides.csv``; ``benchmarks/fit_asides.py`` fits them.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import combinations

from pipeline.intake.spoken.lexicon import lexicon
from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import Total
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import STRONG, Span
from pipeline.resources import shared_rows

_LEFT, _RIGHT = 10, 6  # words that are looked at before and behind
_SURE = 1.9  # what has to speak for a food that is only talked of
_CLAUSE, _THEN = 25, 12  # words of a clause, and of those behind that are looked at one by one
_USED_TO = "used to"
_NO_WORDS = frozenset(("|", ",", "#", "a", "food"))  # what stands for others among words
_LINKED = 3  # words between two that belong together
_NEAR = 150  # words in which a food is named again
_CLASSES = {
    "uses": "puts_in", "somebody else": "kin", "denies": "negative", "eats": "eaten", "trades": "traded",
    "elsewhere": "elsewhere", "another time": "other_time", "if": "irrealis", "sets against": "compares",
}  # fmt: skip


class Wording:
    """What stands around a stretch of a script."""

    def __init__(self, talk: Talk) -> None:
        self.talk = talk

    def around(self, span: Span, since: int, until: int) -> Iterator[str]:
        """Words beside a stretch, those next to it apart, and who does something in its clause.

        Args:
            span: the stretch.
            since: where one like it ended before.
            until: where the next begins.
        """
        left = self.left(span.start, max(since, span.start - _LEFT))
        right = self.right(span.end, min(until, span.end + _RIGHT))
        yield from self._said("before", left)
        yield from self._said("behind", right)
        yield from self._told_by(span)

    def _told_by(self, span: Span) -> Iterator[str]:
        """Who does something in the clause, and what it tells of, farther away and over foods."""
        talk = self.talk
        clause = self.left(span.start, max(span.start - _CLAUSE, 0))
        words = [word for word in clause if word not in _NO_WORDS]
        pronouns = word_class("doer")
        doers = (word for word in words if word in pronouns or "somebody else" in kinds_of(word))
        doer = next(doers, "nobody")
        yield f"doer: {doer if doer in pronouns or doer == 'nobody' else 'somebody'}"
        told = {kind for word in words for kind in kinds_of(word)}
        who = "me" if doer in ("i", "we") else "you" if doer == "you" else "others"
        yield from (f"clause {kind}" for kind in told)
        yield from (f"clause {kind} of {who}" for kind in told)
        yield from (f"clause {one} and {two}" for one, two in combinations(sorted(told), 2))
        behind = self.right(span.end, min(span.end + _CLAUSE, talk.n))
        said = [word for word in behind if word not in _NO_WORDS]
        yield from {f"then {kind}" for word in said for kind in kinds_of(word)}
        yield from {f"then: {word}" for word in said[:_THEN]}
        begin = max(span.start - len(clause), 0)
        if any(
            talk.words[k].capital and not talk.words[k].breaks and not talk.food_length(k)
            for k in range(begin, span.start)
        ):
            yield "a name before"

    def left(self, at: int, stop: int) -> list[str]:
        """Words before a place, the nearest first, back to a full stop; commas are words."""
        out: list[str] = []
        words = self.talk.words
        while at > stop and words[at].breaks != STRONG:
            if words[at].breaks:
                out.append(",")
            at -= 1
            out.append(self._word(at))
        return out if at <= stop and stop and words[stop].breaks != STRONG else [*out, "|"]

    def right(self, at: int, stop: int) -> list[str]:
        """Words behind a place, up to a full stop; commas are words."""
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
        if talk.text[at] == "used" and talk.close(at + 1) == "to":
            return _USED_TO
        return "food" if talk.food_length(at) else talk.text[at]

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


class Asides(Wording):
    """What speaks for and against each food with an amount of a script."""

    def __init__(self, talk: Talk, chunks: Sequence[Chunk]) -> None:
        super().__init__(talk)
        self.both = [c for c in chunks if c.kind == "both"]
        self._leads = Counter(self._lead(c) for c in self.both)
        self._named: dict[str, list[int]] = {}
        for at, word in enumerate(talk.folded):
            if word:
                self._named.setdefault(word, []).append(at)

    def weigh(self) -> None:
        """Weigh what speaks for each being an ingredient."""
        table = weights("food")
        for at, chunk in enumerate(self.both):
            names = {*self.features(at), *self.after(at, at > 0 and self.both[at - 1].doubt > 0)}
            chunk.doubt = -_SURE - math.fsum(table.get(name, 0.0) for name in names)

    def after(self, at: int, aside: bool) -> Iterator[str]:
        """What the one before says of a chunk: "two of gherkins and a jar of mayonnaise".

        Args:
            at: its place.
            aside: the one before is only talked of.
        """
        talk = self.talk
        begin, end = self.both[at - 1].end if at else 0, self.both[at].start
        small = word_class("goes_on") | word_class("before_foods") | {"with"}
        if at and end - begin <= _LINKED and not any(
            talk.stops(k) for k in range(begin, end + 1)
        ) and small.issuperset(talk.text[begin:end]):  # fmt: skip
            yield "linked to an aside" if aside else "linked to a line"

    def features(self, at: int) -> Iterator[str]:
        """Names of what holds of the chunk at a place among those of a food and an amount."""
        talk, chunk = self.talk, self.both[at]
        since = self.both[at - 1].end if at else 0
        until = self.both[at + 1].start if at + 1 < len(self.both) else talk.n
        yield "any"
        yield from self.around(chunk, since, until)
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

    def _lead(self, chunk: Chunk) -> str:
        return " ".join(self.left(chunk.start, max(chunk.start - 2, 0)))


class Numbers(Wording):
    """What speaks for and against stated numbers being those of a recipe of the script."""

    def __init__(self, talk: Talk, totals: Sequence[Total]) -> None:
        super().__init__(talk)
        self.totals = sorted(totals, key=lambda total: total.start)
        self.usual = usual_tags(self.totals)

    def weigh(self) -> None:
        """Weigh what speaks for each being of something else: "from the shop it has 700 calories"."""
        table = weights("number")
        for at, total in enumerate(self.totals):
            total.doubt = -math.fsum(table.get(name, 0.0) for name in {*self.features(at)})

    def features(self, at: int) -> Iterator[str]:
        """Names of what holds of the numbers at a place."""
        total = self.totals[at]
        since = self.totals[at - 1].end if at else 0
        until = self.totals[at + 1].start if at + 1 < len(self.totals) else self.talk.n
        yield "any"
        told = len(total.tags)
        yield f"told {min(told, 2)}"
        yield "told less" if told < self.usual else "told as usual"
        yield "corrects" if total.corrects else "stands"
        yield f"of {total.parts[0].basis or 'it'}"
        yield from self.around(total, since, until)


def usual_tags(totals: Sequence[Total]) -> int:
    """How many nutrients a script mostly tells of a recipe; 0 where it tells none."""
    tags = sorted(len(total.tags) for total in totals)
    return tags[len(tags) // 2] if tags else 0


@cache
def kinds_of(word: str) -> tuple[str, ...]:
    """What a word tells of: somebody else, another time, a condition ..."""
    if word == _USED_TO:
        return ("another time", "past")
    said = {word, word.removesuffix("'s").removesuffix("'d")}
    out = [name for name, listed in _CLASSES.items() if not said.isdisjoint(word_class(listed))]
    past = (
        word in word_class("past") or (word.endswith("ed") and len(word) > 4) or word.endswith("'d")
    )
    verb = word.endswith("s") and word[:-1] in lexicon().verbs
    third = verb or word in word_class("third_person")
    return (*out, *("past",) * past, *("third person",) * third)


@cache
def weights(of: str) -> dict[str, float]:
    """Feature → how much it speaks for what is said being of the recipe.

    Args:
        of: ``food`` or ``number``.
    """
    rows = shared_rows("spoken_asides.csv")
    return {row["feature"]: float(row["weight"]) for row in rows if row["of"] == of}
