"""The foods that invented creators cook with, of ``data/kitchen_foods.csv``, by kitchen.

``first``: habits and slips were built with it. ``second``: its first run was blind; its misses were
then looked at, so that it is in-sample since. ``third``: run once after everything was built. No
kitchen holds a food of another. Codes are USDA SR28 food numbers, chosen from the descriptions as a
creator would understand the words, before any of them was run.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

_DATA = Path(__file__).resolve().parent / "data"
#: Code, words, role, unit, grams of one unit, least and most units a serving.
Ingredient = tuple[str, str, str, str, float, float, float]


def _rows(name: str, kitchen: str) -> Iterator[dict[str, str]]:
    with (_DATA / name).open(encoding="utf-8", newline="") as file:
        yield from (row for row in csv.DictReader(file) if row["kitchen"] == kitchen)


def ingredients(kitchen: str) -> tuple[Ingredient, ...]:
    """The foods of a kitchen."""
    return tuple(
        (r["code"], r["words"], r["role"], r["unit"], float(r["unit_g"]), float(r["least"]),
         float(r["most"]))
        for r in _rows("kitchen_foods.csv", kitchen)
    )  # fmt: skip


def alternates(kitchen: str) -> tuple[tuple[str, str, str], ...]:
    """Code, kind of slip, and the code that a food may be looked up as."""
    rows = _rows("kitchen_other_codes.csv", kitchen)
    return tuple((r["code"], r["kind"], r["other_code"]) for r in rows if r["kind"] != "same_words")


def kinds(kitchen: str) -> tuple[tuple[str, str], ...]:
    """Code, and another code that the same words name as well."""
    rows = _rows("kitchen_other_codes.csv", kitchen)
    return tuple((r["code"], r["other_code"]) for r in rows if r["kind"] == "same_words")
