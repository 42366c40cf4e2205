"""A second table, answered from without any label of its own: ``python benchmarks/tables.py MAP.toml ...``.

Every mapping is loaded twice into a data directory of its own, alone and preferred before SR28,
and two things are measured.

``lines``  labelled lines answered from the table. An answer is right when it lies within 10 % (or
           8 kcal) of energy and 15 % (or 1 g) of protein of a food that the label accepts, and
           shares the label's head word or the line's last noun. A line is *answerable* when the
           table holds such a food under a head that says the line's last noun; a survey of foods as
           eaten holds no flour and no raw chops.
``self``   every description of the table typed behind "100 g": the same food, or one within the
           rule that shares a head word; as written, without commas, in another order.

Nothing is fitted here: figures of a table are blind unless somebody looked at its misses.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path

from labels import Label
from regimes import WAYS, labelled_sets, of_table

from pipeline.lines import parse_many
from pipeline.match import load_index
from pipeline.match.index import Index
from pipeline.match.matcher import Matcher
from pipeline.match.near import near
from pipeline.match.query import query_of
from pipeline.match.rank import head_of
from pipeline.refresh import refresh


def right_foods(label: Label, head: str, index: Index) -> tuple[set[int], Callable[[int], bool]]:
    """Foods of the tables in use that answer a label, and the same as a test."""
    foods = index.foods
    accepted = [
        at
        for at, (source, number) in enumerate(zip(foods.sources, foods.codes, strict=True))
        if source == index.home and number in label.accept
    ]
    heads = {w for at in accepted for w in index.table_heads[at]} | {head}

    def right(food: int) -> bool:
        return bool(heads & index.words_of(food)) and any(
            near(at, food, foods.macros) for at in accepted
        )

    every = (at for places in index.tables.values() for at in places)
    return {at for at in every if head in index.table_heads[at] and right(at)}, right


def row(title: str, asked: int, right: int, accepted: int, wrong: int, or_asked: int) -> None:
    """Print one row; shares of the questions, wrong of the accepted."""
    print(
        f"  {title:<34} {asked:>6} {right / asked:7.1%} {or_asked / asked:9.1%} "
        f"{accepted / asked:9.1%} {wrong / max(1, accepted):7.2%}"
    )


def of_lines(title: str, labels: Sequence[Label], matcher: Matcher) -> None:
    """Labelled lines, those answerable from the tables in use apart from the others."""
    index = matcher.index
    place = {food_id: at for at, food_id in enumerate(index.foods.ids)}
    counts = {True: [0, 0, 0, 0, 0], False: [0, 0, 0, 0, 0]}
    for label, line in zip(labels, parse_many([x.text for x in labels]), strict=True):
        if label.lacking or line.kind != "food" or not line.name:
            continue
        answers, right = right_foods(label, head_of(query_of(line, index), index), index)
        found = matcher.match_one(line)
        at = place.get(found.food_id or "", -1)
        is_right, is_taken = at >= 0 and right(at), found.status == "accepted"
        told = (True, is_right, is_taken, is_taken and not is_right, is_right or not is_taken)
        for which, holds in enumerate(told):
            counts[bool(answers)][which] += holds
    for answerable, (asked, good, taken, wrong, either) in counts.items():
        if asked:
            row(
                f"{title}, {'' if answerable else 'not '}answerable",
                asked,
                good,
                taken,
                wrong,
                either,
            )


def of_self(matcher: Matcher, source: str, count: int) -> None:
    """The table's own descriptions, rewritten."""
    index = matcher.index
    for way in WAYS[:3]:
        asked = good = taken = wrong = either = 0
        for question in of_table(index, (way,), random.Random(3), count, f"{source}:"):
            found = matcher.match_one(question.line)
            at = matcher.position(found.food_id) if found.food_id else -1
            right, accepted = at >= 0 and question.right(at), found.status == "accepted"
            asked, good, taken = asked + 1, good + int(right), taken + int(accepted)
            wrong += int(accepted and not right)
            either += int(right or not accepted)
        row(f"self, {way}", asked, good, taken, wrong, either)


def main(argv: Sequence[str] | None = None) -> None:
    """Load each mapping, alone and preferred, and print its rows."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("mappings", type=Path, nargs="+")
    ask.add_argument("--outside", type=Path)
    ask.add_argument("--self", dest="own", type=int, default=1500, help="descriptions a way; 0 all")
    args = ask.parse_args(argv)
    for mapping in args.mappings:
        for only in (True, False):
            with tempfile.TemporaryDirectory() as folder:
                refresh(from_=str(mapping), only=only, home=Path(folder))
                from pipeline.snapshot import open_snapshot

                with open_snapshot(Path(folder)).connect() as con:
                    matcher = Matcher(load_index(con))
            tables = matcher.index.tables
            print(f"\n{mapping.stem}, {'alone' if only else 'preferred before SR28'}: "
                  + ", ".join(f"{k} {len(v)} foods" for k, v in tables.items()))  # fmt: skip
            print(
                f"  {'':<34} {'asked':>6} {'right':>7} {'or asked':>9} {'accepted':>9} {'wrong':>7}"
            )
            for name, labels, split in labelled_sets(args.outside):
                if split:
                    of_lines(f"{name} odd", [x for x in labels if x.odd], matcher)
                    of_lines(f"{name} even", [x for x in labels if not x.odd], matcher)
                else:
                    of_lines(name, labels, matcher)
            of_self(matcher, next(iter(tables)), args.own)


if __name__ == "__main__":
    main()
