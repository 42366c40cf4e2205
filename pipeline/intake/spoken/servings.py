"""How many servings a spoken recipe makes: the number said that its lines and totals make plausible.

Every whole number of a recipe that measures no food, time or money may be the servings. What stands
beside it ("serves", "into", "slices", "of us") makes it more likely; which one it is, the energy and
the macros of the lines decide against the stated numbers (``composition.misfit``).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.foods.words import singular
from pipeline.intake.spoken.amounts import makes
from pipeline.intake.spoken.composition import misfit
from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.stated import ENERGY
from pipeline.intake.spoken.statements import said_last
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.written import written
from pipeline.lines import parse

_MOST = 60  # servings of one recipe
_FIT = 1.2  # weight of what the numbers say beside what words say
_ANY = 3.5  # cost of a number that nothing makes a number of servings
_TWICE = 0.8  # what it speaks for a number that words make one of servings twice
_ONE = 1.8  # cost of one serving where nothing says so
_ENOUGH = 2.3  # most that servings cost when nothing is stated that they could be checked by
_BOUND = 5.5  # most that they cost at all
_SURE = 1.5  # what words cost at most that hold against all numbers
_PART = 1.5  # what speaks against the number of shares that one share is told as a part of
_NEAR = 20  # words around the numbers in which the word for a share stands


@dataclass(slots=True)
class Servings:
    """A number of servings, what they are called, and what words and numbers speak against it."""

    number: float
    word: str
    words: float
    cost: float = 0.0


def servings_of(
    talk: Talk, segment: Segment, reading: Reading, end: int | None = None,
    before: tuple[float, str] = (math.nan, ""),
) -> tuple[float, str]:  # fmt: skip
    """Servings of a recipe and what they are called; NaN when nothing says so.

    Args:
        talk: all that is said.
        segment: the recipe.
        reading: its lines.
        end: where what is said of the recipe ends.
        before: servings of the recipe that the lines were taken from.
    """
    found = list(_said(talk, segment, segment.end if end is None else end))
    if before[0] == before[0]:
        found.append(Servings(before[0], before[1], 1.0))
    if talk.common_servings == talk.common_servings:
        found.append(Servings(talk.common_servings, "servings", 1.5))
    found += list(_pieces_by_share(talk, segment, found))
    found += list(_by_part(talk, segment, segment.end if end is None else end))
    ratio = _ratio(segment)
    if ratio is not None:
        told = [s for s in found if s.number == ratio]
        return ratio, min(told, key=lambda s: s.words).word if told else "servings"
    stated = {
        p.tag: p.value for p in said_last(segment.totals) if p.basis in (None, "per_serving")
    }  # fmt: skip
    for one in found:
        again = sum(s.number == one.number for s in found) > 1 and one.words < _ANY
        one.cost = one.words - _TWICE * again + _FIT * fit(talk, reading, stated, one.number)
    best = min(found, key=lambda s: s.cost, default=None)
    if best is None or best.cost > (_BOUND if stated else _ENOUGH):
        said = min(found, key=lambda s: s.words, default=None)
        return (said.number, said.word) if said and said.words <= _SURE else (math.nan, "")
    return best.number, best.word


def fit(talk: Talk, reading: Reading, stated: dict[str, float], servings: float) -> float:
    """What stated numbers of a serving say against so many of them."""
    if not stated or not reading.found:
        return 0.0
    lines = talk.composition.total([written(m, servings) for m in reading.found])
    return misfit(lines, stated, servings)


def _said(talk: Talk, segment: Segment, end: int) -> Iterator[Servings]:
    """The numbers that may be the servings."""
    shares = _shares(talk, segment)
    dish = phrases("beside_the_dish").split(segment.title.lower())[0].split()[-1:]
    shares |= {singular(w) for w in dish}
    shares |= {singular(w) for w in segment.title.lower().split() if w in word_class("dish")}
    amounts = {
        at
        for c in segment.chunks
        if c.amount is not None and _of_a_food(c, shares)
        for at in range(c.amount.start, c.amount.end)
    }
    totals = {at for t in segment.totals for p in t.parts for at in range(p.start, p.end)}
    alone = _for_one(talk, segment, end)
    if alone or any(p.basis != "per_recipe" for t in segment.totals for p in t.parts):
        yield Servings(1.0, "serving", _ONE - 1.5 * alone)
    apiece = {  # "three for each person"
        talk.words[at].value
        for at in range(segment.start, end)
        if talk.close(at + 1)
        and talk.word(at - 1) not in word_class("makes_servings")
        and phrases("for_each").match(talk.said(at + 1, at + 4))
    }
    said: tuple[int, float] | None = None
    for at in range(segment.start, end):
        number = talk.number(at)
        if number in apiece or at in amounts or at in totals or not talk.counts(at):
            continue
        other = _of_something_else(talk, at) and not makes(talk, at)
        if not (2 <= number <= _MOST and number.is_integer()) or other:
            continue
        cost, word = _ANY, ""
        behind = [w for i in range(at + 1, at + 4) if (w := talk.close(i))]
        if behind and (
            behind[0] in ("if", "when", "until", "because", "and", "or", "per", "each")
            or talk.words[at + 1].article
        ):
            behind = []  # what is said next is another clause, or the share: "50 a pot"
        nouns = [w for w in behind if w in word_class("serving") or singular(w) in shares
                 or singular(w) in word_class("container") | word_class("dish")]  # fmt: skip
        if nouns or behind[:1] == ["us"] or (
            behind[:2] in (["of", "us"], ["of", "you"], ["of", "them"])
        ):  # fmt: skip
            cost -= 1.5
            word = nouns[0] if nouns else ""
            cost -= 0.7 if nouns and singular(nouns[0]) in shares else 0.0
        lead = talk.said(at - 3, at).split("|")[-1].replace(",", "").split()
        cost -= 1.3 if not word_class("makes_servings").isdisjoint(lead) else 0.0
        family = lead[-2:] == ["family", "of"]
        cost -= (
            1.5 if family or (lead and lead[-1] in word_class("serving")) else 0.0
        )  # "Portions: six."
        if lead[-1:] == ["or"] and said and at - said[0] <= 5:
            cost = min(cost, said[1])  # "three portions, or four"
        said = (at, cost)
        yield Servings(number, _word(word), cost)


def _pieces_by_share(talk: Talk, segment: Segment, found: list[Servings]) -> Iterator[Servings]:
    """ "Twelve pancakes, three a person": pieces that are made, by those that one has."""
    for at in range(segment.start, segment.end - 1):
        each = talk.number(at)
        if each < 2 or not phrases("each_has").match(talk.said(at + 1, at + 4)):
            continue
        for one in found:
            if one.words < _ANY and one.number > each and one.number % each == 0:
                yield Servings(one.number / each, "servings", min(one.words, 1.0))


def _by_part(talk: Talk, segment: Segment, end: int) -> Iterator[Servings]:
    """ "That's one steak with a quarter of the gravy": four shares of it, said near the numbers."""
    spans = [(total.start - _NEAR, total.end + _NEAR) for total in segment.totals]
    for at in range(segment.start, min(end, talk.n - 2)):
        part = talk.number(at)
        parted = word_class("before_parted") | word_class("of_them")
        of = talk.close(at + 1) == "of" and talk.close(at + 2) in parted
        if talk.words[at].share and of and any(lo <= at < hi for lo, hi in spans):
            number = 1 / part
            if 2 <= round(number) <= _MOST and math.isclose(number, round(number), rel_tol=0.01):
                yield Servings(round(number), "servings", _PART)


def _of_a_food(chunk: Chunk, shares: set[str]) -> bool:
    """An amount of an ingredient, not the pieces that its numbers are stated for."""
    unit = chunk.amount.unit if chunk.amount is not None else None
    if chunk.kind != "both":
        return unit is not None and unit.kind == "mass"
    named = {singular(chunk.of.food.name[-1]), singular(unit.said) if unit else ""}
    if unit is not None and unit.kind != "count":
        named = {singular(unit.said)}
    return named.isdisjoint(shares)


def _of_something_else(talk: Talk, at: int) -> bool:
    """A number of minutes, degrees or pounds, one that counts dishes, or a weight."""
    after, before = talk.close(at + 1), talk.word(at - 1)
    unit, _ = talk.unit_at(at + 1)
    if after and unit is not None and unit.kind in ("mass", "length"):
        return True
    return after in (word_class("no_nutrient_unit") | {"percent"}) - word_class("serving") or (
        before in word_class("numbered") and not talk.words[at].breaks
    )


def _shares(talk: Talk, segment: Segment) -> set[str]:
    """Words for a share near the numbers: "a bowl", "per wrap", "each slice", "one scone"."""
    out: set[str] = set()
    for total in segment.totals:
        for at in range(max(total.start - _NEAR, segment.start), min(total.end + 6, talk.n)):
            word = talk.words[at - 1]
            if (
                talk.close(at)
                and talk.close(at + 1) != "of"
                and talk.word(at - 2) not in word_class("grams")  # "28 grams a packet"
                and (word.value == 1 or word.text in ("per", "each", "every", "a"))
            ):
                out.add(singular(talk.text[at]))
    return out.difference(*map(word_class, ("function", "filler", "adverb", "talk", "link")))


def _for_one(talk: Talk, segment: Segment, end: int) -> float:
    """How plainly the speaker says that it is one serving, or for one alone."""
    for at in range(segment.start, end):
        if talk.text[at] in ("1", "one", "me", "myself") or talk.words[at].value == 1:
            after, before = talk.close(at + 1), talk.said(at - 2, at)
            share = phrases("comes_to").match(talk.said(at + 2, at + 5)) or talk.counts(at + 2)
            if share:
                continue  # "one portion is 300"
            if after in ("serving", "portion") and not before.endswith((" per", "per")):
                told = before.split()[-1:] in (["it's"], ["that's"], ["makes"], ["is"])
                return 2.0 if told and talk.boundary(at + 2) else 1.0
            alone = before.split()[-1:] == ["for"] or before.endswith(("for just", "just"))
            alone &= after != "and"  # "for me and my flatmate"
            alone &= not (
                talk.stops(at - 1)
                and any(at < total.start <= at + _NEAR // 2 for total in segment.totals)
            )  # "For one person it is 390"
            if alone and (not after or after in word_class("function") | {"person", "serving"}):
                return 1.0
    return 0.0


def common_servings(talk: Talk, end: int) -> float:
    """Servings that a script says of all its recipes, before the first of them; NaN when none."""
    makes = word_class("makes_servings") - word_class("function")
    for at in range(end):
        number = talk.number(at)
        if talk.counts(at) and 2 <= number <= _MOST and number.is_integer():
            behind = talk.said(at + 1, at + 3).split()
            people = behind[:1] and behind[0] in word_class("serving")
            family = talk.said(at - 2, at) == "family of"
            ours = family or ("us" in behind and "for" in talk.said(at - 3, at).split())
            every = ours or {"all", "each", "every", "everything"} & set(
                talk.said(at - 8, at).split()
            )
            if every and (
                ours or people or behind[:2] == ["of", "us"] or talk.word(at - 1) in makes
            ):
                return number
    return math.nan


def _word(word: str) -> str:
    """What servings are called; never a unit, for six egg cups are no six cups."""
    unit = any(m.kind in ("volume", "mass") for m in parse(f"6 {word} of it").measures)
    return "servings" if not word or unit or word in word_class("serving") else word


def _ratio(segment: Segment) -> float | None:
    """Energy of the whole by that of a serving."""
    energy = {p.basis: p.value for p in said_last(segment.totals) if p.tag == ENERGY}
    whole, share = energy.get("per_recipe"), energy.get("per_serving")
    if not whole or not share:
        return None
    ratio = whole / share
    near = round(ratio)
    return float(near) if near >= 2 and abs(ratio - near) <= 0.02 * near + 0.02 else None
