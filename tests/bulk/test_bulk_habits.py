"""Habits in a bulk run: a creator is seen whole wherever the parts are cut."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "habits"))
from kitchen import LIGHT, cheese_dishes, lay_out, table

from pipeline.bulk import verify_bulk
from pipeline.run import verify


def test_a_creator_cut_in_two_has_the_habits_of_one(tmp_path: Path, snapshot: Any) -> None:
    foods = table(snapshot)
    folder = lay_out(tmp_path / "k", cheese_dishes(), {**foods, "cheddar cheese": LIGHT})
    lines = []
    for n in range(3):  # two honest creators before and behind
        who = ("Ada Weir", "Odile Farran", "Pim Sluice")[n]
        honest = lay_out(tmp_path / f"h{n}", cheese_dishes(), foods)
        for path in sorted((folder if n == 1 else honest).iterdir()):
            page = json.loads(path.read_text(encoding="utf-8"))
            page["identifier"] = f"{n}-{page['identifier']}"
            page["author"]["name"] = who
            lines.append(json.dumps(page))
    whole = tmp_path / "all.jsonl"
    whole.write_text("\n".join(lines) + "\n", encoding="utf-8")
    done = verify_bulk(whole, tmp_path / "out", part_recipes=5, workers=1, small_bytes=0)
    assert done.parts > 3
    with duckdb.connect() as con:
        found = con.execute(
            f"select * from read_parquet('{done.folder}/habits/*.parquet', union_by_name = true)"
        ).df()
        kinds = con.execute(
            f"select kind, count(*) from read_parquet('{done.folder}/explanations/*.parquet',"
            " union_by_name = true) where rank = 1 group by kind"
        ).fetchall()
    plain = verify(whole).habits
    assert found["phrase"].tolist() == ["cheddar cheese"]
    assert found["creator"].tolist() == ["Odile Farran"]
    pd.testing.assert_frame_equal(
        found[["recipe_ids", "probability", "kcal", "agree_then"]],
        plain[["recipe_ids", "probability", "kcal", "agree_then"]],
        check_dtype=False,
    )
    assert {k for k, _ in kinds} == {"habit"}
