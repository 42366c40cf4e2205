"""Lines that are counted elsewhere, or not at all: intermediates, alternatives, optional lines."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import lru_cache

from pipeline.dish.model import KEPT, Dish, DishLine, LineUse, plain_words

_OR_HEADING = re.compile(
    r"^\W*(?:or|alternatively|alternative|instead|or use|or instead)\b(?:\s+\w+){0,4}\W*$", re.I
)
_OPTION = re.compile(r"^\W*(?:option|version|variation|variant)\s+(?:[2-9]|b|c|two|three)\b", re.I)
_OPTION_ONE = re.compile(r"^\W*(?:option|version|variation|variant)\s+(?:1|a|one)\b", re.I)
_OR_END = re.compile(r"[\s(]or\s*[:)]*\s*$", re.IGNORECASE)
_OF_CHOICE = re.compile(r"\b(?:of (?:your )?choice|any|your favou?rite)\b", re.IGNORECASE)
_OR_LINE = re.compile(r"^\W*or\s+(?=\S)", re.IGNORECASE)
#: A part of a line, between commas and brackets, that makes the whole line optional.
_OPTIONAL_PART = re.compile(
    r"^(?:to (?:serve|garnish|taste|top)\s+)?optional(?:ly)?\b"
    r"|^(?:if|as) (?:desired|liked|wanted|using|you like|you wish)\s*$"
    r"|\boptional$",
    re.IGNORECASE,
)
_PARTS = re.compile(r"[,;:()\[\]]|\s[-–—]\s|\*")
#: Work that is optional, where the food is not: "chopped, toasted if desired".
_WORK = re.compile(r"^(?:\w+ly\s+)?\w+ed\b", re.IGNORECASE)
_OPTIONAL_SECTION = re.compile(r"\boptional\b|\bif (?:desired|liked|using)\b", re.IGNORECASE)
_ABOVE = re.compile(
    r"\b(?:from|made|recipe|see|as|ingredients?|mixture)\s+(?:the\s+)?(?:ingredients?\s+|recipe\s+)?above\b"
    r"|\babove\s+(?:recipe|mixture)\b|\(above\)|\bmade (?:above|earlier|before|previously)\b",
    re.IGNORECASE,
)
_ALL_ABOVE = re.compile(r"\bingredients?\s+(?:from\s+)?above\b", re.IGNORECASE)
_REST = re.compile(r"\b(?:reserved|remaining|rest of)\b", re.IGNORECASE)
_REFERS = re.compile(
    r"\b(?:all|half|most|some|quarter|third|\d+\s*/\s*\d+|½|⅓|¼|\bg|\bml|cups?|tbsp|oz)\s+of\s+the\b|\bthe\b|\bprepared\b",
    re.IGNORECASE,
)
#: What is done to a food before it is used again: "browned butter", "toasted coconut".
_MADE = re.compile(
    r"\b(?:brown(?:ed)?|toasted|clarified|whipped|caramelized|caramelised|infused|roasted|melted"
    r"|cooled|candied|pickled|steeped)\b",
    re.IGNORECASE,
)
_SECTION_GLUE = frozenset(
    {"for", "the", "a", "to", "make", "of", "and", "ingredients", "your", "recipe", "homemade"}
)
#: A section used to less than this share is not used up.
_USED_UP = 0.7


def if_added(dish: Dish) -> Iterator[LineUse]:
    """Optional lines and alternatives: not in the sums, their energy is the range's upper end."""
    alternative, one_only, seen_option, said_or = "", False, False, False
    for line in dish.lines:
        heading = not line.is_food
        name = line.text.strip().rstrip(":") if heading else ""
        if heading:
            seen_option = seen_option or bool(_OPTION_ONE.match(name))
            later = seen_option and bool(_OPTION.match(name))
            alternative = "an alternative" if _OR_HEADING.match(name) or later else ""
            one_only = alternative != "" and not line.text.strip().endswith(":") and not later
            continue
        why = alternative
        if one_only:
            alternative, one_only = "", False
        if not why and (_OR_LINE.match(line.text) or said_or):
            why = "an alternative"
        said_or = _OR_END.search(line.text) is not None
        if said_or and _OF_CHOICE.search(line.text):  # the lines that follow say which
            why, said_or = "an alternative", False
        if not why and (_is_optional(line.text) or _OPTIONAL_SECTION.search(line.section)):
            why = "optional"
        if why:
            use = "optional" if why == "optional" else "if_added"
            yield LineUse(dish.recipe_id, line.line_no, use, "line", 0.0, 0.0, 1.0, why)


@lru_cache(maxsize=KEPT)
def _is_optional(text: str) -> bool:
    """A part of the line says so of the whole line, and not of a work or another choice."""
    parts = [p for part in _PARTS.split(text) if (p := part.strip(" .+&"))]
    for at, part in enumerate(parts):
        if not _OPTIONAL_PART.search(part) or re.search(r"recommend|\bor\b", part, re.IGNORECASE):
            continue
        of_work = at > 1 and _WORK.match(parts[at - 1]) is not None
        return not of_work and not _WORK.match(part)
    return False


