"""Recipes of public web pages: what their lines add up to beside the energy they state.

    python benchmarks/pages.py FOLDER [--far N] [--out FILE.csv] [--against FILE.csv]
    python benchmarks/pages.py FOLDER --detail ID [--detail ID ...]

FOLDER holds one schema.org Recipe a ``.json`` file, as pages publish them; the project ships none.
Every page goes through ``pipeline.verify``, the stages of ``steelyard verify``. The stated numbers
are noisy truth: many pages are wrong themselves, so the shares say how a change moves, and the
farthest pages are for looking at. ``--out`` keeps the figures of each page, ``--against`` lists the
pages that crossed 10 % since a file so kept.
"""

from __future__ import annotations

import argparse
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import pipeline

if TYPE_CHECKING:
    import pandas as pd

    from pipeline.run import Result

WITHIN = 0.10
FAR = 2.0


def page_table(result: Result) -> pd.DataFrame:
    """One row per page that states energy, the farthest off first.

    Columns: recipe_id, title, verdict, coverage, servings, serving_word, stated, computed, low, high
    (kcal on the basis stated on), ratio (computed over stated; NaN when nothing could be computed).
    """
    energy = result.findings[result.findings["nutrient"] == "kcal"]
    energy = energy[energy["stated"] > 0]
    facts = result.recipes[["recipe_id", "title", "verdict", "coverage"]]
    read = result.collection.recipe[["recipe_id", "servings", "serving_word"]]
    table = facts.merge(read, on="recipe_id").merge(
        energy[["recipe_id", "stated", "computed", "low", "high"]], on="recipe_id"
    )
    table["ratio"] = table["computed"] / table["stated"]
    table["off"] = [_off(ratio) for ratio in table["ratio"]]
    order = table.sort_values(["off", "recipe_id"], ascending=[False, True])
    return order.reset_index(drop=True)


def _off(ratio: float) -> float:
    """How many times too large or too small; infinite when nothing could be computed."""
    return max(ratio, 1 / ratio) if ratio > 0 and math.isfinite(ratio) else math.inf


def figures(table: pd.DataFrame) -> dict[str, float]:
    """Shares (0 to 1) over the pages that state energy."""
    return {
        "pages": len(table),
        "within 10 %": ((table["ratio"] - 1).abs() <= WITHIN).mean(),
        "within 20 %": ((table["ratio"] - 1).abs() <= 2 * WITHIN).mean(),
        "off by 2x and more": ((table["off"] >= FAR) & table["computed"].notna()).mean(),
        "nothing computed": table["computed"].isna().mean(),
        "90 % range covers": table["stated"].between(table["low"], table["high"]).mean(),
        "median width of the range": ((table["high"] - table["low"]) / table["computed"]).median(),
    }


def print_figures(table: pd.DataFrame) -> None:
    for name, value in figures(table).items():
        print(f"{name:28} {value:.0f}" if name == "pages" else f"{name:28} {100 * value:.1f} %")
    counts = table["verdict"].value_counts()
    print(
        f"{'verdicts':28} " + ", ".join(f"{count} {verdict}" for verdict, count in counts.items())
    )


def print_farthest(table: pd.DataFrame, count: int) -> None:
    print(f"\nthe {count} farthest off (kcal on the basis stated on)")
    print(f"{'page':6} {'stated':>7} {'computed':>8} {'low':>6} {'high':>6} {'ratio':>6}  "
          f"{'servings read':26} title")  # fmt: skip
    for row in table.head(count).to_dict("records"):
        servings = f"{row['servings']:g} {row['serving_word']}"[:26]
        print(f"{row['recipe_id']:6} {row['stated']:7.0f} {row['computed']:8.0f} {row['low']:6.0f} "
              f"{row['high']:6.0f} {row['ratio']:6.2f}  {servings:26} {row['title'][:48]}")  # fmt: skip


def print_crossed(table: pd.DataFrame, before: pd.DataFrame) -> None:
    """Pages that came within 10 %, or left it, since ``before``."""
    both = table.merge(before[["recipe_id", "ratio"]], on="recipe_id", suffixes=("", "_before"))
    now = (both["ratio"] - 1).abs() <= WITHIN
    then = (both["ratio_before"] - 1).abs() <= WITHIN
    for name, rows in (("came within 10 %", both[now & ~then]), ("left it", both[then & ~now])):
        print(f"\n{name}: {len(rows)}")
        for row in rows.to_dict("records"):
            print(f"  {row['recipe_id']:6} {row['ratio_before']:6.2f} -> {row['ratio']:6.2f}  "
                  f"{row['title'][:60]}")  # fmt: skip


def print_detail(result: Result, recipe_id: str) -> None:
    """Lines of one page, what each brings to the whole recipe, and what was said about it."""
    recipe = result.collection.recipe.set_index("recipe_id").loc[recipe_id]
    print(f"\n{recipe_id}  {recipe['title']}: {recipe['servings']:g} {recipe['serving_word']}, "
          f"yield {recipe['yield_g']:g} g")  # fmt: skip
    for row in result.findings[result.findings["recipe_id"] == recipe_id].to_dict("records"):
        print(f"  {row['nutrient']:10} stated {row['stated']:8.1f}  computed {row['computed']:8.1f}  "
              f"({row['low']:.1f} to {row['high']:.1f})  {row['verdict']}")  # fmt: skip
    for row in result.lines[result.lines["recipe_id"] == recipe_id].to_dict("records"):
        share = "" if not row["eaten_share"] < 1 else f" x {row['eaten_share']:.2f}"
        print(f"  {row['line_no']:3} {row['kcal']:6.0f} kcal {row['grams']:7.1f} g "
              f"({row['grams_low']:.0f}-{row['grams_high']:.0f}){share}  {row['text'][:70]!r}\n"
              f"      {row['role']}, {row['status']} {row['confidence']:.2f}: "
              f"{row['description']} [{row['basis']}: {row['weigh_reason']}]")  # fmt: skip
    said = result.problems[result.problems["recipe_id"] == recipe_id]
    for row in said.to_dict("records"):
        print(f"  {row['severity']}: {row['what']}; {row['why']}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--far", type=int, default=20, help="how many of the farthest to list")
    parser.add_argument("--detail", action="append", default=[], metavar="ID", help="lines of one")
    parser.add_argument("--out", type=Path, help="keep the figures of each page in this CSV file")
    parser.add_argument("--against", type=Path, help="a file so kept, to compare with")
    args = parser.parse_args()
    if not args.folder.is_dir():
        print(f"no folder {args.folder}: nothing was measured")
        return 0
    result = pipeline.verify(args.folder)
    if args.detail:
        for recipe_id in args.detail:
            print_detail(result, recipe_id)
        return 0
    table = page_table(result)
    print_figures(table)
    print_farthest(table, args.far)
    if args.against:
        import pandas as pd

        print_crossed(table, pd.read_csv(args.against))
    if args.out:
        table.to_csv(args.out, index=False)
    return 0


if __name__ == "__main__":
    sys.exit(main())
