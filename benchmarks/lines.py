"""Every figure of matching and weighing in one run: ``python benchmarks/lines.py LINES.csv``.

Labelled lines (food, grams, accepted, wrong), the table's own descriptions typed as written and
rewritten, names taken out of the words files, lists of descriptions with known sums, rows of
``shared/`` that hold a table's code, and speed beside general-purpose scorers. Each row says how
blind it is: *in-sample* was fitted on or worked on, *never fitted* was only counted. Out-of-fold
figures of the fitted model: ``benchmarks/fit_match.py``.

Scoring follows the notes beside the labelled lines: a food is right when its code is in ``accept``
(declined for ``NONE``), grams when inside ``grams_lo..grams_hi``; a description is right when the
food found is the one described, or one within the rule (``regimes.py``) that shares a head word.
"""

from __future__ import annotations

import argparse
import math
import random
import time
import tracemalloc
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import NamedTuple

import composed
from answered import Tally, answers
from labels import Label
from regimes import (
    WAYS,
    Question,
    consonants,
    first_letters,
    labelled_sets,
    of_labels,
    of_names,
    of_table,
    shortened,
)
from shared_codes import rows_with_codes

from pipeline.lines import parse_many
from pipeline.lines.model import ParsedLine
from pipeline.match import Match, load_index
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher
from pipeline.snapshot import open_snapshot
from pipeline.weigh import Weigher
from pipeline.weigh.weight import Weight

#: Tables by the names that stand before the colon of their foods' ids.
SOURCES = ("sr28", "sr_legacy", "foundation", "survey", "branded")


def code(food_id: str | None) -> str | None:
    """``sr28:09040`` → ``09040``."""
    return food_id.split(":", 1)[1] if food_id else None


@dataclass(frozen=True)
class Judged:
    """One line, answered and scored."""

    label: Label
    parsed: ParsedLine
    match: Match
    weight: Weight

    @property
    def food_right(self) -> bool:
        if self.label.lacking:
            return self.match.status != "accepted"
        return code(self.match.food_id) in self.label.accept

    @property
    def in_five(self) -> bool:
        five = [self.match.food_id, *(c.food_id for c in self.match.runners_up)][:5]
        return any(code(f) in self.label.accept for f in five)

    @property
    def grams_right(self) -> bool:
        g = self.weight.grams
        return g is not None and self.label.low <= g <= self.label.high

    @property
    def cause(self) -> str:
        """Where the food went wrong: candidates, state, ranking."""
        if self.in_five:
            return "state" if "state" in self.match.reason else "ranking"
        return "candidates"


def share(items: Sequence[Judged], test: Callable[[Judged], bool]) -> float:
    """Share of items that pass; NaN of none."""
    return sum(map(test, items)) / len(items) if items else math.nan


def calibration(items: Sequence[Judged], bins: int = 10) -> float:
    """Expected calibration error of the confidence over lines with a food id, equal-width bins."""
    binned: defaultdict[int, list[tuple[float, bool]]] = defaultdict(list)
    for j in items:
        if j.match.food_id is None:
            continue
        right = not j.label.lacking and code(j.match.food_id) in j.label.accept
        binned[min(bins - 1, int(j.match.confidence * bins))].append((j.match.confidence, right))
    total = sum(map(len, binned.values()))
    return sum(
        abs(sum(c for c, _ in got) - sum(r for _, r in got)) for got in binned.values()
    ) / max(total, 1)


def table(judged: Sequence[Judged], title: str) -> None:
    """Print the target rows."""
    real = [j for j in judged if not j.label.lacking]
    lacking = [j for j in judged if j.label.lacking]
    weighed = [j for j in judged if j.label.grams is not None]
    accepted = [j for j in judged if j.match.status == "accepted"]
    wrong = [j for j in accepted if j.label.lacking or not j.food_right]
    rows = [
        ("top-1 food in the accepted set", share(real, lambda j: j.food_right), ">= 97.5 %"),
        ("accepted-set food within the top 5", share(real, lambda j: j.in_five), ">= 99 %"),
        ("grams within the expert range", share(weighed, lambda j: j.grams_right), ">= 98 %"),
        ("accepted automatically", share(real, lambda j: j.match.status == "accepted"), ">= 90 %"),
        ("wrong among the accepted", len(wrong) / max(1, len(accepted)), "<= 0.5 %"),
        ("lacking foods rightly not accepted", share(lacking, lambda j: j.food_right), ">= 90 %"),
        ("calibration of confidence (ECE, 10 bins)", calibration(judged), "<= 4 %"),
        (
            "line right (food and grams)",
            share(weighed, lambda j: j.food_right and j.grams_right),
            "",
        ),
    ]
    print(f"\n{title}: {len(judged)} lines")
    for what, value, target in rows:
        print(f"  {what:<44} {value:7.1%}   {target}")


