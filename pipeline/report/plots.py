"""Stated against computed for the whole collection: one picture a nutrient, as inline SVG.

Colours are the page's own variables, so that one picture serves light, dark and paper. Text stays
text. Shape and fill tell verdicts apart, not colour alone.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipeline.report.frames import Row, records
from pipeline.report.words import amount, known, nutrient_word, plural, unit_of

if TYPE_CHECKING:
    import pandas as pd

PLOTTED = ("kcal", "protein_g", "carbs_g", "fat_g")

#: verdict: colour of the page, shape as a path around its middle, filled.
_MARK = {
    "agrees": ("--agrees", "m-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z", False),
    "uncertain": ("--uncertain", "m0-3.6l3.6 3.6l-3.6 3.6l-3.6-3.6z", False),
    "disagrees": ("--disagrees", "m-2.6-2.6h5.2v5.2h-5.2z", True),
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


def plots(
    findings: pd.DataFrame, numbers: dict[str, int], of: Mapping[str, int] | None = None
) -> list[Plot]:
    """One picture for energy, protein, carbohydrate and fat each; none where nothing is stated.

    Args:
        findings: one row a stated number, with low and high.
        numbers: recipe_id to its number on the page; the largest differences carry theirs.
        of: where ``findings`` are some of many: how many recipes state each nutrient.
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
) -> Plot:
    title = f"{nutrient_word(column).capitalize()} ({unit_of(column)})"
    alt = _words(column, rows)
    if len(rows) < every:
        alt += f" The picture shows these {len(shown):,d} of {every:,d}."
    elif len(shown) < len(rows):
        alt += f" The picture shows {len(shown):,d} of them."
    if len(shown) < every:
        title += f": {len(shown):,d} of {every:,d} recipes"
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


#: Size of a picture in its own units, and the edges of its plane.
_WIDTH, _HEIGHT = 331.0, 281.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 52.0, 323.0, 8.0, 241.0

_CANVAS = (
    '<svg aria-hidden="true" focusable="false" viewBox="0 0 {width:g} {height:g}"'
    ' style="font-size:9px;fill:var(--ink)">{parts}</svg>'
)
_FRAME = """
<polygon points="{strip}" style="fill:var(--band)"/>
<path d="{grid}" style="stroke:var(--line);stroke-width:.6;fill:none"/>
<path d="{axes}" style="stroke:var(--muted);stroke-width:.8;fill:none"/>
<path d="{diagonal}" style="stroke:var(--ink);fill:none"/>
<g text-anchor="middle">{across}<text x="{middle}" y="274">computed from the lines</text></g>
<g text-anchor="end">{up}</g>
<text transform="translate(12 {centre}) rotate(-90)" text-anchor="middle">stated</text>
<g style="fill:var(--muted)"><text x="{left}" y="20">stated too high</text>
<text x="{right}" y="{low}" text-anchor="end">stated too low</text></g>
"""


@dataclass(frozen=True, slots=True)
class _Plane:
    """Two equal scales that grow by factors, from ``least`` to ``most``."""

    least: float
    most: float

    def along(self, value: float) -> float:
        """Place on a scale, 0 to 1 within the plane."""
        return math.log(value / self.least) / math.log(self.most / self.least)

    def x(self, value: float) -> float:
        return round(_LEFT + (_RIGHT - _LEFT) * self.along(value), 1)

    def y(self, value: float) -> float:
        return round(_BOTTOM - (_BOTTOM - _TOP) * self.along(value), 1)


@dataclass(frozen=True, slots=True)
class _Point:
    """A recipe in a picture; nothing lies below the floor of the scales."""

    stated: float
    computed: float
    low: float
    high: float
    verdict: str
    number: str


