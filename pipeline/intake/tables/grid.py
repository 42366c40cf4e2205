"""Tables whose header does not say how they are read: the explanation that says most of the cells.

A grid may hold a recipe in each column, or in each row with a column a food; recipes as blocks one
below the other, or side by side; or rows that are lines of cards. Each of these is read, and the
reading whose recipes are best borne out (``evidence.worth``) stands, where it is better than none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from statistics import median
from typing import Any

from pipeline.intake.columns import (
    NutrientColumn,
    column_among,
    field_of,
    head_words,
    nutrient_column,
    plain,
    speaks_of_nutrition,
)  # fmt: skip
from pipeline.intake.model import RawRecipe
from pipeline.intake.numbers import Roles
from pipeline.intake.tables.card_rows import Row, joined, list_lines, shown_cell, spaced
from pipeline.intake.tables.layout import layout_of, table_form
from pipeline.intake.text.card import read_roles
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.decoder import decoded
from pipeline.intake.text.evidence import better, leaves_doubt, sound, worth
from pipeline.intake.text.features import known_food

#: Rows of a grid that is looked at in several ways.
_MAX_ROWS = 3_000
_HEADER_ROWS = 6
#: Foods that recipes in columns share, at least, and the share of names that are foods or facts.
_LEAST_FOODS = 3
_KNOWN = 0.6
#: Numbers without a unit are grams where half of them are larger.
_GRAMS_FROM = 15.0
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_IN_GRAMS = re.compile(r"\bg\b|\bgrams?\b", re.IGNORECASE)
_UNIT_BEHIND = re.compile(r"^(.*?\S)\s*[(\[]\s*(g|kg|ml|l|tbsp|tsp|cups?)\s*[)\]]$", re.IGNORECASE)
_ALSO_FOOD = frozenset(("SUGAR", "NA", "WATER", "ALC", "FAT"))
_SAID = {"ENERC_KCAL": "kcal", "PROCNT": "protein", "CHOCDF": "carbs", "FAT": "fat",
         "FIBTG": "fibre", "SUGAR": "sugar", "FASAT": "saturated fat", "CHOAVLDF": "net carbs"}  # fmt: skip
_BASES = {"per_recipe": "Whole recipe", "per_100g": "Per 100 g"}


def better_reading(rows: Sequence[Row], format: str, first: Sequence[RawRecipe]) -> list[RawRecipe]:
    """The recipes of a grid by the reading that explains it best; [] where ``first`` does.

    Args:
        rows: number and cells of each row that holds anything.
        format: name of the format for ``tables.RECIPE``.
        first: how it was read by its header.
    """
    if len(rows) > _MAX_ROWS or not leaves_doubt(first) or _says_all(rows):
        return []
    read = [
        [recipe for recipe in read_roles(lines, format) if sound(recipe)]
        for lines in _explanations(rows) if lines
    ]  # fmt: skip
    best = max(read, key=worth, default=[])
    for position, recipe in enumerate(best):
        recipe.position = position
        for one in recipe.stated:
            one.source_line = None  # its cell is not known, so that no copy is corrected
    told = any(recipe.stated for recipe in best)
    return best if told and better(best, first) else []


def _says_all(rows: Sequence[Row]) -> bool:
    """Whether the names of columns say where titles and ingredients stand."""
    layouts = (layout_of([_text(cell) for cell in cells]) for _, cells in rows[:_HEADER_ROWS])
    return any(layout is not None and layout.roles.keys() & {"title", "id"} for layout in layouts)


def _explanations(rows: Sequence[Row]) -> Iterator[list[CardLine]]:
    yield _in_columns(rows)
    yield _in_columns(_turned(rows))
    names = next((cells for _, cells in rows if sum(map(_filled, cells)) > 2), [])
    named = [(no, cells) for no, cells in spaced(rows) if cells is not names]
    yield decoded([CardLine(no, _named_row(names, cells)) for no, cells in named])
    yield decoded([CardLine(no, joined(cells)) for no, cells in spaced(rows)])
    yield decoded(_beside(rows))
    yield _in_blocks(rows)


def _filled(cell: Any) -> bool:
    return cell is not None and str(cell).strip() != ""


def _text(cell: Any) -> str:
    return shown_cell(cell).strip() if _filled(cell) else ""


def _turned(rows: Sequence[Row]) -> list[Row]:
    width = max((len(cells) for _, cells in rows), default=0)
    first = rows[0][0] if rows else 1
    return [
        (first, [cells[at] if at < len(cells) else None for _, cells in rows])
        for at in range(width)
    ]


def _named_row(names: Sequence[Any], cells: Sequence[Any]) -> str:
    """A row as one line, each number with the name of its column: "Bean salad | serves 3"."""
    out: list[str] = []
    headers = [_text(name) for name in names] + [""] * (len(cells) - len(names))
    for cell, name in zip(map(_text, cells), headers, strict=False):
        if not cell:
            continue
        if any(c.isalpha() for c in cell) or not name:
            out.append(cell)
        elif Roles(name).search("^ [metric unit] $") and out:
            out[-1] += f" {cell} {name}"  # the weight of the food before it
        elif field_of(plain(name), "column") == "servings":
            out.append(f"serves {cell}")
        elif (column := column_among(name, names)) is not None:
            if column.tag in _SAID.keys() - _ALSO_FOOD or column.tag == "FAT":
                out.append(_stated(column, cell))  # "sugar 5 g" would be an ingredient
        elif _may_name(name):
            out.append(f"{name} {cell}")
    return " | ".join(out)


def _beside(rows: Sequence[Row]) -> list[CardLine]:
    """Blocks side by side, of equal width, each below its name in one row, one after the other."""
    top = next(
        (at for at, (_, cells) in enumerate(rows[:_HEADER_ROWS]) if sum(map(_filled, cells)) > 1),
        None,
    )
    if top is None:
        return []
    cells = rows[top][1]
    starts = [at for at, cell in enumerate(cells) if _filled(cell)]
    steps = {b - a for a, b in pairwise(starts)}
    if len(steps) != 1 or min(steps) < 2:
        return []
    out: list[CardLine] = []
    for start, end in pairwise([*starts, starts[-1] + steps.pop()]):
        out.append(CardLine(rows[top][0], ""))
        out += [CardLine(no, joined(line[start:end])) for no, line in spaced(rows[top:])]
    return out


def _in_blocks(rows: Sequence[Row]) -> list[CardLine]:
    """Small tables one below the other, each with its title and a header of its own."""
    blocks: list[list[Row]] = [[]]
    for no, cells in spaced(rows):
        if cells:
            blocks[-1].append((no, cells))
        elif blocks[-1]:
            blocks.append([])
    out: list[CardLine] = []
    for block in blocks:
        headers = [layout_of([_text(c) for c in cells]) is not None for _, cells in block]
        if not any(headers[1:_HEADER_ROWS]):
            continue
        at = headers.index(True)
        head = [
            CardLine(no, " | ".join(filter(None, map(_text, cells)))) for no, cells in block[:at]
        ]
        header = [_text(cell) for cell in block[at][1]]
        form = table_form(header, [cells for _, cells in block[at + 1 :]])
        header = form.names if form is not None else header
        out += [CardLine(block[0][0], ""), *head]
        out += list_lines(header, block[at][0], block[at + 1 :])
    return decoded(out)


def _in_columns(rows: Sequence[Row]) -> list[CardLine]:
    """A recipe in each column, the names of foods, servings and nutrients in the first."""
    for top in range(min(_HEADER_ROWS, len(rows))):
        titles = {
            at: text
            for at, text in enumerate(map(_text, rows[top][1]))
            if at and sum(c.isalpha() for c in text) > 2
        }
        body = [(no, _text(cells[0]), cells) for no, cells in rows[top + 1 :] if cells]
        if len(titles) > 1 and _names(body) and not any(map(_names_column, titles.values())):
            corner = " ".join(_text(cells[0]) for _, cells in rows[: top + 1] if cells)
            return _columns(titles, rows[top][0], body, corner)
    return []


def _may_name(name: str) -> bool:
    """Whether a name says what the numbers below it are: a fact, a nutrient, a food, "for"."""
    known = _names_column(name) or plain(name) in head_words("for")
    return known or (not speaks_of_nutrition(name) and known_food(name.lower()))


def _names_column(text: str) -> bool:
    return field_of(plain(text), "column") is not None or nutrient_column(text) is not None


def _names(body: Sequence[tuple[int, str, Sequence[Any]]]) -> bool:
    """Whether the first column names foods and what a recipe states."""
    texts = [name for _, name, _ in body if name]
    foods = [name for name in texts if not _names_column(name) and known_food(name.lower())]
    told = [name for name in texts if _names_column(name)]
    energy = any((c := nutrient_column(name)) and c.tag == "ENERC_KCAL" for name in told)
    known = len(foods) + len(told) >= _KNOWN * len(texts)
    return energy and len(set(foods)) >= _LEAST_FOODS and known


def _columns(
    titles: dict[int, str], no: int, body: Sequence[tuple[int, str, Sequence[Any]]], corner: str
) -> list[CardLine]:
    nutrients = _nutrients(body)
    bare = [float(c) for at, (_, _, cells) in enumerate(body) if at not in nutrients
            for c in cells[1:] if _NUMBER.fullmatch(_text(c))]  # fmt: skip
    grams = bool(_IN_GRAMS.search(corner)) or (bool(bare) and median(bare) >= _GRAMS_FROM)
    out: list[CardLine] = []
    for column, title in titles.items():
        said: dict[str, list[str]] = {}
        out.append(CardLine(no, title, begins=True, role="title"))
        for at, (row, name, cells) in enumerate(body):
            cell = _text(cells[column]) if column < len(cells) else ""
            if not name or not any(c.isalnum() for c in cell):
                continue
            if (told := nutrients.get(at)) is not None:
                said.setdefault(_BASES.get(told.basis or "", "Per serving"), []).append(
                    _stated(told, cell)
                )
            elif field_of(plain(name), "column") == "servings":
                out.append(CardLine(row, cell, role="yield"))
            elif field_of(plain(name), "column") is None and cell not in ("0", "0.0"):
                out.append(CardLine(row, _item(name, cell, grams), role="item"))
        out += [
            CardLine(no, f"{b}: {', '.join(parts)}", role="numbers") for b, parts in said.items()
        ]
    return out


def _nutrients(body: Sequence[tuple[int, str, Sequence[Any]]]) -> dict[int, NutrientColumn]:
    """Rows that state a nutrient; one whose name is also a food's does beside another of them."""
    columns = {at: c for at, (_, name, _) in enumerate(body) if (c := nutrient_column(name))}
    sure = {at for at, column in columns.items() if column.tag not in _ALSO_FOOD}
    return {
        at: column for at, column in columns.items()
        if at in sure or min((abs(at - one) for one in sure), default=9) < 4
    }  # fmt: skip


def _stated(column: NutrientColumn, cell: str) -> str:
    if column.salt:
        return f"salt {cell}"
    name = "kJ" if column.unit == "kj" else _SAID.get(column.tag, column.tag)
    bare = not any(c.isalpha() for c in cell)
    if column.tag == "ENERC_KCAL":
        return f"{cell} {name}" if bare else cell
    return f"{name} {cell} {column.unit or 'g'}" if bare else f"{name} {cell}"


def _item(name: str, cell: str, grams: bool) -> str:
    if any(c.isalpha() for c in cell):
        return f"{cell} {name}"
    behind = _UNIT_BEHIND.match(name)
    if behind:
        return f"{cell} {behind[2]} {behind[1]}"
    return f"{cell} g {name}" if grams else f"{cell} {name}"