def by_tag(judged: Sequence[Judged]) -> None:
    """Print food and grams right by tag."""
    tags = sorted({t for j in judged for t in j.label.tags})
    print(f"\n  {'tag':<20} {'lines':>5} {'food':>7} {'grams':>7}")
    for tag in tags:
        those = [j for j in judged if tag in j.label.tags]
        weighed = [j for j in those if j.label.grams is not None]
        food, grams = share(those, lambda j: j.food_right), share(weighed, lambda j: j.grams_right)
        mark = "  <" if food < 0.88 or grams < 0.88 else ""
        print(f"  {tag:<20} {len(those):>5} {food:7.1%} {grams:7.1%}{mark}")


def misses(judged: Sequence[Judged]) -> None:
    """Print every miss among the given lines with its cause."""
    for j in judged:
        wrong_accept = j.match.status == "accepted" and not j.food_right
        if not j.food_right:
            print(
                f"  FOOD{'!' if wrong_accept else ' '} {j.label.line_id} {j.label.text!r}: "
                f"{j.match.food_id} {j.match.description!r} {j.match.confidence:.2f} "
                f"[{j.cause}] want {';'.join(sorted(j.label.accept)[:4]) or 'NONE'} "
                f"(name {j.parsed.name!r} {sorted(j.parsed.states)})"
            )
        elif j.match.status != "accepted" and not j.label.lacking:
            print(
                f"  ASK   {j.label.line_id} {j.label.text!r}: {j.match.description!r} "
                f"{j.match.confidence:.2f} {j.match.reason}"
            )
        if j.label.grams is not None and not j.grams_right:
            print(
                f"  GRAMS {j.label.line_id} {j.label.text!r}: {j.weight.grams} not in "
                f"{j.label.low:g}..{j.label.high:g} [{j.weight.basis}] {j.weight.reason}"
            )


def baselines(labels: Sequence[Label], parsed: Sequence[ParsedLine], index: Index) -> float:
    """Print what general-purpose scorers reach on the names; return us a name of the first."""
    import numpy as np
    from rapidfuzz import fuzz, process, utils

    real = [(lab, p) for lab, p in zip(labels, parsed, strict=True) if not lab.lacking]
    names = [utils.default_process(p.name) for _, p in real]
    foods = [utils.default_process(d) for d in index.foods.descriptions]
    first = math.nan
    print("\nbaselines, amounts stripped, food right over lines with a food:")
    for scorer in (fuzz.token_set_ratio, fuzz.WRatio, fuzz.ratio):
        start = time.perf_counter()
        hits = 0
        for at in range(0, len(names), 64):
            scores = process.cdist(names[at : at + 64], foods, scorer=scorer, dtype=np.float32)
            for row, (lab, _) in zip(scores, real[at : at + 64], strict=True):
                hits += index.foods.codes[int(row.argmax())] in lab.accept
        took = (time.perf_counter() - start) / len(names)
        if math.isnan(first):
            first = took
        print(
            f"  rapidfuzz {scorer.__name__:<18} {hits / len(names):7.1%}  {took * 1e6:9.0f} us a name"
        )
    try:
        from sklearn.feature_extraction.text import TfidfVectorizer
    except ImportError:
        return first
    vectors = TfidfVectorizer(analyzer="char_wb", ngram_range=(2, 4))
    start = time.perf_counter()
    table_side = vectors.fit_transform(foods)
    best = np.asarray((vectors.transform(names) @ table_side.T).argmax(axis=1)).ravel()
    took = (time.perf_counter() - start) / len(names)
    hits = sum(
        index.foods.codes[int(b)] in lab.accept for b, (lab, _) in zip(best, real, strict=True)
    )
    print(f"  TF-IDF character 2-4-grams   {hits / len(names):7.1%}  {took * 1e6:9.0f} us a name")
    return first


