"""State by use: dry goods that go in without cooking time are cooked; rinsed from a tin is drained.

No list of such foods: a food takes up water when the same words with "cooked" find a food of less
than ``TAKES_UP`` of its energy per 100 g.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from pipeline.dish.model import Dish, DishLine, plain_words
from pipeline.foods.words import singular
from pipeline.lines.remarks import remarks_on

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipeline.lines.model import ParsedLine

#: Boiled beans, rice and pasta hold 30 to 45 % of the energy of the dry food (SR28).
TAKES_UP = 0.6
#: kcal per 100 g; dry grain and legumes hold 310 and more (SR28), food that is only raw less.
LEAST_DRY = 280.0
#: Dry grain or legumes cook in at least this many times their weight of liquid that is listed.
COOKS_IN = 1.2

_DRY = re.compile(r"\b(?:raw|dry|dried|uncooked)\b", re.IGNORECASE)
_SAID = frozenset(
    {"raw", "dry", "dried", "cooked", "boiled", "steamed", "roasted", "baked", "fried", "canned",
     "drained", "soaked", "jarred", "frozen", "toasted", "instant", "ground", "powdered"}
)  # fmt: skip
_LIQUID = re.compile(
    r"\b(?:water|stock|broth|bouillon|milk|coconut milk|juice|wine|passata|crushed tomatoes|diced tomatoes"
    r"|tomato sauce|tomatoes in juice|canned tomatoes|beer)\b",
    re.IGNORECASE,
)
_COOKS = (
    r"(?:cook|boil|simmer|bring|soak|steam|pressure|al dente|tender|soft(?:en)?|absorb|package (?:directions"
    r"|instructions)|according to)"
)
_STIRS = r"(?:add|stir|toss|fold|top|mix|combine|mash|warm|heat|drain|rinse|spoon|divide|sprinkle|layer|serve)"
#: Legumes that take an hour and a soaking; lentils and split peas go in dry.
_LEGUME = re.compile(r"^(?!.*\b(?:lentils?|split)\b).*\b(?:mature seeds|beans?|chickpeas?)\b", re.I)
_FRIED_DISH = re.compile(r"\bfried\b", re.IGNORECASE)


def asked_states(
    dish: Dish, parsed: Callable[[str], ParsedLine], takes_up: Callable[[ParsedLine, str], bool]
) -> Iterator[tuple[DishLine, ParsedLine, str]]:
    """Lines to be read again with a state that the use tells, and why.

    Args:
        dish: the recipe.
        parsed: a line's text as the lines stage reads it.
        takes_up: whether a line's food takes up water when cooked, given the food chosen for it.
    """
    for line in dish.foods():
        if line.food_id and line.food_id.startswith("recipe:"):
            continue
        if remarks_on(line.text).rinsed_from_tin:
            read = parsed(line.text)
            if "drained" not in read.states:
                again = replace(read, states=read.states | {"drained"})
                yield line, again, "rinsed from a tin: read as drained"
            continue
        if not _DRY.search(line.description) or line.unit in ("g", "kg", "oz", "lb"):
            continue
        read = parsed(line.text)
        if read.states & _SAID or read.kind != "food" or not read.measures:
            continue
        if any(m.kind == "mass" for m in read.measures):
            continue
        why = _cooked_because(dish, line)
        if why and takes_up(read, line.food_id):
            yield line, replace(read, states=read.states | {"cooked"}), why


def _cooked_because(dish: Dish, line: DishLine) -> str:
    """Why a dry good that says no state is cooked already; "" when nothing says so."""
    noun = _noun(line)
    if dish.method:
        sentences = [
            s for s in re.split(r"(?<=[.!?;])\s+|\n", dish.method) if re.search(noun, s, re.I)
        ]
        if any(re.search(rf"\b{_COOKS}", s, re.IGNORECASE) for s in sentences):
            return ""
        if any(re.search(rf"\b{_STIRS}", s, re.IGNORECASE) for s in sentences):
            return "the method adds it without cooking it: read as cooked"
        return ""
    if _FRIED_DISH.search(dish.title) and re.search(noun, dish.title, re.IGNORECASE):
        return "a fried dish is made of it cooked: read as cooked"
    if not _LEGUME.search(line.description):
        return ""
    liquid = sum(
        other.grams for other in dish.foods()
        if other is not line and other.grams > 0 and _LIQUID.search(f"{other.text} {other.description}")
    )  # fmt: skip
    if liquid >= COOKS_IN * line.grams:
        return ""
    return "no line gives the liquid to cook it in: read as cooked"


def _noun(line: DishLine) -> str:
    """Pattern of the food's own name in the line: its last word that the description has too."""
    described = {singular(w) for w in plain_words(line.description)}
    name = [w for w in plain_words(re.sub(r"\([^)]*\)|,.*$", "", line.text)) if len(w) > 2]
    known = [w for w in name if singular(w) in described]
    word = (known or name or ["\0"])[-1]
    return rf"\b{re.escape(word.rstrip('s'))}(?:e?s)?\b"
