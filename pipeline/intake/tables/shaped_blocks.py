"""Recipes as blocks of rows that are told by their shape: a title, facts in pairs, the names of some
columns, rows of ingredients below them, and numbers in pairs or below their names."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from pipeline.intake.by_content import (
    are_lines,
    best_title,
    count_key,
    may_be_title,
    mostly_lines,
    title_key,
    yield_of,
)
from pipeline.intake.columns import (
    NutrientColumn,
    basis_above,
    column_among,
    columns_among,
    field_of,
    is_other,
    plain,
    resembles,
)
from pipeline.intake.counted import count_of, thing_of
from pipeline.intake.entries import is_heading, render
from pipeline.intake.facts_line import counts_title, titled_yield, yield_line
from pipeline.intake.model import Basis
from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import is_hot, read_stated_line
from pipeline.intake.structured.entry_parts import named_parts, parts_of
from pipeline.intake.tables.card_rows import (
    BASES,
    Row,
    adds_up,
    cell_texts,
    filled_texts,
    is_empty,
    joined,
    row_line,
    shown_cell,
    stated_text,
)
from pipeline.intake.tables.fact_rows import fact_kind
from pipeline.intake.tables.layout import may_head
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import counts_yield, known_food

#: Rows of ingredients below the names of their columns, at least.
_LEAST_ROWS = 2
#: Cells of a row that states a fact of a recipe, and names of nutrients among such facts, at least.
_FACT_CELLS, _LEAST_NUMBERS = 3, 3
#: Rows below the names of columns that tell whether they are ingredients, at most; and rows of a grid
#: that are taken for such names in vain, after which it holds no blocks.
_LOOKED_AT, _MOST_IN_VAIN = 40, 200


@dataclass(slots=True)
class _Block:
    """One recipe: rows above the names of its columns, those below, and what follows them."""

    head: list[Row] = field(default_factory=list)
    names: Row = (0, [])
    listed: list[Row] = field(default_factory=list)
    below: list[Row] = field(default_factory=list)


def shaped_lines(rows: Sequence[Row]) -> list[CardLine]:
    """The lines of the recipes of a grid of blocks, or of one with a row a fact; [] for any other."""
    if lines := _fact_lines(rows):
        return lines
    blocks = list(_blocks(_without_values(rows)))
    facts = [dict(_pairs(block.head)) for block in blocks]
    below = [dict(_pairs([*block.head, *block.below])) for block in blocks]
    columns = columns_among(tuple(dict.fromkeys(key for one in below for key in one)))
    counted = count_key(
        [
            {k: v for k, v in one.items() if not (_titles(k) or columns[k] or k[:1].isdigit())}
            for one in below
        ]
    )
    named = ""
    if not all(any(len(filled_texts(cells)) == 1 for _, cells in block.head) for block in blocks):
        foods = [[" ".join(filled_texts(cells)) for _, cells in block.listed] for block in blocks]
        named = title_key(facts, foods)
    return [
        line for block, told, more in zip(blocks, facts, below, strict=True)
        for line in _lines(block, more.get(counted, "") if counted else "", told.get(named, ""))
    ]  # fmt: skip


def _without_values(rows: Sequence[Row]) -> list[Row]:
    """Rows in which foods have lost their own energy and macros, and those that add them up, or say
    them of one, are a text: "Per box: 564 kcal, 42.7 protein".

    >>> rows = [(1, ["Rice pot", None, "2 tubs"]), (2, [None, "g", "kcal", "fat"]),
    ...         (3, ["Rice", 300, 390, 1]), (4, ["Per tub", None, 195, 0.5])]
    >>> _without_values(rows)[2:]
    [(2, ['ingredient', 'g']), (3, ['Rice', 300]), (4, ['Per tub: 195 kcal, 0.5 fat'])]
    """
    out: list[Row] = []
    names: list[str] = []
    values: list[bool] = []
    last = 0
    for no, cells in rows:
        texts = cell_texts(cells)
        if no > last + 1:
            names = []
        last = no
        told = [text for text in texts if text]
        of = [column_among(name, told) is not None for name in texts]
        if sum(of) > 1 and sum(of) < len(texts) and not any(map(str.isdigit, "".join(told))):
            if out and out[-1][0] == no - 1 and len(above := filled_texts(out[-1][1])) > 1:
                out[-1:] = [(no - 1, [text]) for text in above]  # a title, and what it makes
            names = texts
            kept = [text for text, value in zip(texts, of, strict=True) if not value]
            out.append((no, [kept[0] or "ingredient", *kept[1:]]))
            values = of
        elif not names or len(told) < _LEAST_NUMBERS:
            out.append((no, list(cells)))
        elif read_stated_line(f"{texts[0]}: 1").basis is not None:
            said = [
                f"{text} {name}" for text, name, value in zip(texts, names, values, strict=False)
                if value and text
            ]  # fmt: skip
            out.append((no, [f"{texts[0]}: {', '.join(said)}"]))
        else:
            beside = zip(cells, [*values, *[False] * len(cells)], strict=False)
            out.append((no, [cell for cell, value in beside if not value]))
    return out


def _fact_lines(rows: Sequence[Row]) -> list[CardLine]:
    """The recipes of a grid whose rows are a recipe, the name of a fact, and the fact."""
    told = [(no, filled_texts(cells)) for no, cells in rows]
    told = [(no, texts) for no, texts in told if len(texts) == _FACT_CELLS]
    keys = tuple(dict.fromkeys(texts[1] for _, texts in told))
    columns = columns_among(keys) if keys else {}
    if sum(map(bool, columns.values())) < _LEAST_NUMBERS or 2 * len(keys) > len(told):
        return []
    recipes: dict[str, list[tuple[int, str, str]]] = {}
    for no, (title, key, value) in told:
        recipes.setdefault(title, []).append((no, key, value))
    single = [{key: value for _, key, value in facts} for facts in recipes.values()]
    counted = count_key([{k: v for k, v in one.items() if not columns.get(k)} for one in single])
    out: list[CardLine] = []
    for title, facts in recipes.items():
        name, said = titled_yield(title)
        out += [CardLine(facts[0][0], ""), CardLine(facts[0][0], name, begins=True, role="title")]
        out += [CardLine(facts[0][0], said, role="yield")] if said else []
        for no, key, value in facts:
            if (column := columns.get(key)) is not None:
                out.append(_stated(no, column, value, None))
            elif key == counted:
                out.append(CardLine(no, yield_line(value) or f"{value} servings", role="yield"))
            elif known_food(value) and are_lines([value]):
                out.append(CardLine(no, value, role="item"))
    return out


def _blocks(rows: Sequence[Row]) -> Iterator[_Block]:
    """Blocks, each with the rows before the names of its columns that belong to no block before."""
    block = _Block()
    at, free = 0, 0
    run, in_vain = (
        0,
        0,
    )  # where the rows end that were looked through for a bare list, and how often
    known: dict[int, int] = {}

    def end_of(row: int) -> int:
        if row not in known:
            vain = sum(not end for end in known.values()) if len(known) > _MOST_IN_VAIN else 0
            known[row] = _end_of_list(rows, row) if vain < _MOST_IN_VAIN else 0
        return known[row]

    while at < len(rows):
        end = end_of(at)
        named = bool(end)
        if not end:
            in_vain = 0 if at >= run else in_vain
            if in_vain < _LEAST_ROWS:
                end, run = _end_of_bare_list(rows, at)
                in_vain += not end
        elif any(_names_list(rows[one]) and end_of(one) for one in range(at + 1, end)):
            end = 0
        if not end:
            at += 1
            continue
        head = _own_head(rows[free:at])
        if block.names[0]:
            block.below = list(rows[free : at - len(head)])
            yield block
        names = rows[at] if named else (rows[at][0], [])
        block = _Block(head, names, list(rows[at + named : end]))
        at = free = end
    if block.names[0]:
        block.below = list(rows[free:])
        yield block


def _names_list(row: Row) -> bool:
    """Whether a row within what may be a list may name the columns of one itself: it names no food, or
    several things and no number."""
    texts = filled_texts(row[1])
    bare = len(texts) > 2 and not any(map(str.isdigit, "".join(texts)))
    return bare or not any(map(known_food, texts))


def _own_head(rows: Sequence[Row]) -> list[Row]:
    """Of the rows between two lists those that begin the second: behind the last empty row, or from
    the last row of one text on."""
    start = next((at for at in range(len(rows) - 1, 0, -1) if rows[at][0] - rows[at - 1][0] > 1), 0)
    behind = rows[start:]
    if start or not behind:
        return list(behind)
    alone = [at for at, (_, cells) in enumerate(rows) if len(filled_texts(cells)) == 1]
    titles = [
        at for at in alone
        if not _states(rows[at][1])
        and (titled_yield(text := filled_texts(rows[at][1])[0])[1] or not _makes(text))
    ]  # fmt: skip
    if len(titles) > 1 and titles[-1] == len(rows) - 1 and titles[-2] < len(rows) - 2:
        del titles[-1]  # it names the one column of the list
    return list(rows[titles[-1] :]) if titles else list(rows)


def _end_of_list(rows: Sequence[Row], at: int) -> int:
    """Where the ingredients below a row of names end; 0 for a row that names no such columns."""
    names = rows[at][1]
    texts = filled_texts(names)
    beside = len(set(texts)) < len(texts)  # two lists side by side
    if not may_head(names) or _nutrients(names) > 1 or beside:
        return 0
    end = at + 1
    while end < len(rows) and rows[end][0] == rows[end - 1][0] + 1:
        cells = rows[end][1]
        whole = joined(cells)
        stated = read_stated_line(whole).certain or _states(cells)
        if stated or adds_up(cells) or fact_kind(whole) == "yield" or _names_numbers(cells):
            break
        end += 1
    listed = [
        row for row in rows[at + 1 : min(end, at + _LOOKED_AT)] if len(filled_texts(row[1])) > 1
    ]
    lines = [line for line in _items(names, listed) if line] if len(listed) >= _LEAST_ROWS else []
    return end if mostly_lines(lines) else 0


def _names_numbers(cells: Sequence[Any]) -> bool:
    return may_head(cells) and _nutrients(cells) > 1


def _end_of_bare_list(rows: Sequence[Row], at: int) -> tuple[int, int]:
    """Where the ingredients end that begin with a row, below no names of columns, 0 for any other; and
    where the rows end that look so."""
    end, items = at, 0
    while end < len(rows) and (end == at or rows[end][0] == rows[end - 1][0] + 1):
        texts = filled_texts(rows[end][1])
        if _is_item(texts):
            items += 1
        elif len(texts) != 1 or not is_heading(texts[0]):
            break
        end += 1
    listed = [" ".join(filled_texts(cells)) for _, cells in rows[at:end]]
    return (end if items >= _LEAST_ROWS and mostly_lines(listed) else 0), end


def _is_item(texts: Sequence[str]) -> bool:
    """Whether the cells of a row are an amount and a food, of which a column of names says nothing."""
    whole = " ".join(texts)
    if not any(map(str.isdigit, whole)) or yield_line(whole) or read_stated_line(whole).certain:
        return False
    return are_lines(texts) if len(texts) == 1 else any(map(known_food, texts))


def _items(names: Sequence[Any], rows: Sequence[Row]) -> list[str]:
    """The ingredient of each row below the names of columns, "" where it has none; what a column of
    another name says beside is none of it."""
    entries = _entries(names, rows)
    fields = {key: field_of(plain(key), "column") for one in entries for key in one}
    parts = parts_of(entries)
    if "name" not in parts.values():
        return [""] * len(rows)
    measured = {"grams", "amount"} & {*fields.values()}
    told = [
        fields[key] in (part, None) for key, part in parts.items() if part in ("amount", "unit")
    ]
    if measured and all(told):  # as the names say
        food = next(key for key, part in parts.items() if part == "name")
        named = {"ingredient", "line"} & {*fields.values()}
        unnamed = {k: p for k, p in parts.items() if fields[k] is None and p == "unit"}
        heads = [
            "ingredient" if key == food and not named else unnamed.get(key, key) for key in fields
        ]
        return [row_line(heads, list(cells)[: len(heads)]) for _, cells in rows]
    for key in () if measured else fields.keys() - parts.keys():
        cells = [one.get(key) for one in entries]  # what is said of some foods is a note
        if None in cells and any(
            isinstance(cell, str) and any(map(str.isalpha, cell)) for cell in cells
        ):
            parts[key] = "note"
    kept = {k: part for k, part in parts.items() if not measured or part != "note" or fields[k]}
    entries = [{key: one.get(key) for key in kept} for one in entries]
    return [render(one) for one in named_parts(entries, kept)]


def _entries(names: Sequence[Any], rows: Sequence[Row]) -> list[dict[str, Any]]:
    keys = cell_texts(names)
    keys = [key if key and keys.count(key) == 1 else f"column {at}" for at, key in enumerate(keys)]
    return [
        {key: None if is_empty(cell) else cell for key, cell in zip(keys, cells, strict=False)}
        for _, cells in rows
    ]


def _nutrients(names: Sequence[Any]) -> int:
    texts = filled_texts(names)
    return sum(column_among(name, texts) is not None for name in texts)


def _states(cells: Sequence[Any]) -> bool:
    """Whether a row states numbers, or says what those below it are for."""
    texts = filled_texts(cells)
    if not texts or len(texts) > 2:
        return False
    whole = " ".join(texts)
    read = read_stated_line(whole)
    if read.certain or (len(texts) == 1 and read.heading):
        return True
    return len(texts) == 2 and _energy(texts[0]) and any(map(str.isdigit, texts[1]))


def _energy(name: str) -> bool:
    column = columns_among((name, "p", "c", "f"))[name]
    return column is not None and column.tag == "ENERC_KCAL"


def _pairs(rows: Sequence[Row]) -> Iterator[tuple[str, str]]:
    for _, cells in rows:
        texts = filled_texts(cells)
        if len(texts) == 2:
            yield texts[0].rstrip(": "), texts[1]


def _titles(name: str) -> bool:
    return field_of(plain(name), "key") == "title" or resembles(name, "title")


def _lines(block: _Block, counted: str, named: str) -> Iterator[CardLine]:
    """A block as lines of a card."""
    first = block.head[0][0] if block.head else block.names[0]
    name = named or _title(block)
    title, told = titled_yield(pattern("title_lead").sub("", name))
    yield CardLine(first, "")
    yield CardLine(first, title, begins=True, role="title")
    yield from _numbers(block.head)
    thing = next(filter(None, (thing_of(shown_cell(cells[0])) for _, cells in block.below)), "")
    for no, cells in (*block.head, *block.below):
        texts = filled_texts(cells)
        apart = [": ".join(pair) for pair in pairwise(texts)]
        said = count_of(thing, [" ".join(texts), *apart]) if no < block.names[0] else ""
        if counted and texts[1:] == [counted]:
            said = yield_line(counted) or f"{counted} servings"
        whole = ": ".join(texts) if len(texts) == 2 else joined(cells)
        if not said and name not in texts:
            below = joined(cells) if fact_kind(joined(cells)) == "yield" else ""
            said = _makes(whole) if no < block.names[0] else below
        if not said and no < block.names[0]:
            makes = (counts_title(t, name) or _makes(t) for t in texts if t != name)
            said = next(filter(None, makes), "")
        if said:
            yield CardLine(no, said, role="yield")
    if told:
        yield CardLine(first, told, role="yield")
    items = iter(
        _items(block.names[1], [row for row in block.listed if len(filled_texts(row[1])) > 1])
    )
    for no, cells in block.listed:
        texts = filled_texts(cells)
        if len(texts) > 1 and (made := count_of(thing, [" ".join(texts)])):
            next(items)
            yield CardLine(no, made, role="yield")
        elif len(texts) == 1 and is_hot(texts[0]):
            yield CardLine(no, texts[0], role="method")
        elif len(texts) == 1:
            item = not block.names[1] and not is_heading(texts[0])
            text = texts[0] if item else f"{texts[0].rstrip(':')}:"
            yield CardLine(no, text, role="item" if item else "heading")
        else:
            yield CardLine(no, next(items) or joined(cells), role="item")
    yield from _numbers(block.below)


def _makes(text: str) -> str:
    """What a text says that the recipe makes; "" for any other."""
    return yield_of("", text) or (text if counts_yield(text) else "")


def _title(block: _Block) -> str:
    """The title: what a row names so, the one text of a row, or the first text of a pair."""
    named = [value for key, value in _pairs(block.head) if _titles(key)]
    alone = [texts[0] for _, cells in block.head if len(texts := filled_texts(cells)) == 1]
    texts = [text for text in alone if titled_yield(text)[1] or not _makes(text)]
    if told := next(filter(may_be_title, [*named, *texts]), ""):
        return told
    pairs = [value for key, value in _pairs(block.head) if not is_other(key)]
    others = [text for _, cells in block.head for text in filled_texts(cells)]
    listed = [" ".join(filled_texts(cells)) for _, cells in block.listed]
    named = [text for text in [*pairs, *others] if may_be_title(text) and not _makes(text)]
    return best_title(named, listed) or next(iter(texts), "")


def _numbers(rows: Sequence[Row]) -> Iterator[CardLine]:
    """Numbers below a list: a text, pairs of names and numbers, or a row of numbers below their names."""
    names = tuple(dict.fromkeys(key for key, _ in _pairs(rows)))
    columns = columns_among(names) if names else {}
    basis: Basis | None = None
    heads: list[str] = []
    for no, cells in rows:
        texts = filled_texts(cells)
        column = columns.get(texts[0].rstrip(": ")) if len(texts) == 2 else None
        if column is not None and any(map(str.isdigit, texts[1])):
            yield _stated(no, column, texts[1], basis)
        elif len(texts) > 1 and _nutrients(texts) > 1 and not any(map(str.isdigit, "".join(texts))):
            heads = cell_texts(cells)
        elif heads and len(texts) > 1:
            said = basis_above(texts[0])
            for name, cell in zip(heads, cells, strict=False):
                if name and not is_empty(cell) and (of := column_among(name, heads)):
                    yield _stated(no, of, shown_cell(cell), said or basis)
        elif len(texts) == 1 and (read := read_stated_line(texts[0])).found:
            lead, _, rest = texts[0].partition(":")
            said = None if read.basis else basis_above(lead)
            text = f"{BASES[said]}: {rest}" if said and rest else texts[0]
            yield CardLine(no, text, role="numbers")
        elif read_stated_line(joined(cells)).certain:
            yield CardLine(no, joined(cells), role="numbers")
        elif len(texts) == 1:
            basis = basis_above(texts[0]) or basis


def _stated(no: int, column: NutrientColumn, cell: str, basis: Basis | None) -> CardLine:
    said = stated_text(column, cell, column.basis or basis or "per_serving")
    return CardLine(no, said, role="numbers")
