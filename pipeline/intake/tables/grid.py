"""Tables whose header does not say how they are read: the explanation that says most of the cells.

A grid may hold a recipe in each column, or in each row with a column a food; recipes as blocks one
below the other, or side by side; or rows that are lines of cards. Each of these is read, and the
reading whose recipes are best borne out (``evidence.worth``) stands, where it is better than none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, takewhile
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
from pipeline.intake.patterns import pattern
from pipeline.intake.tables.card_rows import (
    BASES,
    Row,
    is_empty,
    joined,
    names_columns,
    shown_cell,
    spaced,
    table_lines,
    trimmed,
)
from pipeline.intake.tables.layout import Form, food_line, layout_of, names_food, table_form
from pipeline.intake.tables.panels import is_panel, strips
from pipeline.intake.text.card import read_roles
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.decoder import decoded
from pipeline.intake.text.evidence import better, leaves_doubt, sound, worth
from pipeline.intake.text.features import known_food

#: Rows of a grid that is looked at in several ways.
_MAX_ROWS = 3_000
_HEADER_ROWS = 12
#: Lines of an explanation are numbered by their row and, in multiples of this, their first column.
_COLUMN = 1 << 24
#: Foods that recipes in columns share, at least, and the share of names that are foods or facts.
_LEAST_FOODS = 3
_KNOWN = 0.6
#: Numbers without a unit are grams where half of them are larger.
_GRAMS_FROM = 15.0
_ZERO = ("0", "0.0")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_IN_GRAMS = re.compile(r"\bg\b|\bgrams?\b", re.IGNORECASE)
_ALSO_FOOD = frozenset(("SUGAR", "NA", "WATER", "ALC", "FAT"))
_SAID = {"ENERC_KCAL": "kcal", "PROCNT": "protein", "CHOCDF": "carbs", "FAT": "fat",
         "FIBTG": "fibre", "SUGAR": "sugar", "FASAT": "saturated fat", "CHOAVLDF": "net carbs"}  # fmt: skip


def better_reading(rows: Sequence[Row], format: str, first: Sequence[RawRecipe]) -> list[RawRecipe]:
    """The recipes of a grid by the reading that explains it best; [] where ``first`` does.

    Args:
        rows: number and cells of each row that holds anything.
        format: name of the format for ``tables.RECIPE``.
        first: how it was read by its header.
    """
    parts = strips(rows)
    if (
        not 0 < len(rows) <= _MAX_ROWS
        or not leaves_doubt(first)
        or (len(parts) < 2 and _says_all(rows))
    ):
        return []
    best = [recipe for recipe in _told_in_cells(rows) if sound(recipe)] or max(
        (
            [recipe for recipe in read_roles(lines, format) if sound(recipe)]
            for lines in _explanations(rows) if lines
        ),
        key=worth,
        default=[],
    )  # fmt: skip
    for position, recipe in enumerate(best):
        recipe.position = position
        _place(recipe)
    told = any(recipe.stated for recipe in best)
    return best if told and better(best, first) else []


def _told_in_cells(rows: Sequence[Row]) -> list[RawRecipe]:
    """Recipes that stand as text in single cells: the posts of an export, a row a post."""
    from pipeline.intake.structured.text_values import recipes_in_texts  # here: few tables hold any

    names, *below = [
        [str(cell).strip() if _filled(cell) else "" for cell in cells] for _, cells in rows
    ]
    if not any("\n" in cell for cells in below for cell in cells):
        return []
    line = {cell: no for (no, _), cells in zip(rows[1:], below, strict=True) for cell in cells}
    return recipes_in_texts([dict(zip(names, cells, strict=False)) for cells in below], line.get)


def _place(recipe: RawRecipe) -> None:
    """Put rows and columns in the place of the numbers of an explanation's lines."""
    for stated in recipe.stated:
        stated.column = (stated.source_line or 0) // _COLUMN
    parts: list[Any] = [recipe, *recipe.lines, *recipe.stated]
    for part in parts:
        part.source_line = part.source_line % _COLUMN if part.source_line else part.source_line
    recipe.problems = [
        replace(p, source_line=p.source_line % _COLUMN if p.source_line else p.source_line)
        for p in recipe.problems
    ]


def find_header(rows: Sequence[Row]) -> tuple[int, Form] | None:
    """Index of the row that names the columns, and how the rows below it are read."""
    for named in (True, False):
        for at, (_, cells) in enumerate(rows[:_HEADER_ROWS]):
            header = [_text(cell) for cell in cells]
            known = layout_of(header) is not None if named else not at or _names_amounts(header)
            if len(cells) > 1 and known:
                form = table_form(header, [below for _, below in spaced(rows[at + 1 :])])
                if form is not None:
                    return at, form
    return None


def _names_amounts(header: Sequence[str]) -> bool:
    """Whether a row names a column of amounts, beside others."""
    return any(field_of(plain(name), "column") in ("amount", "grams") for name in header)


