"""What a creator can do now, in order of effect: numbers to correct, lines to answer, things to weigh.

Every task is one recipe or one line, what is stated and what it should say, why, and one thing to
copy: the corrected line for the recipe, or the command that opens the review page at the line.
Before a number is corrected stands the other possibility: that the line is wrong and not the number.
"""

from __future__ import annotations

import math
import os
import shlex
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.memory.decisions import text_key
from pipeline.problems import place_of
from pipeline.report.frames import Row, by_recipe, records
from pipeline.report.habits import SURE
from pipeline.report.words import PER, SLIP, amount, known, number, nutrient_word, plural, unit_of

if TYPE_CHECKING:
    from pipeline.run import Result

#: A line whose open energy is below both moves no published number.
TRIVIAL_KCAL, TRIVIAL_SHARE = 5.0, 0.02
#: Numbers named in one task.
MOST_NUMBERS = 3


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do.

    Attributes:
        title, href: the recipe and its page, "" for none; ``more``: how many other recipes.
        subject: the line it is about, "" when it is about the recipe's numbers.
        numbers: (name, stated, what it should say, column).
        why: a few words.
        other: the other possibility, a sentence, "" for none.
        copy: what the button copies; ``label``: what it says.
    """

    title: str
    href: str
    copy: str
    label: str
    why: str
    subject: str = ""
    numbers: tuple[tuple[str, str, str, str], ...] = ()
    other: str = ""
    more: int = 0


@dataclass(frozen=True, slots=True)
class Group:
    """Tasks of one kind.

    Attributes:
        kind: "fix", "answer", "weigh" or "correct".
        headline: what to do, with the count.
        how: what holds for all of them.
        command: does all of them at once, "" for none.
        tasks: the largest effect first.
        trivial: of "answer": lines that move no number, not listed among the tasks.
        more: how many tasks beside those listed.
    """

    kind: str
    headline: str
    how: str
    tasks: list[Task] = field(default_factory=list)
    command: str = ""
    trivial: int = 0
    more: int = 0


def to_do(result: Result, titles: Mapping[str, str], hrefs: Mapping[str, str]) -> list[Group]:
    """The groups that hold something, in order of effect.

    Args:
        result: of ``pipeline.verify``.
        titles: recipe_id to title.
        hrefs: recipe_id to the recipe's own page.
    """
    made = _Maker(result, titles, hrefs)
    groups = [made.fix(), made.answer(), made.weigh(), made.correct()]
    return [g for g in groups if g.tasks or g.trivial]


def how_many(result: Result) -> dict[str, int]:
    """How many tasks ``to_do`` would list in "fix", "answer" and "weigh", without making them.

    "settle": questions about habits that are sure enough to be asked first.
    """
    recipes = result.recipes[~result.recipes["recipe_id"].isin(result.accepted())]
    review = result.to_review
    is_open, whole = open_kcal(result, set(review["recipe_id"])), energy_of(result)
    counts: dict[str, bool] = {}
    opens: dict[str, float] = {}
    for recipe_id, line_no, text in zip(
        review["recipe_id"], review["line_no"], review["text"], strict=True
    ):
        key, kcal = text_key(str(text)), is_open.get((str(recipe_id), int(line_no)), 0.0)
        opens[key] = opens.get(key, 0.0) + kcal
        counts[key] = counts.get(key, False) or _share(kcal, whole.get(recipe_id)) >= TRIVIAL_SHARE
    first = result.explanations[result.explanations["rank"] == 1]
    by_habit = set(first.loc[first["kind"] == "habit", "recipe_id"])
    open_recipes = set(recipes.loc[recipes["verdict"] == "uncertain", "recipe_id"]) - by_habit
    asked = set(zip(review["recipe_id"], review["line_no"].astype(int), strict=True))
    doubt = result.doubt[
        result.doubt["recipe_id"].isin(open_recipes) & (result.doubt["advice"].fillna("") != "")
    ]
    named = {
        r
        for r, n in zip(doubt["recipe_id"], doubt["line_no"].astype(int), strict=True)
        if (r, n) not in asked
    }
    return {
        "fix": int((recipes["verdict"] == "disagrees").sum()),
        "answer": sum(counts[key] or kcal >= TRIVIAL_KCAL for key, kcal in opens.items()),
        "weigh": len(named),
        "settle": int((result.habits["probability"] >= SURE).sum()),
    }


def _share(kcal: float, whole: float | None) -> float:
    """Part of a recipe's energy that a line leaves open; all of it where that is not known."""
    return kcal / whole if whole is not None and known(whole) and whole > 0 else 1.0


