"""What the stages before know of a collection, as every step of the search for habits takes it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from pipeline.compute import compute
from pipeline.reconcile import load_foods

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods


@dataclass(frozen=True)
class Known:
    """A collection that was read and added up.

    Attributes:
        con: a connection to the snapshot.
        lines: LINE_RESULT, with ``eaten_share``.
        runner_up, recipe, stated: RUNNER_UP, RECIPE and STATED.
        computation: of the compute stage.
        own: FOOD_NUTRIENT of the pantry.
    """

    con: duckdb.DuckDBPyConnection
    lines: pd.DataFrame
    runner_up: pd.DataFrame
    recipe: pd.DataFrame
    stated: pd.DataFrame
    computation: Computation
    own: pd.DataFrame

    @cached_property
    def foods(self) -> Foods:
        """Foods of the snapshot and the pantry, see ``reconcile.load_foods``."""
        return load_foods(self.con, self.own)

    def summed(self, lines: pd.DataFrame, recipe_ids: set[str], own: pd.DataFrame) -> Computation:
        """Some recipes added up again with other lines and foods, in the same convention."""
        return compute(
            self.con, lines, self.runner_up[self.runner_up["text"].isin(lines["text"])],
            self.recipe[self.recipe["recipe_id"].isin(recipe_ids)], pantry_nutrient=own,
            convention=self.computation.convention,
        )  # fmt: skip
