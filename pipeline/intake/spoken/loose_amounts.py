"""Amounts said without a food of their own: more of the line before, a part of it, its own once more,
or another instead.
"""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.intake.spoken.clauses import of_others
from pipeline.intake.spoken.mentions import (
    Amount,
    Chunk,
    Mention,
    same_amount,
    same_kind,
    same_unit,
)
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.refusals import ONCE
from pipeline.intake.spoken.talk import Talk

THOUGHT = 30  # words over which a speaker makes up his mind about an amount
_LINKED = 9  # words between a line and its amount told once more
_NEAR = 8  # and between a line and a part of it
_SOON = 6  # and between a line and what closes right behind it


def read_amount(r: Reading, chunk: Chunk) -> None:
    """An amount without a food of its own: the first case that takes it."""
    talk, last, amount = r.talk, r.last, chunk.amount
    assert amount is not None
    if of_others(talk, chunk.start):
        r.leave(chunk, ONCE)
        return
    if last is not None and last.end == chunk.start and amount.unit is not None and (
        amount.article and amount.unit.said == "head" and talk.close(chunk.start)
    ):  # fmt: skip
        last.per_person = True  # "one egg a head"
        return
    if talk.follows("predicate", chunk.end, 1):
        r.leave(chunk, "mentioned in passing")  # "a tablespoon would burn"
        return
    if _more_of_last(r, amount) or _part_of_last(r, chunk, amount) or _of_last(r, chunk, amount):
        return
    if amount.weighs and not amount.article:
        r.unclear.append(amount)
    if not amount.called("vessel"):
        r.leave(chunk, "an amount without a food")


def _more_of_last(r: Reading, amount: Amount) -> bool:
    """ "100 grams of cheddar first, and later another 100 grams"."""
    talk, last = r.talk, r.last
    more = talk.word(amount.start - 1) in ("another", "again") or talk.close(amount.end) == "more"
    if not more or last is None or last.amount is None or not same_unit(last.amount, amount):
        return False
    again = replace(last, start=amount.start, end=amount.end, amount=amount, also=[], shared="")
    again.amount_spans = [(amount.start, amount.end)]
    r.add(again)
    return True


def _part_of_last(r: Reading, chunk: Chunk, amount: Amount) -> bool:
    """ "half of that", "three quarters of it"."""
    talk, last = r.talk, r.last
    after = talk.said(chunk.end, chunk.end + 2)
    of_that = re.match(r"^of (?:that|it|those|them)\b", after) or (
        talk.text[chunk.end - 1] in ("that", "it") and chunk.end > amount.end
    )
    if re.match(r"^is (?:too|way|not|plenty|enough)\b", after):
        return r.leave(chunk, "mentioned in passing")
    if last is None or not of_that:
        return False
    had, near = last.amount, amount.start - last.end < _NEAR
    if had is not None and near and amount.value < 1 and amount.unit is None and (
        had.each is not None or (had.unit is None and had.value == 1)
    ):  # fmt: skip
        if had.each:
            last.share *= amount.value
        else:
            last.amount = amount
        last.amount_spans.append((chunk.start, chunk.end))
        return True
    return r.leave(chunk, "a part of what was named before")


def _of_last(r: Reading, chunk: Chunk, amount: Amount) -> bool:
    """The amount of the last line once more."""
    talk, last, unit = r.talk, r.last, amount.unit
    placed = amount.article and talk.word(amount.start - 1) in word_class("before_tools")
    placed = placed and not phrases("corrects").search(f" {talk.sentence(amount.start, 3)} ")
    shares = unit is not None and unit.kind in ("count", "package") and not talk.close(chunk.end) and (
        unit.said in word_class("container") and talk.stops(amount.start)
    )  # fmt: skip
    if last is None or placed or shares:  # "a teaspoon of spice. Twelve slices again"
        return False
    had = last.amount
    corrected = _takes_back(talk, last, amount, chunk)
    again = corrected and had is not None and (unit is None or same_kind(had, amount))
    anew = _alone_behind(talk, last, amount)
    if not (again or anew or _links(talk, last.end, amount.start)):
        return False
    corrected |= anew == "instead"
    if unit is None and not amount.article and corrected and had is not None:
        if not 0.2 <= amount.value / max(had.value, 1e-9) <= 5:
            return False  # "at 375, no, 350"
        amount = replace(amount, unit=had.unit)
    _repeat(talk, last, amount, chunk, corrected=corrected)
    return True


