"""Synthetic collections of any size, from a grammar of lines; seeded, so a size is one file.

Names are what cooks call foods (``shared/words/en.csv``), with words in front and preparations behind;
amounts are weights, or the food table's own household measures, so every line has a true weight
and every recipe true totals. A fifth of the lines are distinct. Stated numbers are the true totals
per serving with noise of 2 % a macro and rounding; one recipe in ten carries a mistake.
"""

from __future__ import annotations

import csv
import random
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from pipeline.match.index import Index
    from pipeline.snapshot import Snapshot

FOUR = ("kcal", "protein_g", "carbs_g", "fat_g")
DISTINCT_SHARE = 0.2
FAULTY_SHARE = 0.1
LINES_A_RECIPE = 10
_BEFORE = ("", "", "", "", "", "fresh ", "organic ", "good-quality ", "ripe ", "best ")
_AFTER = (
    "", "", "", "", "", "", ", chopped", ", finely chopped", ", diced", ", sliced", ", rinsed",
    ", crushed", ", at room temperature", " (about)", ", divided", ", plus extra to serve",
)  # fmt: skip
_MASS = ((1.0, "g"), (1.0, " g"), (1.0, " grams"), (28.349523125, " oz"), (1000.0, " kg"))
_VOLUME = {"cup": ("cup", "cups"), "tbsp": ("tbsp", "tablespoons"), "tsp": ("tsp", "teaspoons")}
_HALVES = {0.25: "¼", 0.5: "1/2", 0.75: "¾", 1.5: "1½", 2.5: "2 1/2"}
_TITLE = (
    ("Quick", "Slow", "Sunday", "Harbour", "Orchard", "Copper", "Lantern", "Garden", "Market"),
    ("bean", "noodle", "barley", "chicken", "leek", "squash", "herring", "lentil", "pepper"),
    ("stew", "bake", "bowl", "soup", "salad", "pie", "curry", "pan", "tart", "stir-fry"),
)


def food_words(index: Index) -> list[frozenset[str]]:
    """Words of each food, spelled as the names are."""
    from pipeline.foods.words import words

    canonical, foods = index.knowledge.canonical, index.foods
    return [
        frozenset({*canonical(words(description)), *words(description), *canonical(words(common))})
        for description, common in zip(foods.descriptions, foods.common_names, strict=True)
    ]


def _foods(snapshot: Snapshot) -> tuple[list[tuple[str, int]], NDArray[Any], dict[int, list[Any]]]:
    """Names with their food's row, values per 100 g by row, and measures by row."""
    from food_table import load_foods

    from pipeline.match import load_index
    from pipeline.match.concepts import Resolver
    from pipeline.match.knowledge import LACKING, Concept
    from pipeline.resources import shared_path

    with snapshot.connect() as con:
        foods = load_foods(con)
        index = load_index(con)
        measures = con.execute(
            "select food_id, unit, grams / amount from measure"
            " where unit in ('cup', 'tbsp', 'tsp') and size = '' and amount > 0 order by all"
        ).fetchall()
    resolver = Resolver(
        food_words(index), [float(fat) for fat in index.foods.macros[:, 2]], index.foods.survey,
        [at for at, source in enumerate(index.foods.sources) if source == index.home],
    )  # fmt: skip
    names: list[tuple[str, int]] = []
    with (shared_path("words") / "en.csv").open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            if row["ordinary"] != "y" or row["doubt"] == LACKING:
                continue
            found = resolver.find(Concept.read(row["concept"]))
            if found >= 0:
                at = foods.index[index.foods.ids[found]]
                names += [(name, at) for name in row["words"].split(";") if name]
    values = np.column_stack([np.nan_to_num(getattr(foods, column)) for column in FOUR])
    by_food: dict[int, list[Any]] = {}
    for food_id, unit, grams in measures:
        by_food.setdefault(foods.index[food_id], []).append((unit, grams))
    return names, values, by_food


def _slipped(name: str, rng: random.Random) -> str:
    """The name with two neighbouring letters exchanged."""
    at = rng.randrange(1, max(2, len(name) - 1))
    return name[: at - 1] + name[at : at + 1] + name[at - 1 : at] + name[at + 1 :]


def _texts(
    count: int, snapshot: Snapshot, rng: random.Random
) -> tuple[list[str], NDArray[Any], NDArray[Any]]:
    """``count`` distinct line texts, their grams, and their four values."""
    names, values, measures = _foods(snapshot)
    rng.shuffle(names)
    last = len(names) - 1
    seen: dict[str, tuple[float, int]] = {}
    while len(seen) < count:
        name, food = names[int(last * rng.random() ** 2)]  # some foods far oftener than others
        written = rng.choice(_BEFORE) + name
        if rng.random() < 0.02 and len(name) > 5:
            written = _slipped(written, rng)
        own = measures.get(food)
        if own and rng.random() < 0.35:
            unit, grams_each = rng.choice(own)
            amount = rng.choice([0.25, 0.5, 0.75, 1, 1.5, 2, 2.5, 3, 4])
            words = _VOLUME[unit]
            said = f"{_HALVES.get(amount, amount)} {words[amount > 1] if rng.random() < 0.7 else words[0]}"
            grams = amount * grams_each
        else:
            factor, unit = rng.choice(_MASS)
            grams = float(rng.randrange(1, 100) * (5 if rng.random() < 0.8 else 3))
            said = f"{grams / factor:.4g}{unit}"
        text = f"{said} {written}{rng.choice(_AFTER)}"
        seen.setdefault(text, (grams, food))
    grams_of = np.array([g for g, _ in seen.values()])
    food_of = np.array([f for _, f in seen.values()])
    return list(seen), grams_of, values[food_of] * grams_of[:, None] / 100


