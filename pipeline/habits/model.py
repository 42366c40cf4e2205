"""What a habit is, and the constants of the search."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from pipeline.reconcile.model import (
    ATWATER,
    CARBS,
    FAT,
    FIBRE,
    KCAL,
    PROTEIN,
    SATFAT,
    SUGAR,
    TAGS,
    Matrix,
    Vector,
)
from pipeline.resources import shared_rows

KINDS = ("product", "measure", "state", "convention", "base", "reading")
#: A kind that the words leave open and the numbers of the collection settle: our reading, no habit.
READING = "reading"

#: One row per habit, the surest first, then the readings. ``probability``: that these recipes share
#: this cause, and it is the creator's; of a reading, that it is none of the kinds the words leave
#: open. Values
#: per 100 g as the creator's numbers imply them; ``grams`` of one ``measure``; ``recipe_ids`` with
#: "; " between; ``agree_now`` and ``agree_then``: of these recipes, without and with the habits;
#: ``key`` is the text of a refusal.
HABIT = [
    "rank", "creator", "kind", "phrase", "probability", "recipes", "recipe_ids",
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "measure", "grams",
    "nearest_food_id", "nearest_food", "table_food_id", "names", "agree_now", "agree_then",
    "detail", "question", "key",
]  # fmt: skip


#: Conventions, as people read them: ``phrase`` of the habit.
NET = "net carbohydrate"
NET_ENERGY = "net carbohydrate, energy without fibre"
FACTORS = "energy by 4-4-9"
#: States of everything a creator weighs.
RAW_AS_COOKED = "raw weights counted as cooked"
COOKED_AS_RAW = "cooked weights counted as raw"


@cache
def constants() -> dict[str, float]:
    """shared/habit_model.csv."""
    return {row["name"]: float(row["value"]) for row in shared_rows("habit_model.csv")}


@dataclass(slots=True)
class Habit:
    """One cause shared by several recipes of a creator.

    Attributes:
        kind: one of ``KINDS``.
        phrase: the words on the lines, or the name of the convention.
        creator: whose habit it is, "" for nobody named.
        probability: that the recipes share this cause.
        recipe_ids: recipes with the phrase, in order.
        lines: (recipe_id, line_no) of its lines; empty for conventions.
        names: folded food names of its lines.
        food_id: the table's food of the lines, "" for conventions and bases.
        composition: (7,) per 100 g, of a product, state or base; None of the others.
        sure: (7,) deviation of ``composition``.
        factor: what the lines' grams are multiplied by, of a measure; 0 for a food never counted.
        measure, grams: unit, and grams of one of it by the creator's numbers.
        nearest: row of the foods with the nearest composition, -1 for none; of a reading the kind.
        convention: ``NET``, ``RAW_AS_COOKED`` and so on, "" for the other kinds.
        swaps, swap_names: row of the food that each of ``lines`` counts as, and its name, of a
            state of everything; ``read_as`` the food_id that each of ``names`` is read as.
        together: phrases that cannot be told apart from this one.
    """

    kind: str
    phrase: str
    creator: str
    probability: float
    recipe_ids: list[str]
    lines: list[tuple[str, int]] = field(default_factory=list)
    names: tuple[str, ...] = ()
    food_id: str = ""
    composition: Vector | None = None
    sure: Vector | None = None
    factor: float = 1.0
    measure: str = ""
    grams: float = float("nan")
    nearest: int = -1
    convention: str = ""
    swaps: tuple[int, ...] = ()
    swap_names: tuple[str, ...] = ()
    read_as: tuple[str, ...] = ()
    together: list[str] = field(default_factory=list)

    @property
    def key(self) -> str:
        """What a refusal goes by; the same from run to run."""
        return habit_key(self.kind, self.phrase, self.creator)


#: Between the recipe_ids, and the names, of one cell.
BETWEEN = "; "


def ids_of(cell: object) -> list[str]:
    """The parts of a cell of ``recipe_ids`` or ``names``."""
    return [part for part in str(cell or "").split(BETWEEN) if part]


def habit_key(kind: str, phrase: str, creator: str) -> str:
    """Kind, phrase and creator as one text: the ``text`` of a refusal in ``decisions.csv``."""
    return f"{kind}: {phrase}" + (f" ({creator})" if creator else "")


def product_prior(values: Matrix, scale: float = 1.0) -> np.ndarray:
    """Precision (g, 7, 7) of how another product differs from foods of ``values`` per 100 g.

    Macros differ by a share of their own and a little; energy follows them by the Atwater factors
    and has its own part.
    """
    k = constants()
    own = k["product_sd_g"] + k["product_sd_share"] * np.abs(values)
    return np.linalg.inv(_moving(scale * own, scale * k["product_sd_kcal"]))


def table_prior(
    values: Matrix, rel_var: Vector | None = None, kcal_sd: Vector | float = 0.0
) -> np.ndarray:
    """The same for another table's values of the same product.

    Args:
        values: (g, n) per 100 g.
        rel_var: (g,) variance over their square of grams that are open in all its lines alike,
            so that the creator's may differ from ours in every recipe.
        kcal_sd: (g,) by which energy differs beside, per 100 g.
    """
    cov = _table_cov(values)
    cov[:, KCAL, KCAL] += np.asarray(kcal_sd) ** 2
    if rel_var is not None:
        cov += rel_var[:, None, None] * values[:, :, None] * values[:, None, :]
    return np.linalg.inv(cov)


def family_prior(values: Matrix, shares: Vector) -> tuple[Vector, Matrix]:
    """Mean (n,) and precision (n, n) of a kind that stands beside others, as a table may have it.

    Args:
        values: (k, n) per 100 g of the kinds that words leave open.
        shares: (k,) of each, 1 in all.
    """
    mean = shares @ values
    off = values - mean
    apart = np.einsum("k,ki,kj->ij", shares, off, off)
    return mean, np.linalg.inv(apart + _table_cov(mean[None])[0])


def _table_cov(values: Matrix) -> np.ndarray:
    own = 0.1 + constants()["table_sd_share"] * np.abs(values)
    return _moving(own, 1.0 + 0.02 * np.abs(values[:, KCAL]))


def _moving(sd: Matrix, kcal_sd: float | Vector) -> np.ndarray:
    """Covariance (g, n, n) of macros that differ by ``sd``, energy and parts following them."""
    moved = np.eye(len(TAGS))
    moved[KCAL, [PROTEIN, CARBS, FAT]] = ATWATER[[PROTEIN, CARBS, FAT]]
    moved[SATFAT, FAT] = 0.3  # fibre, sugars and saturates come with what they are part of
    moved[SUGAR, CARBS] = moved[FIBRE, CARBS] = 0.1
    own = sd.copy()
    own[:, KCAL] = kcal_sd
    cov: np.ndarray = np.einsum("ij,gj,kj->gik", moved, own**2, moved)
    return cov
