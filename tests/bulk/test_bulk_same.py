"""A bulk run says what a plain run says, however the collection is cut and whoever does the work."""

from __future__ import annotations

from pathlib import Path

import duckdb
import pandas as pd
import pytest
from bulk_cases import rows, write

from pipeline.bulk import verify_bulk
from pipeline.report.tables import LAYOUT, tables
from pipeline.run import verify


def in_bulk(folder: Path, name: str) -> pd.DataFrame:
    """One table of a bulk run."""
    with duckdb.connect() as con:
        return con.execute(
            f"select * from read_parquet('{folder}/{name}/*.parquet', union_by_name = true)"
        ).df()


def same(one: pd.DataFrame, other: pd.DataFrame, keys: list[str]) -> None:
    """Equal in all but the order of rows."""
    other = other[list(one.columns)]
    made = [
        f.astype(object).where(f.notna(), None).sort_values(keys, ignore_index=True)
        for f in (one, other)
    ]
    pd.testing.assert_frame_equal(*made, check_dtype=False, rtol=1e-9)


KEYS = {
    "recipes": ["recipe_id"], "findings": ["recipe_id", "nutrient"],
    "lines": ["recipe_id", "line_no"], "explanations": ["recipe_id", "rank"],
    "to_review": ["recipe_id", "line_no"], "corrected": ["recipe_id", "basis"],
    "claims": ["recipe_id", "claim", "jurisdiction"],
    "problems": ["code", "recipe_id", "line_no", "what"],
}  # fmt: skip


@pytest.fixture(scope="module", params=["tidy", "wide", "parquet", "jsonl"])
def both(request, tmp_path_factory, snapshot):
    """The same collection through the plain run and through the bulk run."""
    folder = tmp_path_factory.mktemp(request.param)
    path = write(request.param, rows(45), folder / "in")
    bulk = verify_bulk(path, folder / "out", part_recipes=7, workers=1, small_bytes=0)
    return verify(path), bulk


@pytest.mark.parametrize("name", list(LAYOUT))
def test_every_table_is_the_same(both, name):
    plain, bulk = both
    expected = next(t.frame for t in tables(plain) if t.name == name)
    got = in_bulk(Path(bulk.folder), name)
    if expected.empty:
        assert got.empty
        return
    if "source_line" in expected and plain.collection.recipe["format"].iloc[0] == "json":
        # a recipe on one line stands on that line; the plain run looks its strings up in the text
        assert got["source_line"].dropna().between(1, 45).all()
        expected, got = expected.drop(columns="source_line"), got.drop(columns="source_line")
    same(expected, got, KEYS[name])


def test_it_was_really_cut_and_recipes_of_other_parts_were_used(both):
    plain, bulk = both
    assert bulk.parts >= 7
    used = plain.lines[plain.lines["origin"] == "recipe"]
    assert used["recipe_id"].nunique() > 3
    assert set(used["food_id"]) == {"recipe:r5", "recipe:r17"}
    assert bulk.verdicts == plain.counts()
    assert bulk.recipes == len(plain.recipes)
