"""What a creator can do now, in order of effect: numbers to correct, lines to answer, things to weigh.

Every task is one recipe or one line, what is stated and what it should say, why, and one thing to
copy: the corrected line for the recipe, or the command that opens the review page at the line.
Before a number is corrected stands the other possibility: that the line is wrong and not the number.
"""

from __future__ import annotations

import math
import os
import shlex
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from pipeline.memory.decisions import text_key
from pipeline.nutrients import BY_COLUMN
from pipeline.problems import place_of
from pipeline.report.frames import Row, by_recipe, records
from pipeline.report.habits import SURE
from pipeline.report.words import (
    INSTEAD,
    NET_CARBS,
    PER,
    SLIP,
    amount,
    known,
    number,
    nutrient_word,
    plural,
    stated_amount,
    unit_of,
    written_line,
)

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from pipeline.run import Result

    Vector = NDArray[np.float64]

#: A line whose open energy is below both moves no published number.
TRIVIAL_KCAL, TRIVIAL_SHARE = 5.0, 0.02
#: A line that moves a number by less than this share is not weighed for its sake.
LEAST_MOVED = 0.02
#: Numbers named in one task.
MOST_NUMBERS = 3

#: What is read of a finding.
_FINDING = ["recipe_id", "nutrient", "stated", "computed", "low", "high", "verdict", "basis"]
#: What is read of a line.
_LINE = [
    "recipe_id", "line_no", "part_of", "text", "description", "grams", "grams_low", "grams_high", *BY_COLUMN,
]  # fmt: skip


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
        titles: recipe_id to title.
        hrefs: recipe_id to the recipe's own page.
    """
    made = _Maker(result, result.recipes_by_size(), titles, hrefs)
    groups = [made.fix(), made.answer(), made.weigh(), made.correct()]
    return [g for g in groups if g.tasks or g.trivial]


def how_many(result: Result) -> dict[str, int]:
    """How many tasks ``to_do`` would list in "fix", "answer" and "weigh", without making them.

    "settle": questions about habits that are sure enough to be asked first.
    """
    made = _Maker(result, result.recipes, {}, {})
    return {
        "fix": len(made.of("disagrees")),
        "answer": sum(not one["trivial"] for one in open_texts(result)),
        "weigh": sum(made.open_line(recipe_id) is not None for recipe_id in made.of("uncertain")),
        "settle": int((result.habits["probability"] >= SURE).sum()),
    }


def to_weigh(result: Result) -> list[str]:
    """Texts of the lines that recipes stay uncertain for and that the review does not ask about."""
    made = _Maker(result, result.recipes, {}, {})
    found = (made.open_line(recipe_id) for recipe_id in made.of("uncertain"))
    return list(dict.fromkeys(one[0] for one in found if one is not None))


def left_open(result: Result) -> dict[str, tuple[str, str]]:
    """The line that each uncertain recipe stays uncertain for, and why, in words."""
    made = _Maker(result, result.recipes, {}, {})
    opened = {recipe_id: made.open_line(recipe_id) for recipe_id in made.of("uncertain")}
    return {recipe_id: found[:2] for recipe_id, found in opened.items() if found}


def advice(result: Result) -> dict[str, tuple[str, str]]:
    """Why each recipe that disagrees or is uncertain does, and the other possibility, in words."""
    made = _Maker(result, result.recipes, {}, {})
    words = {recipe_id: made.reason(recipe_id) for recipe_id in made.of("disagrees")}
    opened = {recipe_id: made.open_line(recipe_id) for recipe_id in made.of("uncertain")}
    return words | {recipe_id: found[1:] for recipe_id, found in opened.items() if found}


def open_energy(result: Result) -> pd.DataFrame:
    """Energy that each line to review really leaves open, kcal of the whole recipe.

    Half of the recipe's 90 % range belongs to its lines by their shares of the variance, so a line
    owns the root of its share of it, and no more than it brings. A butter that may be salted or not
    is open by nothing; a food that the table lacks, by what a line of its grams may bring.

    Returns:
        One row per line to review: recipe_id, line_no, open_kcal, and whole_kcal of the recipe.
    """
    energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"]
    energy = energy.set_axis(pd.Index(energy["recipe_id"].astype(object)))
    keys = {"recipe_id": object, "line_no": int}
    lines = result.to_review[["recipe_id", "line_no", "kcal"]].astype(keys)
    doubt = result.doubt[["recipe_id", "line_no", "share"]]
    doubt = doubt[doubt["recipe_id"].isin(set(lines["recipe_id"]))].astype(keys)
    lines = lines.merge(doubt, on=["recipe_id", "line_no"], how="left")
    low, high, whole = (
        lines["recipe_id"].map(energy[c]).to_numpy(dtype=float) for c in ("low", "high", "amount")
    )
    share, kcal = (lines[c].to_numpy(dtype=float) for c in ("share", "kcal"))
    open_ = open_share(share, (high - low) / 2, kcal)
    return lines[["recipe_id", "line_no"]].assign(open_kcal=open_, whole_kcal=whole)


def open_share(share: ArrayLike, half_kcal: ArrayLike, kcal: ArrayLike) -> Vector:
    """Energy that lines leave open: their part of the range, no more than they bring.

    Args:
        share: of the variance of the recipe's energy, 0 to 1.
        half_kcal: half of the range of that energy.
        kcal: what the line brings, NaN when unknown.
    """
    owns = np.sqrt(np.maximum(share, 0.0)) * np.asarray(half_kcal)
    most = np.where(np.isfinite(kcal), np.maximum(kcal, 0.0), math.inf)
    return np.asarray(np.where(np.isfinite(owns), np.minimum(owns, most), 0.0), dtype=np.float64)


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
    """What all groups need, worked out once; ``ordered``: the recipes in the order of the tasks."""

    def __init__(
        self, result: Result, ordered: pd.DataFrame, titles: Mapping[str, str],
        hrefs: Mapping[str, str],
    ) -> None:  # fmt: skip
        self.result, self.titles, self.hrefs = result, titles, hrefs
        accepted = result.accepted()
        self._of: dict[str, list[str]] = {}
        for recipe_id, verdict in zip(ordered["recipe_id"], ordered["verdict"], strict=True):
            if recipe_id not in accepted:
                self._of.setdefault(verdict, []).append(str(recipe_id))
        energy = result.computed[result.computed["nutrient"] == "ENERC_KCAL"]
        amounts = energy["amount"].astype(float)
        self.energy = dict(zip(energy["recipe_id"].tolist(), amounts, strict=True))
        found = result.explanations
        first = (
            found.loc[found["rank"] == 1, ["recipe_id", "kind", "line_no"]] if len(found) else found
        )
        #: The likeliest explanation of each recipe.
        self.best = {str(row["recipe_id"]): row for row in records(first)}

    def of(self, verdict: str) -> list[str]:
        """Recipes of a verdict that are not accepted."""
        return self._of.get(verdict, [])

    def title(self, recipe_id: str) -> str:
        return self.titles.get(recipe_id, "") or recipe_id

    @cached_property
    def findings(self) -> dict[str, list[Row]]:
        """Findings of recipes that disagree or are uncertain."""
        found = self.result.findings
        off = found["recipe_id"].isin({*self.of("disagrees"), *self.of("uncertain")})
        return by_recipe(found[off].reindex(columns=_FINDING))

    @cached_property
    def doubt(self) -> dict[str, list[Row]]:
        """Lines of each recipe that an advice is about and the review does not ask for, in order."""
        doubt, review = self.result.doubt, self.result.to_review
        doubt = doubt[doubt["recipe_id"].isin(self.of("uncertain"))]
        doubt = doubt[doubt["advice"].fillna("") != ""]
        asked = set(zip(review["recipe_id"], review["line_no"].astype(int), strict=True))
        places = zip(doubt["recipe_id"], doubt["line_no"].astype(int), strict=True)
        return by_recipe(doubt[[place not in asked for place in places]])

    @cached_property
    def lines(self) -> dict[tuple[str, int], Row]:
        """Lines that a first explanation or an advice is about, by recipe_id and line_no."""
        about = {
            (recipe_id, int(row["line_no"]))
            for recipe_id in {*self.doubt, *self.best}
            for row in (*self.doubt.get(recipe_id, ()), self.best.get(recipe_id, {}))
            if known(row.get("line_no"))
        }
        lines = self.result.lines.reindex(columns=_LINE)
        lines = lines[lines["recipe_id"].isin({recipe_id for recipe_id, _ in about})]
        keys = list(zip(lines["recipe_id"], lines["line_no"].astype(int), strict=True))
        rows = records(lines[[key in about for key in keys]])
        return dict(zip((key for key in keys if key in about), rows, strict=True))

    @cached_property
    def waiting(self) -> dict[str, int]:
        """How many lines of a recipe wait for an answer."""
        return Counter(self.result.to_review["recipe_id"])

    @cached_property
    def servings(self) -> dict[str, float]:
        facts = self.result.per_recipe
        return dict(zip(facts["recipe_id"], facts["servings"].astype(float), strict=True))

    @cached_property
    def corrected(self) -> dict[str, list[Row]]:
        shown = self.result.corrected
        return by_recipe(shown[shown["recipe_id"].isin(self.of("disagrees"))])

    def reason(self, recipe_id: str) -> tuple[str, str]:
        """Why a recipe disagrees, and the other possibility."""
        slip = self.best.get(recipe_id, {})
        line_no = slip.get("line_no", math.nan)
        line = self.lines.get((recipe_id, int(line_no))) if known(line_no) else None
        other = alternative(
            slip, line, self.findings.get(recipe_id, []), self.servings.get(recipe_id, math.nan),
            self.energy.get(recipe_id, math.nan),
        )  # fmt: skip
        waits = self.waiting.get(recipe_id, 0)
        if not other and waits and slip.get("kind", "none_found") == "none_found":
            other = f"first answer its {plural(waits, 'open line')}"
        elif other.startswith("if "):
            other = f"or, {other}"
        return short_why(slip, line), other

    def fix(self) -> Group:
        tasks = []
        for recipe_id in self.of("disagrees"):
            every = self.findings.get(recipe_id, [])
            off = [f for f in every if f["verdict"] == "disagrees"] or every
            basis = str(off[0]["basis"] or "per_serving") if off else "per_serving"
            rows = self.corrected.get(recipe_id, [])
            shown = next((c for c in rows if c["basis"] == basis), rows[0] if rows else {})
            why, other = self.reason(recipe_id)
            href, caption = self.hrefs.get(recipe_id, ""), str(shown.get("caption") or "")
            found = tuple(_number(f, shown) for f in off[:MOST_NUMBERS])
            task = Task(self.title(recipe_id), href, caption, "Copy the numbers", why)
            tasks.append(replace(task, numbers=found, other=other))
        command = shlex.join(
            ["steelyard", "verify", collection_path(self.result), "--write-corrected", "fixed"]
        )
        return Group(
            "fix", f"Fix the numbers of {plural(len(tasks), 'recipe')}",
            "Either the stated number is wrong or a line is; both possibilities are shown.",
            tasks, command if tasks else "",
        )  # fmt: skip

    def answer(self) -> Group:
        every = open_texts(self.result)
        tasks = [
            answer_task(
                self.result, self.title(one["recipes"][0]), self.hrefs.get(one["recipes"][0], ""), one
            )
            for one in every if not one["trivial"]
        ]  # fmt: skip
        return answer_group(self.result, tasks, len(tasks), len(every) - len(tasks))

    def weigh(self) -> Group:
        found = (self.to_weigh(recipe_id) for recipe_id in self.of("uncertain"))
        tasks = [task for task in found if task is not None]
        return Group(
            "weigh", f"Weigh or identify {plural(len(tasks), 'line')}",
            "Each of these recipes stays uncertain until one line is known more precisely.",
            tasks,
        )  # fmt: skip

    def to_weigh(self, recipe_id: str) -> Task | None:
        """The line that a recipe stays uncertain for."""
        found = self.open_line(recipe_id)
        if found is None:
            return None
        text, why, other = found
        off = [f for f in self.findings.get(recipe_id, []) if f["verdict"] == "uncertain"]
        return Task(
            self.title(recipe_id), self.hrefs.get(recipe_id, ""),
            review_command(self.result, text), "Copy the review command", why, subject=text,
            numbers=tuple(_range(f) for f in off[:MOST_NUMBERS]), other=other,
        )  # fmt: skip

    def open_line(self, recipe_id: str) -> tuple[str, str, str] | None:
        """Text of the line that a recipe stays uncertain for, why, and what to do about it.

        The first that moves an uncertain number: no oil is weighed for the protein.
        None where there is no such line, or a question about a habit comes first.
        """
        if self.best.get(recipe_id, {}).get("kind") == "habit":
            return None
        open_ = [f for f in self.findings.get(recipe_id, []) if f["verdict"] == "uncertain"]
        for first in self.doubt.get(recipe_id, []):
            line = self.lines.get((recipe_id, int(first["line_no"])))
            if line is not None and (
                not open_ or any(self._moves(line, first.get("cause"), f) for f in open_)
            ):
                break
        else:
            return None
        text, no = str(line["text"]), written_line(line)
        if first.get("cause") != "grams":
            return text, "the food is open", f"say on line {no} which product it was"
        low, high = line.get("grams_low", math.nan), line.get("grams_high", math.nan)
        why = str(first["advice"])
        if known(low) and known(high) and high > low:
            why = f"it may be {number(low)} to {amount(high, 'protein_g')}"
        return text, why, f"write its grams on line {no}, or enter them in the review"

    def _moves(self, line: Row, cause: Any, finding: Row) -> bool:
        """Whether what is open of a line, its grams or its food, may move a number by a part worth
        weighing; yes where that cannot be told."""
        column = "carbs_g" if finding["nutrient"] == NET_CARBS else finding["nutrient"]
        brings, recipe_id = line.get(column), str(finding["recipe_id"])
        a_unit = {"per_serving": self.servings.get(recipe_id), "per_recipe": 1.0}.get(
            finding["basis"]
        )
        if brings is None or not (known(brings) and known(a_unit) and known(finding["computed"])):
            return True
        low, high, grams = (
            float(line.get(c, math.nan)) for c in ("grams_low", "grams_high", "grams")
        )
        if cause == "grams" and grams > 0 and known(high - low):
            brings *= (high - low) / grams
        return bool(brings >= LEAST_MOVED * finding["computed"] * a_unit)

    def correct(self) -> Group:
        tasks = [
            Task(
                self.titles.get(p["recipe_id"], ""), self.hrefs.get(p["recipe_id"], ""), "", "",
                str(p["what"]), subject=place_of(p), other=str(p["fix"] or ""),
            )
            for p in records(self.result.problems) if p["severity"] == "error"
        ]  # fmt: skip
        return Group(
            "correct", f"Correct {plural(len(tasks), 'place')} that could not be read",
            "What could not be read was left out of the run.", tasks,
        )  # fmt: skip


def open_texts(result: Result) -> list[Row]:
    """The distinct texts to review, those that leave most energy open first.

    Returns:
        Of each: text; food (what it counts as until it is answered), food_id, confidence and why, of
        its first line; open (kcal), share (the largest of a recipe's energy, where that is known),
        recipes (their ids, each once), more (all but one of them) and trivial.
    """
    if result.to_review.empty:
        return []
    review = result.to_review.astype({"recipe_id": object, "line_no": int})
    found: dict[str, Row] = {}
    for row in records(review.merge(open_energy(result), on=["recipe_id", "line_no"], how="left")):
        new = {
            "text": str(row["text"]), "food": row["description"], "food_id": row["food_id"],
            "confidence": row["confidence"], "why": row["why"], "open": 0.0, "share": 0.0,
            "recipes": {}, "whole": True,
        }  # fmt: skip
        one = found.setdefault(text_key(new["text"]), new)
        kcal, whole = row["open_kcal"], row["whole_kcal"]
        one["open"] += kcal
        if known(whole) and whole > 0:
            one["share"] = max(one["share"], min(kcal / whole, 1.0))
        else:
            one["whole"] = False
        one["recipes"][str(row["recipe_id"])] = None
    for one in found.values():
        one["recipes"], one["more"] = list(one["recipes"]), len(one["recipes"]) - 1
        one["trivial"] = one["whole"] and trivial(one)
    return sorted(found.values(), key=lambda one: (-one["open"], one["text"]))


def trivial(one: Row) -> bool:
    """Whether the energy that a text leaves open moves no published number."""
    return bool(one["open"] < TRIVIAL_KCAL and one["share"] < TRIVIAL_SHARE)


def answer_task(result: Result, title: str, href: str, one: Row) -> Task:
    """The task of one of ``open_texts``; title and page of a recipe that it stands in."""
    food = one["food"]
    return Task(
        title, href, review_command(result, one["text"]), "Copy the review command",
        f"{amount(one['open'], 'kcal')} are uncertain", subject=one["text"], more=one["more"],
        other=f"counted as {food} until you answer" if food
        else "not counted: the table has no such food",
    )  # fmt: skip


def answer_group(result: Result, tasks: list[Task], of: int, trivial: int) -> Group:
    """Lines to answer: the tasks that are listed, of so many, and how many lines move no number."""
    return Group(
        "answer", f"Answer {plural(of, 'line')}",
        "The review page asks which food is meant and remembers the answer.",
        tasks, review_command(result) if tasks else "", trivial, of - len(tasks),
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
    return f"line {written_line(line)} “{short}”: {slip_words}"


def alternative(
    slip: Row, line: Row | None, findings: list[Row], servings: float, whole_kcal: float
) -> str:
    """What would have to be so for the stated number to be right: a line to correct, or a word.

    Args:
        slip: the first explanation of the recipe.
        servings: of the recipe, NaN when not stated.
        whole_kcal: of the whole recipe as computed.
    """
    words = INSTEAD.get(str(slip.get("kind", "")), "")
    of_a_line = "{line}" in words
    if line is not None:
        no, grams = f"line {written_line(line)}", line.get("grams", math.nan)
        if words and (known(grams) or "{twice}" not in words):
            return words.format(line=no, twice=number(2 * grams), state=_other_state(line))
        really = _really(line, findings, servings)
        return (
            f"if you really used {really}, fix {no}" if really else f"if {no} is wrong, correct it"
        )
    energy = next((f for f in findings if f["nutrient"] == "kcal" and known(f["stated"])), None)
    makes = energy["stated"] > 0 and known(whole_kcal) if energy else False
    if of_a_line or ("{servings}" in words and not makes):
        return ""
    return words.format(servings=round(whole_kcal / energy["stated"]) if energy and makes else "")


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
    basis = str(finding.get("basis") or "per_serving")
    published = str(shown.get(column) or "") if shown.get("basis") == basis else ""
    should = f"{published} {unit_of(column)}" if published else amount(finding["computed"], column)
    return _name(finding), stated_amount(finding["stated"], column), should, column


def _name(finding: Row) -> str:
    """ "Energy", "Protein per 100 g"."""
    word = nutrient_word(str(finding["nutrient"])).capitalize()
    basis = str(finding.get("basis") or "per_serving")
    return word if basis == "per_serving" else f"{word} {PER.get(basis, '')}".strip()


def _range(finding: Row) -> tuple[str, str, str, str]:
    column = str(finding["nutrient"])
    low, high = finding["low"], finding["high"]
    return (
        _name(finding), stated_amount(finding["stated"], column),
        f"{number(low, unit_of(column))} to {amount(high, column)}", column,
    )  # fmt: skip
