"""Ingredients that stand on one line."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from pipeline.intake.numbers import words_of

if TYPE_CHECKING:
    from pipeline.lines.model import ParsedLine

#: What may part the ingredients of a line: signs set apart by spaces; a comma, which also parts a food
#: from its note, where there are none.
MARKS = r"\s*[;|·•→]\s+|\s+(?![~<(\[{#&@'\"“‘≈])[^\w\s]{1,3}\s+|\s*…\s*"
_MARKS, _COMMA = re.compile(MARKS), re.compile(r",\s+")
_BRACKETS = re.compile(r"\([^()]*\)")


def list_in_line(text: str) -> list[str]:
    """The ingredients of a line that holds several with amounts; [] for any other line.

    What has no amount and names no food is a note on what stands before it.

    >>> list_in_line("500 g mince / 2 tins beans / 1 onion")
    ['500 g mince', '2 tins beans', '1 onion']
    >>> list_in_line("60 g peas (tinned, drained), 2 eggs")
    ['60 g peas (tinned, drained)', '2 eggs']
    >>> list_in_line("3 eggs, 30 g butter, melted, salt"), list_in_line("1 onion, finely chopped")
    (['3 eggs', '30 g butter, melted', 'salt'], [])
    """
    from pipeline.intake.text.features import known_food
    from pipeline.lines import parse_many  # here: few lines hold a mark of a list

    bare = _BRACKETS.sub(lambda found: "_" * len(found[0]), text)
    mark = _MARKS if _MARKS.search(text) else _COMMA
    if not mark.search(bare) or (mark is _MARKS and any(map(mark.search, _BRACKETS.findall(text)))):
        return []  # "1 tin (400 g / 14 oz) tomatoes"
    cuts = [0, *(at for found in mark.finditer(bare) for at in found.span()), len(text)]
    parts = (text[begin:end] for begin, end in zip(cuts[::2], cuts[1::2], strict=True))
    pieces = [piece for part in parts if (piece := part.strip(" .;"))]
    read = parse_many(pieces)
    if any(line.measures and names_nothing(line) for line in read):
        return []  # "1 cup / 240 ml milk" is one food, so is "1 tin beans - 240 g drained"
    named = [line for line in read if line.measures and (mark is _MARKS or known_food(line.name))]
    alone = sum(to_taste().fullmatch(piece) is not None for piece in pieces)
    if not named or len(named) + alone < 2 or not _differ(named) or not read[0].measures:
        return []
    out: list[str] = []
    for piece, line in zip(pieces, read, strict=True):
        if out and not line.measures and not known_food(line.name):
            out[-1] += f", {piece}"
        else:
            out.append(piece)
    return out


@cache
def to_taste() -> re.Pattern[str]:
    """What needs no amount: "salt and pepper"."""
    words = words_of("card_words.csv", "unmeasured")
    return re.compile(rf"(?:{words})(?: (?:and|&) (?:{words}))?", re.IGNORECASE)


def names_nothing(line: ParsedLine) -> bool:
    """Whether the name of a line is empty, or says states alone ("drained")."""
    from pipeline.intake.text.features import known_food

    name = line.name.split()
    return not name or (len(name) <= len(line.states) and not known_food(line.name))


def _differ(lines: list[ParsedLine]) -> bool:
    """Whether no two lines name the same: "500 g chicken breast, about 2 large breasts" does."""
    last = [line.name.split()[-1].rstrip("s") for line in lines]
    return len(set(last)) == len(last)
