"""Results made by hand: what the report stage is given, without the stages before it.

Recipes, creators and numbers are invented; ``collection`` grows one in which each verdict occurs.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from pipeline.intake import Collection
from pipeline.nutrients import NUTRIENTS, REPORTED
from pipeline.problems import Problem, problems_frame
from pipeline.report.tables import RECIPES
from pipeline.run import Result
from pipeline.settings import Settings
from pipeline.tables import (
    COMPUTED,
    EXPLANATION,
    FINDING,
    LINE,
    LINE_RESULT,
    RECIPE,
    RUNNER_UP,
    STATED,
    TO_REVIEW,
)

NAN = math.nan

#: recipe_id, title, creator, verdict, {nutrient: (stated, computed, low, high, allowed, verdict)}
Spec = tuple[str, str, str, str, dict[str, tuple[float, float, float, float, float, str]]]

PLAIN: list[Spec] = [
    ("soup", "Quarry road barley soup", "Ines Tarn", "agrees",
     {"kcal": (310.0, 305.0, 290.0, 320.0, 35.0, "agrees"),
      "protein_g": (12.0, 12.4, 11.5, 13.2, 2.4, "agrees")}),
    ("dal", "Ferry lentil dal", "Ines Tarn", "disagrees",
     {"kcal": (1800.0, 430.0, 405.0, 455.0, 60.0, "disagrees"),
      "carbs_g": (55.0, 54.0, 50.0, 58.0, 8.0, "agrees"),
      "fat_g": (9.0, 9.2, 8.0, 10.4, 1.9, "agrees")}),
    ("slaw", "Signal box slaw", "Bo Marsh", "uncertain",
     {"kcal": (180.0, 240.0, 170.0, 310.0, 30.0, "uncertain")}),
    ("cake", "Harbour wall cake", "", "not_judged", {}),
]  # fmt: skip


def make_result(
    specs: list[Spec] = PLAIN,
    *,
    texts: dict[str, list[str]] | None = None,
    problems: list[Problem] | None = None,
    root: Path = Path("/collection"),
    explanations: list[tuple[Any, ...]] | None = None,
    profile: str = "eu",
) -> Result:
    """A result with two lines a recipe (or ``texts``), and what else each table must hold."""
    texts = texts or {}
    recipes, findings, recipe_rows, line_rows, computed, stated = [], [], [], [], [], []
    per_recipe, doubt = [], []
    for position, (recipe_id, title, creator, verdict, numbers) in enumerate(specs):
        row: dict[str, Any] = {
            "recipe_id": recipe_id, "title": title, "source": f"{recipe_id}.txt",
            "verdict": verdict, "basis": "per_serving", "coverage": 0.4 if verdict == "not_judged" else 1.0,
            "servings": 4.0,
        }  # fmt: skip
        for column in REPORTED:
            said = numbers.get(column)
            row[f"{column}_stated"] = said[0] if said else NAN
            row[f"{column}_computed"] = said[1] if said else NAN
        recipes.append(row)
        for nutrient, (s, c, low, high, allowed, of) in numbers.items():
            findings.append((recipe_id, nutrient, s, c, low, high, c - s, allowed, of))
            tag = next(n.tag for n in NUTRIENTS if n.column == nutrient)
            computed.append((recipe_id, tag, 4 * c, 4 * low, 4 * high, 1.0, 0))
            stated.append((recipe_id, tag, s, "per_serving", 1.0, f"{s:g}"))
        recipe_rows.append((recipe_id, title, 4.0, "servings", NAN, creator, "", f"{recipe_id}.txt",
                            1, "card", position, NAN, "", "", ""))  # fmt: skip
        for n, text in enumerate(texts.get(recipe_id, ["200 g lentils", "For the top:"]), 1):
            heading = text.endswith(":")
            found = ("sr28:16069", "Lentils, raw", 0.97, "accepted", "table", "a name of this food")
            unknown = (None, "", 0.0, "unmatched", "none", "the table lacks it")
            heads = (None, "", NAN, "unmatched", "none", "a heading names no food")
            food = heads if heading else unknown if verdict == "not_judged" else found
            grams = (NAN,) * 3 if heading or food is unknown else (200.0, 150.0, 250.0)
            values = [NAN if heading or food is unknown else 10.0 * k for k in range(10, 0, -1)]
            line_rows.append(
                (recipe_id, n, "", text, n + 2, *food, not heading, *grams,
                 "none" if heading else "mass", "" if heading else "200 g on the line", "g", 200.0,
                 *values, None if heading else "counted")
            )  # fmt: skip
        per_recipe.append((recipe_id, 4.0, 800.0, 800.0, "summed", row["coverage"], 2, 0))
        doubt.append((recipe_id, 1, 0.8, "grams", "weigh Lentils, raw: 80% of the doubt"))
    lines = pd.DataFrame(line_rows, columns=[*LINE_RESULT, *(n.column for n in NUTRIENTS), "role"])
    review = lines[(lines["status"] == "unmatched") & lines["names_food"]]
    if explanations is None:
        explanations = [
            ("dal", 1, "kilojoules_as_kcal", None, 0.95, "The energy is in kilojoules: the lines"
             " give 430 kcal; stated are 1800 kcal.", 1799.0, NAN, 54.0, 9.2, NAN, "per_serving"),
            ("dal", 2, "line_left_out", 1, 0.03, 'If line 1 ("200 g lentils") had been left out, a'
             " serving would have 12 kcal.", 12.0, NAN, 1.0, 0.2, NAN, "per_serving"),
        ]  # fmt: skip
        explanations = [e for e in explanations if e[0] in {s[0] for s in specs}]
    found_frame = pd.DataFrame(findings, columns=FINDING)
    return Result(
        recipes=pd.DataFrame(recipes, columns=None if recipes else RECIPES),
        findings=found_frame.assign(tag="", basis="per_serving", coverage=1.0),
        lines=lines,
        computed=pd.DataFrame(computed, columns=COMPUTED),
        explanations=pd.DataFrame(explanations, columns=[*EXPLANATION, "basis"]).astype(
            {"line_no": "Int64", "rank": "int64", "probability": "float64"}
        ),
        to_review=review.assign(why=review["reason"], food_source="")[TO_REVIEW].reset_index(drop=True),
        checks=pd.DataFrame(
            [("dal", "per_serving", "energy-off-macros", "warning",
              "1800 kcal is stated, and the stated macros give 301 kcal", 1800.0, 301.0, "4-4-9")]
            if "dal" in {s[0] for s in specs} else [],
            columns=["recipe_id", "basis", "code", "severity", "message", "stated", "expected",
                     "convention"],
        ),
        corrected=pd.DataFrame(
            [(s[0], "per_serving", "whole", "430", "12", "54", "9", "<0.5", "salt left out",
              "Per serving: 430 kcal, P 12 g, C 54 g, F 9 g",
              '{"@type": "NutritionInformation", "calories": "430 kcal"}') for s in specs],
            columns=["recipe_id", "basis", "rule", "kcal", "protein_g", "carbs_g", "fat_g",
                     "fiber_g", "note", "caption", "schema_org"],
        ),
        claims=pd.DataFrame(
            [(specs[0][0], "source_of_fibre", "full of fibre", "EU", "not decidable",
              "The range of the sums holds the limit. Information only.", 2.9, 3.0, "g")],
            columns=["recipe_id", "claim", "words", "jurisdiction", "status", "reason", "value",
                     "limit", "unit"],
        ) if specs else pd.DataFrame(columns=["recipe_id"]),
        doubt=pd.DataFrame(doubt, columns=["recipe_id", "line_no", "share", "cause", "advice"]),
        problems=problems_frame(problems or []),
        collection=Collection(
            recipe=pd.DataFrame(recipe_rows, columns=RECIPE).astype({"source_line": "Int64"}),
            stated=pd.DataFrame(stated, columns=STATED),
            line=lines.reindex(columns=LINE).astype({"source_line": "Int64"}),
            problems=problems or [],
            root=root,
        ),
        settings=Settings(profile=profile),
        snapshot={"snapshot_id": "test-1", "release": "28", "built_at": "2024-01-01",
                  "sources": [{"title": "A food table", "release": "28"}]},
        per_recipe=pd.DataFrame(
            per_recipe,
            columns=["recipe_id", "servings", "weight_g", "raw_weight_g", "weight_basis",
                     "coverage", "lines", "lines_unknown"],
        ),
        runners_up=pd.DataFrame(columns=RUNNER_UP),
        seconds={"intake": 0.1},
    )  # fmt: skip


@pytest.fixture(scope="session")
def make() -> Callable[..., Result]:
    """The maker of results, for tests that need their own."""
    return make_result


@pytest.fixture
def collection() -> Result:
    """Four recipes, one of each verdict."""
    return make_result(
        problems=[
            Problem("file-binary", 'file "x.bin" is no text', "it was left out", "remove it",
                    source="x.bin"),
            Problem("amount-ambiguous", "the amount can be read two ways", "unweighed", "write it",
                    source="dal.txt", source_line=3, recipe_id="dal", line_no=1,
                    severity="warning", text="1 1/2-2 cups"),
        ]
    )  # fmt: skip
