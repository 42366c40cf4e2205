"""Verdicts and explanations against recipes whose fault is known.

    python benchmarks/recipes.py [FOLDER] [--invented SEEDS] [--rounds N] [--misses]

Three views, one table each:

* end to end: the published files of FOLDER through ``pipeline.verify``;
* from true foods and grams of FOLDER with simulated errors of matching and weighing;
* the same on invented collections of other dishes and foods (``benchmarks/invented.py``), so that
  nothing is fitted to FOLDER.

FOLDER holds ``published/``, ``truth.csv``, ``base_lines.csv`` and ``pantry.csv`` as its own notes
describe; it defaults to $STEELYARD_GOLD or ../shared/gold/recipes. Rows of the table follow the
scoring rule of those notes.
"""

from __future__ import annotations

import argparse
import csv
import math
import os
import random
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import invented

from pipeline.compute.totals import Z_GRAMS
from pipeline.tables import LINE_RESULT, RECIPE, RUNNER_UP, STATED

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.reconcile import Foods

TAGS = {"kcal": "ENERC_KCAL", "protein_g": "PROCNT", "carbs_g": "CHOCDF", "fat_g": "FAT",
        "fiber_g": "FIBTG"}  # fmt: skip

#: Simulated standard deviation of a line's grams by the unit it is measured in.
GRAMS_SD = {"g": 0.005, "kg": 0.005, "oz": 0.005, "ml": 0.03, "tbsp": 0.06, "tsp": 0.08,
            "cup": 0.07, "piece": 0.08}  # fmt: skip
#: Confidence of simulated matches and how often each occurs; a match is wrong as often as it says.
CONFIDENCES = ((0.99, 0.70), (0.95, 0.20), (0.80, 0.10))


@dataclass(frozen=True)
class Truth:
    """What is known of one published recipe; amounts per serving, NaN where a food lacks a value."""

    recipe_id: str
    fault: str
    line_no: int | None
    true: dict[str, float]
    servings: float
    close: frozenset[tuple[str, int | None]] = frozenset()


@dataclass
class Frames:
    """Input of compute and reconcile."""

    lines: list[dict[str, Any]] = field(default_factory=list)
    runners: list[tuple[str, int, str, str, float, float]] = field(default_factory=list)
    recipes: list[dict[str, Any]] = field(default_factory=list)
    stated: list[tuple[str, str, float, str, float, str]] = field(default_factory=list)

    def tables(self) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame]:
        """LINE_RESULT, RUNNER_UP, RECIPE, STATED."""
        import pandas as pd

        recipe = pd.DataFrame(self.recipes).reindex(columns=RECIPE)
        return (
            pd.DataFrame(self.lines).reindex(columns=LINE_RESULT),
            pd.DataFrame(self.runners, columns=RUNNER_UP),
            recipe,
            pd.DataFrame(self.stated, columns=STATED),
        )


@dataclass
class Answers:
    """What the tool said, and how long it took."""

    verdict: dict[str, str]
    ranked: dict[str, list[tuple[str, int | None, float]]]
    total: dict[tuple[str, str], tuple[float, float]]  # (recipe, column): low, high a serving
    seconds: float


# --- collections ------------------------------------------------------------------------------


def read_truth(folder: Path) -> list[Truth]:
    """Rows of ``truth.csv``."""
    out = []
    with (folder / "truth.csv").open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            close = set()
            for name in filter(None, row["close_rivals"].split("; ")):
                kind, _, line = name.partition(":")
                close.add((kind, int(line) if line else None))
            true = {c: float(row[f"true_{c}"] or "nan") for c in TAGS}
            out.append(Truth(
                row["recipe_id"], row["fault"], int(row["line_no"]) if row["line_no"] else None,
                true, float(row["servings"]), frozenset(close),
            ))  # fmt: skip
    return out


