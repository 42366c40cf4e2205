"""Parts of a grid whose numbers say by themselves what they are, taken out before it is read.

Names of columns over two rows become one row. A small table of nutrients with a column for each of
several bases, rows whose numbers are the sums of those above, and rows whose numbers are such sums
divided by one whole number become lines of stated numbers: no word has to say "total" or "per
portion" where the arithmetic does, and what it divides by is what the recipe makes.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from pipeline.intake.columns import (
    NutrientColumn,
    basis_above,
    basis_of,
    column_among,
    field_of,
    nutrient_column,
    plain,
)
from pipeline.intake.counted import thing_of
from pipeline.intake.model import Basis
from pipeline.intake.numbers import read_number
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.tables.card_rows import BASES, Row, cell_texts, stated_text
from pipeline.intake.tables.layout import IN_UNIT, may_head
from pipeline.intake.text.card_line import CardLine

#: Lines of a grid are numbered by their row and, in multiples of this, their first column.
COLUMN = 1 << 24
_NUMBER = re.compile(r"\d[\d.,]*")
_VALUE = re.compile(r"[~<≈]?\s?\d[\d.,]*\s*(?:k?cal|kj|mg|µg|g)?", re.IGNORECASE)
#: Nutrients below the names of bases, rows that a sum adds up, and numbers of a divided row, at least.
_LEAST_NUMBERS, _LEAST_SUMMED, _LEAST_DIVIDED = 2, 2, 2
#: What a total is divided by, at most.
_MOST_SERVINGS = 60
#: Names of columns that may be known in one row, at most; a wider grid is a matrix.
_MOST_NAMES = 60


# --- names of columns over two rows --------------------------------------------------------------


def headed(rows: Sequence[Row]) -> list[Row]:
    """Rows in which the names of columns that stand in two rows stand in the second.

    >>> headed([(1, ["Dish", "Per portion", None]), (2, [None, "kcal", "Fat"]), (3, ["Dal", 310, 9])])
    [(2, ['Dish', 'kcal Per portion', 'Fat Per portion']), (3, ['Dal', 310, 9])]
    """
    out: list[Row] = []
    for no, cells in rows:
        above = out[-1] if out and out[-1][0] == no - 1 else None
        if above is not None and (names := _joined_names(above[1], cells)):
            out[-1] = (no, list(names))
        else:
            out.append((no, list(cells)))
    return out


def _joined_names(upper: Sequence[Any], lower: Sequence[Any]) -> list[str]:
    """The names that two rows give to columns together; [] where they are no such rows."""
    if not (may_head(upper) and may_head(lower)) or max(len(upper), len(lower)) > _MOST_NAMES:
        return []
    width = max(len(upper), len(lower))
    above, below = (t + [""] * (width - len(t)) for t in (cell_texts(upper), cell_texts(lower)))
    names: list[str] = []
    group = ""
    for over, under in zip(above, below, strict=True):
        group = over or (group if under else "")
        names.append(_one_name(group, under) if under else over)
    gaps = any(bool(over) != bool(under) for over, under in zip(above, below, strict=True))
    more = _known(names) > max(_known(above), _known(below))
    return names if gaps and more and _roles(names) >= _roles(below) else []


def _one_name(over: str, under: str) -> str:
    if not over or over == under:
        return under
    if field_of(plain(under), "column"):
        return under
    if field_of(plain(over), "column") and IN_UNIT.search(under):
        return f"{over} ({under})"
    if column_among(under, ()) is None or nutrient_column(f"{under} {over}"):
        return f"{over} {under}" if basis_above(over) is None else f"{under} {over}"
    basis = basis_above(over) or (thing_of(over) and "per_serving")
    return f"{under} {BASES[basis]}" if basis else f"{over} {under}"


def named_above(rows: Sequence[Row]) -> list[Row]:
    """Rows in which numbers below the names of their nutrients, and no others, are a text.

    >>> named_above([(7, ["each bowl", "kJ", "protein"]), (8, [None, 1840, 21])])
    [(8, ['Per serving: energy 1840 kJ, protein 21 g'])]
    """
    out: list[Row] = []
    names: dict[int, NutrientColumn] = {}
    said: Basis | None = None
    head: Row | None = None
    for no, cells in rows:
        if names and head is not None and no == head[0] + 1 and (
            told := _told_below(names, cells, basis_in(cells) or said)
        ):  # fmt: skip
            if out and out[-1] is head:
                out.pop()
            out.append((no, [told]))
            head = (no, [])
            continue
        names, head = _nutrients_alone(cells), (no, list(cells))
        said = basis_in(cells) if names else None
        out.append(head)
    return out


def basis_in(cells: Sequence[Any]) -> Basis | None:
    """What the first text of a row says that numbers are for."""
    text = next(filter(None, cell_texts(cells)), "")
    return basis_of(text) or basis_above(text) or ("per_serving" if thing_of(text) else None)


def _nutrients_alone(cells: Sequence[Any]) -> dict[int, NutrientColumn]:
    """The nutrients that a row names; {} where it names others, or less than two."""
    texts = cell_texts(cells)
    told = [text for text in texts if text]
    if len(told) > _MOST_NAMES or any(map(str.isdigit, "".join(told))):
        return {}
    named = {at: c for at, text in enumerate(texts) if text and (c := column_among(text, told))}
    others = [text for at, text in enumerate(texts) if text and at not in named]
    alone = not others or (len(others) == 1 and texts.index(others[0]) < min(named, default=0))
    return named if len(named) >= _LEAST_NUMBERS and alone else {}


def _told_below(
    names: Mapping[int, NutrientColumn], cells: Sequence[Any], basis: Basis | None
) -> str:
    """The numbers of a row as a text; "" where it holds more than them and what they are for."""
    texts = cell_texts(cells)
    given = {at: text for at, text in enumerate(texts) if text and at in names}
    others = [text for at, text in enumerate(texts) if text and at not in names]
    if len(given) < _LEAST_NUMBERS or not all(map(_VALUE.fullmatch, given.values())) or (
        basis is None or len(others) > 1 or (others and basis_in(cells) is None)
    ):  # fmt: skip
        return ""
    parts = [stated_text(names[at], text, basis).partition(": ")[2] for at, text in given.items()]
    return f"{BASES[basis]}: {', '.join(parts)}"


def _known(names: Sequence[str]) -> int:
    """How many names say what their columns hold."""
    told = [name for name in names if name]
    return sum(
        bool(field_of(plain(name), "column") or IN_UNIT.search(name) or column_among(name, told))
        for name in told
    )


def _roles(names: Sequence[str]) -> set[str]:
    return {field for name in names if (field := field_of(plain(name), "column"))}


# --- numbers by themselves -----------------------------------------------------------------------


def numbers_out(rows: Sequence[Row]) -> tuple[list[Row], list[CardLine]]:
    """Rows without those whose numbers say what they are, and the lines that these make."""
    rest, lines = _without_bases(rows)
    rest, more = _without_sums(rest)
    return rest, sorted([*lines, *more], key=lambda line: line.no % COLUMN)


def merged(lines: Sequence[CardLine], numbers: Sequence[CardLine]) -> list[CardLine]:
    """Lines of a reading with those of numbers behind what stands above them."""
    out: list[CardLine] = []
    left = list(numbers) if lines else []
    for line in lines:
        while left and left[0].no % COLUMN < line.no % COLUMN:
            out.append(left.pop(0))
        out.append(line)
    return [*out, *left]


def _line(at: int, no: int, column: NutrientColumn, cell: str, basis: Basis) -> CardLine:
    return CardLine(no + at * COLUMN, stated_text(column, cell, basis), role="numbers")


def _without_bases(rows: Sequence[Row]) -> tuple[list[Row], list[CardLine]]:
    """Rows without small tables that have nutrients below one another and bases side by side."""
    rest: list[Row] = []
    lines: list[CardLine] = []
    at = 0
    while at < len(rows):
        bases = _bases(rows[at][1])
        end = at + 1
        found: list[CardLine] = []
        if bases:
            names = []
            while end < len(rows) and (name := _name_before(rows[end][1], min(bases))):
                names.append(name)
                end += 1
            found = list(_stated_below(rows[at + 1 : end], names, bases))
        if len({line.no % COLUMN for line in found}) >= _LEAST_NUMBERS:
            lines += found
            at = end
            continue
        rest.append(rows[at])
        at += 1
    return rest, lines


def _bases(cells: Sequence[Any]) -> dict[int, Basis]:
    """Columns behind the first that a row says to be of one basis each; {} where they do not differ."""
    texts = cell_texts(cells)
    said = {at: b for at, text in enumerate(texts) if at and text and (b := _basis(text))}
    others = [text for text in texts[1:] if text]
    return said if said and len(said) == len(others) == len(set(said.values())) else {}


def _basis(text: str) -> Basis | None:
    read = read_stated_line(f"{text}: 1 kcal")
    return basis_of(text) or read.basis if not _VALUE.fullmatch(text) else None


def _name_before(cells: Sequence[Any], first: int) -> str:
    """The name in front of the numbers of a row; "" for a row that has none."""
    texts = cell_texts(cells)
    names = [text for text in texts[:first] if text]
    values = [text for text in texts[first:] if text]
    told = len(names) == 1 and values and all(_VALUE.fullmatch(text) for text in values)
    return names[0] if told and not _VALUE.fullmatch(names[0]) else ""


def _stated_below(
    rows: Sequence[Row], names: Sequence[str], bases: Mapping[int, Basis]
) -> Iterator[CardLine]:
    for (no, cells), name in zip(rows, names, strict=True):
        column = column_among(name, names) or nutrient_column(name.rstrip(": "))
        texts = cell_texts(cells)
        for at, basis in bases.items():
            if column is not None and at < len(texts) and texts[at]:
                yield _line(at, no, column, texts[at], basis)


# --- sums ----------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Sums:
    """What the numbers of a list add up to so far, by column: sum, error of rounding, how many there
    are, and the one value that all of them have; None where they differ."""

    total: dict[int, float] = field(default_factory=dict)
    error: dict[int, float] = field(default_factory=dict)
    count: dict[int, int] = field(default_factory=dict)
    alike: dict[int, float | None] = field(default_factory=dict)

    def add(self, numbers: Mapping[int, tuple[float, float]]) -> None:
        """Another row."""
        for at, (value, step) in numbers.items():
            self.total[at] = self.total.get(at, 0.0) + value
            self.error[at] = self.error.get(at, 0.0) + step / 2
            self.count[at] = self.count.get(at, 0) + 1
            self.alike[at] = value if self.alike.get(at, value) == value else None

    def made_of(self, numbers: Mapping[int, tuple[float, float]]) -> dict[int, tuple[float, float]]:
        """Of the numbers of a row those that are sums of the numbers above; {} unless all are, but for
        what stays the same in every row."""
        of = {at: n for at, n in numbers.items() if self.alike.get(at) != n[0]}
        rows = [self.count.get(at, 0) for at in of]
        if not of or min(rows) < _LEAST_SUMMED or (len(of) < 2 and rows == [_LEAST_SUMMED]):
            return {}
        sure = all(abs(self.total[at] - v) <= self.error[at] + step for at, (v, step) in of.items())
        return of if sure else {}


def _without_sums(rows: Sequence[Row]) -> tuple[list[Row], list[CardLine]]:
    """Rows without those that add up a list with nutrients in columns, or say a share of that."""
    rest: list[Row] = []
    lines: list[CardLine] = []
    columns: dict[int, NutrientColumn] = {}
    sums = _Sums()
    whole: Mapping[int, tuple[float, float]] = {}
    last = 0
    for no, cells in rows:
        texts = cell_texts(cells)
        told = _nutrients_named(texts)
        if told or no > last + 1 or may_head(cells):
            columns = told or columns
            sums, whole = _Sums(), {}
        last = no
        numbers = _numbers_of(texts)
        stated = {at: columns[at] for at in numbers if at in columns}
        servings = _shared_by(whole, numbers, " ".join(texts)) if stated else 0
        if servings:
            lines.append(CardLine(no, f"{servings} servings", role="yield"))
            lines += [_line(at, no, c, texts[at], "per_serving") for at, c in stated.items()]
        elif stated and (whole := sums.made_of(numbers)):
            lines += [_line(at, no, c, texts[at], "per_recipe") for at, c in stated.items()]
            sums = _Sums()
        else:
            sums.add(numbers)
            rest.append((no, cells))
    return rest, lines


def _nutrients_named(texts: Sequence[str]) -> dict[int, NutrientColumn]:
    """The nutrient that each column of a row of names holds; {} for any other row."""
    told = [text for text in texts if text]
    if len(told) < 2 or any(_VALUE.fullmatch(text) for text in told):
        return {}
    found = {at: c for at, text in enumerate(texts) if text and (c := column_among(text, told))}
    return found if any(c.tag == "ENERC_KCAL" for c in found.values()) else {}


def _numbers_of(texts: Sequence[str]) -> dict[int, tuple[float, float]]:
    """The cells of a row that are numbers, with the step each is rounded to."""
    read = {at: read_number(text) for at, text in enumerate(texts) if _NUMBER.fullmatch(text)}
    return {at: (one.value, one.step) for at, one in read.items()}


def _shared_by(
    whole: Mapping[int, tuple[float, float]], numbers: Mapping[int, tuple[float, float]], text: str
) -> int:
    """By which whole number all numbers of a row divide those of a sum, or the largest and one more where
    the row's text names it ("per box (4)": the others are a slip of it); 0 for none."""
    both = [(whole[at], numbers[at]) for at in numbers if at in whole and numbers[at][0] > 0]
    if len(both) < _LEAST_DIVIDED or len(both) < len(whole) - 1:
        return 0
    (total, _), (share, _) = max(both, key=lambda pair: pair[0][0])
    count = round(total / share)
    if not 1 < count <= _MOST_SERVINGS:
        return 0
    fitting = [
        abs(total / count - share) <= step + total_step / count
        for (total, total_step), (share, step) in both
    ]
    told = str(count) in _NUMBER.findall(text) and sum(fitting) >= _LEAST_DIVIDED
    return count if all(fitting) or told else 0


