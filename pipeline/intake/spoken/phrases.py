"""Words and phrases of talk, from ``shared/spoken_words.csv`` and ``shared/spoken_phrases.csv``."""

from __future__ import annotations

import re
from functools import cache

from pipeline.resources import shared_rows

#: What stands around the alternatives of a row.
_FORMS = {
    "": "{}", "words": r"\b(?:{})\b", "begins": r"^(?:{})\b", "ends": r"\b(?:{})$",
}  # fmt: skip


@cache
def _classes() -> dict[str, frozenset[str]]:
    return {
        row["class"]: frozenset(row["words"].split()) for row in shared_rows("spoken_words.csv")
    }


def word_class(name: str) -> frozenset[str]:
    """The words of a class."""
    return _classes()[name]


@cache
def _rows() -> dict[str, list[str]]:
    """Name → its phrases as regular expressions, in order."""
    rows: dict[str, list[str]] = {}
    for row in shared_rows("spoken_phrases.csv"):
        pattern = _FORMS[row["form"]].replace("{}", row["phrases"])
        rows.setdefault(row["name"], []).append(pattern)
    return rows


@cache
def phrases(name: str, **fill: str) -> re.Pattern[str]:
    """The phrases of a name as one expression.

    Args:
        name: of ``spoken_phrases.csv``; earlier rows are tried first.
        fill: words to put in for ``{key}``; what is not given is taken from the rows of that name.
    """

    def filled(found: re.Match[str]) -> str:
        return fill[found[1]] if found[1] in fill else phrases(found[1]).pattern

    return re.compile(re.sub(r"\{([a-z_]+)\}", filled, "|".join(_rows()[name])))
