"""Explanations on life-like invented slips: how often right, and whether they are as sure as they say.

    python benchmarks/slips.py [--recipes N] [--seeds ...] [--fit] [--kinds] [--misses]

Recipes of ``lifelike.py`` over the whole food table, read as text by the whole pipeline. The priors
and the noise were refitted on the seeds of ``FITTED`` (``--fit`` does it again and prints them; it
writes nothing); other seeds are only counted. Right: kind and line of a slip that was made; "no
single slip" where the numbers follow from nothing or no slip was made.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import drawn_kitchen
from lifelike import CAUSES, Made, life
from recipes import calibration_error, ranked_of

if TYPE_CHECKING:
    import duckdb
    import pandas as pd

    from pipeline.compute import Computation
    from pipeline.reading import Tools
    from pipeline.reconcile import Foods

#: Seeds that priors and noise are fitted on.
FITTED = ("fit-1", "fit-2")

Said = list[tuple[str, int | None, float]]


@dataclass
class Read:
    """Recipes, read and added up, to be judged again and again."""

    made: list[Made]
    computation: Computation
    stated: pd.DataFrame
    runner_up: pd.DataFrame

    @classmethod
    def build(
        cls,
        con: duckdb.DuckDBPyConnection,
        tools: Tools,
        foods: Foods,
        seeds: list[str],
        count: int,
    ) -> Read:
        """Draw ``count`` recipes of each seed and read them.

        Args:
            con: a connection to the snapshot of ``tools``.
        """
        from pipeline.intake import read_collection
        from pipeline.progress import no_progress
        from pipeline.reading import read_all
        from pipeline.run import add_up
        from pipeline.settings import Settings

        of = drawn_kitchen.table(tools.snapshot)
        made = [one for seed in seeds for one in life(of, foods, seed, count)]
        settings = Settings()
        with tempfile.TemporaryDirectory() as folder:
            for one in made:
                path = Path(folder) / f"{one.recipe_id}.json"
                path.write_text(json.dumps(one.page()), encoding="utf-8")
            collection = read_collection([folder], settings=settings)
        lines, runners, _ = read_all(collection, tools, no_progress)
        sums = add_up(con, collection, lines, runners, tools, settings)
        read = set(sums.collection.recipe["recipe_id"])
        made = [one for one in made if one.recipe_id in read]
        return cls(made, sums.computation, sums.collection.stated, runners)


def judged(
    con: duckdb.DuckDBPyConnection, read: Read, foods: Foods
) -> tuple[dict[str, str], dict[str, Said]]:
    """Verdict and ranked explanations of each recipe."""
    from pipeline.reconcile import judge

    found = judge(con, read.computation, read.stated, read.runner_up, foods=foods)
    verdict = dict(zip(found.verdict["recipe_id"], found.verdict["verdict"], strict=True))
    return verdict, ranked_of(found.explanation)


def is_right(one: Made, kind: str, line: int | None) -> bool:
    """Whether an explanation names a slip that was made."""
    if kind == "none_found":
        return not one.slips or ("none_found", None) in one.slips
    return (kind, line) in one.slips


def cause_of(one: Made) -> str:
    """What was done first, "none" for an honest recipe."""
    return one.done[0][0] if one.done else "none"


@dataclass
class Figures:
    """Counts over recipes.

    Attributes:
        pairs: probability of the first explanation, and whether it was right.
        causes: (cause, what came of it) with counts: first, three, agrees, uncertain, all.
        said: (cause, first explanation or the verdict where none was given) with counts.
    """

    flagged: int = 0
    first: int = 0
    three: int = 0
    line: int = 0
    honest: int = 0
    alarms: int = 0
    doubts: int = 0
    faulty: int = 0
    missed: int = 0
    pairs: list[tuple[float, bool]] = field(default_factory=list)
    causes: Counter[tuple[str, str]] = field(default_factory=Counter)
    said: Counter[tuple[str, str]] = field(default_factory=Counter)
    misses: list[str] = field(default_factory=list)

    @classmethod
    def count(cls, made: list[Made], verdict: dict[str, str], ranked: dict[str, Said]) -> Figures:
        out = cls()
        for one in made:
            out._add(one, verdict[one.recipe_id], ranked.get(one.recipe_id, []))
        return out

    def _add(self, one: Made, verdict: str, found: Said) -> None:
        cause, slipped = cause_of(one), bool(one.slips)
        self.honest += not slipped
        self.alarms += not slipped and verdict == "disagrees"
        self.doubts += not slipped and verdict == "uncertain"
        self.faulty += slipped
        self.missed += slipped and verdict == "agrees"
        self.causes[cause, "all"] += 1
        self.causes[cause, verdict] += 1
        if verdict != "disagrees" or not found:
            self.said[cause, verdict] += 1
            return
        hits = [is_right(one, kind, line) for kind, line, _ in found]
        lines = {line for _, line in one.slips if line}
        self.flagged += 1
        self.first += hits[0]
        self.three += any(hits[:3])
        self.line += hits[0] or found[0][1] in lines
        self.pairs.append((found[0][2], hits[0]))
        self.causes[cause, "first"] += hits[0]
        self.causes[cause, "three"] += any(hits[:3])
        self.said[cause, "right" if hits[0] else found[0][0]] += 1
        if not hits[0]:
            three = ", ".join(f"{k}{'' if n is None else f':{n}'} {p:.2f}" for k, n, p in found[:3])
            done = "; ".join(f"{c}{'' if n is None else f':{n}'}" for c, n in one.done) or "none"
            self.misses.append(f"{one.recipe_id} {done} -> {three}")

    def ece(self, bins: int = 10) -> float:
        """Expected calibration error of the first explanation."""
        return calibration_error(self.pairs, bins)

    def sure(self, least: float) -> tuple[int, float]:
        """How many were given at least this probability, and the share of them right."""
        mine = [hit for p, hit in self.pairs if p >= least]
        return len(mine), sum(mine) / max(len(mine), 1)

    def log_loss(self) -> float:
        """Mean log loss of the first explanation's probability."""
        losses = [-math.log(max(p if hit else 1 - p, 1e-3)) for p, hit in self.pairs]
        return sum(losses) / max(len(losses), 1)


