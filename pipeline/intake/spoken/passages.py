"""Passages of a script that state numbers: nutrient words and numbers that stand together."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.labels import GRAMS, LABELS, counts_food, labels_in, numbers_in
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.stated import ENERGY, Item
from pipeline.intake.spoken.talk import Talk

_GAP = 9  # words between two items of one passage
_REACH = 14  # and between the numbers of a nutrient word and another
_FAR = 20  # words between two nutrient words of one passage
_MOST = 32  # items bound at once
_FULL = 3  # nutrients of a full statement


def passages(talk: Talk) -> Iterator[list[Item]]:
    """The passages, each of one statement as far as words tell, and of a bounded number of items."""
    labels = labels_in(talk)
    passage: list[Item] = []
    last = -100
    for at, label in labels.items():
        if at < last:
            continue
        between = bool(passage) and _amount_between(talk, last, at)
        reach = 0 if between else _FAR if passage else _REACH
        near = passage and at - last <= reach
        numbers = numbers_in(talk, max(last, 0) if near else max(at - 2 * _GAP, last, 0), at)
        if not near:  # "590 each, which is no diet plate, but it has 38 protein"
            numbers = [
                n for n in numbers
                if n.start >= at - _GAP or talk.follows("a_serving", n.end)
            ]  # fmt: skip
        apart = at - last > reach if not numbers else numbers[0].start - last > reach - 5
        if passage and (apart or phrases("of_a_day").search(talk.said(last, at))):
            behind = _behind(talk, last, passage[-1].tag) if passage[-1].tag else None
            if behind is not None and behind.end <= at and (not numbers or behind != numbers[-1]):
                passage.append(behind)
                numbers = [n for n in numbers if n.start >= behind.end]
            yield from _parted(talk, passage)
            passage = []
        passage += [n for n in numbers if n.start >= last]
        passage.append(label)
        last = label.end
        if not any(k in labels for k in range(last, last + _REACH)):
            behind = _behind(talk, last, label.tag)
            if behind is not None:
                passage.append(behind)
                last = behind.end
    yield from _parted(talk, passage)


def _behind(talk: Talk, end: int, tag: str) -> Item | None:
    """The number that stands behind a nutrient word that ends there."""
    following = numbers_in(talk, end, end + 5)
    if not following and tag != ENERGY:
        following = [n for n in numbers_in(talk, end, end + _GAP) if talk.boundary(n.end)]
    if not following or talk.stopped(end, following[0].start):
        return None
    return following[0]


def _amount_between(talk: Talk, start: int, end: int) -> bool:
    """An amount of something stands between: other things were talked of."""
    for at in range(start, end):
        if not talk.is_number(at) or at + 1 >= talk.n or talk.words[at].article:
            continue
        unit, _ = talk.unit_at(at + 1)
        share = talk.number(at) == 1 and talk.close(at + 2) != "of"
        if share and talk.follows("a_serving", at, 3):
            continue  # "220 calories for one biscuit and 4 grams of protein"
        if counts_food(talk, at + 1, end):
            return True
        if talk.text[at + 1] not in GRAMS:
            if unit is not None and unit.name not in word_class("served_in"):
                return True
        elif at + 3 < end and talk.close(at + 2) == "of" and talk.text[at + 3] not in LABELS:
            return True
        elif at + 2 < end and not talk.words[at + 2].breaks and talk.food_length(at + 2):
            return talk.text[at + 2] not in LABELS
    return False


def _parted(talk: Talk, passage: list[Item]) -> Iterator[list[Item]]:
    """A passage cut into its statements, and those where they are long, so that the time grows with
    the words alone."""
    parts = _statements(talk, passage)
    if len(parts) > 1:
        for part in parts:
            yield from _parted(talk, part)
        return
    while len(passage) > _MOST:
        gaps = [passage[i].start - passage[i - 1].end for i in range(_MOST // 2, _MOST)]
        at = _MOST // 2 + gaps.index(max(gaps))
        yield passage[:at]
        passage = passage[at:]
    if passage:
        yield passage


def _statements(talk: Talk, items: list[Item]) -> list[list[Item]]:
    """The items cut where the numbers of another dish begin: a nutrient comes again behind a
    full statement, and between the two a food or a dish is named."""
    out: list[list[Item]] = []
    now: list[Item] = []
    told: dict[str, int] = {}  # nutrient → its last place in the statement
    kinds = [0]  # how many nutrients the first items tell
    for item in items:
        begin = max(told.get(item.tag, len(now)) + 1, len(now) - _MOST)
        gaps = [
            (now[at].start - now[at - 1].end, -at) for at in range(begin, len(now))
            if (kinds[at] >= _FULL and names_dish(talk, now[at - 1].end, now[at].start))
            or (kinds[at] > 1 and _numbered(talk, now[at - 1].end, now[at].start))
        ]  # fmt: skip
        if gaps:
            at = -max(gaps)[1]
            out.append(now[:at])
            now = now[at:]
            told = {x.tag: k for k, x in enumerate(now) if x.tag}
            kinds = [len({x.tag for x in now[:k] if x.tag}) for k in range(len(now) + 1)]
        now.append(item)
        if item.tag:
            told[item.tag] = len(now) - 1
        kinds.append(len(told))
    out.append(now)
    enough = all(sum(x.value is not None for x in one) >= _FULL for one in out)
    return out if enough else [items]


def _numbered(talk: Talk, start: int, end: int) -> bool:
    """A full stop stands in a stretch, and a word with its number: "a day. Meal one." """
    return talk.stopped(start, end + 1) and any(
        talk.text[at] in word_class("numbered") and talk.counts(at + 1) for at in range(start, end)
    )


def names_dish(talk: Talk, start: int, end: int) -> bool:
    """A food or a dish is named in a stretch, no share of one and no ingredient."""
    names = False
    for at in range(start, end):
        amount = amount_at(talk, at)
        if amount is not None and amount.measured:
            return False  # "add a tablespoon of almond butter and that brings it up to"
        text = talk.text[at]
        names |= text not in LABELS and (talk.tells(at) or text in word_class("meals"))
    return names
