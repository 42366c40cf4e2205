"""Stated against computed for the whole collection: one picture per nutrient, as inline SVG.

The places of its marks are worked out here; ``templates/plot.svg.j2`` draws them. Text stays text,
and shape and fill distinguish the verdicts, not colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import SimpleNamespace
from typing import TYPE_CHECKING

from markupsafe import Markup

from pipeline.report.frames import records
from pipeline.report.html import templates
from pipeline.report.words import MACROS, amount, known, nutrient_word, plural, unit_of

if TYPE_CHECKING:
    import pandas as pd

_JUDGED = ("agrees", "uncertain", "disagrees")
#: Marks in one picture; a larger collection is thinned, and its title says so.
MOST_POINTS = 1200

_NUMBERED = 5
_FLOOR = {"kcal": 5.0}


def plots(
    findings: pd.DataFrame, numbers: dict[str, int], of: Mapping[str, int] | None = None
) -> list[SimpleNamespace]:
    """One picture for energy, protein, carbohydrate and fat each; none where nothing is stated.

    Args:
        findings: one row per stated number, with low and high.
        numbers: recipe_id to its number on the page; the largest differences carry theirs.
        of: where ``findings`` are some of many: how many recipes state each nutrient.

    Returns:
        Of each: column of the nutrient; title, "Energy (kcal)"; svg, an ``<svg>`` element without ids
        that could clash with another picture's; alt, what it shows, in sentences.
    """
    out = []
    for column in MACROS:
        rows = findings[
            (findings["nutrient"] == column)
            & findings["verdict"].isin(_JUDGED)
            & findings["stated"].notna()
            & findings["computed"].notna()
        ]
        if len(rows):
            every = max((of or {}).get(column, 0), len(rows))
            out.append(_plot(column, rows, numbers, _thinned(rows), every))
    return out


def _thinned(rows: pd.DataFrame) -> pd.DataFrame:
    """As many recipes as a picture can show: the largest differences, then every so many."""
    import pandas as pd

    if len(rows) <= MOST_POINTS:
        return rows
    off = rows[rows["verdict"] != "agrees"]
    size = (off["difference"].abs() / off["computed"].abs().clip(lower=1)).nlargest(
        MOST_POINTS // 2
    )
    rest = rows.drop(index=size.index)
    step = -(-len(rest) // (MOST_POINTS - len(size)))
    every = rest[[n % step == 0 for n in range(len(rest))]]
    return pd.concat([rows.loc[size.index], every])


def _plot(
    column: str, rows: pd.DataFrame, numbers: dict[str, int], shown: pd.DataFrame, every: int
) -> SimpleNamespace:
    title = f"{nutrient_word(column).capitalize()} ({unit_of(column)})"
    alt = _words(column, rows)
    if len(rows) < every:
        alt += f" The picture shows these {len(shown):,d} of {every:,d}."
    elif len(shown) < len(rows):
        alt += f" The picture shows {len(shown):,d} of them."
    if len(shown) < every:
        title += f": {len(shown):,d} of {every:,d} recipes"
    template = templates().get_template("plot.svg.j2")
    svg = Markup(template.render(p=_picture(column, shown, numbers)))  # no outside text
    return SimpleNamespace(column=column, title=title, svg=svg, alt=alt)


def _words(column: str, rows: pd.DataFrame) -> str:
    count = rows["verdict"].value_counts()
    off = (rows["stated"] - rows["computed"]).abs().fillna(0)
    above = int((rows["stated"] > rows["computed"]).sum())
    largest = rows.iloc[int(off.to_numpy(dtype=float).argmax())]
    parts = [f"{count.get(v, 0)} {v}" for v in _JUDGED]
    return (
        f"{nutrient_word(column).capitalize()} of {plural(len(rows), 'recipe')}, stated against"
        f" computed: {parts[0]}, {parts[1]}, {parts[2]}. {above} state more than the lines add up"
        f" to. The largest difference: {amount(largest['stated'], column)} stated,"
        f" {amount(largest['computed'], column)} computed."
    )


#: Edges of the plane in the units of the picture.
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 323.0, 8.0, 241.0


def _picture(column: str, rows: pd.DataFrame, numbers: dict[str, int]) -> SimpleNamespace:
    """What the template draws; places are units of the picture.

    ``strip``: corners of the area in which the numbers differ by at most 10 %; ``numbered``: the
    points that get their number. A point is the place of a recipe's mark, and where its likely range
    begins and ends.
    """
    floor = _FLOOR.get(column, 0.5)  # the scales are logarithmic; nothing lies below it

    def at_least(value: float, other: float) -> float:
        return max(value if known(value) else other, floor)

    found = [
        (row, max(row["stated"], floor), max(row["computed"], floor),
         at_least(row["low"], row["computed"]), at_least(row["high"], row["computed"]))
        for row in records(rows)
    ]  # fmt: skip
    least = min(min(stated, low) for _, stated, _, low, _ in found) / 1.25
    most = max(max(stated, high) for _, stated, _, _, high in found) * 1.25

    def along(value: float) -> float:
        return math.log(value / least) / math.log(most / least)

    def x(value: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * along(value), 1)

    def y(value: float) -> float:
        return round(_BOTTOM - (_BOTTOM - _TOP) * along(value), 1)

    points = [
        SimpleNamespace(
            x=x(computed), y=y(stated), low=x(low), high=x(high), verdict=str(row["verdict"]),
            number=str(numbers.get(str(row["recipe_id"]), "")),
            off=abs(stated - computed) / max(computed, floor),
        )
        for row, stated, computed, low, high in found
    ]  # fmt: skip
    corners = [
        (least, least), (least, least * 1.1), (most / 1.1, most), (most, most), (most, most / 1.1),
        (least * 1.1, least),
    ]  # fmt: skip
    return SimpleNamespace(
        ticks=[{"text": f"{t:g}", "x": x(t), "y": y(t)} for t in _ticks(least, most)],
        strip=[(x(a), y(b)) for a, b in corners], points=points, numbered=_numbered(points),
        left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM,
    )  # fmt: skip


def _numbered(points: list[SimpleNamespace]) -> list[SimpleNamespace]:
    """The largest differences, without those whose number would cover another."""
    off = sorted((p for p in points if p.verdict == "disagrees"), key=lambda p: -p.off)
    chosen: list[SimpleNamespace] = []
    for point in off[: 3 * _NUMBERED]:
        if len(chosen) < _NUMBERED and not any(
            abs(point.x - other.x) < 19 and abs(point.y - other.y) < 10.5 for other in chosen
        ):
            chosen.append(point)
    return chosen


def _ticks(least: float, most: float) -> list[float]:
    """Round numbers between the ends: 1-2-5 where there are few decades, else powers of ten."""
    decades = range(math.floor(math.log10(least)), math.ceil(math.log10(most)) + 1)
    width = math.log10(most / least)
    steps: tuple[float, ...] = (1, 2, 5)
    if width < 0.7:
        steps = (1, 1.5, 2, 3, 4, 5, 6, 8)
    elif width > 2.4:
        steps = (1, 3) if width < 4 else (1,)
    return [s * 10.0**d for d in decades for s in steps if least <= s * 10.0**d <= most]
