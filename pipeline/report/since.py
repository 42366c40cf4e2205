"""What moved between two runs on one collection, in lines to print."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from pipeline.report.frames import Row, records
from pipeline.report.words import amount, plural, verdict_word

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result


def what_moved(before: Result, after: Result) -> list[str]:
    """Recipes that came, went, or have another verdict or other energy; problems new and settled.

    Args:
        before, after: results of the same collection.

    Returns:
        One line per fact, "" never among them; empty when nothing moved.
    """
    was, now = ({r["recipe_id"]: r for r in records(one.recipes)} for one in (before, after))
    lines = [f"{_titled(was[r])}: no longer there" for r in was if r not in now]
    for recipe_id, row in now.items():
        if recipe_id not in was:
            lines.append(f"{_titled(row)}: new, {verdict_word(row['verdict'])}{_numbers(row)}")
        elif moves := _moves(was[recipe_id], row):
            lines.append(f"{_titled(row)}: {', '.join(moves)}")
    lines += _problems(before.problems, after.problems)
    old, new = len(before.to_review), len(after.to_review)
    if old != new:
        lines.append(f"{plural(new, 'line is', 'lines are')} worth a look, {old:,d} before")
    return lines


def _titled(row: Row) -> str:
    return str(row["title"] or row["recipe_id"])


def _numbers(row: Row) -> str:
    stated, computed = (amount(row[f"kcal_{side}"], "kcal") for side in ("stated", "computed"))
    return f"; {stated} stated, {computed} computed"


def _moves(was: Row, now: Row) -> list[str]:
    moves = []
    if was["verdict"] != now["verdict"]:
        moves.append(f"{verdict_word(was['verdict'])} → {verdict_word(now['verdict'])}")
    for side in ("stated", "computed"):
        old, new = (amount(row[f"kcal_{side}"], "kcal") for row in (was, now))
        if old != new:
            moves.append(f"{old} → {new} {side}")
    return moves


def _problems(before: pd.DataFrame, after: pd.DataFrame) -> list[str]:
    old, new = _counted(before), _counted(after)
    lines = [f"{where}{what}" for where, what in (new - old).elements()]
    settled = (old - new).total()
    return lines[:12] + ([f"{plural(settled, 'problem')} settled"] if settled else [])


def _counted(problems: pd.DataFrame) -> Counter[tuple[str, str]]:
    """Problems without their places in the file, which shift with every edit."""
    return Counter(
        (f"{row['source']}: " if row["source"] else "", f"{row['what']} [{row['code']}]")
        for row in records(problems)
    )
