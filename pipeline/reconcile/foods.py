"""The foods that a slip may have looked up: names, values per 100 g, neighbours."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import numpy as np

from pipeline import kept
from pipeline.compute.convention import factors
from pipeline.reconcile.model import CARBS, FAT, FIBRE, KCAL, PROTEIN, TAGS, Matrix, Vector
from pipeline.reconcile.variants import Neighbour, Variants
from pipeline.resources import shared_path, sql, sql_path

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.compute import Convention
    from pipeline.reconcile.arrays import Ints


@dataclass(slots=True)
class Foods:
    """The foods of a snapshot and pantry, ready for the search.

    Attributes:
        variants: index by name.
        values: (foods, tags) per 100 g in the order of ``model.TAGS``; NaN where missing.
        alcohol: (foods of the snapshot,) g per 100 g; the creator's own foods stand behind them.
        by_water: food → the one it differs from by water alone, -1 for none; filled when asked for.
    """

    variants: Variants
    values: Matrix
    alcohol: Vector
    by_water: dict[int, int] = field(default_factory=dict)

    def rows_of(self, food_ids: pd.Series) -> Ints:
        """Rows of foods by food_id, -1 for none."""
        at = self.variants.at
        return np.array([at.get(f, -1) for f in food_ids.tolist()], dtype=np.int64)

    def in_convention(self, convention: Convention) -> Foods:
        """The same foods counted as the collection counts; the creator's own keep their label's."""
        if convention.plain:
            return self
        f, values = factors(), self.values.copy()
        table = slice(0, len(self.alcohol))
        fibre = np.nan_to_num(values[table, FIBRE])
        total = values[table, CARBS].copy()
        available = np.maximum(total - fibre, 0.0)
        if convention.available:
            values[table, CARBS] = available
        kcal = f["protein"] * values[table, PROTEIN] + f["fat"] * values[table, FAT]
        kcal = kcal + f["alcohol"] * np.nan_to_num(self.alcohol)
        if convention.energy == "eu":
            kcal = kcal + f["carbs"] * available + f["fibre"] * fibre
        else:
            kcal = kcal + f["carbs"] * values[table, CARBS]
        if convention.energy != "table":
            values[table, KCAL] = np.where(np.isfinite(kcal), kcal, values[table, KCAL])
        return Foods(self.variants, values, self.alcohol)


#: Foods of the snapshots seen by this process, by snapshot_id.
_LOADED: dict[str, Foods] = {}


def load_foods(
    con: duckdb.DuckDBPyConnection, pantry_nutrient: pd.DataFrame | None = None
) -> Foods:
    """Names and values of every food; read once a snapshot and process.

    Args:
        pantry_nutrient: FOOD_NUTRIENT rows of the creator's own foods.
    """
    try:
        row = con.execute("select snapshot_id from snapshot").fetchone()
    except duckdb.CatalogException:  # tables that belong to no snapshot
        row = None
    key = str(row[0]) if row else ""
    foods = _LOADED.get(key) if key else None
    if foods is None:
        foods = _kept_foods(con, key) if key else _read_foods(con)
        if key:
            _LOADED.clear()  # one snapshot is in force at a time
            _LOADED[key] = foods
    if pantry_nutrient is None or pantry_nutrient.empty:
        return foods
    own = pantry_nutrient.pivot_table(
        index="food_id", columns="nutrient", values="amount_per_100g", aggfunc="first"
    ).reindex(columns=list(TAGS))
    ids = [str(food_id) for food_id in own.index]
    names = [food_id.partition(":")[2].replace("-", " ") for food_id in ids]
    variants = foods.variants.and_own(ids, names, own.to_numpy(dtype=np.float64))
    return Foods(variants, variants.values, foods.alcohol)


def _kept_foods(con: duckdb.DuckDBPyConnection, snapshot_id: str) -> Foods:
    """The foods as they were kept beside the snapshot, or read again and kept."""
    row = con.execute("select path from duckdb_databases() where path is not null").fetchone()
    folder = Path(str(row[0])).parent if row else None
    if folder is None or folder.name != snapshot_id:  # no snapshot of its own folder
        return _read_foods(con)
    here = Path(__file__).parent
    code = [
        here / "foods.py", here / "variants.py", here / "model.py", here / "arrays.py",
        shared_path("variant_words.csv"), sql_path("reconcile_profile"), *sorted((here.parent / "foods").glob("*.py")),
    ]  # fmt: skip
    path = folder / f"variants-{kept.key([snapshot_id], code)}.bin"
    got = kept.read(path)
    if got is None:
        foods = _read_foods(con)
        kept.save(path, {"variants": foods.variants.plain(), "alcohol": kept.packed(foods.alcohol)})
        return foods
    variants = Variants.of_plain(got["variants"])
    return Foods(variants, variants.values, kept.unpacked(got["alcohol"]))


def _read_foods(con: duckdb.DuckDBPyConnection) -> Foods:
    tags = (*TAGS, "ALC")
    columns = [f"v{i}" for i in range(len(tags))]
    pivot = ", ".join(
        f"any_value(amount_per_100g) filter (where nutrient = '{tag}') as {column}"
        for tag, column in zip(tags, columns, strict=True)
    )
    wanted = ", ".join(f"'{tag}'" for tag in tags)
    frame = con.execute(
        f"""
        with wide as (
            select food_id, {pivot} from food_nutrient where nutrient in ({wanted}) group by food_id
        )
        select food.food_id, food.description, food.category, {", ".join(columns)}
        from food left join wide using (food_id)
        where not food.reference
        order by food.food_id
        """
    ).df()
    values = frame[columns[:-1]].to_numpy(dtype=np.float64)
    alcohol = frame[columns[-1]].to_numpy(dtype=np.float64)
    names = frame[["food_id", "description", "category"]]
    rows = con.execute(sql("reconcile_profile")).fetchall()
    neighbours = [
        Neighbour.of_row(row, d) for row, d in zip(rows, names["description"], strict=True)
    ]
    return Foods(Variants(names, values, list(TAGS), neighbours), values, alcohol)
