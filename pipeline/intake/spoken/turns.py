"""Dishes that are cooked at once and told in turns, put one behind the other.

Statements of numbers name a dish each, and the lines before them come back to a dish that was
left for the other: "the chicken first ... meanwhile the couscous ... back to the chicken". Each line is
of the dish that its sentence names, that its own food names, or that was named last. The words are
then put in the order of the dishes; whether that makes the better recipes, the cut decides.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, pairwise, product, zip_longest

from pipeline.intake.spoken.contents import Contents
from pipeline.intake.spoken.mentions import MEASURED, Chunk
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import ENERGY, Total
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import STRONG, Span, Word

_NAMED = 12  # words behind a line in which its dish is named
_FAR, _TOGETHER = 40, 4  # words before numbers in which their dish is named, and between those
_AT_ONCE = 4  # dishes told in turns
_LEAST = 2  # lines of a dish


@dataclass(slots=True)
class Dish:
    """A dish of those told in turns.

    Attributes:
        name: where it is named first.
        words: that tell it from the other, folded.
        numbers: its numbers with the words that name it before them.
        told: its other stretches, in order.
        foods: words of its lines that no other dish has.
    """

    name: Span
    words: set[str]
    numbers: Span
    told: list[Span] = field(default_factory=list)
    foods: set[str] = field(default_factory=set)


#: A dish and lines of it that are told together.
_Run = tuple[Dish, list[Chunk]]


@dataclass(slots=True)
class Turns:
    """The words of a script in the order of its dishes, and where those begin: place → name."""

    words: list[Word]
    dishes: dict[int, Span]


def in_order(contents: Contents) -> Iterator[Turns]:
    """The ways to part dishes of a script that are told in turns; none where each is told as a whole."""
    talk, totals, lines = contents.talk, contents.totals, contents.both
    counted = [c for c in lines if c.amount and (c.amount.unit or not c.amount.article)]
    measured = {k for c in counted for k in range(c.start, c.end)}
    for at, several in product(range(len(totals)), range(2, _AT_ONCE + 1)):
        begin, told = totals[at - 1].end if at else 0, totals[at : at + several]
        dishes = _dishes(talk, begin, told, measured) if len(told) == several else []
        runs = _runs(talk, begin, dishes, contents.both_in(begin, told[-1].start))
        counts = [sum(len(lines) for who, lines in runs if who is dish) for dish in dishes]
        if len(runs) <= len(dishes) or min(counts) < _LEAST:
            continue
        for dish, after, total in zip_longest(dishes, dishes[1:], told):
            between = after is None or contents.both_in(total.end, after.numbers.start)
            dish.numbers.end = contents.behind(total) if between else after.numbers.start
        yield _put_in_order(talk, begin, dishes, runs)


def _dishes(talk: Talk, begin: int, told: Sequence[Total], measured: set[int]) -> list[Dish]:
    """The dishes that statements name, each in words of its own, which are said before, and first
    where nothing is measured; none where one has no such name."""
    found: list[Dish] = []
    since = begin
    firsts: dict[str, int] = {}
    for at in range(begin, told[-1].start):
        if at in measured or _may_name(talk, at):
            firsts.setdefault(talk.folded[at], at)
    firsts = {word: at for word, at in firsts.items() if at not in measured}
    for total in told:
        named = _named_before(talk, range(since, total.start), firsts, measured)
        since = total.end
        if ENERGY not in total.tags or not named:
            return []
        words = {talk.folded[at] for at in named}
        name = _name_around(talk, min(firsts[word] for word in words))
        words |= {talk.folded[at] for at in range(name.start, name.end)}
        start = min(named) - (talk.word(min(named) - 1) in word_class("names_a_thing"))
        start = max([start, *(k + 1 for k in range(start, total.start) if k in measured)])
        found.append(Dish(name, words, Span(start, total.end)))
    own = [d.words.difference(*(e.words for e in found if e is not d)) for d in found]
    for dish, words in zip(found, own, strict=True):
        dish.words = words
    return found if all(own) else []


def _named_before(
    talk: Talk, stretch: range, firsts: dict[str, int], measured: set[int]
) -> list[int]:
    """Words of a stretch that name the dish of the numbers behind it: those of the last sentence that
    has any or, where nobody wrote those, the last ones said together. ``firsts``: where words were
    said first."""
    found: list[int] = []
    for at in stretch[: -_FAR - 1 : -1]:
        if found and (talk.stops(at + 1) or found[-1] - at > _TOGETHER):
            break
        first = firsts.get(talk.folded[at], at)
        thing = talk.word(at - 1) in word_class("names_a_thing") or talk.stops(at)
        dish = talk.food_length(at) > 0 or talk.text[at] in word_class("dish") - word_class(
            "container"
        )
        if first < at and at not in measured and _may_name(talk, at) and (thing or dish):
            found.append(at)
    return found


def _may_name(talk: Talk, at: int) -> bool:
    """A word that is small talk, number, unit or verb names no dish."""
    text, word = talk.text[at], talk.words[at]
    if word.value is not None or text in talk.small or text in word_class("talk"):
        return False
    if text in word_class("dish") or talk.food_length(at):
        return True
    unit, _ = talk.unit_at(at)
    weighs = unit is not None and unit.kind in MEASURED
    return not weighs and text not in talk.known.verbs


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
        return talk.words[k].value is None and talk.text[k] not in talk.small

    start, end = at, at + 1
    while start and not talk.words[start].breaks and part(start - 1) and (
        talk.food_length(start - 1) or talk.text[start - 1] not in talk.known.verbs
    ):  # fmt: skip
        start -= 1
    while end < talk.n and not talk.words[end].breaks and part(end):
        end += 1
    return Span(start, end)


def _runs(talk: Talk, begin: int, dishes: Sequence[Dish], lines: Sequence[Chunk]) -> list[_Run]:
    """The lines by the dish that they are of, as long as it is the same; none where one is of no dish
    or is told behind the numbers of its own."""
    of: list[tuple[Dish, Chunk]] = []
    at, now = begin, None
    spans = [span for d in dishes for span in (d.numbers, d.name)]
    for chunk in lines:
        if any(span.start < chunk.end and chunk.start < span.end for span in spans):
            continue
        for k in range(at, chunk.end):
            now = _named(talk, k, dishes) or now
        at = chunk.end
        dish = _of_sentence(talk, chunk, dishes) or now
        if dish is None or chunk.start > dish.numbers.start:
            return []
        now = dish
        of.append((dish, chunk))
        foods = {talk.folded[k] for k in range(chunk.of.food.start, chunk.of.food.end)}
        for other in dishes:  # "add the water to the rice": what one dish alone has tells it too
            other.foods = other.foods | foods if other is dish else other.foods - foods
    groups = groupby(of, key=lambda one: id(one[0]))
    runs = [list(group) for _, group in groups]
    return [(run[0][0], [chunk for _, chunk in run]) for run in runs]


def _of_sentence(talk: Talk, chunk: Chunk, dishes: Sequence[Dish]) -> Dish | None:
    """The one dish that the sentence of a line names behind it: "a teaspoon of salt on the chicken"."""
    behind = range(chunk.end, min(chunk.end + 2 * _NAMED, talk.n))
    full = next((k for k in behind if talk.stops(k)), None)
    if full is None:
        return None  # nobody wrote the full stops
    end = next((k for k in behind if k == full or talk.counts(k)), full)
    named = [d for k in range(chunk.start, end) if (d := _named(talk, k, dishes))]
    return named[0] if named and all(d is named[0] for d in named) else None


def _named(talk: Talk, at: int, dishes: Sequence[Dish]) -> Dish | None:
    """The dish that a word names, by itself or by a food that it alone has."""
    thing = talk.close(at) and talk.word(at - 1) == "the"
    by_name = (d for d in dishes if _names(talk, at, d.words))
    by_food = (d for d in dishes if thing and talk.folded[at] in d.foods)
    return next(by_name, None) or next(by_food, None)


def _put_in_order(talk: Talk, begin: int, dishes: Sequence[Dish], runs: Sequence[_Run]) -> Turns:
    """The words of each dish together, its numbers last."""
    start = first = _begins(talk, begin, runs[0], None)
    for before, after in pairwise(runs):
        end = _begins(talk, before[1][-1].end, after, before[0])
        before[0].told.append(Span(start, end))
        start = end
    stop = dishes[-1].numbers.end
    runs[-1][0].told.append(Span(start, stop))
    numbers = {k for d in dishes for k in range(d.numbers.start, d.numbers.end)}
    words, order, places = talk.words[:first], list(range(first)), {}
    for dish in dishes:
        places[len(words)] = dish.name
        pieces = [one for span in dish.told for one in _without(span, numbers)]
        for place, span in enumerate((*pieces, dish.numbers)):
            piece = talk.words[span.start : span.end]
            piece[:1] = [replace(w, breaks=STRONG, paragraph=not place) for w in piece[:1]]
            order += range(span.start, span.end)
            words += piece
    where = {old: new for new, old in enumerate(order)}
    for at, name in places.items():
        start = where.get(name.start, 0)
        places[at] = Span(start, start + name.end - name.start)
    return Turns([*words, *talk.words[stop:]], places)


def _without(span: Span, places: set[int]) -> Iterator[Span]:
    """The parts of a span between some places."""
    for inside, part in groupby(range(span.start, span.end), key=places.__contains__):
        if not inside:
            at = list(part)
            yield Span(at[0], at[-1] + 1)


def _begins(talk: Talk, since: int, run: _Run, before: Dish | None) -> int:
    """Where the talk turns to the dish of a run: behind the last word of the dish before, at the
    sentence that names this one."""
    dish, at = run[0], run[1][0].start
    named = [k for k in range(since, at) if _names(talk, k, dish.words)]
    if before is None:
        turn = since = named[-1] if named else at
        while turn > 0 and not talk.words[turn].breaks and since - turn < _NAMED:
            turn -= 1
        return turn if talk.stops(turn) else since
    turn = named[0] if named else at
    left = [k + 1 for k in range(since, turn) if _names(talk, k, before.words)]
    since = left[-1] if left else since
    full = [k for k in range(since, turn + 1) if talk.stops(k)]
    return full[-1] if full else since
