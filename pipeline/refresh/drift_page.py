"""The drift as one self-contained page in the look of the report: no script, no network."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from pipeline.refresh.drift_model import Drift
from pipeline.report.frames import records
from pipeline.report.html import style, templates
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
    shown = [_section(found, part, hrefs, stated) for part in _PARTS]
    return templates().get_template("drift.html.j2").render(
        told=counts,
        before_release=found.before.release,
        after_release=found.after.release,
        nothing=found.nothing,
        flips=_flips(records(found.recipes), hrefs, stated, captions),
        sections=[s for s in shown if s["rows"]],
        report="report.html" if now is not None else "",
        style=style("base", "report"), script="", paged="",
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


@dataclass(frozen=True, slots=True)
class _Part:
    """A table of the page: its name in addresses, the table of ``Drift``, its words, its columns.

    A column is its heading, "n" for numbers, and the cell it shows of a row; ``keeps`` says which
    rows are shown.
    """

    id: str
    table: str
    title: str
    says: str
    columns: tuple[tuple[str, str, Callable[[Row], object]], ...]
    keeps: Callable[[Row], bool] = lambda _row: True


def _section(
    found: Drift, part: _Part, hrefs: dict[str, str], stated: dict[tuple[str, str], str]
) -> Row:
    rows = []
    for row in filter(part.keeps, records(getattr(found, part.table))):
        name = (str(row.get("recipe_id")), str(row.get("nutrient")))
        row["stated"] = stated.get(name, "–")
        cells = [str(cell(row)) for _, _, cell in part.columns]
        rows.append({"cells": cells, "href": hrefs.get(row.get("recipe_id", ""), "")})
    return {
        "id": part.id, "title": part.title, "says": part.says, "file": f"drift_{part.table}.csv",
        "heads": [column[:2] for column in part.columns],
        "rows": rows[:_MOST], "more": max(len(rows) - _MOST, 0),
    }  # fmt: skip


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


def _happened(row: Row) -> str:
    state = str(row["state"])
    return f"{_STATE.get(state, state.replace('_', ' '))} {row['replaces']}".strip()


def _share(row: Row) -> str:
    share = row["change_pct"]
    if not known(share):
        return "–"
    return f"{'+' if share > 0 else '−'}{percent(abs(share) / 100)}"


_PARTS = (
    _Part("moved", "recipes", "Totals that moved", "Computed a serving; the largest change first.", (
        ("Recipe", "", lambda r: r["title"] or r["recipe_id"]),
        ("Number", "", lambda r: nutrient_word(r["nutrient"]).capitalize()),
        ("Stated", "n", lambda r: r["stated"]),
        ("Computed before", "n", lambda r: amount(r["before"], r["nutrient"])),
        ("Computed now", "n", lambda r: amount(r["after"], r["nutrient"])),
        ("Change", "n", _share),
    ), lambda r: bool(r["nutrient"]) and known(r["change"])),
    _Part("foods", "foods", "Foods that changed", "In 100 g; only foods that the collection uses.", (
        ("Food", "", lambda r: r["description"]),
        ("Table", "", lambda r: r["food_source"]),
        ("Value", "", lambda r: nutrient_word(r["nutrient"]).capitalize()),
        ("Before", "n", lambda r: _value(r["before"], r["nutrient"])),
        ("Now", "n", lambda r: _value(r["after"], r["nutrient"])),
        ("Change", "n", _share),
        ("Lines", "n", lambda r: int(r["lines"]) if known(r["lines"]) else "–"),
        ("What happened", "", _happened),
    )),
    _Part("lines", "lines", "Lines that mean another food",
          "The words are the same; the table offers another food or another measure.", (
        ("Line", "", lambda r: r["text"]),
        ("Counted before as", "", lambda r: _from(r["description_before"], r["source_before"])),
        ("Grams", "n", lambda r: number(r["grams_before"])),
        ("Counted now as", "", lambda r: _from(r["description_after"], r["source_after"])),
        ("Grams", "n", lambda r: number(r["grams_after"])),
    )),
    _Part("decisions", "decisions", "Remembered answers to renew",
          "They point to foods that the new table lacks: answer these lines again.", (
        ("Answer about", "", lambda r: r["text"]),
        ("Food it meant", "", lambda r: f"{r['description']} ({r['food_id']})"),
        ("Table", "", lambda r: r["food_source"]),
    )),
)  # fmt: skip
