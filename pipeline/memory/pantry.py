"""The creator's own label foods: values per serving from the pack, and what a scoop weighs."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from pipeline.memory.files import Row, number, read_rows, replace_row, unread_columns
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import Problem, input_problem

COLUMNS = [
    "food_name", "aliases", "serving_name", "serving_g",
    "kcal", "protein_g", "carbs_g", "fat_g", "fiber_g", "sugar_g", "satfat_g", "sodium_mg",
]  # fmt: skip
_NEEDED = ("food_name", "serving_g", "kcal")
_VALUES = tuple(c for c in COLUMNS if c in BY_COLUMN)
_OTHER_NAMES = {
    "name": "food_name", "food": "food_name", "fibre_g": "fiber_g", "carb_g": "carbs_g",
    "sugars_g": "sugar_g", "saturates_g": "satfat_g", "energy_kcal": "kcal", "calories": "kcal",
    "serving": "serving_name", "serving_size_g": "serving_g",
}  # fmt: skip


#: What a gram of any food can hold, by unit; pure fat of specific factors comes to 9.02 kcal.
_MOST_A_GRAM = {"kcal": 9.1, "g": 1.0, "mg": 1_000.0}
#: What a label may have rounded up, by unit (21 CFR 101.9(c): energy to 10 kcal, grams to 1 g, sodium
#: to 10 mg), and the share that the weight of a serving itself may be rounded by.
_ROUNDED_UP = {"kcal": 5.0, "g": 0.5, "mg": 5.0}
_SERVING_ROUNDED = 1.05
_LEAST_SERVING_G, _MOST_SERVING_G = 0.001, 100_000.0


@dataclass(frozen=True, slots=True)
class PantryFood:
    """One label food.

    Attributes:
        food_id: ``pantry:`` and a slug of the name.
        name: as the creator calls it; aliases: other names.
        serving_name: "1 scoop"; serving_g: what that serving weighs.
        per_100g: INFOODS tagname → kcal, g or mg per 100 g; a value that the pack does not give
            is absent, never zero.
    """

    food_id: str
    name: str
    aliases: tuple[str, ...]
    serving_name: str
    serving_g: float
    per_100g: dict[str, float]


@dataclass(slots=True)
class Pantry:
    """All label foods of a collection."""

    by_id: dict[str, PantryFood] = field(default_factory=dict)
    path: Path | None = None

    def add(self, food: PantryFood) -> None:
        """Add a food; the last of equal ids stands."""
        self.by_id.pop(food.food_id, None)
        self.by_id[food.food_id] = food

    @property
    def foods(self) -> list[PantryFood]:
        """The foods in the order of the file."""
        return list(self.by_id.values())


def pantry_id(name: str) -> str:
    """``Chocolate pea protein`` → ``pantry:chocolate-pea-protein``."""
    return "pantry:" + (re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "food")


def check_values(row: dict[str, float], serving_g: float) -> list[str]:
    """What cannot be right about label values per serving, in plain words; empty when fine.

    Energy is held against 4/4/9 with fibre at 0, 2 and 4 kcal/g (Regulation (EU) 1169/2011
    Annex XIV; 21 CFR 101.9(c)(1)(i)), with room for rounding, polyols and alcohol.
    """
    faults: list[str] = []
    macros = [row.get(k) for k in ("protein_g", "carbs_g", "fat_g")]
    known = sum(v for v in macros if v is not None)
    if known > serving_g * 1.01 + 0.5:
        faults.append(
            f"protein, carbohydrate and fat come to {known:g} g in a serving of {serving_g:g} g"
        )
    for part, whole in (("sugar_g", "carbs_g"), ("satfat_g", "fat_g")):
        if part in row and whole in row and row[part] > row[whole] + 0.5:
            faults.append(f"{part} {row[part]:g} is more than {whole} {row[whole]:g}")
    if all(v is not None for v in macros) and "kcal" in row:
        protein, carbs, fat = (float(v or 0) for v in macros)
        fibre = row.get("fiber_g", 0.0)
        base = 4 * protein + 4 * carbs + 9 * fat
        low, high = base - 4 * fibre, base + 2 * fibre
        slack = 15 + 0.12 * base
        if not low - slack <= row["kcal"] <= high + slack:
            faults.append(
                f"{row['kcal']:g} kcal does not follow from the macros ({base:.0f} kcal at 4/4/9)"
            )
    if "kcal" in row and serving_g > 0 and row["kcal"] / serving_g > 9.1:
        faults.append(f"{row['kcal']:g} kcal in {serving_g:g} g is more than pure fat holds")
    return faults


def beyond_any_food(row: dict[str, float], serving_g: float) -> list[str]:
    """Which label values per serving no food can have, in plain words; empty when all can be.

    ``check_values`` doubts; this says what cannot be whatever the label rounds: more of something
    than the serving weighs, or more energy than pure fat has.

    Args:
        row: values by column of the pantry.
        serving_g: what a serving weighs.
    """

    def room(unit: str, roundings: int = 1) -> float:
        weight = serving_g * _SERVING_ROUNDED if unit != "kcal" else serving_g
        return _MOST_A_GRAM[unit] * weight + roundings * _ROUNDED_UP[unit]

    beyond = [
        f"{column} {value:g} in {serving_g:g} g"
        for column, value in row.items()
        if value > room(BY_COLUMN[column].unit)
    ]
    macros = [row[c] for c in ("protein_g", "carbs_g", "fat_g") if row.get(c)]
    if not beyond and sum(macros) > room("g", len(macros)):
        beyond.append(f"protein, carbohydrate and fat of {sum(macros):g} g in {serving_g:g} g")
    return beyond


def load_pantry(path: Path | None) -> tuple[Pantry, list[Problem]]:
    """Read a pantry file; a row that cannot be used is a problem and the rest stands.

    Args:
        path: CSV or YAML; None or a missing file gives an empty pantry.
    """
    pantry = Pantry(path=path)
    if path is None or not path.is_file():
        return pantry, []
    rows, problems = read_rows(path, "foods")
    problems += unread_columns(rows, COLUMNS, _OTHER_NAMES, path)
    for line, raw in rows:
        row = {_OTHER_NAMES.get(k, k): v for k, v in raw.items()}
        food, found = _food(row, path.name, line)
        problems += found
        if food is None:
            continue
        if food.food_id in pantry.by_id:
            told = partial(input_problem, source=path.name, source_line=line)
            problems.append(told("pantry-duplicate", name=food.name))
        pantry.add(food)
    return pantry, problems


def _food(row: dict[str, str], source: str, line: int) -> tuple[PantryFood | None, list[Problem]]:
    name = row.get("food_name", "")
    problem = partial(input_problem, source=source, source_line=line, name=name)
    values, fault = _numbers(row, problem)
    if fault:
        return None, [fault]
    serving = values.pop("serving_g")
    per_100g = {BY_COLUMN[c].tag: v * 100 / serving for c, v in values.items()}
    beyond = beyond_any_food(values, serving)
    if not _LEAST_SERVING_G <= serving <= _MOST_SERVING_G:
        beyond.append(f"a serving of {serving:g} g")
    if beyond:
        return None, [problem("pantry-value-impossible", beyond=beyond[0])]
    problems = [
        problem("pantry-values-doubtful", fault=fault) for fault in check_values(values, serving)
    ]
    aliases = tuple(a.strip() for a in row.get("aliases", "").split(";") if a.strip())
    food = PantryFood(
        pantry_id(name), name, aliases, row.get("serving_name", ""), serving, per_100g
    )
    return food, problems


def _numbers(
    row: dict[str, str], problem: Callable[..., Problem]
) -> tuple[dict[str, float], Problem | None]:
    """The numbers of a row by column, or why it has to be left out."""
    missing = [c for c in _NEEDED if not row.get(c)]
    if missing:
        named = row.get("food_name", "") or "without a name"
        return {}, problem("pantry-row-incomplete", name=named, missing=", ".join(missing))
    values: dict[str, float] = {}
    for column in ("serving_g", *_VALUES):
        text = row.get(column, "")
        if not text:
            continue
        value = number(text)
        if value is None or value < 0 or (column == "serving_g" and value == 0):
            return {}, problem("pantry-value-unreadable", column=column, written=text)
        values[column] = value
    return values, None


def save_pantry_food(path: Path, values: dict[str, str]) -> PantryFood:
    """Add a label food to a pantry CSV, or replace the one of that name; atomic and locked.

    Args:
        path: the CSV; created with a header when missing.
        values: by column name, per serving; ``food_name``, ``serving_g``, ``kcal`` are needed.

    Raises:
        ValueError: a value is missing or no number; the message says which.
        SteelyardError: the file cannot be read or is no CSV; it is left as it is.
        TimeoutError: another process holds the file.
    """
    food = read_pantry_food(values)
    new = {k: str(v) for k, v in values.items()}
    change_pantry_row(path, food.food_id, lambda _: {**dict.fromkeys(COLUMNS, ""), **new})
    return food


def read_pantry_food(values: dict[str, str]) -> PantryFood:
    """The food of one row, by column name, per serving.

    Raises:
        ValueError: a value is missing or no number; the message says which.
    """
    food, problems = _food(values, "", 0)
    if food is None:
        raise ValueError(f"{problems[0].what}; {problems[0].fix}")
    return food


def change_pantry_row(
    path: Path, food_id: str, change: Callable[[Row | None], Row | None]
) -> tuple[Row | None, Row | None]:
    """Replace the row of a pantry food by what ``change`` makes of it, in one locked step.

    Args:
        path: the CSV; made when missing.
        food_id: as ``pantry_id`` gives it for the row's name.
        change: gets the row in the file now, None when there is none; returns the new one, None to
            have none. It may raise to leave the file as it was.

    Returns:
        The row before and after, by column name.

    Raises:
        SteelyardError, TimeoutError, OSError: as ``files.replace_row``.
    """
    return replace_row(
        path, "foods", COLUMNS, lambda r: pantry_id(r.get("food_name", "")) == food_id, change,
        names=_OTHER_NAMES,
    )  # fmt: skip