# --- a row a number ------------------------------------------------------------------------------


def pivoted(rows: Sequence[Row]) -> list[Row]:
    """A table with a row for each number of a recipe as one with a row for each recipe; [] for others.

    >>> pivoted([(1, ["dish", "what", "value"]), (2, ["Dal", "kcal", 310]), (3, ["Dal", "fat", 9]),
    ...          (4, ["Pie", "kcal", 520]), (5, ["Pie", "fat", 24])])
    [(1, ['dish', 'kcal', 'fat']), (2, ['Dal', 310, 9]), (4, ['Pie', 520, 24])]
    """
    if len(rows) <= _LEAST_SUMMED or not may_head(rows[0][1]) or len(rows[0][1]) > _MOST_NAMES:
        return []
    head, width = cell_texts(rows[0][1]), len(rows[0][1])
    body = [(no, [*cells, *[None] * width][:width]) for no, cells in rows[1:]]
    texts = [cell_texts(cells) for _, cells in body]
    at = next((at for at in range(width) if _names_nutrients([t[at] for t in texts])), None)
    values = [v for v in range(width) if all(_VALUE.fullmatch(t[v]) for t in texts)]
    if at is None or not values:
        return []
    value = max(values, key=lambda v: len({t[v] for t in texts}))
    unit = next((u for u in range(width) if u != at and all(t[u] in _UNITS for t in texts)), None)
    of = [c for c in range(width) if c not in (at, value, unit)]
    made: dict[tuple[str, ...], tuple[int, dict[str, Any]]] = {}
    for (no, cells), told in zip(body, texts, strict=True):
        name = told[at] if unit is None else f"{told[at]} ({told[unit]})"
        held = made.setdefault(tuple(told[c] for c in of), (no, {}))[1]
        if name in held:
            return []
        held[name] = cells[value]
    names = list(dict.fromkeys(name for _, held in made.values() for name in held))
    return [
        (rows[0][0], [*(head[c] for c in of), *names]),
        *((no, [*key, *map(held.get, names)]) for key, (no, held) in made.items()),
    ]


#: Units of what recipes state.
_UNITS = frozenset(("kcal", "kJ", "kj", "g", "mg"))


def _names_nutrients(texts: Sequence[str]) -> bool:
    """Whether texts are names of energy and macros, each several times."""
    names = list(dict.fromkeys(texts))
    if not 1 < len(names) <= min(_MOST_NAMES, len(texts) / 2):
        return False
    known = [column_among(name, names) for name in names if name]
    return all(known) and any(c is not None and c.tag == "ENERC_KCAL" for c in known)
