"""Reading of spoken scripts against scripts with truth: ``python benchmarks/spoken.py FOLDER...``.

A folder holds NAME.{txt,srt,vtt} and NAME.truth.json (``benchmarks/data/spoken/README.md`` says
what is in it). Recipes read are lined up with the true ones, order kept, by the lines and totals
they share; then counted: recipes found and read too many, mentions found with their amount, lines
that nobody said or that belong to another recipe, stated totals right, recipes right as a whole.
Prints one row per speaker (the first part of the file name) and one for all.
"""

from __future__ import annotations

import argparse
import json
import re
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields
from functools import cache
from pathlib import Path
from typing import Any, Self

Amount = tuple[float | None, str]
#: (text of a line, its amount)
Line = tuple[str, Amount]

NUTRIENTS = {"kcal": "ENERC_KCAL", "protein_g": "PROCNT", "carbs_g": "CHOCDF", "fat_g": "FAT"}
_GRAMS = {"g": 1.0, "kg": 1000.0, "oz": 28.35, "lb": 453.6, "ml": 1.0, "l": 1000.0}
_ALIAS = {
    "gram": "g", "grams": "g", "mil": "ml", "mils": "ml", "mls": "ml", "millilitre": "ml",
    "litre": "l", "liter": "l", "litres": "l", "liters": "l", "milliliter": "ml",
    "ounce": "oz", "ounces": "oz", "pound": "lb", "pounds": "lb", "cups": "cup",
    "tablespoon": "tbsp", "tablespoons": "tbsp", "teaspoon": "tsp", "teaspoons": "tsp",
    "spoon": "tbsp", "spoons": "tbsp", "scoops": "scoop", "tin": "can", "tins": "can", "cans": "can", "slices": "slice",
    "cloves": "clove", "pieces": "piece", "": "piece", "large": "piece", "medium": "piece",
    "small": "piece", "whole": "piece",
}  # fmt: skip
_WORD = re.compile(r"[a-zA-Zäöüéèñ']+")
_ENDING = re.compile(r"(?<=[^\W\d_]{3})[eiy]+$")


@dataclass(slots=True)
class Sums:
    """Counts of recipes against their truth, added up field by field."""

    recipes: int = 0
    found: int = 0
    too_many: int = 0
    lines: int = 0
    lines_right: int = 0
    servings: int = 0
    servings_right: int = 0
    stated: int = 0
    stated_right: int = 0

    def add(self, other: Self) -> None:
        """Add the counts of another file."""
        for one in fields(self):
            setattr(self, one.name, getattr(self, one.name) + getattr(other, one.name))


@dataclass(slots=True)
class Counts(Sums):
    """What was counted over some scripts."""

    foods: int = 0
    read: int = 0
    not_said: int = 0
    whole: int = 0
    words: int = 0
    seconds: float = 0.0

    def shares(self) -> dict[str, float]:
        """The published figures, 0 to 1."""

        def share(part: int, whole: int) -> float:
            return part / whole if whole else float("nan")

        return {
            "recipes found": share(self.found, self.recipes),
            "read too many": share(self.too_many, self.recipes),
            "mentions": share(self.lines_right, self.lines),
            "foods": share(self.foods, self.lines),
            "not said": share(self.not_said, self.read),
            "totals": share(self.stated_right, self.stated),
            "servings": share(self.servings_right, self.servings),
            "whole": share(self.whole, self.recipes),
        }


@dataclass(slots=True)
class Recipe:
    """A recipe as it was read: its lines, headings apart, and its numbers per serving."""

    title: str
    lines: list[Line] = field(default_factory=list)
    stated: dict[str, float] = field(default_factory=dict)
    servings: float = float("nan")


def unit_of(unit: str | None) -> str:
    """One name per unit; pieces of any size are ``piece``."""
    text = "" if unit is None or unit != unit else str(unit).lower().strip()
    return _ALIAS.get(text, text)


@cache
def stems(text: str) -> frozenset[str]:
    """Words of a text without the endings in which a plural may differ: tomato, tomatoes."""
    words = (word.lower().removesuffix("'s") for word in _WORD.findall(text))
    bare = (w if w.endswith("ss") else w.removesuffix("s") for w in words)
    return frozenset(_ENDING.sub("", word) for word in bare)


def names(text: str, words: Iterable[str]) -> bool:
    """Every one of ``words`` is in ``text``."""
    return all(stems(word) <= stems(text) for word in words)


def amounts_of(line: dict[str, Any]) -> list[Amount]:
    """The ways a true line's amount was said; other ways are pairs or ``{amount, unit}``."""
    others = line.get("alt_amounts") or []
    ways = [(way["amount"], way["unit"]) if isinstance(way, dict) else way for way in others]
    return [(value, unit_of(unit)) for value, unit in [(line.get("amount"), line["unit"]), *ways]]


