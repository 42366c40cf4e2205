"""What the recipes of a collection have in common: one habit explains many differences.

Each rule looks at the tables of all recipes and reports only when a pattern is stronger than chance
or when one act of the creator would settle several recipes at once.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.report.words import KIND, SLIP_ADVICE, nutrient_word, plural

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: Patterns shown.
_MOST = 8
#: A tilt to one side is a pattern when a fair coin would do it less often than this.
_CHANCE = 0.01
_LEAST_RECIPES, _LEAST_SHARE, _LEAST_TILT, _SURE = 3, 0.3, 0.02, 0.5


@dataclass(frozen=True, slots=True)
class Pattern:
    """One thing several recipes share.

    Attributes:
        headline: what is seen, with the count.
        advice: what it may mean and what to do.
        recipe_ids: the recipes it is seen in, in the order of the collection.
        certainty: how far it is a fault, 0 to 1; times the recipes, it orders the patterns.
    """

    headline: str
    advice: str
    recipe_ids: list[str]
    certainty: float = 1.0


def patterns(result: Result) -> list[Pattern]:
    """The patterns of a collection, those of most recipes first."""
    found = [
        *_one_sided(result),
        *_tilted(result),
        *_same_slip(result),
        *_same_food_at_fault(result),
        *_same_unknown(result),
        *_same_doubt(result),
    ]
    return sorted(found, key=lambda p: -p.certainty * len(p.recipe_ids))[:_MOST]


def _one_sided(result: Result) -> list[Pattern]:
    """A nutrient that is off in many recipes, and nearly always to the same side."""
    judged = result.findings[result.findings["verdict"] != "not_judged"]
    out = []
    for nutrient, rows in judged.groupby("nutrient", sort=False):
        off = rows[rows["verdict"] == "disagrees"]
        if len(off) < _LEAST_RECIPES or len(off) < _LEAST_SHARE * len(rows):
            continue
        low = off["difference"] > 0
        side, hit = ("low", off[low]) if low.mean() >= 0.5 else ("high", off[~low])
        if not _beyond_chance(len(hit), len(off), 0.1):
            continue
        word = nutrient_word(str(nutrient))
        out.append(
            Pattern(
                f"{word.capitalize()} is {side} in {len(hit)} of {plural(len(rows), 'recipe')}"
                " that state it",
                _why_low_carbs(result, hit)
                if nutrient == "carbs_g" and side == "low"
                else "One cause may lie behind them all: a food table, a habit of rounding, or a"
                " food that is always looked up the same way.",
                hit["recipe_id"].tolist(),
            )
        )
    return out


def _why_low_carbs(result: Result, hit: pd.DataFrame) -> str:
    """Whether what is missing of the carbohydrate is about the fibre."""
    fibre = result.recipes.set_index("recipe_id")["fiber_g_computed"]
    gap = hit["difference"].to_numpy(dtype=float)
    there = fibre.reindex(hit["recipe_id"]).to_numpy(dtype=float)
    matches = int(((abs(gap - there) <= 0.35 * there) & (there > 1)).sum())
    if matches >= 0.5 * len(hit):
        return (
            f"In {matches} of them the gap is about the fibre: is the carbohydrate stated net,"
            " without fibre? Then say so beside the number."
        )
    return "The gap is not the fibre; look for a starch that is looked up cooked and weighed dry."


def _tilted(result: Result) -> list[Pattern]:
    """Numbers within tolerance that nevertheless lie on one side throughout."""
    out = []
    near = result.findings[result.findings["verdict"].isin(["agrees", "uncertain"])]
    for nutrient, rows in near.groupby("nutrient", sort=False):
        rows = rows[(rows["stated"] > 0) & (rows["computed"] > 0)]
        if len(rows) < 8:
            continue
        ratio = (rows["stated"] / rows["computed"] - 1).to_numpy(dtype=float)
        middle = float(sorted(ratio)[len(ratio) // 2])
        same = int((ratio * math.copysign(1, middle) > 0).sum())
        if abs(middle) < _LEAST_TILT or not _beyond_chance(same, len(rows), _CHANCE):
            continue
        side = "above" if middle > 0 else "below"
        hit = rows[ratio * math.copysign(1, middle) > 0]
        out.append(
            Pattern(
                f"{nutrient_word(str(nutrient)).capitalize()} lies {side} the sum in {same} of"
                f" {plural(len(rows), 'recipe')} within reach, by {abs(middle):.0%} in the middle",
                "Each is within the tolerance, but they all point the same way: another food table,"
                " or rounding that always goes one way.",
                hit["recipe_id"].tolist(),
                0.5,
            )
        )
    return out


def _beyond_chance(hits: int, of: int, level: float) -> bool:
    """Whether a fair coin would come up so often with a probability below ``level``."""
    tail = sum(math.comb(of, k) for k in range(hits, of + 1)) / 2**of
    return tail < level or (of >= _LEAST_RECIPES and hits == of)


def _first(result: Result) -> pd.DataFrame:
    rows = result.explanations
    if rows.empty:
        return rows
    return rows[(rows["rank"] == 1) & (rows["probability"] >= _SURE)]


def _shared(
    rows: pd.DataFrame, by: str | pd.Series[str], before: Callable[[str], str],
    advice: str | Callable[[str], str], after: str = "", least: int = _LEAST_RECIPES,
) -> list[Pattern]:  # fmt: skip
    """The pattern of each group's recipes, each once, where there are at least so many.

    Args:
        rows: with recipe_id; ``by``: what groups them.
        before: of a group, the headline up to "5 recipes"; ``after``: the rest of it.
        advice: what to do, or what makes it of a group.
    """
    out = []
    for key, group in rows.groupby(by) if len(rows) else []:
        recipes = list(dict.fromkeys(group["recipe_id"]))
        if len(recipes) >= least:
            headline = f"{before(str(key))} {plural(len(recipes), 'recipe')}{after}"
            out.append(
                Pattern(headline, advice if isinstance(advice, str) else advice(str(key)), recipes)
            )
    return out


def _same_slip(result: Result) -> list[Pattern]:
    first = _first(result)
    if len(first):
        first = first[~first["kind"].isin(["none_found", "habit"])]
    return _shared(
        first, "kind", lambda kind: f"{KIND.get(kind, kind).capitalize()}: the likeliest slip in",
        slip_advice,
    )  # fmt: skip


def slip_advice(kind: str) -> str:
    """What to do about a kind of slip that several recipes share."""
    return SLIP_ADVICE.get(kind) or "Look at these together; they may share a cause."


def _same_food_at_fault(result: Result) -> list[Pattern]:
    """One kind of food that stands in the likeliest slip of several recipes."""
    first = _first(result)
    if first.empty:
        return []
    hit = _described(first[first["kind"] != "habit"].dropna(subset=["line_no"]), result)
    head = hit["description"].fillna("").astype(str).str.split(",", n=1).str[0].str.strip()
    return _shared(
        hit[head != ""], head, lambda food: f"{food} is the line in question in",
        "Check once how this food is measured and looked up, then correct them together.",
    )  # fmt: skip


def _described(rows: pd.DataFrame, result: Result) -> pd.DataFrame:
    """Rows of lines with what each line counts as."""
    lines = result.lines[["recipe_id", "line_no", "description"]]
    return rows.merge(lines, on=["recipe_id", "line_no"])


def _same_unknown(result: Result) -> list[Pattern]:
    """Texts that need an answer and stand in several recipes."""
    return _shared(
        result.to_review, "text", lambda text: f"“{text}” waits for an answer in",
        "One answer in decisions.csv, or one entry in pantry.csv, settles all of them.", least=2,
    )  # fmt: skip


def _same_doubt(result: Result) -> list[Pattern]:
    """Foods whose weight owns most of the doubt of several recipes that are not settled."""
    unsettled = result.recipes.loc[result.recipes["verdict"] == "uncertain", "recipe_id"]
    doubt = result.doubt
    if doubt.empty or unsettled.empty:
        return []
    big = doubt[
        doubt["recipe_id"].isin(unsettled) & (doubt["share"] >= 0.4) & (doubt["cause"] == "grams")
    ]
    return _shared(
        _described(big, result), "description", lambda food: f"The weight of {food} leaves",
        "Give it in grams on the line and the verdict will be clear.", after=" open",
    )  # fmt: skip
