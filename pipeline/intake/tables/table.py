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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property, partial
from itertools import groupby, islice, starmap, zip_longest
from pathlib import Path
from typing import TYPE_CHECKING, Any

from pipeline import csv_rows
from pipeline.intake.amounts import Amount, read_amount
from pipeline.intake.by_content import read_by_content
from pipeline.intake.columns import basis_above, basis_of
from pipeline.intake.entries import Entries, are_plain, clean, render
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.model import Basis, RawLine, RawRecipe, Read, cut, guarded, unreadable
from pipeline.intake.pages.schema_org import (
    add_stated,
    method_of,
    read_nutrition_text,
    set_yield,
    set_yield_weight,
    settle_servings,
)
from pipeline.intake.stated_line import own_basis, read_stated_line
from pipeline.intake.tables.card_rows import Row, block_lines, trimmed
from pipeline.intake.tables.fact_rows import fact_rows, surely_states, take_facts
from pipeline.intake.tables.grid import better_reading
from pipeline.intake.tables.layout import (
    MAX_COLUMNS,
    Form,
    Layout,
    delimiters,
    form_of,
    without_foot,
)
from pipeline.intake.tables.layout import layout_of as layout_of
from pipeline.intake.tables.layout import sniff_delimiter as sniff_delimiter
from pipeline.intake.text.card import read_cards
from pipeline.intake.text.evidence import leaves_doubt
from pipeline.intake.text.inline_list import list_in_line
from pipeline.intake.text.line_kinds import MAYBE_STATED
from pipeline.intake.unread import columns_in, unread
from pipeline.problems import Problem, input_problem

if TYPE_CHECKING:
    import duckdb


#: Characters from which on a table is read by its columns alone.
_MAX_GRID = 60_000
#: Lines of a table without ingredients that are looked at for the numbers of recipes.
_MAX_NUMBER_ROWS = 100_000


def read_csv(lines: Iterable[str], head: str, source: str) -> Read:
    """Recipes of a CSV file; never raises.

    A row that cannot be read is a problem with its line, and an unreadable line of its recipe:
    that recipe is not known in full.

    Args:
        lines: of the whole file, without their ends.
        head: its decoded beginning.
        source: its name in messages.
    """
    form = form_of(head)
    if form is None:
        lines = islice(lines, _MAX_NUMBER_ROWS)
    lines = list(lines) if form is None or len(head) < _MAX_GRID else lines
    read = _read_form(lines, form, head, source) if form else _unknown_columns(head, source)
    if not isinstance(lines, list):
        return read
    read = _best_of_grid(lines, form, read, head, source)
    if (
        sniff_delimiter(head) is None
    ):  # any other may be read in parts, none of which knows the rest
        rows, _ = grid_rows(lines, form.delimiter if form else delimiters(head)[0], source)
        read.problems += unread(columns_in(rows), read)
    return read


def _best_of_grid(lines: list[str], form: Form | None, read: Read, head: str, source: str) -> Read:
    """A small CSV by its columns, as it was read, or as the grid that it is."""
    if leaves_doubt(read.recipes):
        from pipeline.intake.tables.number_rows import (  # it makes use of this module
            is_ledger,
            numbers_of,
        )
        from pipeline.intake.tables.stacked import several_tables

        rows, problems = grid_rows(lines, delimiters(head)[0], source)
        if (read_apart := several_tables(rows, "csv")) is not None:
            read_apart.problems += problems
            return read_apart
        if form is None and is_ledger(apart := numbers_of(rows, "csv", [])):
            read.apart = apart
            return read
        if recipes := better_reading(rows, "csv", read.recipes):
            return Read(recipes, problems, "a CSV table", apart=numbers_of(rows, "csv", recipes))
        titled = form is not None and names_titles(form)
        if not any(says_more(recipe, titled=titled) for recipe in read.recipes):
            read.listed, read.recipes = read.recipes, []
        read.apart = numbers_of(rows, "csv", read.recipes)
    return read