def whole_recipes(rows: Sequence[Row]) -> list[CardLine]:
    """The lines of the recipes that a small table holds with their titles; [] for any other."""
    found = find_header(rows)
    layout = layout_of(found[1].names) if found is not None else None
    titled = layout is not None and "title" in layout.roles
    if found is not None and titled and not found[1].blocks and not found[0]:
        return table_lines(found[1], rows)
    lines = _in_columns(rows) or _in_columns(_turned(rows), [no for no, _ in rows])
    for parts in (strips(rows), _equal_strips(rows)) if not lines else ():
        made = _side_by_side(parts) if len(parts) > 1 else []
        told = [one for one in read_roles(made, "") if one.stated and sound(one)]
        lines = made if len(told) > 1 else lines
    for line in lines:
        line.no %= _COLUMN
    return lines


def _says_all(rows: Sequence[Row]) -> bool:
    """Whether the names of columns say where titles and ingredients stand."""
    layouts = (layout_of([_text(cell) for cell in cells]) for _, cells in rows[:_HEADER_ROWS])
    return any(layout is not None and layout.roles.keys() & {"title", "id"} for layout in layouts)


def _explanations(rows: Sequence[Row], *, whole: bool = True) -> Iterator[list[CardLine]]:
    yield (headed := _by_header(rows))
    yield decoded(headed)
    yield _in_columns(rows)
    yield _in_columns(_turned(rows), [no for no, _ in rows])
    names = next((cells for _, cells in rows if sum(map(_filled, cells)) > 2), [])
    rows = [row for row in rows if row[1] is names or not names_columns(row[1])]
    named = [(no, cells) for no, cells in spaced(rows) if cells is not names]
    yield decoded([CardLine(no, _named_row(names, cells)) for no, cells in named])
    yield decoded([CardLine(no, joined(cells)) for no, cells in spaced(rows)])
    if len(blocks := _blocks(rows)) > 1:
        lines = [line for block in blocks for line in _by_header(block) or _as_lines(block)]
        yield lines
        yield decoded(lines)
    for parts in (strips(rows), _equal_strips(rows)) if whole else ():
        if len(parts) > 1:
            yield _side_by_side(parts)


def _by_header(rows: Sequence[Row]) -> list[CardLine]:
    found = find_header(rows)
    return table_lines(found[1], rows[found[0] :], rows[: found[0]]) if found is not None else []


def _as_lines(rows: Sequence[Row]) -> list[CardLine]:
    return [CardLine(rows[0][0], ""), *(CardLine(no, joined(cells)) for no, cells in rows)]


def _side_by_side(parts: Sequence[tuple[int, list[Row]]]) -> list[CardLine]:
    """Strips one after the other, each by its best explanation, the numbers beside one within it."""
    out: list[CardLine] = []
    for at, (start, rows) in enumerate(parts):
        if at and is_panel(rows):
            continue
        read = [lines for lines in _explanations(rows, whole=False) if lines]
        lines = max(read, key=lambda lines: worth(read_roles(lines, "")), default=[])
        beside = [
            CardLine(no + first * _COLUMN, joined(cells), role="numbers")
            for first, panel in takewhile(lambda part: is_panel(part[1]), parts[at + 1 :])
            for no, cells in panel
        ]
        begins = [line.no for line in lines if line.begins]
        recipe_of = [sum(begin <= line.no for begin in begins) for line in lines]
        for line in lines:
            line.no += start * _COLUMN
        out.append(CardLine(rows[0][0] + start * _COLUMN, ""))
        for recipe in range(len(begins) + 1):
            out += [line for line, own in zip(lines, recipe_of, strict=True) if own == recipe]
            out += [line for line in beside if _stands_in(line.no % _COLUMN, begins, recipe)]
    return out


def _stands_in(row: int, begins: Sequence[int], recipe: int) -> bool:
    """Whether a row stands beside those of a recipe, the first of which begins at ``begins[0]``."""
    return recipe == max(bool(begins), sum(begin <= row for begin in begins))


def _filled(cell: Any) -> bool:
    return not is_empty(cell)


def _text(cell: Any) -> str:
    return shown_cell(cell).strip() if _filled(cell) else ""


def _turned(rows: Sequence[Row]) -> list[Row]:
    width = max((len(cells) for _, cells in rows), default=0)
    return [
        (at * _COLUMN, [cells[at] if at < len(cells) else None for _, cells in rows])
        for at in range(width)
    ]


def _named_row(names: Sequence[Any], cells: Sequence[Any]) -> str:
    """A row as one line, each number with the name of its column: "Bean salad | serves 3"."""
    out: list[str] = []
    headers = [_text(name) for name in names] + [""] * (len(cells) - len(names))
    for cell, name in zip(map(_text, cells), headers, strict=False):
        if not cell:
            continue
        known = field_of(plain(name), "column") == "servings" or column_among(name, names)
        food = out and not any(c.isdigit() for c in out[-1]) and known_food(out[-1].lower())
        if food and not known and pattern("amount_alone").match(cell):
            unit = f" {name}" if Roles(name).search("^ [metric unit] $") else ""
            out[-1] = f"{cell}{unit} {out[-1]}"
        elif any(c.isalpha() for c in cell) or not name:
            out.append(cell)
        elif field_of(plain(name), "column") == "servings":
            out.append(f"serves {cell}")
        elif (column := column_among(name, names)) is not None:
            if column.tag in _SAID.keys() - _ALSO_FOOD or column.tag == "FAT":
                out.append(_stated(column, cell))  # "sugar 5 g" would be an ingredient
        elif _may_name(name):
            out.append(food_line(name, cell) if names_food(name) else f"{name} {cell}")
    return " | ".join(out)


