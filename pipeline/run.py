"""The run: intake → lines → match → weigh → compute → reconcile, over tables.

``verify`` is what the command line, the page and the Python door call. It reads files and the
snapshot, and returns a ``Result`` of pandas frames; writing is the report stage's work.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.problems import Problem, SteelyardError
from pipeline.settings import Settings, load_settings
from pipeline.tables import LINE_RESULT

if TYPE_CHECKING:
    from pipeline.intake import Collection
    from pipeline.lines.model import ParsedLine
    from pipeline.match.matcher import Matcher
    from pipeline.match.model import Match
    from pipeline.memory import Decisions, Pantry
    from pipeline.snapshot import Snapshot
    from pipeline.weigh import Weigher
    from pipeline.weigh.model import Weight

#: Called with a stage's name, how much is done and how much there is.
Progress = Callable[[str, int, int], None]


def _silent(stage: str, done: int, total: int) -> None:
    """No progress shown."""


@dataclass(slots=True)
class Tools:
    """What is loaded once and used for every line: the stages' own state."""

    snapshot: Snapshot
    matcher: Matcher
    weigher: Weigher
    pantry: Pantry
    decisions: Decisions


@dataclass(slots=True)
class Read:
    """One distinct line text after parse, match and weigh."""

    parsed: ParsedLine
    match: Match
    weight: Weight


def load_tools(
    snapshot: Snapshot,
    *,
    pantry: Pantry | None = None,
    decisions: Decisions | None = None,
    settings: Settings | None = None,
) -> Tools:
    """Load index, tables and memory for matching and weighing."""
    from pipeline.match import load_index
    from pipeline.match.matcher import Matcher
    from pipeline.memory import Decisions, Pantry
    from pipeline.weigh import Weigher

    pantry = pantry or Pantry()
    decisions = decisions or Decisions()
    with snapshot.connect() as con:
        index = load_index(con)
    matcher = Matcher(index, pantry=pantry, decisions=decisions)
    spoons = (settings or Settings()).spoons
    return Tools(
        snapshot, matcher, Weigher(snapshot, pantry=pantry, spoons=spoons), pantry, decisions
    )


def read_lines(texts: Sequence[str], tools: Tools) -> list[Read]:
    """Parse, match and weigh distinct line texts, in order."""
    from pipeline.lines import parse_many

    parsed = parse_many(list(texts))
    matches = tools.matcher.match(parsed)
    weights = tools.weigher.weigh(parsed, matches)
    return [
        Read(p, m, _decided_weight(p, w, tools.decisions))
        for p, m, w in zip(parsed, matches, weights, strict=True)
    ]


def _decided_weight(parsed: ParsedLine, weight: Weight, decisions: Decisions) -> Weight:
    from dataclasses import replace

    decision = decisions.find(parsed.text) if len(decisions) else None
    if decision is None or decision.grams is None:
        return weight
    grams = decision.grams
    return replace(
        weight, grams=grams, low=grams, high=grams, basis="decision",
        reason=f"{grams:g} g decided by a person",
    )  # fmt: skip


@dataclass(slots=True)
class Result:
    """Everything a run found out, as pandas frames; see ``pipeline.tables`` for the columns.

    Attributes:
        recipes: one row a recipe: recipe_id, title, source, verdict, coverage, then
            ``NAME_stated`` and ``NAME_computed`` per serving for the reported nutrients.
        findings: one row a stated nutrient.
        lines: LINE_RESULT and the values of each line for the whole recipe.
        computed: totals of each whole recipe with their range.
        explanations: what most likely went wrong, ranked.
        to_review: lines worth a look, by the energy that hangs on them.
        checks: what the stated numbers say against one another, ingredients apart.
        corrected: numbers to publish.
        claims: what titles and texts claim against the published conditions.
        doubt: which lines own the spread of each recipe.
        problems: one row a fault of the input.
        collection: what was read.
    """

    recipes: pd.DataFrame
    findings: pd.DataFrame
    lines: pd.DataFrame
    computed: pd.DataFrame
    explanations: pd.DataFrame
    to_review: pd.DataFrame
    checks: pd.DataFrame
    corrected: pd.DataFrame
    claims: pd.DataFrame
    doubt: pd.DataFrame
    problems: pd.DataFrame
    collection: Collection
    settings: Settings
    snapshot: dict[str, Any]
    per_recipe: pd.DataFrame
    runners_up: pd.DataFrame
    seconds: dict[str, float] = field(default_factory=dict)

    def counts(self) -> dict[str, int]:
        """Recipes by verdict, every verdict named."""
        from pipeline.tables import VERDICTS

        got = self.recipes["verdict"].value_counts()
        return {v: int(got.get(v, 0)) for v in VERDICTS}

    def recipes_by_size(self) -> pd.DataFrame:
        """``recipes``, the largest discrepancy first: verdict, then relative energy difference."""
        order = {"disagrees": 0, "uncertain": 1, "agrees": 2, "not_judged": 3}
        frame = self.recipes
        size = self.findings.assign(
            size=(self.findings["difference"].abs() / self.findings["stated"].abs().clip(lower=1))
        )
        largest = size.groupby("recipe_id")["size"].max()
        return (
            frame.assign(
                _order=frame["verdict"].map(order),
                _size=frame["recipe_id"].map(largest).fillna(-1.0),
            )
            .sort_values(["_order", "_size", "title"], ascending=[True, False, True])
            .drop(columns=["_order", "_size"])
        )

    def best_explanations(self) -> dict[str, str]:
        """The first explanation of each recipe, as a sentence."""
        if self.explanations.empty:
            return {}
        first = self.explanations[self.explanations["rank"] == 1]
        return dict(zip(first["recipe_id"], first["detail"], strict=True))

    def verdict_of(self, recipe_id: str, column: str) -> str:
        """The verdict on one stated nutrient, "" when it is not stated."""
        rows = self.findings
        hit = rows[(rows["recipe_id"] == recipe_id) & (rows["nutrient"] == column)]
        return "" if hit.empty else str(hit["verdict"].iloc[0])
