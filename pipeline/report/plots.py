"""Stated against computed for the whole collection: one picture a nutrient, as inline SVG.

Drawn by matplotlib with stand-in colours that are replaced by the page's own, so that one picture
serves light, dark and paper. Text stays text. Shape and fill tell verdicts apart, not colour alone.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING, Any

from pipeline.report.words import amount, nutrient_word, plural, unit_of

if TYPE_CHECKING:
    import pandas as pd

PLOTTED = ("kcal", "protein_g", "carbs_g", "fat_g")

#: Stand-in colour: the page's variable it becomes.
_COLOURS = {
    "#010101": "--ink", "#020202": "--muted", "#030303": "--line", "#040404": "--band",
    "#05f001": "--agrees", "#05f002": "--uncertain", "#05f003": "--disagrees",
    "#05f004": "--unjudged", "#060606": "--panel",
}  # fmt: skip
_INK, _MUTED, _LINE, _BAND, _AGREES, _UNCERTAIN, _DISAGREES, _UNJUDGED, _PANEL = _COLOURS

#: verdict: colour, marker, filled.
_MARK = {
    "agrees": (_AGREES, "o", False),
    "uncertain": (_UNCERTAIN, "D", False),
    "disagrees": (_DISAGREES, "s", True),
}

#: Marks in one picture; a larger collection is thinned, and its title says so.
MOST_POINTS = 1200

_NUMBERED = 5
_FLOOR = {"kcal": 5.0}


@dataclass(frozen=True, slots=True)
class Plot:
    """A picture with its words.

    Attributes:
        column: of the nutrient.
        title: "Energy (kcal)".
        svg: an ``<svg>`` element without ids that could clash with another picture's.
        alt: what the picture shows, in sentences.
    """

    column: str
    title: str
    svg: str
    alt: str


def plots(findings: pd.DataFrame, numbers: dict[str, int]) -> list[Plot]:
    """One picture for energy, protein, carbohydrate and fat each; none where nothing is stated.

    Args:
        findings: one row a stated number, with low and high.
        numbers: recipe_id to its number on the page; the largest differences carry theirs.
    """
    out = []
    for column in PLOTTED:
        rows = findings[
            (findings["nutrient"] == column)
            & findings["verdict"].isin(_MARK)
            & findings["stated"].notna()
            & findings["computed"].notna()
        ]
        if len(rows):
            out.append(_plot(column, rows, numbers, _thinned(rows)))
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


def _plot(column: str, rows: pd.DataFrame, numbers: dict[str, int], shown: pd.DataFrame) -> Plot:
    title = f"{nutrient_word(column).capitalize()} ({unit_of(column)})"
    alt = _words(column, rows)
    if len(shown) < len(rows):
        alt += f" The picture shows {len(shown):,d} of them."
        title += f": {len(shown):,d} of {len(rows):,d} recipes"
    return Plot(column, title, _svg(column, shown, numbers), alt)


def _words(column: str, rows: pd.DataFrame) -> str:
    count = rows["verdict"].value_counts()
    off = (rows["stated"] - rows["computed"]).abs().fillna(0)
    above = int((rows["stated"] > rows["computed"]).sum())
    largest = rows.iloc[int(off.to_numpy(dtype=float).argmax())]
    parts = [f"{count.get(v, 0)} {v}" for v in ("agrees", "uncertain", "disagrees")]
    return (
        f"{nutrient_word(column).capitalize()} of {plural(len(rows), 'recipe')}, stated against"
        f" computed: {parts[0]}, {parts[1]}, {parts[2]}. {above} state more than the lines add up"
        f" to. The largest difference: {amount(largest['stated'], column)} stated,"
        f" {amount(largest['computed'], column)} computed."
    )


def _svg(column: str, rows: pd.DataFrame, numbers: dict[str, int]) -> str:
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with mpl.rc_context(
        {"svg.fonttype": "none", "svg.hashsalt": f"steelyard-{column}", "font.size": 9}
    ):
        figure = Figure(figsize=(4.6, 3.9), layout="constrained")
        FigureCanvasSVG(figure)
        axes = figure.add_subplot()
        _draw(axes, column, rows, numbers)
        text = StringIO()
        figure.savefig(text, format="svg", transparent=True, metadata={"Date": None})
    return _inline(text.getvalue(), column)


def _draw(axes: Any, column: str, rows: pd.DataFrame, numbers: dict[str, int]) -> None:
    floor = _FLOOR.get(column, 0.5)
    stated = rows["stated"].clip(lower=floor).to_numpy(dtype=float)
    computed = rows["computed"].clip(lower=floor).to_numpy(dtype=float)
    low = rows["low"].fillna(rows["computed"]).clip(lower=floor).to_numpy(dtype=float)
    high = rows["high"].fillna(rows["computed"]).clip(lower=floor).to_numpy(dtype=float)
    least = float(min(stated.min(), low.min())) / 1.25
    most = float(max(stated.max(), high.max())) * 1.25
    axes.set(xscale="log", yscale="log", xlim=(least, most), ylim=(least, most))
    axes.fill_between(
        [least, most], [least / 1.1, most / 1.1], [least * 1.1, most * 1.1],
        color=_BAND, linewidth=0, zorder=0,
    )  # fmt: skip
    axes.plot([least, most], [least, most], color=_INK, linewidth=1, zorder=1)
    for verdict, (colour, marker, filled) in _MARK.items():
        at = (rows["verdict"] == verdict).to_numpy()
        if not at.any():
            continue
        axes.hlines(stated[at], low[at], high[at], color=colour, linewidth=1.2, zorder=2)
        axes.scatter(
            computed[at], stated[at], marker=marker, s=26, linewidths=1.3, zorder=3,
            edgecolors=colour, facecolors=colour if filled else _PANEL,
        )  # fmt: skip
    size = abs(rows["stated"] - rows["computed"]) / rows["computed"].clip(lower=floor)
    disagree = size[rows["verdict"] == "disagrees"].nlargest(3 * _NUMBERED)
    places = list(rows.index)
    taken: list[tuple[float, float]] = []
    for index in disagree.index:
        n = places.index(index)
        place = (
            _along(float(computed[n]), least, most),
            _along(float(stated[n]), least, most),
        )
        if len(taken) == _NUMBERED:
            break
        if any(abs(place[0] - x) < 0.07 and abs(place[1] - y) < 0.045 for x, y in taken):
            continue
        taken.append(place)
        axes.annotate(
            str(numbers.get(str(rows.at[index, "recipe_id"]), "")),
            (computed[n], stated[n]), xytext=(5, 4), textcoords="offset points",
            color=_INK, fontsize=9, zorder=4,
        )  # fmt: skip
    ticks = _ticks(least, most)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(_fixed(ticks))
        axis.set_minor_locator(_fixed([]))
        axis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xlabel("computed from the lines", color=_INK)
    axes.set_ylabel("stated", color=_INK)
    axes.tick_params(colors=_INK, length=3)
    axes.grid(color=_LINE, linewidth=0.6)
    axes.set_axisbelow(True)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(_MUTED)
    axes.text(
        0.03, 0.97, "stated too high", transform=axes.transAxes, color=_MUTED, va="top", fontsize=9
    )
    axes.text(
        0.97, 0.03, "stated too low", transform=axes.transAxes, color=_MUTED, ha="right", fontsize=9
    )


def _along(value: float, least: float, most: float) -> float:
    """Place on a scale of factors, 0 to 1."""
    return math.log(value / least) / math.log(most / least)


def _fixed(ticks: list[float]) -> Any:
    from matplotlib.ticker import FixedLocator

    return FixedLocator(ticks)


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


def _inline(svg: str, name: str) -> str:
    """The ``<svg>`` alone, its colours the page's, its ids its own, hidden from screen readers."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)
    svg = re.sub(r"<style[^>]*>.*?</style>", "", svg, flags=re.DOTALL)
    for stand_in, variable in _COLOURS.items():
        svg = svg.replace(stand_in, f"var({variable})")
    svg = re.sub(r'\bid="([^"]+)"', rf'id="plot-{name}-\1"', svg)
    svg = re.sub(r"url\(#([^)]+)\)", rf"url(#plot-{name}-\1)", svg)
    svg = re.sub(r'(xlink:href|href)="#([^"]+)"', rf'href="#plot-{name}-\2"', svg)
    svg = re.sub(r"font:\s*(?:[\d.]+px)\s+[^;\"]+", _font, svg)
    svg = re.sub(r"font-family:[^;\"]+;?", "", svg)
    head = '<svg aria-hidden="true" focusable="false" '
    svg = re.sub(r'<svg [^>]*?(viewBox="[^"]+")[^>]*>', rf"{head}\1>", svg, count=1)
    return svg.strip()


def _font(match: re.Match[str]) -> str:
    size = re.search(r"[\d.]+px", match[0])
    return f"font-size: {size[0]}" if size else ""
