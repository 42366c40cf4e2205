"""What has been read of a card: its parts, and how each kind of line adds to them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from pipeline.foods.words import singular
from pipeline.intake.amounts import Amount
from pipeline.intake.counted import count_of, heads_numbers, thing_of
from pipeline.intake.entries import MAX_LINES, clean, not_too_long, too_many_lines
from pipeline.intake.facts_line import find_facts, titled_yield, yield_line
from pipeline.intake.model import Basis, RawLine, RawRecipe, cut
from pipeline.intake.numbers import DIGITS, Roles
from pipeline.intake.pages.schema_org import (
    MAX_METHOD,
    add_stated,
    apply_serving_size,
    set_dish_weight,
    set_yield,
)
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_serving_size, read_yield
from pipeline.intake.stated_line import all_found, read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import may_be_title, names_food
from pipeline.intake.text.inline_list import list_in_line
from pipeline.intake.text.line_kinds import (
    BULLET,
    DESCRIPTION_KEY,
    ID_KEY,
    IGNORED_KEY,
    MAYBE_STATED,
    NUTRITION,
    TITLE_KEY,
    head_of_list,
    looks_like_ingredient,
    measures,
    tells,
    unmarked,
)  # fmt: skip
from pipeline.problems import input_problem

_LEAST_LINES = 2
_WITH_AND_WITHOUT = 2
#: What parts a title from the numbers behind it.
_SIGNS = " -–—|:,(·•~"
#: Characters of a line below a list from which on it is a paragraph that tells what to do.
_PARAGRAPH = 160
_WORDS = re.compile(r"[^\W\d_]+")
#: The end of a sentence that another follows.
_SENTENCES = re.compile(r"[^\W\d_]{3}[.!?]\s+[A-Z]\S*\s+\S")
_TIMED = f"{DIGITS} to? time"


@dataclass(slots=True)
class Card:
    """A card as far as it has been read, and what its next line makes of it."""

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
    titled: bool = False  # its yield stands behind its title
    description: list[str] = field(default_factory=list)
    described_at: list[int] = field(default_factory=list)
    serving_size: str = ""
    size: str = ""
    method: list[str] = field(default_factory=list)
    method_at: list[int] = field(default_factory=list)
    without: dict[int, tuple[str, str]] = field(default_factory=dict)

    def plausible(self, told_elsewhere: bool) -> bool:
        """False for text that only happens to hold lines: a list to shop by is no recipe.

        Args:
            told_elsewhere: what its recipe makes and states may stand outside the text.
        """
        r = self.recipe
        if r.lines:
            if _figures_alone(r):
                return False
            if self.explicit or self.said_yield or r.stated:
                return True
            measured = bool(self.units_seen) or self.bulleted >= _LEAST_LINES
            return measured and (told_elsewhere or any(map(_tells_at_all, self.method)))
        return bool(r.title and (len(r.stated) > 1 or (self.said_yield and r.stated)))

    def finish(self) -> None:
        r = self.recipe
        self._leave_variants()
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
        spoken = read_script(steps, kind="script").recipes
        r = self.recipe
        r.lines = [
            RawLine(one.text, "", self.method_at[(one.source_line or 1) - 1])
            for recipe in spoken for one in recipe.lines
        ]  # fmt: skip
        if r.lines:
            r.problems.append(
                input_problem("lines-from-steps", title=cut(r.title, 60), lines=len(r.lines))
            )

    def obey(self, line: CardLine, text: str) -> None:
        """Take a line for what the whole text says that it is."""
        bare = text.strip("*_# ()[]") if line.role == "yield" else unmarked(text)
        if bare.endswith(":") and not self.said_yield:
            self.yields(find_facts(bare).yields, line.no)
        if line.role == "title":
            self.recipe.title, self.recipe.source_line = clean(bare).strip(": ")[:300], line.no
        elif line.role == "yield" and (weight := pattern("yield_weight").match(bare)):
            set_dish_weight(self.recipe, weight["value"], line.no)
        elif line.role == "yield":
            told = yield_line(bare) or next(iter(find_facts(bare).yields), bare)
            self.yields([told], line.no)
        elif line.role == "item":
            self.explicit = True
            self.add(BULLET.sub("", bare.removesuffix(" /")), line.no)
        elif line.role == "heading":
            self.heading(bare, line.no)
        elif line.role == "method":
            self.step(bare, line.no)
        elif not (
            self.take_stated(line, bare, told=line.role == "numbers")
            or self.keyed(line, bare)
            or self.begins_list(line, bare)
        ):
            self.description.append(bare)

    def take_stated(self, line: CardLine, bare: str, *, told: bool = False) -> bool:
        """Take a stated line or a nutrition heading; False when the line is something else.

        ``told``: the whole text has told that it states numbers.
        """
        size = pattern("serving_size").match(bare)
        if size and not pattern("serving_size_beside").search(bare):
            self.serving_size = size["value"]
            return True
        if not (heads_numbers(bare) or MAYBE_STATED.search(bare)):
            self.in_stated = False
            return False
        read = read_stated_line(bare)
        in_block = self.in_stated or self.state == "nutrition"
        if read.found or read.heading:
            self.recipe.served = self.recipe.served or thing_of(bare)
        if read.heading or NUTRITION.match(bare):
            self._yields_beside(bare, line.no)
            self.basis = read.basis or self.basis
            self.size = read.size or self.size
            self.in_stated = True
            if self.state != "preamble":
                self.state = "nutrition"
            return True
        certain = read.certain or (read.of_foods and self._makes(read.size))
        if not (certain or (in_block and read.possible) or (told and read.found)):
            self.in_stated = False
            return False
        if read.basis is not None:
            self.basis = read.basis
            self.size = read.size or self.size
        self._title_beside(bare, min((f.span[0] for f in read.found), default=0), line.no)
        basis = self.basis or "per_serving"
        self._yields_beside(bare, line.no)
        for found in read.found:
            add_stated(self.recipe, found.tag, Amount(found.amount, found.step, found.text),
                       basis, found.text, found.tag, line.no)  # fmt: skip
        self._not_judged(bare, read.unread, line.no)
        self.in_stated = True
        self.numbers_below = bool(self.recipe.lines)
        return True

    def _not_judged(self, text: str, unread: Sequence[str], no: int) -> None:
        """Note what a line of stated numbers is without, and say which numbers of it are not read."""
        without = pattern("leaves_out").search(text)
        if without and sum(one.tag == "ENERC_KCAL" for one in all_found(text)) < _WITH_AND_WITHOUT:
            self.without[no] = without["what"], cut(text, 60)
        if unread:
            told = ", ".join(unread)
            self.recipe.problems.append(
                input_problem(
                    "stated-unread", source_line=no, text=cut(text), numbers=told,
                    written=cut(text, 60),
                )
            )  # fmt: skip

    def _leave_variants(self) -> None:
        """Leave out numbers that are without a part of the list, or stated beside those with it, and say so."""
        r = self.recipe
        others = {s.nutrient for s in r.stated if s.source_line not in self.without}
        for no, (what, written) in self.without.items():
            left_out = set(map(singular, _WORDS.findall(what.lower()))) - {"optional"}
            lines = (set(map(singular, _WORDS.findall(one.text.lower()))) for one in r.lines)
            mine = {one.nutrient for one in r.stated if one.source_line == no}
            if mine & others or any(map(left_out.intersection, lines)):
                r.stated = [one for one in r.stated if one.source_line != no]
                r.problems.append(
                    input_problem("stated-without", source_line=no, what=what, written=written)
                )

    def _makes(self, counted: str) -> bool:
        """Whether what is counted is what the recipe makes, rather than a food of its list."""
        made = set(map(singular, f"{self.recipe.title} {self.recipe.serving_word}".lower().split()))
        return singular(counted.split()[-1].lower()) in made

    def _title_beside(self, text: str, end: int, no: int) -> None:
        """Take what stands before the numbers of the first line as the title: "PRAWN PASTA 363 kcal"."""
        title, told = titled_yield(text[:end].strip(_SIGNS))
        begun = self.state != "preamble" or self.recipe.title or self.description
        if not begun and names_food(title) and may_be_title(title) and not yield_line(title):
            self.recipe.title, self.recipe.source_line = clean(title)[:300], no
            self.yields([told] if told else [], no)

    def _yields_beside(self, text: str, no: int) -> None:
        """Take the yield said beside stated numbers, where none is known or they were divided by it."""
        facts = find_facts(text)
        if facts.divided or not self.said_yield or math.isnan(self.recipe.servings):
            served = count_of(self.recipe.served, [text]) if not facts.yields else ""
            self.yields([served] if served else facts.yields, no)

    def yields(self, yields: Sequence[str], no: int) -> None:
        """Take what one line says of servings and yield, most telling words last."""
        for told in reversed(yields):
            set_yield(self.recipe, told, no)
            self.said_yield = True

    def begins_list(self, line: CardLine, bare: str) -> bool:
        """ "Ingredients", with a yield in brackets or the list itself behind it."""
        match = pattern("ingredients").match(bare)
        if not match or len(bare) >= 400 or (match["colon"] != ":" and match["rest"]):
            return False
        self.state, self.explicit, self.section = "ingredients", True, ""
        inside = (match["extra"] or "").strip("()[] ")
        if inside and math.isnan(self.recipe.servings) and re.search(r"\d", inside):
            told = yield_line(inside) or inside
            if not math.isnan(read_yield(told).servings):
                self.yields([told], line.no)
        for part in list_in_line(match["rest"].strip()) or [match["rest"]]:
            self.add(part, line.no)
        return True

    def keyed(self, line: CardLine, bare: str) -> bool:
        """A title, id, creator or description under its name."""
        recipe = self.recipe
        title = TITLE_KEY.match(bare)
        if title and not recipe.title:
            recipe.title = clean(title["value"])[:300]
            return True
        if self.state != "preamble":
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
            self.description.append(found["value"])
            self.described_at.append(line.no)
        return found is not None

    def fact(self, line: CardLine, bare: str) -> bool:
        """What the dish weighs, how many it serves, and what is not read."""
        recipe = self.recipe
        weight = pattern("yield_weight").match(bare)
        if weight:
            set_dish_weight(recipe, weight["value"], line.no)
            return True
        if IGNORED_KEY.match(bare):
            return True
        told = yield_line(bare) if recipe.title or pattern("begins_yield").match(bare) else None
        if not told or (self.state == "ingredients" and recipe.lines and self.said_yield):
            return False
        self.yields([told], line.no)
        return True

    def lines_above(self, no: int) -> None:
        """Lines right above the first amount that measure too ("∞ g oats") belong to the list."""
        above: list[tuple[str, int]] = []
        while self.described_at and self.described_at[-1] == no - 1 - len(above):
            text = self.description[-1]
            if (
                not (pattern("measure_word").search(text) or measures(text))
                or find_facts(text).yields
                or len(text.split()) > 10
                or text.endswith((".", "!", "?"))
            ):
                break
            above.append((self.description.pop(), self.described_at.pop()))
        for text, at in reversed(above):
            self.add(text, at)

    def is_prose(self, bare: str, blank_before: bool) -> bool:
        """Whether a line below the list is none of it: a sentence, or what follows its numbers."""
        words = len(bare.split())
        unmeasured = not pattern("quantity").match(bare) or (
            blank_before and _SENTENCES.search(bare) is not None
        )
        if unmeasured and bare.endswith("?") and self.recipe.lines:
            return True
        if not self.recipe.lines or (unmeasured and len(bare) > _PARAGRAPH):
            return bool(unmeasured and len(bare) > _PARAGRAPH)
        tells_what = pattern("verb_start").match(bare) is not None
        sentence = bare.endswith((".", "!")) and not any(
            one.text.endswith((".", "!")) for one in self.recipe.lines
        )
        if tells_what and (sentence or ". " in bare):
            return True
        if Roles(bare).search(_TIMED) and (tells_what or tells(bare)):
            return True
        if blank_before and (tells_what or unmeasured) and words > (3 if tells_what else 7):
            return True
        if blank_before and unmeasured and self.bulleted and (
            tells_what or words > 6 or not self.explicit
        ):  # fmt: skip
            return True
        below = blank_before or self.numbers_below
        return below and not looks_like_ingredient(bare) and (self.numbers_below or sentence)

    def heading(self, text: str, no: int) -> None:
        name = clean(text.strip("*_#[]-–—~ "))
        if not name:
            return
        self.section = name.rstrip(": ")
        if len(self.recipe.lines) < MAX_LINES:
            shown = name if name.endswith(":") else f"{name}:"
            self.recipe.lines.append(RawLine(shown, "", no))

    def listed(self, text: str, no: int) -> None:
        """Add the ingredients of a line: one, several, or those behind the name of their part.

        Those that the line reader parts itself stay a line.
        """
        from pipeline.lines import parse  # here: it is needed for cards alone

        head, text = head_of_list(text)
        if head:
            self.heading(head, no)
        parts = list_in_line(text) if not _SENTENCES.search(text) else []
        for part in parts if len(parts) > len(parse(text).parts) else [text]:
            self.add(part, no)

    def add(self, text: str, no: int) -> None:
        text = clean(text)
        if not text:
            return
        if len(self.recipe.lines) >= MAX_LINES:
            if len(self.recipe.lines) == MAX_LINES:
                too_many_lines(self.recipe.problems, self.recipe.lines, no)
            return
        if pattern("amount").search(text):
            self.units_seen += 1
        text = not_too_long(text, self.recipe.problems, self.recipe.lines, no)
        self.recipe.lines.append(RawLine(text, self.section, no))

    def step(self, text: str, no: int) -> None:
        """Keep a line of the method."""
        self.method.append(text)
        self.method_at.append(no)


def _tells_at_all(text: str) -> bool:
    """Whether a text behind a list tells what to do with it, rather than anything else."""
    return tells(text) or Roles(text).search(_TIMED) is not None


def _figures_alone(recipe: RawRecipe) -> bool:
    """Whether lines are figures with units ("60 kg 1,680 108 g") of which none names anything."""
    from pipeline.lines import parse  # here: the first line of nearly all recipes names a food

    if any(c.isalpha() for line in recipe.lines for c in parse(line.text).name):
        return False
    return any(c.isdigit() for line in recipe.lines for c in line.text)
