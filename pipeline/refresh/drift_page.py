"""The drift as one self-contained page in the look of the report: no script, no network.

``templates/drift.html.j2`` reads the rows of the drift's tables as they stand.
"""

from __future__ import annotations

from collections import defaultdict

from pipeline.refresh.drift_model import Drift
from pipeline.report.frames import by_recipe, records
from pipeline.report.html import style, templates
from pipeline.report.view import page_names
from pipeline.report.words import amount, known, percent, unit_of

#: Rows of a table that the page shows.
_MOST = 200


def drift_page(found: Drift) -> str:
    """The page as HTML text; every value from a file is escaped.

    Recipes lead to their pages in the report on the new table, where ``Drift.now`` holds it.
    """
    stated, captions = _published(found)
    tables = {name: records(getattr(found, name)) for name in ("foods", "lines", "decisions")}
    moved = [r for r in records(found.recipes) if r["nutrient"] and known(r["change"])]
    pages = templates().overlay()
    pages.filters = {**pages.filters, "change": _change, "in_food": _in_food}
    return pages.get_template("drift.html.j2").render(
        told=found.summary(), before_release=found.before.release, stated=stated,
        after_release=found.after.release, nothing=found.nothing, captions=captions,
        hrefs=defaultdict(str, page_names(found.now) if found.now is not None else {}),
        flips=by_recipe(found.flips), tables={"moved": moved, **tables}, most=_MOST,
        report="report.html" if found.now is not None else "",
        style=style("base", "report"), script="", paged="",
    )  # fmt: skip


def _published(found: Drift) -> tuple[defaultdict[tuple[str, str], str], defaultdict[str, str]]:
    """What is stated a serving by (recipe_id, nutrient), and the line to publish by recipe_id."""
    stated: defaultdict[tuple[str, str], str] = defaultdict(str)
    captions: defaultdict[str, str] = defaultdict(str)
    for row in records(found.now.recipes) if found.now is not None else ():
        for column in (c for c in row if c.endswith("_stated") and known(row[c])):
            name = column.removesuffix("_stated")
            stated[row["recipe_id"], name] = amount(row[column], name)
    for row in records(found.now.corrected) if found.now is not None else ():
        if row.get("basis") == "per_serving":
            captions.setdefault(row["recipe_id"], str(row.get("caption") or ""))
    return stated, captions


def _in_food(value: float, column: str) -> str:
    """A value of a food with its unit: two decimals, as tables give them."""
    if not known(value):
        return "–"
    return f"{value:,.2f}".rstrip("0").rstrip(".") + f"\u00a0{unit_of(column)}"


def _change(share: float) -> str:
    return f"{'+' if share > 0 else '−'}{percent(abs(share) / 100)}" if known(share) else "–"
