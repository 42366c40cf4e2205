"""Whole folders with their truth beside them: ``python benchmarks/folders.py FOLDER...``.

FOLDER-TRUTH.json stands beside each folder (``benchmarks/README.md`` has its form): the recipes of every
file with title, servings, lines (words of the food, grams), stated numbers as they stand, whether
they follow from the lines, and the slip if they do not; and the files that hold no recipe. Counted
over what ``verify`` finds: recipes lined up with the true ones of their file by the lines, the
numbers and the title they share; lines with food and grams within 15 %; servings; stated numbers;
honest recipes that agree; honest ones said to disagree (alarms); slips seen, and named first.
One row per folder, one for all; ``--misses`` lists what was missed, which ends a folder's blindness.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

from spoken import Sums, names, stems

if TYPE_CHECKING:
    from pipeline.result import Result

_TAGS = {
    "kcal": "ENERC_KCAL", "kj": "ENERC_KCAL", "protein_g": "PROCNT", "carbs_g": "CHOCDF",
    "fat_g": "FAT", "fiber_g": "FIBTG", "fibre_g": "FIBTG", "sugar_g": "SUGAR", "salt_g": "NA",
}  # fmt: skip
_BASIS = {"serving": "per_serving", "whole": "per_recipe", "100g": "per_100g"}
_KCAL_OF_KJ = 1 / 4.184
_GRAMS_OFF, _NUMBER_OFF = 0.15, 0.006
#: Names of slips in a truth file, and the kinds of explanations that say the same.
_SAYS = {
    "left_out": {"line_left_out"},
    "oil": {"line_left_out"},
    "tenfold": {"amount_slip", "unit_slip"},
    "whole_as_serving": {"servings_slip"},
    "servings": {"servings_slip"},
    "raw_cooked": {"raw_cooked_slip", "product_variant"},
    "kj": {"kilojoules_as_kcal"},
    "kilojoules": {"kilojoules_as_kcal"},
    "digits": {"digits_transposed"},
    "swapped_macro": {"macros_swapped"},
    "per100g": {"per_100g_stated_as_serving"},
    "per_100g": {"per_100g_stated_as_serving"},
    "doubled": {"line_doubled"},
    "product": {"product_variant"},
    "unit": {"unit_slip", "amount_slip"},
    "weight": {"amount_slip", "unit_slip"},
    "stale_macro": {"macro_not_following", "energy_not_following_macros", "digits_transposed"},
}


@dataclass(slots=True)
class Read:
    """A recipe as it was read and judged."""

    title: str
    servings: float
    lines: list[tuple[str, float, str]]
    stated: list[tuple[str, float, str]]
    verdict: str
    kinds: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Counts(Sums):
    """What was counted over some files.

    Attributes:
        honest, agree, alarms: recipes whose numbers follow from their lines, those of them that are
            said to agree, and to disagree.
        seen, named: recipes with a slip that are said to disagree, and whose slip is named first.
    """

    honest: int = 0
    agree: int = 0
    alarms: int = 0
    seen: int = 0
    named: int = 0

    @property
    def slips(self) -> int:
        """Recipes with a slip: every other one is honest."""
        return self.recipes - self.honest

    def row(self, name: str) -> str:
        cells = (
            name, f"{self.found} of {self.recipes}", self.too_many,
            f"{self.lines_right} of {self.lines}", f"{self.servings_right} of {self.servings}",
            f"{self.stated_right} of {self.stated}", f"{self.agree} of {self.honest}", self.alarms,
            f"{self.seen} of {self.slips}", self.named,
        )  # fmt: skip
        return "| " + " | ".join(map(str, cells)) + " |"


def read(folder: Path) -> dict[str, list[Read]]:
    """What ``verify`` finds, by file."""
    from pipeline.run import verify

    result = verify([folder])
    out: dict[str, list[Read]] = {}
    makes = dict(result.collection.recipe.set_index("recipe_id")["servings"])
    for row in result.recipes.to_dict("records"):
        key = row["recipe_id"]
        lines = _of(result, "lines", key)
        one = Read(
            row["title"], float(makes.get(key, float("nan"))),
            [(line["text"], line["grams"], line["description"] or "") for line in lines],
            [(s["nutrient"], float(s["amount"]), s["basis"]) for s in _stated(result, key)],
            row["verdict"],
            [e["kind"] for e in sorted(_of(result, "explanations", key), key=lambda e: e["rank"])],
        )  # fmt: skip
        out.setdefault(_inside(row["source"], folder), []).append(one)
    return out


def _of(result: Result, table: str, key: str) -> list[dict[Any, Any]]:
    frame = getattr(result, table)
    return [dict(row) for row in frame[frame["recipe_id"] == key].to_dict("records")]


def _stated(result: Result, key: str) -> list[dict[Any, Any]]:
    frame = result.collection.stated
    return [dict(row) for row in frame[frame["recipe_id"] == key].to_dict("records")]


def _inside(source: str, folder: Path) -> str:
    path = Path(source)
    return str(path.relative_to(folder)) if path.is_relative_to(folder) else str(path)


def _texts(words: list[str] | str) -> list[str]:
    return [words] if isinstance(words, str) else words


def _words(true: dict[str, Any]) -> list[str]:
    """The food's words that the line itself writes: no other can be asked of a reading of it."""
    words = [word for text in _texts(true["food_words"]) for word in text.split()]
    return [word for word in words if names(true.get("text", ""), [word])]