def advice(result: Result) -> dict[str, tuple[str, str]]:
    """Why each recipe that disagrees or is uncertain does, and the other possibility, in words."""
    open_ = result.recipes["verdict"].isin(["disagrees", "uncertain"])
    ids = result.recipes.loc[open_, "recipe_id"]
    names = (
        "recipes", "findings", "lines", "computed", "explanations", "to_review", "corrected", "doubt",
        "per_recipe",
    )  # fmt: skip
    frames = {name: getattr(result, name) for name in names}
    some = {n: f[f["recipe_id"].isin(ids)] for n, f in frames.items() if "recipe_id" in f}
    made = _Maker(replace(result, **some), {}, {str(r): str(r) for r in ids})
    tasks = [*made.fix().tasks, *made.weigh().tasks]
    return {task.href: (task.why, task.other) for task in tasks}


def open_kcal(result: Result, ids: set[str] | None = None) -> dict[tuple[str, int], float]:
    """Energy of each line that is really open, kcal of the whole recipe; ``ids``: of these alone.

    Half of the recipe's 90 % range belongs to its lines by their shares of the variance, so a line
    owns the root of its share of it, and no more than it brings. A butter that may be salted or not
    is open by nothing; a food that the table lacks, by what a line of its grams may bring.
    """
    energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"]
    half = dict(
        zip(energy["recipe_id"], (energy["high"] - energy["low"]).astype(float) / 2, strict=True)
    )
    doubt, lines = result.doubt, result.lines
    if ids is not None:
        doubt, lines = (f[f["recipe_id"].isin(ids)] for f in (doubt, lines))
    brings = dict(
        zip(zip(lines["recipe_id"], lines["line_no"], strict=True), lines["kcal"], strict=True)
    )
    out: dict[tuple[str, int], float] = {}
    for r, n, share in zip(doubt["recipe_id"], doubt["line_no"], doubt["share"], strict=True):
        kcal = brings.get((r, n), math.nan)
        out[str(r), int(n)] = open_share(float(share), half.get(r, math.nan), kcal)
    return out


def open_share(share: float, half_kcal: float, kcal: float | None) -> float:
    """Energy that one line leaves open: its part of the range, no more than it brings.

    Args:
        share: of the variance of the recipe's energy, 0 to 1.
        half_kcal: half of the range of that energy.
        kcal: what the line brings, None or NaN when unknown.
    """
    if not known(share) or not known(half_kcal):
        return 0.0
    owns = math.sqrt(max(share, 0.0)) * half_kcal
    return min(owns, max(kcal, 0.0)) if kcal is not None and known(kcal) else owns


def review_command(result: Result, text: str = "") -> str:
    """The command that opens the review page of the collection, at a line when one is given."""
    words = ["steelyard", "review", collection_path(result)]
    return shlex.join([*words, "--line", text_key(text)] if text else words)


def collection_path(result: Result) -> str:
    """The collection as a person would type it here."""
    root = Path(result.collection.root).absolute()
    try:
        near = os.path.relpath(root)
    except ValueError:  # another drive
        return str(root)
    return near if not near.startswith("..") else str(root)


