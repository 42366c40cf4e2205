"""Label foods into ``pantry.csv``: from pack values typed in, or from a look-up."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from pipeline.memory.pantry import PantryFood, check_values, save_pantry_food
from pipeline.problems import SteelyardError


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

    def fault(code: str, what: str, why: object, fix: str, source: str = "") -> SteelyardError:
        return SteelyardError.of(code, what, str(why), fix, source=source or path.name)

    try:
        serving = float(row.get("serving_g", "nan").replace(",", "."))
        numbers = {
            name: float(text.replace(",", "."))
            for name, text in row.items()
            if name not in ("food_name", "aliases", "serving_name", "serving_g")
        }
    except ValueError as wrong:
        what = f"{food} has a value that is no number"
        fix = "write plain numbers per serving, e.g. 30 or 6.5"
        raise fault("pantry-value-unreadable", what, wrong, fix) from wrong
    faults = check_values(numbers, serving) if serving > 0 else []
    if faults and not force:
        raise fault(
            "pantry-values-contradict",
            f"the values of {food} contradict one another: {faults[0]}",
            "; ".join(faults) + ". Nothing was written",
            "compare them with the pack (per serving, not per 100 g?); --force keeps them",
        )
    try:
        return save_pantry_food(path, row)
    except ValueError as wrong:
        what, fix = (
            f"{food} cannot go into the pantry",
            "food_name, serving_g and kcal per serving are needed",
        )
        raise fault("pantry-row-incomplete", what, wrong, fix) from wrong
    except OSError as wrong:  # TimeoutError of the lock among them
        what = f'"{path.name}" could not be written'
        why = str(wrong) or "another program holds it"
        fix = "close other programs that use it, or check its folder"
        raise fault("pantry-unwritable", what, why, fix, str(path)) from wrong
