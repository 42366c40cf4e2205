"""What lines would weigh in energy and macros: evidence of what a speaker means.

A stated total belongs to the lines that make it plausible. Of 188 scripted recipes with truth, what
the lines come to lies within 0.83 and 1.31 times the stated energy in 80 of 100, and within 0.54 and
1.91 in 96, so energy tells a recipe's own lines from those of another, and a serving from a batch.

This is the one place where reading a file asks the later stages; they are loaded when a script is
read, never before.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from pipeline.nutrients import NET_CARBS_TAG

if TYPE_CHECKING:
    from pipeline.reading import Tools
    from pipeline.snapshot import Snapshot

#: kcal, then g of protein, fat and carbohydrate, in the order of ``pipeline.match.foods.MACROS``.
Macros = tuple[float, float, float, float]
TAGS = ("ENERC_KCAL", "PROCNT", "FAT", "CHOCDF")
NOTHING: Macros = (0.0, 0.0, 0.0, 0.0)
_SPREAD = 0.25  # of ln(lines / stated) for one nutrient
_FLOOR = (30.0, 4.0, 4.0, 5.0)  # added to both sides: small numbers say little
_KEPT = 50_000  # texts that are remembered
_MOST = 4.0  # what one nutrient can say against a reading


#: The table that the run computes with, where it is not the live one.
_given: ContextVar[Snapshot | None] = ContextVar("_given", default=None)


@contextmanager
def weighed_by(snapshot: Snapshot | None) -> Iterator[None]:
    """Scripts read within are weighed by this table; None: by the live one."""
    token = _given.set(snapshot)
    try:
        yield
    finally:
        _given.reset(token)


@lru_cache(maxsize=1)
def _tools(snapshot: Snapshot) -> Tools:
    from pipeline.reading import load_tools

    return load_tools(snapshot)


def _weighed(snapshot: Snapshot, texts: Sequence[str]) -> tuple[dict[str, Macros | None], set[str]]:
    """Macros of lines, and the lines of a known food that no weight is known for."""
    from pipeline.reading import read_lines

    tools = _tools(snapshot)
    foods = tools.matcher.index.foods
    places = _places(snapshot)
    out: dict[str, Macros | None] = {}
    unweighed: set[str] = set()
    for text, read in zip(texts, read_lines(texts, tools), strict=True):
        at, grams = places.get(read.match.food_id or ""), read.weight.grams
        if at is None or grams is None:
            out[text] = None
            if at is not None and read.match.status == "accepted":
                unweighed.add(text)
            continue
        per_gram = foods.macros[at] / 100
        values = [float(v) if v == v else 0.0 for v in per_gram * grams]
        out[text] = (values[0], values[1], values[2], values[3])
    return out, unweighed


@lru_cache(maxsize=1)
def _places(snapshot: Snapshot) -> dict[str, int]:
    return {food: at for at, food in enumerate(_tools(snapshot).matcher.index.foods.ids)}


@dataclass(slots=True)
class Composition:
    """Energy and macros of line texts by the table in force; each text is read once.

    Attributes:
        snapshot: the table.
        known: text → what it comes to.
        unweighed: texts that name a food for sure, in an amount that has no weight: "3 flour".
    """

    snapshot: Snapshot
    known: dict[str, Macros | None]
    unweighed: set[str]

    @staticmethod
    def of_the_table_in_force() -> Composition:
        """That of the table the run computes with, else of the live one."""
        from pipeline.snapshot.home import home_dir, pointer

        given = _given.get()
        if given is not None:
            return _of_table(given)
        return _of(str(home_dir()), str(pointer(home_dir())))

    def read(self, texts: Iterable[str]) -> None:
        """Read many texts at once."""
        new = [t for t in dict.fromkeys(texts) if t not in self.known]
        if len(self.known) > _KEPT:
            self.known.clear()
            self.unweighed.clear()
            new = list(dict.fromkeys(texts))
        if new:
            found, unweighed = _weighed(self.snapshot, new)
            self.known.update(found)
            self.unweighed |= unweighed

    def of(self, text: str) -> Macros | None:
        """Energy and macros of a line; None when it cannot be weighed."""
        self.read([text])
        return self.known[text]

    def total(self, texts: Sequence[str]) -> Macros:
        """Sum of what can be weighed."""
        self.read(texts)
        rows = [row for t in texts if (row := self.known[t]) is not None]
        return added(rows)


@lru_cache(maxsize=1)
def _of(home: str, live: str) -> Composition:
    """One for all scripts, until another table is live."""
    from pipeline.snapshot import open_snapshot

    return _of_table(open_snapshot())


@lru_cache(maxsize=2)
def _of_table(snapshot: Snapshot) -> Composition:
    return Composition(snapshot, {}, set())


def added(rows: Sequence[Macros]) -> Macros:
    """The sum of rows."""
    if not rows:
        return NOTHING
    sums = [sum(column) for column in zip(*rows, strict=True)]
    return sums[0], sums[1], sums[2], sums[3]


def misfit(lines: Macros, stated: dict[str, float], servings: float) -> float:
    """How much stated numbers of a serving speak against lines: half the squared error in spreads.

    Args:
        lines: what they come to altogether.
        stated: tag → number; net carbohydrate counts as carbohydrate.
        servings: what the numbers are multiplied by.
    """
    cost, used = 0.0, 0
    for tag, floor, own in zip(TAGS, _FLOOR, lines, strict=True):
        value = stated.get(tag)
        if value is None and tag == "CHOCDF":
            value = stated.get(NET_CARBS_TAG)
        if value is None:
            continue
        off = math.log((own + floor) / (value * servings + floor))
        cost += min(0.5 * (off / _SPREAD) ** 2, _MOST)
        used += 1
    return cost / used if used else 0.0
