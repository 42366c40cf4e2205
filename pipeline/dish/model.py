"""The stage's contract: recipes with their lines in, uses of lines out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from pipeline.lines.use_words import UseWords, use_words
from pipeline.phrases import Column

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.phrases import Bools

#: Texts whose answers are kept: lines and words come again in many recipes.
KEPT = 32_768


class LineUse(NamedTuple):
    """How much of a line is eaten, where that is not all of it; a row of ``tables.LINE_USE``.

    Attributes:
        use: kind of use of shared/eaten_share.csv, or ``made`` (counted where it is made),
            ``share`` (part of what is made is used), ``if_added``.
        of: what ``share`` is of: ``line`` its own grams, ``food`` the grams of the other lines.
        share, low, high: best guess and 90 % range.
        reason: in words, for the line.
    """

    recipe_id: str
    line_no: int
    use: str
    of: str
    share: float
    low: float
    high: float
    reason: str


@dataclass(slots=True)
class DishLine:
    """One line of a recipe as read so far; grams NaN when not known."""

    line_no: int
    text: str
    section: str
    description: str
    grams: float
    basis: str
    unit: str
    is_food: bool

    @property
    def words(self) -> UseWords:
        """What the line's wording says of its use."""
        return use_words(self.text)

    @property
    def head(self) -> str:
        """First word group of the food's description: "butter" of "Butter, salted"."""
        return self.description.partition(",")[0].lower()


@dataclass(slots=True)
class Dish:
    """A recipe with its lines, in their order."""

    recipe_id: str
    lines: list[DishLine] = field(default_factory=list)

    def foods(self) -> Sequence[DishLine]:
        return [line for line in self.lines if line.is_food]


class Dishes:
    """The lines of all recipes as arrays, one place per line in the order of LINE_RESULT.

    Attributes:
        ids: recipes, those of RECIPE first.
        of: place of each line's recipe in ``ids``.
        title, method, servings: one per recipe; servings NaN where not known.
        recipe_id, line_no, text, section, description, food_id, grams, basis, unit, is_food: one a
            line, as in LINE_RESULT; texts "" and grams NaN where missing.
        settled: whether a person, the pantry or a recipe says what the line is; one per line.
    """

    def __init__(self, recipe: pd.DataFrame, lines: pd.DataFrame) -> None:
        given = recipe.drop_duplicates("recipe_id", keep="last")
        every = pd.concat([given["recipe_id"].astype(object), lines["recipe_id"].astype(object)])
        codes, ids = pd.factorize(every)
        self.ids: list[str] = [str(i) for i in ids]
        self.of: NDArray[np.intp] = codes[len(given) :]
        more = [""] * (len(ids) - len(given))
        self.title = Column([*given["title"], *more])
        self.method = Column([*given["method"], *more])
        servings = given["servings"].to_numpy(dtype=float, na_value=np.nan)
        self.servings = np.concatenate([servings, np.full(len(more), np.nan)])
        self.recipe_id: list[str] = lines["recipe_id"].astype(str).tolist()
        self.line_no: list[int] = lines["line_no"].astype(int).tolist()
        self.text = Column(lines["text"])
        self.section = Column(lines["section"])
        self.unit = Column(lines["unit"])
        self.is_food: Bools = lines["names_food"].to_numpy(dtype=bool)
        self.settled = Column(lines["origin"]).where(("decision", "pantry", "recipe").__contains__)
        self.read(lines)

    def read(self, lines: pd.DataFrame) -> None:
        """Take over foods and grams of the lines, which may have changed."""
        self.food_id = Column(lines["food_id"])
        self.description = Column(lines["description"])
        self.basis = Column(lines["basis"])
        self.grams = lines["grams"].to_numpy(dtype=float, na_value=np.nan)

    def of_line(self, column: Column) -> Column:
        """A column of the recipes, one text per line."""
        return Column.coded(column.codes[self.of], column.values)

    def some(self, recipes: Bools) -> Iterator[Dish]:
        """Some of the recipes, with their lines.

        Args:
            recipes: one per recipe.
        """
        dishes: dict[int, Dish] = {}
        for at in np.flatnonzero(recipes[self.of]).tolist():
            number = int(self.of[at])
            if number not in dishes:
                dishes[number] = Dish(self.ids[number])
            dishes[number].lines.append(self.line(at))
        yield from dishes.values()

    def line(self, at: int) -> DishLine:
        """One line by its place."""
        return DishLine(
            self.line_no[at], self.text.at(at), self.section.at(at), self.description.at(at),
            float(self.grams[at]), self.basis.at(at), self.unit.at(at), bool(self.is_food[at]),
        )  # fmt: skip

    def any_line(self, lines: Bools) -> Bools:
        """Which recipes have one of some lines.

        Args:
            lines: one per line.
        """
        found = np.zeros(len(self.ids), dtype=bool)
        found[self.of[lines]] = True
        return found
