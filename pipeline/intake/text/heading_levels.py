"""At which level of headings the recipes of a text stand, and which headings begin one.

Two headings of one level that each have a list and numbers or a yield below them are recipes; so are
the others of that level with a list, unless what stands above is not over yet: "For the sauce" between
the list and the numbers of a recipe is a part of it, whatever its level.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from pipeline.intake.entries import is_heading
from pipeline.intake.facts_line import yield_line
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import may_be_title
from pipeline.intake.text.line_kinds import (
    GENERIC,
    MAYBE_STATED,
    begins_section,
    looks_like_ingredient,
    states,
    unmarked,
)

_LEAST_ITEMS = 2
_LEAST_RECIPES = 2


@dataclass(slots=True)
class _Stretch:
    """What stands below a heading, as far as the next of its level or above: items of a list, what
    tells that they are a recipe's, and whether that stands below the list."""

    at: int
    items: int = 0
    amounts: int = 0
    told: set[str] = field(default_factory=set)
    over: bool = False

    @property
    def listed(self) -> bool:
        return self.items >= _LEAST_ITEMS and self.amounts > 0

    def add(self, text: str) -> None:
        if MAYBE_STATED.search(text) and states(text):
            self._is_told("numbers")
        elif looks_like_ingredient(text):
            self.items, self.over = self.items + 1, False
            self.amounts += any(map(str.isnumeric, text))
        elif yield_line(text):
            self._is_told("yield")

    def _is_told(self, what: str) -> None:
        self.told.add(what)
        self.over = self.listed


def with_beginnings(lines: Sequence[CardLine]) -> Sequence[CardLine]:
    """Lines of which the headings that begin a recipe say so; as they are where no level shows."""
    levels = {line.level for line in lines if line.level}
    for level in sorted(levels, reverse=True):
        stretches = list(_stretches(lines, level))
        if sum(one.listed and bool(one.told) for one in stretches) >= _LEAST_RECIPES:
            begins = _beginning(stretches)
            return [
                replace(line, begins=True) if at in begins else line
                for at, line in enumerate(lines)
            ]
    return lines


def _stretches(lines: Sequence[CardLine], level: int) -> Iterator[_Stretch]:
    """The stretches of the headings of a level that may be titles."""
    stretch: _Stretch | None = None
    for at, line in enumerate(lines):
        if 0 < line.level <= level:
            if stretch is not None:
                yield stretch
            stretch = _Stretch(at) if line.level == level and _may_begin(line.text) else None
            if stretch is not None and states(line.text):  # "Pork bowl (508 cal, 41P/71C/7F)"
                stretch.told.add("numbers")
        elif stretch is not None:
            stretch.add(line.text.strip())
    if stretch is not None:
        yield stretch


def _may_begin(text: str) -> bool:
    bare = unmarked(text)
    section = begins_section(bare) or is_heading(bare) or GENERIC.match(bare)
    if section or yield_line(bare):
        return False
    before = min((one.span[0] for one in read_stated_line(bare).found), default=len(bare))
    return may_be_title(bare[:before].strip(" (["))


def _beginning(stretches: Sequence[_Stretch]) -> set[int]:
    """Places of the headings that begin a recipe.

    Where every list that is told of stands below one that is not, the two are parts of one recipe.
    """
    listed = [one for one in stretches if one.listed]
    pairs = list(zip([None, *listed], listed, strict=False))
    in_parts = all(above and not above.told for above, one in pairs if one.told)
    return {
        one.at for above, one in pairs
        if above is None or above.over or one.told & above.told
        or (one.told and not above.told and not in_parts)
    }  # fmt: skip