class _Maker:
    """What all groups need, worked out once."""

    def __init__(self, result: Result, titles: Mapping[str, str], hrefs: Mapping[str, str]) -> None:
        self.result, self.titles, self.hrefs = result, titles, hrefs
        self.accepted = result.accepted()
        self.order = [str(r) for r in result.recipes_by_size()["recipe_id"]]
        self.verdict = dict(
            zip(result.recipes["recipe_id"], result.recipes["verdict"], strict=True)
        )
        self.findings = by_recipe(result.findings)
        self.energy = energy_of(result)

    def of(self, verdict: str) -> list[str]:
        """Recipes of a verdict that are not accepted, the largest difference first."""
        return [r for r in self.order if self.verdict[r] == verdict and r not in self.accepted]

    def title(self, recipe_id: str) -> str:
        return self.titles.get(recipe_id, "") or recipe_id

    @cached_property
    def open(self) -> dict[tuple[str, int], float]:
        """Energy that each line leaves open, see ``open_kcal``."""
        return open_kcal(self.result)

    @cached_property
    def lines(self) -> dict[tuple[str, int], Row]:
        """Lines that a first explanation or an advice is about, by recipe_id and line_no."""
        lines, doubt = self.result.lines, self.result.doubt
        doubt = doubt[doubt["advice"] != ""]
        about = set(zip(doubt["recipe_id"], doubt["line_no"].astype(int), strict=True))
        for recipe_id, slip in _first(self.result).items():
            if known(slip.get("line_no")):
                about.add((recipe_id, int(slip["line_no"])))
        keys = list(zip(lines["recipe_id"], lines["line_no"].astype(int), strict=True))
        rows = records(lines[[key in about for key in keys]])
        return dict(zip((key for key in keys if key in about), rows, strict=True))

    def fix(self) -> Group:
        best = _first(self.result)
        corrected = by_recipe(self.result.corrected)
        asked = self.result.to_review.groupby("recipe_id").size()
        facts = self.result.per_recipe.set_index("recipe_id")["servings"]
        wanted = self.of("disagrees")
        tasks = []
        for recipe_id in wanted:
            off = [f for f in self.findings.get(recipe_id, []) if f["verdict"] == "disagrees"]
            off = off or self.findings.get(recipe_id, [])
            basis = str(off[0].get("basis") or "per_serving") if off else "per_serving"
            shown = next(
                (c for c in corrected.get(recipe_id, []) if c.get("basis") == basis),
                next(iter(corrected.get(recipe_id, [])), {}),
            )
            slip = best.get(recipe_id, {})
            line_no = slip.get("line_no", math.nan)
            line = self.lines.get((recipe_id, int(line_no))) if known(line_no) else None
            servings, whole = float(facts.get(recipe_id, math.nan)), self.energy.get(recipe_id)
            other = alternative(
                slip, line, self.findings.get(recipe_id, []), servings,
                math.nan if whole is None else whole,
            )  # fmt: skip
            waits = int(asked.get(recipe_id, 0))
            if not other and waits and slip.get("kind", "none_found") == "none_found":
                other = f"first answer its {plural(waits, 'open line')}"
            elif other.startswith("if "):
                other = f"or, {other}"
            tasks.append(
                Task(
                    self.title(recipe_id),
                    self.hrefs.get(recipe_id, ""),
                    str(shown.get("caption") or ""),
                    "Copy the numbers",
                    short_why(slip, line),
                    numbers=tuple(_number(f, shown) for f in off[:MOST_NUMBERS]),
                    other=other,
                )
            )  # fmt: skip
        command = shlex.join(
            ["steelyard", "verify", collection_path(self.result), "--write-corrected", "fixed"]
        )
        return Group(
            "fix", f"Fix the numbers of {plural(len(tasks), 'recipe')}",
            "Either the stated number is wrong or a line is; both possibilities are shown.",
            tasks, command if tasks else "",
        )  # fmt: skip

    def answer(self) -> Group:
        rows: dict[str, Row] = {}
        for row in records(self.result.to_review):
            text, recipe_id = str(row["text"]), str(row["recipe_id"])
            one = rows.setdefault(
                text_key(text), {"text": text, "open": 0.0, "recipes": [], "row": row, "share": 0.0}
            )
            kcal = self.open.get((recipe_id, int(row["line_no"])), 0.0)
            one["open"] += kcal
            one["share"] = max(one["share"], _share(kcal, self.energy.get(recipe_id)))
            one["recipes"].append(recipe_id)
        ordered = sorted(rows.values(), key=lambda one: (-one["open"], one["text"]))
        listed = [o for o in ordered if o["open"] >= TRIVIAL_KCAL or o["share"] >= TRIVIAL_SHARE]
        tasks = []
        for one in listed:
            row, recipes = one["row"], list(dict.fromkeys(one["recipes"]))
            food = str(row["description"] or "")
            tasks.append(
                Task(
                    self.title(recipes[0]),
                    self.hrefs.get(recipes[0], ""),
                    review_command(self.result, one["text"]),
                    "Copy the review command",
                    f"{amount(one['open'], 'kcal')} are uncertain",
                    subject=one["text"],
                    other=f"counted as {food} until you answer" if food else "not counted: the table has no such food",
                    more=len(recipes) - 1,
                )
            )  # fmt: skip
        return Group(
            "answer", f"Answer {plural(len(tasks), 'line')}",
            "The review page asks which food is meant and remembers the answer.",
            tasks, review_command(self.result) if tasks else "", len(ordered) - len(listed),
        )  # fmt: skip

    def weigh(self) -> Group:
        review = self.result.to_review
        asked = set(zip(review["recipe_id"], review["line_no"].astype(int), strict=True))
        doubt = by_recipe(self.result.doubt)
        best = _first(self.result)
        tasks = []
        for recipe_id in self.of("uncertain"):
            if best.get(recipe_id, {}).get("kind") == "habit":
                continue  # the question about the habit settles it
            first = next(
                (d for d in doubt.get(recipe_id, []) if d.get("advice")
                 and (recipe_id, int(d["line_no"])) not in asked), None,
            )  # fmt: skip
            line = self.lines.get((recipe_id, int(first["line_no"]))) if first else None
            if first is None or line is None:
                continue
            off = [f for f in self.findings.get(recipe_id, []) if f["verdict"] == "uncertain"]
            low, high = line.get("grams_low", math.nan), line.get("grams_high", math.nan)
            spread = known(low) and known(high) and high > low
            why = (
                f"it may be {number(low)} to {amount(high, 'protein_g')}"
                if spread
                else str(first["advice"])
            )
            weighs = first.get("cause") == "grams"
            tasks.append(
                Task(
                    self.title(recipe_id), self.hrefs.get(recipe_id, ""),
                    review_command(self.result, str(line["text"])),
                    "Copy the review command",
                    why if weighs else "the food is open",
                    subject=str(line["text"]),
                    numbers=tuple(_range(f) for f in off[:MOST_NUMBERS]),
                    other=f"write its grams on line {int(first['line_no'])}, or enter them in the review"
                    if weighs else f"say on line {int(first['line_no'])} which product it was",
                )
            )  # fmt: skip
        return Group(
            "weigh", f"Weigh or identify {plural(len(tasks), 'line')}",
            "Each of these recipes stays uncertain until one line is known more precisely.",
            tasks,
        )  # fmt: skip

    def correct(self) -> Group:
        errors = [p for p in records(self.result.problems) if p["severity"] == "error"]
        tasks = []
        for p in errors:
            recipe_id = str(p["recipe_id"] or "")
            tasks.append(
                Task(
                    self.titles.get(recipe_id, ""), self.hrefs.get(recipe_id, ""), "", "",
                    str(p["what"]),
                    subject=place_of(p), other=str(p["fix"] or ""),
                )
            )  # fmt: skip
        return Group(
            "correct", f"Correct {plural(len(tasks), 'place')} that could not be read",
            "What could not be read was left out of the run.", tasks,
        )  # fmt: skip


