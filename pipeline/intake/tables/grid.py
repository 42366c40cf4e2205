"""Tables whose header does not say how they are read: the explanation that says most of the cells.

A grid may hold a recipe in each column, or in each row with a column a food; recipes as blocks one
below the other, or side by side; or rows that are lines of cards. Each of these is read, and the
reading whose recipes are best borne out (``evidence.worth``) stands, where it is better than none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise, takewhile
from statistics import median
from typing import Any

from pipeline.intake.by_content import count_key
from pipeline.intake.columns import NutrientColumn, column_among, field_of, nutrient_column, plain
from pipeline.intake.counted import thing_of
from pipeline.intake.facts_line import yield_line
from pipeline.intake.model import RawRecipe
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.card_rows import (
    Row,
    adds_up,
    cell_text,
    cell_texts,
    filled_texts,
    is_empty,
    joined,
    names_columns,
    spaced,
    stated_text,
    table_lines,
    text_lines,
    trimmed,
)
from pipeline.intake.tables.layout import (
    PRICE,
    Form,
    food_line,
    for_what,
    is_wide,
    layout_of,
    may_head,
    names_food,
    table_form,
)  # fmt: skip
from pipeline.intake.tables.number_parts import (
    COLUMN,
    headed,
    merged,
    named_above,
    numbers_out,
)
from pipeline.intake.tables.panels import is_panel, strips
from pipeline.intake.tables.shaped_blocks import shaped_lines
from pipeline.intake.text.card import read_roles
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.decoder import decoded
from pipeline.intake.text.evidence import better, leaves_doubt, sound, states_twice, worth
from pipeline.intake.text.features import known_food

#: Parts of each recipe by which rows read as a text have to say more than columns do.
_MORE = 2.0
#: Rows of a grid that is looked at in several ways.
_MAX_ROWS = 3_000
_HEADER_ROWS = 12
#: Foods that recipes in columns share, at least, and the share of names that are foods or facts.
_LEAST_FOODS = 3
_KNOWN = 0.6
#: Numbers without a unit are grams where half of them are larger.
_GRAMS_FROM = 15.0
_ZERO = ("0", "0.0")
#: Of an oven: "200 C", in cells of their own too.
_HEAT = re.compile(r"^(?:[^\W\d]+ )?[1-9]\d\d\s?°?\s?[CF](?!\w)")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
#: Fields of columns that are parts of an ingredient.
_PARTS = {"amount": "amount", "unit": "unit", "ingredient": "name", "note": "note"}
_IN_GRAMS = re.compile(r"\bg\b|\bgrams?\b", re.IGNORECASE)
_ALSO_FOOD = frozenset(("SUGAR", "NA", "WATER", "ALC", "FAT"))


def better_reading(
    rows: Sequence[Row], format: str, first: Sequence[RawRecipe], *, as_text: bool = False
) -> list[RawRecipe]:
    """The recipes of a grid by the reading that explains it best; [] where ``first`` does.

    Args:
        rows: number and cells of each row that holds anything.
        format: name of the format for ``tables.RECIPE``.
        first: how it was read by its header.
        as_text: it was read as a text, in which the columns say nothing.
    """
    if not 0 < len(rows) <= _MAX_ROWS:
        return []
    if _are_texts(rows) and find_header(rows) is None:
        in_cells = list(filter(sound, _told_in_cells(rows)))
        if in_cells and len(in_cells) >= len(first):
            return _placed(in_cells)
    one_head = headed(rows)
    plain_names = len(one_head) == len(rows)
    rows = _with_names(one_head)
    shaped = read_roles(shaped_lines(rows), format) if as_text else []
    if shaped and all(r.stated and sound(r) for r in shaped) and worth(shaped) >= worth(first):
        return _placed(shaped)
    simpler, numbers = numbers_out(rows)
    plain_already = not numbers and len(simpler) == len(rows)
    doubtful = leaves_doubt(first) and not (plain_already and plain_names and _says_all(rows))
    if len(strips(rows)) < 2 and not doubtful:
        return []
    if not (plain_already and plain_names):
        headed_read = _placed(read_roles(merged(_by_header(simpler), numbers), format))
        whole = all(
            one.stated and one.servings > 0 and sound(one) and not states_twice(one)
            for one in headed_read
        )
        if whole and better(headed_read, first):
            return headed_read
    in_cells = list(filter(sound, _told_in_cells(rows)))
    explained = [*_explanations(rows), _as_text(rows)]
    if len(below := named_above(rows)) < len(rows):
        explained[:0] = _explanations(below)
    if not plain_already:
        explained[:0] = [merged(lines, numbers) for lines in _explanations(simpler)]
    *read, text = [list(filter(sound, read_roles(lines, format))) for lines in explained]
    best = max(read, key=worth)
    if better(text, best) and worth(text) > worth(best) + _MORE * len(text):
        best = text
    best = _placed(in_cells or best)
    told = any(recipe.stated for recipe in best)
    return best if told and better(best, first) else []


def _placed(recipes: list[RawRecipe]) -> list[RawRecipe]:
    for position, recipe in enumerate(recipes):
        recipe.position = position
        _place(recipe)
    return recipes


def _are_texts(rows: Sequence[Row]) -> bool:
    """Whether most of what rows say stands in cells of several lines each."""
    cells = [str(cell) for _, cells in rows for cell in cells if not is_empty(cell)]
    return _KNOWN * sum(map(len, cells)) < sum(len(cell) for cell in cells if "\n" in cell)


def _told_in_cells(rows: Sequence[Row]) -> list[RawRecipe]:
    """Recipes that stand as text in single cells: the posts of an export, a row a post."""
    from pipeline.intake.structured.text_values import with_texts  # here: few tables hold any

    texts = [
        [str(cell).strip() if not is_empty(cell) else "" for cell in cells] for _, cells in rows
    ]
    if not any("\n" in cell for cells in texts for cell in cells):
        return []
    first = int(not any("\n" in cell for cell in texts[0]))  # a row of names tells no recipe
    line = {cell: no for (no, _), cells in zip(rows, texts, strict=True) for cell in cells}
    names = dict(enumerate(texts[0] if first else ()))
    told = [
        {names.get(at) or str(at): cell for at, cell in enumerate(row)} for row in texts[first:]
    ]
    return with_texts(told, [], [], line.get)


def _place(recipe: RawRecipe) -> None:
    """Put rows and columns in the place of the numbers of an explanation's lines."""
    for stated in recipe.stated:
        stated.column = (stated.source_line or 0) // COLUMN
    parts: list[Any] = [recipe, *recipe.lines, *recipe.stated]
    for part in parts:
        part.source_line = (part.source_line or 0) % COLUMN or None
    recipe.problems = [
        replace(p, source_line=(p.source_line or 0) % COLUMN or None) for p in recipe.problems
    ]


