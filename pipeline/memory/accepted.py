"""Differences that a creator knows and accepts: kept in ``decisions.csv``, in force for these numbers.

An accepted difference is a decision whose ``applies_to`` is ``recipe``: ``text`` is the recipe's id
or title, ``note`` the reason, ``numbers`` what was stated and computed when it was accepted. When a
number that is off has moved since, the difference is shown again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.memory.decisions import Decision, Decisions, same_text
from pipeline.problems import Problem, failure, input_problem

if TYPE_CHECKING:
    import pandas as pd

#: Accepted numbers count as the same while they moved by no more than this share, or than half of
#: the last digit people read: another release of the table shall not ask about every rounding.
SAME_SHARE, SAME_LEAST = 0.01, 0.5
#: Reason of an acceptance that gives none.
NO_REASON = "no reason given"
_OFF = ("disagrees", "uncertain")

Numbers = dict[str, tuple[float, float]]


def off_numbers(findings: pd.DataFrame) -> Numbers:
    """Stated and computed of the numbers of one recipe that do not agree; of all when each does."""
    off = findings[findings["verdict"].isin(_OFF)]
    rows = off if len(off) else findings
    return {
        str(n): (float(s), float(c))
        for n, s, c in zip(rows["nutrient"], rows["stated"], rows["computed"], strict=True)
    }


def numbers_text(numbers: Numbers) -> str:
    """As ``decisions.csv`` holds them: "kcal 345 523.4; protein_g 29 33.1", stated before computed."""
    return "; ".join(f"{n} {_plain(s)} {_plain(c)}" for n, (s, c) in sorted(numbers.items()))


def read_numbers(text: str) -> Numbers | None:
    """``numbers_text`` read back; None when it is none."""
    out: Numbers = {}
    for part in text.split(";"):
        words = part.split()
        try:
            name, stated, computed = words
            out[name] = (float(stated), float(computed))
        except ValueError:
            return None
    return out


def with_accepted(
    recipes: pd.DataFrame, findings: pd.DataFrame, decisions: Decisions
) -> tuple[pd.DataFrame, list[Problem]]:
    """``recipes`` with the column ``accepted``: the reason where a difference is accepted, else "".

    Args:
        recipes: one row a recipe, with recipe_id, title, verdict, source.
        findings: one row a stated number.
        decisions: those about recipes count.

    Returns:
        The table, and problems for acceptances that no longer hold.
    """
    recipes = recipes.assign(accepted="")
    if not decisions.recipes:
        return recipes, []
    problems: list[Problem] = []
    reasons: dict[str, str] = {}
    ids = recipes["recipe_id"].astype(str)
    keys = {
        same_text(t): i for i, t in zip(ids, recipes["title"].fillna("").astype(str), strict=True)
    }
    keys |= {same_text(i): i for i in ids}
    rows = recipes.set_index(ids)
    for key, decision in decisions.recipes.items():
        recipe_id = keys.get(key)
        if recipe_id is None or rows.at[recipe_id, "verdict"] not in _OFF:
            continue
        now = off_numbers(findings[findings["recipe_id"] == recipe_id])
        then = read_numbers(decision.numbers)
        if then is not None and all(n in then and _same(then[n], v) for n, v in now.items()):
            day = f" ({decision.decided_on})" if decision.decided_on else ""
            reasons[recipe_id] = f"{decision.note or NO_REASON}{day}"
        else:
            code = "accepted-no-longer" if decision.numbers else "accepted-no-longer/without"
            problems.append(
                input_problem(
                    code, source=str(rows.at[recipe_id, "source"]), recipe_id=recipe_id,
                    text=decision.note, title=str(rows.at[recipe_id, "title"]) or recipe_id,
                )
            )  # fmt: skip
    recipes["accepted"] = [reasons.get(recipe_id, "") for recipe_id in ids]
    return recipes, problems


def acceptance(recipes: pd.DataFrame, findings: pd.DataFrame, name: str, reason: str) -> Decision:
    """The decision that accepts the difference of a recipe as it stands.

    Args:
        recipes, findings: of a result.
        name: recipe_id or title.
        reason: why, in the creator's words.

    Raises:
        SteelyardError: no recipe or several have that name, or nothing is off.
    """
    wanted = same_text(name)
    hit = recipes[
        (recipes["recipe_id"].map(same_text) == wanted)
        | (recipes["title"].fillna("").astype(str).map(same_text) == wanted)
    ]
    if len(hit) != 1:
        import difflib

        titles = [str(t) for t in recipes["title"].fillna("")]
        close = difflib.get_close_matches(name, titles, 3, 0.5)
        why = "no recipe has that id or title" if hit.empty else "several recipes have that title"
        fix = f"did you mean {' or '.join(close)}?" if close else "use the recipe_id of recipes.csv"
        if len(hit) > 1:
            fix = f"use one of the ids {', '.join(hit['recipe_id'])}"
        raise failure("recipe-unknown", name=name, why=why, fix=fix)
    row = hit.iloc[0]
    if row["verdict"] not in _OFF:
        verdict = str(row["verdict"]).replace("_", " ")
        raise failure("nothing-to-accept", title=row["title"], verdict=verdict)
    numbers = numbers_text(off_numbers(findings[findings["recipe_id"] == row["recipe_id"]]))
    return Decision(
        str(row["recipe_id"]), "", None, "recipe", note=" ".join(reason.split()), numbers=numbers
    )


def _same(then: tuple[float, float], now: tuple[float, float]) -> bool:
    return all(
        abs(a - b) <= max(SAME_SHARE * abs(a), SAME_LEAST) for a, b in zip(then, now, strict=True)
    )


def _plain(value: float) -> str:
    return f"{value:.6g}"
