"""Habits in a bulk run: a creator is seen whole wherever the parts are cut."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import duckdb
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "habits"))
from kitchen import LIGHT, cheese_dishes, dish, lay_out, table

from pipeline.bulk.schedule import verify_bulk
from pipeline.run import verify


@pytest.mark.soak
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
    done = verify_bulk(whole, tmp_path / "out", part_recipes=7, workers=1, small_bytes=0)
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


@pytest.mark.soak
def test_a_creator_scattered_over_twenty_parts_is_seen_whole(tmp_path: Path, snapshot: Any) -> None:
    """Every recipe of one creator stands alone among those of others."""
    foods = table(snapshot)
    mine = [
        dish(("cheddar cheese", 40 + n), (rest, 80 + 3 * n), ("raw carrots", 50 + 5 * n))
        for n, rest in enumerate(["cooked quinoa", "cooked chickpeas", "dry couscous"] * 17)
    ][:50]  # fmt: skip
    folder = lay_out(tmp_path / "k", mine, {**foods, "cheddar cheese": LIGHT})
    others = lay_out(tmp_path / "h", mine[:3], foods)
    rows = []
    for n, path in enumerate(sorted(folder.iterdir())):
        rows.append(json.loads(path.read_text(encoding="utf-8")))
        if n % 5 < 2:
            continue
        for k, honest in enumerate(sorted(others.iterdir())):
            page = json.loads(honest.read_text(encoding="utf-8"))
            page["identifier"] = f"h{n}-{k}"
            page["author"]["name"] = f"Lock {n}"
            rows.append(page)
    whole = tmp_path / "all.jsonl"
    whole.write_text("\n".join(json.dumps(r) for r in rows) + "\n", encoding="utf-8")
    done = verify_bulk(whole, tmp_path / "out", part_recipes=7, workers=1, small_bytes=0)
    assert done.parts >= 20
    plain = verify(whole)
    with duckdb.connect() as con:

        def of(name: str, order: str) -> pd.DataFrame:
            return con.execute(
                f"select * from read_parquet('{done.folder}/{name}/*.parquet',"
                f" union_by_name = true) order by {order}"
            ).df()

        found, recipes = of("habits", "creator, phrase"), of("recipes", "recipe_id")
    assert found["phrase"].tolist() == plain.habits["phrase"].tolist() == ["cheddar cheese"]
    assert found["recipe_ids"].tolist() == plain.habits["recipe_ids"].tolist()
    assert found["probability"].tolist() == plain.habits["probability"].tolist()
    expected = plain.recipes.sort_values("recipe_id")["verdict"].tolist()
    assert recipes["verdict"].tolist() == expected
