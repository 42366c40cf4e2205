"""An invented harbour's recipes in every streamed form, and hashes of what a run wrote."""

from __future__ import annotations

import hashlib
import json
import random
from pathlib import Path

import duckdb
import pandas as pd

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
