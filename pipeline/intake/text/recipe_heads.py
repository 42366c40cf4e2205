"""Where the recipes of a text begin, told by the shape that its blocks repeat.

Nobody writes the same words before every recipe, but the recipes of one text have one shape: a
title, a list of ingredients, the numbers that end it. The list and the numbers are found for what
they are; the title is the last line that can be one above the list.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from pipeline.intake.entries import is_heading
from pipeline.intake.facts_line import find_facts, titled_yield, yield_line
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import (
    GENERIC,
    IGNORED_KEY,
    MAYBE_STATED,
    begins_section,
    looks_like_ingredient,
    names_a_fact,
    states,
)  # fmt: skip

#: Lines of a list from which on it is one; a single amount may stand anywhere.
_LIST = 2
_MAX_TITLE_CHARS = 90
_MAX_LABEL = 40
_MAX_LIST = 600
#: Share of the pieces of a list in one line that have an amount; the rest is "salt".
_MOST = 0.6
#: What numbers of a whole recipe hold at least.
_WHOLE = frozenset(("ENERC_KCAL", "PROCNT", "FAT"))
#: Lines between a title and its numbers, and between these and the list, at most.
_NEAR = 4
#: What parts a title, its yield and its numbers in one line.
_PARTED = re.compile(r"\s*(?:→|⇒|\|)\s*|\s+[•·–—-]\s+|\.\s+(?=\d)|\s*\.\.\.\s*")


def recipe_heads(lines: Sequence[CardLine], below_blank: Sequence[bool]) -> frozenset[int]:
    """Positions of the titles of a text of several recipes that each end or begin in their numbers.

    Empty unless at least two recipes have that shape.

    Args:
        lines: those that hold something.
        below_blank: whether a blank line stands above each.
    """
    numbers = [at for at, line in enumerate(lines) if _states(line)]
    if not numbers:
        return frozenset()
    kinds = [_kind(line, below) for line, below in zip(lines, below_blank, strict=True)]
    before = kinds[: numbers[0]]
    if before.count("list") < _LIST and "whole list" not in before:
        return _above_lists(lines, kinds)
    if not any(b - a > _LIST for a, b in pairwise(numbers)):
        return frozenset()
    heads: list[int] = []
    title: int | None = None
    listed, anchored = 0, False
    for at, line in enumerate(lines):
        kind = kinds[at]
        if kind == "title" and not anchored:
            if title is None or line.level or not lines[title].level:
                title = at
        elif kind == "head" and not anchored:
            title, anchored = at, True
        elif kind == "yield":
            anchored = title is not None
        elif kind in ("list", "whole list"):
            listed += 1 if kind == "list" else _LIST
            anchored = title is not None and listed >= _LIST
        elif kind == "numbers":
            if listed >= _LIST and title is not None:
                heads.append(title)
                title = None
            elif title is not None and listed == 0 and title + 2 >= at:
                return frozenset()
            listed, anchored = 0, False
    return frozenset(heads) if len(heads) > 1 else frozenset()


def _above_lists(lines: Sequence[CardLine], kinds: Sequence[str]) -> frozenset[int]:
    """Titles where the numbers of each recipe stand above its list, or in the line of its title."""
    heads: list[int] = []
    open_ = 0  # where the recipe above has surely ended
    for at, kind in enumerate(kinds):
        if kind in ("list", "whole list"):
            open_ = at + 1
        if kind != "numbers" or kinds[at - 1 : at] == ["numbers"]:
            continue
        below = [k for k in kinds[at + 1 : at + 1 + 2 * _NEAR] if k != "numbers"]
        if not {"list", "whole list"} & set(below[:_NEAR]):
            continue
        if title_before_numbers(lines[at].text):
            heads.append(at)
            continue
        above = range(at - 1, max(open_, at - _NEAR) - 1, -1)
        titles = [n for n in above if kinds[n] in ("title", "head")]
        plain = [n for n in above if kinds[n] == "" and _short(lines[n].text)]
        if titles or plain:
            heads.append(max(titles) if titles else max(plain))
    told = len(heads) > 1 or any(title_before_numbers(lines[at].text) for at in heads)
    return frozenset(heads) if told else frozenset()


def title_before_numbers(text: str) -> list[str]:
    """The title that a line of numbers begins with, and what else it says; [] for no title.

    >>> title_before_numbers("pea soup → 4 tubs → 244 kcal a tub (C 38, F 6, P 12)")
    ['pea soup', 'Makes 4 tubs', '244 kcal a tub (C 38, F 6, P 12)']
    """
    parts = [part for part in _PARTED.split(text.strip()) if part.strip()]
    named = len(parts) > 1 and not any(c.isnumeric() for c in parts[0]) and _short(parts[0])
    if not named or begins_section(parts[0]) or states(parts[0]) or MAYBE_STATED.search(parts[0]):
        return []
    return [
        f"Makes {part}"
        if pattern("quantity").match(part) and not MAYBE_STATED.search(part)
        else part
        for part in parts
    ]


def _within_brackets(text: str, mark: str) -> bool:
    """Whether a mark stands within brackets: "1 tin (400 g / 14 oz) tomatoes"."""
    return any(mark in inside for inside in re.findall(r"\([^()]*\)", text))


def list_in_line(text: str) -> list[str]:
    """The ingredients of a line that holds several, each with its amount; [] for any other line.

    A comma parts them only where nothing else does, for it also parts a food from its note.

    >>> list_in_line("500 g mince / 2 tins beans / 1 onion")
    ['500 g mince', '2 tins beans', '1 onion']
    """
    from pipeline.lines import parse_many  # here: few lines hold a mark of a list

    for mark in (" / ", " + ", " ... ", " … ", "; ", " | ", " · ", ", "):
        if mark in text:
            pieces = [piece for part in text.split(mark) if (piece := part.strip(" .;"))]
            least = _LIST if mark != ", " else _LIST + 1
            read = parse_many(pieces)
            if any(line.measures and not line.name for line in read) or _within_brackets(
                text, mark
            ):
                return []  # "1 cup / 240 ml milk" is one food
            names = [line.name for line in read if line.measures]
            most = _MOST if mark != ", " else 1.0
            listed = len(names) >= max(least, most * len(pieces)) and len(set(names)) == len(names)
            return pieces if listed else []
    return []


def pieces_of(text: str) -> list[str]:
    """A line of several ingredients as a line each, below its label; [] for any other line.

    >>> pieces_of("from the fridge: 80 g feta + 1 spring onion")
    ['from the fridge:', '- 80 g feta', '- 1 spring onion']
    """
    if len(text) > _MAX_LIST or pattern("verb_start").match(text):
        return []
    if states(text) or find_facts(text).yields:
        return []
    label, colon, rest = text.partition(":")
    headed = bool(colon) and len(label) <= _MAX_LABEL and not any(c.isnumeric() for c in label)
    if headed and (
        begins_section(label) or names_a_fact(label) or pattern("ingredients").match(text)
        or yield_line(text)
    ):  # fmt: skip
        return []
    pieces = list_in_line(rest.strip() if headed else text.strip())
    if not pieces and headed and ", " in rest:
        pieces = [piece.strip() for piece in rest.split(", ")]
        pieces = pieces if all(map(looks_like_ingredient, pieces)) else []
    several = len(pieces) > _LIST and (", " not in text or len(pieces) != text.count(", ") + 1)
    if not pieces or not (headed or several):
        return []  # two foods, and commas alone, are for the line reader
    return [*([f"{label.strip()}:"] if headed else []), *(f"- {piece}" for piece in pieces)]


def _short(text: str) -> bool:
    bare = text.strip("*_# ")
    return (
        0 < len(bare) <= _MAX_TITLE_CHARS
        and sum(c.isalpha() for c in bare) > 2
        and not bare.endswith((".", ":", ",", ";"))
    )


def _states(line: CardLine) -> bool:
    bare = line.text.strip("*_# ")
    if MAYBE_STATED.search(bare) is None:
        return False
    read = read_stated_line(bare)
    return read.certain or read.heading or {one.tag for one in read.found} >= _WHOLE


def _kind(line: CardLine, below_blank: bool) -> str:
    text = line.text.strip()
    bare = text.strip("*_# ")
    if _states(line):
        return "numbers"
    section = pattern("ingredients").match(bare)
    if section and section["rest"] and section["colon"]:
        return "whole list"
    if yield_line(bare) or (section and len(bare) < _MAX_TITLE_CHARS):
        return "yield"
    bare = pattern("title_lead").sub("", bare)
    counts = pattern("quantity").match(bare) is not None
    headed = below_blank and not counts and titled_yield(bare)[1] is not None
    if not line.level and pieces_of(bare):
        return "whole list"
    label, _, rest = bare.partition(":")
    if len(label) <= _MAX_LABEL and rest and looks_like_ingredient(rest.strip()):
        return "list"
    if not line.level and not headed and looks_like_ingredient(text):
        return "list"
    facts = find_facts(bare)
    if facts.only and facts.yields:
        return "yield"
    titled = (
        (line.level or below_blank)
        and len(bare) <= _MAX_TITLE_CHARS
        and not bare.endswith((".", ":", ",", ";"))
        and any(c.isalpha() for c in bare)
        and not (begins_section(bare) or GENERIC.match(bare) or IGNORED_KEY.match(bare))
        and not (is_heading(bare) or (pattern("step").match(text) and not headed))
        and not pattern("caption").search(text)
    )
    return ("head" if headed else "title") if titled else ""
