"""Rows of cells as lines of a card: where a table holds what a card would say."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Iterator, Sequence
from itertools import takewhile
from typing import Any

from pipeline.intake.columns import NutrientColumn, column_among, field_of, nutrient_column, plain
from pipeline.intake.entries import best_order, is_heading
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.model import Basis, RawStated
from pipeline.intake.numbers import Roles
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.fact_rows import fact_kind
from pipeline.intake.tables.layout import (
    PRICE,
    Form,
    food_column,
    is_head,
    layout_of,
    states_numbers,
)  # fmt: skip
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import names_a_fact
from pipeline.nutrients import BY_TAG

#: The number of a row and its cells.
Row = tuple[int, list[Any]]
_AMOUNT = re.compile(r"[\d½¼¾⅓⅔⅛.,/ -]+$")
_ALSO_FOOD = frozenset({"SUGAR", "NA", "WATER", "ALC"})
_NO_FOOD = re.compile(
    r"\b(?:serv\w*|portions?|makes?|yields?|time|minutes?|total|weight|recipe|date|page|id|source|by|"
    r"author|creator|temperature|oven|difficulty|calories|kcal|kj)\b",
    re.IGNORECASE,
)
_MAX_UNIT = 12


def spaced(rows: Sequence[Row]) -> Iterator[Row]:
    """Rows with an empty one where some are left out, which part the blocks of a card."""
    last = 0
    for no, cells in rows:
        if last and no > last + 1:
            yield no - 1, []
        last = no
        yield no, cells


def table_lines(form: Form, rows: Sequence[Row], above: Sequence[Row] = ()) -> list[CardLine]:
    """A table as lines of cards, for any form: recipes by their titles, blocks, or one list.

    Args:
        form: how it is read.
        rows: its header and what stands below it.
        above: what stands above it.
    """
    head = [CardLine(no, text) for no, cells in spaced(above) for text in _head_texts(cells)]
    if is_titled(form):
        return list(_titled_lines(form, rows[1:]))
    below = list(spaced(rows))[1:]
    if form.blocks:
        return [*head, *block_lines(form.names, below)]
    return [*head, *_list_lines(form.names, rows[0][0], below)]


def _head_texts(cells: Sequence[Any]) -> list[str]:
    """A row above a list: one fact, a cell each, or names and values in turn.

    >>> _head_texts(["Dish", "Pea soup", None, "bowls", 8])
    ['Dish: Pea soup', 'bowls: 8']
    """
    texts = filled_texts(cells)
    pairs = list(zip(texts[::2], texts[1::2], strict=False))
    told = [field_of(plain(name), "key") or value.isdecimal() for name, value in pairs]
    if len(pairs) > 1 and len(texts) == 2 * len(pairs) and all(told) and told[0] == "title":
        return [f"{name.rstrip(': ')}: {value}" for name, value in pairs]
    alone = len(texts) > 2 and not fact_kind(joined(cells))
    return [" | ".join(texts) if alone else joined(cells)]


def is_titled(form: Form) -> bool:
    """Whether a column says to which recipe a row belongs."""
    layout = layout_of(form.names)
    return layout is not None and not form.blocks and bool(layout.roles.keys() & {"title", "id"})


def _titled_lines(form: Form, rows: Sequence[Row]) -> Iterator[CardLine]:
    from pipeline.intake.tables.table import titled_rows

    for recipe in titled_rows(rows, form, "").recipes:
        no = recipe.source_line or 0
        yield CardLine(no, "")
        yield CardLine(no, recipe.title, begins=True, role="title")
        told, word = recipe.told, recipe.serving_word or "servings"
        if not math.isnan(recipe.servings):
            shown = (
                f"{told.low:g}-{told.high:g}" if told.low < told.high else f"{recipe.servings:g}"
            )
            yield CardLine(no, f"{shown} {word}", role="yield")
        if not math.isnan(recipe.yield_g):
            yield CardLine(no, f"{recipe.yield_g:g} g", role="yield")
        for line in recipe.lines:
            role = "heading" if is_heading(line.text) else "item"
            yield CardLine(line.source_line or no, line.text, role=role)
        for stated in recipe.stated:
            said = f"{BASES[stated.basis]}: {_said(stated)}"
            yield CardLine(stated.source_line or no, said, role="numbers")


#: What numbers of a basis are announced by.
BASES: dict[Basis, str] = {
    "per_serving": "Per serving", "per_recipe": "Whole recipe", "per_100g": "Per 100 g",
}  # fmt: skip


def _said(stated: RawStated) -> str:
    """A stated number with its name, in the form that reads back as it."""
    nutrient = BY_TAG.get(stated.nutrient)
    name, unit = (nutrient.label, nutrient.unit) if nutrient else ("net carbs", "g")
    exact = f"{name} {stated.amount:g} {unit}"
    for text in (stated.text, f"{name} {stated.text}", f"{name} {stated.text} {unit}"):
        found = read_stated_line(text).found
        if [(one.tag, one.amount) for one in found] == [(stated.nutrient, stated.amount)]:
            return text
    return exact


def _list_lines(header: Sequence[str], no: int, rows: Sequence[Row]) -> Iterator[CardLine]:
    """A small table of ingredients under its header, and what stands below it; a row that names
    columns is the header of what follows."""
    yield from _head_lines(header, no, rows)
    inside, summed, last = True, False, last_sum(rows)
    for place, (at, cells) in enumerate(rows):
        if names_columns(cells):
            header, inside, summed = _texts((), cells), True, False
            last = last_sum(rows[place + 1 :])
            yield from _head_lines(header, at, rows[place + 1 :])
            continue
        ends = not cells or at == last
        summed = bool(cells) and (at == last or summed)
        inside = not ends and not summed and (inside or _measured(header, cells))
        text = row_line(header, cells) if inside else _numbers(header, cells) or joined(cells)
        fact = not inside or len(cells) == 1 or fact_kind(text)
        role = "yield" if fact_kind(text) == "yield" else "method" if summed else ""
        yield CardLine(
            at, text if fact else f"- {text}", role="" if read_stated_line(text).found else role
        )


def last_sum(rows: Sequence[Row]) -> int:
    """The number of the last row that adds up a list ("Total", "Total cost | 5.12"), before the next
    header; 0 for none. What stands below it, up to an empty row, is no food."""
    mine = takewhile(lambda row: not names_columns(row[1]), rows)
    return max((no for no, cells in mine if adds_up(cells)), default=0)


def adds_up(cells: Sequence[Any]) -> bool:
    """Whether a row adds up the list above it, in amounts or in money."""
    name = next(iter(filled_texts(cells)), "")
    said = Roles(name)
    return bool(said.search("^ total colon? $") or (said.search("^ total") and PRICE.search(name)))


def _measured(header: Sequence[str], cells: Sequence[Any]) -> bool:
    """Whether a row has an amount where the header of its list says so."""
    layout, texts = layout_of(header), _texts(header, cells)
    amounts = [layout.roles[r] for r in ("amount", "grams") if r in layout.roles] if layout else []
    return any(pattern("amount_alone").match(texts[at]) for at in amounts)


def names_columns(cells: Sequence[Any]) -> bool:
    """Whether a row is the header of a list."""
    layout = layout_of(_texts((), cells)) if len(cells) > 1 else None
    return layout is not None and len(layout.roles) > 1


def _head_lines(header: Sequence[str], no: int, rows: Sequence[Row]) -> Iterator[CardLine]:
    """A header of a list; a name in it that is none of a column, and has nothing below, is a title."""
    below = next((cells for _, cells in rows if cells), [])
    for at, name in enumerate(header):
        known = field_of(plain(name), "column") or column_among(name, header)
        if name and not known and (at >= len(below) or is_empty(below[at])):
            yield CardLine(no, "")
            yield CardLine(no, name, begins=True)
    yield CardLine(no, "Ingredients")


def row_line(header: Sequence[str], cells: Sequence[Any]) -> str:
    """A row of a list as one line: an ingredient by its columns, or the numbers of the row."""
    whole = joined(cells)
    fact = whole if fact_kind(whole) == "yield" else ""
    return _numbers(header, cells) or fact or _ingredient(header, cells)


def _numbers(header: Sequence[str], cells: Sequence[Any]) -> str:
    """A row that says what its numbers are for, under the names of nutrients; "" for any other."""
    layout = layout_of(header)
    texts = _texts(header, cells)
    name = texts[food_column(layout)] if layout is not None else ""
    if layout is None or not name or read_stated_line(f"{name}: 1").basis is None:
        return ""
    stated = [f"{header[at]} {texts[at]}" for at in layout.nutrients if texts[at]]
    others = [text for at, text in enumerate(texts) if at not in layout.nutrients and text != name]
    stated += [text for text in others if read_stated_line(text).found]
    told = next((t for t in texts if yield_line(t) or find_facts(t).yields), "")
    beside = f"{told}. " if told and told != name else ""
    return f"{beside}{name}: {', '.join(stated)}" if stated else ""


def _texts(header: Sequence[str], cells: Sequence[Any]) -> list[str]:
    texts = ["" if cell is None else str(cell).strip() for cell in cells]
    return texts + [""] * (len(header) - len(texts))


def block_lines(header: Sequence[str], rows: Sequence[Row]) -> Iterator[CardLine]:
    """A table in which a row with a title stands above the ingredients of each recipe.

    A title becomes a heading, with the numbers of its row below it.
    """
    layout = layout_of(header)
    assert layout is not None
    for no, cells in rows:
        texts = _texts(header, cells)
        if is_head(layout, texts):
            title = layout.roles.get("title", food_column(layout))
            yield CardLine(no, "")
            yield CardLine(no, texts[title], 1, begins=True)
            stated = [f"{header[at]} {texts[at]}" for at in layout.nutrients if texts[at]]
            yield CardLine(no, ", ".join(stated))
        elif not any(texts) or states_numbers(texts):
            yield CardLine(no, joined(cells))
        else:
            yield CardLine(no, f"- {_ingredient(header, cells)}")


def _ingredient(header: Sequence[str], cells: Sequence[Any]) -> str:
    """The ingredient of a row by the columns of its table."""
    from pipeline.intake.tables.table import read_rows

    padded = [*cells, *[None] * len(header)][: len(header)]
    made = read_rows(header, [padded], format="xlsx").recipes
    return made[0].lines[0].text if made and made[0].lines else joined(cells)


def joined(cells: Sequence[Any]) -> str:
    """Cells of a row as one line: "Serves | 4" is "Serves 4", "Oats | 40 | g" is "40 g Oats"."""
    texts = [shown_cell(c) for c in cells if c is not None and str(c).strip()]
    name = texts[0].rstrip(": ") if texts else ""
    weight = pattern("yield_weight").match(f"{name}: 1") is not None
    if len(texts) == 2 and (weight or names_a_fact(name)):
        return f"{name}: {texts[1]}"
    if len(texts) > 1 and not any(c.isdigit() for c in name) and yield_line(f"{name}: {texts[1]}"):
        return " ".join([f"{name}: {texts[1]}", *(f"({text})" for text in texts[2:])])
    if 2 <= len(texts) <= 4 and _AMOUNT.match(texts[1]) and not re.search(r"\d", texts[0]):
        unit, note = ([*texts[2:], "", ""])[:2]
        column = nutrient_column(texts[0])
        food = column is None or (column.tag in _ALSO_FOOD and bool(unit))
        if food and len(unit) <= _MAX_UNIT and not _NO_FOOD.search(texts[0]):
            line = " ".join(part for part in (texts[1], unit, texts[0]) if part)
            return f"{line}, {note}" if note else line
    if len(texts) == 2 and nutrient_column(texts[0]) is None and not _NO_FOOD.search(texts[0]):
        name, amount = texts
        return best_order(name, f"{name} {amount}", f"{amount} {name}", f"{name} ({amount})")
    return " ".join(texts)


def text_lines(rows: Iterable[Row]) -> list[CardLine]:
    """Rows as lines of a text: one each, or where a cell holds several lines, those of each cell."""
    out: list[CardLine] = []
    for no, cells in rows:
        if any(isinstance(cell, str) and "\n" in cell.strip() for cell in cells):
            lines = (line for cell in cells if not is_empty(cell) for line in str(cell).split("\n"))
            out += [CardLine(no, " ".join(line.split())) for line in lines if line.strip()]
        else:
            out.append(CardLine(no, joined(cells)))
    return out


def trimmed(cells: Sequence[Any]) -> list[Any]:
    """The cells of a row up to the last that holds anything."""
    out = list(cells)
    while out and is_empty(out[-1]):
        out.pop()
    return out


def is_empty(cell: Any) -> bool:
    return cell is None or (isinstance(cell, str) and not cell.strip())


def shown_cell(cell: Any) -> str:
    """A cell as text on one line."""
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return " ".join(str(cell).split()) if "\n" not in str(cell) else str(cell).replace("\n", "; ")


def cell_text(cell: Any) -> str:
    """A cell as text on one line, "" for an empty one."""
    return "" if is_empty(cell) else shown_cell(cell).strip()


def cell_texts(cells: Sequence[Any]) -> list[str]:
    """The cells of a row as texts."""
    return [*map(cell_text, cells)]


def filled_texts(cells: Sequence[Any]) -> list[str]:
    """The cells of a row that hold anything, as texts."""
    return [text for text in map(cell_text, cells) if text]


def stated_text(column: NutrientColumn, cell: str, basis: Basis) -> str:
    """A number with its name and what it is for, in the form that reads back as it."""
    nutrient = BY_TAG.get(column.tag)
    name, unit = (nutrient.label, nutrient.unit) if nutrient else ("net carbs", "g")
    if column.unit == "kj":
        name, unit = "energy", "kJ"
    if column.salt:
        name, unit = "salt", "g"
    amount = cell if any(map(str.isalpha, cell)) else f"{cell} {unit}"
    return f"{BASES[basis]}: {name} {amount}"
