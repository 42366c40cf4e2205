"""A recipe's servings, yield or one line, changed in its own file; everything else stays as it was.

There is no writer a format: likely edits of the text are tried, the text is read again after each,
and the first that gives the recipe exactly what was asked, and leaves every other recipe and line
alone, is taken. Where none does, nothing is written and the place to change by hand is named.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.intake.files import decode, is_utf8
from pipeline.intake.model import RawLine, RawRecipe
from pipeline.problems import SteelyardError, failure
from pipeline.publish.numbers import as_saved
from pipeline.publish.table_cells import with_cells
from pipeline.publish.yaml_text import apply_edits

if TYPE_CHECKING:
    from pathlib import Path

    from pipeline.intake.collect import Collection

#: Endings whose files are no plain text.
_BINARY = frozenset({".xlsx", ".xlsm", ".parquet", ".pdf", ".epub", ".docx", ".odt"})
_SERVINGS = re.compile(r"\b(?:serves|servings?|portions?|makes|feeds|yields?|recipeYield)\b", re.I)
_WEIGHT = re.compile(r"\b(?:yield_g|(?:cooked|total|finished|final)[ _]weight(?:_g)?)\b", re.I)
_FIGURE = re.compile(r"\d+(?:[.,]\d+)?(?:\s*(?:-|–|to)\s*\d+(?:[.,]\d+)?)?")
_UNIT = re.compile(r"\s*(?:kg|kilos?|grams?|g|lbs?|oz)\b", re.I)
_TITLE_KEY = re.compile(r"^(?P<margin>\s*(?:-\s+)?)(?:title|name)\s*:")


@dataclass(frozen=True, slots=True)
class Amendment:
    """What to change of a recipe; None leaves it.

    Attributes:
        servings: how many it makes, above zero.
        yield_g: weight of the whole as served, in g, above zero.
        line_no: the ingredient line to replace by ``texts``, headings counted, from 1.
    """

    servings: float | None = None
    yield_g: float | None = None
    line_no: int | None = None
    texts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Amended:
    """A text before and after, and the file it is of."""

    path: Path
    before: str
    after: str


def amend(collection: Collection, recipe_id: str, change: Amendment) -> Amended:
    """The file of a recipe with a change in it; nothing is written here.

    Args:
        collection: as read; the file is read again.

    Raises:
        SteelyardError: the file cannot hold the change in a way that reads back; it says where to
            make it by hand.
        OSError: the file cannot be read.
        KeyError: there is no such recipe, or no file of it.
    """
    row: Any = collection.recipe.set_index("recipe_id").loc[recipe_id]
    source, position = str(row["source"]), int(row["position"])
    path = collection.files[source]
    binary = path.suffix.lower() in _BINARY or str(row["format"]) == "script"
    data = b"" if binary else path.read_bytes()
    if binary or not is_utf8(data):
        raise _by_hand(collection, recipe_id, source, change)
    text = decode(data, source)[0]
    before = _read(text, source)
    if not before and (collection.recipe["source"] == source).sum() == 1:
        before = [_as_collected(collection, recipe_id)]  # other files tell that it is one
    at = next((n for n, recipe in enumerate(before) if recipe.position == position), None)
    if at is None:
        raise _by_hand(collection, recipe_id, source, change)
    wanted = _wanted(before, at, change)
    for after in _candidates(text, before, at, change):
        if after != text and _content(_read(after, source)) == wanted:
            return Amended(path, as_saved(text, data), as_saved(after, data))
    raise _by_hand(collection, recipe_id, source, change)


def _read(text: str, source: str) -> list[RawRecipe]:
    from pipeline.intake.reading import read_text

    return read_text(text, source).recipes


def _as_collected(collection: Collection, recipe_id: str) -> RawRecipe:
    """A recipe as its file would say it if it were one by itself: without numbers or servings."""
    row = collection.recipe[collection.recipe["recipe_id"] == recipe_id].iloc[0]
    lines = collection.line[collection.line["recipe_id"] == recipe_id]
    return RawRecipe(
        str(row["title"]), str(row["format"]), int(row["position"]), yield_g=float(row["yield_g"]),
        source_line=None if row["source_line"] is pd.NA else int(row["source_line"]),
        lines=[RawLine(*one) for one in zip(lines["text"], lines["section"], strict=True)],
    )  # fmt: skip


def _content(recipes: Sequence[RawRecipe]) -> list[tuple[Any, ...]]:
    """What the recipes of a file say, places apart."""
    return [
        (
            r.title, _plain(r.servings), r.serving_word, _plain(r.yield_g), r.creator, r.own_id,
            tuple((one.text, one.section) for one in r.lines),
            tuple((s.nutrient, s.amount, s.basis) for s in r.stated),
        )
        for r in recipes
    ]  # fmt: skip


def _plain(value: float) -> float | None:
    return None if math.isnan(value) else round(value, 6)


def _wanted(recipes: Sequence[RawRecipe], at: int, change: Amendment) -> list[tuple[Any, ...]]:
    new = replace(recipes[at])
    if change.servings is not None:
        new.servings = change.servings
        if math.isnan(recipes[at].servings):
            new.serving_word = new.serving_word or "servings"
    if change.yield_g is not None:
        new.yield_g = change.yield_g
    if change.line_no is not None:
        place = change.line_no - 1
        texts = [RawLine(text, new.lines[place].section) for text in change.texts]
        new.lines = [*new.lines[:place], *texts, *new.lines[place + 1 :]]
    return _content([*recipes[:at], new, *recipes[at + 1 :]])


def _candidates(
    text: str, recipes: Sequence[RawRecipe], at: int, change: Amendment
) -> Iterator[str]:
    """Texts that may hold the change, the smallest edit first."""
    if change.line_no is not None:
        yield from _lines(text, recipes[at], change)
    for role, number, words, card in (
        ("servings", change.servings, _SERVINGS, "Serves {}"),
        ("yield_g", change.yield_g, _WEIGHT, "Cooked weight: {} g"),
    ):
        if number is None:
            continue
        shown = f"{number:g}"
        if recipes[at].format == "csv":
            in_place = partial(_FIGURE.sub, shown, count=1)  # "16 squares" stays squares
            for value in (in_place, shown):
                edited = with_cells(text, recipes[at].position, role, value)
                if edited is not None:
                    yield edited
        yield from _numbers(text, recipes, at, words, shown)
        yield from _inserted(text, recipes[at], card.format(shown), f"{role}: {shown}")


def _numbers(
    text: str, recipes: Sequence[RawRecipe], at: int, word: re.Pattern[str], shown: str
) -> Iterator[str]:
    """The first number behind (or before) each such word in the recipe's part of the file."""
    start, end = _part(text, recipes, at)
    everywhere = [*word.finditer(text, start, end), *word.finditer(text)]
    for found in everywhere:
        line_end = text.find("\n", found.end())
        stop = line_end if line_end >= 0 else len(text)
        line_start = text.rfind("\n", 0, found.start()) + 1
        for place in (
            _FIGURE.search(text, found.end(), stop),
            _FIGURE.search(text, line_start, found.start()),
        ):
            if place is not None:
                yield apply_edits(text, [(place.start(), place.end(), shown)])
                unit = _UNIT.match(text, place.end(), stop)
                if unit is not None:
                    yield apply_edits(text, [(place.start(), unit.end(), f"{shown} g")])