def row(title: str, questions: Sequence[Question], matcher: Matcher, target: str = "") -> set[int]:
    """Print one row of questions; return the foods that answered them."""
    given = answers(questions, matcher)
    tally = Tally.of(questions, given)
    right, either, accepted, wrong = tally.shares
    print(
        f"  {title:<42} {tally.asked:>6} {right:7.1%} {either:9.1%} {accepted:9.1%} {wrong:7.2%}"
        f"   {target}"
    )
    return {a.food for a in given if a.food >= 0}


def header(title: str) -> None:
    """Print what the columns of ``row`` are."""
    print(f"\n{title}")
    print(f"  {'':<42} {'asked':>6} {'right':>7} {'or asked':>9} {'accepted':>9} {'wrong':>7}")


def of_descriptions(matcher: Matcher, seed: int) -> None:
    """The rows of the table's own descriptions, all of them, and the foods they reach."""
    index = matcher.index
    header('the table\'s descriptions behind "100 g" (a tenth fitted on, each way)')
    reached: set[int] = set()
    for way in WAYS[:4]:
        target = (
            "right >= 99 %, wrong <= 0.5 %"
            if way == WAYS[0]
            else "right or asked >= 97 %, wrong <= 1 %"
        )
        asked = list(of_table(index, (way,), random.Random(seed)))
        reached |= row(f"self, {way}", asked, matcher, target)
    every = len(index.foods)
    print(f"  foods ever answered: {len(reached)} of {every} ({len(reached) / every:.1%})")


def of_held_out(
    sets: Sequence[tuple[str, list[Label], bool]], matcher: Matcher, names: int, seed: int
) -> None:
    """Rows of names taken out of the words files, through the whole match stage."""
    header("the one name that a line uses taken out of the words files")
    target = "right >= 90 %, accepted >= 60 %, wrong <= 1.5 %"
    for name, labels, split in sets:
        for title, those in (
            (
                (f"{name}, odd (in-sample)", [x for x in labels if x.odd]),
                (f"{name}, even (never fitted)", [x for x in labels if not x.odd]),
            )
            if split
            else ((f"{name} (in-sample)", labels),)
        ):
            asked = [q for q in of_labels(those, matcher.index, name) if q.kind == "held out"]
            row(title, asked, matcher, target)
    asked = list(of_names(matcher.index, names, random.Random(seed)))
    row("names of the words files (a third fitted)", asked, matcher)


def of_shortened(
    sets: Sequence[tuple[str, list[Label], bool]], matcher: Matcher, seed: int
) -> None:
    """Rows of lines in which one word is written shorter, six draws each."""
    for way, short_of, odd_is in (
        ("cut to its first three to six letters", first_letters, "thresholds set on"),
        ("written without its vowels", consonants, "only counted"),
    ):
        header(f"one word of the name {way}")
        for name, labels, _ in sets:
            for title, odd in (("odd", True), ("even", False)):
                blind = odd_is if odd else "only counted"
                those = [x for x in labels if x.odd is odd]
                rnd = random.Random(seed)
                asked = [
                    q
                    for _ in range(6)
                    for q in shortened(those, matcher.index, name, rnd, short_of)
                ]
                row(f"{name}, {title} ({blind})", asked, matcher)


class Taken(NamedTuple):
    """Seconds that a process which has read nothing before took."""

    ready: float  # from the snapshot to an index, the kept one; wall time
    parse: float  # CPU time, as are the next two, over all lines
    match: float
    weigh: float


def first_sight(texts: Sequence[str]) -> Taken:
    """One pass over distinct lines; run in a process of its own."""
    snapshot = open_snapshot()
    start = time.perf_counter()
    with snapshot.connect() as con:
        index = load_index(con, snapshot.path.parent)
    ready = time.perf_counter() - start
    matcher, weigher = Matcher(index), Weigher(snapshot)
    warm = parse_many(["1 cup rice, cooked"])  # the tables of words are read once per process
    weigher.weigh(warm, matcher.match(warm))
    t0 = time.process_time()
    parsed = parse_many(texts)
    t1 = time.process_time()
    matches = matcher.match(parsed)
    t2 = time.process_time()
    weigher.weigh(parsed, matches)
    return Taken(ready, t1 - t0, t2 - t1, time.process_time() - t2)


