"""What the columns of a table hold: by their names, and by their cells where those say nothing."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby, islice, pairwise
from typing import Any

from pipeline import csv_rows
from pipeline.foods.words import singular
from pipeline.intake.by_content import are_lines, count_key, holds_lines, may_be_title, mostly_lines
from pipeline.intake.columns import (
    NutrientColumn,
    basis_above,
    basis_of,
    column_among,
    field_of,
    head_words,
    plain,
    resembles,
    speaks_of_nutrition,
)  # fmt: skip
from pipeline.intake.counted import thing_of
from pipeline.intake.entries import render
from pipeline.intake.facts_line import titled_yield
from pipeline.intake.model import Basis
from pipeline.intake.numbers import Roles
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.structured.number_lists import order_in
from pipeline.intake.text.inline_list import list_in_line

MAX_COLUMNS = 500
_BRACKETS = re.compile(r"[(\[][^()\[\]]*[)\]]")
_NUMBERED = re.compile(r"^ingredients?_?(\d{1,3})$")
#: A column of one part of an ingredient, and how many ingredients tell that it is.
_PART_OF, _LEAST_PARTS = re.compile(r"^(.*[^\W\d_])_?(\d{1,3})$"), 2
#: A column that gives its values in a unit, "Used (g)", or counts: "Pieces".
IN_UNIT = re.compile(
    r"(?:[(\[/]|\bin|^)\s*(g|grams?|kg|ml|l|oz|ounces?|lbs?|tbsp|tsp|cups?)\.?\s*[)\]]?\s*$",
    re.IGNORECASE,
)
_COUNTS = "^ [slice item unit] $"
#: A column or row of what things cost, whatever else its name says: "$ line".
PRICE = re.compile(r"[$£€¥]|\b(?:price|cost)s?\b", re.IGNORECASE)
_LIST_MARKS = ("\n", "|", ";")
_MAX_LEAD = 6
#: How a cell begins that may be an amount.
_AMOUNT = re.compile(r"\W{0,2}[\d½¼¾⅓⅔⅛]")
_LEAST_ROWS = 2
_LONGEST_UNIT = 12
#: Rows that are looked at to learn what the columns hold.
_ROWS = 100
#: Rows below a table that are none of it, and cells of such a row, at most.
_MAX_FOOT, _FOOT_CELLS = 3, 2
#: A longer text names no column.
_LONGEST_NAME = 40
#: Share of titles that differ, beyond which each row is a recipe of its own.
_DIFFERENT = 0.8
#: Groups of rows in a table whose rows belong to recipes, a row: a recipe has several lines.
_MOST_GROUPS = 2 / 3


@dataclass(slots=True)
class Layout:
    """Which column holds what.

    Attributes:
        kind: ``tidy`` or ``wide``; "" for columns that name no ingredients.
        roles: role to column position.
        nutrients: column position to what it states.
        numbered: positions of ``ingredient 1``, ``ingredient 2`` ... in their order, each behind
            those of its amount and unit where these have columns of their own.
        unread: headers that speak of nutrition and are not understood.
        measures: position to unit of columns of amounts, where there are several, each in its own.
        joint: position to the nutrients of columns of several numbers a cell, "kcal / P / C / F", and
            to what these are for.
    """

    kind: str
    roles: dict[str, int]
    nutrients: dict[int, NutrientColumn] = field(default_factory=dict)
    numbered: list[tuple[int, ...]] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    measures: dict[int, str] = field(default_factory=dict)
    joint: dict[int, tuple[tuple[str, ...], Basis | None]] = field(default_factory=dict)


def layout_of(header: Sequence[object]) -> Layout | None:
    """Layout of a header row; None when it names no ingredients."""
    layout = named_columns(header)
    return layout if layout.kind else None


def named_columns(header: Sequence[object]) -> Layout:
    """What the names of a header row say; its ``kind`` is "" where none is of ingredients."""
    roles: dict[str, int] = {}
    nutrients: dict[int, NutrientColumn] = {}
    numbered: list[tuple[int, tuple[int, ...]]] = _in_parts(header)
    parted = {at for _, group in numbered for at in group}
    unread: list[str] = []
    measures: dict[int, str] = {}
    joint: dict[int, tuple[tuple[str, ...], Basis | None]] = {}
    for at, name in enumerate(header[:MAX_COLUMNS]):
        key = plain(name if name is not None else "")
        if not key or at in parted or PRICE.search(str(name)):
            continue
        if field_of(key, "column") is None and not IN_UNIT.search(str(name)):
            key = plain(_BRACKETS.sub(" ", str(name))) or key  # "Ingredients (one per line)"
        found = _NUMBERED.match(key)
        if found:
            numbered.append((int(found[1]), (at,)))
        elif (role := field_of(key, "column")) and role not in roles:
            roles[role] = at
        else:
            column = column_among(str(name).strip(), header)
            if order := order_in(str(name)):
                joint[at] = order, basis_above(str(name))
            elif column is not None:
                nutrients[at] = column
            elif (unit := IN_UNIT.search(str(name))) is not None:
                measures[at] = unit[1].lower()
            elif measures and Roles(str(name)).search(_COUNTS):
                measures[at] = ""
            elif speaks_of_nutrition(str(name)):
                unread.append(str(name))
    if len(measures) == 1 and ("amount" in roles or next(iter(measures.values()))[:1] == "g"):
        at, unit_of_all = measures.popitem()
        if unit_of_all.startswith("g"):
            roles.setdefault("grams", at)
    if "grams" in roles and "ingredient" not in roles:
        del roles["grams"]
    positions = [at for _, at in sorted(numbered)]
    if "ingredients" in roles or positions:
        return Layout("wide", roles, nutrients, positions, unread, joint=joint)
    kind = "tidy" if "line" in roles or "ingredient" in roles else ""
    return Layout(kind, roles, nutrients, [], unread, measures, joint)


def _in_parts(header: Sequence[object]) -> list[tuple[int, tuple[int, ...]]]:
    """Numbers and columns of ingredients in parts: "ing 1", "amt 1", "ing 2", "amt 2"; [] for none."""
    stems: dict[str, dict[int, int]] = {}
    for at, name in enumerate(header[:MAX_COLUMNS]):
        found = _PART_OF.match(plain(name if name is not None else ""))
        if found:
            stems.setdefault(found[1], {})[int(found[2])] = at
    numbers = max((set(places) for places in stems.values()), key=len, default=set())
    stems = {stem: places for stem, places in stems.items() if set(places) == numbers}
    roles = {stem: field_of(stem, "column") for stem in stems}
    amounts = [stem for role in ("amount", "unit") for stem in stems if roles[stem] == role]
    foods = [stem for stem in stems if roles[stem] in (None, "ingredient", "ingredients", "line")]
    if len(numbers) < _LEAST_PARTS or not amounts or len(foods) != 1:
        return []
    order = (*amounts, *foods)
    return [(number, tuple(stems[stem][number] for stem in order)) for number in sorted(numbers)]


@dataclass(frozen=True, slots=True)
class Form:
    """How a table is read.

    Attributes:
        names: of its columns, those that its cells tell in place of what is written.
        renamed: written name and field of each of these.
        blocks: its recipes are blocks of rows below a row of their title.
        delimiter: of a CSV.
        lead: lines of a CSV above its header.
    """

    names: list[str]
    renamed: tuple[tuple[str, str], ...] = ()
    blocks: bool = False
    delimiter: str = ""
    lead: int = 0


def named_delimiter(head: str) -> str | None:
    """Delimiter of a CSV text by its header line; None when that line names no recipe columns."""
    header = next((line for line in head.split("\n") if line.strip()), "")[:20_000]
    for delimiter in delimiters(header):
        cells = [c.strip().strip('"') for c in header.split(delimiter)]
        if len(cells) > 1 and layout_of(cells) is not None:
            return delimiter
    return None


def sniff_delimiter(head: str) -> str | None:
    """Delimiter of a CSV whose header alone says how it is read, None for any other text.

    Args:
        head: its decoded beginning.
    """
    form = form_of(head) if named_delimiter(head) else None
    plain_form = form is not None and not (form.blocks or form.renamed or form.lead)
    return form.delimiter if form is not None and plain_form else None


def form_of(head: str) -> Form | None:
    """How a CSV text is read, None for one that is no table of recipes."""
    lines = head[:65536].split("\n")
    tops = range(min(_MAX_LEAD, len(lines)))
    named = next(((at, d) for at in tops if (d := named_delimiter("\n".join(lines[at:])))), None)
    for at in tops if named is None else [named[0]]:
        header = next((line for line in lines[at:] if line.strip()), "")[:20_000]
        for delimiter in delimiters(header)[:2] if named is None else [named[1]]:
            items = csv_rows.rows(csv_rows.split_lines("\n".join(lines[at:])), delimiter)
            rows = [item.cells for item in islice(items, _ROWS) if isinstance(item, csv_rows.Row)]
            if not rows or len(rows[0]) < 2 or (named is None and len(rows[0]) > MAX_COLUMNS):
                continue
            if named is None and not (may_head(rows[0]) if at else is_wide(rows)):
                continue
            above = lines[at - 1].split(delimiter) if at else []
            names = for_what(rows[0][:MAX_COLUMNS], above)
            if (form := table_form(names, rows[1:])) is not None:
                return replace(form, delimiter=delimiter, lead=at)
    return None


def without_foot(rows: Sequence[tuple[int, list[Any]]]) -> list[tuple[int, list[Any]]]:
    """Rows without what stands apart below a table and is none of it: who checked it, how many rows."""
    filled = [[cell for cell in cells if cell not in (None, "")] for _, cells in rows]
    for at in range(len(rows) - 1, max(len(rows) - _MAX_FOOT - 1, 0), -1):
        apart = not filled[at - 1] or rows[at][0] - rows[at - 1][0] > 1
        if not apart:
            continue
        foot = [cells for cells in filled[at:] if cells]
        wide = sum(len(cells) > _FOOT_CELLS or _counts_behind(cells) for cells in filled[:at])
        told = any(map(_counts_behind, foot))
        short = all(len(cells) <= _FOOT_CELLS for cells in foot)
        if foot and short and not told and 2 * wide > at and not _states_all(foot):
            return list(rows[:at])
        break
    return list(rows)


def _counts_behind(cells: Sequence[Any]) -> bool:
    """Whether a cell behind the first holds a number."""
    return any(any(map(str.isdigit, str(cell))) for cell in cells[1:])


def _states_all(rows: Sequence[Sequence[Any]]) -> bool:
    return any(read_stated_line(" ".join(map(str, cells))).found for cells in rows)


def may_head(cells: Sequence[object]) -> bool:
    """Whether a row may name the columns below it: short texts without numbers, two at least."""
    texts = [str(cell).strip() for cell in cells if cell not in (None, "")]
    bare = (_BRACKETS.sub("", text) for text in texts)
    numbers = any(text[:1].isdigit() or text.rstrip().isdigit() for text in bare)
    return len(texts) > 1 and not numbers and max(map(len, texts)) <= _LONGEST_NAME


def is_wide(rows: Sequence[Sequence[object]]) -> bool:
    """Whether the first row names more than what stands in it alone, as the name of a sheet does above
    one that may name the columns."""
    first = sum(cell not in (None, "") for cell in rows[0])
    return first > 1 or not any(map(may_head, rows[1:_MAX_LEAD]))


def for_what(names: Sequence[object], above: Sequence[object]) -> list[str]:
    """Names of columns, those of nutrients with what stands above them and says what they are for: not
    with the name of the sheet ("Batch sheet"), which stands above another column."""
    made = ["" if name is None else str(name).strip() for name in names]
    said = ""
    for at, name in enumerate(made):
        cell = "" if at >= len(above) or above[at] is None else str(above[at]).strip()
        if cell:
            said = cell if not name or column_among(name, made) is not None else ""
        column = column_among(name, made) if name and said and basis_of(said) else None
        if column is not None and column.basis is None:
            made[at] = f"{name} {said}"
    return made


def delimiters(header: str) -> list[str]:
    """Marks that may part the cells, the most frequent first."""
    return sorted(",;\t|", key=lambda d: -header.count(d))


def table_form(header: Sequence[object], rows: Sequence[Sequence[Any]]) -> Form | None:
    """How a table with this header and these first rows is read; None when it is none of recipes.

    A name that is known stands, but for one: "Ingredients" over cells of one ingredient each. Where
    no name says which column holds the ingredients, the cells do, with the titles beside them.
    """
    names = with_ids(["" if name is None else str(name) for name in header])
    texts = [_filled(row, len(names)) for row in rows[:_ROWS]]
    columns = list(zip(*texts, strict=True)) if texts else [()] * len(names)
    written = list(names)
    for at in _lists_under_title(names, columns):
        names[at] = "ingredients"
    layout = layout_of(names)
    lined = _numbered_columns(names, columns) if layout is None else []
    listed = tuple((names[at], "ingredients") for at in lined)
    fields = {at: f"ingredient {number}" for number, at in enumerate(lined, start=1)}
    fields |= _single(layout, columns) if layout is not None else {}
    for at, name in fields.items():
        names[at] = name
    layout = layout_of(names)
    by_rows = layout is None or (layout.kind == "tidy" and not layout.measures)
    parts = _listed_parts(names, columns) if by_rows else {}
    told = _fields_by_content(names, columns, layout, parts)
    if layout is not None:
        told |= {at: part for at, part in parts.items() if _is_new(names[at], part)}
    renamed = (*listed, *((names[at], name) for at, name in told.items()))
    fields |= told
    for at, name in told.items():
        names[at] = name
    layout = layout_of(names) if layout is not None or fields else None
    if layout is None:
        return None
    renamed += tuple(
        (old, new)
        for old, new in zip(written, names, strict=True)
        if new == "ingredients" and field_of(plain(old), "column") == "title"
    )
    return Form(names, renamed, _in_blocks(layout, texts))


def _lists_under_title(names: Sequence[str], columns: Sequence[Sequence[str]]) -> list[int]:
    """The column of lists of ingredients under the name of a title ("recipe"), where no other is."""
    fields = [field_of(plain(name), "column") for name in names]
    if not {"ingredients", "ingredient", "line"}.isdisjoint(fields) or "title" not in fields:
        return []
    at = fields.index("title")
    return [at] if mostly(columns[at], holds_lines) else []


def _is_new(name: str, field: str) -> bool:
    """Whether the name of a column says something else than its cells do; a line may be under the
    name of a food."""
    named = field_of(plain(name), "column")
    return named != field and (named, field) != ("ingredient", "line")


def with_ids(names: Sequence[str]) -> list[str]:
    """Names of columns in which one that is short for the id of a recipe is that: "rec_id"."""
    if any(field_of(plain(name), "column") == "id" for name in names):
        return list(names)
    at = next((at for at, name in enumerate(names) if _is_id(name)), None)
    return ["id" if place == at else name for place, name in enumerate(names)]


def _is_id(name: str) -> bool:
    return plain(name).endswith("id") and resembles(name, "id")


def lists_more(names: Sequence[str]) -> bool:
    """Whether a column of a table is none of a list of ingredients: its price, the shop, a tick."""
    return any(
        name and field_of(plain(name), "column") is None and column_among(name, names) is None
        for name in names
    )


def listed_names(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str] | None:
    """Names of the columns of a list whose header does not say where its foods stand, told by their
    cells: foods, amounts, and beside them a note; None for any other table."""
    columns = list(zip(*(_filled(row, len(names)) for row in rows[:_ROWS]), strict=True))
    free = [
        at for at, name in enumerate(names)
        if field_of(plain(name), "column") is None and not PRICE.search(name)
        and column_among(name, names) is None
    ]  # fmt: skip
    found = {at: part for at, part in _listed_parts(names, columns).items() if at in free}
    if "ingredient" not in found.values():
        return None
    notes = (at for at in free if at not in found and mostly(columns[at], _has_a_word))
    found |= dict.fromkeys(list(notes)[:1], "note")
    return [found.get(at, name) for at, name in enumerate(names)]


#: Fields of a row that are none of its ingredient.
_OF_RECIPE = frozenset(
    ("id", "title", "servings", "serving_word", "yield_g", "creator", "basis", "stated", "method",
     "line_no", "section", "ingredients")
)  # fmt: skip
#: Parts of an ingredient by the field of their column.
_PARTS = {
    "ingredient": "name",
    "amount": "amount",
    "unit": "unit",
    "grams": "grams",
    "note": "note",
}


def _listed_parts(names: Sequence[str], columns: Sequence[Sequence[str]]) -> dict[int, str]:
    """Fields by position of the columns of ingredients of a table with a row each, told by their cells
    and by their names: what differs between the rows of a recipe, and makes lines together."""
    from pipeline.intake.structured.entry_parts import named_parts, parts_of
    from pipeline.intake.text.features import known_food  # here: few tables are told by their cells

    fields = [field_of(plain(name), "column") for name in names]
    if not columns or len(columns[0]) < _LEAST_ROWS:
        return {}
    groups = _group_column(names, fields, columns)
    of = [column_among(name, names) for name in names]
    measured = "grams" in fields  # what else is in a unit is the size of its pack
    values = any(c is not None and c.tag == "ENERC_KCAL" for c in of)  # of each food
    others = {
        at for at, field in enumerate(fields)
        if field is None and (PRICE.search(names[at]) or (measured and IN_UNIT.search(names[at].rpartition(" ")[2])))
    }  # fmt: skip
    differ = [
        at for at, field in enumerate(fields)
        if field not in _OF_RECIPE and at != groups and at not in others and any(columns[at])
        and not (values and of[at] is not None and field is None)
        and (groups is None or _differs(columns[at], columns[groups]))
    ]  # fmt: skip
    keys = {
        at: names[at] if names.count(names[at]) == 1 and names[at] else f"column {at}"
        for at in differ
    }
    rows = [
        {key: columns[at][row] or None for at, key in keys.items()}
        for row in range(len(columns[0]))
    ]
    rows = [row for row in rows if any(row.values())]
    parts = parts_of(rows)
    food = next((key for key, part in parts.items() if part == "name"), "")
    named = any(keys[at] == food and fields[at] == "ingredient" for at in keys)
    foods = {str(row[food]) for row in rows if row[food]} if food else set()
    stated = [column_among(name, foods) for name in foods]
    if len(foods) <= (0 if named else _LEAST_ROWS) or 2 * sum(map(bool, stated)) > len(foods):
        return {}
    if not mostly_lines([line for one in named_parts(rows, parts) if (line := render(one))]):
        return {}
    if not named and not any(map(known_food, foods)):
        return {}  # what is spent a month, and on what
    whole = not {"amount", "grams"} & set(parts.values()) and not any(
        part.startswith("in ") for part in parts.values()
    )
    told = {
        "name": "line" if whole else "ingredient",
        "amount": "amount",
        "unit": "unit",
        "grams": "grams",
    }
    return {
        at: told.get(parts[key]) or (f"amount ({parts[key].removeprefix('in ')})" if " " in parts[key] else "")
        for at, key in keys.items() if parts.get(key, "note") != "note"
    }  # fmt: skip


def _group_column(
    names: Sequence[str], fields: Sequence[str | None], columns: Sequence[Sequence[str]]
) -> int | None:
    """The column that says to which recipe each row belongs; None where a table is of one recipe."""
    if named := [fields.index(role) for role in ("id", "title") if role in fields]:
        return named[0]
    grouped = [
        at for at, cells in enumerate(columns)
        if fields[at] is None and names[at] and column_among(names[at], names) is None and _groups(cells)
        and (mostly(cells, may_be_title) or mostly(cells, str.isdecimal))
    ]  # fmt: skip
    return max(grouped, key=lambda at: len(set(columns[at])), default=None)


def _differs(cells: Sequence[str], groups: Sequence[str]) -> bool:
    """Whether the rows of one recipe differ in a column."""
    told: dict[str, str] = {}
    group = ""
    for cell, name in zip(cells, groups, strict=True):
        group = name or group
        if cell and told.setdefault(group, cell) != cell:
            return True
    return False


#: Unit behind the name of a food in a header: "Oats (g)", "Milk ml".
_UNIT_BEHIND = re.compile(
    r"^(.*?\S)\s*(?:[(\[]\s*([^\W\d]{1,8})\s*[)\]]|[\s,/_]([^\W\d_]{1,8}))\s*$"
)


def _numbered_columns(names: Sequence[str], columns: Sequence[Sequence[str]]) -> list[int]:
    """Columns of an ingredient each, under names that say nothing: "ingr1", "ingr2"; I, II, III."""
    free = [at for at, name in enumerate(names) if name and field_of(plain(name), "column") is None]
    filled = {at: [cell for cell in columns[at] if cell] for at in free}
    found = [at for at in free if filled[at] and are_lines(filled[at])]
    cells = [cell for at in found for cell in filled[at]]
    return found if len(found) > _LEAST_ROWS and mostly_lines(cells) else []


def names_food(name: str) -> bool:
    from pipeline.lines import parse  # here: few tables have columns of foods

    behind = _UNIT_BEHIND.match(name)
    if behind is None:
        return False
    line = parse(f"2 {behind[2] or behind[3]} {behind[1]}")
    return any(m.kind in ("mass", "volume") for m in line.measures) and bool(line.name)


def food_line(name: str, cell: Any) -> str:
    amount = "" if cell is None else str(cell).strip()
    behind = _UNIT_BEHIND.match(name)
    if not amount or amount in ("-", "–", "0", "0.0") or behind is None:
        return ""
    return f"{amount} {behind[2] or behind[3]} {behind[1]}"


def _filled(row: Sequence[Any], width: int) -> list[str]:
    cells = ["" if cell is None else str(cell).strip() for cell in row[:width]]
    return cells + [""] * (width - len(cells))


def _single(layout: Layout, columns: Sequence[Sequence[str]]) -> dict[int, str]:
    """The column of ingredients by its position, when it holds one a row and not all of a recipe."""
    at = layout.roles.get("ingredients")
    cells = [cell for cell in columns[at] if cell] if at is not None else []
    if at is None or len(cells) < 2 or any(m in cell for cell in cells for m in _LIST_MARKS):
        return {}
    titles = (
        [cell for cell in columns[layout.roles["title"]] if cell] if "title" in layout.roles else []
    )
    if len(set(titles)) > _DIFFERENT * len(cells) or (not titles and mostly(cells, list_in_line)):
        return {}
    parts = layout.roles.keys() & {"amount", "unit"}
    return {at: "ingredient" if parts or not mostly_lines(cells) else "line"}


def _fields_by_content(
    names: Sequence[str],
    columns: Sequence[Sequence[str]],
    layout: Layout | None,
    parts: Mapping[int, str],
) -> dict[int, str]:
    """Fields by position of a table whose names do not say where ingredients or titles are.

    ``parts``: of a table with a row an ingredient, see ``_listed_parts``.
    """
    free = [
        at for at, name in enumerate(names)
        if field_of(plain(name), "column") is None and column_among(name, names) is None
    ]  # fmt: skip
    fields = [field_of(plain(name), "column") for name in names]
    if not columns or not columns[0]:
        return {}
    if layout and "id" in fields:
        return {}
    found: dict[int, str] = {}
    lists = next((at for at in range(len(columns)) if mostly(columns[at], holds_lines)), None)
    if layout is None:
        if lists is None:
            lists = next((at for at in free if mostly(columns[at], list_in_line)), None)
        found = dict(parts) if lists is None else {lists: "ingredients"}
    wide = "ingredients" in found.values() if layout is None else layout.kind == "wide"
    if (found or layout) and "title" not in fields:
        titles = [
            at for at in free
            if at not in found and mostly(columns[at], may_be_title)
            and (len(set(columns[at])) == len(columns[at]) if wide else _groups(columns[at]))
        ]  # fmt: skip
        if titles:  # of the days and the dishes, the dishes
            found[
                max(
                    titles,
                    key=lambda at: (
                        resembles(names[at], "title"),
                        0 if wide else len("".join(columns[at])),
                    ),
                )
            ] = "title"
    things = {thing for name in names if (thing := thing_of(name))}
    for at in free:
        if (
            (plain(names[at]) in head_words("for") or singular(plain(names[at])) in things)
            and mostly(columns[at], _counts)
            and (found or layout)
        ):
            found[at] = "servings"
    if "servings" not in (*fields, *found.values()) and (found or layout):
        groups = next((at for at, field in found.items() if field == "title"), None)
        groups = fields.index("title") if groups is None and "title" in fields else groups
        measured = layout.measures if layout else {}
        counted = counted_column(
            names, columns, [at for at in free if at not in {*found, *measured}], groups
        )
        found |= {} if counted is None else {counted: "servings"}
    numbers = any(column_among(name, names) is not None for name in names)
    if numbers and "basis" not in fields and (found or layout):
        bases = (at for at in free if at not in found and mostly(columns[at], _says_for_what))
        found |= dict.fromkeys(list(bases)[:1], "basis")
    if not numbers and "stated" not in fields and (found or layout):
        stated = (at for at in free if at not in found and mostly(columns[at], _states_numbers))
        found |= dict.fromkeys(list(stated)[:1], "stated")
    told = {*found.values(), *fields}
    listed = told.issuperset(_LISTED) or ("ingredient" in told and _MEASURED.issubset(fields))
    sure = lists is not None or not told.isdisjoint(("title", "id")) or listed
    return found if sure else {}


def counted_column(
    names: Sequence[str], columns: Sequence[Sequence[str]], free: Sequence[int], groups: int | None
) -> int | None:
    """The column of what recipes make, told by its cells and by those beside it; None for none.

    ``groups``: the column that says to which recipe a row belongs; None where each row is one.
    """
    rows: dict[str, dict[str, str]] = {}
    last = ""
    for row in range(len(columns[0])):
        last = str(row) if groups is None else columns[groups][row] or last
        said = rows.setdefault(last, {})
        for at in free:
            if names[at] and columns[at][row]:
                said.setdefault(f"{names[at]}", columns[at][row])
    if groups is not None:
        free = [at for at in free if not _differs(columns[at], columns[groups])]
        rows = {
            row: {names[at]: said[names[at]] for at in free if names[at] in said}
            for row, said in rows.items()
        }
    key = count_key([said for said in rows.values() if said])
    return next((at for at in free if names[at] == key), None) if key else None


def _groups(cells: Sequence[str]) -> bool:
    """Whether cells name what their rows belong to: equal ones stand together, or are left empty."""
    filled = [cell for cell, _ in groupby(cells) if cell]
    apart = len(filled) == len(set(filled)) <= _MOST_GROUPS * len(cells)
    return bool(cells[0]) and apart and (all(cells) or len(filled) > 1)


def _states_numbers(cell: str) -> bool:
    return read_stated_line(cell).certain


def _says_for_what(cell: str) -> bool:
    """Whether a cell only says what numbers are for: "per 100 g"."""
    return read_stated_line(f"{cell}:").heading and basis_of(cell) is not None


def _counts(cell: str) -> bool:
    return not math.isnan(read_yield(cell).servings)


#: Fields of a list of ingredients that stands below its title, and those that its header may name.
_LISTED, _MEASURED = ("ingredient", "grams"), frozenset(("amount", "unit"))


def _has_a_word(cell: str) -> bool:
    return re.search(r"[^\W\d]{2}", cell) is not None


def mostly(cells: Sequence[str], holds: Any) -> bool:
    filled = [cell for cell in cells if cell]
    return bool(filled) and sum(bool(holds(cell)) for cell in filled) > len(filled) / 2


def food_column(layout: Layout) -> int:
    """Position of the column with the ingredient of a row of a tidy table."""
    return layout.roles.get("line", layout.roles.get("ingredient", 0))


def is_head(layout: Layout, row: Sequence[str]) -> bool:
    """Whether a row holds the title of a recipe, and no ingredient."""
    roles, food = layout.roles, row[food_column(layout)]
    if "title" in roles:
        return bool(row[roles["title"]]) and not food and not states_numbers(row)
    measured = any(row[roles[r]] for r in ("amount", "unit", "grams") if r in roles)
    numbers = any(row[at] for at in layout.nutrients)
    return bool(food) and not measured and (numbers or titled_yield(food)[1] is not None)


def states_numbers(row: Sequence[str]) -> bool:
    """Whether the cells of a row together are stated numbers and what they are for."""
    read = read_stated_line(" ".join(cell for cell in row if cell))
    return read.certain and read.basis is not None


def _in_blocks(layout: Layout, rows: Sequence[Sequence[str]]) -> bool:
    """Whether rows of titles stand above the rows of their ingredients, from the first row on."""
    filled = [row for row in rows if any(row)]
    if (
        layout.kind != "tidy"
        or "id" in layout.roles
        or not filled
        or not is_head(layout, filled[0])
    ):
        return False
    heads = [is_head(layout, row) for row in filled]
    below = [row for row, head in zip(filled, heads, strict=True) if not head]
    followed = sum(a and not b for a, b in pairwise(heads))
    if followed <= sum(heads) / 2:
        return False  # a table of foods and what they hold
    if "title" in layout.roles:
        return all(not row[layout.roles["title"]] or states_numbers(row) for row in below)
    return not any(row[at] for row in below for at in layout.nutrients)
