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
_OPTIONAL_SECTION = re.compile(r"\boptional\b|\bif (?:desired|liked|using)\b", re.IGNORECASE)
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
        said = line.said
        if not why and (said.or_first or said_or):
            why = "an alternative"
        said_or = said.or_last
        if said_or and said.of_choice:  # the lines that follow say which
            why, said_or = "an alternative", False
        if not why and (said.optional or _is_optional_section(line.section)):
            why = "optional"
        if why:
            use = "optional" if why == "optional" else "if_added"
            yield LineUse(dish.recipe_id, line.line_no, use, "line", 0.0, 0.0, 1.0, why)


@lru_cache(maxsize=KEPT)
def _is_optional_section(section: str) -> bool:
    return _OPTIONAL_SECTION.search(section) is not None


def made_of_lines(dish: Dish) -> Iterator[LineUse]:
    """Lines that use what earlier lines make ("tangzhong from above"), and the lines used in part."""
    foods = dish.foods()
    sections = {line.section for line in foods}
    if len(sections) < 2 and not any(line.said.above or line.said.rest for line in foods):
        yield from _again(dish, foods)
        return
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
    said = line.said
    above, rest = said.above, said.rest
    others = dict.fromkeys(b.section for b in before if b.section != line.section)
    if not others and not above and not rest:
        return None
    name = said.name
    refers = above or rest or said.refers
    for section in others:
        key = [_stem(w) for w in plain_words(section) if w not in _SECTION_GLUE]
        if not key:
            continue
        if name and _stem(name[-1]) == key[-1]:
            whole = set(key) <= set(map(_stem, name))
            unknown = len(name) == 1 and not line.description  # "Tangzhong"
            if whole and (len(key) > 1 or refers or unknown):
                return section
        if (above or rest) and said.from_the(key[-1]):
            return section
    if above and (said.all_above or not line.description):
        return ""
    rest = rest and not _measured(line)
    if not above and not rest:
        return None
    earlier = [b for b in before if _head(b) and _head(b) == _head(line)]
    if earlier:
        return earlier[-1].section
    return "" if rest else None


@lru_cache(maxsize=KEPT)
def _stem(word: str) -> str:
    return re.sub(r"(?:ed|s)$", "", word)


def _head(line: DishLine) -> str:
    return line.description.partition(",")[0].lower()


def _measured(line: DishLine) -> bool:
    return line.unit != "" and line.grams > 0


def _used_in_part(dish: Dish, source: str, lines: list[DishLine]) -> Iterator[LineUse]:
    """The lines of a section that is not used up, when what is used of it has a weight."""
    if any(line.said.rest or not line.grams > 0 for line in lines):
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


def _again(dish: Dish, foods: Sequence[DishLine]) -> Iterator[LineUse]:
    """ "1½ cups butter", then browned butter in several places that together are as much."""
    if not any(line.said.made for line in foods):
        return
    groups: dict[str, list[DishLine]] = {}
    for line in foods:
        if _head(line) and line.grams > 0:
            groups.setdefault(_head(line), []).append(line)
    for lines in groups.values():
        made = [line for line in lines if line.said.made]
        plain = [line for line in lines if not line.said.made]
        if not made or not plain:
            continue
        first = plain[0]
        later = [m for m in made if m.line_no > first.line_no]
        ratio = sum(m.grams for m in later) / first.grams
        apart = all(m.section != first.section for m in later)
        if later and 0.75 <= ratio <= 1.1 and (len(later) > 1 or (apart and ratio >= 0.9)):
            for line in later:
                yield _made(dish, line, f'of "{first.text[:40]}"')
