"""Foods of the table with their profiles, for people and for programs."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rich.table import Table

    from pipeline.foods import Profile
    from pipeline.match.search import FoundFood

_VALUES = ("kcal", "protein_g", "carb_g", "fat_g")
#: Fields that are True, False or unsaid, and the words for the first two.
_SAID = {
    "drained": ("drained", "with its liquid"),
    "salt_added": ("salt added", "no salt added"),
    "sugar_added": ("sugar added", "no sugar added"),
    "vitamins_added": ("vitamins added", "no vitamins added"),
    "fat_added": ("fat added in cooking", "no fat added in cooking"),
    "skin": ("with skin", "without skin"),
    "bone": ("with bone", "without bone"),
    "lean_only": ("lean only", "lean and fat"),
}
_PERCENT = {"fat_pct": "fat", "lean_pct": "lean", "cocoa_pct": "cocoa"}


def _percent(low: float, high: float) -> str:
    return f"{low:g} %" if low == high else f"{low:g} to {high:g} %"


def _more(profile: Profile) -> list[str]:
    """What the description gives beside name and states, in words."""
    found = [w for w in (profile.form, profile.medium and f"in {profile.medium}") if w]
    for name, (yes, no) in _SAID.items():
        value = getattr(profile, name)
        if value is not None:
            found.append(yes if value else no)
    for name, word in _PERCENT.items():
        value = getattr(profile, name)
        if value is not None:
            found.append(f"{word} {_percent(*value)}")
    found += [w.replace("_", " ") for w in sorted(profile.treated)]
    found += [w for w in (profile.origin, profile.maker) if w]
    return [w.replace("_", " ") for w in found]


def profile_table(found: Sequence[FoundFood], profiles: Mapping[str, Profile]) -> Table:
    """The answer of ``steelyard foods --profile``; a state that only the composition tells has a *.

    Args:
        found: foods in the order of the search.
        profiles: food_id → profile; a label food has none, and its row says so.
    """
    from rich.markup import escape

    from pipeline.report.terminal import plain_table

    table = plain_table("id", "food", "head", "kind", "part", "states", "more", "LanguaL")
    for food in found:
        profile = profiles.get(food.food_id)
        if profile is None:
            table.add_row(food.food_id, escape(food.description), *["–"] * 4, "label food", "–")
            continue
        states = [s + ("*" if s in profile.derived else "") for s in sorted(profile.states)]
        codes = sorted(c for group in profile.facets.values() for c in group)
        cells = (
            food.description, " ".join(profile.head), " ".join(profile.kind),
            ", ".join(profile.part), ", ".join(states), ", ".join(_more(profile)), " ".join(codes),
        )  # fmt: skip
        table.add_row(food.food_id, *(escape(cell) for cell in cells))
    return table


def foods_json(found: Sequence[FoundFood], profiles: Mapping[str, Profile]) -> list[dict[str, Any]]:
    """The same as plain data: a missing amount or an unsaid property is null, a set a sorted list."""
    rows = []
    for food in found:
        row: dict[str, Any] = {
            "food_id": food.food_id, "description": food.description, "category": food.category,
        }  # fmt: skip
        for name in _VALUES:
            value = float(getattr(food, name))
            row[name] = None if math.isnan(value) else value
        profile = profiles.get(food.food_id)
        if profile is not None:
            row["profile"] = {
                name: _plain(getattr(profile, name)) for name in profile.__dataclass_fields__
            }
        rows.append(row)
    return rows


def _plain(value: object) -> object:
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return value
