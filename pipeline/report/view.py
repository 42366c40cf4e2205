"""What the page shows, worked out from the tables: plain values, no markup, nothing left to decide.

Templates only lay out what stands here. Every text is the creator's or ours and is escaped there.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING

from pipeline.intake.files import REPORT_PAGES
from pipeline.report import words
from pipeline.report.facts import facts, source_title
from pipeline.report.frames import Row, records, text_of
from pipeline.report.patterns import patterns
from pipeline.report.recipe_view import line_anchor, recipes_shown
from pipeline.report.script import (
    Mark,
    ScriptView,
    fold_alike,
    line_texts,
    script_view,
    short_time,
)
from pipeline.report.todo import Group, Task, open_texts, to_do
from pipeline.report.words import known, number, unit_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from pipeline.run import Result

#: Recipes that get a file of their own each; beyond it they share one page (``report.paged``).
MOST_PAGES = 300
#: Folder of those pages, beside the report.
PAGES = REPORT_PAGES
#: Rows of lines to review and of problems.
MOST_REVIEW, MOST_PROBLEMS = 40, 100
#: Scripts shown whole, and how much text they may hold together; the others are counted.
MOST_SCRIPTS, MOST_SCRIPT_CHARS = 60, 3_000_000


def view(
    result: Result,
    *,
    pages: Mapping[str, str] | None = None,
    creator: str = "",
    numbers: dict[str, int] | None = None,
) -> SimpleNamespace:
    """Work out the report of a result: its overview, and the page of each recipe.

    Args:
        pages: creator to the folder of their own report.
        creator: whose recipes these are, "" for everybody's.
        numbers: the recipes' numbers where the result is the first of a large collection, whose
            recipes share one page; None where each has its own.

    Returns:
        What ``templates/report.html.j2`` names of ``v``; ``counts`` are recipes by verdict, accepted
        differences apart, ``unstated`` those that state nothing, ``paged`` the JSON that the scripts of
        a large collection read.
    """
    ordered = result.recipes_by_size()
    titles = dict(zip(ordered["recipe_id"], ordered["title"].map(text_of), strict=True))
    if numbers is None:
        numbers = {str(r): i for i, r in enumerate(ordered["recipe_id"], start=1)}
        shown, hrefs = ordered, _hrefs(ordered["recipe_id"], ordered["title"])
    else:
        shown, hrefs = ordered.head(0), {r: paged_href(n) for r, n in numbers.items()}
    scripts, said = _scripts(result, titles, hrefs)
    todo = to_do(result, titles, hrefs)
    recipes = recipes_shown(result, shown, numbers, hrefs, said, _fixes(todo))
    problems = _folded(result, scripts)
    order = problems["severity"].map({"error": 0, "warning": 1}).fillna(2)
    listed = problems.assign(_order=order).sort_values("_order", kind="stable")
    standing = result.standing()
    return SimpleNamespace(
        facts=facts(result),
        table=source_title(result),
        profile=words.PROFILE.get(result.settings.profile, result.settings.profile),
        rounding=result.settings.publish,
        creator=creator,
        pages=sorted((pages or {}).items()),
        total=len(ordered),
        counts=standing,
        headline=headline(standing),
        todo=todo,
        accepted=[
            (titles.get(r) or r, hrefs.get(r, ""), why) for r, why in result.accepted().items()
        ],
        unstated=int((~ordered["recipe_id"].isin(set(result.findings["recipe_id"]))).sum()),
        patterns=[
            (p, [(titles.get(r, r), hrefs.get(r, "")) for r in p.recipe_ids[:6]])
            for p in patterns(result)
        ],
        review=_review(result, titles, hrefs),
        review_total=len(result.to_review),
        problems=records(listed.head(MOST_PROBLEMS)),
        problem_total=len(result.problems),
        index=_index(result, ordered, numbers, hrefs),
        recipes=recipes,
        scripts=scripts,
        scripts_left_out=len(result.scripts) - len(scripts),
        numbers=numbers,
        paged="",
    )


def page_names(result: Result) -> dict[str, str]:
    """Where the report has the page of each recipe, by recipe_id."""
    ordered = result.recipes_by_size()
    if len(ordered) > MOST_PAGES:
        return {str(r): paged_href(n) for n, r in enumerate(ordered["recipe_id"], start=1)}
    return _hrefs(ordered["recipe_id"], ordered["title"])


def paged_href(number: int) -> str:
    """Where a large collection's report shows the recipe of that number."""
    return f"report-recipe.html#{number}"


def _hrefs(ids: pd.Series[str], of: pd.Series[str]) -> dict[str, str]:
    """Where the page of each recipe stands, by its title; stable while titles are."""
    from pipeline.publish.write import slug, unused

    taken: set[str] = set()
    titles = sorted(zip(ids.astype(str), of.map(text_of), strict=True))
    return {r: f"{PAGES}/{unused(slug(title or r), taken)}.html" for r, title in titles}


def _fixes(todo: list[Group]) -> dict[str, Task]:
    """Page of a recipe to what there is to do about its numbers."""
    return {t.href: t for g in todo if g.kind in ("fix", "weigh") for t in g.tasks if t.href}