def misread(
    rng: random.Random, food_id: str, near: list[tuple[str, float]], confidence: float
) -> tuple[str, list[tuple[int, str, str, float, float]]]:
    """The food that a matcher of this confidence takes, and its runners-up.

    Args:
        rng: draws whether it is the right one.
        food_id: the right one.
        near: other products and how likely each is taken for it.
        confidence: chance that the right one is taken.

    Returns:
        The food, and RUNNER_UP without the text of the line.
    """
    chosen, named = food_id, list(near)
    if rng.random() > confidence:
        chosen = rng.choices([f for f, _ in near], [w for _, w in near])[0]
        named = [(food_id, 2.0), *[(f, w) for f, w in near if f != chosen]]
    every = sum(w for _, w in named)
    return chosen, [
        (rank, other, other, (1 - confidence) * weight / every, 0.0)
        for rank, (other, weight) in enumerate(named, start=1)
    ]


def simulated(
    items: list[tuple[str, str, float, str, str]], recipe_id: str, foods: Foods,
    rng: random.Random, noise: float, frames: Frames,
) -> None:  # fmt: skip
    """Add the lines of one recipe as a matcher and a weigher with errors would see them.

    Args:
        items: text, food_id ("" for a heading), grams, unit, amount of each line, from line 1.
    """
    variants = foods.variants
    for n, (text, food_id, grams, unit, description) in enumerate(items, start=1):
        key = f"{recipe_id}/{n}: {text}"
        sd = GRAMS_SD.get(unit, 0.08) * noise
        if noise and rng.random() < 0.05:
            sd = 0.15
        seen = grams * math.exp(rng.gauss(0, sd)) if sd else grams
        confidence = rng.choices([c for c, _ in CONFIDENCES], [w for _, w in CONFIDENCES])[0]
        chosen = food_id
        near = [
            (variants.food_ids[v.index], v.weight)
            for v in (variants.of(variants.at[food_id]) if food_id in variants.at else ())
            if v.kind == "product_variant"
        ][:4]
        if not noise or not near:
            confidence = 1.0
        else:
            chosen, runners = misread(rng, food_id, near, confidence)
            frames.runners += [(key, *runner) for runner in runners]
        reach = Z_GRAMS * max(sd, 0.01)
        frames.lines.append({
            "recipe_id": recipe_id, "line_no": n, "section": "", "text": key,
            "food_id": chosen or None, "description": description, "confidence": confidence,
            "status": "accepted", "origin": "table", "reason": "", "names_food": bool(food_id),
            "grams": seen, "grams_low": seen * (1 - reach), "grams_high": seen * (1 + reach),
            "basis": "mass", "weigh_reason": "", "unit": unit, "amount": math.nan,
        })  # fmt: skip


def from_folder(folder: Path, foods: Foods, rng: random.Random, noise: float) -> Frames:
    """True foods and grams of a gold folder, with simulated errors."""
    from pipeline.lines import parse

    def rows(name: str) -> list[dict[str, str]]:
        with (folder / name).open(encoding="utf-8", newline="") as handle:
            return list(csv.DictReader(handle))

    bases: dict[str, list[dict[str, str]]] = {}
    for row in rows("base_lines.csv"):
        bases.setdefault(row["recipe_id"], []).append(row)
    frames = Frames()
    for row in rows("truth.csv"):
        recipe_id = row["recipe_id"]
        frames.recipes.append({"recipe_id": recipe_id, "title": row["title"],
                               "servings": float(row["servings"]), "yield_g": math.nan})  # fmt: skip
        for column, tag in TAGS.items():
            if row[f"stated_{column}"]:
                said = row[f"stated_{column}"]
                frames.stated.append((recipe_id, tag, float(said), "per_serving", 1.0, said))
        items = []
        for line in bases[row["base_id"]]:
            measures = parse(line["text"]).measures
            mass = [m for m in measures if m.kind == "mass"]
            unit = mass[0].unit if mass else measures[0].unit if measures else ""
            food = "" if line["ndb"] == "HEADING" else f"sr28:{line['ndb']}"
            if line["ndb"] == "NONE":
                food = f"pantry:{line['pantry_food']}"
            items.append((line["text"], food, float(line["grams"] or 0), unit, line["text"]))
        simulated(items, recipe_id, foods, rng, noise, frames)
    return frames


