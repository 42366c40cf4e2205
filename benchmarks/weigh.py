"""How often the weigh stage lands inside the expert's range, with the right food given.

Every labelled line is parsed and weighed as the food that the label calls best, so that only the
weighing is measured. Scores are printed apart for odd and even line numbers: odd ones may be looked
at while developing and their misses are listed, even ones are kept for reporting.

    python -m benchmarks.weigh --gold ../shared/gold/lines.csv [--tags] [--quiet]

The gold file has the columns line_id, line, best, grams, grams_lo, grams_hi, tags.
"""

from __future__ import annotations

import argparse
import csv
import math
import statistics
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from pipeline.lines import parse_many
from pipeline.lines.model import ParsedLine
from pipeline.snapshot import open_snapshot
from pipeline.weigh import Weigher, Weight


@dataclass(frozen=True)
class Scored:
    """One labelled line beside what the stage made of it."""

    row: dict[str, str]
    parsed: ParsedLine
    weight: Weight

    @property
    def odd(self) -> bool:
        """May be looked at while developing."""
        return int(self.row["line_id"][1:]) % 2 == 1

    @property
    def open(self) -> bool:
        """The label leaves the amount open."""
        return not self.row["grams"]

    @property
    def right(self) -> bool:
        """Grams inside the expert's range; on open lines: declined."""
        grams = self.weight.grams
        if self.open:
            return grams is None
        if grams is None:
            return False
        return float(self.row["grams_lo"]) - 1e-9 <= grams <= float(self.row["grams_hi"]) + 1e-9

    @property
    def range_overlaps(self) -> bool:
        """The stage's own range and the expert's have something in common."""
        low, high = self.weight.low, self.weight.high
        if self.open or low is None or high is None:
            return False
        return low <= float(self.row["grams_hi"]) and high >= float(self.row["grams_lo"])

    @property
    def best_inside(self) -> bool:
        """The expert's best grams lie in the stage's range."""
        low, high = self.weight.low, self.weight.high
        if self.open or low is None or high is None:
            return False
        return low <= float(self.row["grams"]) <= high


def score(gold: Path) -> tuple[list[Scored], float]:
    """Weigh every line of a gold file; also seconds a line, weighing alone, warm."""
    with gold.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    weigher = Weigher(open_snapshot())
    parsed = parse_many([row["line"] for row in rows])
    foods = [None if row["best"] == "NONE" else f"sr28:{row['best']}" for row in rows]
    pairs = list(zip(parsed, foods, strict=True))
    weights = [weigher.weigh_one(line, food) for line, food in pairs]
    start = time.perf_counter()
    for line, food in pairs:
        weigher.weigh_one(line, food)
    each = (time.perf_counter() - start) / max(len(pairs), 1)
    return [Scored(*item) for item in zip(rows, parsed, weights, strict=True)], each


def figures(scored: list[Scored]) -> str:
    """One line of figures over some lines."""
    closed = [s for s in scored if not s.open]
    if not closed:
        return "no lines"
    right = sum(s.right for s in closed)
    opened = [s for s in scored if s.open]
    logs = [abs(math.log(s.weight.grams / float(s.row["grams"]))) for s in closed if s.weight.grams]
    width = [
        (s.weight.high - s.weight.low) / s.weight.grams
        for s in closed
        if s.weight.grams and s.weight.high is not None and s.weight.low is not None
    ]
    return (
        f"{right}/{len(closed)} = {right / len(closed):.1%} in range; "
        f"open lines declined {sum(s.right for s in opened)}/{len(opened)}; "
        f"median |ln| {statistics.median(logs):.4f}; "
        f"expert's best in our range {sum(s.best_inside for s in closed) / len(closed):.1%}, "
        f"ranges overlap {sum(s.range_overlaps for s in closed) / len(closed):.1%}, "
        f"median width {statistics.median(width):.2f} of the grams"
    )


def by_tag(scored: list[Scored]) -> Iterator[str]:
    """Share in range by tag, the worst first."""
    total: Counter[str] = Counter()
    right: Counter[str] = Counter()
    for one in scored:
        if one.open:
            continue
        for tag in one.row["tags"].split(";"):
            total[tag] += 1
            right[tag] += one.right
    for tag in sorted(total, key=lambda tag: right[tag] / total[tag]):
        yield f"  {tag:22} {right[tag]:4}/{total[tag]:<4} {right[tag] / total[tag]:.1%}"


def main() -> None:
    """Print the scores."""
    args = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    args.add_argument("--gold", type=Path, default=Path("../shared/gold/lines.csv"))
    args.add_argument("--tags", action="store_true", help="also by tag, all lines")
    args.add_argument("--quiet", action="store_true", help="do not list the odd lines missed")
    options = args.parse_args()
    scored, each = score(options.gold)
    odd = [s for s in scored if s.odd]
    even = [s for s in scored if not s.odd]
    if not options.quiet:
        for one in odd:
            if not one.right:
                row, weight = one.row, one.weight
                grams = "none" if weight.grams is None else f"{weight.grams:.1f}"
                print(f"{row['line_id']} {row['line']!r} [{row['best']}]: {grams} g, expert "
                      f"{row['grams'] or 'open'} ({row['grams_lo']} to {row['grams_hi']})")  # fmt: skip
                print(f"      {weight.basis}: {weight.reason}")
                print(f"      read as {one.parsed.name!r} {sorted(one.parsed.states)} "
                      f"{[(m.amount, m.unit, m.size) for m in one.parsed.measures]}")  # fmt: skip
    print("odd lines :", figures(odd))
    print("even lines:", figures(even))
    print("all lines :", figures(scored))
    print(f"weighing alone, warm: {each * 1e6:.1f} us a line")
    if options.tags:
        print("\n".join(by_tag(scored)))


if __name__ == "__main__":
    main()
