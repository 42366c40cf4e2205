"""Label foods into ``pantry.csv``: from pack values typed in, or from a look-up."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pipeline.memory.pantry import PantryFood, check_values, save_pantry_food
from pipeline.problems import failure


def add_to_pantry(path: Path, values: Mapping[str, object], *, force: bool = False) -> PantryFood:
    """Check pack values and write them into a pantry file.

    Args:
        path: ``pantry.csv``, made when missing; a food of the same name is replaced.
        values: per serving as the pack gives them, by column name; ``food_name``, ``serving_g``
            and ``kcal`` are needed. None and "" are values the pack does not give.
        force: write values that contradict one another all the same.

    Raises:
        SteelyardError: a value is missing or no number, or the values contradict one another
            (energy against 4/4/9 with fibre at 0 to 4 kcal/g, sums against the serving).

    Source:
        Factors of Regulation (EU) 1169/2011 Annex XIV and 21 CFR 101.9(c)(1)(i).
    """
    row = {name: str(value).strip() for name, value in values.items() if value not in (None, "")}
    food = f'"{row.get("food_name", "the food")}"'

    try:
        serving = float(row.get("serving_g", "nan").replace(",", "."))
        numbers = {
            name: float(text.replace(",", "."))
            for name, text in row.items()
            if name not in ("food_name", "aliases", "serving_name", "serving_g")
        }
    except ValueError as wrong:
        raise failure(
            "pantry-value-unreadable/added", source=path.name, food=food, said=wrong
        ) from wrong
    faults = check_values(numbers, serving) if serving > 0 else []
    if faults and not force:
        raise failure(
            "pantry-values-contradict", source=path.name, food=food, first=faults[0],
            listed="; ".join(faults),
        )  # fmt: skip
    try:
        return save_pantry_food(path, row)
    except ValueError as wrong:
        raise failure(
            "pantry-row-incomplete/added", source=path.name, food=food, said=wrong
        ) from wrong
    except OSError as wrong:  # TimeoutError of the lock among them
        said = str(wrong) or "another program holds it"
        raise failure("pantry-unwritable", source=str(path), name=path.name, said=said) from wrong
