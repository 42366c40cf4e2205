"""The foods of a snapshot as plain columns, the preferred source first: what matching needs."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

MACROS = ("kcal", "protein_g", "fat_g", "carb_g")


@dataclass(frozen=True, slots=True)
class Foods:
    """Columns of equal length, one entry a food.

    Attributes:
        ids, codes, descriptions, common_names, categories, makers: text, "" when none.
        survey: the table's makers use the food in the dietary survey.
        macros: shape (foods, 4): kcal, then g protein, fat, carbohydrate per 100 g; NaN missing.
    """

    ids: list[str]
    codes: list[str]
    descriptions: list[str]
    common_names: list[str]
    categories: list[str]
    makers: list[str]
    survey: list[bool]
    macros: Floats

    def __len__(self) -> int:
        return len(self.ids)


def load_foods(con: duckdb.DuckDBPyConnection) -> Foods:
    """Read the foods of an open snapshot."""
    got = con.execute(
        """
        select food_id, source_code, description, coalesce(common_name, ''),
               coalesce(category, ''), coalesce(manufacturer, ''), coalesce(survey, false)
        from food order by preference, food_id
        """
    ).fetchall()
    columns = list(zip(*got, strict=True)) or [()] * 7
    macros = con.execute(
        """
        select m.kcal, m.protein_g, m.fat_g, m.carbs_g
        from food left join food_macros as m using (food_id) order by food.preference, food_id
        """
    ).fetchnumpy()
    table = np.column_stack(
        [np.ma.filled(np.ma.asarray(v, dtype=np.float64), np.nan) for v in macros.values()]
    )
    return Foods(
        ids=list(columns[0]), codes=list(columns[1]), descriptions=list(columns[2]),
        common_names=list(columns[3]), categories=list(columns[4]), makers=list(columns[5]),
        survey=list(columns[6]), macros=table,
    )  # fmt: skip
