"""The drift as one self-contained page in the look of the report: no script, no network."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from pipeline.refresh.drift_model import Drift
from pipeline.report.frames import records
from pipeline.report.html import asset, templates
from pipeline.report.view import page_names
from pipeline.report.words import amount, known, number, nutrient_word, percent, unit_of

_MOST = 200
Row = dict[str, Any]
#: What happened to a value of a food.
_STATE = {
    "changed": "another value", "vanished": "gone from the table", "new": "new in the table",
    "value gone": "no value any more", "value new": "a value it had not",
}  # fmt: skip


def drift_page(found: Drift) -> str:
    """The page as HTML text; every value from a file is escaped.

    Recipes lead to their pages in the report on the new table, where ``Drift.now`` holds it.
    """
    now = found.now
    hrefs = page_names(now) if now is not None else {}
    stated, captions = _published(found)
    counts = found.summary()
    sections = [
        _section("moved", "Totals that moved", "Computed a serving; the largest change first.",
                 "drift_recipes.csv", _moved(records(found.recipes), hrefs, stated)),
        _section("foods", "Foods that changed", "In 100 g; only foods that the collection uses.",
                 "drift_foods.csv", _foods(records(found.foods))),
        _section("lines", "Lines that mean another food",
                 "The words are the same; the table offers another food or another measure.",
                 "drift_lines.csv", _lines(records(found.lines), hrefs)),
        _section("decisions", "Remembered answers to renew",
                 "They point to foods that the new table lacks: answer these lines again.",
                 "drift_decisions.csv", _decisions(records(found.decisions))),
    ]  # fmt: skip
    return templates().get_template("drift.html.j2").render(
        told=counts,
        before_release=found.before.release,
        after_release=found.after.release,
        nothing=found.nothing,
        flips=_flips(records(found.recipes), hrefs, stated, captions),
        sections=[s for s in sections if s["rows"]],
        report="report.html" if now is not None else "",
        style=Markup(asset("report.css")),
    )  # fmt: skip


def _published(found: Drift) -> tuple[dict[tuple[str, str], str], dict[str, str]]:
    """What is stated a serving by (recipe_id, nutrient), and the line to publish by recipe_id."""
    if found.now is None:
        return {}, {}
    stated = {
        (row["recipe_id"], column.removesuffix("_stated")): amount(
            value, column.removesuffix("_stated")
        )
        for row in records(found.now.recipes)
        for column, value in row.items()
        if column.endswith("_stated") and known(value)
    }
    captions: dict[str, str] = {}
    for row in records(found.now.corrected):
        if row.get("basis") == "per_serving":
            captions.setdefault(row["recipe_id"], str(row.get("caption") or ""))
    return stated, captions


def _flips(
    rows: list[Row],
    hrefs: dict[str, str],
    stated: dict[tuple[str, str], str],
    captions: dict[str, str],
) -> list[Row]:
    """One entry a recipe whose verdict, or that of one of its numbers, is another one."""
    out: dict[str, Row] = {}
    for row in rows:
        if not row["flipped"]:
            continue
        recipe_id = row["recipe_id"]
        one = out.setdefault(
            recipe_id,
            {"title": row["title"] or recipe_id, "href": hrefs.get(recipe_id, ""), "was": "",
             "now": "", "numbers": [], "caption": captions.get(recipe_id, "")},
        )  # fmt: skip
        if not row["nutrient"]:
            one["was"], one["now"] = row["verdict_before"], row["verdict_after"]
            continue
        column = row["nutrient"]
        one["numbers"].append(
            {
                "name": nutrient_word(column).capitalize(),
                "column": column,
                "stated": stated.get((recipe_id, column), ""),
                "before": amount(row["before"], column),
                "after": amount(row["after"], column),
                "was": row["verdict_before"],
                "now": row["verdict_after"],
            }
        )
    return list(out.values())


def _section(id_: str, title: str, says: str, file: str, table: tuple[Any, list[Row]]) -> Row:
    heads, rows = table
    return {
        "id": id_, "title": title, "says": says, "file": file, "heads": heads,
        "rows": rows[:_MOST], "more": max(len(rows) - _MOST, 0),
    }  # fmt: skip


def _cells(*cells: Any, href: str = "") -> Row:
    return {"cells": [str(c) for c in cells], "href": href}


def _moved(
    rows: list[Row], hrefs: dict[str, str], stated: dict[tuple[str, str], str]
) -> tuple[Any, list[Row]]:
    heads = [("Recipe", ""), ("Number", ""), ("Stated", "n"), ("Computed before", "n"),
             ("Computed now", "n"), ("Change", "n")]  # fmt: skip
    return heads, [
        _cells(
            r["title"] or r["recipe_id"], nutrient_word(r["nutrient"]).capitalize(),
            stated.get((r["recipe_id"], r["nutrient"]), "–"), amount(r["before"], r["nutrient"]),
            amount(r["after"], r["nutrient"]), _share(r), href=hrefs.get(r["recipe_id"], ""),
        )
        for r in rows
        if r["nutrient"] and known(r["change"])
    ]  # fmt: skip


def _foods(rows: list[Row]) -> tuple[Any, list[Row]]:
    heads = [("Food", ""), ("Table", ""), ("Value", ""), ("Before", "n"), ("Now", "n"),
             ("Change", "n"), ("Lines", "n"), ("What happened", "")]  # fmt: skip
    return heads, [
        _cells(
            r["description"], r["food_source"], nutrient_word(r["nutrient"]).capitalize(),
            _value(r["before"], r["nutrient"]), _value(r["after"], r["nutrient"]), _share(r),
            int(r["lines"]) if known(r["lines"]) else "–",
            f"{_STATE.get(str(r['state']), str(r['state']).replace('_', ' '))} {r['replaces']}".strip(),
        )
        for r in rows
    ]  # fmt: skip


def _lines(rows: list[Row], hrefs: dict[str, str]) -> tuple[Any, list[Row]]:
    heads = [("Line", ""), ("Counted before as", ""), ("Grams", "n"), ("Counted now as", ""),
             ("Grams", "n")]  # fmt: skip
    return heads, [
        _cells(
            r["text"], _from(r["description_before"], r["source_before"]),
            number(r["grams_before"]), _from(r["description_after"], r["source_after"]),
            number(r["grams_after"]), href=hrefs.get(r["recipe_id"], ""),
        )
        for r in rows
    ]  # fmt: skip


def _decisions(rows: list[Row]) -> tuple[Any, list[Row]]:
    heads = [("Answer about", ""), ("Food it meant", ""), ("Table", "")]
    return heads, [
        _cells(r["text"], f"{r['description']} ({r['food_id']})", r["food_source"]) for r in rows
    ]


def _from(description: str, source: str) -> str:
    if not description:
        return "–"
    return f"{description} ({source})" if source else description


def _value(value: float, column: str) -> str:
    """A value of a food with its unit: two decimals, as tables give them."""
    return (
        f"{value:,.2f}".rstrip("0").rstrip(".") + f"\u00a0{unit_of(column)}"
        if known(value)
        else "–"
    )


def _share(row: Row) -> str:
    share = row["change_pct"]
    if not known(share):
        return "–"
    return f"{'+' if share > 0 else '−'}{percent(abs(share) / 100)}"
