"""Recipes as read become rows: ids, checks, one number a nutrient, writable texts."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from pipeline.foods.words import singular
from pipeline.intake.counted import count_of
from pipeline.intake.facts_line import find_facts, sentence_yield, yield_line
from pipeline.intake.model import Basis, RawRecipe, RawStated, Read, cut, named_by_file
from pipeline.intake.numbers import NUMBER, read_number, words_of
from pipeline.intake.pages.schema_org import set_yield, settle_servings
from pipeline.intake.servings import read_yield, with_whole
from pipeline.intake.text.features import names_food
from pipeline.problems import Problem, input_problem
from pipeline.tables import LINE, RECIPE, STATED

if TYPE_CHECKING:
    import pandas as pd

STDIN = "-"
STDIN_ID = "stdin"


class Building:
    """Gathers recipes as columns; one frame each at the end, no row appends."""

    def __init__(self, creator: str) -> None:
        self._creator = creator
        self.said_at: dict[tuple[str, int], str] = {}
        self.scripts: list[tuple[object, ...]] = []
        self.marks: list[tuple[object, ...]] = []
        self.readings: list[tuple[object, ...]] = []
        self.stated_at: dict[str, str] = {}
        self._where: dict[str, str] = {}
        self._recipe: list[tuple[object, ...]] = []
        self._stated: list[tuple[object, ...]] = []
        self._line: list[tuple[object, ...]] = []

    def add(self, source: str, read: Read, problems: list[Problem], *, script: str = "") -> None:
        """Add the recipes of one file, in their order, and their problems.

        Args:
            source: the file.
            read: what it gave.
            problems: to which its problems are added.
            script: the spoken script that the text and the marks are of, when that is another file.
        """
        ids: list[str] = []
        for raw in read.recipes:
            if _tells_nothing(raw):
                problems.append(
                    input_problem(
                        "not-a-recipe", name=cut(raw.title or "a list", 60),
                        source=source, source_line=raw.source_line,
                    )
                )  # fmt: skip
                continue
            _make_writable(raw)
            _leave_out_impossible(raw)
            _servings_in_text(raw)
            _weight_of_one(raw)
            recipe_id = self._id(raw, source, problems)
            ids.append(recipe_id)
            found = [*raw.problems, *_shortcomings(raw)]
            title = raw.title
            if not title:
                title = named_by_file(source) or "untitled"
                if raw.position:
                    title = f"{title} {raw.position + 1}"
            self._recipe.append(
                (recipe_id, title, raw.servings, raw.serving_word or raw.served, raw.yield_g,
                 raw.creator or self._creator, raw.description, source, raw.source_line,
                 raw.format, raw.position, raw.told.pieces, raw.told.piece_word,
                 NOT_SAID if any(p.code == "servings-missing" for p in found) else "", raw.method)
            )  # fmt: skip
            if not raw.basis_said and raw.servings > 1:
                raw.readings = with_whole(raw.readings, raw.servings, raw.serving_word)
            if len(raw.readings) > 1 or any(r.serving_g > 0 for r in raw.readings):
                self.readings.extend(
                    (recipe_id, rank, r.servings, r.word, r.serving_g, r.belief, r.how, r.basis)
                    for rank, r in enumerate(raw.readings, start=1)
                )
            if raw.stated_at:
                self.stated_at[recipe_id] = raw.stated_at
            stated, twice = _one_a_nutrient(raw.stated)
            self._stated.extend(
                (recipe_id, s.nutrient, s.amount, s.basis, s.step, s.text) for s in stated
            )
            self._line.extend(
                (recipe_id, no, one.section, one.text, one.source_line)
                for no, one in enumerate(raw.lines, start=1)
            )
            self._remember_times(recipe_id, raw, stated)
            problems.extend(
                replace(p, source=p.source or source, recipe_id=recipe_id,
                        source_line=p.source_line if p.source_line is not None else raw.source_line)
                for p in [*found, *twice]
            )  # fmt: skip
        if read.script is not None:
            self.scripts.append((script or source, read.script))
            self.marks.extend(
                (script or source, m.start, m.end, m.kind, "" if m.recipe is None else ids[m.recipe],
                 None if m.line is None else m.line + 1, m.start_s, m.end_s, m.note)
                for m in read.marks
            )  # fmt: skip

    def _remember_times(self, recipe_id: str, raw: RawRecipe, stated: list[RawStated]) -> None:
        for no, line in enumerate(raw.lines, start=1):
            if line.time:
                self.said_at[recipe_id, no] = line.time
        for place, one in enumerate(stated, start=1):
            if one.time:
                self.said_at[recipe_id, -place] = one.time

    def _id(self, raw: RawRecipe, source: str, problems: list[Problem]) -> str:
        base = STDIN_ID if source == STDIN else source
        wanted = raw.own_id or (base if raw.position == 0 else f"{base}#{raw.position + 1}")
        place = source if raw.source_line is None else f"{source}:{raw.source_line}"
        recipe_id, again = wanted, 1
        while recipe_id in self._where:
            again += 1
            recipe_id = f"{wanted}~{again}"
        if again > 1:
            problems.append(
                input_problem(
                    "duplicate-id", source=source, source_line=raw.source_line,
                    recipe_id=recipe_id, id=cut(wanted, 60), first=self._where[wanted],
                    now=cut(recipe_id, 64),
                )
            )  # fmt: skip
        self._where[recipe_id] = place
        return recipe_id

    def frames(self) -> tuple[pd.DataFrame, pd.DataFrame, pd.DataFrame]:
        """The tables, columns and types as ``pipeline.tables`` says, also when empty."""
        return RECIPE.frame(self._recipe), STATED.frame(self._stated), LINE.frame(self._line)


#: A recipe states no more of anything, in kcal, g or mg, weighs no more grams, and serves no fewer.
MOST_STATED, MOST_YIELD_G, LEAST_SERVINGS = 1e9, 1e8, 0.01


def _leave_out_impossible(raw: RawRecipe) -> None:
    """Numbers that no recipe can mean are left out, each with its problem: sums would drown in them."""

    def left_out(code: str, number: str, line: int | None) -> None:
        raw.problems.append(input_problem(code, source_line=line, number=number))

    for one in list(raw.stated):
        if not (one.amount <= MOST_STATED and one.step <= MOST_STATED):
            left_out("stated-unreadable/too-much", cut(one.text, 40), one.source_line)
            raw.stated.remove(one)
    if raw.servings < LEAST_SERVINGS:
        left_out("servings-invalid/too-few", f"{raw.servings:g}", raw.source_line)
        raw.servings = math.nan
    if raw.yield_g > MOST_YIELD_G:
        left_out("yield-invalid/too-much", f"{raw.yield_g:g}", raw.source_line)
        raw.yield_g = math.nan


def _servings_in_text(raw: RawRecipe) -> None:
    """Servings that only a text says: the title ("Lentil soup (serves 4)"), the description, the steps.

    What is counted is served, or the thing that the stated numbers are for ("5 deep jars", "per jar").
    """
    if _servings_known(raw) or all(s.basis == "per_100g" for s in raw.stated):
        return
    thing = singular(raw.served.lower())
    texts = [("title", raw.title), ("description", raw.description), ("method", raw.method)]
    lines = [one for one in raw.lines if thing and _counts(thing, one.text)]
    for place, text in [*texts, *(("ingredients", one.text) for one in lines)]:
        yields = find_facts(text).yields
        found = next((y for y in yields if _SERVED.search(y) or read_yield(y).kind == "bare"), None)
        found = found or ((one := _FOR_ONE.search(text)) and one[0])
        inside = re.findall(r"\(([^()]*)\)", text) if place == "title" else []
        found = found or next((one for one in inside if one.isdigit() or yield_line(one)), "")
        found = found or (sentence_yield(text) if place in ("description", "method") else "")
        if not found and thing:
            found = count_of(thing, [text])
            raw.lines = [one for one in raw.lines if place != "ingredients" or one.text != text]
        if not found:
            continue
        set_yield(raw, "1 serving" if _FOR_ONE.search(found) else found, raw.source_line)
        if thing and count_of(thing, [text]) == found and raw.serving_word == "servings":
            words = re.findall(r"[^\W\d_]+", text.lower())
            raw.told = replace(raw.told, word=next(w for w in words if singular(w) == thing))
            settle_servings(raw)
        if not math.isnan(raw.servings):
            raw.problems.append(
                input_problem(
                    "servings-in-text", text=cut(found), place=place, found=cut(found, 40),
                    servings=raw.servings,
                )
            )  # fmt: skip
            return


#: A text that says no more than what one of a thing weighs: "300 g in each tub".
_ONE_WEIGHS = re.compile(
    rf"\W*(?P<grams>{NUMBER})\s?g(?:rams?)?\s+(?:in|to|per|for)?\s*(?:the|an?|each|every|one)?"
    r"\s*(?P<thing>[^\W\d_]+)\W*"
)


def _weight_of_one(raw: RawRecipe) -> None:
    """Take a line that only says what one of what the numbers are for weighs as that, not as food."""
    thing = singular(raw.served.lower())
    for text in (*(one.text for one in raw.lines), *raw.description.split(", ")) if thing else ():
        told = _ONE_WEIGHS.fullmatch(text.lower())
        if told and singular(told["thing"]) == thing:
            raw.lines = [line for line in raw.lines if line.text != text]
            if math.isnan(raw.yield_g):
                raw.yield_g = read_number(told["grams"]).value * raw.servings


def _counts(thing: str, text: str) -> bool:
    """Whether a line of a list only counts what is served: "I pack it in 5 boxes", "4 rolls:"."""
    from pipeline.intake.text.features import known_food

    aside = (text.startswith("(") and text.endswith(")")) or text.endswith(":")
    return bool(count_of(thing, [text])) and (aside or not known_food(text))


#: Words that make a count one of servings, whatever else a text counts.
_SERVED = re.compile(rf"serv|feeds|\b(?:{words_of('yield_words.csv', 'serving')})\b", re.IGNORECASE)
_FOR_ONE = re.compile(
    r"\((?:1|one|single)\s(?:serving|portion|person)\)|\(for\s(?:me|myself|1)\)"
    r"|\b(?:just|only)\s(?:for\s)?(?:me|myself|one|1)\b(?!\s\w)|\bfor\sone\b",
    re.IGNORECASE,
)


def _servings_known(raw: RawRecipe) -> bool:
    read = any(r.servings > 0 or r.serving_g > 0 for r in raw.readings)
    refused = any(p.code == "servings-invalid" for p in raw.problems)
    return read or refused or not math.isnan(raw.servings)


#: Halves of a character that JSON may name alone ("\\ud83d"); no file can hold them.
_SURROGATE = re.compile("[\ud800-\udfff]")


def _make_writable(raw: RawRecipe) -> None:
    """Replace halves of characters by U+FFFD in every text of a recipe, and say so once."""
    texts = [raw.title, raw.serving_word, raw.creator, raw.description, raw.own_id]
    texts += [line.text for line in raw.lines] + [line.section for line in raw.lines]
    texts += [stated.text for stated in raw.stated]
    texts += [text for p in raw.problems for text in (p.what, p.why, p.fix, p.text)]
    everything = "".join(texts)
    if everything.isascii() or not _SURROGATE.search(everything):
        return
    bad = 0

    def whole(text: str) -> str:
        nonlocal bad
        if not _SURROGATE.search(text):
            return text
        bad += 1
        return _SURROGATE.sub("\ufffd", text)

    for name in ("title", "serving_word", "creator", "description", "own_id"):
        setattr(raw, name, whole(getattr(raw, name)))
    for line in raw.lines:
        line.text, line.section = whole(line.text), whole(line.section)
    for stated in raw.stated:
        stated.text = whole(stated.text)
    raw.problems = [
        replace(p, what=whole(p.what), why=whole(p.why), fix=whole(p.fix), text=whole(p.text))
        for p in raw.problems
    ]
    if bad:
        raw.problems.append(input_problem("characters-broken", texts=bad))


#: How the servings of a recipe were read that says nothing of what it makes.
NOT_SAID = "the recipe does not say what it makes"


#: Formats in which its author says that something is a recipe. In texts and grids what is none may
#: look like one; scripts keep the places of theirs by number.
_SAID_TO_BE = frozenset(("json", "jsonl", "json-ld", "yaml", "xml", "html", "script"))


def _tells_nothing(raw: RawRecipe) -> bool:
    """Whether a text or a grid has a heading there and nothing of a recipe below it: no stated number,
    no servings, no known food. "misc: buy lids", a row for a film without food."""
    if raw.format in _SAID_TO_BE or raw.stated or raw.told.pieces == raw.told.pieces:
        return False
    if _servings_known(raw) or raw.yield_g == raw.yield_g or raw.problems:
        return False
    return not any(names_food(line.text) for line in raw.lines)


def _shortcomings(raw: RawRecipe) -> list[Problem]:
    """What a recipe lacks to be checked in full."""
    found: list[Problem] = []
    codes = {p.code for p in raw.problems}
    name = cut(raw.title or "the recipe", 60)
    if not raw.title:
        found.append(input_problem("title-missing"))
    if not raw.lines:
        found.append(input_problem("no-ingredients", name=name))
    needs = any(s.basis == "per_serving" for s in raw.stated)
    if needs and not _servings_known(raw):
        found.append(input_problem("servings-missing", name=name))
    if not raw.stated and codes.isdisjoint(("stated-unreadable", "stated-without")):
        found.append(input_problem("nothing-stated", name=name))
    if fries_in_unlisted_oil(raw):
        found.append(input_problem("frying-oil-not-listed", name=name))
    return found


#: Oil that is heated to fry in, or food that is fried in it, in one sentence.
_FRIED_IN_OIL = re.compile(
    r"\boil\b[^.\n]{0,120}\bfr(?:y|ied)\b|\bfr(?:y|ied)\b[^.\n]{0,80}\boil\b|\bdeep[- ]?fr(?:y|ied)\b",
    re.IGNORECASE,
)
_NO_OIL = re.compile(r"\b(?:no|without|any|dry)\b[^.\n]{0,20}\b(?:oil|pan)\b|\bair[- ]?fr", re.I)
#: A line that may be the fat of the pan or bring its own, or that is not known.
_FAT = re.compile(
    r"oil|öl\b|(?<!% )(?<!low[- ])(?<!full[- ])(?<!reduced[- ])\bfat\b(?![- ]free)"
    r"|\b(?:butter|ghee|lard|margarine|dripping|shortening|tallow|spray|bacon|lardons?|"
    r"pancetta|chorizo|pesto)\b|^\[unreadable",
    re.IGNORECASE,
)


def fries_in_unlisted_oil(raw: RawRecipe) -> bool:
    """Whether the method fries in oil and no ingredient line names oil or another fat."""
    return (
        bool(raw.lines)
        and _FRIED_IN_OIL.search(raw.method) is not None
        and not _NO_OIL.search(raw.method)
        and not any(_FAT.search(line.text) for line in raw.lines)
    )


_BASIS_RANK: dict[Basis, int] = {"per_serving": 0, "per_recipe": 1, "per_100g": 2}


def judged_basis(stated: Sequence[RawStated]) -> Basis:
    """What the numbers are for that are judged of all that a recipe states; per serving for none."""
    return min((one.basis for one in stated), key=_BASIS_RANK.__getitem__, default="per_serving")


def _one_a_nutrient(stated: list[RawStated]) -> tuple[list[RawStated], list[Problem]]:
    """One number a nutrient: per serving before per recipe before per 100 g, the first of equals."""
    kept: dict[str, RawStated] = {}
    problems: list[Problem] = []
    for one in stated:
        before = kept.get(one.nutrient)
        if before is None:
            kept[one.nutrient] = one
            continue
        if before.basis != one.basis:
            if _BASIS_RANK[one.basis] < _BASIS_RANK[before.basis]:
                kept[one.nutrient] = one
        elif before.is_same(one):
            kept[one.nutrient] = one if before.in_kj else before
        else:
            problems.append(
                input_problem(
                    "stated-twice", source_line=one.source_line, first=cut(before.text, 40),
                    second=cut(one.text, 40),
                )
            )  # fmt: skip
    return list(kept.values()), problems
