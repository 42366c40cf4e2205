"""A bulk run says what a plain run says, however the collection is cut and whoever does the work."""

from __future__ import annotations

import hashlib
import json
import random
from pathlib import Path

import duckdb
import pandas as pd
import pytest

from pipeline.bulk import verify_bulk
from pipeline.report.tables import LAYOUT, tables
from pipeline.run import verify

DISHES = ["Quay soup", "Rope noodles", "Cleat curry", "Hawser pie", "Bollard salad", "Capstan stew"]
LINES = [
    "200 g red lentils, rinsed", "1 tbsp olive oil", "2 large eggs", "150 g cooked brown rice",
    "1 x 400 g tin chickpeas, drained", "half a medium apple", "salt to taste", "1 cup milk",
    "3 cloves garlic", "250 g chicken breast", "30 g parmesan", "1 kg something unheard of",
    "2 portions of the base dressing", "For the sauce:", "1 batch deck sauce", "100 g potatoes",
]  # fmt: skip


def rows(count: int, seed: int = 3) -> list[dict[str, object]]:
    """Recipes of an invented harbour, some of which use others."""
    dice = random.Random(seed)
    out: list[dict[str, object]] = []
    for n in range(count):
        title = f"{dice.choice(DISHES)} {n}"
        if n == 5:
            title = "Base dressing"
        if n == 17:
            title = "Deck sauce"
        lines = dice.sample(LINES, dice.randint(3, 7))
        if n in (5, 17):
            lines = [line for line in lines if "deck" not in line and "base" not in line]
        if n == 5:
            lines.append("half the deck sauce")
        out.append(
            {"id": f"r{n // 2 if n in (8, 9) else n}", "title": title,
             "servings": dice.randint(1, 6), "lines": lines, "kcal": dice.randint(80, 900),
             "protein_g": dice.randint(2, 60)}
        )  # fmt: skip
    return out


def write(kind: str, recipes: list[dict[str, object]], folder: Path) -> Path:
    """The recipes as one file: tidy or wide CSV, Parquet, or JSON lines."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"harbour.{'csv' if kind in ('tidy', 'wide') else kind}"
    if kind == "jsonl":
        text = "".join(
            json.dumps({"id": r["id"], "title": r["title"], "servings": str(r["servings"]),
                        "ingredients": r["lines"],
                        "stated": {"basis": "per_serving", "kcal": r["kcal"],
                                   "protein_g": r["protein_g"]}}) + "\n"
            for r in recipes
        )  # fmt: skip
        path.write_text(text, encoding="utf-8")
        return path
    frame = pd.DataFrame(recipes)
    if kind == "wide":
        frame["ingredients"] = ["\n".join(x) for x in frame.pop("lines")]
    else:
        frame = frame.explode("lines").rename(columns={"lines": "line"})
        if kind == "tidy":  # what a spreadsheet leaves empty belongs to the recipe above
            again = frame["id"].duplicated() & (frame["id"] != "r4")
            frame["title"] = frame["title"].where(~again, "")
            frame["id"] = frame["id"].where(~again, "")
    with duckdb.connect() as con:
        con.register("frame", frame.astype(dict.fromkeys(frame.columns, object)))
        how = "(header)" if path.suffix == ".csv" else "(format parquet)"
        con.execute(f"copy (select * from frame) to '{path}' {how}")
    return path


def digests(folder: Path) -> dict[str, str]:
    """Every file below a folder with the hash of its bytes."""
    return {
        p.relative_to(folder).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


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