def _takes_back(talk: Talk, last: Mention, amount: Amount, chunk: Chunk) -> bool:
    """Words before an amount, or what it repeats, say that it takes the place of another."""
    had, between = last.amount, range(last.end, amount.start)
    others = word_class("serving") | word_class("no_nutrient_unit")
    if amount.start < last.end or len(between) > THOUGHT or any(
        talk.counts(at) and talk.close(at + 1) in others for at in between
    ):  # fmt: skip
        return False  # "that's 12 servings, no, sorry, 9", "50 minutes. No, 55"
    said, word = talk.said(last.end, amount.start), talk.words[amount.start]
    bare = f" {re.sub('[,|] ?', '', said)} "
    if any(phrases("corrects").search(s) for s in (f", {said} ", bare)):
        return True
    if phrases("so_in_all").search(said):
        return True
    part = any(talk.words[at].share for at in between) and amount.measured
    if had is not None and said.split()[-1:] == ["so"] and same_unit(had, amount) and (
        part or (had.article and amount.value > 1)
    ):  # fmt: skip
        return True  # "a slice of bread each, so four slices", "I do half the pack, so 250 grams"
    wrong = word_class("correct") - {"no", "mean", "actually", "rather"}
    if amount.measured and not wrong.isdisjoint(talk.text[last.end : amount.start]):
        return True
    if phrases("corrects_count").search(talk.lead(amount.start, min(len(between), 4))):
        return True
    for at in between:
        number = talk.words[at].value
        if had is not None and number == had.value and talk.text[at + 1] in ("was", "is"):
            return True  # "four tablespoons. Four was greedy; three"
        if number == amount.value and talk.word(at - 1) == "or":
            return True  # "one chilli, or two. I do two"
    same = had is not None and same_kind(had, amount)
    alone = amount.unit is None and not amount.of and talk.boundary(amount.end)
    if (alone or same) and phrases("i_use").search(said) and "n't" not in said:
        return True  # "a hundred of butter, well, I use ninety"
    if said.endswith("call it") or (
        amount.unit is None and said.endswith(" it") and not re.search(r"\bor\b", said)
        and not word.breaks and not word.share and talk.boundary(chunk.end)
    ):  # fmt: skip
        return True
    in_all = amount.measured and phrases("in_all").search(said) is not None
    return in_all and not talk.follows("a_share_of", chunk.end, 2)


def _alone_behind(talk: Talk, last: Mention, amount: Amount) -> str:
    """An amount that closes a clause right behind a line: a weight of what was measured
    otherwise ("they're 120 gram tins"), or in a sentence of its own another number of the same
    measure instead ("Two tablespoons of oil. Two and a half!")."""
    had, between = last.amount, range(last.end, amount.start)
    if had is None or amount.article or amount.of or len(between) > _SOON:
        return ""
    if amount.unit is None:  # "So that's four potatoes. Three."
        alone = not had.unit and not between and not talk.close(amount.start)
        return "instead" if alone and not talk.joined(amount.end) else ""
    end = amount.end + _package_again(talk, had, amount.end)
    if talk.close(end) in ("if", "for", "per", "each") or not all(map(talk.plain, between)):
        return ""
    if re.search(r"\b(?:was|were|used to be)$", talk.said(last.end, amount.start)):
        return ""  # "Half a cup of sugar. It was two cups."
    closes = talk.boundary(end) or talk.food_length(end) > 0
    parted = any(map(talk.stops, between))
    if same_unit(had, amount):  # "a cup of milk, well, half a cup"
        fillers = between and word_class("filler").issuperset(talk.text[last.end : amount.start])
        parted |= bool(fillers and talk.words[last.end].breaks and talk.boundary(end))
        parted |= talk.stops(amount.start)
        parted |= had.article and bool(talk.words[amount.start].breaks)  # "a tin, two in fact"
        return "instead" if closes and parted and had.value != amount.value else ""
    weight = amount.kind == "mass" and not (had.each or last.also)
    return "also" if closes and weight and not parted else ""


def _package_again(talk: Talk, had: Amount, at: int) -> bool:
    """The package of an amount is named again: "three cans of beans, the 15 ounce cans",
    "two packets of oats, 28 grams a packet"."""
    if not talk.close(at) or had.unit is None or had.weighs:
        return False
    at += talk.words[at].article or talk.text[at] in ("per", "each")
    unit, size = talk.unit_at(at)
    return size == 1 and unit is not None and unit.name == had.name


def _repeat(talk: Talk, line: Mention, amount: Amount, chunk: Chunk, *, corrected: bool) -> None:
    """The amount of a line in other words: "a cup of dates, so roughly 150 grams"."""
    line.amount_spans.append((chunk.start, chunk.end))
    line.end = max(line.end, chunk.end)
    had, unit = line.amount, amount.unit
    if had is None or (had.article and had.kind == "trade" and amount.kind == "volume"):
        line.amount = amount
        return
    if corrected and any(same_amount(refused, amount) for refused in line.refused):
        return
    if corrected and amount.each is None:
        line.refused.append(had)
        line.amount, line.also = amount, []
    elif unit is None or amount.called("vessel") or (same_unit(had, amount) and not amount.apiece):
        return
    elif had.each is None and amount.weighs and _apiece(talk, had, amount, chunk):
        had.each = (amount.value, unit.said)
    else:
        line.also.append(amount)


def _apiece(talk: Talk, had: Amount, amount: Amount, chunk: Chunk) -> bool:
    """A weight is that of each of several, or of the one package."""
    ones = talk.said(chunk.end, chunk.end + 1) in ("ones", "each") or amount.apiece
    if had.kind in ("package", "", "count") and had.value > 1 and (
        ones or _package_again(talk, had, chunk.end)
    ):  # fmt: skip
        return True
    one = had.value == 1 and had.name in ("tin", "jar")
    return had.kind in ("", "package", "count", "trade") and (amount.apiece or one)


def _links(talk: Talk, start: int, end: int) -> bool:
    """Only words that tell an amount once more stand between."""
    if not 0 <= end - start <= _LINKED:
        return False
    if end > start and talk.text[end - 1] in ("and", "plus", "then"):
        return False
    again = word_class("link").union(
        talk.known.states, {"percent"}, *map(word_class, ("correct", "amount_again"))
    )
    return not any(
        (talk.text[at] not in again and not (talk.is_number(at) and talk.word(at + 1) == "percent"))
        or (talk.stops(at) and talk.text[at] in ("and", "then", "now"))
        for at in range(start, end)
    )