def find_header(rows: Sequence[Row]) -> tuple[int, Form] | None:
    """Index of the row that names the columns, and how the rows below it are read."""
    for named in (True, False):
        for at, (_, cells) in enumerate(rows[:_HEADER_ROWS]):
            header = cell_texts(cells)
            if named:
                known = layout_of(header) is not None
            else:
                below = [cells for _, cells in rows[at:]]
                known = may_head(header) if at else is_wide(below)
            if len(cells) > 1 and known:
                names = for_what(header, rows[at - 1][1] if at else [])
                form = table_form(names, [below for _, below in spaced(rows[at + 1 :])])
                if form is not None and (
                    named or all(name or field == "title" for name, field in form.renamed)
                ):
                    return at, form
    return None


def _names_amounts(header: Sequence[str]) -> bool:
    """Whether a row names a column of amounts, beside others, and holds no number itself."""
    if any(map(_NUMBER.search, header)):
        return False
    return any(field_of(plain(name), "column") in ("amount", "grams") for name in header)


def _is_header(cells: Sequence[Any]) -> bool:
    """Whether a row names the columns of a list of ingredients."""
    return names_columns(cells) or (len(cells) > 1 and _names_amounts(cell_texts(cells)))


def whole_recipes(rows: Sequence[Row]) -> list[CardLine]:
    """The lines of the recipes that a small table holds with their titles; [] for any other."""
    found = find_header(rows)
    layout = layout_of(found[1].names) if found is not None else None
    titled = layout is not None and "title" in layout.roles
    if found is not None and titled and not found[1].blocks and not found[0]:
        return table_lines(found[1], rows)
    lines: list[CardLine] = []
    best = 0.0
    for made in _explanations(rows) if len(rows) <= _MAX_ROWS else ():
        told = read_roles(made, "")
        if (
            told
            and all(one.stated and sound(one) for one in told)
            and (value := worth(told)) > best
        ):
            lines, best = made, value
    for line in lines:
        line.no %= COLUMN
    return lines


def _says_all(rows: Sequence[Row]) -> bool:
    """Whether the names of columns say where titles and ingredients stand."""
    layouts = (layout_of(cell_texts(cells)) for _, cells in rows[:_HEADER_ROWS])
    return any(layout is not None and layout.roles.keys() & {"title", "id"} for layout in layouts)