def same_amount(true: list[Amount], got: Amount, text: str = "") -> bool:
    """The amount read is one of those said, in another unit of weight too; anything if none was.

    The unit may also stand in the line as it was said ("1 squirt brown sauce", read as a squeeze).
    """
    said = [(value, unit) for value, unit in true if value is not None]
    if not said:
        return True
    value, unit = got[0], unit_of(got[1])
    if value is None or value != value:
        return False
    for one in {u for _, u in said}:
        ends = [v for v, u in said if u == one]
        if len(ends) > 1 and min(ends) <= value <= max(ends) and unit in (one, "piece"):
            return True
    for wanted, one in said:
        near = abs(value - wanted) <= 0.02 * max(wanted, 0.01)
        loose = unit == one or {unit, one} <= {"piece", "handful", "portion"} or one == "piece"
        loose = loose or names(text, [one])
        if near and loose:
            return True
        if one in _GRAMS and unit in _GRAMS:
            grams = wanted * _GRAMS[one]
            if abs(value * _GRAMS[unit] - grams) <= 0.02 * grams:
                return True
    return False


@dataclass(slots=True)
class Compared:
    """A true recipe against one that was read."""

    with_amount: int
    foods: int
    used: set[int]
    missed: list[tuple[dict[str, Any], Line | None]]


def compare(true: dict[str, Any], lines: Sequence[Line]) -> Compared:
    """Which true lines were read; each line read answers for one."""
    out = Compared(0, 0, set(), [])
    for line in sorted(true["lines"], key=lambda x: bool(x.get("optional"))):
        hit, exact = _line_for(line, true["lines"], lines, out.used)
        if hit is not None:
            out.used.add(hit)
            out.foods += 1
            out.with_amount += exact
            if not exact:
                out.missed.append((line, lines[hit]))
        elif line.get("optional"):
            out.foods += 1
            out.with_amount += 1
        else:
            out.missed.append((line, None))
    return out


def _line_for(
    line: dict[str, Any], among: list[dict[str, Any]], lines: Sequence[Line], used: set[int]
) -> tuple[int | None, bool]:
    ways = amounts_of(line)
    fitting = [
        at
        for at, (text, _) in enumerate(lines)
        if names(text, line["food_words"])
        or any(names(text, [other]) for other in line.get("food_words_alt") or [])
    ]
    free = [at for at in fitting if at not in used]
    for at in free:
        if same_amount(ways, lines[at][1], lines[at][0]):
            return at, True
    if free:
        return free[0], False
    if line.get("amount") is not None:  # said in two parts and read as one line with their sum
        unit = unit_of(line["unit"])
        total = sum(
            x["amount"]
            for x in among
            if x["food_words"] == line["food_words"]
            and x.get("amount") is not None
            and unit_of(x["unit"]) == unit
        )
        if total != line["amount"]:
            for at in fitting:
                if same_amount([(total, unit)], lines[at][1]):
                    return at, True
    return None, False


def totals_right(true: dict[str, Any], read: Recipe) -> list[str]:
    """The stated nutrients that were read right, per serving or for the whole."""
    ways = {1, true.get("servings") or 1}
    return [
        name
        for name, value in stated_of(true).items()
        if name in read.stated and any(abs(read.stated[name] - value / d) < 0.51 for d in ways)
    ]


def stated_of(true: dict[str, Any]) -> dict[str, float]:
    """The stated numbers of a true recipe that are counted."""
    return {k: v for k, v in (true.get("stated") or {}).items() if k in NUTRIENTS and v is not None}


def lined_up(truth: list[dict[str, Any]], read: list[Recipe]) -> dict[int, int]:
    """The pairing of true recipes and those read that keeps the order and shares the most."""

    def alike(true: dict[str, Any], one: Recipe) -> float:
        found = compare(true, one.lines)
        lines = found.with_amount + 0.5 * (found.foods - found.with_amount)
        beside = 0.2 * (len(one.lines) - len(found.used))
        return max(0.0, lines + 2 * len(totals_right(true, one)) - beside)

    n, m = len(truth), len(read)
    score = [[alike(t, r) for r in read] for t in truth]
    best = [[0.0] * (m + 1) for _ in range(n + 1)]
    for i in range(n - 1, -1, -1):
        for j in range(m - 1, -1, -1):
            best[i][j] = max(best[i + 1][j], best[i][j + 1], best[i + 1][j + 1] + score[i][j])
    pairs: dict[int, int] = {}
    i = j = 0
    while i < n and j < m:
        if score[i][j] > 0 and best[i][j] == best[i + 1][j + 1] + score[i][j]:
            pairs[i] = j
            i, j = i + 1, j + 1
        elif best[i][j] == best[i + 1][j]:
            i += 1
        else:
            j += 1
    return pairs


