"""Corrected recipes of documents (e-books, Word, PDF ...) as text cards: those are not written into.

A document is laid out by hand or by a program that owns it; a number changed in its inside would
not be found again by either. The card beside it is the text to copy from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.problems import Problem, input_problem

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.intake.collect import Collection

_BETWEEN = "\n---\n\n"


def card_file(collection: Collection, source: str, out_dir: Path) -> Path:
    """Where the cards of a document go: named after it, beside the copies of the other files."""
    name = f"{source}.txt"
    return out_dir / (name if name not in collection.files else f"{source}.corrected.txt")


def corrected_cards(
    collection: Collection, source: str, wanted: Mapping[int, Mapping[str, float]]
) -> str:
    """The corrected recipes of a document as text cards, in their order.

    Args:
        wanted: position of a recipe in it to its numbers, by tag, on the basis it states them on.
    """
    from pipeline.publish.write import card_texts

    recipe = collection.recipe
    mine = recipe[(recipe["source"] == source) & recipe["position"].isin(list(wanted))]
    numbers = {
        str(recipe_id): wanted[int(position)]
        for recipe_id, position in zip(mine["recipe_id"], mine["position"], strict=True)
    }
    stated = collection.stated[collection.stated["recipe_id"].isin(list(numbers))]
    changed = replace(collection, recipe=mine, stated=_with_numbers(stated, numbers))
    return _BETWEEN.join(text for _, text in card_texts(changed, source))


def _with_numbers(stated: pd.DataFrame, numbers: Mapping[str, Mapping[str, float]]) -> pd.DataFrame:
    """STATED with numbers put in place of those of the same nutrient, and new ones added."""
    import pandas as pd

    parts = []
    for recipe_id, values in numbers.items():
        own = stated[stated["recipe_id"] == recipe_id]
        basis = str(own["basis"].iloc[0]) if len(own) else "per_serving"
        kept = own[~own["nutrient"].isin(list(values))]
        rows = [(recipe_id, tag, value, basis, 0.0, "") for tag, value in values.items()]
        parts.append(pd.concat([pd.DataFrame(rows, columns=stated.columns), kept]))
    return pd.concat(parts, ignore_index=True) if parts else stated


def note_of(source: str, target: Path, count: int) -> Problem:
    """The note that the corrected recipes of a document are in a card."""
    one = count == 1
    return input_problem(
        "copy-as-card", source=source, card=target.name,
        recipes="recipe" if one else f"{count} recipes", stand="stands" if one else "stand",
    )  # fmt: skip
