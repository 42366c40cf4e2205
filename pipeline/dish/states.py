"""State by use: dry goods that go in without cooking time are cooked; rinsed from a tin is drained.

No list of such foods: a food takes up water when the same words with "cooked" find a food of less
than ``TAKES_UP`` of its energy per 100 g.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from pipeline.dish.model import KEPT, Dishes
from pipeline.foods.words import singular
from pipeline.lines import parse_many
from pipeline.lines.remarks import remarks_on
from pipeline.lines.use_words import dish_phrase, plain_words, use_words

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine
    from pipeline.match.model import Match
    from pipeline.phrases import Bools
    from pipeline.reading import Tools
    from pipeline.weigh.weight import Weight

    Energy = Callable[[list[str]], dict[str, float]]

#: Boiled beans, rice and pasta hold 30 to 45 % of the energy of the dry food (SR28).
TAKES_UP = 0.6
#: kcal per 100 g; dry grain and legumes hold 310 and more (SR28), food that is only raw less.
LEAST_DRY = 280.0
#: Dry grain or legumes cook in at least this many times their weight of liquid that is listed.
COOKS_IN = 1.2

_WEIGHED = frozenset({"g", "kg", "oz", "lb"})
_SENTENCE_END = re.compile(r"(?<=[.!?;])\s+|\n")


@dataclass(frozen=True, slots=True)
class ReadAgain:
    """A line in the state that its use tells."""

    at: int
    match: Match
    weight: Weight
    why: str


def read_again(dishes: Dishes, tools: Tools, energy: Energy) -> list[ReadAgain]:
    """Lines whose state the dish tells, matched and weighed in that state.

    Args:
        energy: kcal per 100 g of foods by their ids, those without a value left out.
    """
    named = dishes.is_food & ~dishes.settled
    named &= ~dishes.food_id.where(lambda food_id: food_id.startswith("recipe:"))
    rinsed = dishes.text.where(
        lambda text: remarks_on(text).rinsed_from_tin, named & dishes.text.holds(["rinse"])
    )
    dry = dishes.description.has(dish_phrase("dry"), named & ~rinsed)
    dry &= ~dishes.unit.where(_WEIGHED.__contains__)
    why = _cooked_because(dishes, dry)
    asked = [*np.flatnonzero(rinsed).tolist(), *why]
    texts = list(dict.fromkeys(dishes.text.at(at) for at in asked))
    reads = dict(zip(texts, parse_many(texts), strict=True))
    dry_energy = energy(sorted({dishes.food_id.at(at) for at in why}))
    wanted: dict[int, ParsedLine] = {}
    for at in asked:
        read = reads[dishes.text.at(at)]
        state = "cooked" if at in why else "drained"
        if state not in read.states and (
            state == "drained"
            or (_leaves_open(read) and dry_energy.get(dishes.food_id.at(at), 0.0) >= LEAST_DRY)
        ):
            wanted[at] = replace(read, states=read.states | {state})
    matches = dict(zip(wanted, tools.matcher.match(list(wanted.values())), strict=True))
    cooked_energy = energy(
        sorted({m.food_id for at, m in matches.items() if m.food_id and at in why})
    )
    out = []
    for at, read in wanted.items():
        match = matches[at]
        if match.food_id is None or (at in why and not (
            match.status == "accepted"
            and cooked_energy.get(match.food_id, np.nan) < TAKES_UP * dry_energy[dishes.food_id.at(at)]
        )):  # fmt: skip
            continue
        weight = tools.weigher.weigh([read], [match])[0]
        if weight.grams is not None:
            reason = why.get(at, "rinsed from a tin: read as drained")
            out.append(ReadAgain(at, match, weight, reason))
    return out


def _leaves_open(read: ParsedLine) -> bool:
    """Whether a line gives a food by volume or count and says nothing of its state."""
    given = dish_phrase("state_given")
    return (
        read.kind == "food"
        and bool(read.measures)
        and not any(m.kind == "mass" for m in read.measures)
        and not any(given.found(state) for state in read.states)
    )


def _cooked_because(dishes: Dishes, rows: Bools) -> dict[int, str]:
    """Why dry goods among some lines that say no state are cooked already."""
    found: dict[int, str] = {}
    for at in np.flatnonzero(rows).tolist():
        stem = stem_of(dishes.text.at(at), dishes.description.at(at))
        recipe = int(dishes.of[at])
        if method := dishes.method.at(recipe):
            if stem in method.lower() and _stirred_in(method, stem):
                found[at] = "the method adds it without cooking it: read as cooked"
        elif dish_phrase("fried_dish").found(title := dishes.title.at(recipe)) and (
            _noun(stem).search(title)
        ):
            found[at] = "a fried dish is made of it cooked: read as cooked"
        elif dish_phrase("long_cooking").found(dishes.description.at(at)) and not (
            _liquid(dishes, at) >= COOKS_IN * dishes.grams[at]
        ):
            found[at] = "no line gives the liquid to cook it in: read as cooked"
    return found


def _stirred_in(method: str, stem: str) -> bool:
    """Whether a method stirs a food in and has no sentence that cooks it."""
    sentences = [s for s in _sentences(method) if stem in s.lower() and _noun(stem).search(s)]
    cooks, stirs = dish_phrase("cooks"), dish_phrase("stirs_in")
    return not any(map(cooks.found, sentences)) and any(map(stirs.found, sentences))


@lru_cache(maxsize=1024)
def _sentences(method: str) -> list[str]:
    return _SENTENCE_END.split(method)


def _liquid(dishes: Dishes, at: int) -> float:
    """Grams of liquid in the other lines of the recipe of a line."""
    liquid = dish_phrase("liquid")
    rows = (dishes.of == dishes.of[at]) & dishes.is_food & (dishes.grams > 0)
    rows[at] = False
    return sum(
        float(dishes.grams[row]) for row in np.flatnonzero(rows).tolist()
        if liquid.found(f"{dishes.text.at(row)} {dishes.description.at(row)}")
    )  # fmt: skip


@lru_cache(maxsize=KEPT)
def stem_of(text: str, description: str) -> str:
    """The food's own name in a line without its plural: the last word that the description has too."""
    described = {singular(w) for w in plain_words(description)}
    name = use_words(text).words_of_name
    known = [w for w in name if singular(w) in described]
    return (known or name or ["\0"])[-1].rstrip("s")


@lru_cache(maxsize=KEPT)
def _noun(stem: str) -> re.Pattern[str]:
    return re.compile(rf"\b{re.escape(stem)}(?:e?s)?\b", re.IGNORECASE)