def speed(texts: Sequence[str], anew: float, times: int = 3) -> Taken:
    """Print speed, the least of a few fresh processes, so that other work does not show."""
    took = []
    for _ in range(times):
        with get_context("spawn").Pool(1) as pool:
            took.append(pool.apply(first_sight, (texts,)))
    least = Taken(*(min(part) for part in zip(*took, strict=True)))
    us = [t / len(texts) * 1e6 for t in least[1:]]
    print(f"\nspeed, least of {times} fresh processes")
    print(
        f"  first sight of a distinct line, us of CPU    {us[0]:.0f} parse + {us[1]:.0f} match + "
        f"{us[2]:.0f} weigh = {sum(us):.0f}   target 125"
    )
    print(f"  index ready from the snapshot, s             {least.ready:.2f}   target 0.5")
    print(f"  the same, built anew (once a snapshot), s    {anew:.2f}")
    return least


def main(argv: Sequence[str] | None = None) -> None:
    """Run the benchmark."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("lines", type=Path, help="outside labelled lines; our own are always read")
    ask.add_argument("--misses", action="store_true", help="print the misses of odd-numbered lines")
    ask.add_argument("--no-baselines", action="store_true")
    ask.add_argument("--tags", action="store_true")
    ask.add_argument("--names", type=int, default=1500, help="names of the words files held out")
    ask.add_argument("--seed", type=int, default=3)
    args = ask.parse_args(argv)

    snapshot = open_snapshot()
    with snapshot.connect() as con:
        codes = [code for (code,) in con.execute("select source_code from food").fetchall()]
        load_index(con, snapshot.path.parent)  # keeps one, so that the runs below find it
        tracemalloc.start()
        kept = Matcher(load_index(con, snapshot.path.parent)), Weigher(snapshot)
        held, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        del kept
        start = time.perf_counter()
        index = load_index(con)  # built anew: a kept one has no rows of the words files
        anew = time.perf_counter() - start
    matcher, weigher = Matcher(index), Weigher(snapshot)

    sets = labelled_sets(args.lines)
    texts = list(dict.fromkeys(label.text for _, labels, _ in sets for label in labels))
    took = speed(texts, anew)
    for name, labels, split in sets:
        lines = parse_many([x.text for x in labels])
        matches = matcher.match(lines)
        weights = weigher.weigh(lines, matches)
        judged = [Judged(*four) for four in zip(labels, lines, matches, weights, strict=True)]
        if split:
            table([j for j in judged if j.label.odd], f"{name}, odd numbers (in-sample)")
            table([j for j in judged if not j.label.odd], f"{name}, even numbers (never fitted)")
        else:
            table(judged, f"{name} (in-sample)")
        if args.tags:
            by_tag(judged)
        if args.misses and split:
            print("\nmisses among the odd-numbered lines:")
            misses([j for j in judged if j.label.odd])
        if split and not args.no_baselines:
            first = baselines(labels, lines, index)
            each = sum(took[1:]) / len(texts)
            print(f"  a line at first sight against cdist(token_set_ratio) on its name: "
                  f"{first / each:.0f} times as fast")  # fmt: skip
    of_held_out(sets, matcher, args.names, args.seed)
    of_shortened(sets, matcher, args.seed)
    of_descriptions(matcher, args.seed)

    middle, close = composed.row(composed.energy_errors(snapshot))
    print("\n150 made-up lists of descriptions, no recipes (composed.py), through the whole run")
    print(
        f"  median energy error {middle:7.2%}   <= 1 %\n  within 5 %          {close:7.1%}   >= 90 %"
    )
    keyed, cited = rows_with_codes(codes, SOURCES)
    files = ", ".join(f"{name} {count}" for name, count in keyed.items())
    print(f"\nrows of shared/ that hold a table's code: {keyed.total()}   <= 100   {files}")
    print(f"rows that only cite one as their source: {cited}")
    print(f"memory of index, matcher and weigher: {held / 2**20:.0f} MiB (Python objects)")


if __name__ == "__main__":
    main()
