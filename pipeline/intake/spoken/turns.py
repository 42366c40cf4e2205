"""Dishes that are cooked at once and told in turns, put one behind the other.

Two statements of numbers each name a dish, and the lines before them come back to a dish that was
left for the other: "the chicken first ... meanwhile the couscous ... back to the chicken". Each line is
of the dish that its sentence names, that its own food names, or that was named last. The words are
then put in the order of the dishes; whether that makes the better recipes, the cut decides.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.tiling import Chunk
from pipeline.intake.spoken.totals import ENERGY, Total
from pipeline.intake.spoken.words import STRONG, Span, Word

_NAMED = 12  # words before a total in which its dish is named
_LEAST = 2  # lines of a dish


@dataclass(slots=True)
class Dish:
    """A dish of those told in turns.

    Attributes:
        name: where it is named first.
        words: that tell it from the other, folded.
        numbers: its numbers with the words that name it before them.
        told: its other stretches, in order.
    """

    name: Span
    words: set[str]
    numbers: Span
    told: list[Span] = field(default_factory=list)


#: A dish and lines of it that are told together.
_Run = tuple[Dish, list[Chunk]]


@dataclass(slots=True)
class Turns:
    """The words of a script in the order of its dishes, and where those begin: place → name."""

    words: list[Word]
    dishes: dict[int, Span]


def in_order(
    talk: Talk, totals: Sequence[Total], lines: Sequence[Chunk], ends: Callable[[Total], int]
) -> Iterator[Turns]:
    """The ways to part dishes told in turns; none where each is told as a whole.

    Args:
        talk: all that is said.
        totals: its numbers, in order.
        lines: its foods with amounts, in order.
        ends: where the clause of a total ends.
    """
    for at, (one, other) in enumerate(pairwise(totals)):
        begin = totals[at - 1].end if at else 0
        counted = [c for c in lines if c.amount is not None and not c.amount.article]
        measured = {k for c in counted for k in range(c.start, c.end)}
        pair = _dishes(talk, begin, one, other, measured)
        if pair is None:
            continue
        runs = _runs(talk, begin, pair, [c for c in lines if begin <= c.start < other.start])
        counts = [sum(len(lines) for who, lines in runs if who is dish) for dish in pair]
        if len(runs) > len(pair) and min(counts) >= _LEAST:
            between = any(one.end <= c.start < pair[1].numbers.start for c in lines)
            pair[0].numbers.end = ends(one) if between else pair[1].numbers.start
            pair[1].numbers.end = ends(other)
            yield _put_in_order(talk, begin, pair, runs)


def _dishes(
    talk: Talk, begin: int, one: Total, other: Total, measured: set[int]
) -> list[Dish] | None:
    """The dishes that two statements name, each in words of its own, which are said before, and first
    where nothing is measured."""
    found: list[Dish] = []
    for total, since in ((one, begin), (other, one.end)):
        lead = range(max(since, total.start - _NAMED), total.start)
        named = [
            at for at in lead if talk.tells(at) and at not in measured and _names_food(talk, at)
        ]
        if ENERGY not in total.tags or not named:
            return None
        words = {talk.folded[at] for at in named}
        first = next((k for k in range(begin, lead.start) if _names(talk, k, words)), None)
        if first is None or first in measured:
            return None
        name = _name_around(talk, first)
        words |= {talk.folded[at] for at in range(name.start, name.end)}
        start = named[0] - (talk.word(named[0] - 1) in word_class("names_a_thing"))
        found.append(Dish(name, words, Span(start, total.end)))
    one_of, other_of = found[0].words, found[1].words
    found[0].words, found[1].words = one_of - other_of, other_of - one_of
    return found if all(dish.words for dish in found) else None


def _names_food(talk: Talk, at: int) -> bool:
    """A word is a food or a dish."""
    return talk.food_length(at) > 0 or talk.text[at] in word_class("dish")


def _names(talk: Talk, at: int, words: set[str]) -> bool:
    """A word at a place is one of a dish's, and no verb."""
    before = range(max(at - 2, 0), at)
    thing = any(
        talk.words[k].article or talk.text[k] in word_class("names_a_thing") for k in before
    )
    return talk.folded[at] in words and (thing or talk.text[at] not in talk.known.verbs)


