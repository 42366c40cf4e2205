"""Tables of recipes: tidy (one row a line) or wide (one row a recipe), CSV, Parquet or a sheet.

Columns are known by name, in any order, any case, with spaces or underscores:

- recipe: ``recipe_id``/``id``, ``title``/``recipe``/``name``, ``servings``/``serves``/``yield``,
  ``yield_g``, ``creator``/``author``, ``description``
- tidy: ``line``/``ingredient``/``text`` (the whole line), or ``ingredient`` with ``amount`` and
  ``unit``; ``section``; ``line_no`` orders the lines
- wide: ``ingredients`` with line breaks, ``|`` or ``;`` between them, or ``ingredient 1``,
  ``ingredient 2`` ...
- stated: ``kcal``, ``protein_g``, "Energy (kJ)", "Fat (g) per 100 g", ``salt_g`` ...; ``basis``;
  or ``nutrition`` with a free-form line
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import csv_rows
from pipeline.intake.amounts import read_amount
from pipeline.intake.columns import (
    NutrientColumn,
    basis_of,
    column_among,
    field_of,
    plain,
    speaks_of_nutrition,
)
from pipeline.intake.entries import Entries, are_plain, clean, render
from pipeline.intake.model import RawLine, RawRecipe, Read, cut, guarded, unreadable
from pipeline.intake.pages.schema_org import (
    add_stated,
    method_of,
    read_nutrition_text,
    set_yield,
    settle_servings,
)
from pipeline.problems import Problem

if TYPE_CHECKING:
    import duckdb

MAX_COLUMNS = 500
_BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]")
_NUMBERED = re.compile(r"^ingredients?_?(\d{1,3})$")


@dataclass(slots=True)
class Layout:
    """Which column holds what.

    Attributes:
        kind: ``tidy`` or ``wide``.
        roles: role to column position.
        nutrients: column position to what it states.
        numbered: positions of ``ingredient 1``, ``ingredient 2`` ... in their order.
        unread: headers that speak of nutrition and are not understood.
    """

    kind: str
    roles: dict[str, int]
    nutrients: dict[int, NutrientColumn] = field(default_factory=dict)
    numbered: list[int] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)


def layout_of(header: Sequence[object]) -> Layout | None:
    """Layout of a header row; None when it names no ingredients."""
    roles: dict[str, int] = {}
    nutrients: dict[int, NutrientColumn] = {}
    numbered: list[tuple[int, int]] = []
    unread: list[str] = []
    for at, name in enumerate(header[:MAX_COLUMNS]):
        key = plain(name if name is not None else "")
        if not key:
            continue
        if field_of(key, "column") is None:  # "Ingredients (one per line)"
            key = plain(_BRACKETS.sub(" ", str(name))) or key
        found = _NUMBERED.match(key)
        if found:
            numbered.append((int(found[1]), at))
        elif (role := field_of(key, "column")) and role not in roles:
            roles[role] = at
        else:
            column = column_among(str(name).strip(), header)
            if column is not None:
                nutrients[at] = column
            elif speaks_of_nutrition(str(name)):
                unread.append(str(name))
    if "grams" in roles and "ingredient" not in roles:
        del roles["grams"]
    positions = [at for _, at in sorted(numbered)]
    if "ingredients" in roles or positions:
        return Layout("wide", roles, nutrients, positions, unread)
    if "line" in roles or "ingredient" in roles:
        return Layout("tidy", roles, nutrients, [], unread)
    return None


def sniff_delimiter(head: str) -> str | None:
    """Delimiter of a CSV text by its header line; None when that line names no recipe columns."""
    header = next((line for line in head.split("\n") if line.strip()), "")[:20_000]
    for delimiter in sorted(",;\t|", key=lambda d: -header.count(d)):
        cells = [c.strip().strip('"') for c in header.split(delimiter)]
        if len(cells) > 1 and layout_of(cells) is not None:
            return delimiter
    return None


def read_csv(lines: Iterable[str], head: str, source: str) -> Read:
    """Recipes of a CSV file; never raises.

    A row that cannot be read is a problem with its line, and an unreadable line of its recipe:
    that recipe is not known in full.

    Args:
        lines: of the whole file, without their ends.
        head: its decoded beginning.
        source: its name in messages.
    """
    delimiter = sniff_delimiter(head)
    if delimiter is None:
        return _unknown_columns(head, source)
    items = csv_rows.rows(lines, delimiter)
    header = next(items, None)
    if not isinstance(header, csv_rows.Row):
        return _unknown_columns(head, source)
    names = header.cells[:MAX_COLUMNS]
    width = len(names)
    faults: list[csv_rows.Fault] = []
    kept: list[list[str]] = []
    starts: list[int] = []
    for item in items:
        if isinstance(item, csv_rows.Fault):
            faults.append(item)
            cells = stand_in(item, names, delimiter)
        else:
            cells = item.cells
        kept.append(cells if len(cells) == width else (cells + [""] * width)[:width])
        starts.append(item.line)
    read = read_rows(names, kept, format="csv", first_line=header.line + 1, row_lines=starts)
    read.problems.extend(csv_rows.problems_of(faults, source))
    return read


def stand_in(fault: csv_rows.Fault, header: Sequence[str], delimiter: str) -> list[str]:
    """The row that stands for lines of a CSV that are none: its recipe, and an unreadable line.

    The recipe is the one that the first of those lines begins with, as far as that can be told;
    else the cells stay empty, and the row belongs to the recipe above it. Where a row is a whole
    recipe all cells stay empty: nothing of it is known.
    """
    cells = [""] * len(header)
    layout = layout_of(header)
    if layout is None or layout.kind == "wide":
        return cells
    rough = fault.text.split(delimiter)
    for role in ("id", "title", "creator"):
        at = layout.roles.get(role)
        if at is not None and at < len(rough) - 1 and '"' not in "".join(rough[: at + 1]):
            cells[at] = rough[at]
    text_at = layout.roles.get("line", layout.roles.get("ingredient", 0))
    cells[text_at] = unreadable(f"row on line {fault.line} of the file")
    return cells


def header_of(head: str, delimiter: str) -> list[str]:
    """Names of the columns; a header cell may hold a quoted line break."""
    first = next(csv_rows.rows(csv_rows.split_lines(head.lstrip("\ufeff")), delimiter), None)
    return first.cells[:MAX_COLUMNS] if isinstance(first, csv_rows.Row) else []


def _fetched(result: duckdb.DuckDBPyConnection) -> Iterator[tuple[Any, ...]]:
    while True:
        batch = result.fetchmany(20_000)
        if not batch:
            return
        yield from batch


def rejected_rows(con: duckdb.DuckDBPyConnection, source: str) -> list[Problem]:
    """One problem a row that DuckDB could not read; the rows are made for it, so there is none."""
    rows = con.execute(
        "select line, any_value(error_message), any_value(csv_line) from reject_errors "
        "group by line order by line"
    ).fetchall()
    faults = [
        csv_rows.Fault(int(line), int(line), cut(str(message).partition("\n")[0], 160), str(text))
        for line, message, text in rows
    ]
    return csv_rows.problems_of(faults, source)


def _unknown_columns(head: str, source: str) -> Read:
    header = next((line for line in head.split("\n") if line.strip()), "")
    problem = Problem(
        "table-columns-unknown",
        "the table names no column that holds ingredients",
        f'its first row is "{cut(header, 80)}"; the file was not read',
        'name the columns: "title", "servings" and "ingredients" (one row a recipe), '
        'or "title" and "line" (one row an ingredient)',
        source=source,
        source_line=1,
        text=cut(header),
    )
    return Read(problems=[problem], found="a CSV table")


def _unread_columns(names: Sequence[str]) -> Problem:
    told = ", ".join(f'"{cut(name, 40)}"' for name in names[:6])
    return Problem(
        "columns-unread",
        f"nutrition columns that are not understood: {told}",
        "their numbers were not read",
        'name them after their nutrient and unit, such as "kcal", "protein g", "kJ per 100 g"',
        severity="note",
    )


def read_parquet(path: Path, source: str) -> Read:
    """Recipes of a Parquet file, tidy or wide; list columns hold several lines. Never raises."""
    import duckdb

    con = duckdb.connect()
    try:
        result = con.execute("select * from read_parquet($path)", {"path": str(path)})
        names = [str(d[0]) for d in result.description or ()]
        if layout_of(names) is None:
            read = _unknown_columns(", ".join(names), source)
            read.found = "a Parquet table"
            return read
        return read_rows(names, _fetched(result), format="parquet", first_line=None)
    except duckdb.Error as fault:
        problem = Problem(
            "parquet-invalid",
            "the file cannot be read as Parquet",
            cut(str(fault).partition("\n")[0], 200),
            "write it again from the program it came from",
            source=source,
        )
        return Read(problems=[problem], found="a Parquet table")
    finally:
        con.close()


def read_rows(
    header: Sequence[object],
    rows: Iterable[Sequence[Any]],
    *,
    format: str,
    first_line: int | None,
    row_lines: Sequence[int] = (),
) -> Read:
    """Recipes of a table's rows.

    Args:
        header: column names.
        rows: cells, text or typed, as many in each row; None is an empty cell.
        format: name of the format for ``tables.RECIPE``.
        first_line: line of the first row in its file; None when rows have no lines.
        row_lines: line of each row, where known.
    """
    rows = list(rows)
    columns = list(zip(*rows, strict=True)) or [()] * len(header)
    lines = row_lines or _counted(rows, first_line)
    return read_columns(header, columns, lines, format=format)


def read_columns(
    header: Sequence[object],
    columns: Sequence[Sequence[Any]],
    lines: Sequence[int | None],
    *,
    format: str,
) -> Read:
    """Recipes of a table given by its columns; see ``read_rows``.

    Args:
        header: column names.
        columns: the cells of each.
        lines: line of each row in its file, None where it has none.
        format: name of the format for ``tables.RECIPE``.
    """
    layout = layout_of(header)
    read = Read(found=f"a {format} table")
    if layout is None:
        return read
    if layout.unread:
        read.problems.append(_unread_columns(layout.unread))
    if layout.kind == "wide":
        _read_wide(layout, zip(lines, zip(*columns, strict=True), strict=True), read, format)
    else:
        _read_tidy(_Tidy(layout, columns, lines, format), read)
    return read


def _counted(rows: Sequence[Sequence[Any]], first_line: int | None) -> list[int | None]:
    """Line of each row when they follow one another from ``first_line`` on."""
    if first_line is None:
        return [None] * len(rows)
    lines: list[int | None] = []
    for row in rows:
        lines.append(first_line)
        first_line += 1 + sum(cell.count("\n") for cell in row if isinstance(cell, str))
    return lines


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return value.strip()
    if value is None:
        return ""
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:g}" if value.is_integer() else repr(value)
    return str(value).strip()


def _read_wide(
    layout: Layout, rows: Iterable[tuple[int | None, Sequence[Any]]], read: Read, format: str
) -> None:
    for at, row in rows:
        if not any(_cell(c) for c in row):
            continue
        position = len(read.recipes)
        recipe = guarded(partial(_wide_recipe, layout, row, position, format, at), format, position)
        if recipe.source_line is None:
            recipe.source_line = at
        read.recipes.append(recipe)


def _wide_recipe(
    layout: Layout, row: Sequence[Any], position: int, format: str, at: int | None
) -> RawRecipe:
    recipe = _recipe(layout, row, position, format, at)
    entries = Entries()
    for place in [layout.roles["ingredients"]] if "ingredients" in layout.roles else []:
        value = row[place]
        entries.add(_split(value) if isinstance(value, str) else value)
    for place in layout.numbered:
        entries.add(_cell(row[place]))
    recipe.lines = entries.lines
    for one in recipe.lines:
        one.source_line = at
    recipe.problems.extend(entries.problems)
    _state(recipe, layout, row, at)
    return recipe


def _split(text: str) -> list[str]:
    """Lines of a cell: by line breaks, else by ``|``, else by ``;``."""
    for mark in ("\n", "|", ";"):
        if mark in text:
            return [part.strip() for part in text.split(mark)]
    return [text]


class _Tidy:
    """A table of one row a line: its columns, and the text of the lines in them."""

    def __init__(
        self, layout: Layout, columns: Sequence[Sequence[Any]], lines: Sequence[int | None],
        format: str,
    ) -> None:  # fmt: skip
        self.layout, self.columns, self.lines, self.format = layout, columns, lines, format
        self.texts = self._of("line") or [""] * len(lines)
        foods = self._of("ingredient")
        if foods is not None:
            parts = {role: self._of(role) for role in ("amount", "unit", "grams", "note")}
            told = {role: cells for role, cells in parts.items() if cells is not None}
            self.texts = [
                text or _food_line(food, {role: cells[at] for role, cells in told.items()})
                for at, (text, food) in enumerate(zip(self.texts, foods, strict=True))
            ]
        self.sections = self._of("section")
        self.orders = self._of("line_no")

    def _of(self, role: str) -> list[str] | None:
        """Cells of the column that holds something; None when there is none."""
        at = self.layout.roles.get(role)
        return None if at is None else [_cell(cell) for cell in self.columns[at]]

    def row(self, at: int) -> list[Any]:
        """The cells of a row."""
        return [column[at] for column in self.columns]

    def runs(self) -> Iterator[range]:
        """Rows below one another that name the same recipe."""
        named = [
            self.columns[at] for role in ("id", "title", "creator")
            if (at := self.layout.roles.get(role)) is not None
        ]  # fmt: skip
        names = list(zip(*named, strict=True)) or [()] * len(self.lines)
        for _, run in groupby(range(len(names)), names.__getitem__):
            first, *rest = run
            yield range(first, first + 1 + len(rest))

    def ingredients(self, rows: Iterable[int]) -> Iterator[tuple[str, str, int | None]]:
        """Text, section and line in the file of each ingredient in these rows, in their order."""
        held = [at for at in rows if self.texts[at]]
        if (orders := self.orders) is not None:
            held.sort(key=lambda at: _order(orders[at], at))
        for at in held:
            section = "" if self.sections is None else self.sections[at].rstrip(": ")
            yield self.texts[at], section, self.lines[at]


def _read_tidy(table: _Tidy, read: Read) -> None:
    layout, lines = table.layout, table.lines
    get = getter(layout.roles)
    states = bool(layout.nutrients) or "stated" in layout.roles
    by_key: dict[tuple[str, ...], tuple[RawRecipe, list[int]]] = {}
    key: tuple[str, ...] | None = None
    for run in table.runs():
        while run and (found := recipe_key(get, table.row(run[0]), key)) is None:
            run = run[1:]  # empty rows above the first recipe
        if not run:
            continue
        key = found or ()
        if key not in by_key:
            made = partial(
                _recipe, layout, table.row(run[0]), len(by_key), table.format, lines[run[0]]
            )
            by_key[key] = guarded(made, table.format, len(by_key)), []
        recipe, rows = by_key[key]
        for at in run if states and not recipe.stated else ():
            _state(recipe, layout, table.row(at), lines[at])
            if recipe.stated:
                break
        rows.extend(run)
    for recipe, rows in by_key.values():
        _take_lines(recipe, list(table.ingredients(rows)))
        read.recipes.append(recipe)


def _take_lines(recipe: RawRecipe, ingredients: Sequence[tuple[str, str, int | None]]) -> None:
    """Give a recipe its lines, each a text, the section it stands in, and its line in the file."""
    if are_plain([text for text, _, _ in ingredients]):
        recipe.lines += [
            RawLine(text, section if text.rstrip(": ") != section else "", at)
            for text, section, at in ingredients
        ]
        return
    entries = Entries()
    for text, section, at in ingredients:
        first = len(entries.lines)
        entries.add(text)
        for one in entries.lines[first:]:
            one.source_line = at
            if section and one.text.rstrip(": ") != section:
                one.section = section
    recipe.lines = entries.lines
    recipe.problems.extend(entries.problems)


def recipe_key(
    get: Callable[[Sequence[Any], str], str], row: Sequence[Any], last: tuple[str, ...] | None
) -> tuple[str, ...] | None:
    """Which recipe a tidy row belongs to; None for an empty row above the first recipe.

    A row that leaves id and title empty belongs to the recipe above it.
    """
    if own_id := get(row, "id"):
        return ("id", own_id)
    if title := get(row, "title"):
        return ("title", title, get(row, "creator"))
    if last is None and not any(_cell(c) for c in row):
        return None
    return last or ("title", "", "")


def _food_line(food: str, parts: Mapping[str, str]) -> str:
    """The line that a food, its amount, unit, weight and note make; "" without a food."""
    return render({"name": food, **parts}) if food and any(parts.values()) else food


def _order(text: str, count: int) -> float:
    try:
        found = float(text)
    except ValueError:
        return float(count)
    return found if math.isfinite(found) else float(count)


def getter(roles: Mapping[str, int]) -> Callable[[Sequence[Any], str], str]:
    def get(row: Sequence[Any], role: str) -> str:
        at = roles.get(role)
        return _cell(row[at]) if at is not None and at < len(row) else ""

    return get


def _recipe(
    layout: Layout, row: Sequence[Any], position: int, format: str, line: int | None
) -> RawRecipe:
    get = getter(layout.roles)
    recipe = RawRecipe(clean(get(row, "title"))[:300], format, position, source_line=line)
    recipe.own_id = " ".join(get(row, "id").split())[:200]
    if creator := get(row, "creator"):
        recipe.creator = clean(creator)[:200]
    if description := get(row, "description"):
        recipe.description = clean(description)[:5000]
    if method := get(row, "method"):
        recipe.method = method_of(method)
    servings = get(row, "servings")
    if servings:
        set_yield(recipe, servings, line)
        word = get(row, "serving_word")
        if word and recipe.serving_word == "servings":
            recipe.told = replace(recipe.told, word=word)
            settle_servings(recipe)
    weight = get(row, "yield_g")
    if weight:
        grams = read_amount(weight, "WATER", unit="g")
        if not isinstance(grams, str) and grams.amount > 0:
            recipe.yield_g = grams.amount
    return recipe


def _state(recipe: RawRecipe, layout: Layout, row: Sequence[Any], line: int | None) -> None:
    get = getter(layout.roles)
    said = basis_of(get(row, "basis"))
    if text := get(row, "stated"):
        read_nutrition_text(recipe, text, line)
    written = {at: cell for at in layout.nutrients if at < len(row) and (cell := _cell(row[at]))}
    energies = (layout.nutrients[at] for at in written if layout.nutrients[at].tag == "ENERC_KCAL")
    kcal = any(column.unit != "kj" for column in energies)
    for at, cell in written.items():
        column = layout.nutrients[at]
        if cell.lower() in _NOTHING or (column.unit == "kj" and kcal):
            continue
        value: Any = row[at] if isinstance(row[at], (int, float)) else cell
        read = read_amount(value, column.tag, unit=column.unit, salt=column.salt)
        basis = column.basis or said or "per_serving"
        add_stated(recipe, column.tag, read, basis, cell, column.tag, line)


#: Cells that say that there is no number.
_NOTHING = frozenset(("na", "n/a", "-", "–", "none", "null", "?"))