def pantry_rows(folder: Path) -> pd.DataFrame:
    """FOOD_NUTRIENT of a gold folder's pantry."""
    import pandas as pd

    rows = []
    with (folder / "pantry.csv").open(encoding="utf-8", newline="") as handle:
        for row in csv.DictReader(handle):
            for column, tag in TAGS.items():
                if row.get(column):
                    per_100g = float(row[column]) / float(row["serving_g"]) * 100
                    rows.append((f"pantry:{row['food_name']}", tag, per_100g, math.nan, 0))
    return pd.DataFrame(
        rows, columns=["food_id", "nutrient", "amount_per_100g", "standard_error", "n"]
    )


def from_invented(
    seed: str, foods: Foods, noise: float, honest: int, each: int
) -> tuple[Frames, list[Truth]]:
    """An invented collection and its truth."""
    values = {
        food_id.removeprefix("sr28:"): dict(zip(invented.EVERY, map(float, row[:5]), strict=True))
        for food_id, row in zip(foods.variants.food_ids, foods.values, strict=True)
    }
    rng = random.Random(f"{seed}|errors")
    frames, truths = Frames(), []
    for made in invented.collection(values, seed, honest, each):
        frames.recipes.append({"recipe_id": made.recipe_id, "title": made.recipe_id,
                               "servings": float(made.servings), "yield_g": math.nan})  # fmt: skip
        with_fibre = random.Random(made.recipe_id + seed).random() < 0.4
        for column, tag in TAGS.items():
            if column != "fiber_g" or with_fibre:
                said = made.stated[column]
                frames.stated.append(
                    (made.recipe_id, tag, float(said), "per_serving", 1.0, str(said))
                )
        items = [(x.text, f"sr28:{x.code}", x.grams, x.unit, x.text) for x in made.lines]
        simulated(items, made.recipe_id, foods, rng, noise, frames)
        truths.append(
            Truth(made.recipe_id, made.fault, made.line_no, made.true, float(made.servings))
        )
    return frames, truths


# --- answers ----------------------------------------------------------------------------------


def ranked_of(explanation: pd.DataFrame) -> dict[str, list[tuple[str, int | None, float]]]:
    """recipe_id -> (kind, line, probability), best first."""
    import pandas as pd

    out: dict[str, list[tuple[str, int | None, float]]] = {}
    for recipe_id, kind, line, p in zip(
        *(explanation[c] for c in ("recipe_id", "kind", "line_no", "probability")), strict=True
    ):
        out.setdefault(recipe_id, []).append((kind, None if pd.isna(line) else int(line), float(p)))
    return out


def totals_of(
    computed: pd.DataFrame, servings: dict[str, float]
) -> dict[tuple[str, str], tuple[float, float]]:
    """(recipe_id, column) -> 90 % range a serving."""
    column_of = {tag: column for column, tag in TAGS.items()}
    return {
        (r, column_of[n]): (low / servings[r], high / servings[r])
        for r, n, low, high in zip(
            *(computed[c] for c in ("recipe_id", "nutrient", "low", "high")), strict=True
        )
        if n in column_of and r in servings
    }


def answer_tables(
    con: duckdb.DuckDBPyConnection,
    tables: tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame, pd.DataFrame],
    foods: Foods,
    pantry: pd.DataFrame | None,
    servings: dict[str, float],
) -> Answers:
    """From matched lines to explanations; the clock, of this process's CPU, covers exactly that.

    Args:
        tables: LINE_RESULT, RUNNER_UP, RECIPE, STATED.
    """
    from pipeline.compute import compute
    from pipeline.reconcile import judge

    lines, runners, recipe, stated = tables
    start = time.process_time()
    computation = compute(con, lines, runners, recipe, pantry_nutrient=pantry)
    judged = judge(con, computation, stated, runners, pantry_nutrient=pantry, foods=foods)
    seconds = time.process_time() - start
    verdict = judged.verdict
    return Answers(
        dict(zip(verdict["recipe_id"], verdict["verdict"], strict=True)),
        ranked_of(judged.explanation),
        totals_of(computation.computed, servings),
        seconds,
    )


