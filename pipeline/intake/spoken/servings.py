"""How many servings a spoken recipe makes: the number said that its lines and totals make plausible.

Every whole number of a recipe that measures no food, time or money may be the servings. What speaks
for each are the words around it ("serves", "into", "slices", "of us"), where it stands, and what the
lines say against the stated numbers so divided (``composition.misfit``). The weights of the choice
among them, of which one is that nobody says so, are in ``shared/spoken_servings.csv`` (conditional
logit: McFadden, "Conditional logit analysis of qualitative choice behavior", 1974);
``benchmarks/fit_servings.py`` fits them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache

from pipeline.foods.words import singular
from pipeline.intake.spoken.amounts import makes
from pipeline.intake.spoken.asides import Wording
from pipeline.intake.spoken.composition import misfit
from pipeline.intake.spoken.mentions import Chunk
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.segments import Segment
from pipeline.intake.spoken.stated import ENERGY
from pipeline.intake.spoken.statements import said_last
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import Span
from pipeline.intake.spoken.written import written
from pipeline.lines import parse
from pipeline.resources import shared_rows

_MOST = 60  # servings of one recipe
_MISFIT = 4.0  # what numbers say against so many of them, at most
_BORNE_OUT = 2.0  # misfit that one recipe in twenty has of which every line was understood
_FEW = 3  # lines that numbers can be compared with, at least
_NEAR = 20  # words around the numbers in which the word for a share stands
_OR = 5  # words between two numbers of which it is one
#: What one of them says of the other.
_SERVED = frozenset(("something served", "makes", "a serving", "a container", "a dish"))
#: Places that say more where something served is counted.
_PLACED = frozenset(("behind the lines", "before numbers, near", "behind numbers, near", "makes"))
#: Numbers of servings that are told apart, by the least of each.
_SIZES = ((2, "two or three"), (4, "four to six"), (7, "up to a dozen"), (13, "more"))


@cache
def weights() -> dict[str, float]:
    """What speaks for a number being the servings → how much."""
    rows = shared_rows("spoken_servings.csv")
    return {row["feature"]: float(row["weight"]) for row in rows}


@dataclass(slots=True)
class Servings:
    """A number that may be the servings; NaN stands for nobody saying so.

    Attributes:
        word: what they are called.
        told: what holds of it, by the names of ``shared/spoken_servings.csv``.
    """

    number: float
    word: str
    told: dict[str, float] = field(default_factory=dict)

    def score(self, table: Mapping[str, float]) -> float:
        """What speaks for it."""
        return math.fsum(table.get(name, 0.0) * value for name, value in self.told.items())


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
    found = candidates(talk, segment, reading, end, before)
    ratio = _ratio(segment)
    table = weights()
    if ratio is not None:
        told = [s for s in found if s.number == ratio]
        return ratio, max(told, key=lambda s: s.score(table)).word if told else "servings"
    best = max(found, key=lambda s: s.score(table))
    if math.isnan(best.number) and len(found) > 1:  # what numbers bear out need not be said
        one = max(found[:-1], key=lambda s: s.score(table))
        stated = "fits best" in one.told and any(s.told["fits best"] for s in found[:-1])
        if one.told["misfit"] < _BORNE_OUT if stated else not _SERVED.isdisjoint(one.told):
            best = one
    return best.number, best.word


def candidates(
    talk: Talk, segment: Segment, reading: Reading, end: int | None = None,
    before: tuple[float, str] = (math.nan, ""),
) -> list[Servings]:  # fmt: skip
    """The numbers that may be the servings, the last of them NaN for that nobody says so.

    Args:
        talk, segment, reading, end, before: as ``servings_of`` has them.
    """
    end = segment.end if end is None else end
    found = list(_said(talk, segment, end))
    if before[0] == before[0]:
        found.append(Servings(before[0], before[1], {"of the recipe before": 1.0}))
    if talk.common_servings == talk.common_servings:
        found.append(Servings(talk.common_servings, "servings", {"of all recipes": 1.0}))
    found += list(_pieces_by_share(talk, segment, found))
    found += list(_by_part(talk, segment, end))
    stated = {
        p.tag: p.value for p in said_last(segment.totals) if p.basis in (None, "per_serving")
    }  # fmt: skip
    for one in found:
        again = sum(s.number == one.number for s in found) > 1
        against = min(fit(talk, reading, stated, one.number), _MISFIT)
        one.told |= {"told again": float(again), "misfit": against}
        one.told["misfit of few lines"] = against * (len(reading.found) < _FEW)
    least = min((s.told["misfit"] for s in found), default=_MISFIT)
    for one in found:
        one.told["fits best"] = float(bool(stated) and one.told["misfit"] == least)
    told = {name for one in found for name in one.told.keys() & _SERVED}
    nobody = {"nobody says": 1.0} | {f"nobody says, though {name}": 1.0 for name in sorted(told)}
    found.append(Servings(math.nan, "", nobody))
    return found


def fit(talk: Talk, reading: Reading, stated: dict[str, float], servings: float) -> float:
    """What stated numbers of a serving say against so many of them."""
    if not stated or not reading.found:
        return 0.0
    lines = talk.composition.total([written(m, servings) for m in reading.found])
    return misfit(lines, stated, servings)


def _said(talk: Talk, segment: Segment, end: int) -> Iterator[Servings]:
    """The numbers that may be the servings."""
    shares = _shares(talk, segment)
    title = segment.title.lower().split()
    dish = phrases("beside_the_dish").split(segment.title.lower())[0].split()[-1:]
    dish = [singular(w) for w in (*dish, *(w for w in title if w in word_class("dish")))]
    shares |= {*dish}
    amounts, counted = set[int](), set[int]()
    for chunk in segment.chunks:
        if chunk.amount is not None and _of_a_food(chunk, shares):
            span = range(chunk.amount.start, chunk.amount.end)
            dishes = chunk.kind == "both" and chunk.of.food.name[-1] in word_class("dish")
            (counted if dishes and chunk.amount.unit is None else amounts).update(span)
    totals = {at for t in segment.totals for p in t.parts for at in range(p.start, p.end)}
    alone = _for_one(talk, segment, end)
    if alone or any(p.basis != "per_recipe" for t in segment.totals for p in t.parts):
        yield Servings(1.0, "serving", {"one": 1.0, "for one alone": alone})
    apiece = {  # "three for each person"
        talk.words[at].value
        for at in range(segment.start, end)
        if talk.close(at + 1)
        and talk.word(at - 1) not in word_class("makes_servings")
        and phrases("for_each").match(talk.said(at + 1, at + 4))
    }
    wording, said, served = Wording(talk), -_NEAR, set[str]()
    last = max((c.start for c in segment.chunks if c.kind == "both"), default=segment.start)
    for at in range(segment.start, end):
        number = talk.number(at)
        if number in apiece or at in amounts or at in totals or not talk.counts(at):
            continue
        other = _of_something_else(talk, at) and not makes(talk, at)
        if not (2 <= number <= _MOST and number.is_integer()) or other:
            continue
        nouns = _nouns(talk, at, shares)
        told = {"a number", *wording.around(Span(at, at + 1), segment.start, end)}
        told |= {*_beside(talk, at, nouns, shares)}
        told |= {"pieces of the dish"} if nouns and singular(nouns[0]) in dish else set()
        told.add(next(name for least, name in reversed(_SIZES) if number >= least))
        told |= {"counts a food"} if at in counted else set()
        told |= {"behind the lines"} if at > last else set()
        if talk.word(at - 1) == "or" and at - said <= _OR:  # "three portions, or four"
            told |= {"or that", *served}
        told |= {*_from_numbers(segment, at)}
        told |= {f"served {name}" for name in told if nouns and name in _PLACED}
        said, served = at, told & _SERVED
        yield Servings(number, _word(nouns[0] if nouns else ""), dict.fromkeys(told, 1.0))


def _nouns(talk: Talk, at: int, shares: set[str]) -> list[str]:
    """The words behind a number that name what is served."""
    behind = [w for i in range(at + 1, at + 4) if (w := talk.close(i))]
    if behind and (
        behind[0] in ("if", "when", "until", "because", "and", "or", "per", "each")
        or talk.words[at + 1].article
    ):
        return []  # what is said next is another clause, or the share: "50 a pot"
    return [
        w for w in behind
        if w in word_class("serving") or singular(w) in shares
        or singular(w) in word_class("container") | word_class("dish")
    ]  # fmt: skip


def _beside(talk: Talk, at: int, nouns: list[str], shares: set[str]) -> Iterator[str]:
    """What the words beside a number say of it."""
    behind = [w for i in range(at + 1, at + 3) if (w := talk.close(i))]
    if behind[:1] == ["us"] or behind in (["of", "us"], ["of", "you"], ["of", "them"]):
        yield "of us"
    kinds = ("serving", "container", "dish")
    for noun in nouns[:1]:
        yield "something served"
        yield from (f"a {kind}" for kind in kinds if {noun, singular(noun)} & word_class(kind))
        if singular(noun) in shares:
            yield "a share of the numbers"
    lead = talk.said(at - 3, at).split("|")[-1].replace(",", "").split()
    if not word_class("makes_servings").isdisjoint(lead):
        yield "makes"
    if lead[-2:] == ["family", "of"] or (lead and lead[-1] in word_class("serving")):
        yield "servings before"  # "Portions: six."


def _from_numbers(segment: Segment, at: int) -> Iterator[str]:
    """Where a word stands from the nearest stated numbers."""
    gaps = [
        total.start - at if at < total.start else total.end - 1 - at for total in segment.totals
    ]
    nearest = min(gaps, key=abs, default=0)
    if gaps:
        side = "before" if nearest > 0 else "behind"
        yield f"{side} numbers"
        yield f"{side} numbers, {'near' if abs(nearest) <= 8 else 'far' if abs(nearest) > 40 else 'by'}"


def _pieces_by_share(talk: Talk, segment: Segment, found: Iterable[Servings]) -> Iterator[Servings]:
    """ "Twelve pancakes, three a person": pieces that are made, by those that one has."""
    for at in range(segment.start, segment.end - 1):
        each = talk.number(at)
        if each < 2 or not phrases("each_has").match(talk.said(at + 1, at + 4)):
            continue
        for one in found:
            if not _SERVED.isdisjoint(one.told) and one.number > each and one.number % each == 0:
                told = one.told | {"by what each has": 1.0}
                yield Servings(one.number / each, "servings", told)


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
                yield Servings(round(number), "servings", {"a part of it": 1.0})


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
                ours
                or people
                or behind[:2] == ["of", "us"]
                or talk.word(at - 1) in makes
                or (talk.word(at - 1) == "for" and behind[:1] in ([], ["and"], ["so"]))
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
