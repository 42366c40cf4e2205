"""What a column or key holds, told by its content where its name is in no table."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.intake.model import cut
from pipeline.intake.numbers import Roles
from pipeline.problems import Problem, input_problem

_PIECES = re.compile(r"[\n|;]")
#: Of the pieces of a list of ingredients, those with an amount; the rest is "salt to taste".
_SHARE = 0.6

#: Longer texts are steps or notes.
_LONGEST = 200


def mostly_lines(texts: Sequence[str]) -> bool:
    """Whether the lines stage reads an amount and a name, not always the same, in most texts."""
    from pipeline.lines import parse_many  # here: few files are asked for what they hold

    read = parse_many([text if len(text) <= _LONGEST else "" for text in texts])
    names = {line.name for line in read if line.measures and _may_be_food(line.name)}
    return len(names) >= max(2, _SHARE * len(texts))


def _may_be_food(name: str) -> bool:
    """Whether what is counted has a name, and is neither time nor people nor servings."""
    found = Roles(name)
    return found.roles != "" and found.role_at(0) not in ("time", "serving")


def holds_lines(value: Any) -> bool:
    """Whether a value is a list (or a text of several lines) of ingredients with amounts.

    >>> holds_lines(["200 g rice", "1 onion", "salt"]), holds_lines(["1. Mix.", "2. Bake."])
    (True, False)
    """
    if isinstance(value, str):
        value = [piece for piece in _PIECES.split(value) if piece.strip()]
    if not isinstance(value, (list, tuple)):
        return False
    texts = [
        one if isinstance(one, str) else next((v for v in one.values() if isinstance(v, str)), "")
        for one in value if isinstance(one, (str, Mapping))
    ]  # fmt: skip
    return len(texts) == len(value) and mostly_lines(texts)


def may_be_title(value: Any) -> bool:
    """Whether a value is a short text of words, on one line."""
    return (
        isinstance(value, str)
        and len(value) <= 100
        and "\n" not in value
        and re.search(r"[^\W\d]{3}", value) is not None
    )


def read_by_content(name: str, field: str = "ingredients") -> Problem:
    """The note that a field stands under a name that is in no table."""
    return input_problem("read-by-content", name=cut(name, 40), field=field)
