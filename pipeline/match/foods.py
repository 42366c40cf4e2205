"""The foods of a snapshot as plain columns, the preferred source first: what matching needs."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb
import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

MACROS = ("kcal", "protein_g", "fat_g", "carb_g")


#: States that do not part the kinds of a food: all are sold fresh or frozen, whole or peeled.
SAME_KIND = frozenset({"fresh", "frozen", "peeled", "dry"})
#: SR Legacy is SR28's own successor, with its numbers: one table, whichever release a food is of.
SAME_TABLE = {"sr_legacy": "sr28"}


@dataclass(frozen=True, slots=True)
class Foods:
    """Columns of equal length, one entry per food.

    Attributes:
        ids, sources, codes, descriptions, common_names, categories, makers: text, "" when none.
        survey: the table's makers use the food in the dietary survey.
        states: what the profile says of the food (``food_profile``), composition included.
        branded: the description names a maker.
        answers: may be an answer to a line: not of a table that only lends, and with energy and
            macros.
        lenders: food_id of the measured food of the same number in the reference table, or "".
        kinds: words of kind or variety of the profile ("atlantic", "wild").
        families: a number shared by the foods of one table that differ in kind alone: same head,
            part, states, form, medium, fat and lean.
        macros: shape (foods, 4): kcal, then g protein, fat, carbohydrate per 100 g; NaN missing.
    """

    ids: list[str]
    sources: list[str]
    codes: list[str]
    descriptions: list[str]
    common_names: list[str]
    categories: list[str]
    makers: list[str]
    survey: list[bool]
    states: list[frozenset[str]]
    branded: list[bool]
    answers: list[bool]
    lenders: list[str]
    kinds: list[frozenset[str]]
    families: list[int]
    macros: Floats

    def __len__(self) -> int:
        return len(self.ids)


def load_foods(con: duckdb.DuckDBPyConnection) -> Foods:
    """Read the foods of an open snapshot."""
    columns = con.execute(
        """
        select food_id, food.source, source_code, description, coalesce(common_name, ''),
               coalesce(category, ''), coalesce(manufacturer, ''), coalesce(survey, false),
               coalesce(states, []), coalesce(brand, false), complete and not reference,
               coalesce(reference_id, ''), coalesce(kind, []),
               dense_rank() over (
                   order by food.source, category, head, list_sort(part),
                            list_sort(list_filter(states, lambda s: s not in $of_keeping
                                and not (s in ('raw', 'cooked') and 'prepared' in states))),
                            form, medium, drained, fat_pct_low, lean_pct_low, sugar_added
               ), m.kcal, m.protein_g, m.fat_g, m.carbs_g
        from food
        left join food_profile using (food_id)
        left join food_macros as m using (food_id)
        order by food.preference, food.source, food_id
        """,
        {"of_keeping": sorted(SAME_KIND)},
    ).fetchnumpy()
    table = list(columns.values())
    text = [[str(v) for v in column] for column in table[:7]]
    macros = np.column_stack(
        [np.ma.filled(np.ma.asarray(v, dtype=np.float64), np.nan) for v in table[14:]]
    )
    return Foods(
        ids=text[0], sources=[SAME_TABLE.get(s, s) for s in text[1]], codes=text[2],
        descriptions=text[3], common_names=text[4], categories=text[5],
        makers=text[6], survey=[bool(v) for v in table[7]],
        states=[frozenset(v) for v in table[8]], branded=[bool(v) for v in table[9]],
        answers=[bool(v) for v in table[10]], lenders=[str(v) for v in table[11]],
        kinds=[frozenset(v) for v in table[12]], families=[int(v) for v in table[13]],
        macros=macros,
    )  # fmt: skip
