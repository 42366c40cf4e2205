"""Patterns looked for in many texts: each distinct text once, and only where a match is possible.

A regular expression is slow where it has many branches and finds nothing, which is the usual case.
What every match has to contain ("fry" of ``deep[- ]?fr(?:y|ying)``) is derived from the expression,
and plain text is searched for that first.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any

from pipeline.resources import shared_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Bools = NDArray[np.bool_]

#: Share of a column up to which its texts are looked at one by one.
_FEW = 0.1


#: Spaces of pages and typesetters.
_WIDE = re.compile(r"[^\S ]")


def plain_spaces(text: str) -> str:
    """Each white space as a plain one; no character changes its place."""
    return text if text.isascii() and text.isprintable() else _WIDE.sub(" ", text)


class Phrase:
    """A regular expression, case ignored; compiled when a text may have it."""

    def __init__(self, expression: str) -> None:
        self._expression = expression

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        """The compiled expression."""
        return re.compile(self._expression, re.IGNORECASE)

    @cached_property
    def needles(self) -> tuple[str, ...]:
        """Lower-case texts of which every match contains one; none where that is unknown."""
        return tuple(sorted(_needles(_parsed(self._expression))))

    def found(self, text: str) -> bool:
        """Whether the text has it."""
        if self.needles:
            low = text.lower()
            for needle in self.needles:
                if needle in low:
                    break
            else:
                return False
        return self.pattern.search(text) is not None


@cache
def phrases(table: str) -> dict[str, Phrase]:
    """The phrases of a table of ``shared/`` with the columns ``name`` and ``pattern``."""
    return {row["name"]: Phrase(row["pattern"]) for row in shared_rows(table)}


#: A form of a word, part by part: the patterns of its letters and of what stands between them.
Spelled = Sequence[str]


def spelled(word: str, signs: Mapping[str, str]) -> list[str]:
    """A word part by part.

    Args:
        signs: patterns of signs that may be written otherwise: a hyphen, a space.
    """
    return [c if c.isalnum() else signs.get(c) or re.escape(c) for c in word]


def any_of(words: Iterable[Spelled]) -> str:
    """A pattern of any of some words; where several fit at a place, the longest.

    Words share the beginnings they have in common, so that at each place of a text the first letter
    leaves few of them: one after the other, a hundred words would be tried at every letter.

    >>> any_of(["fat", "fats", "fibre"])
    'f(?:ibre|ats?)'
    """
    tree: dict[str, Any] = {}
    for word in words:
        node = tree
        for part in word:
            node = node.setdefault(part, {})
        node[""] = {}
    return _any_below(tree)[1]


def _any_below(node: dict[str, Any]) -> tuple[int, str]:
    """What may stand behind a beginning that some words share, and of how many parts it is at most."""
    on = []
    for part, below in node.items():
        if part:
            parts, rest = _any_below(below)
            on.append((parts + 1, part + rest))
    on.sort(reverse=True)  # the longest first
    most, patterns = max(on, default=(0, ""))[0], [pattern for _, pattern in on]
    maybe = "?" if "" in node else ""
    if len(on) <= 1 and (not maybe or len("".join(patterns)) <= 1):
        return most, "".join(patterns) + maybe * len(on)
    return most, f"(?:{'|'.join(patterns)}){maybe}"


def _parsed(expression: str) -> Any:
    from re import _parser  # type: ignore[attr-defined]  # typeshed knows no parser

    return _parser.parse(expression, re.IGNORECASE)


def _needles(items: Any) -> frozenset[str]:
    """Texts of which each match of a sequence contains one; of several choices the longest ones.

    Of equal ones the last: words like "for" stand at the beginning.
    """
    best: frozenset[str] = frozenset()
    run = ""
    for op, value in [*items, ("END", None)]:
        kind = str(op)
        if kind == "LITERAL":
            run += chr(value).lower()
            continue
        found = [frozenset([run]) if run else frozenset()]
        run = ""
        if kind == "SUBPATTERN":
            found.append(_needles(value[-1]))
        elif kind == "BRANCH":
            branches = [_needles(branch) for branch in value[1]]
            found.append(frozenset().union(*branches) if all(branches) else frozenset())
        elif kind in ("MAX_REPEAT", "MIN_REPEAT") and value[0] > 0:
            found.append(_needles(value[2]))
        best = max(*reversed(found), best, key=_length)
    return best


def _length(needles: frozenset[str]) -> int:
    return min((len(needle.strip()) for needle in needles), default=0)


class Column:
    """A column of texts as its distinct values and a code a row; missing counts as "".

    Attributes:
        codes: place in ``values``, one a row.
        values: the distinct texts.
    """

    def __init__(self, texts: Iterable[object]) -> None:
        import numpy as np
        import pandas as pd

        given = texts.to_numpy(dtype=object) if isinstance(texts, pd.Series) else texts
        codes, values = pd.factorize(np.asarray(given, dtype=object))
        missing = codes < 0
        self.values: list[str] = [*values, ""] if missing.any() else list(values)
        self.codes: NDArray[np.intp] = np.where(missing, len(values), codes)

    @classmethod
    def coded(cls, codes: NDArray[np.intp], values: list[str]) -> Column:
        """A column whose values are told apart already."""
        made = cls.__new__(cls)
        made.codes, made.values = codes, values
        return made

    def at(self, row: int) -> str:
        """The text of a row."""
        return self.values[int(self.codes[row])]

    def mapped(self, phrase: Phrase, change: Callable[[str], str]) -> Column:
        """The column with each value changed that may have a phrase."""
        asked = self._holding(phrase.needles).tolist()
        values = [change(v) if ask else v for v, ask in zip(self.values, asked, strict=True)]
        return Column.coded(self.codes, values)

    def where(self, test: Callable[[str], bool], rows: Bools | None = None) -> Bools:
        """Rows (of ``rows`` where given) whose text passes a test, done once per distinct text."""
        return self._rows(test, None, rows)

    def has(self, phrase: Phrase, rows: Bools | None = None) -> Bools:
        """Rows (of ``rows`` where given) whose text has a phrase."""
        if rows is not None and rows.sum() < _FEW * len(self.values):
            return self._rows(phrase.found, None, rows)
        holding = self._holding(phrase.needles) if phrase.needles else None
        return self._rows(lambda text: phrase.pattern.search(text) is not None, holding, rows)

    def holds(self, needles: Iterable[str]) -> Bools:
        """Rows whose text contains one of some lower-case texts."""
        found: Bools = self._holding(needles)[self.codes]
        return found

    def _rows(self, test: Callable[[str], bool], among: Bools | None, rows: Bools | None) -> Bools:
        import numpy as np

        asked = np.ones(len(self.values), dtype=bool) if among is None else among.copy()
        if rows is not None:
            used = np.zeros(len(self.values), dtype=bool)
            used[self.codes[rows]] = True
            asked &= used
        passed = np.zeros(len(self.values), dtype=bool)
        for at in np.flatnonzero(asked).tolist():
            passed[at] = test(self.values[at])
        found: Bools = passed[self.codes]
        return found if rows is None else found & rows

    def _holding(self, needles: Iterable[str]) -> Bools:
        import numpy as np

        text, ends = self._joined
        found: list[int] = []
        for needle in needles:
            at = text.find(needle)
            while at >= 0:
                found.append(at)
                at = text.find(needle, at + 1)
        holding = np.zeros(len(self.values), dtype=bool)
        holding[np.searchsorted(ends, found, side="right")] = True
        return holding

    @cached_property
    def _joined(self) -> tuple[str, NDArray[np.int64]]:
        """All values in lower case below one another, and where each ends."""
        import numpy as np

        low = [value.lower() for value in self.values]
        return "\n".join(low), np.cumsum([len(text) + 1 for text in low], dtype=np.int64)