def make(lines: int, folder: Path, snapshot: Snapshot, *, seed: int = 7) -> dict[str, Path]:
    """Write one collection as tidy CSV, Parquet and JSON lines; made once a size.

    Returns:
        ``csv``, ``parquet`` and ``jsonl`` to their paths.
    """
    made = {kind: folder / f"lines-{lines}.{kind}" for kind in ("csv", "parquet", "jsonl")}
    if all(path.is_file() for path in made.values()):
        return made
    folder.mkdir(parents=True, exist_ok=True)
    rng, dice = random.Random(seed), np.random.default_rng(seed)
    texts, _, amounts = _texts(int(lines * DISTINCT_SHARE), snapshot, rng)
    spare = lines - len(texts)
    often = (len(texts) * dice.random(spare) ** 3).astype(np.int64)
    picked = dice.permutation(np.concatenate([np.arange(len(texts)), often]))
    sizes = dice.integers(LINES_A_RECIPE - 4, LINES_A_RECIPE + 5, size=lines // LINES_A_RECIPE)
    sizes[-1] += lines - sizes.sum()
    while sizes[-1] < 1:  # the last recipe takes up the slack, which may be negative
        sizes = sizes[:-1]
        sizes[-1] += lines - sizes.sum()
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    servings = dice.integers(1, 9, size=len(sizes))
    totals = np.add.reduceat(amounts[picked], starts)
    stated = _stated(totals, amounts[picked], starts, sizes, servings, dice)
    _write(made, texts, picked, starts, sizes, servings, stated, rng)
    return made


def _stated(
    totals: NDArray[Any], values: NDArray[Any], starts: NDArray[Any], sizes: NDArray[Any],
    servings: NDArray[Any], dice: np.random.Generator, faulty_share: float = FAULTY_SHARE,
) -> NDArray[Any]:  # fmt: skip
    """What each recipe states: noise, rounding, and a mistake in a share of them."""
    count = len(sizes)
    faulty = np.flatnonzero(dice.random(count) < faulty_share)
    kind = dice.integers(0, 5, size=len(faulty))
    shown = totals.copy()
    one = starts[faulty] + (dice.random(len(faulty)) * sizes[faulty]).astype(np.int64)
    shown[faulty[kind == 0]] -= values[one[kind == 0]]  # a line left out
    shown[faulty[kind == 1]] += values[one[kind == 1]]  # a line counted twice
    divide = servings.astype(float)
    divide[faulty[kind == 2]] *= 2  # twice the servings
    shown *= 1 + dice.normal(0, 0.02, size=shown.shape)
    shown[faulty[kind == 3], 0] *= 4.184  # kilojoules stated as kilocalories
    swap = faulty[kind == 4]
    shown[swap, 1], shown[swap, 2] = shown[swap, 2].copy(), shown[swap, 1].copy()
    out: NDArray[Any] = np.round(np.maximum(shown, 0) / divide[:, None])
    return out


def _write(
    made: dict[str, Path], texts: list[str], picked: NDArray[Any], starts: NDArray[Any],
    sizes: NDArray[Any], servings: NDArray[Any], stated: NDArray[Any], rng: random.Random,
) -> None:  # fmt: skip
    import duckdb
    import pandas as pd

    recipe = np.repeat(np.arange(len(sizes)), sizes)
    titles = [
        " ".join(rng.choice(part) for part in _TITLE) + f" no. {n}" for n in range(len(sizes))
    ]
    frame = pd.DataFrame(
        {
            "recipe_id": [f"r{n:07d}" for n in range(len(sizes))],
            "title": titles,
            "servings": servings,
            **{column: stated[:, at].astype(np.int64) for at, column in enumerate(FOUR)},
        }
    )
    line = pd.DataFrame({"at": recipe, "line_no": np.arange(len(picked)) - starts[recipe] + 1})
    line["line"] = np.array(texts, dtype=object)[picked]
    with duckdb.connect() as con:
        con.register("recipe_frame", frame)
        con.register("line_frame", line)
        con.execute(
            "create table tidy as select r.recipe_id, r.title, r.servings, l.line, r.kcal,"
            " r.protein_g, r.carbs_g, r.fat_g from line_frame as l"
            " join (select row_number() over () - 1 as at, * from recipe_frame) as r on r.at = l.at"
            " order by l.at, l.line_no"
        )
        con.execute(f"copy tidy to '{made['csv']}' (header)")
        con.execute(f"copy tidy to '{made['parquet']}' (format parquet)")
        con.execute(
            "copy (select recipe_id as id, any_value(title) as title,"
            " any_value(servings) as servings, {'basis': 'per_serving', 'kcal': any_value(kcal),"
            " 'protein_g': any_value(protein_g), 'carbs_g': any_value(carbs_g), 'fat_g':"
            f" any_value(fat_g)}} as stated, list(line) as ingredients from tidy group by recipe_id"
            f" order by recipe_id) to '{made['jsonl']}' (format json)"
        )