def show(title: str, figures: Figures, kinds: bool, misses: bool) -> None:
    """The figures of some seeds."""
    many, right = figures.sure(0.9)
    every, honest = figures.flagged or 1, max(figures.honest, 1)
    print(f"\n{title}: {figures.faulty} with slips, {figures.honest} without")
    print(f"  honest recipes that disagree         {figures.alarms / honest:7.1%}")
    print(f"  honest recipes that are uncertain    {figures.doubts / honest:7.1%}")
    print(f"  recipes with slips that agree        {figures.missed / max(figures.faulty, 1):7.1%}")
    print(f"  explained (disagrees)                {figures.flagged:7d}")
    print(f"  first explanation right              {figures.first / every:7.1%}")
    print(f"    right, or the right line           {figures.line / every:7.1%}")
    print(f"  right one in the first three         {figures.three / every:7.1%}")
    print(f"  calibration error (ECE, 10 bins)     {figures.ece():7.3f}")
    print(f"  log loss of the first                {figures.log_loss():7.3f}")
    print(f"  given 90 % and more                  {many:7d}, {right:.1%} of them right")
    if kinds:
        by_cause(figures)
    if misses:
        print("\n".join(f"    {miss}" for miss in figures.misses))


def by_cause(figures: Figures) -> None:
    """What was named for each cause, and what instead."""
    print(f"  {'what was done':<28}{'recipes':>8}{'disagree':>9}{'first':>7}{'three':>7}  instead")
    for cause in (*CAUSES, "none"):
        all_, flagged, first, three = (
            figures.causes[cause, name] for name in ("all", "disagrees", "first", "three")
        )
        instead = sorted(
            ((n, what) for (c, what), n in figures.said.items() if c == cause and what != "right"),
            reverse=True,
        )
        shares = "".join(f"{n / flagged:>7.0%}" if flagged else f"{'':>7}" for n in (first, three))
        print(f"  {cause:<28}{all_:>8}{flagged:>9}{shares}  "
              + ", ".join(f"{what} {n}" for n, what in instead))  # fmt: skip


def main() -> None:
    """Print the figures of the seeds, or refit."""
    parser = argparse.ArgumentParser(description=__doc__,
                                     formatter_class=argparse.RawDescriptionHelpFormatter)  # fmt: skip
    parser.add_argument("--recipes", type=int, default=400, help="of each seed")
    parser.add_argument("--seeds", nargs="*", default=["one"])
    parser.add_argument("--fit", action="store_true", help=f"refit on the seeds {FITTED}")
    parser.add_argument("--kinds", action="store_true", help="what was named for each cause")
    parser.add_argument("--misses", action="store_true", help="every recipe explained wrongly")
    args = parser.parse_args()

    from pipeline.reading import load_tools
    from pipeline.reconcile import load_foods
    from pipeline.snapshot import open_snapshot

    snapshot = open_snapshot()
    tools = load_tools(snapshot)
    with snapshot.connect() as con:
        foods = load_foods(con)
        seeds = list(FITTED) if args.fit else args.seeds
        read = Read.build(con, tools, foods, seeds, args.recipes)
        if args.fit:
            from fit_slips import fit

            fit(con, read, foods)
            return
        figures = Figures.count(read.made, *judged(con, read, foods))
        show(f"Seeds {', '.join(seeds)}", figures, args.kinds, args.misses)


if __name__ == "__main__":
    main()
