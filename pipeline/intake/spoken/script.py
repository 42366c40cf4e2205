"""Spoken scripts: recipes talked through, pulled apart into recipes, lines and stated totals.

Three passes over the words, none of them guessing at what is not there:

1. stated totals ("that comes to 430 calories, 31 of protein"), which also tell where a recipe ends;
2. where recipes begin ("first up is", "number two", "moving on to", or new ingredients after a total);
3. within each recipe its ingredient mentions: an amount with a food, or a food that is added.

Everything found keeps its line and time. An amount that fits nowhere is reported, never invented.
"""

from __future__ import annotations

import math

from pipeline.intake.model import RawLine, RawMark, RawRecipe, RawStated, Read, cut
from pipeline.intake.spoken.captions import pieces, speech
from pipeline.intake.spoken.mentions import MentionsPass
from pipeline.intake.spoken.quantities import written
from pipeline.intake.spoken.talk import Mention, Segment, Total
from pipeline.intake.spoken.vocabulary import (
    STOP,
    STRONG_CUE,
)
from pipeline.intake.spoken.words import lexicon, words_of
from pipeline.problems import Problem


def looks_spoken(text: str) -> bool:
    """True for a plain text that reads like a script: sentences with amounts of foods in them."""
    if len(text) > 2_000_000:
        return False
    words = words_of(pieces(text, "script"))
    if len(words) < 25:
        return False
    known = lexicon()
    amounts = sum(
        1
        for at, word in enumerate(words)
        if word.value is not None and known.unit_at(words, at + 1)[0] is not None
    )
    talk = sum(1 for w in words if w.text in STOP)
    script = Script(words, known, "")
    announced = STRONG_CUE.search(script.flow) is not None and bool(script._totals())
    return amounts >= 2 and (talk / len(words) > 0.15 or announced)


def read_script(text: str, source: str, *, kind: str) -> Read:
    """Recipes of a spoken script; total.

    Args:
        text: the file.
        source: its name in messages.
        kind: webvtt, srt or script (plain text).
    """
    spoken = pieces(text, kind)
    read = Read(found="a spoken script", script=speech(spoken)[0])
    words = words_of(spoken)
    if not words:
        return read
    script = Script(words, lexicon(), source)
    read.recipes = script.recipes()
    read.problems = script.problems
    read.marks = sorted(script.marks, key=lambda m: (m.start, -m.end))
    return read


class Script(MentionsPass):
    """The passes put together."""

    def recipes(self) -> list[RawRecipe]:
        """Recipes in the order they are talked through."""
        self.marks: list[RawMark] = []
        totals = self._totals()
        segments = self._segments(totals)
        made: list[RawRecipe] = []
        base: list[Mention] = []
        base_portions = 1.0
        whole: dict[tuple[str, ...], Mention] = {}
        before: list[Mention] = []
        for segment in segments:
            mine = [t for t in totals if segment.start <= t.start < segment.end]
            servings = self._servings(segment)
            self._derived = None
            mentions, own_base = self._mentions(segment, base, before, whole, base_portions)
            if segment.is_base and not mine:
                base = own_base or mentions
                base_portions = servings[0] if servings[0] > 1 else 1.0
                continue
            if own_base:
                base, base_portions = own_base, 1.0
            if not mentions and not mine:
                continue
            recipe = self._recipe(
                segment, mentions, mine, servings, None if base or not made else made[-1], len(made)
            )
            made.append(recipe)
            before = mentions
        self._not_understood(segments)
        return made

    def _recipe(
        self,
        segment: Segment,
        mentions: list[Mention],
        totals: list[Total],
        told_servings: tuple[float, str],
        earlier: RawRecipe | None,
        position: int,
    ) -> RawRecipe:
        first = self.words[segment.start]
        recipe = RawRecipe(segment.title or f"Recipe {position + 1}", "script", position,
                           source_line=first.line)  # fmt: skip
        servings, word = told_servings
        if math.isnan(servings) and self._derived is not None:
            servings, word = self._derived, "servings"
        if math.isnan(servings) and any(m.share_text == "shared" for m in mentions) and earlier:
            servings, word = earlier.servings, earlier.serving_word
        if math.isnan(servings) and not any(t.of_several for t in totals):
            servings, word = 1.0, "serving"
            recipe.problems.append(
                Problem(
                    "servings-assumed",
                    f'"{cut(recipe.title, 60)}" does not say how many servings it makes',
                    "its numbers were read as for everything that is named",
                    "say how many it serves, or write it into the card",
                    source_line=first.line,
                    severity="note",
                )
            )
        recipe.servings, recipe.serving_word = servings, word
        if any(m.share_text == "shared" for m in mentions):
            recipe.problems.append(
                Problem(
                    "lines-taken-over",
                    f'"{cut(recipe.title, 60)}" shares lines with what was said before it',
                    "those lines were copied from there, each with its first place in the script",
                    "check them in the card",
                    source_line=first.line,
                    severity="note",
                )
            )
        section = ""
        for mention in mentions:
            if mention.section != section:
                section = mention.section
                if section:
                    at = self.words[min(mention.start, len(self.words) - 1)]
                    recipe.lines.append(RawLine(f"{section}:", "", at.line, at.time))
            at = self.words[mention.start]
            text = written(mention, servings)
            recipe.lines.append(RawLine(text, section, at.line, at.time))
            self._mark("ingredient", mention.start, mention.end, position, len(recipe.lines) - 1)
            if mention.amount is not None and not mention.share_text:
                self._mark(
                    "amount", mention.amount.start, mention.amount.end, position,
                    len(recipe.lines) - 1,
                )  # fmt: skip
        for total in totals:
            for tag, value, step, start, end in total.amounts:
                word_at = self.words[start]
                self._mark("total", start, end, position)
                recipe.stated = [
                    s for s in recipe.stated if not (total.brings and s.nutrient == tag)
                ]
                recipe.stated.append(
                    RawStated(tag, value, total.basis, step, self.said(start, end).replace(" |", ""),
                              word_at.line, word_at.time)
                )  # fmt: skip
        return recipe

    def _mark(
        self, kind: str, start: int, end: int, recipe: int | None, line: int | None = None,
        note: str = "",
    ) -> None:  # fmt: skip
        """A mark over the words from ``start`` to ``end``."""
        if start >= end:
            return
        first, last = self.words[start], self.words[end - 1]
        self.marks.append(
            RawMark(first.start, last.end, kind, recipe, line, first.from_s, last.to_s, note)
        )

    def _not_understood(self, segments: list[Segment]) -> None:
        """Measured amounts that no pass took."""
        for segment in segments:
            for at in range(segment.start, segment.end):
                if self.taken[at]:
                    continue
                amount = self._amount(at, segment.end)
                if amount is None or amount.unit is None or amount.article:
                    continue
                if amount.unit.kind in ("mass", "volume", "package"):
                    self._unclear(amount)
