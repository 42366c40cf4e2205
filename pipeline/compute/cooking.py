"""What cooking changes: the weight of the dish, the alcohol, and what is poured away.

Recipes are summed from their raw lines. Cooking moves water in or out, which changes the values
per 100 g and nothing else, unless something leaves the pan. Mixed method (INFOODS, EuroFIR):
retention on each ingredient, one weight yield for the dish.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from pipeline.foods import words
from pipeline.resources import shared_rows
from pipeline.weigh.kinds import Pattern, food_words


@dataclass(frozen=True, slots=True)
class YieldFactor:
    """Grams cooked per gram raw of one kind of food, with the method and the source of the figure.

    Attributes:
        kind: the kind in words: "white long-grain rice, boiled".
        value: g cooked per g raw.
        method: how the figure was found: dry matter, protein, piece weights, measured.
        source: where it comes from.
    """

    kind: str
    value: float
    method: str
    source: str


def cooked_per_100g(
    amount: float, raw_weight_g: float, yield_factor: float, retention: float = 1.0
) -> float:
    """Nutrient per 100 g of cooked dish.

    Args:
        amount: of the nutrient in all raw ingredients together.
        raw_weight_g: their weight, water that stays included.
        yield_factor: cooked weight over raw weight of the dish.
        retention: share of the nutrient that survives, 0 to 1; 1 for energy and macros.

    Raises:
        ValueError: the cooked weight is not positive.

    Source:
        100 x sum(g x n/100 x RF) / (raw weight x yield): INFOODS and EuroFIR mixed method.
    """
    cooked_g = raw_weight_g * yield_factor
    if not cooked_g > 0:
        raise ValueError(f"cooked weight must be positive, got {cooked_g} g")
    return 100 * amount * retention / cooked_g


@cache
def _yields() -> tuple[tuple[Pattern, tuple[tuple[str, ...], ...], YieldFactor], ...]:
    """Rows of shared/cooking_yields.csv: kind of food, words of the cooking, factor."""
    return tuple(
        (
            Pattern.parse(row["food"]),
            Pattern.parse(row["cooked"]).slots,
            YieldFactor(
                row["food_plain_name"],
                float(row["value"]),
                row["method_of_value"],
                f"{row['source']} ({row['year']}), {row['status']}",
            ),
        )
        for row in shared_rows("cooking_yields.csv")
        if row["kind"].startswith("yield") and row["value"]
    )


def raw_to_cooked(raw: str, cooked: str = "", category: str = "") -> YieldFactor | None:
    """The sourced yield of a food from raw to cooked, or None when the table has none.

    Foods are told apart by the words of their description, so any composition table will do.

    Args:
        raw: the raw food's description: "Rice, white, long-grain, regular, raw".
        cooked: the cooked food's description, or words of the cooking ("boiled"); "" for any.
        category: the food group, where the table gives one.
    """
    bag = food_words(raw, category)
    named, done = set(words(raw)), set(words(cooked))
    best, factor = 0.0, None
    for kind, cooking, row in _yields():
        if cooked and not all(done.intersection(slot) for slot in cooking):
            continue
        score = 0.0 if named.intersection(kind.without) else kind.score(bag)
        if score > best:
            best, factor = score, row
    return factor


#: Stirred in and simmered: minutes, share of the ethanol kept.
_ALCOHOL = re.compile(r"alcohol stirred in, ([\d.]+) (min|h)")


@cache
def _alcohol_curve() -> tuple[tuple[float, float], ...]:
    points = []
    for row in shared_rows("cooking_yields.csv"):
        found = _ALCOHOL.match(row["food_plain_name"])
        if row["kind"] == "retention factor" and found:
            minutes = float(found[1]) * (60 if found[2] == "h" else 1)
            points.append((minutes, float(row["value"]) / 100))
    return tuple(sorted(points))


def alcohol_kept(minutes: float) -> float:
    """Share of the ethanol left after stirring it in and cooking for ``minutes``.

    Linear between the published points (40 % after 15 minutes to 5 % after 2.5 hours); from 85 %
    (stirred into hot liquid) at 0 minutes; the last point beyond the table.

    Raises:
        ValueError: negative minutes.

    Source:
        USDA Table of Nutrient Retention Factors, Release 6, codes 5002 and 5004 to 5009.
    """
    if minutes < 0:
        raise ValueError(f"minutes must not be negative, got {minutes}")
    points = ((0.0, 0.85), *_alcohol_curve())
    for (m0, k0), (m1, k1) in pairwise(points):
        if minutes <= m1:
            return k0 + (k1 - k0) * (minutes - m0) / (m1 - m0)
    return points[-1][1]
