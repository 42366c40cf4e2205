"""Explanations on life-like invented slips: how often right, and whether they are as sure as they say.

    python benchmarks/slips.py [--recipes N] [--fit] [--seeds ...] [--misses]

Two halves of ``lifelike.py``: on the half with even numbers the priors were refitted (``--fit``
does it again and prints them; it writes nothing), the half with odd numbers is kept apart and only
counted. Right: kind and line of a slip that was made; "no single slip" where the numbers follow
from nothing or no slip was made.
"""

from __future__ import annotations

import argparse
import math
import random
import sys
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from lifelike import Made, life
from recipes import CONFIDENCES, Frames, misread

from pipeline.reconcile.model import TAGS

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reconcile import Foods

Said = list[tuple[str, int | None, float]]


def frames_of(made: list[Made], foods: Foods, seed: str) -> Frames:
    """The recipes as a matcher and a weigher with errors would hand them on."""
    variants, frames = foods.variants, Frames()
    for one in made:
        rng = random.Random(f"{seed}|{one.recipe_id}|reading")
        frames.recipes.append({"recipe_id": one.recipe_id, "title": one.recipe_id,
                               "servings": one.servings, "yield_g": math.nan})  # fmt: skip
        for tag, value in zip(TAGS, one.stated.tolist(), strict=True):
            if value == value:
                frames.stated.append((one.recipe_id, tag, value, "per_serving", 1.0, f"{value:g}"))
        for n, (line, (grams, reach)) in enumerate(zip(one.lines, one.ours, strict=True), start=1):
            key = f"{one.recipe_id}/{n}: {line.text}"
            food = f"sr28:{line.code}"
            confidence = rng.choices([c for c, _ in CONFIDENCES], [w for _, w in CONFIDENCES])[0]
            near = [(variants.food_ids[v.index], v.weight) for v in variants.of(variants.at[food])
                    if v.kind == "product_variant"][:4]  # fmt: skip
            chosen = food
            if near:
                chosen, runners = misread(rng, food, near, confidence)
                frames.runners += [(key, *runner) for runner in runners]
            basis = "mass" if line.unit in ("g", "ml") else "household_measure"
            frames.lines.append({
                "recipe_id": one.recipe_id, "line_no": n, "section": "", "text": key,
                "food_id": chosen, "description": line.text, "confidence": confidence,
                "status": "accepted", "origin": "table", "reason": "", "names_food": True,
                "grams": grams, "grams_low": grams * (1 - reach), "grams_high": grams * (1 + reach),
                "basis": basis, "weigh_reason": "", "unit": line.unit, "amount": math.nan,
            })  # fmt: skip
    return frames


@dataclass
class Half:
    """One half, read and computed, to be judged again and again."""

    made: list[Made]
    computation: Computation
    stated: pd.DataFrame
    runner_up: pd.DataFrame

    @classmethod
    def build(
        cls, con: duckdb.DuckDBPyConnection, foods: Foods, seeds: list[str], count: int, odd: bool
    ) -> Half:
        from pipeline.compute import compute

        made: list[Made] = []
        frames = Frames()
        for seed in seeds:
            mine = life(foods, seed, count, odd)
            for one in mine:
                one.recipe_id = f"{seed}-{one.recipe_id}"
            made += mine
            more = frames_of(mine, foods, seed)
            for name in ("lines", "runners", "recipes", "stated"):
                getattr(frames, name).extend(getattr(more, name))
        lines, runners, recipe, stated = frames.tables()
        return cls(made, compute(con, lines, runners, recipe), stated, runners)


def judged(
    con: duckdb.DuckDBPyConnection, half: Half, foods: Foods
) -> tuple[dict[str, str], dict[str, Said]]:
    """Verdict and ranked explanations of each recipe."""
    from recipes import ranked_of

    from pipeline.reconcile import judge

    found = judge(con, half.computation, half.stated, half.runner_up, foods=foods)
    verdict = dict(zip(found.verdict["recipe_id"], found.verdict["verdict"], strict=True))
    return verdict, ranked_of(found.explanation)


def is_right(one: Made, kind: str, line: int | None) -> bool:
    """Whether an explanation names a slip that was made."""
    if kind == "none_found":
        return not one.slips or ("none_found", None) in one.slips
    return (kind, line) in one.slips


