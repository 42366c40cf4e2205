"""Amounts told without a food, given to what was talked of before: "The lentils. They swell up like mad,
so 90 grams is plenty."
"""

from __future__ import annotations

from dataclasses import replace

from pipeline.intake.spoken.clauses import tells_otherwise
from pipeline.intake.spoken.foods import countable
from pipeline.intake.spoken.mentions import FEW, Chunk
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.talk import Talk

_TOPIC = 25  # words between what is talked of and an amount told without a food
_CORRECTED = 14  # and between a line and an amount that takes its own back
_LATELY = 60  # words in which a food that has its amount is no new one
_SHARE_SAID = 4  # words between one of a thing and its numbers


def with_topics(talk: Talk, chunks: list[Chunk], blocked: list[bool]) -> list[Chunk]:
    """Tiles without amounts that belong to a food before them, which gets them.

    Args:
        talk: all that is said.
        chunks: its tiles, in order.
        blocked: words that are numbers stated.
    """
    out: list[Chunk] = []
    near = 0  # the first of ``out`` that is not too far back
    for chunk in chunks:
        while near < len(out) and chunk.start - out[near].start > 2 * _TOPIC + _LATELY:
            near += 1
        topics = _topics(talk, out[near:], chunk, blocked) if chunk.kind == "amount" else []
        for topic in topics:
            topic.amount = topic.of.amount = replace(chunk.told)
            topic.end = topic.of.end = chunk.end
            topic.of.amount_spans = [(chunk.told.start, chunk.end)]
        if not topics:
            out.append(chunk)
    return out


def _topics(talk: Talk, before: list[Chunk], chunk: Chunk, blocked: list[bool]) -> list[Chunk]:
    """The foods without an amount that an amount behind them is told of: those listed together
    before "of each", else the last one that may have it, water only where there is no other."""
    near = [c for c in before if c.kind != "both" or chunk.start - c.end <= _CORRECTED]
    told = [c.amount for c in near if c.amount is not None and chunk.start - c.end <= _TOPIC]
    if not _of_a_topic(talk, chunk) or (
        told and phrases("corrects").search(talk.lead(chunk.start, 6))
    ):
        return []
    amount = chunk.told
    behind = range(chunk.end, min(chunk.end + _SHARE_SAID, talk.n))
    stop = next(filter(talk.stops, behind), behind.stop)
    if amount.value == 1 and any(blocked[chunk.end : stop]):
        return []  # "one ladle is 245 calories"
    if amount.unit is None and amount.value > FEW:  # "200 grams last time, so now it is 100"
        units = [a.unit for a in told if a.kind == "mass"]
        chunk.amount = amount = replace(amount, unit=units[-1] if units else None)
    most = _TOPIC // 2 if amount.unit is None and not amount.of else _TOPIC
    found: list[Chunk] = []
    for food in reversed(before):
        if food.kind == "both" or chunk.start - food.end > most or any(
            blocked[food.end : chunk.start]
        ):  # fmt: skip
            break
        if food.kind == "food" and _takes(talk, before, food, chunk):
            found.append(food)
    if talk.text[chunk.end - 1] == "each":
        apart = (at for at in range(1, len(found)) if found[at - 1].start - found[at].end > 1)
        return found[: next(apart, None)]
    feeds = (
        food for food in found
        if any(talk.composition.of(f"100 g {' '.join(food.of.food.name)}") or (1,))
    )  # fmt: skip
    return [next(feeds, *found[:1])] if found else []


def _of_a_topic(talk: Talk, chunk: Chunk) -> bool:
    """An amount without a food that may be told of one named before."""
    amount, unit = chunk.told, chunk.told.unit
    near = talk.said(chunk.start - 2, chunk.start).split()
    first, last = (near[0], near[-1]) if near else ("", "")
    shares = word_class("serving") | word_class("container")
    if (last == "of" and first in shares) or last in word_class("pointing") | word_class("serving"):
        return False
    if amount.article and (not amount.measured or last in word_class("before_tools")):
        return False
    if not amount.measured and not word_class("makes_servings").isdisjoint((first, last)):
        return False
    if unit is None:
        if first in talk.known.verbs and last in word_class("of_them"):
            return False  # "rest it five"
    elif unit.name != "piece" and (
        (amount.each is None and amount.called("vessel"))
        or (talk.stops(chunk.start) and unit.said in word_class("container")
            and not talk.close(chunk.end))  # "Twelve squares, 170 each"
    ):  # fmt: skip
        return False
    if tells_otherwise(talk, chunk.start - 6, chunk.start) or (
        amount.of and talk.close(amount.end) not in word_class("of_them") | {"each"}
    ):
        return False
    if talk.follows("rate", chunk.end, 3):
        return False
    state = amount.weighs and talk.close(amount.end) in talk.known.states
    return state or chunk.end > amount.end or talk.boundary(amount.end)


def _takes(talk: Talk, before: list[Chunk], topic: Chunk, chunk: Chunk) -> bool:
    """A food named without an amount may have one that is told later."""
    food, amount, lead = topic.of.food, chunk.told, talk.lead(topic.start, 6)
    if any(phrases(name).search(lead) for name in ("choice", "refused", "chatter")):
        return False
    if amount.unit is None and (
        amount.value > FEW or food.name[-1] in word_class("dish") or not countable(talk, food)
    ):  # fmt: skip
        return False
    return not any(
        c.kind == "both" and topic.start - c.end < _LATELY
        and not c.told.one  # "a leek and potato soup"
        and set(food.name) <= set(c.of.food.name)
        for c in before
    )  # fmt: skip
