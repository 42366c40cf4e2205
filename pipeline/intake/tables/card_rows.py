"""Rows of cells as lines of a card: where a table holds what a card would say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any

from pipeline.intake.columns import nutrient_column
from pipeline.intake.facts_line import find_facts, yield_line
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.layout import food_column, is_head, layout_of, states_numbers
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import names_a_fact

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


def list_lines(header: Sequence[str], no: int, rows: Sequence[Row]) -> Iterator[CardLine]:
    """A small table of ingredients under its header, and what stands below it."""
    yield CardLine(no, "Ingredients")
    inside = True
    for at, cells in rows:
        inside = inside and bool(cells)
        if inside and (stated := _numbers(header, cells)):
            yield CardLine(at, stated)
            continue
        text = _ingredient(header, cells) if inside else joined(cells)
        yield CardLine(at, text if len(cells) == 1 or not inside else f"- {text}")


def _numbers(header: Sequence[str], cells: Sequence[Any]) -> str:
    """A row that says what its numbers are for, under the names of nutrients; "" for any other."""
    layout = layout_of(header)
    texts = _texts(header, cells)
    name = texts[food_column(layout)] if layout is not None else ""
    if layout is None or not name or read_stated_line(f"{name}: 1").basis is None:
        return ""
    stated = [f"{header[at]} {texts[at]}" for at in layout.nutrients if texts[at]]
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
    if len(texts) == 2 and names_a_fact(texts[0]):
        return f"{texts[0].rstrip(': ')}: {texts[1]}"
    if 2 <= len(texts) <= 4 and _AMOUNT.match(texts[1]) and not re.search(r"\d", texts[0]):
        unit, note = ([*texts[2:], "", ""])[:2]
        column = nutrient_column(texts[0])
        food = column is None or (column.tag in _ALSO_FOOD and bool(unit))
        if food and len(unit) <= _MAX_UNIT and not _NO_FOOD.search(texts[0]):
            line = " ".join(part for part in (texts[1], unit, texts[0]) if part)
            return f"{line}, {note}" if note else line
    if len(texts) == 2 and nutrient_column(texts[0]) is None and not _NO_FOOD.search(texts[0]):
        return _food_and_amount(*texts)
    return " ".join(texts)


def _food_and_amount(food: str, amount: str) -> str:
    """Two cells in the order in which the line reader finds most amounts and the same food.

    >>> _food_and_amount("lentils, dry", "250 g"), _food_and_amount("onions", "4 big ones (700g)")
    ('250 g lentils, dry', 'onions (4 big ones (700g))')
    """
    as_written = f"{food} {amount}"
    if not any(c.isnumeric() for c in amount):
        return as_written
    from pipeline.lines import parse  # here: few sheets hold a food and an amount in two cells

    read_alone = parse(food)
    if read_alone.measures:
        return as_written
    name = read_alone.name

    def read(text: str) -> int:
        line = parse(text)
        return len(line.measures) if line.name == name else 0

    ways = (as_written, f"{amount} {food}", f"{food} ({amount})")
    best = max(ways, key=read)
    return best if read(best) else as_written


def shown_cell(cell: Any) -> str:
    """A cell as text on one line."""
    if isinstance(cell, float):
        return f"{cell:.10g}"
    return " ".join(str(cell).split()) if "\n" not in str(cell) else str(cell).replace("\n", "; ")
