"""Profiles of foods against USDA's LanguaL codes: ``python benchmarks/profiles.py SR28_FULL FNDDS``.

Prints agreement by facet (see ``langual_agreement`` for what agreement means) for the half of the
coded foods that was looked at while the rules were written and for the half kept apart, which was
only counted; the disagreements of the half looked at by kind, and how often USDA itself codes equal
cases differently. Then, without any label: how much of the states the composition alone gives back
when the words of state are replaced by words of no language; what share of the foods of a survey
table, named in another style, gets each state; and the speed.

SR28_FULL: folder with LANGUAL.csv. FNDDS: the survey table as CSV; either may be missing.
"""

from __future__ import annotations

import argparse
import csv
import math
import re
import time
from collections import Counter, defaultdict
from pathlib import Path

import numpy as np
from food_table import FoodTable, load_foods
from langual_agreement import FACETS, Agreement, agrees, compare, kept_apart, kinds, read_codes
from numpy.typing import NDArray

from pipeline.foods import Profile, profiles
from pipeline.foods.composition import COOKED
from pipeline.snapshot import open_snapshot

Columns = dict[str, NDArray[np.float64]]
_COLUMNS = ("water_g", "protein_g", "fat_g", "carbs_g", "sugar_g", "fiber_g", "sodium_mg")
_TARGET = 95.0
#: Words of state and the words of no language that stand in for them.
_HIDDEN = {
    "raw": "kuru", "uncooked": "kuru", "cooked": "pisul", "roasted": "pisul", "baked": "pisul",
    "boiled": "vari", "simmered": "vari", "broiled": "grilo", "grilled": "grilo",
    "braised": "moki", "stewed": "moki", "fried": "fritu", "dried": "seko", "dry": "tora",
}  # fmt: skip
_SURVEY = {
    "water_g": "Water (g)", "protein_g": "Protein (g)", "fat_g": "Total Fat (g)",
    "carbs_g": "Carbohydrate (g)", "sugar_g": "Sugars, total (g)",
    "fiber_g": "Fiber, total dietary (g)", "sodium_mg": "Sodium (mg)",
}  # fmt: skip


def columns_of(table: FoodTable) -> Columns:
    """The amounts that profiles compare."""
    return {name: getattr(table, name) for name in _COLUMNS}


def against_usda(folder: Path, table: FoodTable, read: list[Profile], *, most: int) -> None:
    """Agreement table, disagreements of the half looked at, and USDA against itself."""
    codes = read_codes(folder)
    places = [at for at, code in enumerate(table.source_code) if code in codes]
    halves = {
        "looked at": [p for p in places if not kept_apart(table.description[p])],
        "kept apart": [p for p in places if kept_apart(table.description[p])],
        "all": places,
    }
    results = {
        name: compare(
            [table.description[p] for p in half],
            [codes[table.source_code[p]] for p in half],
            [read[p].facets for p in half],
        )
        for name, half in halves.items()
    }
    print(f"LanguaL codes of USDA, {len(places)} foods; target {_TARGET:.0f} % in each facet")
    print(f"{'facet':<6}{'half':<12}{'coded':>6}{'agree':>9}{'same class':>12}{'same code':>11}")
    for letter in FACETS:
        for name, by_facet in results.items():
            row = by_facet[letter]
            print(
                f"{letter:<6}{name:<12}{row.coded:>6}{row.share:>8.1f}%"
                f"{100 * row.same / row.coded:>11.1f}%{100 * row.exact / row.coded:>10.1f}%"
            )
    print("\ndisagreements of the half looked at, by kind (USDA / ours: foods, examples)")
    for letter in FACETS:
        for (usda, ours), count in kinds(results["looked at"][letter])[:most]:
            examples = results["looked at"][letter].disagreements[usda, ours]
            print(f"  {usda} / {ours}: {count}  {'; '.join(e[:60] for e in examples[:3])}")
    _usda_against_itself(halves["looked at"], table, read, codes)


def _usda_against_itself(
    half: list[int],
    table: FoodTable,
    read: list[Profile],
    codes: dict[str, dict[str, frozenset[str]]],
) -> None:
    """Foods that are said in the same words but for their name and are coded differently.

    The most that any reading of the names could reach: everything in the profile but the name, and
    the food group, and USDA's own majority.
    """
    print("\nUSDA against itself, half looked at: foods outside the majority of foods that are "
          "equal in group, states, form, medium, part and flags")  # fmt: skip
    for letter in FACETS:
        alike: dict[object, Counter[frozenset[str]]] = defaultdict(Counter)
        for at in half:
            coded = codes[table.source_code[at]].get(letter)
            if coded:
                p = read[at]
                alike[table.category[at], p.states, p.form, p.medium, p.part, p.skin, p.lean_only][
                    coded
                ] += 1
        total = sum(sum(c.values()) for c in alike.values())
        odd = 0
        for counted in alike.values():
            first = counted.most_common(1)[0][0]
            odd += sum(n for coded, n in counted.items() if not agrees(coded, first)[0])
        print(f"  {letter}: {odd} of {total} ({100 * odd / total:.1f} %)")