def _explanations(rows: Sequence[Row], *, whole: bool = True) -> Iterator[list[CardLine]]:
    yield (headed := _by_header(rows))
    yield decoded(headed)
    yield shaped_lines(rows)
    whole_rows = _without_lead(rows)
    yield _in_columns(whole_rows)
    yield _in_columns(_turned(whole_rows), [no for no, _ in whole_rows])
    turned = _by_header([(at + 1, cells) for at, (_, cells) in enumerate(_turned(rows))])
    yield [replace(line, no=(line.no - 1) * COLUMN) for line in turned]
    for parts in (strips(rows), _equal_strips(rows)) if whole else ():
        if len(parts) > 1:
            yield _side_by_side(parts)


def _as_text(rows: Sequence[Row]) -> list[CardLine]:
    """The rows as lines of a text, in which the columns say nothing."""
    listed = [row for row in rows if not _is_header(row[1])]
    return decoded(text_lines(spaced(listed)))


def _by_header(rows: Sequence[Row]) -> list[CardLine]:
    found = find_header(rows)
    return table_lines(found[1], rows[found[0] :], rows[: found[0]]) if found is not None else []


def _with_names(rows: Sequence[Row]) -> list[Row]:
    """Rows in which numbers below a row of what they are for and of nutrients stand with these, the
    heat of an oven is no amount, and without those that say what the dish costs.

    >>> _with_names([(1, ["per bun", "kcal", "fat g"]), (2, ["", 210, 6])])
    [(1, ['per bun: 210 kcal, 6 fat g'])]
    >>> _with_names([(1, ["a bowl (300 g)", "kcal", None]), (2, [None, 210, "measured twice"])])
    [(1, ['a bowl (300 g): 210 kcal'])]
    """
    out: list[Row] = []
    rest = iter([*(row for row in rows if not _is_price(row[1])), (0, [])])
    no, names = next(rest)
    for below, cells in rest:
        texts, values = cell_texts(names), cell_texts(cells)
        said = [(v, name) for name, v in zip(texts[1:], values[1:], strict=False) if name]
        if (
            said and values[0] == "" and all(nutrient_column(name) for name in texts[1:] if name)
            and (read_stated_line(f"{texts[0]}: 1").basis or thing_of(texts[0]))
            and not any(map(_NUMBER.search, texts[1:])) and all(_NUMBER.match(v) for v, _ in said)
        ):  # fmt: skip
            stated = ", ".join(f"{v} {name}" for v, name in said)
            out.append((no, [f"{texts[0].rstrip(': ')}: {stated}"]))
            no, names = next(rest, (0, []))
            continue
        heat = _HEAT.search(" ".join(texts[:_LEAST_FOODS]))
        out.append((no, [" ".join(filter(None, texts))] if heat else list(names)))
        no, names = below, cells
    return out


def _is_price(cells: Sequence[Any]) -> bool:
    texts = filled_texts(cells)
    return not adds_up(cells) and (
        len(texts) == len(("cost per tub", "1.87")) and PRICE.search(texts[0]) is not None
        and _NUMBER.fullmatch(texts[1].strip("$£€¥ ")) is not None
    )  # fmt: skip


def _side_by_side(parts: Sequence[tuple[int, list[Row]]]) -> list[CardLine]:
    """Strips one after the other, each by its best explanation, the numbers beside one within it."""
    out: list[CardLine] = []
    led = list(takewhile(lambda part: is_panel(part[1]), parts))
    parts = [*parts[len(led) : len(led) + 1], *led, *parts[len(led) + 1 :]]
    parts = [(start, rows) for start, rows in parts if rows]
    for at, (start, rows) in enumerate(parts):
        if at and is_panel(rows):
            continue
        read = [lines for lines in [*_explanations(rows, whole=False), _as_text(rows)] if lines]
        lines = max(read, key=lambda lines: worth(read_roles(lines, "")), default=[])
        beside = [
            CardLine(
                no + first * COLUMN,
                text,
                role="yield" if all(cells) and yield_line(text) else "numbers",
            )
            for first, panel in takewhile(lambda part: is_panel(part[1]), parts[at + 1 :])
            for no, cells in panel
            if (text := joined(cells))
        ]
        begins = [line.no for line in lines if line.begins]
        recipe_of = [sum(begin <= line.no for begin in begins) for line in lines]
        for line in lines:
            line.no += start * COLUMN
        out.append(CardLine(rows[0][0] + start * COLUMN, ""))
        for recipe in range(len(begins) + 1):
            out += [line for line, own in zip(lines, recipe_of, strict=True) if own == recipe]
            out += [line for line in beside if _stands_in(line.no % COLUMN, begins, recipe)]
    return out


def _stands_in(row: int, begins: Sequence[int], recipe: int) -> bool:
    """Whether a row stands beside those of a recipe, the first of which begins at ``begins[0]``."""
    return recipe == max(bool(begins), sum(begin <= row for begin in begins))


