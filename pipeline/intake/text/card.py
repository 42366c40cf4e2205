"""Plain-text recipe cards.

A card is a title, then in any order a yield ("Serves 4", "Makes 12 squares", "Yield: 1.2 kg"),
free text, ingredient lines, a method that is kept as text, and stated numbers::

    Lentil soup with lemon
    by Maren Okafor
    Serves 4

    Ingredients
    - 250 g red lentils, rinsed
    For the topping:
    - 2 tbsp olive oil

    Method
    1. Simmer ...

    Per serving: 312 kcal, P 15 g, C 41 g, F 9 g

Several cards in a file: parted by a line of three or more ``-``, ``=``, ``*`` or ``_``; or a card
that already has ingredients ends at a blank line followed by a title line, when a yield line, a
"by" line or the word "Ingredients" follows that title before any ingredient does; or a line
``Title:`` or ``Recipe:`` begins the next. Where such a reading leaves doubts, ``decoder`` explains the
whole text by what its lines are, and what is better borne out stands (``evidence``).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from pipeline.intake.amounts import Amount
from pipeline.intake.columns import field_of, nutrient_named, plain
from pipeline.intake.entries import (
    MAX_LINES,
    clean,
    is_heading,
    not_too_long,
    too_many_lines,
)
from pipeline.intake.facts_line import find_facts, titled_yield, yield_line
from pipeline.intake.model import Basis, RawLine, RawRecipe, Read, cut
from pipeline.intake.numbers import DIGITS, Roles
from pipeline.intake.pages.schema_org import MAX_METHOD, add_stated, apply_serving_size, set_yield
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_serving_size, read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.basis_columns import parted_columns
from pipeline.intake.text.card_line import CardLine as CardLine
from pipeline.intake.text.decoder import decoded
from pipeline.intake.text.evidence import better, leaves_doubt
from pipeline.intake.text.line_kinds import (
    BULLET,
    DESCRIPTION_KEY,
    GENERIC,
    ID_KEY,
    IGNORED_KEY,
    MAYBE_STATED,
    METHOD,
    NOTES,
    NUTRITION,
    SAID_AT,
    TITLE_KEY,
    begins_section,
    looks_like_ingredient,
    measures,
    states,
)  # fmt: skip
from pipeline.problems import input_problem

MAX_CARD_LINES = 200_000
_LEAST_LINES = 2
#: Characters of a line that are looked at; no line of a card that people wrote is near it.
MAX_READ_CHARS = 4_000
_SQUEEZED_FROM = 200
_WHITE = re.compile(r"\s{2,}")
#: "* Lamb soup * makes 6": the signs are around words, not in front of a line of a list.
_EMPHASIS = re.compile(r"^\s*[*_]{1,3}\s*([^*_]+?)\s*[*_]{1,3}(?=\s|$)")
_SIGNS_OF_A_LIST = 3
#: "[02/03/2026, 18:04:11] Priti: " or "02.03.26, 18:04 - Priti: ", as chats are exported.
_MESSAGE = re.compile(
    r"^\W{0,2}\d{1,4}[./-]\d{1,2}[./-]\d{2,4},?\s+\d{1,2}[:.]\d{2}(?:[:.]\d{2})?(?:\s*[ap]m)?\]?"
    r"\s*(?:[-–]\s*)?[^:\n]{1,40}:\s",
    re.IGNORECASE,
)
#: "Maud K: ", as a thread is copied.
_LABELLED = re.compile(r"[^\W\d_][^:\n]{0,24}: \S")
_QUOTED = re.compile(r"^(?:>\s?)+")
_STEP_WORDS = 4
#: Characters of a line below a list from which on it is a paragraph that tells what to do.
_PARAGRAPH = 160
#: Parts of a list in one line, at least, and the share of them that has an amount.
_LIST = 2
_MOST = 0.6


def card_lines(text: str) -> list[CardLine]:
    """Lines of a plain text, numbered from 1; a sign that begins several of them is a bullet."""
    said, begins = messages(text)
    lines = [_EMPHASIS.sub(r"\1", bounded(line)) for line in said]
    signs = Counter(line[0] for line in lines if line and unicodedata.category(line[0]) == "So")
    bullets = [sign for sign, count in signs.items() if count >= _SIGNS_OF_A_LIST]
    for at, line in enumerate(lines):
        if line[:1] in bullets and not BULLET.match(line):
            lines[at] = "- " + line[1:].lstrip("\ufe0f ")
    return [
        CardLine(no, one)
        for no, line in enumerate(lines, start=1)
        for one in (
            *([""] if no - 1 in begins else ()),
            *(_cells(line) if "\t" in line.strip() else (line,)),
        )
    ]


def messages(text: str) -> tuple[list[str], frozenset[int]]:
    """Lines of a chat without times and names, of a thread without quote marks; of others as they are.

    Also positions of the lines that begin a message.
    """
    lines = text.split("\n")
    begins = frozenset(at for at, line in enumerate(lines) if _MESSAGE.match(line))
    if len(begins) >= _SIGNS_OF_A_LIST:
        return [_MESSAGE.sub("", line) for line in lines], begins
    if speakers := _speakers(lines):
        begins = frozenset(
            at for at, line in enumerate(lines) if line.partition(": ")[0] in speakers
        )
        return [
            line.partition(": ")[2] if at in begins else line for at, line in enumerate(lines)
        ], begins
    if sum(1 for line in lines if line.startswith(">")) >= _SIGNS_OF_A_LIST:
        return [_QUOTED.sub("", line) for line in lines], frozenset()
    return lines, frozenset()


def _speakers(lines: Sequence[str]) -> frozenset[str]:
    """Names before a colon that most lines of a text begin with, of which no table knows any."""
    filled = [line for line in lines if line.strip()]
    said = Counter(line.partition(": ")[0] for line in filled if _LABELLED.match(line))
    if sum(said.values()) < max(2 * _SIGNS_OF_A_LIST, _MOST * len(filled)):
        return frozenset()
    names = frozenset(name for name, count in said.items() if count > 1)
    known = any(
        nutrient_named(name) or field_of(plain(name), "key") or begins_section(name)
        or find_facts(f"{name}: 2").yields for name in said
    )  # fmt: skip
    few = 1 < len(said) <= len(filled) / _SIGNS_OF_A_LIST
    return names if few and not known else frozenset()


def _cells(line: str) -> list[str]:
    """The lines that a row pasted from a sheet makes: a title and its yield are two."""
    from pipeline.intake.tables.card_rows import joined  # here: it imports the reading of tables

    cells = [cell.strip() for cell in line.split("\t") if cell.strip()]
    if len(cells) == 2 and yield_line(cells[1]) and not math.isnan(read_yield(cells[1]).servings):
        return cells
    return [joined(cells)]


def bounded(line: str) -> str:
    """A line short enough to be looked at many times: runs of white space in a long one are one
    space, and what lies beyond ``MAX_READ_CHARS`` is left to the message that says so."""
    if len(line) <= _SQUEEZED_FROM:
        return line
    return _WHITE.sub(" ", line)[:MAX_READ_CHARS]


def read_cards(
    lines: Sequence[CardLine], source: str, *, format: str = "card", told_elsewhere: bool = False
) -> Read:
    """Recipes of a file of cards; total. A text without a recipe gives none.

    Args:
        lines: the text; ``CardLine.level`` marks headings of a markup.
        source: file name, for messages.
        format: name of the format for ``tables.RECIPE``.
        told_elsewhere: what a recipe makes and states may stand outside the text.
    """
    read = Read(found="plain text")
    if len(lines) > MAX_CARD_LINES:
        read.problems.append(
            input_problem(
                "file-too-large/lines", source=source, lines=len(lines), most=MAX_CARD_LINES
            )
        )
        lines = lines[:MAX_CARD_LINES]
    chunks = split_at_rules(parted_columns(lines))
    read.recipes = _recipes(chunks, format, told_elsewhere)
    if not (told_elsewhere and read.recipes) and leaves_doubt(read.recipes):
        other = read_roles(decoded(lines), format)
        if better(other, read.recipes):
            read.recipes = other
    return read


def read_roles(lines: Sequence[CardLine], format: str) -> list[RawRecipe]:
    """Recipes of lines that carry their roles."""
    return _recipes([list(lines)], format, False)


def _recipes(
    chunks: Sequence[list[CardLine]], format: str, told_elsewhere: bool
) -> list[RawRecipe]:
    found: list[RawRecipe] = []
    for chunk in chunks:
        for card in _Chunk(chunk).cards(format):
            if card.plausible(told_elsewhere):
                card.recipe.position = len(found)
                card.finish()
                found.append(card.recipe)
    return found


def split_at_rules(lines: Iterable[CardLine]) -> list[list[CardLine]]:
    """Stretches of lines between rules ("---"), which part the cards of a file."""
    chunks: list[list[CardLine]] = [[]]
    filled = 0
    for line in lines:
        if pattern("rule").match(line.text) and not line.level:
            here = chunks[-1]
            before = here[-1].text.strip() if here else ""
            first = filled == 1
            section = bool(pattern("ingredients").match(before) or METHOD.match(before)
                           or NUTRITION.match(before) or NOTES.match(before))  # fmt: skip
            if before and (first or (section and len(before) < 40)):
                continue  # underlines the title or a section word
            chunks.append([])
            filled = 0
        else:
            chunks[-1].append(line)
            filled += bool(line.text.strip())
    return chunks


@dataclass(slots=True)
class _Card:
    recipe: RawRecipe
    state: str = "preamble"
    explicit: bool = False
    section: str = ""
    basis: Basis | None = None
    in_stated: bool = False
    numbers_below: bool = False
    bulleted: int = 0
    numbered: bool = False
    units_seen: int = 0
    said_yield: bool = False
    description: list[str] = field(default_factory=list)
    described_at: list[int] = field(default_factory=list)
    serving_size: str = ""
    size: str = ""
    method: list[str] = field(default_factory=list)
    method_at: list[int] = field(default_factory=list)
    inline: bool = False

    def plausible(self, told_elsewhere: bool) -> bool:
        """False for text that only happens to hold lines: a list to shop by is no recipe.

        Args:
            told_elsewhere: what its recipe makes and states may stand outside the text.
        """
        r = self.recipe
        if r.lines:
            if self.explicit or self.said_yield or r.stated:
                return True
            measured = bool(self.units_seen) or self.bulleted >= _LEAST_LINES
            return measured and (told_elsewhere or bool(self.method))
        return bool(r.title and (len(r.stated) > 1 or (self.said_yield and r.stated)))

    def finish(self) -> None:
        r = self.recipe
        r.description = clean(" ".join(self.description))[:5000]
        r.method = "\n".join(self.method)[:MAX_METHOD]
        if not r.lines and r.stated and self.method:
            self._lines_of_steps()
        r.basis_said = self.basis is not None or not r.stated
        size = self.serving_size or self.size
        if size:
            basis = apply_serving_size(r, read_serving_size(size), size)
            if self.serving_size and basis != "per_serving" and self.basis is None:
                for one in r.stated:
                    one.basis = basis

    def _lines_of_steps(self) -> None:
        """The amounts that only the steps say ("Heat 1 tbsp olive oil"), read as speech is."""
        from pipeline.intake.spoken.script import read_script

        steps = "\n".join(pattern("step").sub("", step) for step in self.method)
        spoken = read_script(steps, "", kind="script").recipes
        r = self.recipe
        r.lines = [
            RawLine(one.text, "", self.method_at[(one.source_line or 1) - 1])
            for recipe in spoken for one in recipe.lines
        ]  # fmt: skip
        if r.lines:
            r.problems.append(
                input_problem("lines-from-steps", title=cut(r.title, 60), lines=len(r.lines))
            )


#: Lines within which a title is followed by what shows that it is one; six count, and a few
#: of markup alone between them.
_ANNOUNCED_WITHIN = 20


class _Chunk:
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

    def cards(self, format: str) -> list[_Card]:
        cards = [_Card(RawRecipe("", format, 0))]
        for at, line in enumerate(self._lines):
            text = line.text.strip()
            blank_before = self._below_blank[at]
            if self._begins_card(cards[-1], at, text, blank_before):
                cards.append(_Card(RawRecipe("", format, 0)))
            self._read(cards[-1], at, line, text, blank_before)
        return cards

    def _begins_card(self, card: _Card, at: int, text: str, blank_before: bool) -> bool:
        level = self._lines[at].level
        if self._lines[at].begins:
            return bool(card.recipe.lines or card.recipe.title)
        if not card.recipe.lines:
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
        return self._announces(at + 1, level)

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

    def _read(self, card: _Card, at: int, line: CardLine, text: str, blank_before: bool) -> None:
        recipe = card.recipe
        if recipe.source_line is None:
            recipe.source_line = line.no
        if line.role:
            self._obey(card, line, text)
            return
        bullet = BULLET.match(text)
        body = text[bullet.end() :] if bullet else text
        bare = SAID_AT.sub("", body.strip("*_# ")).strip()
        if not bare:
            return
        if pattern("caption").search(text) and not looks_like_ingredient(body):
            return
        chapter = pattern("chapter").match(bare)
        if chapter and not looks_like_ingredient(chapter["rest"]):
            return
        if self._stated(card, line, bare, bullet is not None):
            return
        if bullet is None and self._word_or_key(card, at, line, bare):
            return
        if bare.endswith(":") and not card.said_yield and (yields := find_facts(bare).yields):
            self._yields(card, yields, line.no)  # "What you need for two:"
        if card.state == "preamble":
            self._preamble(card, at, line, text, bare, bullet is not None)
        elif card.state == "ingredients":
            self._ingredient(card, at, line, text, bare, bullet is not None, blank_before)
        if card.state == "method":
            card.method.append(bare)
            card.method_at.append(line.no)

    def _obey(self, card: _Card, line: CardLine, text: str) -> None:
        """Take a line for what the whole text says that it is."""
        bare = text.strip("*_# ()[]") if line.role == "yield" else text.strip("*_# ")
        if bare.endswith(":") and not card.said_yield:
            self._yields(card, find_facts(bare).yields, line.no)
        if line.role == "title":
            card.recipe.title, card.recipe.source_line = clean(bare).strip(": ")[:300], line.no
        elif line.role == "yield":
            told = yield_line(bare) or next(iter(find_facts(bare).yields), bare)
            self._yields(card, [told], line.no)
        elif line.role == "item":
            card.explicit = True
            self._add(card, bare, line.no)
        elif line.role == "heading":
            self._heading(card, bare, line.no)
        elif line.role == "method":
            card.method.append(bare)
            card.method_at.append(line.no)
        elif not self._stated(
            card, line, bare, False, told=line.role == "numbers"
        ) and not self._keyed(card, line, bare):
            card.description.append(bare)

    def _stated(
        self, card: _Card, line: CardLine, bare: str, bullet: bool, *, told: bool = False
    ) -> bool:
        """Take a stated line or a nutrition heading; False when the line is something else.

        ``told``: the whole text has told that it states numbers.
        """
        size = pattern("serving_size").match(bare)
        if size:
            card.serving_size = size["value"]
            return True
        if not MAYBE_STATED.search(bare):
            card.in_stated = False
            return False
        read = read_stated_line(bare)
        in_block = card.in_stated or card.state == "nutrition"
        if read.heading or NUTRITION.match(bare):
            self._yields_beside(card, bare, line.no)
            card.basis = read.basis or card.basis
            card.size = read.size or card.size
            card.in_stated = True
            if card.state != "preamble":
                card.state = "nutrition"
            return True
        if not (read.certain or (in_block and read.possible) or (told and read.found)):
            card.in_stated = False
            return False
        if read.basis is not None:
            card.basis = read.basis
            card.size = read.size or card.size
        basis = card.basis or "per_serving"
        self._yields_beside(card, bare, line.no)
        for found in read.found:
            add_stated(card.recipe, found.tag, Amount(found.amount, found.step, found.text),
                       basis, found.text, found.tag, line.no)  # fmt: skip
        card.in_stated = True
        card.numbers_below = bool(card.recipe.lines)
        return True

    def _yields_beside(self, card: _Card, text: str, no: int) -> None:
        """Take the yield said beside stated numbers, where none is known or they were divided by it."""
        facts = find_facts(text)
        if facts.divided or not card.said_yield:
            self._yields(card, facts.yields, no)

    def _yields(self, card: _Card, yields: Sequence[str], no: int) -> None:
        """Take what one line says of servings and yield, most telling words last."""
        for told in reversed(yields):
            set_yield(card.recipe, told, no)
            card.said_yield = True

    def _word_or_key(self, card: _Card, at: int, line: CardLine, bare: str) -> bool:
        if self._begins_list(card, line, bare):
            return True
        if METHOD.match(bare):
            card.state = "method"
            card.method.append(bare)
            card.method_at.append(line.no)
            return True
        if NOTES.match(bare):
            card.state = "notes"
            return True
        if card.state in ("method", "notes"):
            return False
        return self._keyed(card, line, bare) or self._fact(card, line, bare)

    def _begins_list(self, card: _Card, line: CardLine, bare: str) -> bool:
        """ "Ingredients", with a yield in brackets or the list itself behind it."""
        match = pattern("ingredients").match(bare)
        if not match or len(bare) >= 400 or (match["colon"] != ":" and match["rest"]):
            return False
        card.state, card.explicit, card.section = "ingredients", True, ""
        inside = (match["extra"] or "").strip("()[] ")
        if inside and math.isnan(card.recipe.servings) and re.search(r"\d", inside):
            told = yield_line(inside) or inside
            if not math.isnan(read_yield(told).servings):
                self._yields(card, [told], line.no)
        listed = _inline_list(match["rest"])
        card.inline = len(listed) > 1
        for part in listed:
            self._add(card, part, line.no)
        return True

    def _keyed(self, card: _Card, line: CardLine, bare: str) -> bool:
        """A title, id, creator or description under its name."""
        recipe = card.recipe
        title = TITLE_KEY.match(bare)
        if title and not recipe.title:
            recipe.title = clean(title["value"])[:300]
            return True
        if card.state != "preamble":
            return False
        if found := ID_KEY.match(bare):
            recipe.own_id = recipe.own_id or clean(found["value"])[:200]
            return True
        if not recipe.title and not DESCRIPTION_KEY.match(bare):
            return False
        if found := pattern("creator").match(bare):
            recipe.creator = recipe.creator or clean(found["value"])[:200]
            return True
        if found := DESCRIPTION_KEY.match(bare):
            card.description.append(found["value"])
            card.described_at.append(line.no)
        return found is not None

    def _fact(self, card: _Card, line: CardLine, bare: str) -> bool:
        """What the dish weighs, how many it serves, and what is not read."""
        recipe = card.recipe
        weight = pattern("yield_weight").match(bare)
        if weight:
            set_yield(recipe, weight["value"], line.no)
            return True
        if IGNORED_KEY.match(bare):
            return True
        told = yield_line(bare) if recipe.title or pattern("begins_yield").match(bare) else None
        if not told or (card.state == "ingredients" and recipe.lines and card.said_yield):
            return False
        self._yields(card, [told], line.no)
        return True

    def _preamble(
        self, card: _Card, at: int, line: CardLine, text: str, bare: str, bullet: bool
    ) -> None:
        recipe = card.recipe
        quantity = looks_like_ingredient(text) or (bullet and bool(bare))
        if not recipe.title:
            measured = bullet or (
                pattern("quantity").match(bare)
                and pattern("amount").search(bare)
                and not line.level
            )
            follow = self._next_texts(at, 1)
            titled = not follow or not measured or not looks_like_ingredient(follow[0])
            if not bullet and titled:
                title, told = titled_yield(pattern("title_lead").sub("", bare))
                recipe.title = clean(title).strip(": ")[:300]
                recipe.source_line = line.no
                self._yields(card, [told] if told else [], line.no)
                return
        step = pattern("step").match(text)
        if step and _tells(text[step.end() :]):
            card.state = "method"
            return
        if quantity and step:
            card.state, card.numbered = "ingredients", True
            self._add(card, text[step.end() :], line.no)
            return
        if quantity and not bullet and not card.said_yield and self._stands_apart(at, bare):
            self._yields(card, [bare], line.no)
            return
        if quantity:
            card.state = "ingredients"
            self._lines_above(card, line.no)
            card.bulleted += bullet
            self._add(card, bare, line.no)
            return
        if (is_heading(bare) or line.level) and any(
            looks_like_ingredient(t) for t in self._next_texts(at, 1)
        ):
            card.state = "ingredients"
            self._heading(card, bare, line.no)
            return
        card.description.append(bare)
        card.described_at.append(line.no)

    def _stands_apart(self, at: int, bare: str) -> bool:
        """Whether a count stands between the title and the list ("Four flatbreads"): the yield."""
        below = self._next_texts(at, 2)
        bulleted = [BULLET.match(text) is not None for text in below]
        return (
            len(below) == 2
            and (all(bulleted) or (self._below_blank[at + 1] and not any(bulleted)))
            and (all(bulleted) or not self._below_blank[at + 2])
            and all(map(looks_like_ingredient, below))
            and (Roles(bare).search("[item serving portion]") or not pattern("amount").search(bare))
            and not math.isnan(read_yield(bare).servings)
        )

    def _lines_above(self, card: _Card, no: int) -> None:
        """Lines right above the first amount that measure too ("∞ g oats") belong to the list."""
        above: list[tuple[str, int]] = []
        while card.described_at and card.described_at[-1] == no - 1 - len(above):
            text = card.description[-1]
            if (
                not (pattern("measure_word").search(text) or measures(text))
                or find_facts(text).yields
                or len(text.split()) > 10
                or text.endswith((".", "!", "?"))
            ):
                break
            above.append((card.description.pop(), card.described_at.pop()))
        for text, at in reversed(above):
            self._add(card, text, at)

    def _ingredient(
        self, card: _Card, at: int, line: CardLine, text: str, bare: str, bullet: bool,
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
                self._add(card, rest, line.no)
            else:
                card.state = "method"
            return
        bracketed = pattern("bracket_heading").match(text)
        if not bullet and bracketed and (bracketed["a"] or bracketed["b"] or "").strip():
            self._heading(card, (bracketed["a"] or bracketed["b"]).strip(), line.no)
            return
        if line.level or is_heading(bare):
            self._heading(card, bare, line.no)
            return
        shout = bare.isupper() and len(bare) <= 40 and not re.search(r"\d", bare)
        follows = blank_before or any(looks_like_ingredient(t) for t in self._next_texts(at, 1))
        if not bullet and shout and len(bare) > 2 and follows:
            self._heading(card, bare, line.no)
            return
        if self._is_prose(card, bare, bullet, blank_before):
            card.state = "method"
            return
        if not bullet and blank_before and card.recipe.lines:
            following = self._next_texts(at, 1)
            if card.bulleted and not pattern("quantity").match(bare):
                if following and BULLET.match(following[0]) and len(bare) < 50:
                    self._heading(card, bare, line.no)
                    return
                if not card.explicit or len(bare.split()) > 6 or pattern("verb_start").match(bare):
                    card.state = "method"
                    return
            prose = len(bare.split()) > 7 and not pattern("quantity").match(bare)
            if prose or (pattern("verb_start").match(bare) and len(bare.split()) > 3):
                card.state = "method"
                return
        if not bullet and len(bare) > _PARAGRAPH and not pattern("quantity").match(bare):
            card.state = "method"
            return
        card.bulleted += bullet
        self._add(card, bare, line.no)

    def _is_prose(self, card: _Card, bare: str, bullet: bool, blank_before: bool) -> bool:
        """Whether a line below the list is none of it: a sentence, or what follows its numbers."""
        if card.inline and blank_before and not looks_like_ingredient(bare):
            return True  # the list stood on one line
        if bullet or not card.recipe.lines:
            return False
        timed = f"{DIGITS} to? time"
        if pattern("verb_start").match(bare) and (". " in bare or Roles(bare).search(timed)):
            return True
        if looks_like_ingredient(bare) or not (blank_before or card.numbers_below):
            return False
        sentence = bare.endswith((".", "!"))
        listed = any(one.text.endswith((".", "!")) for one in card.recipe.lines)
        return card.numbers_below or (sentence and not listed)

    def _heading(self, card: _Card, text: str, no: int) -> None:
        name = clean(text.strip("*_#[]-–—~ "))
        if not name:
            return
        card.section = name.rstrip(": ")
        if len(card.recipe.lines) < MAX_LINES:
            shown = name if name.endswith(":") else f"{name}:"
            card.recipe.lines.append(RawLine(shown, "", no))

    def _add(self, card: _Card, text: str, no: int) -> None:
        text = clean(text)
        if not text:
            return
        if len(card.recipe.lines) >= MAX_LINES:
            if len(card.recipe.lines) == MAX_LINES:
                too_many_lines(card.recipe.problems, card.recipe.lines, no)
            return
        if pattern("amount").search(text):
            card.units_seen += 1
        text = not_too_long(text, card.recipe.problems, card.recipe.lines, no)
        card.recipe.lines.append(RawLine(text, card.section, no))


def _tells(step: str) -> bool:
    """Whether a numbered line tells what to do: a sentence, rather than an amount and a food."""
    sentence = step.endswith((".", "!")) and len(step.split()) > _STEP_WORDS
    return bool(pattern("verb_start").match(step)) or (
        sentence and not pattern("quantity").match(step)
    )


def _within_brackets(text: str, mark: str) -> bool:
    """Whether a mark stands within brackets: "1 tin (400 g / 14 oz) tomatoes"."""
    return any(mark in inside for inside in re.findall(r"\([^()]*\)", text))


def list_in_line(text: str) -> list[str]:
    """The ingredients of a line that holds several, each with its amount; [] for any other line.

    A comma parts them only where nothing else does, for it also parts a food from its note.

    >>> list_in_line("500 g mince / 2 tins beans / 1 onion")
    ['500 g mince', '2 tins beans', '1 onion']
    """
    from pipeline.lines import parse_many  # here: few lines hold a mark of a list

    for mark in (" / ", " + ", " ... ", " … ", "; ", " | ", " · ", ", "):
        if mark in text:
            pieces = [piece for part in text.split(mark) if (piece := part.strip(" .;"))]
            least = _LIST if mark != ", " else _LIST + 1
            read = parse_many(pieces)
            if any(line.measures and not line.name for line in read) or _within_brackets(
                text, mark
            ):
                return []  # "1 cup / 240 ml milk" is one food
            names = [line.name for line in read if line.measures]
            most = _MOST if mark != ", " else 1.0
            listed = len(names) >= max(least, most * len(pieces)) and len(set(names)) == len(names)
            return pieces if listed else []
    return []


def _inline_list(text: str) -> list[str]:
    """Parts of "Ingredients: 200 g rice; 1 egg; salt"."""
    text = text.strip()
    if not text or (parts := list_in_line(text)):
        return parts if text else []
    if ";" in text or "|" in text:
        return [part.strip() for part in re.split(r"[;|]", text) if part.strip()]
    parts = re.split(r",\s+(?=(?:\d|[½¼¾⅓⅔]|an?\s|one\s|half\s))", text)
    return [part.strip() for part in parts if part.strip()]
