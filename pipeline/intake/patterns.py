"""Patterns of the lines of recipes: the rows of ``shared/card_phrases.csv``, case ignored.

``(?&NAME)`` in a pattern stands for a number (``(?&number)``), the name of a nutrient
(``(?&nutrient)``), another row of the table, or the words that a table gives to some roles:
``(?&head_words:hedge|limit)``.
"""

from __future__ import annotations

import re
from functools import cache

from pipeline.intake.columns import nutrient_pattern
from pipeline.intake.numbers import NUMBER, number_words, words_of
from pipeline.resources import column_of

_PART = re.compile(r"\(\?&(?P<name>\w+)(?::(?P<roles>[\w|]+))?\)")


@cache
def pattern(name: str) -> re.Pattern[str]:
    """A row of ``shared/card_phrases.csv``, compiled when it is first asked for."""
    return re.compile(_filled(name), re.IGNORECASE)


def _filled(name: str) -> str:
    return _PART.sub(_part, column_of("card_phrases.csv", "name", "pattern")[name])


def _part(found: re.Match[str]) -> str:
    name, roles = found["name"], (found["roles"] or "").split("|")
    if not found["roles"]:
        own = {"number": lambda: NUMBER, "nutrient": nutrient_pattern}
        return own[name]() if name in own else _filled(name)
    if name == "number_words":
        return "|".join(number_words(*roles))
    return words_of(f"{name}.csv", *roles)