def short_why(slip: Row, line: Row | None) -> str:
    """The likeliest slip in a few words, with the line it is about."""
    if not slip:
        return "no explanation was looked for"
    slip_words = SLIP.get(slip["kind"], str(slip["kind"]))
    if line is None:
        return slip_words
    text = str(line["text"])
    short = text if len(text) <= 40 else f"{text[:39].rstrip()}…"
    return f"line {int(slip['line_no'])} “{short}”: {slip_words}"


def alternative(
    slip: Row, line: Row | None, findings: list[Row], servings: float, whole_kcal: float
) -> str:
    """What would have to be so for the stated number to be right: a line to correct, or a word.

    Args:
        slip: the first explanation of the recipe.
        line: the line it is about, as counted.
        findings: of the recipe.
        servings: of the recipe, NaN when not stated.
        whole_kcal: of the whole recipe as computed.
    """
    kind = str(slip.get("kind", ""))
    energy = next((f for f in findings if f["nutrient"] == "kcal" and known(f["stated"])), None)
    if line is not None:
        no = f"line {int(line['line_no'])}"
        grams = line.get("grams", math.nan)
        if kind == "line_left_out":
            return f"if it is not in the dish, take {no} out"
        if kind == "line_doubled" and known(grams):
            return f"if you used it twice ({number(2 * grams)} g), fix {no}"
        if kind == "raw_cooked_slip":
            return f"if you weighed it {_other_state(line)}, say so on {no}"
        if kind == "product_variant":
            return f"if you used another product, name it on {no}"
        really = _really(line, findings, servings)
        return (
            f"if you really used {really}, fix {no}" if really else f"if {no} is wrong, correct it"
        )
    if kind == "servings_slip" and energy and energy["stated"] > 0 and known(whole_kcal):
        return f"if it makes {round(whole_kcal / energy['stated']):d}, change the servings"
    return {
        "per_100g_stated_as_serving": "if they are meant for 100 g, write “per 100 g” before them",
        "kilojoules_as_kcal": "if kilojoules are meant, write kJ behind the number",
        "sodium_unit_slip": "if salt or grams are meant, name them beside the number",
        "net_carbs_stated": "if it is meant without fibre, write “net carbs”",
        "none_found": "a line may be missing, or one too many",
    }.get(kind, "")