def _equal_strips(rows: Sequence[Row]) -> list[tuple[int, list[Row]]]:
    """Blocks side by side, of equal width, each below its name in one row."""
    for _, cells in rows[:_HEADER_ROWS]:
        starts = [at for at, cell in enumerate(cells) if _filled(cell)]
        steps = {b - a for a, b in pairwise(starts)}
        if len(steps) == 1 and (step := steps.pop()) > 1:
            return [
                (start, [(no, part) for no, row in rows if (part := trimmed(row[start : start + step]))])
                for start in starts
            ]  # fmt: skip
    return []


def _blocks(rows: Sequence[Row]) -> list[list[Row]]:
    """The rows between empty ones."""
    blocks: list[list[Row]] = [[]]
    for no, cells in spaced(rows):
        if cells:
            blocks[-1].append((no, cells))
        elif blocks[-1]:
            blocks.append([])
    return blocks


def _in_columns(rows: Sequence[Row], places: Sequence[int] = ()) -> list[CardLine]:
    """A recipe in each column, the names of foods, servings and nutrients in the first.

    ``places``: of the columns of a grid that was turned, the numbers of its rows.
    """
    for top in range(min(_HEADER_ROWS, len(rows))):
        titles = {
            at: text
            for at, text in enumerate(map(_text, rows[top][1]))
            if at and sum(c.isalpha() for c in text) > 2
        }
        body = [(no, _text(cells[0]), cells) for no, cells in rows[top + 1 :] if cells]
        if len(titles) > 1 and _names(body) and not any(map(_names_column, titles.values())):
            corner = " ".join(_text(cells[0]) for _, cells in rows[: top + 1] if cells)
            return [
                line
                for at, title in titles.items()
                for line in _column(
                    at, title, rows[top][0], body, corner, places[at] if places else at * _COLUMN
                )
            ]
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
    columns = {name: column_among(name, texts) for name in texts}
    told = [name for name in texts if columns[name] or field_of(plain(name), "column") is not None]
    foods = [name for name in texts if name not in told and known_food(name.lower())]
    energy = any(column and column.tag == "ENERC_KCAL" for column in columns.values())
    known = len(foods) + len(told) >= _KNOWN * len(texts)
    return energy and len(set(foods)) >= _LEAST_FOODS and known


def _column(
    column: int,
    title: str,
    no: int,
    body: Sequence[tuple[int, str, Sequence[Any]]],
    corner: str,
    place: int,
) -> Iterator[CardLine]:
    """The recipe of one column; ``place`` is added to the numbers of its rows."""
    nutrients = _nutrients(body)
    bare = [float(c) for at, (_, name, cells) in enumerate(body)
            if at not in nutrients and not food_line(name, "1")
            for c in cells[1:] if _NUMBER.fullmatch(_text(c))]  # fmt: skip
    grams = bool(_IN_GRAMS.search(corner)) or (bool(bare) and median(bare) >= _GRAMS_FROM)
    numbers: list[CardLine] = []
    yield CardLine(no + place, title, begins=True, role="title")
    for at, (row, name, cells) in enumerate(body):
        cell = _text(cells[column]) if column < len(cells) else ""
        if not name or not any(c.isalnum() for c in cell):
            continue
        if (told := nutrients.get(at)) is not None:
            said = f"{BASES[told.basis or 'per_serving']}: {_stated(told, cell)}"
            numbers.append(CardLine(row + place, said, role="numbers"))
        elif field_of(plain(name), "column") == "servings":
            yield CardLine(row + place, cell, role="yield")
        elif len(name) > 1 and field_of(plain(name), "column") is None and cell not in _ZERO:
            yield CardLine(row + place, _item(name, cell, grams), role="item")
    yield from numbers


def _nutrients(body: Sequence[tuple[int, str, Sequence[Any]]]) -> dict[int, NutrientColumn]:
    """Rows that state a nutrient; one whose name is also a food's does in a run with another."""
    names = [name for _, name, _ in body]
    columns = {at: c for at, name in enumerate(names) if (c := column_among(name, names))}
    kept = {at for at, column in columns.items() if column.tag not in _ALSO_FOOD}
    for order, before in ((sorted(columns), -1), (sorted(columns, reverse=True), 1)):
        for at in order:
            if at + before in kept:
                kept.add(at)
    return {at: column for at, column in columns.items() if at in kept}


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
    if names_food(name):
        return food_line(name, cell)
    return f"{cell} g {name}" if grams else f"{cell} {name}"