def _same_food(true: dict[str, Any], text: str, food: str) -> bool:
    """The line says the words; where the true one writes none ("mayo", "spuds"), the food does."""
    words = _words(true)
    return (
        names(text, words) if words else any(names(food, [w]) for w in _texts(true["food_words"]))
    )


def _line_right(true: dict[str, Any], lines: Iterable[tuple[str, float, str]]) -> bool:
    return any(
        _same_food(true, text, food) and abs(grams - true["grams"]) <= _GRAMS_OFF * true["grams"]
        for text, grams, food in lines
        if grams == grams
    )


def _numbers_right(true: dict[str, Any], one: Read) -> int:
    right = 0
    for name, value in true["stated"].items():
        value *= _KCAL_OF_KJ if name == "kj" else 1.0
        tags = {_TAGS[name], "CHOAVLDF"} if name == "carbs_g" else {_TAGS[name]}
        right += any(
            tag in tags and basis == _BASIS[true["per"]]
            and abs(got - value) <= max(_NUMBER_OFF * abs(value), 0.05)
            for tag, got, basis in one.stated
        )  # fmt: skip
    return right


def _likeness(true: dict[str, Any], one: Read) -> float:
    shared = sum(any(_same_food(x, t, f) for t, _, f in one.lines) for x in true["lines"])
    title = stems(true["title"]) & stems(one.title)
    return shared + _numbers_right(true, one) + 2.0 * len(title) / max(1, len(stems(true["title"])))


def compare(truth: list[dict[str, Any]], found: list[Read], misses: list[str]) -> Counts:
    """The recipes of one file against those read of it, paired by likeness, best pair first."""
    counts = Counts(recipes=len(truth))
    pairs = sorted(
        ((_likeness(t, one), i, k) for i, t in enumerate(truth) for k, one in enumerate(found)),
        reverse=True,
    )
    partner: dict[int, Read] = {}
    taken: set[int] = set()
    for score, i, k in pairs:
        if score >= 2.0 and i not in partner and k not in taken:
            partner[i] = found[k]
            taken.add(k)
    counts.found = len(partner)
    counts.too_many = len(found) - len(taken)
    misses += [f"  too many: {r.title!r}" for k, r in enumerate(found) if k not in taken]
    for i, true in enumerate(truth):
        counts.add(_one(true, partner.get(i), misses))
    return counts


def _one(true: dict[str, Any], one: Read | None, misses: list[str]) -> Counts:
    counts = Counts(lines=len(true["lines"]), stated=len(true["stated"]))
    servings = float(true.get("servings") or 0)
    counts.servings = int(servings > 0)
    counts.honest = int(true["honest"])
    if one is None:
        misses.append(f"  not found: {true['title']!r}")
        return counts
    wrong = [line for line in true["lines"] if not _line_right(line, one.lines)]
    misses += [f"  {true['title']!r}: line {line['text']!r} ({line['grams']} g)" for line in wrong]
    counts.lines_right = len(true["lines"]) - len(wrong)
    counts.servings_right = int(servings > 0 and abs(one.servings - servings) < 0.01)
    counts.stated_right = _numbers_right(true, one)
    if counts.stated_right < counts.stated or counts.servings_right < counts.servings:
        said = f"stated {one.stated}, servings {one.servings}"
        misses.append(f"  {true['title']!r}: {said}; true {true['stated']}, {servings}")
    if true["honest"]:
        counts.agree, counts.alarms = int(one.verdict == "agrees"), int(one.verdict == "disagrees")
    else:
        counts.seen = int(one.verdict == "disagrees")
        says = _SAYS.get(str(true["slip"]), set())
        counts.named = int(counts.seen and bool(says & set(one.kinds[:1])))
    if one.verdict != ("agrees" if true["honest"] else "disagrees"):
        misses.append(f"  {true['title']!r}: {one.verdict}, slip {true['slip']}, {one.kinds[:2]}")
    return counts


def main() -> None:
    """Print one row per folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--misses", action="store_true")
    args = parser.parse_args()
    print("| folder | recipes | too many | lines | servings | stated numbers | honest agree"
          " | alarms | slips seen | kind first |\n|" + "---|" * 10)  # fmt: skip
    every = Counts()
    for folder in args.folders:
        truth = json.loads((folder.parent / f"{folder.name}-TRUTH.json").read_text("utf-8"))
        for recipe in truth["recipes"]:  # what is not stated may stand there as null
            recipe["stated"] = {n: v for n, v in recipe["stated"].items() if v is not None}
        found = read(folder)
        counts = Counts()
        for file in sorted({r["file"] for r in truth["recipes"]} | set(found)):
            misses: list[str] = []
            of_file = [r for r in truth["recipes"] if r["file"] == file]
            counts.add(compare(of_file, found.get(file, []), misses))
            if args.misses and misses:
                print(file, *misses, sep="\n")
        print(counts.row(folder.name), flush=True)
        every.add(counts)
    if len(args.folders) > 1:
        print(every.row("all"))


if __name__ == "__main__":
    main()