def _svg(column: str, rows: pd.DataFrame, numbers: dict[str, int]) -> str:
    floor = _FLOOR.get(column, 0.5)
    points = [_point(row, floor, numbers) for row in records(rows)]
    plane = _Plane(
        min(min(p.stated, p.low) for p in points) / 1.25,
        max(max(p.stated, p.high) for p in points) * 1.25,
    )
    parts = [_frame(plane)]
    for verdict in _MARK:
        mine = [p for p in points if p.verdict == verdict]
        if mine:
            parts.append(_marks(verdict, mine, plane))
    parts.append(_labels(points, plane, floor))
    return _CANVAS.format(width=_WIDTH, height=_HEIGHT, parts="".join(parts))


def _point(row: Row, floor: float, numbers: dict[str, int]) -> _Point:
    stated, computed = max(row["stated"], floor), max(row["computed"], floor)
    low, high = (max(row[c], floor) if known(row[c]) else computed for c in ("low", "high"))
    number = numbers.get(str(row["recipe_id"]), "")
    return _Point(stated, computed, low, high, str(row["verdict"]), str(number))


def _frame(plane: _Plane) -> str:
    """Grid, axes with their ticks, the line of equal numbers and the strip along it."""
    x, y, least, most = plane.x, plane.y, plane.least, plane.most
    ticks = _ticks(least, most)
    # the strip is 10 % to either side, cut off where it would leave the plane
    corners = [
        (least, least), (least, least * 1.1), (most / 1.1, most), (most, most), (most, most / 1.1),
        (least * 1.1, least),
    ]  # fmt: skip
    return _FRAME.format(
        strip=" ".join(f"{x(a)},{y(b)}" for a, b in corners),
        grid="".join(
            f"M{x(t)} {_TOP:g}V{_BOTTOM:g}M{_LEFT:g} {y(t)}H{_RIGHT:g}" for t in ticks
        ),
        axes=f"M{_LEFT:g} {_TOP:g}V{_BOTTOM:g}H{_RIGHT:g}"
        + "".join(f"M{x(t)} {_BOTTOM:g}v3M{_LEFT:g} {y(t)}h-3" for t in ticks),
        diagonal=f"M{x(least)} {y(least)}L{x(most)} {y(most)}",
        across="".join(f'<text x="{x(t)}" y="255">{t:g}</text>' for t in ticks),
        up="".join(f'<text x="46" y="{y(t) + 3:.1f}">{t:g}</text>' for t in ticks),
        middle=(_LEFT + _RIGHT) / 2, centre=(_TOP + _BOTTOM) / 2,
        left=_LEFT + 8, right=_RIGHT - 6, low=_BOTTOM - 8,
    )  # fmt: skip


def _marks(verdict: str, points: list[_Point], plane: _Plane) -> str:
    """The marks of one verdict over the strokes of their likely ranges."""
    colour, shape, filled = _MARK[verdict]
    strokes = "".join(f"M{plane.x(p.low)} {plane.y(p.stated)}H{plane.x(p.high)}" for p in points)
    shapes = "".join(f"M{plane.x(p.computed)} {plane.y(p.stated)}{shape}" for p in points)
    fill = f"var({colour})" if filled else "var(--panel)"
    return (
        f'<g style="stroke:var({colour})"><path d="{strokes}" style="stroke-width:1.2;fill:none"/>'
        f'<path d="{shapes}" style="stroke-width:1.3;fill:{fill}"/></g>'
    )


def _labels(points: list[_Point], plane: _Plane, floor: float) -> str:
    """Numbers of the largest differences, none where another stands close by."""
    off = [p for p in points if p.verdict == "disagrees"]
    off.sort(key=lambda p: -abs(p.stated - p.computed) / max(p.computed, floor))
    taken: list[tuple[float, float]] = []
    out = []
    for p in off[: 3 * _NUMBERED]:
        place = plane.along(p.computed), plane.along(p.stated)
        if len(taken) == _NUMBERED:
            break
        if any(abs(place[0] - a) < 0.07 and abs(place[1] - b) < 0.045 for a, b in taken):
            continue
        taken.append(place)
        at = f'x="{plane.x(p.computed) + 5:.1f}" y="{plane.y(p.stated) - 4:.1f}"'
        out.append(f"<text {at}>{p.number}</text>")
    return "".join(out)


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