@dataclass
class Figures:
    """Counts of one half."""

    flagged: int = 0
    first: int = 0
    three: int = 0
    line: int = 0
    honest: int = 0
    alarms: int = 0
    faulty: int = 0
    missed: int = 0
    pairs: list[tuple[float, bool]] = field(default_factory=list)
    kinds: Counter[tuple[str, str]] = field(default_factory=Counter)

    @classmethod
    def count(cls, half: Half, verdict: dict[str, str], ranked: dict[str, Said]) -> Figures:
        out = cls()
        for one in half.made:
            said = verdict[one.recipe_id]
            out.honest += not one.slips
            out.alarms += not one.slips and said == "disagrees"
            out.faulty += bool(one.slips)
            out.missed += bool(one.slips) and said == "agrees"
            found = ranked.get(one.recipe_id, [])
            if said != "disagrees" or not found:
                continue
            hits = [is_right(one, kind, line) for kind, line, _ in found]
            lines = {line for _, line in one.slips if line}
            out.flagged += 1
            out.first += hits[0]
            out.three += any(hits[:3])
            out.line += hits[0] or (found[0][1] in lines)
            out.pairs.append((found[0][2], hits[0]))
            truth = one.slips[0][0] if one.slips else "none"
            out.kinds[truth, found[0][0] if not hits[0] else "right"] += 1
        return out

    def ece(self, bins: int = 10) -> float:
        """Expected calibration error of the first explanation."""
        from recipes import calibration_error

        return calibration_error(self.pairs, bins)

    def sure(self, least: float) -> tuple[int, float]:
        """How many were said with at least this probability, and the share of them right."""
        mine = [hit for p, hit in self.pairs if p >= least]
        return len(mine), sum(mine) / max(len(mine), 1)

    def log_loss(self) -> float:
        """Mean log loss of the first explanation's probability."""
        return -sum(
            math.log(max(p if hit else 1 - p, 1e-3)) for p, hit in self.pairs
        ) / max(len(self.pairs), 1)  # fmt: skip


def show(title: str, figures: Figures) -> None:
    """One table."""
    many, right = figures.sure(0.9)
    half = figures.flagged or 1
    print(f"\n{title}: {figures.faulty} with slips, {figures.honest} without")
    print(f"  honest recipes that disagree      {figures.alarms / max(figures.honest, 1):7.1%}")
    print(f"  recipes with slips that agree     {figures.missed / max(figures.faulty, 1):7.1%}")
    print(f"  explained (disagrees)             {figures.flagged:7d}")
    print(f"  first explanation right           {figures.first / half:7.1%}")
    print(f"    right, or the right line        {figures.line / half:7.1%}")
    print(f"  right one in the first three      {figures.three / half:7.1%}")
    print(f"  calibration error (ECE, 10 bins)  {figures.ece():7.3f}")
    print(f"  said at 90 % and more             {many:7d}, {right:.1%} of them right")


def main() -> None:
    """Print both halves."""
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--recipes", type=int, default=400, help="of each half and seed")
    parser.add_argument("--seeds", nargs="*", default=["one"])
    parser.add_argument("--fit", action="store_true", help="refit the priors on the even half")
    parser.add_argument("--misses", action="store_true", help="what was said instead, by kind")
    args = parser.parse_args()

    from pipeline.reconcile import load_foods
    from pipeline.snapshot import open_snapshot

    with open_snapshot().connect() as con:
        foods = load_foods(con)
        even = Half.build(con, foods, args.seeds, args.recipes, False)
        if args.fit:
            from fit_slips import fit

            fit(con, even, foods)
            return
        odd = Half.build(con, foods, args.seeds, args.recipes, True)
        for title, half in (("Even half (fitted on)", even), ("Odd half (kept apart)", odd)):
            figures = Figures.count(half, *judged(con, half, foods))
            show(title, figures)
            if args.misses:
                for (truth, said), n in sorted(figures.kinds.items(), key=lambda k: -k[1]):
                    print(f"    {truth:<30} {said:<30} {n}")


if __name__ == "__main__":
    main()