def _part(text: str, recipes: Sequence[RawRecipe], at: int) -> tuple[int, int]:
    """Characters from the recipe's start to the next one's; the whole text when unknown."""
    starts = [0, *(found.end() for found in re.finditer("\n", text))]
    begins = recipes[at].source_line
    following = [r.source_line for r in recipes[at + 1 :] if r.source_line]
    start = starts[begins - 1] if begins and begins <= len(starts) else 0
    stop = following[0] - 1 if following and following[0] <= len(starts) else None
    end = starts[stop] if stop is not None else len(text)
    return (start, end) if start < end else (0, len(text))


def _inserted(text: str, recipe: RawRecipe, card: str, key: str) -> Iterator[str]:
    """A line of its own below the title: as a card says it, and as a key of YAML."""
    lines = text.split("\n")
    first = (recipe.source_line or 1) - 1
    for at in range(max(first, 0), min(first + 6, len(lines))):
        found = _TITLE_KEY.match(lines[at])
        if found:
            margin = re.sub(r"-", " ", found["margin"])
            yield "\n".join([*lines[: at + 1], f"{margin}{key}", *lines[at + 1 :]])
    for at in range(max(first, 0), min(first + 3, len(lines))):
        for new in ([card], ["", card]):
            yield "\n".join([*lines[: at + 1], *new, *lines[at + 1 :]])


def _lines(text: str, recipe: RawRecipe, change: Amendment) -> Iterator[str]:
    """The line's place in the file with each new text in place of the old one."""
    assert change.line_no is not None
    old = recipe.lines[change.line_no - 1]
    lines = text.split("\n")
    near = (old.source_line or 1) - 1
    order = sorted(range(len(lines)), key=lambda at: (abs(at - near), at))
    for quoted in (False, True):
        was = json.dumps(old.text, ensure_ascii=False)[1:-1] if quoted else old.text
        new = [json.dumps(t, ensure_ascii=False)[1:-1] if quoted else t for t in change.texts]
        for at in order:
            place = lines[at].find(was)
            if place < 0:
                continue
            before, behind = lines[at][:place], lines[at][place + len(was) :]
            yield _with(lines, at, [before + t + behind for t in new])
            if not behind.rstrip().endswith(","):  # the last of a list
                parts = [before + t + behind.rstrip() + "," for t in new[:-1]]
                yield _with(lines, at, [*parts, before + new[-1] + behind])
            yield _with(lines, at, [before + '", "'.join(new) + behind])  # a list on one line


def _with(lines: list[str], at: int, new: list[str]) -> str:
    return "\n".join([*lines[:at], *new, *lines[at + 1 :]])


def _by_hand(
    collection: Collection, recipe_id: str, source: str, change: Amendment
) -> SteelyardError:
    rows = collection.recipe
    if change.line_no is not None:
        line = collection.line
        mine = line[(line["recipe_id"] == recipe_id) & (line["line_no"] == change.line_no)]
        rows = mine if len(mine) else rows
    at = rows.loc[rows["recipe_id"] == recipe_id, "source_line"].iloc[0]
    kind = "weight" if change.servings is None else "servings"
    return failure(
        f"file-not-amended/{kind if change.line_no is None else 'line'}", source=source,
        source_line=None if at is None or at != at or str(at) == "<NA>" else int(at),
        recipe_id=recipe_id, line_number=change.line_no, texts="; ".join(change.texts),
        amount=change.yield_g if change.servings is None else change.servings,
    )  # fmt: skip
