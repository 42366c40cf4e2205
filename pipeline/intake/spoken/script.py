"""Spoken scripts: recipes talked through, read as one joint decision.

    totals      passages of numbers bound to nutrients by distance and arithmetic
    rows        numbers told bare, in the order that the script tells or that the energy asks for
    tiling      amounts and foods laid side by side, the best path over all words
    places      where a recipe may begin, and stretches, what speaks for what lies between
    segments    the best cut of the script into recipes, bases and talk
    lines       per recipe: added, repeated, corrected, shared, swapped, left out

Everything found keeps its place and time. What fits nowhere is marked and reported, never invented.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from pipeline.intake.model import RawLine, RawMark, RawRecipe, RawStated, Read, cut
from pipeline.intake.spoken.asides import Asides, Numbers
from pipeline.intake.spoken.captions import pieces, speech
from pipeline.intake.spoken.composition import misfit
from pipeline.intake.spoken.contents import Contents
from pipeline.intake.spoken.lexicon import lexicon
from pipeline.intake.spoken.lines import Lines
from pipeline.intake.spoken.mentions import Amount, Chunk, Mention
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.places import weights
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.references import References, measured_out
from pipeline.intake.spoken.rows import add_rows
from pipeline.intake.spoken.segments import Cutter, Segment
from pipeline.intake.spoken.servings import common_servings, servings_of
from pipeline.intake.spoken.stated import ENERGY, Stated
from pipeline.intake.spoken.statements import said_last
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.tiling import tiling
from pipeline.intake.spoken.totals import Totals
from pipeline.intake.spoken.turns import in_order
from pipeline.intake.spoken.words import words_of
from pipeline.intake.spoken.written import quantity, written
from pipeline.problems import Problem, input_problem


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
    small = word_class("function") | word_class("filler")
    talk = sum(1 for w in words if w.text in small)
    if amounts < 2:
        return False
    states_energy = not word_class(ENERGY).isdisjoint(w.text for w in words)
    return states_energy or talk / len(words) > 0.15


def read_script(text: str, *, kind: str) -> Read:
    """Recipes of a spoken script; total.

    Args:
        text: the file.
        kind: webvtt, srt or script (plain text).
    """
    spoken = pieces(text, kind)
    read = Read(found="a spoken script", script=speech(spoken)[0])
    talk = Talk.of(spoken)
    if not talk.n:
        return read
    script = Script(talk)
    script = max((script, *script.in_order()), key=lambda s: s.score)
    read.recipes = script.recipes()
    read.problems = script.problems
    read.marks = script.marks
    return read


_DOUBTFUL = 2.0  # misfit that one recipe in twenty has of which every line was understood
_USED = 40  # stretches behind a base in which it is used
_HEADINGS = {"topping": "Topping", "base": "Base"}


def _section(mention: Mention, parted: bool) -> str:
    """The heading a line stands under in a card."""
    if mention.from_base:
        return "Base"
    if mention.section:
        return _HEADINGS.get(mention.section, f"For the {mention.section}")
    return "Plus" if parted else ""


def _apart(marks: list[RawMark]) -> list[RawMark]:
    """Marks in the order of the script; of those of one kind that overlap, the first."""
    out: list[RawMark] = []
    ends: dict[str, int] = {}
    for mark in sorted(marks, key=lambda m: (m.start, -m.end)):
        if mark.start >= ends.get(mark.kind, 0):
            ends[mark.kind] = mark.end
            out.append(mark)
    return out


def chunks_of(talk: Talk, totals: Totals) -> list[Chunk]:
    """Foods and amounts of a script, its numbers left out."""
    blocked = [False] * talk.n
    for total in totals.found:
        for part in total.parts:
            end = part.end
            share = phrases("a_serving").match(talk.said(end, end + 4).removeprefix("for "))
            words = len(share[0].split()) if share and talk.joined(end) else 0
            behind = end + words + (talk.joined(end) == "for")
            if words > 1 and talk.close(behind) != "of":
                end = behind  # "215 a square", "220 for one biscuit"
            blocked[part.start : end] = [True] * (end - part.start)
    return tiling(talk, blocked)


class Script:
    """Puts the parts together."""

    def __init__(self, talk: Talk) -> None:
        self.talk = talk
        self.problems: list[Problem] = []
        self.marks: list[RawMark] = []
        self.totals = Totals(talk)
        add_rows(self.totals)
        Numbers(talk, self.totals.found).weigh()
        chunks = chunks_of(talk, self.totals)
        Asides(talk, chunks).weigh()
        self.cutter = Cutter(Contents(talk, self.totals.found, chunks))
        self.lines = Lines(talk, self.totals.figures)
        segments = self.cutter.cut()
        self.cut_into(segments, self.cutter.amid)

    def cut_into(self, segments: list[Segment], amid: bool) -> None:
        """Take a cut of the script, and what follows from it for all of its recipes.

        Args:
            segments: what it is cut into.
            amid: the speaker says numbers before the last ingredients.
        """
        self.segments, self.lines.amid = segments, amid
        self._by_start = {s.start: s for s in segments}
        first = next((s.start for s in segments if s.kind == "recipe"), 0)
        self.talk.common_servings = common_servings(self.talk, first)
        self.talk.dishes = {tuple(s.title.lower().split()) for s in segments if s.title}

    @property
    def score(self) -> float:
        """What speaks for its recipes."""
        return self.cutter.score + weights()["put_in_order"] * len(self.talk.turns)

    def in_order(self) -> Iterator[Script]:
        """The same with dishes one behind the other that are told in turns."""
        for turns in in_order(self.cutter.contents):
            talk = Talk(turns.words)
            talk.turns = turns.dishes
            yield Script(talk)

    def recipes(self) -> list[RawRecipe]:
        """Recipes in the order they are talked through."""
        made: list[RawRecipe] = []
        references = References(self.talk, self.lines)
        by_reading: dict[int, int] = {}  # place among the readings → place among the recipes
        for at, segment in enumerate(self.segments):
            if segment.kind == "talk":
                self._left_alone(segment)
                continue
            name = []
            if segment.kind == "base":
                name = measured_out(self.talk, segment, self.segments[at : at + _USED])
                segment.title = " ".join(name).capitalize()
            if segment.kind == "base" and not name:
                reading = references.base(segment)
                self._mark_lines("base", reading, None, segment)
                continue
            tail = self._tail(segment)
            reading = references.recipe(segment, tail)
            if not reading.found and not segment.totals:
                self._left_alone(segment)
                continue
            taken = reading.taken_from
            earlier = made[by_reading[taken]] if taken is not None and taken in by_reading else None
            recipe = self._recipe(segment, reading, len(made), earlier)
            by_reading[references.recipes_read - 1] = len(made)
            made.append(recipe)
        self._left_figures()
        self.marks = _apart(self.marks)
        return made

    def _said_after(self, segment: Segment) -> int:
        """End of the talk that follows a recipe; the servings may be named there."""
        following = self._by_start.get(segment.end)
        if following is None or following.kind != "talk":
            return segment.end
        return min(following.end, segment.end + 25)

    def _tail(self, segment: Segment) -> int:
        """Where a recipe's segment turns to farewell: behind its last total, or where that was told
        first, behind most of its lines."""
        talk = self.talk
        start = max((t.end for t in segment.totals), default=segment.start)
        lines = [c.start for c in segment.chunks if c.kind == "both"]
        stretch = talk.flow[talk.begins(start) : talk.begins(segment.end)]
        for found in phrases("farewell").finditer(stretch):
            at = talk.at(talk.begins(start) + found.start())
            if sum(line < at for line in lines) >= 2 * sum(line >= at for line in lines):
                return at
        return segment.end

    # --- one recipe ----------------------------------------------------------------------------

    def _recipe(
        self, segment: Segment, reading: Reading, position: int, earlier: RawRecipe | None
    ) -> RawRecipe:
        talk = self.talk
        first = talk.words[segment.start]
        title = segment.title or f"Recipe {position + 1}"
        recipe = RawRecipe(title, "script", position, source_line=first.line)
        said: list[str] = []
        if segment.title:
            self._mark("title", *segment.title_span, position)
        before = reading.made
        if earlier is not None:
            before = (earlier.servings, earlier.serving_word)
        servings, word = servings_of(talk, segment, reading, self._said_after(segment), before)
        stated = said_last(segment.totals)
        if math.isnan(servings) and not any(p.basis == "per_serving" for p in stated):
            servings, word = 1.0, "serving"
            said.append("servings-assumed")
        recipe.servings, recipe.serving_word = servings, word
        if any(m.shared for m in reading.found):
            said.append("lines-taken-over")
        recipe.problems += [
            input_problem(code, title=cut(recipe.title, 60), source_line=first.line)
            for code in said
        ]
        parted = any(m.from_base for m in reading.found)
        for mention in reading.found:
            at = talk.words[min(mention.start, talk.n - 1)]
            section = _section(mention, parted)
            recipe.lines.append(RawLine(written(mention, servings), section, at.line, at.time))
        self._mark_lines("ingredient", reading, position, segment)
        for total in segment.beside:
            why = "a number of something else, not of the recipe"
            self._mark("left_out", total.start, total.end, position, None, why)
        self._state(recipe, stated)
        self._doubt(recipe, reading, stated)
        return recipe

    def _doubt(self, recipe: RawRecipe, reading: Reading, stated: list[Stated]) -> None:
        """Say so where the lines understood do not make the stated numbers plausible."""
        whole = {p.tag: p.value for p in stated if p.basis == "per_recipe"}
        share = {p.tag: p.value for p in stated if p.basis != "per_recipe"}
        said, times = (share, recipe.servings) if ENERGY in share else (whole, 1.0)
        texts = [written(m, recipe.servings) for m in reading.found]
        lines = self.talk.composition.total(texts)
        if ENERGY in said and times == times and misfit(lines, said, times) >= _DOUBTFUL:
            short = cut(recipe.title, 60)
            recipe.problems.append(
                input_problem(
                    "spoken-doubtful", title=short, kcal=lines[0] / times, stated=said[ENERGY],
                    source_line=recipe.source_line,
                )
            )  # fmt: skip

    def _state(self, recipe: RawRecipe, stated: list[Stated]) -> None:
        talk = self.talk
        for part in stated:
            basis = part.basis or "per_serving"
            word = talk.words[part.start]
            step = 1.0 if float(part.value).is_integer() else 0.1
            recipe.stated.append(
                RawStated(part.tag, part.value, basis, step,
                          talk.said(part.start, part.end).replace(" |", ""), word.line, word.time)
            )  # fmt: skip
            self._mark("total", part.start, part.end, recipe.position)

    def _left_figures(self) -> None:
        """Figures of products that no line took."""
        marked = {(m.start, m.end) for m in self.marks if m.kind == "property"}
        for figure in self.totals.figures:
            first, last = self.talk.words[figure.start], self.talk.words[figure.end - 1]
            if (first.start, last.end) not in marked:
                self._mark("left_out", figure.start, figure.end, None, None,
                           "a figure of a product, not of the recipe")  # fmt: skip

    # --- marks ---------------------------------------------------------------------------------

    def _mark(
        self, kind: str, start: int, end: int, recipe: int | None, line: int | None = None,
        note: str = "",
    ) -> None:  # fmt: skip
        """A mark over the words from ``start`` to ``end``."""
        end = min(end, self.talk.n)
        if start >= end:
            return
        first, last = self.talk.words[start], self.talk.words[end - 1]
        to_s = last.to_s if last.to_s == last.to_s else last.from_s
        self.marks.append(
            RawMark(first.start, last.end, kind, recipe, line, first.from_s, to_s, note)
        )

    def _mark_lines(
        self, kind: str, reading: Reading, recipe: int | None, segment: Segment
    ) -> None:
        for place, mention in enumerate(reading.found):
            line = place if recipe is not None else None
            own = segment.start <= mention.start < segment.end
            if own and (not mention.shared or mention.shared == "changed"):
                self._mark(kind, mention.start, mention.food.end, recipe, line)
                for start, end, said, read in mention.food.repairs:
                    self._mark("repair", start, end, recipe, line, f'"{said}" was read as "{read}"')
                for start, end in mention.amount_spans:
                    self._mark("amount", start, end, recipe, line)
        place_of = {id(mention): place for place, mention in enumerate(reading.found)}
        for kind_of, start, end, target, note in reading.marks:
            line = place_of.get(id(target))
            self._mark(kind_of, start, end, recipe, line if recipe is not None else None, note)
        for left in reading.left:
            self._mark("left_out", left.start, left.end, recipe, None, left.why)
        for amount in reading.unclear:
            self._unclear(amount)

    def _left_alone(self, segment: Segment) -> None:
        """Amounts of foods in mere talk."""
        for chunk in segment.chunks:
            if chunk.kind == "both":
                self._mark(
                    "left_out", chunk.start, chunk.end, None, None, "talk between the recipes"
                )

    def _unclear(self, amount: Amount) -> None:
        talk = self.talk
        at = talk.words[amount.start]
        said = talk.said(amount.start - 4, amount.end + 4).replace(" |", "")
        where = f" at {at.time}" if at.time else ""
        self.problems.append(
            input_problem(
                "spoken-amount-unclear", amount=quantity(amount), where=where, said=cut(said, 80),
                source_line=at.line,
            )
        )  # fmt: skip
