"""Tables within trees: rows of cells, and lists of records, read as the grids that they are.

Rows of a sheet that was saved as XML, arrays of arrays, and lists of objects of single values are what
the readers of tables know best. They are asked where the keys of a tree leave a doubt.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from pipeline.intake.documents.places import renumber, take
from pipeline.intake.model import Read
from pipeline.intake.structured.yaml_tree import is_null
from pipeline.intake.tables.card_rows import Row
from pipeline.intake.text.evidence import better, leaves_doubt

#: Levels of lists and objects around a table, and rows, columns and cells of one.
_MAX_LEVELS, _LEAST_ROWS, _MOST_COLUMNS, _MOST_CELLS = 8, 3, 60, 60_000
#: How its recipes are called: they are not written into, see ``documents.FORMATS``.
_FORMAT = "text-values"


def with_grids(read: Read, tree: Any, source: str, line_of: Callable[[str], int | None]) -> Read:
    """What a tree gives: by its keys as ``read`` has it, or by its tables where these say more."""
    grids = list(_grids(tree, name="", depth=0))
    if not grids or (read.recipes and not leaves_doubt(read.recipes)):
        return read
    from pipeline.intake.tables.sheet import read_sheet_rows  # here: few trees hold any

    told = Read()
    for name, rows, places in grids:
        found = read_sheet_rows(rows, name, source, _FORMAT)
        for one in [*found.recipes, *(row for part in found.apart for row in part.rows)]:
            for stated in one.stated:
                stated.column = None
        lines = {no: line_of(text) for no, text in places.items()}
        renumber(found, lambda no, lines=lines: lines.get(no) or 1)  # type: ignore[misc]
        take(told, found)
    parts = [
        sum(len(r.lines) + len(r.stated) for r in some) for some in (told.recipes, read.recipes)
    ]
    if parts[0] > parts[1] and better(told.recipes, read.recipes):
        read.recipes = told.recipes
    taken = {row.title or row.own_id for part in read.apart for row in part.rows}
    read.apart += [
        part for part in told.apart
        if taken.isdisjoint(row.title or row.own_id for row in part.rows)
        and any(row.stated for row in part.rows)
    ]  # fmt: skip
    read.listed += told.listed
    return read


def _grids(node: Any, name: str, depth: int) -> Iterator[tuple[str, list[Row], dict[int, str]]]:
    """The tables of a tree: key, rows with their numbers, and a text of each row that has one."""
    if depth > _MAX_LEVELS or not isinstance(node, (Mapping, list)):
        return
    if isinstance(node, list) and (rows := _rows(node)):
        texts = ((no, next((c for c in cells if isinstance(c, str)), "")) for no, cells in rows)
        yield name, rows, dict(texts)
        return
    children = node.items() if isinstance(node, Mapping) else (("", one) for one in node)
    for key, value in children:
        yield from _grids(value, str(key) or name, depth + 1)


def _rows(node: Sequence[Any]) -> list[Row]:
    """The rows of a list of lists, or of objects, of single values; [] for any other."""
    if len(node) < _LEAST_ROWS:
        return []
    bare = [_inner(one) for one in node]
    if all(isinstance(one, list) for one in bare):
        made = [[_cell(cell) for cell in one] for one in bare]
    elif all(isinstance(one, Mapping) for one in node):
        keys = list(dict.fromkeys(key for one in node for key in one))[: _MOST_COLUMNS + 1]
        made = [list(keys), *([_cell(one.get(key)) for key in keys] for one in node)]
    else:
        return []
    width = max(map(len, made))
    single = not any(isinstance(cell, (list, Mapping)) for row in made for cell in row)
    fits = 1 < width <= _MOST_COLUMNS and width * len(made) <= _MOST_CELLS
    return list(enumerate(made, start=1)) if single and fits else []


def _inner(one: Any) -> Any:
    """What an object holds under its one key: <row><c>Name</c><c>Serves</c></row>."""
    while isinstance(one, Mapping) and len(one) == 1:
        one = next(iter(one.values()))
    return one


def _cell(value: Any) -> Any:
    """A single value; of a list of single values its texts, a line each."""
    if isinstance(value, list) and value and not any(isinstance(v, (list, Mapping)) for v in value):
        return "\n".join(map(str, value))
    return None if is_null(value) else value