def answer_files(
    con: duckdb.DuckDBPyConnection, folder: Path, foods: Foods, servings: dict[str, float]
) -> Answers:
    """The published files through the whole tool; its tables once more for the clock."""
    import pipeline

    result = pipeline.verify([folder / "published"], pantry=folder / "pantry.csv")
    recipes = result.recipes
    collection = result.collection
    tables = (result.lines, result.runners_up, collection.recipe, collection.stated)
    timed = answer_tables(con, tables, foods, None, servings)
    return Answers(
        dict(zip(recipes["recipe_id"], recipes["verdict"], strict=True)),
        ranked_of(result.explanations),
        totals_of(result.computed, servings),
        timed.seconds,
    )


# --- the table --------------------------------------------------------------------------------


def calibration_error(pairs: list[tuple[float, bool]], bins: int = 5) -> float:
    """Expected calibration error of the first explanation's probability."""
    if not pairs:
        return math.nan
    error = 0.0
    for b in range(bins):
        mine = [(p, hit) for p, hit in pairs if min(int(p * bins), bins - 1) == b]
        if mine:
            said = sum(p for p, _ in mine) / len(mine)
            was = sum(hit for _, hit in mine) / len(mine)
            error += abs(said - was) * len(mine) / len(pairs)
    return error


def score(truths: list[Truth], answers: Answers) -> dict[str, Any]:
    """Figures of the target table, the confusion matrix, and the misses."""
    right = half = alarms = honest = 0
    hits: dict[int, int] = {1: 0, 3: 0}
    close_first = kind_first = 0
    pairs: list[tuple[float, bool]] = []
    covered: list[bool] = []
    matrix: dict[str, dict[str, int]] = {}
    misses: list[str] = []
    for truth in truths:
        said = answers.verdict.get(truth.recipe_id, "not_judged")
        wanted = "agrees" if truth.fault == "none" else "disagrees"
        right += said == wanted
        half += said == "uncertain"
        ranked = answers.ranked.get(truth.recipe_id, [])
        for column, value in truth.true.items():
            span = answers.total.get((truth.recipe_id, column))
            if column != "fiber_g" and span and math.isfinite(value) and math.isfinite(span[0]):
                covered.append(span[0] - 0.006 <= value <= span[1] + 0.006)  # truth has 2 decimals
        if truth.fault == "none":
            honest += 1
            alarms += said == "disagrees"
            first = "none" if said != "disagrees" else ranked[0][0] if ranked else "none_found"
        else:
            keys = [(kind, line) for kind, line, _ in ranked]
            own = (truth.fault, truth.line_no)
            for k in hits:
                hits[k] += own in keys[:k]
            close_first += bool(keys) and (keys[0] == own or keys[0] in truth.close)
            kind_first += bool(keys) and keys[0][0] == truth.fault
            if ranked:
                pairs.append((ranked[0][2], keys[0] == own))
            first = keys[0][0] if keys else "none"
            if own not in keys[:1]:
                three = ", ".join(
                    f"{k}{'' if n is None else f':{n}'} {p:.2f}" for k, n, p in ranked[:3]
                )
                misses.append(f"{truth.recipe_id} {truth.fault}"
                              f"{'' if truth.line_no is None else f':{truth.line_no}'} [{said}] -> "
                              f"{three or 'no explanation'}")  # fmt: skip
        if said != wanted and truth.fault == "none":
            misses.append(f"{truth.recipe_id} none [{said}]")
        row = matrix.setdefault(truth.fault, {})
        row[first] = row.get(first, 0) + 1
    faulty = len(truths) - honest
    return {
        "recipes": len(truths),
        "verdict": (right + half / 2) / len(truths),
        "strict": right / len(truths),
        "alarms": alarms / max(honest, 1),
        "top1": hits[1] / max(faulty, 1),
        "top3": hits[3] / max(faulty, 1),
        "close": close_first / max(faulty, 1),
        "kind": kind_first / max(faulty, 1),
        "ece": calibration_error(pairs),
        "covered": sum(covered) / max(len(covered), 1),
        "speed": len(truths) / answers.seconds if answers.seconds else math.nan,
        "matrix": matrix,
        "misses": misses,
    }


