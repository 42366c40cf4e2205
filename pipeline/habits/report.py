"""Habits as rows: the table of habits, and the explanations of the recipes they touch."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import pandas as pd

from pipeline.habits.model import BETWEEN, FACTORS, HABIT, NET, NET_ENERGY, READING, Habit
from pipeline.habits.words import detail, question, short
from pipeline.reconcile.model import CARBS, FAT, FIBRE, KCAL, PROTEIN
from pipeline.reconcile.sentences import PER

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipeline.compute.convention import Convention
    from pipeline.habits import Given
    from pipeline.reconcile import Foods

_COLUMNS = {"kcal": KCAL, "protein_g": PROTEIN, "carbs_g": CARBS, "fat_g": FAT, "fiber_g": FIBRE}
Row = dict[Any, Any]

#: Above this belief that the numbers are an honest sum once the habits are known, no slip is left.
_HONEST = 0.5


def habit_table(
    habits: Sequence[Habit], given: Given | None, verdict: pd.DataFrame, foods: Foods
) -> pd.DataFrame:
    """HABIT: one row per habit with its question.

    Args:
        habits: of ``find_habits``.
        given: of ``habits_given``.
        verdict: recipe_id, verdict, as they are now.
    """
    now = dict(zip(verdict["recipe_id"], verdict["verdict"], strict=True))
    then = dict(now)
    if given is not None:
        later = given.judgement.verdict
        then |= dict(zip(later["recipe_id"], later["verdict"], strict=True))
    out = []
    for rank, habit in enumerate(habits, start=1):
        ids = habit.recipe_ids
        before, after = (sum(v.get(r) == "agrees" for r in ids) for v in (now, then))
        shown = habit.composition
        out.append(
            {
                "rank": rank, "creator": habit.creator, "kind": habit.kind, "phrase": habit.phrase,
                "probability": of_theirs(habit), "recipes": len(ids), "recipe_ids": BETWEEN.join(ids),
                **{c: math.nan if shown is None else float(shown[j]) for c, j in _COLUMNS.items()},
                "measure": habit.measure, "grams": habit.grams,
                "nearest_food_id": BETWEEN.join(foods.variants.food_ids[n] for n in _nearest(habit)),
                "nearest_food": BETWEEN.join(foods.variants.descriptions[n] for n in _nearest(habit)),
                "table_food_id": habit.food_id or BETWEEN.join(habit.read_as), "names": BETWEEN.join(habit.names),
                "agree_now": before, "agree_then": after,
                "detail": detail(habit, foods), "question": question(habit, foods, after, before),
                "key": habit.key,
            }
        )  # fmt: skip
    frame = pd.DataFrame(out, columns=HABIT)
    whole = {"rank": "int64", "recipes": "int64", "agree_now": "int64", "agree_then": "int64"}
    return frame.astype({**whole, **dict.fromkeys([*_COLUMNS, "probability", "grams"], "float64")})


def _nearest(habit: Habit) -> list[int]:
    """The nearest food; of a state of everything, that of each name."""
    if not habit.swaps:
        return [habit.nearest] if habit.nearest >= 0 else []
    return [habit.swaps[habit.swap_names.index(name)] for name in habit.names]


def of_theirs(habit: Habit) -> float:
    """Belief that a cause is the creator's; a reading is ours as far as it is believed."""
    return 1 - habit.probability if habit.kind == READING else habit.probability


#: Key of a convention that the run has detected and counts by already.
DETECTED = "detected convention"


def detected(
    habits: pd.DataFrame, convention: Convention, stated: pd.DataFrame, verdict: pd.DataFrame
) -> pd.DataFrame:
    """HABIT with the convention of the whole collection before it, where one was detected.

    Args:
        habits: HABIT.
        convention: that the sums are in.
        stated: STATED; its recipes are the ones that state carbohydrate, or energy.
        verdict: recipe_id, verdict, as they are now.
    """
    phrase = NET if convention.available else FACTORS
    if convention.available and convention.energy != "table":
        phrase = NET_ENERGY
    tag = "CHOCDF" if convention.available else "ENERC_KCAL"
    ids = stated.loc[stated["nutrient"] == tag, "recipe_id"].drop_duplicates().tolist()
    if not ids:
        return habits
    now = dict(zip(verdict["recipe_id"], verdict["verdict"], strict=True))
    agree = sum(now.get(r) == "agrees" for r in ids)
    row: Row = {
        **dict.fromkeys(HABIT, ""), **dict.fromkeys((*_COLUMNS, "grams"), math.nan),
        "kind": "convention", "phrase": phrase, "probability": convention.belief,
        "recipes": len(ids), "recipe_ids": BETWEEN.join(ids), "agree_now": agree,
        "agree_then": agree, "key": DETECTED,
        "detail": f"counted so already: {convention.reason}",
        "question": f"Counted so already: {convention.reason}. Is it meant so?",
    }  # fmt: skip
    own = habits[~((habits["kind"] == "convention") & (habits["phrase"] == phrase))]
    every = pd.concat([pd.DataFrame([row], columns=HABIT), own], ignore_index=True)
    every["rank"] = range(1, len(every) + 1)
    return every.astype(dict(habits.dtypes))


