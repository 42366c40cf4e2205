"""The drift as one self-contained page in the look of the report: no script, no network.

``templates/drift.html.j2`` reads the rows of the drift's tables as they stand.
"""

from __future__ import annotations

from collections import defaultdict

from pipeline.refresh.drift_model import Drift
from pipeline.report.frames import by_recipe, records
from pipeline.report.html import style, templates
from pipeline.report.view import page_names
from pipeline.report.words import MACROS, amount, known, percent, stated_amount, titled, unit_of

#: Rows of a table that the page shows.
_MOST = 200


def drift_page(found: Drift) -> str:
    """The page as HTML text; every value from a file is escaped.

    Recipes lead to their pages in the report on the new table, where ``Drift.now`` holds it.
    """
    stated, captions = _published(found)
    tables = {name: records(getattr(found, name)) for name in ("foods", "lines", "decisions")}
    moved = _moved(found)
    pages = templates().overlay()
    pages.filters = {**pages.filters, "change": _change, "in_food": _in_food}
    unseen = found.summary()["recipes_moved"] - len(moved)
    return pages.get_template("drift.html.j2").render(
        told=found.summary(), before_release=found.before.release, stated=stated,
        after_release=found.after.release, nothing=found.nothing, captions=captions,
        hrefs=defaultdict(str, page_names(found.now) if found.now is not None else {}),
        flips=by_recipe(found.flips), tables={"moved": moved, **tables}, most=_MOST,
        unseen=unseen,
        report="report.html" if found.now is not None else "",
        style=style("base", "report"), script="", paged="",
    )  # fmt: skip


def _moved(found: Drift) -> list[dict[str, object]]:
    """A row a recipe of which a number changes as it is shown, the largest change first: title,
    recipe_id, ``cells``: before and now of energy and macros, once where they are shown alike."""
    rows: list[tuple[float, dict[str, object]]] = []
    now = {r["recipe_id"]: r for r in records(found.now.recipes)} if found.now is not None else {}
    for recipe_id, moves in by_recipe(found.recipes).items():
        by_nutrient = {r["nutrient"]: r for r in moves if r["nutrient"] and known(r["change"])}
        cells, largest = [], -1.0
        for column in MACROS:
            move = by_nutrient.get(column)
            same = amount(now.get(recipe_id, {}).get(f"{column}_computed"), column)
            before, after = (amount(move[s], column) if move else same for s in ("before", "after"))
            cells.append((column, before, after))
            if move and before != after:
                largest = max(
                    largest, abs(move["change_pct"]) if known(move["change_pct"]) else 100.0
                )
        if largest >= 0:
            title = titled(moves[0])
            rows.append((-largest, {"recipe_id": recipe_id, "title": title, "cells": cells}))
    return [row for _, row in sorted(rows, key=lambda one: (one[0], str(one[1]["recipe_id"])))]


def _published(found: Drift) -> tuple[defaultdict[tuple[str, str], str], defaultdict[str, str]]:
    """What is stated by (recipe_id, nutrient), and the line to publish by recipe_id."""
    stated: defaultdict[tuple[str, str], str] = defaultdict(str)
    captions: defaultdict[str, str] = defaultdict(str)
    for row in records(found.now.recipes) if found.now is not None else ():
        for column in (c for c in row if c.endswith("_stated") and known(row[c])):
            name = column.removesuffix("_stated")
            stated[row["recipe_id"], name] = stated_amount(row[column], name)
    for row in records(found.now.corrected) if found.now is not None else ():
        captions.setdefault(row["recipe_id"], str(row.get("caption") or ""))
    return stated, captions


def _in_food(value: float, column: str) -> str:
    """A value of a food with its unit: two decimals, as tables give them."""
    if not known(value):
        return "–"
    return f"{value:,.2f}".rstrip("0").rstrip(".") + f"\u00a0{unit_of(column)}"


def _change(share: float) -> str:
    return f"{'+' if share > 0 else '−'}{percent(abs(share) / 100)}" if known(share) else "–"