def names_titles(form: Form) -> bool:
    """Whether titles are told by the name of their column, where a table has any, not by its cells."""
    return all(field != "title" for _, field in form.renamed)


def titled_rows(rows: Sequence[Row], form: Form, format: str) -> Read:
    """Recipes of the rows of a sheet below the names of its columns, of which one holds their titles."""
    width = len(form.names)
    columns = columns_of([cells for _, cells in rows], width)[:width]
    return read_columns(form.names, columns, [no for no, _ in rows], format=format)


def says_more(recipe: RawRecipe, *, titled: bool = False) -> bool:
    """Whether rows are more than a list of foods and amounts, as of a freezer or a shop.

    Args:
        titled: the name of a column says that it holds titles.
    """
    known = not (math.isnan(recipe.servings) and math.isnan(recipe.yield_g))
    named = (titled and recipe.title) or recipe.own_id
    return bool(named or recipe.stated or recipe.method or known)


def grid_rows(lines: Sequence[str], delimiter: str, source: str) -> tuple[list[Row], list[Problem]]:
    """Rows of a CSV that hold anything, of any width, and the problems of those that are none."""
    widest = delimiter.join(["x"] * (1 + max((line.count(delimiter) for line in lines), default=0)))
    items = list(csv_rows.rows([widest, *lines], delimiter, first_line=0))[1:]
    cells = [(item.line, item.cells) for item in items if isinstance(item, csv_rows.Row)]
    rows = [(no, trimmed(row)) for no, row in without_foot(cells)]
    faults = [item for item in items if isinstance(item, csv_rows.Fault)]
    return [row for row in rows if row[1]], csv_rows.problems_of(faults, source)


def _read_form(lines: Iterable[str], form: Form, head: str, source: str) -> Read:
    """Recipes of a CSV by its columns."""
    kept_lines = ("" if at < form.lead else line for at, line in enumerate(lines))
    items = csv_rows.rows(kept_lines, form.delimiter)
    header = next(items, None)
    if not isinstance(header, csv_rows.Row):
        return _unknown_columns(head, source)
    names = form.names
    faults: list[csv_rows.Fault] = []
    kept: list[list[str]] = []
    starts: list[int] = []
    for item in items:
        if isinstance(item, csv_rows.Fault):
            faults.append(item)
            kept.append(stand_in(item, names, form.delimiter))
        else:
            kept.append(item.cells)
        starts.append(item.line)
    body = without_foot(list(zip(starts, kept, strict=True)))
    starts, kept = [no for no, _ in body], [cells for _, cells in body]
    if form.blocks:
        rows = list(zip(starts, kept, strict=True))
        read = read_cards(list(block_lines(names, rows)), source, format="csv")
    else:
        columns = columns_of(kept, len(names))[: len(names)]
        read = read_columns(names, columns, starts, format="csv")
    read.problems.extend(csv_rows.problems_of(faults, source))
    read.problems.extend(starmap(read_by_content, form.renamed))
    return read


