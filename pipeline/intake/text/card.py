"""Plain-text recipe cards.

A card is a title, then in any order a yield ("Serves 4", "Makes 12 squares", "Yield: 1.2 kg"),
free text, ingredient lines, a method that is kept as text, and stated numbers::

    Lentil soup with lemon
    by Maren Okafor
    Serves 4

    Ingredients
    - 250 g red lentils, rinsed
    For the topping:
    - 2 tbsp olive oil

    Method
    1. Simmer ...

    Per serving: 312 kcal, P 15 g, C 41 g, F 9 g

Several cards in a file: parted by a line of three or more ``-``, ``=``, ``*`` or ``_``; or a card
that already has ingredients ends at a blank line followed by a title line, when a yield line, a
"by" line or the word "Ingredients" follows that title before any ingredient does; or a line
``Title:`` or ``Recipe:`` begins the next. Where such a reading leaves doubts, ``decoder`` explains the
whole text by what its lines are, and what is better borne out stands (``evidence``).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import partial

from pipeline.intake.facts_line import yield_line
from pipeline.intake.model import Apart, RawRecipe, Read
from pipeline.intake.numbers import number_words, words_of
from pipeline.intake.numbers_apart import name_recipes
from pipeline.intake.patterns import pattern
from pipeline.intake.text.bases import with_bases
from pipeline.intake.text.basis_columns import parted_columns
from pipeline.intake.text.broken_lines import made_whole
from pipeline.intake.text.card_chunk import Chunk
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.decoder import decoded
from pipeline.intake.text.evidence import better, leaves_doubt, sound
from pipeline.intake.text.heading_levels import with_beginnings
from pipeline.intake.text.letter_key import spelled_out
from pipeline.intake.text.line_kinds import (
    BULLET,
    MAYBE_STATED,
    begins_section,
    looks_like_ingredient,
    states,
)
from pipeline.intake.text.line_marks import marked
from pipeline.intake.text.number_list import number_lists
from pipeline.problems import input_problem

MAX_CARD_LINES = 200_000
#: Stretches between rules that are cards, at least.
_LEAST_CARDS = 2
#: A heading that asks for the servings, the blank lines that may follow it, and characters of an answer.
_ASKS_SERVINGS = re.compile(
    rf"[\W_]*(?:number of )?(?:{words_of('head_words.csv', 'servings', 'makes', 'serves')})[\W_]*",
    re.IGNORECASE,
)
_MOST_BLANK, _ANSWER = 3, 40
_LETTERS = re.compile(r"[^\W\d_]+")


def _with_values(lines: Sequence[CardLine]) -> list[CardLine]:
    """Headings that ask for the servings with their answer below them on one line: "### Servings", "4"."""
    out: list[CardLine] = []
    for line in lines:
        above = next((one for one in reversed(out[-_MOST_BLANK:]) if one.text.strip()), None)
        if above is not None and len(line.text) < _ANSWER and above.level and not line.level:
            said = f"{above.text.strip('#*_: ')}: {line.text.strip()}"
            if _ASKS_SERVINGS.fullmatch(above.text) and yield_line(said):
                out[out.index(above)] = CardLine(above.no, said)
                continue
        out.append(line)
    return out


def _in_figures(line: CardLine) -> CardLine:
    """A line that may state numbers with those that it writes as words in figures."""
    said = _LETTERS.findall(line.text.lower())
    if number_words("count").keys().isdisjoint(said) or not MAYBE_STATED.search(line.text):
        return line
    from pipeline.intake.spoken.words import in_figures  # here: few texts write numbers in words

    return replace(line, text=in_figures(line.text))


def read_cards(
    lines: Sequence[CardLine], source: str, *, format: str = "card", told_elsewhere: bool = False
) -> Read:
    """Recipes of a file of cards; total. A text without a recipe gives none.

    Args:
        lines: the text; ``CardLine.level`` marks headings of a markup.
        source: file name, for messages.
        format: name of the format for ``tables.RECIPE``.
        told_elsewhere: what a recipe makes and states may stand outside the text.
    """
    read = Read(found="plain text")
    if len(lines) > MAX_CARD_LINES:
        read.problems.append(
            input_problem(
                "file-too-large/lines", source=source, lines=len(lines), most=MAX_CARD_LINES
            )
        )
        lines = lines[:MAX_CARD_LINES]
    lines = spelled_out(parted_columns(made_whole(marked(_with_values(lines)))))
    lines = with_beginnings([_in_figures(line) for line in lines])
    lists = number_lists(lines, format)
    rows = [row for one in lists for row in one.rows]
    if rows:
        listed = {at for one in lists for at in range(one.begin, one.end)}
        rest = [line for at, line in enumerate(lines) if at not in listed]
        read.recipes = _best(rest, format, told_elsewhere, [])
        if name_recipes(rows, read.recipes):  # a table of all recipes of a book
            read.apart = [Apart(rows)]
            return read
        alone = not any(recipe.lines for recipe in read.recipes)
        lines = lines if any(looks_like_ingredient(line.text) for line in rest) else rest
    others: list[RawRecipe] = []
    read.recipes = _best(lines, format, told_elsewhere, others)
    read.recipes, told = with_bases(read.recipes, others, lines)
    read.problems += told
    for position, recipe in enumerate(read.recipes):
        recipe.position = position
    read.apart = [Apart(rows, list(read.recipes))] if rows and alone else []
    if read.apart or not read.recipes:
        read.titled = partial(_read_titled, rest if rows else lines, format)
    return read


def _read_titled(
    lines: Sequence[CardLine], format: str, is_title: Callable[[str], bool], name: str
) -> list[RawRecipe]:
    """The lists of a text below lines that are titles for certain: nothing else has to show that they
    are recipes, and no list to shop by. A text without such a line may have the name of its file."""
    bullets = [line.level == 0 and bool(BULLET.match(line.text)) for line in lines]
    begun = [
        replace(line, begins=True) if not listed and is_title(line.text) else line
        for line, listed in zip(lines, bullets, strict=True)
    ]
    if is_title(name) and not any(line.begins for line in begun):
        begun.insert(0, CardLine(1, name, begins=True))
    found = _recipes([begun], format, True, [])
    return [one for one in found if len(one.lines) > 1 and is_title(one.title)]


def _best(
    lines: Sequence[CardLine], format: str, told_elsewhere: bool, others: list[RawRecipe]
) -> list[RawRecipe]:
    """Recipes of lines, by the rules of cards or by the explanation that is better borne out.

    ``others`` gets the lists that were taken for no recipes.
    """
    best: list[RawRecipe] = []
    for entry in _entries(lines):
        chunks = split_at_rules(entry)
        found = _recipes(chunks, format, told_elsewhere, others)
        if not (told_elsewhere and found) and leaves_doubt(found):
            found = _of_cards(chunks, format) or _explained(entry, found, format)
        best += found
    for position, recipe in enumerate(best):
        recipe.position = position
    return best


def _explained(lines: Sequence[CardLine], found: list[RawRecipe], format: str) -> list[RawRecipe]:
    """Recipes of lines by what the lines are, where that is better borne out than what was found."""
    other = read_roles(decoded(lines), format)
    other = other if found else list(filter(sound, other))
    return other if other and better(other, found) else found


def _of_cards(chunks: Sequence[list[CardLine]], format: str) -> list[RawRecipe]:
    """Recipes of stretches between rules, where several are whole cards: they have a list, and say what
    they make or state. Then a doubt about one is none about another, and what else stands between rules
    is no part of them, unless it states numbers that may be theirs. [] for any others."""
    best: list[RawRecipe] = []
    cards = 0
    if sum(any(line.text.strip() for line in chunk) for chunk in chunks) < _LEAST_CARDS:
        return []
    for chunk in chunks:
        found = _recipes([chunk], format, False, [])
        found = _explained(chunk, found, format) if leaves_doubt(found) else found
        if any(one.lines and (one.stated or not math.isnan(one.servings)) for one in found):
            cards += 1
        elif any(MAYBE_STATED.search(line.text) and states(line.text) for line in chunk):
            return []
        best += found
    return best if cards >= _LEAST_CARDS else []


def _entries(lines: Sequence[CardLine]) -> list[list[CardLine]]:
    """The parts of a text that its layout parts: what begins in one ends there."""
    found: list[list[CardLine]] = [[]]
    for line in lines:
        if line.begins and not line.role:
            found.append([])
        found[-1].append(line)
    return found


def read_roles(lines: Sequence[CardLine], format: str) -> list[RawRecipe]:
    """Recipes of lines that carry their roles."""
    return _recipes([list(lines)], format, False, [])


def _recipes(
    chunks: Sequence[list[CardLine]], format: str, told_elsewhere: bool, others: list[RawRecipe]
) -> list[RawRecipe]:
    found: list[RawRecipe] = []
    for chunk in chunks:
        for card in Chunk(chunk).cards(format):
            plausible = card.plausible(told_elsewhere)
            card.recipe.position = len(found)
            card.finish()
            (found if plausible else others).append(card.recipe)
    return found


def split_at_rules(lines: Iterable[CardLine]) -> list[list[CardLine]]:
    """Stretches of lines between rules ("---"), which part the cards of a file."""
    chunks: list[list[CardLine]] = [[]]
    filled = 0
    for line in lines:
        if pattern("rule").match(line.text) and not line.level:
            before = chunks[-1][-1].text.strip() if chunks[-1] else ""
            if before and (filled == 1 or (len(before) < 40 and begins_section(before))):
                continue  # underlines the title or a section word
            chunks.append([])
            filled = 0
        else:
            chunks[-1].append(line)
            filled += bool(line.text.strip())
    return chunks