def _turned(rows: Sequence[Row]) -> list[Row]:
    width = max((len(cells) for _, cells in rows), default=0)
    return [
        (at * COLUMN, [cells[at] if at < len(cells) else None for _, cells in rows])
        for at in range(width)
    ]


def _equal_strips(rows: Sequence[Row]) -> list[tuple[int, list[Row]]]:
    """Blocks side by side, of equal width, each below its name in one row."""
    for _, cells in rows[:_HEADER_ROWS]:
        starts = [at for at, cell in enumerate(cells) if not is_empty(cell)]
        steps = {b - a for a, b in pairwise(starts)}
        if len(steps) == 1 and (step := steps.pop()) > 1:
            return [
                (start, [(no, part) for no, row in rows if (part := trimmed(row[start : start + step]))])
                for start in starts
            ]  # fmt: skip
    return []


def _without_lead(rows: Sequence[Row]) -> Sequence[Row]:
    """Rows from the first on that is about as wide as the grid."""
    filled = [len(filled_texts(cells)) for _, cells in rows]
    widest = max(filled, default=0)
    return rows[next((at for at, count in enumerate(filled) if 2 * count > widest), 0) :]


def _in_columns(rows: Sequence[Row], places: Sequence[int] = ()) -> list[CardLine]:
    """A recipe in each column, the names of foods, servings and nutrients in the first.

    ``places``: of the columns of a grid that was turned, the numbers of its rows.
    """
    for top in range(min(_HEADER_ROWS, len(rows))):
        titles = {
            at: text
            for at, text in enumerate(map(cell_text, rows[top][1]))
            if at and sum(c.isalpha() for c in text) > 2 and not PRICE.search(text)
        }
        named = [(no, cell_text(cells[0]), cells) for no, cells in rows[top + 1 :] if cells]
        body = [(no, name.replace("_", " "), cells) for no, name, cells in named]
        if (
            len(titles) > 1
            and _names(body)
            and _state(titles, body)
            and not any(map(_names_column, titles.values()))
        ):
            counted = _counted_name(titles, body)
            corner = " ".join(cell_text(cells[0]) for _, cells in rows[: top + 1] if cells)
            return [
                line
                for at, title in titles.items()
                for line in _column(
                    at,
                    title,
                    rows[top][0],
                    body,
                    corner,
                    places[at] if places else at * COLUMN,
                    counted,
                )
            ]
    return []


def _counted_name(titles: Iterable[int], body: Sequence[tuple[int, str, Sequence[Any]]]) -> str:
    """The name of the row of what recipes make, which is no food and no nutrient; "" for none."""
    names = [name for _, name, _ in body if name]
    if any(field_of(plain(name), "column") == "servings" for name in names):
        return ""
    free = {n for n in names if column_among(n, names) is None and not known_food(n.lower())}
    return count_key(
        [
            {
                name: cell_text(cells[at])
                for _, name, cells in body
                if name in free and at < len(cells)
            }
            for at in titles
        ]
    )


def _state(titles: Iterable[int], body: Sequence[tuple[int, str, Sequence[Any]]]) -> bool:
    """Whether most columns of recipes state what one of them does: the others hold something else of
    the same recipe, as its packs and its costs."""
    told = [body[at][2] for at in _nutrients(body)]
    stated = [any(at < len(cells) and cell_text(cells[at]) for cells in told) for at in titles]
    return 2 * sum(stated) > len(stated)


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
    counted: str,
) -> Iterator[CardLine]:
    """The recipe of one column; ``place`` is added to the numbers of its rows, ``counted`` names that
    of what the recipes make."""
    nutrients = _nutrients(body)
    bare = [float(c) for at, (_, name, cells) in enumerate(body)
            if at not in nutrients and not food_line(name, "1")
            for c in cells[1:] if _NUMBER.fullmatch(cell_text(c))]  # fmt: skip
    grams = bool(_IN_GRAMS.search(corner)) or (bool(bare) and median(bare) >= _GRAMS_FROM)
    numbers: list[CardLine] = []
    yield CardLine(no + place, title, begins=True, role="title")
    for at, (row, name, cells) in enumerate(body):
        cell = cell_text(cells[column]) if column < len(cells) else ""
        if not name or not any(c.isalnum() for c in cell):
            continue
        if (told := nutrients.get(at)) is not None:
            said = stated_text(told, cell, told.basis or "per_serving")
            numbers.append(CardLine(row + place, said, role="numbers"))
        elif name == counted or field_of(plain(name), "column") == "servings":
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


def _item(name: str, cell: str, grams: bool) -> str:
    if any(c.isalpha() for c in cell):
        return f"{cell} {name}"
    if names_food(name):
        return food_line(name, cell)
    return f"{cell} g {name}" if grams else f"{cell} {name}"