def stand_in(fault: csv_rows.Fault, header: Sequence[str], delimiter: str) -> list[str]:
    """The row that stands for lines of a CSV that are none: its recipe, and an unreadable line.

    The recipe is the one that the first of those lines begins with, as far as that can be seen;
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
    problem = input_problem(
        "table-columns-unknown", source=source, source_line=1, text=cut(header),
        first_row=cut(header, 80),
    )  # fmt: skip
    return Read(problems=[problem], found="a CSV table")


def _unread_columns(names: Sequence[str]) -> Problem:
    listed = ", ".join(f'"{cut(name, 40)}"' for name in names[:6])
    return input_problem("columns-unread", listed=listed)


def read_parquet(path: Path, source: str) -> Read:
    """Recipes of a Parquet file, tidy or wide; list columns hold several lines. Never raises."""
    import duckdb

    try:
        with duckdb.connect() as con:
            result = con.execute("select * from read_parquet($path)", {"path": str(path)})
            names = [str(d[0]) for d in result.description or ()]
            if layout_of(names) is not None:
                return read_rows(names, result.fetchall(), format="parquet")
            read = _unknown_columns(", ".join(names), source)
    except duckdb.Error as fault:
        problem = input_problem(
            "parquet-invalid", source=source, why=cut(str(fault).partition("\n")[0], 200)
        )
        read = Read(problems=[problem])
    read.found = "a Parquet table"
    return read


def read_rows(
    header: Sequence[object],
    rows: Sequence[Sequence[Any]],
    *,
    format: str,
    first_line: int | None = None,
) -> Read:
    """Recipes of a table's rows.

    Args:
        header: column names.
        rows: cells, text or typed; None is an empty cell.
        format: name of the format for ``tables.RECIPE``.
        first_line: line of the first row in its file; None when rows have no lines.
    """
    lines: list[int | None] = []
    for row in rows:
        lines.append(first_line)
        if first_line is not None:
            first_line += 1 + sum(cell.count("\n") for cell in row if isinstance(cell, str))
    return read_columns(header, columns_of(rows, len(header)), lines, format=format)


def columns_of(rows: Sequence[Sequence[Any]], width: int) -> list[Sequence[Any]]:
    """The columns of rows, at least ``width``; where a row is short, its cells are None."""
    columns: list[Sequence[Any]] = list(zip_longest(*rows))
    return columns + [(None,) * len(rows)] * (width - len(columns))


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
    table = Table(layout, columns, lines, format)
    read_one = table.wide_recipe if layout.kind == "wide" else table.tidy_recipe
    rows_of = recipe_rows(layout, columns)
    for position, rows in enumerate(rows_of):
        recipe = guarded(partial(read_one, position, rows), format, position)
        if recipe.source_line is None:
            recipe.source_line = lines[rows[0]]
        read.recipes.append(recipe)
    if not all(recipe.lines for recipe in read.recipes):
        read.recipes = _with_texts(read.recipes, rows_of, list(map(str, header)), columns, lines)
    return read


def _with_texts(
    recipes: list[RawRecipe], rows_of: Sequence[Sequence[int]], header: Sequence[str],
    columns: Sequence[Sequence[Any]], lines: Sequence[int | None],
) -> list[RawRecipe]:  # fmt: skip
    """Recipes of a table, those without ingredients as a text in another cell of their row tells them."""
    from pipeline.intake.structured.text_values import with_texts  # here: few tables hold any

    nodes: list[dict[str, Any]] = [{} for _ in recipes]
    place: dict[str, int | None] = {}
    for node, recipe, (at, *_) in zip(nodes, recipes, rows_of, strict=True):
        if not recipe.lines:
            node |= {name: cells[at] for name, cells in zip(header, columns, strict=False)}
            place |= {cell: lines[at] for cell in node.values() if isinstance(cell, str)}
    return with_texts(nodes, nodes, recipes, place.get)


def recipe_rows(layout: Layout, columns: Sequence[Sequence[Any]]) -> list[list[int]]:
    """The rows of each recipe of a table, the recipes in the order of their first rows.

    Of a wide table each row that holds anything is one. A row of a tidy one that leaves id and
    title empty belongs to the recipe above it.
    """
    count = len(columns[0])
    if layout.kind == "wide":
        rows = zip(*columns, strict=True)
        return [[at] for at, row in enumerate(rows) if any(map(_cell, row))]
    roles = [role for role in ("id", "title", "creator") if role in layout.roles]
    names = list(zip(*(columns[layout.roles[role]] for role in roles), strict=True))
    found: dict[tuple[str, ...], list[int]] = {}
    key: tuple[str, ...] = ()
    for _, run in groupby(range(count), (names or [()] * count).__getitem__):
        mine = list(run)
        own = {role: _cell(columns[layout.roles[role]][mine[0]]) for role in roles}
        if own.get("id"):
            key = ("id", own["id"])
        elif own.get("title"):
            key = ("title", own["title"], own.get("creator", ""))
        elif not key:  # a recipe without a name begins with the first row that holds anything
            mine = [at for at in mine if found or any(_cell(cells[at]) for cells in columns)]
            key = ("title", "", "") if mine else ()
        if mine:
            found.setdefault(key, []).extend(mine)
    return list(found.values())


def _cell(value: Any) -> str:
    if isinstance(value, str):
        return value.strip()
    if value is None:
        return ""
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:g}" if value.is_integer() else repr(value)
    return str(value).strip()


def _split(text: str) -> list[str]:
    """Lines of a cell: by line breaks, else by ``|``, else by ``;``, else between their amounts."""
    for mark in ("\n", "|", ";"):
        if mark in text:
            return [part.strip() for part in text.split(mark)]
    return list_in_line(text) or [text] if _MAY_LIST.search(text) else [text]


#: Three amounts between commas or slashes, at least.
_MAY_LIST = re.compile(r"\d.*(?:,|\s/)\s.*\d.*(?:,|\s/)\s.*\d", re.DOTALL)


class Table:
    """A table of recipes, by its columns, and what its rows say."""

    def __init__(
        self, layout: Layout, columns: Sequence[Sequence[Any]], lines: Sequence[int | None],
        format: str,
    ) -> None:  # fmt: skip
        self._layout, self._columns, self._lines, self._format = layout, columns, lines, format
        self._states = bool(layout.nutrients or layout.joint) or "stated" in layout.roles

    def _cell(self, role: str, at: int) -> str:
        column = self._layout.roles.get(role)
        return "" if column is None else _cell(self._columns[column][at])

    def _cells(self, role: str) -> list[str] | None:
        column = self._layout.roles.get(role)
        return None if column is None else [_cell(cell) for cell in self._columns[column]]

    def wide_recipe(self, position: int, rows: Sequence[int]) -> RawRecipe:
        """The recipe of one row."""
        at = rows[0]
        recipe = self.recipe(position, at)
        entries = Entries()
        if (column := self._layout.roles.get("ingredients")) is not None:
            value = self._columns[column][at]
            entries.add(_split(value) if isinstance(value, str) else value)
        for parts in self._layout.numbered:
            cells = [_cell(self._columns[column][at]) for column in parts]
            entries.add(" ".join(filter(None, cells)) if cells[-1] else "")
        recipe.lines = entries.lines
        for one in recipe.lines:
            one.source_line = self._lines[at]
        recipe.problems.extend(entries.problems)
        self.state(recipe, at)
        return recipe

    def tidy_recipe(self, position: int, rows: Sequence[int]) -> RawRecipe:
        """The recipe of several rows, an ingredient each; the first that states numbers counts."""
        recipe = self.recipe(position, rows[0])
        facts = {} if self._sure.isdisjoint(rows) else fact_rows(self._facts(rows), rows)
        foods = [at for at in rows if at not in facts]
        each = self._of_each(foods)
        bases = {
            at: read_stated_line(text).basis or basis_above(self._names[at])
            for at, text in facts.items()
        }
        for at in foods if not each else ():
            if recipe.stated:
                break
            self.state(recipe, at)
        for at, basis in bases.items() if not recipe.stated else ():
            self.state(recipe, at, basis)
        take_facts(recipe, [(text, self._lines[at]) for at, text in facts.items()])
        if each and not recipe.stated and recipe.title and len(each) == len(foods):
            self._add_up(recipe, each)
        rows = foods
        ingredients = [
            (self._texts[at], self._sections[at].rstrip(": ") if self._sections else "", at)
            for at in sorted(rows, key=self._orders.__getitem__) if self._texts[at]
        ]  # fmt: skip
        if are_plain([text for text, _, _ in ingredients]):
            recipe.lines += [
                RawLine(text, section if text.rstrip(": ") != section else "", self._lines[at])
                for text, section, at in ingredients
            ]
            return recipe
        entries = Entries()
        for text, section, at in ingredients:
            first = len(entries.lines)
            entries.add(text)
            for one in entries.lines[first:]:
                one.source_line = self._lines[at]
                if section and one.text.rstrip(": ") != section:
                    one.section = section
        recipe.lines = entries.lines
        recipe.problems.extend(entries.problems)
        return recipe

    def _of_each(self, rows: Sequence[int]) -> list[int]:
        """Rows whose energies differ, as those of the ingredients do; none where one is stated."""
        energy = next((p for p, c in self._layout.nutrients.items() if c.tag == "ENERC_KCAL"), None)
        if energy is None:
            return []
        told = {at: cell for at in rows if (cell := _cell(self._columns[energy][at]))}
        return list(told) if len(set(told.values())) > 1 and len(told) > len(rows) / 2 else []

    def _add_up(self, recipe: RawRecipe, rows: Sequence[int]) -> None:
        for place, column in self._layout.nutrients.items():
            if column.basis in (None, "per_recipe") and column.unit != "kj":
                read = [read_amount(_cell(self._columns[place][at]), column.tag, unit=column.unit,
                                    salt=column.salt) for at in rows]  # fmt: skip
                known = [one for one in read if isinstance(one, Amount)]
                if len(known) == len(rows):
                    total = Amount(sum(k.amount for k in known), max(k.step for k in known), "")
                    add_stated(recipe, column.tag, total, "per_recipe", "", column.tag)

    @cached_property
    def _names(self) -> list[str]:
        """What each row of a tidy table names."""
        return self._cells("line") or self._cells("ingredient") or []

    @cached_property
    def _sure_names(self) -> set[str]:
        return set(filter(surely_states, set(self._names)))

    @cached_property
    def _numbers_told(self) -> list[set[str]]:
        """Cells beside the foods that may state numbers, by role."""
        return [set(filter(MAYBE_STATED.search, set(self._cells(r) or ()))) for r in _SAY_NUMBERS]

    @cached_property
    def _sure(self) -> set[int]:
        """Rows of which a recipe has at least one where any of its rows states a fact."""
        rows = {at for at, name in enumerate(self._names) if name in self._sure_names}
        for role, told in zip(_SAY_NUMBERS, self._numbers_told, strict=True):
            rows |= {at for at in range(len(self._names)) if told and self._cell(role, at) in told}
        return rows

    def _facts(self, rows: Sequence[int]) -> dict[int, str]:
        """Those of a tidy table's rows that may state a fact in place of a food: "name: amount"."""
        found: dict[int, str] = {}
        for at in rows:
            given = [self._cell(role, at) for role in ("amount", "unit", "grams")]
            states = [
                self._cell(role, at) in said
                for role, said in zip(_SAY_NUMBERS, self._numbers_told, strict=True)
            ]
            name = self._names[at]
            if name in self._sure_names or MAYBE_STATED.search(name) or any(states):
                value = " ".join(part for part in given if any(c.isalnum() for c in part))
                value = ", ".join([value, self._cell("note", at)]) if states[-1] else value
                found[at] = f"{name.rstrip(': ')}: {value}" if value else name
        return found

    @cached_property
    def _texts(self) -> list[str]:
        """The ingredient of each row of a tidy table."""
        texts = self._cells("line") or [""] * len(self._lines)
        if (foods := self._cells("ingredient")) is None:
            return texts
        parts = {role: self._cells(role) for role in ("amount", "unit", "grams", "note")}
        given = {role: cells for role, cells in parts.items() if cells is not None}
        if self._layout.measures and "amount" not in given:
            given["amount"] = [self._measure(at) for at in range(len(self._lines))]
        return [
            text or _food_line(food, {role: cells[at] for role, cells in given.items()})
            for at, (text, food) in enumerate(zip(texts, foods, strict=True))
        ]

    def _measure(self, at: int) -> str:
        """The amount of a row of a table with a column for each unit."""
        told = ((_cell(self._columns[c][at]), unit) for c, unit in self._layout.measures.items())
        return next((f"{cell} {unit}".strip() for cell, unit in told if cell), "")

    @cached_property
    def _sections(self) -> list[str] | None:
        return self._cells("section")

    @cached_property
    def _orders(self) -> Sequence[float]:
        """What the rows of a tidy recipe are ordered by."""
        numbers = self._cells("line_no")
        if numbers is None:
            return range(len(self._lines))
        return [_order(number, at) for at, number in enumerate(numbers)]

    def recipe(self, position: int, at: int) -> RawRecipe:
        """What a row says of its recipe, its lines and numbers apart."""
        line = self._lines[at]
        title, told = clean(self._cell("title", at))[:300], None
        if not self._cell("servings", at):
            title, told = titled_yield(title)
        recipe = RawRecipe(title, self._format, position, source_line=line)
        recipe.own_id = " ".join(self._cell("id", at).split())[:200]
        if creator := self._cell("creator", at):
            recipe.creator = clean(creator)[:200]
        if description := self._cell("description", at):
            recipe.description = clean(description)[:5000]
        if method := self._cell("method", at):
            recipe.method = method_of(method)
        if servings := self._cell("servings", at) or told:
            set_yield(recipe, servings, line)
            word = self._cell("serving_word", at)
            if word and recipe.serving_word == "servings":
                recipe.told = replace(recipe.told, word=word)
                settle_servings(recipe)
        if weight := self._cell("yield_g", at):
            set_yield_weight(recipe, weight, line)
        return recipe

    def state(self, recipe: RawRecipe, at: int, basis: Basis | None = None) -> None:
        """Add the numbers that a row states, for ``basis`` where it is given."""
        line = self._lines[at]
        of_all = basis_of(self._cell("basis", at)) or basis
        if text := self._cell("stated", at):
            read_nutrition_text(recipe, text, line)
        written = [
            (column, cells[at], cell)
            for place, column in self._layout.nutrients.items()
            if (cell := _cell((cells := self._columns[place])[at]))
        ]
        self._state_joint(recipe, at, of_all)
        in_kcal = any(c.tag == "ENERC_KCAL" and c.unit != "kj" for c, _, _ in written)
        for column, value, cell in written:
            if cell.lower() in _NOTHING or (column.unit == "kj" and in_kcal):
                continue
            number = value if isinstance(value, (int, float)) else cell
            read = read_amount(number, column.tag, unit=column.unit, salt=column.salt)
            given = own_basis(value) or column.basis or of_all or "per_serving"
            add_stated(recipe, column.tag, read, given, cell, column.tag, line)

    def _state_joint(self, recipe: RawRecipe, at: int, basis: Basis | None) -> None:
        """Add the numbers of cells that hold several, in the order that their column names them."""
        for place, (order, told) in self._layout.joint.items():
            cell = _cell(self._columns[place][at])
            numbers = _NUMBERS.findall(cell)
            if len(numbers) != len(order):
                if numbers:
                    why = f"it holds {len(numbers)} numbers for {len(order)} nutrients"
                    recipe.problems.append(input_problem(
                        "stated-unreadable", source_line=self._lines[at], text=cut(cell),
                        nutrient="nutrition", written=cut(cell, 40), why=why,
                    ))  # fmt: skip
                continue
            given = told or basis or "per_serving"
            for tag, number in zip(order, numbers, strict=True):
                unit = "kj" if tag == "kj" else ""
                tag = "ENERC_KCAL" if unit else tag
                read = read_amount(number, tag, unit=unit)
                add_stated(recipe, tag, read, given, cell, tag, self._lines[at])


#: Numbers of a cell that holds several.
_NUMBERS = re.compile(r"\d+(?:[.,]\d+)*")
#: Columns beside the foods in which a row may have its numbers.
_SAY_NUMBERS = ("amount", "note")


def _food_line(food: str, parts: Mapping[str, str]) -> str:
    """The line that a food, its amount, unit, weight and note make; "" without a food."""
    return render({"name": food, **parts}) if food and any(parts.values()) else food


def _order(text: str, count: int) -> float:
    try:
        found = float(text)
    except ValueError:
        return float(count)
    return found if math.isfinite(found) else float(count)


#: Cells that say that there is no number.
_NOTHING = frozenset(("na", "n/a", "-", "–", "none", "null", "?"))
