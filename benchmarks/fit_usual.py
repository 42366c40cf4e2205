"""What lines of a kind usually weigh in a recipe: shared/usual_amounts.csv counted again.

Only figures leave this script: for each food group of the reference table and each way to measure,
the middle and the spread of ln grams and ln kcal of a line. It counts lines whose food was accepted
and whose weight is no stated mass, in the labelled lines of benchmarks/data and in public pages.
Before it writes, it says on pages left out of the count how many lines the guard would ask about.

    python benchmarks/fit_usual.py PAGES [--write]
"""

from __future__ import annotations

import argparse
import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pandas as pd

import pipeline
from pipeline.lines import parse
from pipeline.snapshot import open_snapshot
from pipeline.weigh.usual import ANY, FIELDS, PARTS, Usual, measure_class, usual_kind

HERE = Path(__file__).parent
#: Fewer lines of a kind say less than those of all kinds measured so.
LEAST = 12
#: Parts of foods, such as zest, weigh alike from line to line: fewer lines tell.
LEAST_OF_PART = 6
#: Confidence in the food from which on a line of a page is counted.
SURE = 0.94
#: Middle half of a normal distribution, in standard deviations.
_QUARTILES = 1.349
#: Lines of one kind differ at least so much in ln grams from recipe to recipe.
LEAST_SD = 0.55
#: What a spread counted over few lines is widened by: its variance times 1 + FEW / lines.
FEW = 12


def page_lines(folder: Path, groups: dict[str, tuple[str, float]]) -> pd.DataFrame:
    """recipe_id, kind, measure, grams, kcal of the lines of public pages."""
    lines = pipeline.verify(folder).lines
    sure = lines["confidence"] >= SURE  # not the status: the guard that is counted here sets it
    lines = lines[lines["names_food"].astype(bool) & sure]
    return _rows(lines["recipe_id"], lines["text"], lines["food_id"], lines["grams"],
                 lines["unit"], lines["basis"], groups)  # fmt: skip


def labelled_lines(groups: dict[str, tuple[str, float]]) -> pd.DataFrame:
    """The same of the labelled lines, whose grams and food are a person's."""
    frames = []
    for name in ("lines_uk.csv", "lines_us.csv"):
        rows = pd.read_csv(HERE / "data" / name, dtype=str).dropna(subset=["grams", "best"])
        units = [m[0].unit if (m := parse(text).measures) else "" for text in rows["line"]]
        frames.append(
            _rows(rows["line_id"], rows["line"], "sr28:" + rows["best"], rows["grams"].astype(float),
                  pd.Series(units, index=rows.index), rows["grams_basis"], groups)
        )  # fmt: skip
    return pd.concat(frames, ignore_index=True)


def _rows(
    ids: pd.Series, texts: pd.Series, foods: pd.Series, grams: pd.Series, units: pd.Series,
    basis: pd.Series, groups: dict[str, tuple[str, float]],
) -> pd.DataFrame:  # fmt: skip
    out = []
    for i, text, food, g, unit, how in zip(ids, texts, foods, grams, units, basis, strict=True):
        measure = measure_class(str(unit))
        if not measure or not g > 0 or str(how).startswith(("mass", "open", "none")):
            continue
        group, kcal = groups.get(food, ("", float("nan")))
        out.append((i, usual_kind(group, parse(text).part), measure, g, g * kcal / 100))
    return pd.DataFrame(out, columns=["recipe_id", "kind", "measure", "grams", "kcal"])


def fitted(rows: pd.DataFrame) -> list[dict[str, str]]:
    """Rows of the shared table: every kind and measure with enough lines, then the measures."""
    found: dict[tuple[str, str], pd.DataFrame] = {
        (str(k), str(m)): part for (k, m), part in rows.groupby(["kind", "measure"])
    }
    out = []
    for (kind, measure), part in sorted(found.items()):
        if len(part) >= (LEAST_OF_PART if kind in PARTS else LEAST) and kind:
            out.append(_row(kind, measure, part))
    for name, part in rows.groupby("measure"):
        out.append(_row(ANY, str(name), part))
    return out


def _row(kind: str, measure: str, part: pd.DataFrame) -> dict[str, str]:
    g, sd_g = _middle(part["grams"])
    kcal, sd_kcal = _middle(part.loc[part["kcal"] >= 5, "kcal"])
    return dict(zip(FIELDS, (kind, measure, str(len(part)), g, sd_g, kcal, sd_kcal), strict=True))


def _middle(values: pd.Series) -> tuple[str, str]:
    logs = np.log(values[values > 0])
    if len(logs) < LEAST_OF_PART:
        return "", ""
    low, mid, high = np.quantile(logs, [0.25, 0.5, 0.75])
    spread = max((high - low) / _QUARTILES, LEAST_SD) * (1 + FEW / len(logs)) ** 0.5
    return f"{np.exp(mid):.3g}", f"{spread:.2f}"


def asked_out_of_fold(pages: pd.DataFrame, labelled: pd.DataFrame, folds: int = 4) -> None:
    """Lines of pages that the guard would ask about when it is counted without these pages."""
    fold = {r: n % folds for n, r in enumerate(sorted(pages["recipe_id"].unique()))}
    of = pages["recipe_id"].map(fold)
    asked: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    for k in range(folds):
        usual = Usual(fitted(pd.concat([pages[of != k], labelled])))
        for row in pages[of == k].to_dict("records"):
            hit = usual.unusual(row["kind"], row["measure"], row["grams"], row["kcal"]) is not None
            asked[row["measure"]][0] += hit
            asked[row["measure"]][1] += 1
    for measure, (hits, n) in sorted(asked.items()):
        print(f"{measure:8} asked {hits:3} of {n:4} lines of pages not counted")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pages", type=Path)
    parser.add_argument("--write", action="store_true")
    said = parser.parse_args()
    with open_snapshot().connect() as con:
        groups = {
            food: (group, kcal)
            for food, group, kcal in con.execute(
                "select food_id, category, amount_per_100g from food left join food_nutrient"
                " using (food_id) where nutrient = 'ENERC_KCAL'"
            ).fetchall()
        }
    pages, labelled = page_lines(said.pages, groups), labelled_lines(groups)
    print(f"{len(pages)} lines of pages, {len(labelled)} labelled lines")
    asked_out_of_fold(pages, labelled)
    rows = fitted(pd.concat([pages, labelled]))
    if said.write:
        path = HERE.parent / "shared" / "usual_amounts.csv"
        with path.open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, FIELDS, lineterminator="\n")
            out.writeheader()
            out.writerows(rows)
        print(f"{len(rows)} rows written to {path}")


if __name__ == "__main__":
    main()