def score(truth: list[dict[str, Any]], read: list[Recipe], detail: list[str]) -> Counts:
    """Counts of one script; what went wrong is added to ``detail``."""
    pairs = lined_up(truth, read)
    out = Counts(
        recipes=len(truth), found=len(pairs), too_many=len(read) - len(pairs),
        read=sum(len(r.lines) for r in read),
    )  # fmt: skip
    good = 0
    for at, true in enumerate(truth):
        stated = stated_of(true)
        out.servings += bool(true.get("servings"))
        out.lines += len(true["lines"])
        out.stated += len(stated)
        if at not in pairs:
            detail.append(f"   LOST {true['title']}")
            continue
        one = read[pairs[at]]
        found = compare(true, one.lines)
        right = totals_right(true, one)
        good += len(found.used)
        out.lines_right += found.with_amount
        out.foods += found.foods
        out.stated_right += len(right)
        if true.get("servings") and one.servings != true["servings"]:
            detail.append(f"   servings {true['title']}: {true['servings']}, read {one.servings}")
        elif true.get("servings"):
            out.servings_right += 1
        whole = (
            found.with_amount == len(true["lines"])
            and len(found.used) == len(one.lines)  # an optional line may be missing
            and len(right) == len(stated)
        )
        out.whole += whole
        if not whole:
            wrong = {k: (stated[k], one.stated.get(k)) for k in stated if k not in right}
            detail.append(f"   {true['title']} -> {one.title} {wrong or ''}")
            for line, near in found.missed:
                said = f"{line['amount']} {line['unit']} {line['food']}"
                detail.append(f"       missed {said} | nearest {near}")
            extra = [t for k, (t, _) in enumerate(one.lines) if k not in found.used]
            detail += [f"       extra  {text}" for text in extra]
    for at, one in enumerate(read):
        if at not in pairs.values():
            detail.append(f"   TOO MANY {one.title}: {[t for t, _ in one.lines]} {one.stated}")
    out.not_said = out.read - good
    return out


class Reader:
    """Reads scripts as the run does, the tools loaded once."""

    def __init__(self) -> None:
        from pipeline.reading import load_tools
        from pipeline.snapshot import open_snapshot

        self._tools = load_tools(open_snapshot())

    def read(self, path: Path) -> tuple[list[Recipe], int, float]:
        """Recipes of a script, its words, and the seconds the reading took."""
        from pipeline.intake import read_collection
        from pipeline.reading import read_lines, weighed_frame

        start = time.perf_counter()
        collection = read_collection(path)
        seconds = time.perf_counter() - start
        texts = list(dict.fromkeys(collection.line["text"]))
        weighed = weighed_frame(read_lines(texts, self._tools))
        amounts: dict[str, Amount] = {
            text: (amount, unit)
            for text, amount, unit in zip(
                weighed["text"], weighed["amount"], weighed["unit"], strict=True
            )
        }
        out: list[Recipe] = []
        for row in collection.recipe.to_dict("records"):
            mine = collection.line["recipe_id"] == row["recipe_id"]
            lines = [(t, amounts[t]) for t in collection.line.loc[mine, "text"]]
            one = Recipe(row["title"], lines, servings=float(row["servings"]))
            said = collection.stated[collection.stated["recipe_id"] == row["recipe_id"]]
            for name, tag in NUTRIENTS.items():
                hit = said[said["nutrient"] == tag]
                if len(hit):
                    whole = hit["basis"].iloc[0] == "per_recipe"
                    value = hit["amount"].iloc[0] / (row["servings"] if whole else 1.0)
                    if value == value:
                        one.stated[name] = float(value)
            out.append(one)
        texts_said = collection.scripts["text"]
        return out, sum(len(t.split()) for t in texts_said), seconds


def scripts_of(folder: Path) -> list[Path]:
    """The scripts of a folder that have their truth beside them."""
    return [
        p
        for p in sorted(folder.iterdir())
        if p.suffix in (".txt", ".srt", ".vtt") and p.with_name(f"{p.stem}.truth.json").exists()
    ]


def print_shares(counted: dict[str, Counts]) -> None:
    """A row of figures for each; the last is for all."""
    *_, everyone = counted.values()
    print(f"{'speaker':10} {'recipes':>7} " + " ".join(f"{k:>13}" for k in everyone.shares()))
    for name, counts in counted.items():
        figures = " ".join(f"{100 * v:12.1f}%" for v in counts.shares().values())
        print(f"{name:10} {counts.recipes:>7} {figures}")
    print(f"{everyone.words:,} words read in {everyone.seconds:.2f} s")


def main() -> None:
    """Score the scripts of the folders named and print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--detail", action="store_true", help="what went wrong, recipe by recipe")
    parser.add_argument(
        "--only", default="", help="only scripts whose name holds this, or these, by comma"
    )
    given = parser.parse_args()
    reader = Reader()
    speakers: dict[str, Counts] = {}
    for folder in given.folders:
        for path in scripts_of(folder):
            if given.only and not any(o in path.name for o in given.only.split(",")):
                continue
            truth = json.loads(path.with_name(f"{path.stem}.truth.json").read_text())["recipes"]
            read, words, seconds = reader.read(path)
            detail: list[str] = []
            counts = score(truth, read, detail)
            counts.words, counts.seconds = words, seconds
            speakers.setdefault(path.stem.split("_")[0], Counts()).add(counts)
            if given.detail:
                print("##", path.name, "true", len(truth), "read", len(read), *detail, sep="\n")
    everyone = Counts()
    for counts in speakers.values():
        everyone.add(counts)
    print_shares({**speakers, "all": everyone})


if __name__ == "__main__":
    main()