def _really(line: Row, findings: list[Row], servings: float) -> str:
    """Grams of the line with which the number that is farthest off would be right; "" for none."""
    grams = line.get("grams", math.nan)
    off = [
        f for f in findings
        if known(f.get("stated")) and known(f.get("computed")) and known(line.get(f["nutrient"]))
        and line[f["nutrient"]] > 0 and str(f.get("basis") or "per_serving") == "per_serving"
    ]  # fmt: skip
    if not off or not known(grams) or not known(servings) or not grams > 0:
        return ""
    worst = max(off, key=lambda f: abs(f["stated"] - f["computed"]) / max(f["computed"], 1.0))
    per_gram = line[worst["nutrient"]] / grams
    needed = grams + (worst["stated"] - worst["computed"]) * servings / per_gram
    return f"about {number(float(f'{needed:.2g}'))} g" if needed > 0.02 * grams else ""


def _other_state(line: Row) -> str:
    words = str(line.get("description") or "").lower()
    cooked = any(w in words.replace("uncooked", "") for w in ("cooked", "boiled", "roasted"))
    return "raw" if cooked else "cooked"


def _number(finding: Row, shown: Row) -> tuple[str, str, str, str]:
    column = str(finding["nutrient"])
    published = str(shown.get(column) or "")
    should = f"{published} {unit_of(column)}" if published else amount(finding["computed"], column)
    return _name(finding), amount(finding["stated"], column), should, column


def _name(finding: Row) -> str:
    """ "Energy", "Protein per 100 g"."""
    word = nutrient_word(str(finding["nutrient"])).capitalize()
    basis = str(finding.get("basis") or "per_serving")
    return word if basis == "per_serving" else f"{word} {PER.get(basis, '')}".strip()


def _range(finding: Row) -> tuple[str, str, str, str]:
    column = str(finding["nutrient"])
    low, high = finding["low"], finding["high"]
    return (
        _name(finding), amount(finding["stated"], column),
        f"{number(low, unit_of(column))} to {amount(high, column)}", column,
    )  # fmt: skip


def _first(result: Result) -> dict[str, Row]:
    if result.explanations.empty:
        return {}
    rows = result.explanations[result.explanations["rank"] == 1]
    return {str(r["recipe_id"]): r for r in records(rows)}


def energy_of(result: Result) -> dict[str, float]:
    """kcal of each whole recipe as computed."""
    rows = result.computed[result.computed["nutrient"] == "ENERC_KCAL"]
    return {str(r): float(a) for r, a in zip(rows["recipe_id"], rows["amount"], strict=True)}
