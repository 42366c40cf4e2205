"""Lists of bare numbers, ``[442, 31.9, 33.6, 20.1]``, in an order that a text of the tree tells.

The order is that in which their own key, or one text of the tree alone, names energy and macros:
"per tub, always kcal P C F". It stands only if the energy of the macros is that beside them in most
lists that it is put to; without such a text the numbers stay unread.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from pipeline.intake.columns import nutrient_named
from pipeline.intake.numbers import is_kj
from pipeline.intake.stated_line import KCAL_OF, borne_out

_LETTERS = {"e": "ENERC_KCAL", "k": "ENERC_KCAL", "p": "PROCNT", "c": "CHOCDF", "f": "FAT"}
_ASKED = frozenset((*KCAL_OF, "ENERC_KCAL"))
_WORD = re.compile(r"[^\W\d_]+")
#: Beyond these, texts say something else and trees hold other things.
_MAX_TEXT, _MAX_TEXTS = 500, 20_000
_MOST_NUMBERS = 10


def is_bare(value: Any) -> bool:
    """Whether a value is a list of as many numbers as a recipe may state, and of nothing else."""
    return (
        isinstance(value, list)
        and len(_ASKED) <= len(value) <= _MOST_NUMBERS
        and all(isinstance(one, (int, float)) and not isinstance(one, bool) for one in value)
    )


def order_in(text: str) -> tuple[str, ...]:
    """The energy and macros that a text names one behind the other; () where it names not all.

    >>> order_in("one tub, order E P C F"), order_in("kcal_fat_carbs_protein"), order_in("more protein")
    (('ENERC_KCAL', 'PROCNT', 'CHOCDF', 'FAT'), ('ENERC_KCAL', 'FAT', 'CHOCDF', 'PROCNT'), ())
    """
    run: list[str] = []
    for word in [*_WORD.findall(text[:_MAX_TEXT].lower()), ""]:
        names = _names(word)
        if names and not set(names) & set(run):
            run += names
        elif {"ENERC_KCAL" if is_kj(name) else name for name in run} >= _ASKED:
            return tuple(run)
        else:
            run = names
    return ()


def _names(word: str) -> list[str]:
    """Tags that a word names; kilojoules as "kj"."""
    if len(set(word)) == len(word) and len(word) in (1, len(_ASKED)) and set(word) <= set(_LETTERS):
        return [_LETTERS[letter] for letter in word]
    known = nutrient_named(word)
    return [] if known is None else ["kj" if is_kj(word) else known[0]]


@dataclass
class NumberLists:
    """What lists of bare numbers in a tree state."""

    tree: Any

    def names_of(self, key: str, value: list[Any]) -> tuple[str, ...]:
        """The name of each number of a list under a key; () where nothing tells."""
        own = order_in(key)
        if len(own) == len(value):
            return own
        return self._order[0] if len(self._order[0]) == len(value) else ()

    @property
    def said(self) -> str:
        """The text that tells the order of all lists, and may say what they are for; "" for none."""
        return self._order[1]

    @cached_property
    def _order(self) -> tuple[tuple[str, ...], str]:
        texts: list[str] = []
        lists: list[list[float]] = []
        for one in _leaves(self.tree):
            (texts if isinstance(one, str) else lists).append(one)
        told = {order: text for text in texts if (order := order_in(text))}
        if len(told) != 1:
            return (), ""
        order, said = told.popitem()
        fitting = [dict(zip(order, one, strict=True)) for one in lists if len(one) == len(order)]
        follows = sum(map(borne_out, fitting))
        return (order, said) if "kj" in order or 2 * follows > len(fitting) else ((), "")


def _leaves(tree: Any) -> Iterator[Any]:
    """Texts, keys and lists of bare numbers of a tree, up to a bound."""
    pending, seen = [tree], 0
    while pending and seen < _MAX_TEXTS:
        node = pending.pop()
        seen += 1
        if isinstance(node, str) or is_bare(node):
            yield node
        elif isinstance(node, list) and node and all(isinstance(one, str) for one in node):
            yield " ".join(node[:_MOST_NUMBERS])  # a legend: ["kcal", "protein", "carbs", "fat"]
            pending += node
        elif isinstance(node, Mapping):
            pending += [*node, *node.values()]
        elif isinstance(node, list):
            pending += node