def _name_around(talk: Talk, at: int) -> Span:
    """The name that a word is a part of: foods, dishes and what belongs to them, side by side."""

    def part(k: int) -> bool:
        return talk.words[k].value is None and talk.text[k] not in talk._ends

    start, end = at, at + 1
    while start and not talk.words[start].breaks and part(start - 1):
        start -= 1
    while end < talk.n and not talk.words[end].breaks and part(end):
        end += 1
    return Span(start, end)


def _runs(talk: Talk, begin: int, pair: Sequence[Dish], lines: Sequence[Chunk]) -> list[_Run]:
    """The lines by the dish that they are of, as long as it is the same; none where one is of no dish
    or is told behind the numbers of its own."""
    of: list[tuple[Dish, Chunk]] = []
    at, now = begin, None
    for chunk in lines:
        if any(d.numbers.start <= chunk.start < d.numbers.end for d in pair) or any(
            d.name.start < chunk.end and chunk.start < d.name.end for d in pair
        ):  # fmt: skip
            continue
        for k in range(at, chunk.end):
            now = next((d for d in pair if _names(talk, k, d.words)), now)
        at = chunk.end
        dish = _of_sentence(talk, chunk, pair) or now
        if dish is None or chunk.start > dish.numbers.start:
            return []
        now = dish
        of.append((dish, chunk))
    groups = groupby(of, key=lambda pair: id(pair[0]))
    runs = [list(group) for _, group in groups]
    return [(run[0][0], [chunk for _, chunk in run]) for run in runs]


def _of_sentence(talk: Talk, chunk: Chunk, pair: Sequence[Dish]) -> Dish | None:
    """The one dish that the sentence of a line names behind it: "a teaspoon of salt on the chicken"."""
    end = chunk.end
    while end < talk.n and talk.words[end].breaks != STRONG and end - chunk.end < _NAMED:
        if talk.counts(end):
            return None
        end += 1
    if end < talk.n and talk.words[end].breaks != STRONG:
        return None
    named = [d for d in pair if any(_names(talk, k, d.words) for k in range(chunk.start, end))]
    return named[0] if len(named) == 1 else None


def _put_in_order(talk: Talk, begin: int, pair: Sequence[Dish], runs: Sequence[_Run]) -> Turns:
    """The words of each dish together, its numbers last."""
    start = first = _begins(talk, begin, runs[0], None)
    for before, after in pairwise(runs):
        end = _begins(talk, before[1][-1].end, after, before[0])
        before[0].told.append(Span(start, end))
        start = end
    last = runs[-1][0]
    numbers = [d.numbers for d in pair]
    for stop, resume in ((numbers[0].start, numbers[0].end), (numbers[1].start, numbers[1].end)):
        if start < stop:
            last.told.append(Span(start, stop))
        start = max(start, resume)
    words, dishes = talk.words[:first], {}
    order = list(range(first))
    for dish in pair:
        dishes[len(words)] = dish.name
        for place, span in enumerate((*dish.told, dish.numbers)):
            piece = talk.words[span.start : span.end]
            if piece:
                piece[0] = replace(piece[0], breaks=STRONG, paragraph=not place)
            order += range(span.start, span.end)
            words += piece
    rest = talk.words[numbers[1].end :]
    where = {old: new for new, old in enumerate(order)}
    places = {
        at: Span(where.get(name.start, 0), where.get(name.start, 0) + name.end - name.start)
        for at, name in dishes.items()
    }
    return Turns([*words, *rest], places)


def _begins(talk: Talk, since: int, run: _Run, before: Dish | None) -> int:
    """Where the talk turns to the dish of a run: behind the last word of the dish before, at the
    sentence that names this one."""
    dish, at = run[0], run[1][0].start
    named = [k for k in range(since, at) if _names(talk, k, dish.words)]
    if before is None:
        turn = since = named[-1] if named else at
        while turn > 0 and not talk.words[turn].breaks and since - turn < _NAMED:
            turn -= 1
        return turn if talk.words[turn].breaks == STRONG else since
    turn = named[0] if named else at
    left = [k + 1 for k in range(since, turn) if _names(talk, k, before.words)]
    since = left[-1] if left else since
    full = [k for k in range(since, turn + 1) if talk.words[k].breaks == STRONG]
    return full[-1] if full else since