def without_words(table: FoodTable, read: list[Profile]) -> None:
    """States given back by the composition when the words that say them mean nothing."""
    pattern = re.compile(r"\b(" + "|".join(_HIDDEN) + r")\b", re.IGNORECASE)
    hidden = [pattern.sub(lambda m: _HIDDEN[m[0].lower()], d) for d in table.description]
    blind = profiles(hidden, manufacturers=table.manufacturer, composition=columns_of(table))
    print("\nstates from the composition alone, words of state replaced by words of no language")
    print(f"{'state':<16}{'foods':>7}{'found':>8}{'right':>8}")
    groups = {"raw": {"raw"}, "cooked": set(COOKED), "dry or dried": {"dry", "dried"}}
    for name, states in groups.items():
        said = given = right = 0
        for full, told in zip(read, blind, strict=True):
            if (told.states - told.derived) & states:
                continue  # a word that was left in says it
            truth, got = bool(full.states & states), bool(told.derived & states)
            said += truth
            given += got
            right += truth and got
        found = 100 * right / said if said else math.nan
        precise = 100 * right / given if given else math.nan
        print(f"{name:<16}{said:>7}{found:>7.1f}%{precise:>7.1f}%")


def survey(path: Path) -> None:
    """Share of the foods of a table in another style that gets each state; no labels."""
    with path.open(encoding="utf-8", newline="") as handle:
        rows = list(csv.DictReader(handle))
    amounts = {
        name: np.array([float(r[column] or "nan") for r in rows], dtype=np.float64)
        for name, column in _SURVEY.items()
    }
    read = profiles(
        [r["Main food description"] for r in rows],
        categories=[r["WWEIA Category description"] for r in rows],
        composition=amounts,
    )
    print(
        f"\nsurvey table, {len(rows)} foods (no labels; some names were read while the grammar was written)"
    )
    counted: Counter[str] = Counter(s for p in read for s in p.states)
    derived: Counter[str] = Counter(s for p in read for s in p.derived)
    for state, count in counted.most_common(24):
        print(f"  {state:<16}{100 * count / len(rows):>6.1f} %   by composition {derived[state]}")
    fields = ("form", "medium", "part", "fat_pct", "salt_added", "sugar_added", "fat_added", "skin",
              "lean_only", "maker", "beside", "denied")  # fmt: skip
    for name in fields:
        told = sum(getattr(p, name) not in ("", None, ()) for p in read)
        print(f"  {name:<16}{100 * told / len(rows):>6.1f} %")
    some = sum(bool(p.states) for p in read)
    print(f"  any state       {100 * some / len(rows):>6.1f} %")


def speed(table: FoodTable) -> None:
    """Time of one whole table, caches empty, against one regular expression search a food."""
    from pipeline.foods import langual, segments

    segments.read_segment.cache_clear()
    for cached in (langual.eaten_of, langual.source_of, langual._codes):
        cached.cache_clear()
    before = time.process_time()
    profiles(
        table.description, manufacturers=table.manufacturer, categories=table.category,
        composition=columns_of(table),
    )  # fmt: skip
    took = time.process_time() - before
    word = re.compile(r"[a-z0-9]+")
    before = time.process_time()
    for description in table.description:
        word.findall(description.lower())
    plain = time.process_time() - before
    print(
        f"\nspeed: {len(table)} foods in {took:.2f} s of one core, {1e6 * took / len(table):.0f} us "
        f"each, {took / plain:.0f} times splitting them into words; target 0.6 s"
    )


def main() -> None:
    """See the module."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0] if __doc__ else "")
    parser.add_argument("sr28_full", type=Path)
    parser.add_argument("fndds", type=Path, nargs="?")
    parser.add_argument("--most", type=int, default=12, help="kinds of disagreement a facet")
    args = parser.parse_args()
    with open_snapshot().connect() as con:
        table = load_foods(con)
    read = profiles(
        table.description, manufacturers=table.manufacturer, categories=table.category,
        composition=columns_of(table),
    )  # fmt: skip
    if (args.sr28_full / "LANGUAL.csv").is_file():
        against_usda(args.sr28_full, table, read, most=args.most)
    else:
        print(f'no LANGUAL.csv in "{args.sr28_full}": agreement with USDA is not measured')
    without_words(table, read)
    if args.fndds is not None and args.fndds.is_file():
        survey(args.fndds)
    speed(table)


__all__ = ["Agreement", "main"]

if __name__ == "__main__":
    main()
