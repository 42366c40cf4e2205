"""The drift between two nutrient tables: four tables and the counts over them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipeline.exit_codes import Exit
from pipeline.snapshot.model import Snapshot

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

FOODS = [
    "food_id", "description", "state", "replaces", "nutrient", "before", "after", "change", "change_pct",
    "lines", "recipes", "food_source",
]  # fmt: skip
RECIPES = [
    "recipe_id", "title", "source", "basis", "nutrient", "before", "after", "change", "change_pct",
    "verdict_before", "verdict_after", "flipped",
]  # fmt: skip
LINES = [
    "recipe_id", "line_no", "text", "food_before", "description_before", "food_after",
    "description_after", "grams_before", "grams_after", "source_before", "source_after",
]  # fmt: skip
DECISIONS = ["text", "applies_to", "food_id", "description", "food_source"]


@dataclass(slots=True)
class Drift:
    """Two snapshots held against each other by one collection.

    Attributes:
        before, after: the snapshots.
        foods: columns :data:`FOODS`, one row a (food_id, nutrient column) that differs.
        recipes: columns :data:`RECIPES`, on the ``basis`` of the recipe's numbers; ``nutrient`` ""
            is the recipe's verdict.
        lines: columns :data:`LINES`, lines that mean another food or weigh otherwise.
        decisions: columns :data:`DECISIONS`, answers that point to vanished foods.
        recipes_read: recipes of the collection.
        now: the result on the later table, for the report beside the page.
    """

    before: Snapshot
    after: Snapshot
    foods: pd.DataFrame
    recipes: pd.DataFrame
    lines: pd.DataFrame
    decisions: pd.DataFrame
    recipes_read: int
    now: Result | None = None

    @property
    def flips(self) -> pd.DataFrame:
        """Rows of ``recipes`` whose verdict is another one."""
        return self.recipes[self.recipes["flipped"].astype(bool)]

    @property
    def nothing(self) -> bool:
        """Nothing the collection uses moved."""
        return not (len(self.foods) or len(self.recipes) or len(self.lines) or len(self.decisions))

    @property
    def exit_code(self) -> int:
        """0, or that of changed verdicts when one flipped."""
        return Exit.FLIPPED if len(self.flips) else Exit.OK

    def summary(self) -> dict[str, Any]:
        """Counts to print: foods, recipes moved, verdicts flipped, lines, decisions."""
        moved = self.recipes[self.recipes["nutrient"] != ""]
        return {
            "before": self.before.snapshot_id,
            "after": self.after.snapshot_id,
            "recipes": self.recipes_read,
            "foods_changed": int(self.foods["food_id"].nunique()),
            "recipes_moved": int(moved.loc[moved["change"].notna(), "recipe_id"].nunique()),
            "verdicts_flipped": int(self.flips["recipe_id"].nunique()),
            "lines_changed": len(self.lines),
            "decisions_lost": len(self.decisions),
        }