def made_of_lines(dish: Dish) -> Iterator[LineUse]:
    """Lines that use what earlier lines make ("tangzhong from above"), and the lines used in part."""
    foods = dish.foods()
    used: dict[str, list[DishLine]] = {}
    for at, line in enumerate(foods):
        before = foods[:at]
        source = _source(line, before)
        if source is None:
            continue
        used.setdefault(source, []).append(line)
        what = f'of "{source}"' if source else "of the lines above"
        yield _made(dish, line, what)
    for source, lines in used.items():
        yield from _used_in_part(dish, source, lines)
    told = {line.line_no for lines in used.values() for line in lines}
    yield from _again(dish, [f for f in foods if f.line_no not in told])


def _made(dish: Dish, line: DishLine, what: str) -> LineUse:
    return LineUse(dish.recipe_id, line.line_no, "made", "line", 0.0, 0.0, 0.0,
                   f"made {what}, counted there")  # fmt: skip


def _source(line: DishLine, before: Sequence[DishLine]) -> str | None:
    """The section (or "" for all lines above) that makes what a line uses; None for no use."""
    if not before:
        return None
    above, rest = _points_back(line.text)
    others = dict.fromkeys(b.section for b in before if b.section != line.section)
    if not others and not above and not rest:
        return None
    name = _name(line.text)
    refers = above or rest or _refers(line.text)
    for section in others:
        key = [_stem(w) for w in plain_words(section) if w not in _SECTION_GLUE]
        if not key:
            continue
        if name and _stem(name[-1]) == key[-1]:
            whole = set(key) <= set(map(_stem, name))
            unknown = len(name) == 1 and not line.description  # "Tangzhong"
            if whole and (len(key) > 1 or refers or unknown):
                return section
        if (above or rest) and re.search(rf"\bfrom (?:the )?{re.escape(key[-1])}", line.text, re.I):
            return section
    if above and (_ALL_ABOVE.search(line.text) or not line.description):
        return ""
    rest = rest and not _measured(line)
    if not above and not rest:
        return None
    earlier = [b for b in before if _head(b) and _head(b) == _head(line)]
    if earlier:
        return earlier[-1].section
    return "" if rest else None


@lru_cache(maxsize=KEPT)
def _points_back(text: str) -> tuple[bool, bool]:
    """Whether a line speaks of what stands above it, and of what is left of something."""
    return _ABOVE.search(text) is not None, _REST.search(text) is not None


@lru_cache(maxsize=KEPT)
def _refers(text: str) -> bool:
    return _REFERS.search(text) is not None


@lru_cache(maxsize=KEPT)
def _stem(word: str) -> str:
    return re.sub(r"(?:ed|s)$", "", word)


#: Behind these stands what a line is for, or how it is prepared.
_TAIL = re.compile(r"\([^)]*\)?|,.*$|\b(?:for|to|from|as|plus|divided)\b.*$", re.IGNORECASE)
_MEASURES = frozenset(
    {
        "cup",
        "cups",
        "g",
        "ml",
        "oz",
        "ounces",
        "tbsp",
        "tsp",
        "batch",
        "of",
        "the",
        "all",
        "prepared",
    }
)


@lru_cache(maxsize=KEPT)
def _name(text: str) -> tuple[str, ...]:
    """Words of what a line names, without measures and what it is for."""
    return tuple(w for w in plain_words(_TAIL.sub(" ", text)) if w not in _MEASURES)


def _head(line: DishLine) -> str:
    return line.description.partition(",")[0].lower()


def _measured(line: DishLine) -> bool:
    return line.unit != "" and line.grams > 0


def _used_in_part(dish: Dish, source: str, lines: list[DishLine]) -> Iterator[LineUse]:
    """The lines of a section that is not used up, when what is used of it has a weight."""
    if any(_REST.search(line.text) or not line.grams > 0 for line in lines):
        return
    first = min(line.line_no for line in lines)
    parts = [
        f for f in dish.foods()
        if f.line_no < first and (f.section == source if source else True)
    ]  # fmt: skip
    whole = sum(p.grams for p in parts if p.grams > 0)
    if not whole or any(not p.grams > 0 and p.basis != "open" for p in parts):
        return
    share = sum(line.grams for line in lines) / whole
    if share >= _USED_UP:
        return
    low, high = 0.75 * share, min(1.0, 1.35 * share)
    best, said = (
        (share, high) if source else (1.0, 1.0)
    )  # all lines above: some may be used as they are
    for part in parts:
        yield LineUse(dish.recipe_id, part.line_no, "share", "line", best, low, said,
                      f"{share:.0%} of what these lines make is used")  # fmt: skip


def _again(dish: Dish, foods: list[DishLine]) -> Iterator[LineUse]:
    """ "1½ cups butter", then browned butter in several places that together are as much."""
    groups: dict[str, list[DishLine]] = {}
    for line in foods:
        if _head(line) and line.grams > 0:
            groups.setdefault(_head(line), []).append(line)
    for lines in groups.values():
        made = [line for line in lines if _MADE.search(line.text)]
        plain = [line for line in lines if not _MADE.search(line.text)]
        if not made or not plain:
            continue
        first = plain[0]
        later = [m for m in made if m.line_no > first.line_no]
        ratio = sum(m.grams for m in later) / first.grams
        apart = all(m.section != first.section for m in later)
        if later and 0.75 <= ratio <= 1.1 and (len(later) > 1 or (apart and ratio >= 0.9)):
            for line in later:
                yield _made(dish, line, f'of "{first.text[:40]}"')
