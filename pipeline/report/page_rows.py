"""What the pages of a large collection show beyond the result tables: small tables of their own.

They are made part by part, where the whole result is at hand, and read by ``report.paged``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.report.tables import Table, kind_of, laid
from pipeline.tables import FINDING

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

#: Lines named as owners of the doubt of a recipe.
_MOST_DOUBT = 3

#: Columns of each table; ``n`` of a report is added later.
PAGE_ROWS: dict[str, list[str]] = {
    "page_fact": [
        "recipe_id", "creator", "source_line", "servings", "serving_word", "servings_how",
        "weight_g", "weight_basis", "whole_kcal", "low_kcal", "high_kcal", "why", "other",
    ],
    "page_finding": [*FINDING, "basis"],
    "page_line": ["recipe_id", "line_no", "role", "others"],
    "page_open": ["recipe_id", "line_no", "open_kcal", "whole_kcal"],
    "page_doubt": ["recipe_id", "line_no", "share", "cause", "advice"],
    "page_check": ["recipe_id", "message"],
}  # fmt: skip


def page_rows(result: Result) -> list[Table]:
    """The tables of ``PAGE_ROWS`` for the recipes of a result.

    Args:
        result: of a run, or of one part of it.

    Returns:
        ``page_fact``: one row per recipe, with what there is to do about it (``why``, ``other``).
        ``page_finding``: findings with the basis they are stated on.
        ``page_line``: one row per line that is not simply accepted and counted; ``others``: foods it
        may mean, a line each. ``page_open``: energy that lines to review leave open.
        ``page_doubt``: the lines that own most of a recipe's doubt. ``page_check``: messages.
    """
    from pipeline.report.todo import open_energy

    frames = {
        "page_fact": _facts(result),
        "page_finding": result.findings,
        "page_line": _lines(result),
        "page_open": open_energy(result),
        "page_doubt": result.doubt.groupby("recipe_id").head(_MOST_DOUBT),
        "page_check": result.checks,
    }
    return [
        laid(name, frame, {c: kind_of(c) for c in PAGE_ROWS[name]})
        for name, frame in frames.items()
    ]


def _facts(result: Result) -> pd.DataFrame:
    from pipeline.report.todo import advice

    recipe = result.collection.recipe[
        ["recipe_id", "creator", "source_line", "serving_word", "servings_how"]
    ]
    energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"].rename(
        columns={"amount": "whole_kcal", "low": "low_kcal", "high": "high_kcal"}
    )
    known = result.per_recipe[["recipe_id", "servings", "weight_g", "weight_basis"]]
    facts = (
        result.recipes[["recipe_id"]]
        .merge(recipe, on="recipe_id", how="left")
        .merge(known, on="recipe_id", how="left")
        .merge(energy[["recipe_id", "whole_kcal", "low_kcal", "high_kcal"]], on="recipe_id", how="left")
    )  # fmt: skip
    reasons = advice(result)
    why = [reasons.get(r, ("", "")) for r in facts["recipe_id"]]
    return facts.assign(why=[w for w, _ in why], other=[o for _, o in why])


def _lines(result: Result) -> pd.DataFrame:
    from pipeline.report.words import ROLE

    lines = result.lines[["recipe_id", "line_no", "text", "status"]]
    role = result.lines["role"].where(result.lines["role"].isin(ROLE), "")
    seen = (role != "") | (lines["status"] != "accepted")
    chosen = lines[seen].assign(role=role[seen])
    runners = result.runners_up[["text", "rank", "description"]]
    runners = runners[runners["text"].isin(set(chosen["text"]))].sort_values("rank", kind="stable")
    chosen = chosen[(chosen["role"] != "") | chosen["text"].isin(set(runners["text"]))]
    others: dict[str, list[str]] = {}
    for text, food in zip(runners["text"], runners["description"].fillna(""), strict=True):
        if food:
            others.setdefault(text, []).append(str(food).replace("\n", " "))
    names = ["\n".join(others.get(text, [])) for text in chosen["text"]]
    return chosen[["recipe_id", "line_no", "role"]].assign(others=names)
