"""What a file of data holds and no recipe took: told, so that nothing of it is lost in silence.

The values of a column or a key are of one sort. Where some of them are in what was read and others
are not, or all of them look like ingredients or stated numbers and none is, the rest is reported.
Ids, dates, links and remarks, of which nothing is read, are no loss.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any

from pipeline.intake.by_content import mostly_lines
from pipeline.intake.columns import column_among
from pipeline.intake.model import RawRecipe, Read, cut
from pipeline.intake.numbers import read_number
from pipeline.intake.stated_line import read_stated_line
from pipeline.problems import Problem, input_problem

#: Values that are looked at, values of a key from which on it is asked, and columns, at most.
_MOST_VALUES, _LEAST_VALUES, _MOST_COLUMNS = 20_000, 2, 60
#: Share of the values of a key that are in what was read, from which on the others are missed.
_MOSTLY = 0.5
#: Longer texts are methods and remarks.
_LONGEST = 200
#: Texts of a key that are asked whether they are ingredients.
_ASKED = 40


def unread(groups: Mapping[str, Sequence[Any]], read: Read) -> list[Problem]:
    """What is missed of the values of each key or column.

    Args:
        groups: name of a key or a column to its values, blank ones left out.
        read: what was made of the file.
    """
    rows = [row for part in read.apart for row in part.rows]
    recipes = [*read.recipes, *rows, *read.listed]
    if not recipes or sum(map(len, groups.values())) > _MOST_VALUES:
        return []
    told = _Told(_texts(recipes, read.problems))
    stated = {round(one.amount, 1) for recipe in recipes for one in recipe.stated}
    found: list[Problem] = []
    for name, values in groups.items():
        missing = _missing_numbers(name, values, groups, stated) or _missing_texts(values, told)
        if missing and _squashed(str(missing[0])) not in _squashed(" ".join(p.what for p in found)):
            found.append(
                input_problem(
                    "values-unread", count=len(missing), of=len(values), name=cut(name, 40),
                    first=cut(str(missing[0]), 60),
                )
            )  # fmt: skip
    return found


class _Told:
    """All that was read; a text is in it alone or as a part of it.

    Most values were taken as they are, so that they are looked up; the whole is looked through for
    the others alone, which is as slow as the file is long.
    """

    def __init__(self, texts: Iterable[str]) -> None:
        self._texts = list(texts)
        self._squashed = {text: _squashed(text) for text in dict.fromkeys(self._texts)}
        self._each = frozenset(self._squashed.values())

    @cached_property
    def _all(self) -> str:
        return "".join(map(self._squashed.__getitem__, self._texts))

    def __contains__(self, text: str) -> bool:
        return text in self._each or text in self._all


def _texts(recipes: Sequence[RawRecipe], problems: Sequence[Problem]) -> Iterator[str]:
    """All that was read."""
    for one in recipes:
        yield from (one.title, one.creator, one.description, one.method, one.own_id)
        yield from (text for line in one.lines for text in (line.text, line.section))
        yield from (number.text for number in one.stated)
        yield from (text for p in one.problems for text in (p.what, p.why, p.text))
    yield from (text for p in problems for text in (p.what, p.why, p.text))


def _squashed(text: str) -> str:
    return "".join(filter(str.isalnum, text.lower()))


def _missing_texts(values: Sequence[Any], told: _Told) -> list[str]:
    """Of the texts of a key those that were missed; [] where nothing of their sort is read."""
    lines = (line for v in values if isinstance(v, str) for line in v.split("\n"))
    texts = list(dict.fromkeys(line.strip() for line in lines if _speaks(line)))
    missing = [text for text in texts if _squashed(text) not in told]
    if len(texts) < _LEAST_VALUES or not missing:
        return []
    if len(missing) < len(texts):
        return missing if len(missing) <= _MOSTLY * len(texts) and _are_parts(missing) else []
    return missing if _are_parts(texts) else []


def _speaks(text: str) -> bool:
    return 1 < len(text) <= _LONGEST and any(map(str.isalpha, text))


def _are_parts(texts: Sequence[str]) -> bool:
    """Whether texts are ingredients with their amounts, or stated numbers."""
    some = texts[:_ASKED]
    return mostly_lines(some) or all(read_stated_line(text).certain for text in some)


def _missing_numbers(
    name: str, values: Sequence[Any], names: Mapping[str, Any], stated: set[float]
) -> list[Any]:
    """Of the numbers under the name of a nutrient all, where none was taken; [] for any other key."""
    column = column_among(name, names) if len(names) <= _MOST_COLUMNS else None
    numbers = [v for v in values if _is_number(v)]
    if column is None or column.unit == "kj" or len(numbers) < max(_LEAST_VALUES, len(values) / 2):
        return []
    return [] if any(round(_value(v), 1) in stated for v in numbers) else numbers


def _is_number(value: Any) -> bool:
    if isinstance(value, str):
        return value[:1].isdigit() and value.replace(".", "").replace(",", "").isdigit()
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _value(value: Any) -> float:
    return read_number(value).value if isinstance(value, str) else float(value)


def columns_in(rows: Sequence[tuple[int, Sequence[Any]]]) -> dict[str, list[Any]]:
    """The values of the columns of a grid by the first text of each."""
    found: dict[str, list[Any]] = {}
    width = min(max((len(cells) for _, cells in rows), default=0), _MOST_COLUMNS)
    for at in range(width):
        cells = [c[at] for _, c in rows if at < len(c) and c[at] not in (None, "")]
        if cells:
            found.setdefault(str(cells[0]), []).extend(cells[1:])
    return found


def keys_in(tree: Any) -> dict[str, list[Any]]:
    """The single values of a tree by the key that they, or the list they are in, stand under."""
    found: dict[str, list[Any]] = {}
    pending: list[tuple[str, Any]] = [("", tree)]
    seen = 0
    while pending and seen <= _MOST_VALUES:
        name, node = pending.pop()
        seen += 1
        if isinstance(node, Mapping):
            pending += [(str(key), value) for key, value in node.items()]
        elif isinstance(node, list):
            pending += [(name, one) for one in node]
        elif node not in (None, ""):
            found.setdefault(name, []).append(node)
    return found
