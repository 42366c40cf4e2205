"""Rows of a table that state a fact of their recipe where the others name a food: "serves | 2"."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from functools import cache, lru_cache

from pipeline.intake.columns import basis_of
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.model import Basis, RawRecipe, cut
from pipeline.intake.pages.schema_org import read_nutrition_text, set_dish_weight, set_yield
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.line_kinds import IGNORED_KEY, NOTES, NUTRITION
from pipeline.problems import input_problem
from pipeline.resources import shared_rows

_WORD = re.compile(r"[^\W\d_]+|[^\w\s]")
#: What states more than a nutrient by itself, by table of ``shared/`` and role.
_SURE = {
    "head_words.csv": ("makes", "serves", "servings", "total"),
    "card_words.csv": ("notes", "ignored", "nutrition"),
    "yield_words.csv": ("serving",),
    "nutrient_words.csv": ("ENERC_KCAL",),
}


@cache
def _sure() -> tuple[re.Pattern[str], dict[str, list[frozenset[str]]], re.Pattern[str]]:
    """What the words of yields, totals, notes and energy are known by, of which a run of facts has one.

    Returns:
        A pattern of those that begin a row, notes; for the others the further words of each phrase by
        its first one, and a pattern of all. "To serve" behind a food is no yield.
    """
    heads, others = (
        {
            phrase
            for table in tables
            for row in shared_rows(table)
            if next(iter(row.values())) in _SURE[table]
            for phrase in (*row["words"].split(";"), "weight")
        }
        for tables in (["card_words.csv"], _SURE.keys() - {"card_words.csv"})
    )
    further: dict[str, list[frozenset[str]]] = {}
    for phrase in others:
        *before, last = _WORD.findall(phrase.lower())
        for said in ([*before, last], [*before, f"{last}s"]):
            further.setdefault(said[0], []).append(frozenset(said[1:]))
    begins, stands = (
        "|".join(re.escape(phrase).replace(r"\ ", r"\s+") for phrase in sorted(some))
        for some in (heads, others)
    )
    begin = re.compile(rf"\W*(?:{begins})s?(?!\w)", re.IGNORECASE)
    stand = re.compile(rf"(?<!\w)(?<!to\s)(?:{stands})s?(?!\w)", re.IGNORECASE)
    return begin, further, stand


def surely_states(name: str) -> bool:
    """Whether a name in a column of foods may be that of a yield, a total, a note or energy."""
    begin, further, stand = _sure()
    if begin.match(name):
        return True
    said = set(_WORD.findall(name.lower()))
    maybe = any(rest <= said for word in further.keys() & said for rest in further[word])
    return maybe and stand.search(name) is not None


@lru_cache(maxsize=4096)
def fact_kind(text: str) -> str:
    """What a row states: "yield", "energy", "nutrient", "basis" (what the numbers of the row or of
    those below are for), "aside" (what is not read); "" for an ingredient."""
    read = read_stated_line(text)
    if read.certain and any(one.tag == "ENERC_KCAL" for one in read.found):
        return "energy"
    if yield_line(text) or pattern("yield_weight").match(text):
        return "yield"
    name = text.partition(":")[0]
    if read.found:
        return "nutrient" if read.possible else ""
    if read_stated_line(f"{name}:").heading or NUTRITION.match(name):
        return "basis"
    return "aside" if IGNORED_KEY.match(text) or NOTES.match(text) else ""


def fact_rows(texts: Mapping[int, str], rows: Sequence[int]) -> dict[int, str]:
    """The rows of a recipe that state facts, with the text that each makes.

    A nutrient that may be a food counts within a run of rows that states a yield or an energy, not
    at the end of the run where ingredients follow it.

    Args:
        texts: of rows that may state something: "name: amount".
        rows: of the recipe, in their order.
    """
    found: dict[int, str] = {}
    run: list[tuple[int, str, str]] = []
    for at in [*rows, -1]:
        if at in texts and (kind := fact_kind(texts[at])):
            run.append((at, texts[at], kind))
            continue
        clear = [n for n, (_, text, kind) in enumerate(run) if not _also_food(text, kind)]
        sure = any(kind in ("yield", "energy") for *_, kind in run)
        first, last = clear[0] if clear else 0, clear[-1] if clear and at >= 0 else len(run)
        found |= {
            row: text for n, (row, text, kind) in enumerate(run)
            if kind != "nutrient" or (sure and first <= n <= last)
        }  # fmt: skip
        run = []
    return found


def _also_food(text: str, kind: str) -> bool:
    return kind == "nutrient" and not read_stated_line(text).certain


def take_facts(recipe: RawRecipe, facts: Iterable[tuple[str, int | None]]) -> None:
    """Add what rows state, each with its line; numbers are for what the row or one above says."""
    basis: Basis | None = None
    for text, line in facts:
        kind = fact_kind(text)
        if kind == "yield":
            weight = pattern("yield_weight").match(text)
            if weight:
                set_dish_weight(recipe, weight["value"], line)
            else:
                _take_yield(recipe, yield_line(text) or text, line)
        elif kind != "aside":
            basis = basis_of(text.partition(":")[0]) or read_stated_line(text).basis or basis
        for said in find_facts(text).yields if kind in ("energy", "nutrient", "basis") else ():
            _take_yield(recipe, said, line)
        if kind in ("energy", "nutrient"):
            before = len(recipe.stated)
            read_nutrition_text(recipe, text, line)
            for one in recipe.stated[before:]:
                one.basis = basis or one.basis


def _take_yield(recipe: RawRecipe, said: str, line: int | None) -> None:
    told = read_yield(said).servings
    if not math.isnan(recipe.servings) and not math.isnan(told) and told != recipe.servings:
        recipe.problems.append(
            input_problem(
                "servings-twice", source_line=line, first=recipe.servings, second=cut(said, 40)
            )
        )
        return
    set_yield(recipe, said, line)
