"""Differences that a creator knows and accepts: kept in ``decisions.csv``, in force for these numbers.

An accepted difference is a decision whose ``applies_to`` is ``recipe``: ``text`` is the recipe's
title, FILE#TITLE, or id, ``note`` the reason, ``numbers`` what was stated and computed when it was accepted. When a
number that is off has moved since, the difference is shown again.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from pipeline.memory.decisions import Decision, Decisions, same_text
from pipeline.near_names import near_names, offered
from pipeline.problems import Problem, SteelyardError, failure, input_problem

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


def names_of(recipe_id: str, title: str, source: str) -> list[str]:
    """What an acceptance may call a recipe: its title, its title within its file, its id."""
    titled = [title, f"{source}#{title}"] if title.strip() else []
    return [*titled, recipe_id]


def belonging(
    recipes: pd.DataFrame, findings: pd.DataFrame, decisions: Decisions
) -> dict[str, list[str]]:
    """Which recipes each acceptance is about: by name, else by the numbers that were accepted.

    A place in a file ("cakes.csv#3") is a name only while the recipe there states what was stated
    when it was accepted: rows come and go. Without a name that fits, the one recipe that is off by
    the same numbers is meant.

    Args:
        recipes: one row per recipe, with recipe_id, title, verdict, source.
        findings: one row per stated number.
        decisions: those about recipes count.

    Returns:
        Key of the acceptance, as in ``Decisions.recipes`` → recipe ids; none for one that fits no
        recipe.
    """
    if not decisions.recipes:
        return {}
    by_name: dict[str, list[str]] = {}
    of = ("recipe_id", "title", "source")
    for row in zip(*(recipes[c].fillna("").astype(str) for c in of), strict=True):
        for name in dict.fromkeys(map(same_text, names_of(*row))):
            by_name.setdefault(name, []).append(row[0])
    of_recipe = _Off(recipes, findings)
    return {
        key: _meant(by_name.get(key, []), decision, of_recipe)
        for key, decision in decisions.recipes.items()
    }


class _Off:
    """Numbers of recipes, looked up when they are asked for."""

    def __init__(self, recipes: pd.DataFrame, findings: pd.DataFrame) -> None:
        off = recipes["verdict"].isin(_OFF)
        self.off = recipes["recipe_id"].astype(str)[off].tolist()
        self._findings = findings
        self._rows: dict[str, pd.DataFrame] | None = None

    def of(self, recipe_id: str) -> pd.DataFrame:
        """Findings of a recipe."""
        if self._rows is None:
            self._rows = {str(i): rows for i, rows in self._findings.groupby("recipe_id")}
        return self._rows.get(recipe_id, self._findings.iloc[:0])

    def fits(self, recipe_id: str, then: Numbers | None) -> bool:
        """Whether a recipe is off by the numbers that were accepted."""
        now = off_numbers(self.of(recipe_id))
        if not then or not now:
            return False
        return all(n in then and _same(then[n], v) for n, v in now.items())

    def states(self, recipe_id: str, then: Numbers) -> bool:
        """Whether a recipe states any of the numbers that were accepted."""
        rows = self.of(recipe_id)
        return any(
            n in then and abs(then[n][0] - s) <= max(SAME_SHARE * abs(s), SAME_LEAST)
            for n, s in zip(rows["nutrient"], rows["stated"], strict=True)
        )


#: A recipe's place in its file, as intake names recipes that have no id of their own.
_PLACE = re.compile(r"#\d+(~\d+)?$")


def _meant(named: list[str], decision: Decision, of_recipe: _Off) -> list[str]:
    then = read_numbers(decision.numbers)
    by_place = _PLACE.search(decision.text) is not None and len(named) == 1
    if then is None or (len(named) == 1 and not by_place):
        return named
    fit = [r for r in named or of_recipe.off if of_recipe.fits(r, then)]
    if named and fit:
        return fit
    if by_place:
        if of_recipe.states(named[0], then):
            return named  # the same recipe, and what was computed has moved
        fit = [r for r in of_recipe.off if of_recipe.fits(r, then)]
    elif named:
        return named
    return fit if len(fit) == 1 else []


def with_accepted(
    recipes: pd.DataFrame, findings: pd.DataFrame, decisions: Decisions
) -> tuple[pd.DataFrame, list[Problem]]:
    """``recipes`` with the column ``accepted``: the reason where a difference is accepted, else "".

    Args:
        recipes, findings, decisions: see ``belonging``.

    Returns:
        The table, and problems for acceptances that no longer hold.
    """
    recipes = recipes.assign(accepted="")
    if not decisions.recipes:
        return recipes, []
    problems: dict[str, Problem] = {}
    reasons: dict[str, str] = {}
    ids = recipes["recipe_id"].astype(str)
    rows = recipes.set_index(ids)
    of_recipe = _Off(recipes, findings)
    meant = belonging(recipes, findings, decisions)
    about = [(decisions.recipes[key], r) for key, found in meant.items() for r in found]
    for decision, recipe_id in about:
        if rows.at[recipe_id, "verdict"] not in _OFF:
            continue
        if of_recipe.fits(recipe_id, read_numbers(decision.numbers)):
            day = f" ({decision.decided_on})" if decision.decided_on else ""
            reasons[recipe_id] = f"{decision.note or NO_REASON}{day}"
        else:
            code = "accepted-no-longer" if decision.numbers else "accepted-no-longer/without"
            problems[recipe_id] = input_problem(
                code, source=str(rows.at[recipe_id, "source"]), recipe_id=recipe_id,
                text=decision.note, title=str(rows.at[recipe_id, "title"]) or recipe_id,
            )  # fmt: skip
    recipes["accepted"] = [reasons.get(recipe_id, "") for recipe_id in ids]
    return recipes, [p for recipe_id, p in problems.items() if recipe_id not in reasons]


def orphans(recipes: pd.DataFrame, findings: pd.DataFrame, decisions: Decisions) -> list[Problem]:
    """A problem for each acceptance that fits no recipe of the whole collection."""
    return [
        decisions.told("accepted-orphan", ("recipe", key), numbers=d.numbers or "none given")
        for key, found in belonging(recipes, findings, decisions).items()
        if not found and (d := decisions.recipes[key])
    ]


def acceptances(
    recipes: pd.DataFrame, findings: pd.DataFrame, decisions: Decisions, recipe_id: str
) -> list[Decision]:
    """The acceptances that are about a recipe, whatever they call it."""
    meant = belonging(recipes, findings, decisions)
    return [decisions.recipes[key] for key, found in meant.items() if recipe_id in found]


def recipe_named(recipes: pd.DataFrame, name: str) -> str:
    """The recipe_id of the one recipe with that id or title.

    Args:
        recipes: with recipe_id, title and source.
        name: id, title, or FILE#TITLE.

    Raises:
        SteelyardError: no recipe or several have that name; the fix says which come near.
    """
    wanted = same_text(name)
    of = [recipes[c].fillna("").astype(str) for c in ("recipe_id", "title", "source")]
    rows = list(zip(*of, strict=True))
    hit = [row for row in rows if wanted in map(same_text, names_of(*row))]
    if len(hit) == 1:
        return str(hit[0][0])
    if hit:
        why = "several recipes have that title"
        fix = f"use one of the ids {', '.join(row[0] for row in hit)}"
    else:
        why = "no recipe has that id or title"
        fix = offered(near_names(name, [row[1] for row in rows])) or "use an id of recipes.csv"
    raise failure("recipe-unknown", name=name, why=why, fix=fix)


def acceptance(recipes: pd.DataFrame, findings: pd.DataFrame, name: str, reason: str) -> Decision:
    """The decision that accepts the difference of a recipe as it stands.

    It names the recipe by its title, which follows it wherever its row of a file goes; by file and
    title where the title alone names several, and by its id where that does too.

    Args:
        recipes, findings: of the whole collection; findings of the recipe are enough.
        name: recipe_id or title.
        reason: why, in the creator's words.

    Raises:
        SteelyardError: no recipe or several have that name, or nothing is off.
    """
    recipe_id = recipe_named(recipes, name)
    row = recipes[recipes["recipe_id"].astype(str) == recipe_id].iloc[0]
    if row["verdict"] not in _OFF:
        verdict = str(row["verdict"]).replace("_", " ")
        raise failure("nothing-to-accept", title=row["title"], verdict=verdict)
    numbers = numbers_text(off_numbers(findings[findings["recipe_id"] == row["recipe_id"]]))
    text = next(n for n in _own_names(row) if n == recipe_id or _names_one(recipes, n))
    return Decision(text, "", None, "recipe", note=" ".join(reason.split()), numbers=numbers)


def _own_names(row: pd.Series[Any]) -> list[str]:
    title, source = (str(row[c]) if row[c] is not None else "" for c in ("title", "source"))
    return names_of(str(row["recipe_id"]), title, source)


def _names_one(recipes: pd.DataFrame, name: str) -> bool:
    try:
        recipe_named(recipes, name)
    except SteelyardError:
        return False
    return True


def _same(then: tuple[float, float], now: tuple[float, float]) -> bool:
    return all(
        abs(a - b) <= max(SAME_SHARE * abs(a), SAME_LEAST) for a, b in zip(then, now, strict=True)
    )


def _plain(value: float) -> str:
    return f"{value:.6g}"
