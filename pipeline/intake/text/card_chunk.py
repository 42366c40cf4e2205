"""The cards of one stretch of lines: where each begins, and which part of one a line is."""

from __future__ import annotations

import re

from pipeline.intake.entries import clean
from pipeline.intake.facts_line import titled_yield, yield_line
from pipeline.intake.model import RawRecipe
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_yield
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.card_state import Card
from pipeline.intake.text.features import is_a_name, known_food, may_be_title, title_of
from pipeline.intake.text.line_kinds import (
    BULLET,
    GENERIC,
    MAYBE_STATED,
    METHOD,
    NOTES,
    SAID_AT,
    TITLE_KEY,
    begins_section,
    heads_part,
    looks_like_ingredient,
    measures,
    names_something,
    states,
    tells,
    unmarked,
)  # fmt: skip

#: Kinds of a yield behind a title that a part of a recipe ("Sauce (makes 2 cups)") does not have.
_SERVED = ("serving", "bare")
_STEP_WORDS = 4
#: Lines below one that is no title within which the title may follow.
_TITLE_WITHIN = 3
#: Lines within which a title is followed by what shows that it is one; six count, and a few
#: of markup alone between them.
_ANNOUNCED_WITHIN = 20


class Chunk:
    """Reads the cards of one stretch of lines without a rule."""

    def __init__(self, lines: list[CardLine]) -> None:
        #: Lines that hold something, and whether a blank one stands above each.
        self._lines: list[CardLine] = []
        self._below_blank: list[bool] = []
        blank = True
        for line in lines:
            if not line.text.strip():
                blank = True
                continue
            self._lines.append(line)
            self._below_blank.append(blank)
            blank = False

    def cards(self, format: str) -> list[Card]:
        cards = [Card(RawRecipe("", format, 0))]
        for at, line in enumerate(self._lines):
            text = line.text.strip()
            blank_before = self._below_blank[at]
            if self._begins_card(cards[-1], at, text, blank_before):
                cards.append(Card(RawRecipe("", format, 0)))
            self._read(cards[-1], at, line, text, blank_before)
        return cards

    def _begins_card(self, card: Card, at: int, text: str, blank_before: bool) -> bool:
        level = self._lines[at].level
        if self._lines[at].begins:
            return bool(card.recipe.lines or card.recipe.title)
        if not card.recipe.lines:
            if TITLE_KEY.match(text):
                return bool(card.recipe.title) and not (card.said_yield or card.recipe.stated)
            # a page title above the recipes' own headings
            return bool(
                level and card.recipe.title and card.state == "preamble" and not card.said_yield
                and not card.recipe.stated and not begins_section(text) and not GENERIC.match(text)
                and not yield_line(text) and self._announces(at + 1, level)
            )  # fmt: skip
        told = card.state != "ingredients" or card.recipe.stated
        if TITLE_KEY.match(text) and (blank_before or told):
            return True
        if not blank_before and not level:
            return False
        bare = text.strip("*_# ")
        if (
            len(bare) > 90
            or bare.endswith((".", ":", "!", ","))
            or begins_section(bare)
            or yield_line(bare)
            or (looks_like_ingredient(bare) and not level)
            or pattern("step").match(text)
            or (MAYBE_STATED.search(bare) and states(bare))
        ):
            return False
        served = card.titled and read_yield(titled_yield(bare)[1] or "").kind in _SERVED
        return served or self._announces(at + 1, level)

    def _announces(self, at: int, level: int) -> bool:
        """A yield, a by-line or "Ingredients" follows before any ingredient."""
        seen = 0
        begins = False
        for below, line in enumerate(self._lines[at : at + _ANNOUNCED_WITHIN], start=at):
            begins = begins or self._below_blank[below]
            text = line.text.strip().strip("*_# ")
            if not text:
                begins = True
                continue
            block_starts, begins = begins, False
            seen += 1
            if yield_line(text) or (pattern("ingredients").match(text) and len(text) < 60):
                return True
            prose = len(text) > 60 or text.endswith((".", "!", "?"))
            if block_starts and not prose and not level:
                return False  # that line is the title, if any is
            if seen >= 6 or (line.level and line.level <= level):
                return False
            if looks_like_ingredient(text) or METHOD.match(text) or pattern("step").match(text):
                return False
        return False

    def _next_texts(self, at: int, count: int) -> list[str]:
        return [line.text.strip() for line in self._lines[at + 1 : at + 1 + count]]

    def _read(self, card: Card, at: int, line: CardLine, text: str, blank_before: bool) -> None:
        recipe = card.recipe
        if recipe.source_line is None:
            recipe.source_line = line.no
        if line.role:
            card.obey(line, text)
            return
        bullet = BULLET.match(text)
        body = text[bullet.end() :] if bullet else text
        bare = SAID_AT.sub("", unmarked(body)).strip()
        if not bare:
            return
        if pattern("caption").search(text) and not looks_like_ingredient(body):
            return
        chapter = pattern("chapter").match(bare)
        if chapter and not looks_like_ingredient(chapter["rest"]):
            return
        if card.take_stated(line, bare):
            return
        if bullet is None and self._word_or_key(card, line, bare):
            return
        if card.state == "preamble":
            self._preamble(card, at, line, text, bare, bullet is not None)
        elif card.state == "ingredients":
            self._ingredient(card, at, line, text, bare, bullet is not None, blank_before)
        if card.state == "method":
            card.step(bare, line.no)

    def _word_or_key(self, card: Card, line: CardLine, bare: str) -> bool:
        if card.begins_list(line, bare):
            return True
        if METHOD.match(bare):
            card.state = "method"
            card.step(bare, line.no)
            return True
        if NOTES.match(bare):
            card.state = "notes"
            return True
        if card.state in ("method", "notes"):
            return False
        return card.keyed(line, bare) or card.fact(line, bare)

    def _preamble(
        self, card: Card, at: int, line: CardLine, text: str, bare: str, bullet: bool
    ) -> None:
        recipe = card.recipe
        quantity = looks_like_ingredient(text) or (bullet and bool(bare))
        if not recipe.title and not bullet and (may_be_title(bare) or not self._titled_below(at)):
            title, told = titled_yield(title_of(bare))
            recipe.title = clean(title).strip(": ")[:300]
            recipe.source_line = line.no
            card.yields([told] if told else [], line.no)
            card.titled = told is not None
            return
        step = pattern("step").match(text)
        if step and _tells(text[step.end() :]):
            card.state = "method"
            return
        if quantity and step:
            card.state, card.numbered = "ingredients", True
            card.add(text[step.end() :], line.no)
            return
        if quantity and (bullet or names_something(text) or not self._named_below(at)):
            card.state = "ingredients"
            card.lines_above(line.no)
            card.bulleted += bullet
            card.listed(bare, line.no)
            return
        if (line.level or heads_part(bare)) and any(
            map(looks_like_ingredient, self._next_texts(at, 1))
        ):
            card.state = "ingredients"
            card.heading(bare, line.no)
            return
        card.description.append(bare)
        card.described_at.append(line.no)

    def _titled_below(self, at: int) -> bool:
        """Whether a line that may be a title follows before anything else of a recipe does."""
        for text in map(unmarked, self._next_texts(at, _TITLE_WITHIN)):
            if yield_line(text):
                return is_a_name(titled_yield(text)[0])  # "Spag bol for 20"
            if begins_section(text) or looks_like_ingredient(text):
                return False
            if may_be_title(text) and not pattern("creator").match(text):
                return True
        return False

    def _named_below(self, at: int) -> bool:
        """Whether ingredients that are named follow, so that a number above them is none."""
        below = self._next_texts(at, 2)
        return any(looks_like_ingredient(text) and names_something(text) for text in below)

    def _ingredient(
        self, card: Card, at: int, line: CardLine, text: str, bare: str, bullet: bool,
        blank_before: bool,
    ) -> None:  # fmt: skip
        step = pattern("step").match(text)
        if step:
            rest = text[step.end() :]
            first = not card.recipe.lines
            if first:
                card.numbered = True
            restarts = blank_before and not first and re.match(r"\D*1\D", text) is not None
            if restarts and card.numbered:
                card.state = "method"
                return
            if (card.numbered and not (pattern("verb_start").match(rest) and blank_before)) or (
                pattern("quantity").match(rest)
                and pattern("amount").search(rest)
                and not pattern("verb_start").match(rest)
            ):
                card.add(rest, line.no)
            else:
                card.state = "method"
            return
        bracketed = None if bullet else pattern("bracket_heading").match(text)
        name = (bracketed["a"] or bracketed["b"] or "").strip() if bracketed else ""
        shout = bare.isupper() and 2 < len(bare) <= 40 and not re.search(r"\d", bare)
        below = self._next_texts(at, 1)
        follows = blank_before or any(map(looks_like_ingredient, below))
        apart = card.bulleted and blank_before and not pattern("quantity").match(bare)
        if (
            name or line.level or heads_part(bare) or (shout and follows and not bullet)
            or (apart and not bullet and len(bare) < 50 and any(map(BULLET.match, below)))
        ):  # fmt: skip
            card.heading(name or bare, line.no)
            return
        joined = bool(below) and not self._below_blank[at + 1]
        heads_steps = joined and len(bare.split()) < _STEP_WORDS and tells(below[0])
        heads_steps = heads_steps and not (bullet or measures(bare) or known_food(bare))
        if heads_steps or (not bullet and card.is_prose(bare, blank_before)):
            card.state = "method"
            return
        card.bulleted += bullet
        card.listed(bare, line.no)


def _tells(step: str) -> bool:
    """Whether a numbered line tells what to do: a sentence, rather than an amount and a food."""
    sentence = step.endswith((".", "!")) and len(step.split()) > _STEP_WORDS
    return bool(pattern("verb_start").match(step)) or (
        sentence and not pattern("quantity").match(step)
    )