def headline(counts: dict[str, int]) -> str:
    """The first sentence of a report, of recipes by how they stand."""
    total, known_ = sum(counts.values()), counts.get("accepted", 0)
    if not total:
        return "No recipe was found to check"
    bad, open_, good = counts["disagrees"], counts["uncertain"], counts["agrees"]
    if not bad + open_ + good + known_:
        return "No recipe could be judged"
    if not bad and not open_ and known_:
        rest = f"{good:,d} of {total:,d} agree" if good else "the others could not be judged"
        return f"No recipe waits for an answer: {known_:,d} accepted, {rest}"
    if not bad and not open_ and good == 1:
        return "The recipe states what its ingredients add up to"
    if not bad and not open_:
        return f"All {good:,d} recipes that could be judged state what their ingredients add up to"
    if not bad:
        return f"No recipe disagrees with its ingredients; {open_:,d} of {total:,d} stay open"
    if total == 1:
        return "The recipe states numbers its ingredients do not add up to"
    states = "states numbers its" if bad == 1 else "state numbers their"
    return f"{bad:,d} of {total:,d} recipes {states} ingredients do not add up to"


# --- spoken scripts ---------------------------------------------------------------------------


def _scripts(
    result: Result, titles: dict[str, str], hrefs: dict[str, str]
) -> tuple[list[tuple[str, ScriptView]], dict[tuple[str, int], tuple[str, str]]]:
    """Scripts with their hrefs; and (recipe_id, line_no) → when it was said and that anchor."""
    if result.scripts.empty:
        return [], {}
    rows: dict[str, list[Row]] = {}
    for row in records(result.script_marks):
        rows.setdefault(row["source"], []).append(row)
    texts = line_texts(result.collection.line)

    def link(mark: Mark) -> str:
        for target in mark.targets:
            page = hrefs.get(target.recipe_id)
            if page:
                no = target.line_no
                return page if no is None else f"{page}#{line_anchor(no)}"
        return ""

    out: list[tuple[str, ScriptView]] = []
    said: dict[tuple[str, int], tuple[str, str]] = {}
    room = MOST_SCRIPT_CHARS
    for source, text in zip(result.scripts["source"], result.scripts["text"], strict=True):
        room -= len(text)
        if len(out) == MOST_SCRIPTS or (out and room < 0):
            break
        marks = rows.get(source, [])
        shown = script_view(source, text, marks, titles, texts, link, lambda r: hrefs.get(r, ""))
        anchor = f"s-{len(out) + 1}"
        out.append((anchor, shown))
        for mark in sorted(shown.marks, key=lambda m: m.kind != "ingredient"):
            for target in mark.targets:
                if target.line_no is not None:
                    said.setdefault(
                        (target.recipe_id, target.line_no),
                        (short_time(mark.seconds), f"{anchor}-{mark.number}"),
                    )
    return out, said


def _folded(result: Result, scripts: list[tuple[str, ScriptView]]) -> pd.DataFrame:
    """Problems, with the anchor of a script where several of one kind share one row."""
    named = {shown.source: anchor for anchor, shown in scripts}
    folded = fold_alike(result.problems, named)
    where = folded["source"].map(named).astype("object").where(folded["folded"], "")
    return folded.assign(anchor=where).drop(columns="folded")


# --- the collection ---------------------------------------------------------------------------


def _review(result: Result, titles: dict[str, str], hrefs: dict[str, str]) -> list[Row]:
    """Rows of ``todo.open_texts`` with links to the first of their recipes; trivial ones last."""
    return [
        {
            **one, "links": [(titles.get(r, r), hrefs.get(r, "")) for r in one["recipes"][:3]],
            "more": max(len(one["recipes"]) - 3, 0),
        }
        for one in open_texts(result)[:MOST_REVIEW]
    ]  # fmt: skip


def _index(
    result: Result, ordered: pd.DataFrame, numbers: dict[str, int], hrefs: dict[str, str]
) -> list[SimpleNamespace]:
    """The list of all recipes; ``href``: a recipe's own page, "" when it has none.

    A row of the result's recipes. A cell is column, stated, computed, verdict.
    """
    found = {(f["recipe_id"], f["nutrient"]): f for f in records(result.findings)}
    out = []
    for row in records(ordered):
        recipe_id = row["recipe_id"]
        cells = []
        for column in words.MACROS:
            stated, computed = row[f"{column}_stated"], row[f"{column}_computed"]
            judged = found.get((recipe_id, column))
            if column == "carbs_g" and not known(stated) and (recipe_id, words.NET_CARBS) in found:
                judged = found[recipe_id, words.NET_CARBS]
                stated, computed = judged["stated"], judged["computed"]
            unit = unit_of(column)
            verdict = judged["verdict"] if judged else ""
            cells.append((column, number(stated, unit, fine=True), number(computed, unit), verdict))
        more = {
            "title": row["title"] or recipe_id,
            "accepted": row.get("accepted", ""),
            "per": words.per_other(row.get("basis")),
        }
        place = {"href": hrefs.get(recipe_id, ""), "number": numbers[recipe_id]}
        out.append(SimpleNamespace(**{**row, **more, **place, "cells": cells}))
    return out