def with_habits(
    explanation: pd.DataFrame, given: Given | None, verdict: pd.DataFrame
) -> pd.DataFrame:
    """Explanations in which a habit stands first where it is all there is to say.

    Args:
        explanation: EXPLANATION of the run as it is.
        given: of ``habits_given``; None leaves all as it is.
        verdict: recipe_id, verdict, as they are now; recipes that agree need no explanation.
    """
    if given is None:
        return explanation
    open_ = set(verdict.loc[verdict["verdict"].isin(["disagrees", "uncertain"]), "recipe_id"])
    later = given.judgement.verdict
    # habit and slip cancel out
    open_ |= set(later.loc[later["verdict"] == "disagrees", "recipe_id"])
    by: dict[str, list[Habit]] = {}
    for habit in given.habits:
        for recipe_id in habit.recipe_ids:
            if recipe_id in open_:
                by.setdefault(recipe_id, []).append(habit)
    if not by:
        return explanation
    then: dict[str, tuple[str, float]] = {
        str(r): (str(v), float(h))
        for r, v, h in zip(later["recipe_id"], later["verdict"], later["honest"], strict=True)
    }
    left = given.judgement.explanation
    slips = {str(r): part for r, part in left.groupby("recipe_id", sort=False)}
    numbers = _numbers(given)
    made: list[Row] = []
    for recipe_id, habits in by.items():
        own = _row(recipe_id, habits, numbers)
        verdict_then, honest = then.get(recipe_id, ("agrees", math.nan))
        if verdict_then != "agrees" and recipe_id in slips:
            first_slip = not honest > _HONEST  # not known (NaN) is no belief in honesty
            mine: list[Row] = slips[recipe_id].to_dict("records")
            made += _ranked([mine[0], own, *mine[1:]] if first_slip else [own, *mine])
        else:
            made += _ranked([own])
    kept = explanation[~explanation["recipe_id"].isin(by.keys())]
    more = pd.DataFrame(made).reindex(columns=explanation.columns)
    types = {c: explanation[c].dtype for c in ("line_no", "rank", "probability", "misfit")}
    parts = [part for part in (kept, more.astype(types)) if len(part)]
    every = pd.concat(parts, ignore_index=True)
    return every.sort_values(["recipe_id", "rank"], kind="stable").reset_index(drop=True)


def _ranked(found: list[dict[str, Any]]) -> list[Row]:
    return [{**row, "rank": rank} for rank, row in enumerate(found, start=1)]


def _numbers(given: Given) -> dict[str, dict[str, Any]]:
    """What the lines of each recipe come to with the habits, on the basis most numbers stand on."""
    finding = given.judgement.finding
    out: dict[str, dict[str, Any]] = {}
    names = {"ENERC_KCAL": "kcal", "PROCNT": "protein_g", "CHOCDF": "carbs_g",
             "CHOAVLDF": "carbs_g", "FAT": "fat_g", "FIBTG": "fiber_g"}  # fmt: skip
    size = finding.groupby(["recipe_id", "basis"], sort=False)["computed"].transform("size")
    table = finding.assign(_n=-size).sort_values(["recipe_id", "_n"], kind="stable")
    for recipe_id, tag, value, basis in zip(
        *(table[c].tolist() for c in ("recipe_id", "tag", "computed", "basis")), strict=True
    ):
        row = out.setdefault(recipe_id, {"basis": basis})
        if row["basis"] == basis and tag in names:
            row.setdefault(names[tag], value)
    return out


def _row(recipe_id: str, habits: list[Habit], numbers: dict[str, dict[str, Any]]) -> dict[str, Any]:
    """The explanation "habit" of one recipe; its line is that of the surest habit with one."""
    shown = numbers.get(recipe_id, {})
    line = next((n for h in habits for r, n in h.lines if r == recipe_id), None)
    clauses = "; ".join(short(h) for h in habits)
    amounts = [
        f"{float(value):.0f} {word}"
        for column, word in (("kcal", "kcal"), ("protein_g", "g protein"),
                             ("carbs_g", "g carbohydrate"), ("fat_g", "g fat"))
        if isinstance(value := shown.get(column), float) and math.isfinite(value)
    ]  # fmt: skip
    then = ""
    if amounts:
        then = f" With that, {PER.get(str(shown.get('basis')), 'it')} has {', '.join(amounts)}."
    return {
        "recipe_id": recipe_id, "kind": "habit", "line_no": line,
        "probability": min(h.probability for h in habits),
        "detail": f"{clauses[:1].upper()}{clauses[1:]}.{then}",
        **{c: shown.get(c, math.nan) for c in _COLUMNS},
        "basis": shown.get("basis", ""), "misfit": math.nan,
    }  # fmt: skip