ROWS = [
    ("verdict", "verdict right (uncertain counts half)", ">= 93 %", "{:.1%}"),
    ("strict", "  the same, uncertain counted wrong", "", "{:.1%}"),
    ("alarms", "false alarms on faultless recipes", "<= 5 %", "{:.1%}"),
    ("top1", "true fault ranked first, kind and line", ">= 80 %", "{:.1%}"),
    ("top3", "true fault in the first three", ">= 93 %", "{:.1%}"),
    ("close", "  first, or a rival as good", "", "{:.1%}"),
    ("kind", "  kind alone first", "", "{:.1%}"),
    ("ece", "calibration error of the probability", "<= 0.08", "{:.3f}"),
    ("covered", "90 % range holds the true total", "86-96 %", "{:.1%}"),
    ("speed", "recipes a CPU second, lines to explanations", ">= 300", "{:.0f}"),
]


def show(title: str, scores: list[dict[str, Any]], misses: bool) -> None:
    """Print the table: mean over rounds, and the range when there are several."""
    print(f"\n{title} ({scores[0]['recipes']} recipes"
          f"{f', {len(scores)} rounds' if len(scores) > 1 else ''})")  # fmt: skip
    for key, words, target, form in ROWS:
        values = [s[key] for s in scores]
        mean = form.format(sum(values) / len(values))
        span = f"  ({form.format(min(values))} to {form.format(max(values))})"
        print(f"  {words:<44}{target:>8}  {mean:>7}{span if len(values) > 1 else ''}")
    names = sorted({n for s in scores for row in s["matrix"].values() for n in row})
    letters = {name: chr(ord("a") + i) for i, name in enumerate(names)}
    print("  true fault (rows) against what stands first (columns)")
    print(f"  {'':<30}" + "".join(f"{letters[n]:>5}" for n in names))
    for fault in sorted({f for s in scores for f in s["matrix"]}):
        cells = [sum(s["matrix"].get(fault, {}).get(n, 0) for s in scores) for n in names]
        print(f"  {fault:<30}" + "".join(f"{c or '.':>5}" for c in cells))
    print("  " + ", ".join(f"{letter} {name}" for name, letter in letters.items()))
    if misses:
        for line in dict.fromkeys(m for s in scores for m in s["misses"]):
            print(f"    {line}")


def main() -> None:
    """Print the tables."""
    default = os.environ.get("STEELYARD_GOLD", "../shared/gold/recipes")
    raw = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=raw)
    parser.add_argument("folder", nargs="?", type=Path, default=Path(default))
    parser.add_argument("--invented", nargs="*", default=["one", "two"], help="seeds")
    parser.add_argument("--rounds", type=int, default=3, help="simulated rounds of FOLDER")
    parser.add_argument("--noise", type=float, default=1.0, help="scale of simulated errors")
    parser.add_argument("--misses", action="store_true", help="list what is misexplained")
    args = parser.parse_args()

    from pipeline.reconcile import load_foods
    from pipeline.snapshot import open_snapshot

    folder: Path = args.folder
    if (folder / "recipes").is_dir() and not (folder / "truth.csv").is_file():
        folder = folder / "recipes"
    with open_snapshot().connect() as con:
        con.execute("set threads = 1")
        foods = load_foods(con)
        if (folder / "truth.csv").is_file():
            truths = read_truth(folder)
            servings = {t.recipe_id: t.servings for t in truths}
            show("End to end", [score(truths, answer_files(con, folder, foods, servings))], True)
            pantry = pantry_rows(folder)
            with_pantry = load_foods(con, pantry)
            rounds = []
            for n in range(args.rounds):
                frames = from_folder(folder, with_pantry, random.Random(f"round {n}"), args.noise)
                found = answer_tables(con, frames.tables(), with_pantry, pantry, servings)
                rounds.append(score(truths, found))
            if rounds:
                show("True foods and grams with simulated errors", rounds, args.misses)
        else:
            print(f"no truth.csv in {folder}: only the invented collections are scored")
        rounds = []
        for seed in args.invented:
            frames, truths = from_invented(seed, foods, args.noise, 120, 12)
            servings = {t.recipe_id: t.servings for t in truths}
            rounds.append(score(truths, answer_tables(con, frames.tables(), foods, None, servings)))
        if rounds:
            show("Invented collections with simulated errors", rounds, args.misses)


if __name__ == "__main__":
    main()
