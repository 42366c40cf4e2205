"""Candidates in the words of a script: amounts, spans of foods, and the two together.

An amount is read where it stands; a food span ends where the names of foods, a break, a verb or a
new amount end it. Which of them belong together is not decided here but by the best path over them
(``tiling``); what a line then says is read by the lines stage, as of any written line.
"""

from __future__ import annotations

import bisect
from dataclasses import dataclass, field
from itertools import pairwise

from pipeline.intake.spoken.composition import Composition
from pipeline.intake.spoken.lexicon import SHORT, Lexicon, Phrase, Unit
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.words import NUMBERS_IN_WORDS, STRONG, WEAK, Span, Word
from pipeline.units import kitchen_units

ADJECTIVES = word_class("before_units")
SIZES = word_class("size")
DETERMINERS = word_class("before_foods")
PARTS = word_class("part_of_food")
#: A number said in words is no count from there on that ends in one: "four hundred and fifty, two peppers".
_COUNTED = 40
_LATELY = 100  # words in which "another" is said of what was named
_CLAUSE, _HEAD = 16, 4  # words of a clause, and of those its first
#: Words for somebody else, another place or another time, without those that say so seldom.
_OTHERS = frozenset().union(*map(word_class, ("kin", "elsewhere", "other_time"))) | (
    word_class("irrealis") - word_class("function")
)
_OTHERS -= {"used", "last", "next", "later", "back", "when", "before", "they", "always", "never"}
_BEFORE = (("last", "time"), ("used", "to"), ("back", "then"))
MEASURED = frozenset({"mass", "volume", "package", "trade"})


@dataclass(slots=True)
class Amount(Span):
    """A quantity in the words; the food after it may begin at ``end``."""

    value: float
    high: float
    unit: Unit | None = None
    size: str = ""
    each: tuple[float, str] | None = None
    article: bool = False
    of: bool = False
    apiece: bool = False  # "about six ounces each"

    @property
    def measured(self) -> bool:
        """Has a unit that can be weighed without knowing a piece of the food."""
        return self.unit is not None and self.unit.kind in MEASURED


@dataclass(slots=True)
class Food(Span):
    """A span that names a food. ``head`` is the name found in the tables, folded."""

    name: list[str]
    head: Phrase
    known: bool
    notes: list[str] = field(default_factory=list)
    repairs: list[tuple[int, int, str, str]] = field(default_factory=list)
    determined: str = ""  # "the", "that", "your" before it


@dataclass(slots=True)
class Mention(Span):
    """A food of the script with what was said of its amount."""

    food: Food
    amount: Amount | None = None
    also: list[Amount] = field(default_factory=list)
    vague: str = ""
    part: str = ""
    notes: list[str] = field(default_factory=list)
    section: str = ""
    shared: str = ""  # why it stands here, of a line said elsewhere
    from_base: bool = False
    per_person: bool = False
    share: float = 1.0
    amount_spans: list[tuple[int, int]] = field(default_factory=list)
    refused: list[Amount] = field(default_factory=list)  # taken back by the speaker


class Talk:
    """The words of a script and what is known of them."""

    def __init__(
        self, words: list[Word], known: Lexicon, source: str, composition: Composition | None = None
    ) -> None:
        self.composition = composition or Composition.of_the_table_in_force()
        self.words = words
        self.known = known
        self.source = source
        self.n = len(words)
        self.text = [w.text for w in words]
        self.folded = [known.fold(w.text) if w.value is None else "" for w in words]
        self._ends = frozenset().union(
            *map(word_class, ("function", "filler", "adverb", "negative"))
        )
        self._talk = word_class("talk")
        self._starts: list[int] = []
        parts: list[str] = []
        length = 0
        for word in words:
            if word.breaks:
                mark = "| " if word.breaks == STRONG else ", "
                parts.append(mark)
                length += 2
            self._starts.append(length)
            said = word.text if word.value is None else "a" if word.article else f"{word.value:g}"
            parts.append(said + " ")
            length += len(said) + 1
        self.flow = "".join(parts)
        self.common_servings = float("nan")
        self.turns: dict[int, Span] = {}  # where dishes begin that were told in turns: their names
        self.dishes: set[Phrase] = set()  # titles of the script, once it is cut
        self.weighs_in_grams = any(
            w.value is not None and i + 1 < len(words) and self._means_grams(words[i + 1].text)
            and (w.value or 0.0) >= 5
            for i, w in enumerate(words)
        )  # fmt: skip
        self._lengths = [-1] * self.n

    def _means_grams(self, text: str) -> bool:
        unit = self.known.units.get((text,))
        return unit is not None and unit.name == "g"

    # --- small looks ---------------------------------------------------------------------------

    def at(self, offset: int) -> int:
        """Index of the word at a character of ``flow``."""
        return max(bisect.bisect_right(self._starts, offset) - 1, 0)

    def from_offset(self, offset: int) -> int:
        """Index of the first word that begins at or behind a character of ``flow``."""
        return bisect.bisect_left(self._starts, offset)

    def begins(self, at: int) -> int:
        """Character of ``flow`` at which word ``at`` begins."""
        return self._starts[at] if at < self.n else len(self.flow)

    def said(self, start: int, end: int) -> str:
        """Words from ``start`` to ``end``, with their breaks as ``|`` and ``,``."""
        start, end = max(start, 0), min(end, self.n)
        if start >= end:
            return ""
        return self.flow[self._starts[start] : self.begins(end)].rstrip(" ,|")

    def lead(self, at: int, words: int) -> str:
        """Words before a place, with a mark of the break that parts them from it."""
        if not 0 < at < self.n or not self.words[at].breaks:
            return self.said(at - words, at)
        return self.said(at - words, at) + (" |" if self.words[at].breaks == STRONG else " ,")

    def counts(self, at: int) -> bool:
        """A number stands at a place, and not only an article."""
        return at < self.n and self.words[at].value is not None and not self.words[at].article

    def plain(self, at: int) -> bool:
        """A word that is neither food, number nor unit, puts no food in and denies nothing."""
        text = self.text[at]
        if text in word_class("goes_on") or text in word_class("negative"):
            return False
        unit, _ = self.known.unit_at(self.words, at)
        return unit is None and self.words[at].value is None and not self.food_length(at)

    def denied(self, at: int) -> bool:
        """Denial right before a word, small words between: "it is not quite the same"."""
        before = self.said(at - 3, at).split("|")[-1].split()
        no = [k for k, word in enumerate(before) if word in word_class("negative")]
        return bool(no) and all(w in self._ends or w == "quite" for w in before[no[-1] + 1 :])

    def of_others(self, at: int) -> bool:
        """The clause before a place begins with somebody else, another place or another time, and what
        the speaker does now is no part of it: "my gran put", "last time I used"."""
        begin = at
        while begin > max(at - _CLAUSE, 0) and not self._turns(begin):
            begin -= 1
        if begin and not self._turns(begin):
            return False
        clause = [word.split("'")[0] for word in self.text[begin:at]]
        for place, word in enumerate(clause):
            done = {w for w in clause[place + 1 : place + 3] if w.endswith("ed")} | (
                word_class("past") & {*clause[place + 1 : place + 4]}
            )
            if word in ("i", "we", "you") and not done:
                return False
        return any(
            w in _OTHERS or (w, after) in _BEFORE
            for w, after in pairwise([*clause[: _HEAD + 1], ""])
        )

    def _turns(self, at: int) -> bool:
        """A clause begins: a sentence, or words behind "so" and "but"."""
        return self.words[at].breaks == STRONG or self.text[at - 1] in word_class("turns")

    def tells(self, at: int) -> bool:
        """A word that tells dishes apart: a food, or a name of no table."""
        text = self.text[at]
        if text in self._ends or text in self._talk or self.words[at].value is not None:
            return False
        thing = self.close(at) and self.word(at - 1) in word_class("names_a_thing")
        verb = text in self.known.verbs and not (thing and text in word_class("dish"))
        return text not in word_class("container") and not verb

    def word(self, at: int) -> str:
        """Text of a word, "" outside the script."""
        return self.text[at] if 0 <= at < self.n else ""

    def joined(self, at: int) -> str:
        """Text of a word that no full stop parts from the one before."""
        return "" if at >= self.n or self.words[at].breaks == STRONG else self.text[at]

    def close(self, at: int) -> str:
        """Text of a word that nothing parts from the one before."""
        return "" if at >= self.n or self.words[at].breaks else self.text[at]

    # --- amounts -------------------------------------------------------------------------------

    def amount_at(self, at: int) -> Amount | None:
        """The amount that begins at a word."""
        word = self.words[at]
        if word.value is None:
            return self._another(at) if self.text[at] == "another" else self._bare_unit(at)
        before = self.words[at - 1]
        if at and not word.breaks and self.counts(at - 1) and not before.share and (
            (before.value or 0.0) + word.value == 100
        ):  # fmt: skip
            return None  # the 7 of "93 7 ground turkey"
        if self._figure(at) and not self.known.unit_at(self.words, at + 1)[0]:
            return None
        if self._of_a_name(at) or self.makes(at) or self._one_pot(at):
            return None
        if word.article and (self._vague(at + 1) or self._share(at)):
            return None
        if at and not word.breaks and self.text[at - 1] in ("number", "recipe", "step"):
            return None
        hot = not word.breaks and self.word(at - 1) == "at" and self.counts(at)
        if hot and self.known.unit_at(self.words, at + 1)[0] is None:
            return None  # "ten minutes at 200"
        amount = Amount(at, at + 1, word.value, word.value, article=word.article)
        if not word.article and self.close(at + 1) in ("to", "or") and self.counts(at + 2):
            other = self.words[at + 2]
            if not other.breaks and (other.value or 0.0) > word.value:
                amount.high, amount.end = other.value or 0.0, at + 3
        return self._unit_of(amount)

    def _share(self, at: int) -> bool:
        """ "four a cup", "50 a pot": an article right behind a number, for each of what follows."""
        return at > 0 and not self.words[at].breaks and self.counts(at - 1)

    def _of_a_name(self, at: int) -> bool:
        """ "two teaspoons of seven spice", "a 12 muffin tin", "the Ward Four soup": a number that
        names a thing."""
        word, before = self.words[at], self.word(at - 1)
        if not at or word.breaks or word.article or word.share or (
            self.known.unit_at(self.words, at + 1)[0] is not None
            or self.close(at + 1) in ("percent", "lean")
        ):  # fmt: skip
            return False
        if (word.capital and self.words[at - 1].capital) or self.words[at - 1].article:
            return True
        unit, _ = self.known.unit_at(self.words, at - 2) if at > 1 else (None, 0)
        return before == "of" and unit is not None and unit.weighs and not self._boundary(at + 1)

    def _one_pot(self, at: int) -> bool:
        """ "one pot pasta": no count, but how it is cooked."""
        pot = (
            self.counts(at)
            and self.words[at].value == 1
            and self.close(at + 1) in (word_class("cooked_in"))
        )
        return pot and self.close(at + 2) not in ("", "of") and self._food_near(at + 2)

    def makes(self, at: int) -> bool:
        """The 4 of "makes four pound and a half of beef": nobody says so of four and a half."""
        unit, size = self.known.unit_at(self.words, at + 1)
        return unit is not None and unit.weighs and (self.words[at].value or 0.0) > 1 and (
            self.word(at - 1) in word_class("makes_servings")
            and self.text[at + 1] == self.folded[at + 1]
            and bool(self.close(at + 1)) and self._and_part(at + 1 + size) > 0
        )  # fmt: skip

    def _vague(self, at: int) -> bool:
        """ "a little", "a bit of", "a lot of"; but "a little gem" and "a little tin"."""
        text = self.close(at)
        if text == "wee":
            return self.close(at + 1) == "bit"
        if text == "little":
            return self.known.unit_at(self.words, at + 1)[0] is None and self.food_length(at) < 2
        return text in ("bit", "lot", "load", "touch")

    def _unit_of(self, amount: Amount) -> Amount | None:
        end = amount.end
        them = word_class("pointing") | word_class("of_them")
        if self.close(end) == "of" and self.close(end + 1) in ("us", "you"):
            return None  # people
        if self.close(end) == "of" and self.close(end + 1) in them:
            inner = end + 2
            while self.close(inner) in ADJECTIVES and self.known.unit_at(self.words, inner + 1)[0]:
                inner += 1  # "two of the big cans"
            if inner < self.n and self._each(amount, inner):
                return amount
            unit, size = self.known.unit_at(self.words, inner) if inner < self.n else (None, 0)
            if unit is not None and self.close(inner) and self.close(inner + size) == "of":
                one = (self.folded[inner],) if amount.value == 1 else (self.text[inner],)
                amount.unit, amount.end = self.known.units.get(one, unit), inner + size
                self._of(amount)
                return amount
            pointed = self.close(end + 1) in word_class("pointing") | {"these"}
            those = self.close(end + 1) == "them" and inner < self.n and self.food_length(inner) > 0
            told = self.word(amount.start - 1) in word_class("tells_amount")
            pointed |= those and not told  # "two of them eggs"; not "I had four of them, feta …"
            if pointed and not amount.article and self._food_near(inner) and (
                self.stands_for(end) <= end + 2
            ):  # fmt: skip
                amount.end, amount.of = inner, True
                return amount
            return None if amount.article else self._plain(amount)
        if self._each(amount, end):
            return amount
        return self._plain(amount)

    def _each(self, amount: Amount, at: int) -> bool:
        """ "two 400 gram tins": what each package holds."""
        at += self.close(at) in ADJECTIVES
        if not self.counts(at) or self.words[at].breaks:
            return False
        inner, size = self.known.unit_at(self.words, at + 1)
        if inner is None or inner.kind not in ("mass", "volume"):
            return False
        after = at + 1 + size
        skipped = 0
        while skipped < 2 and self.close(after) in self.known.manners | {"big", "small", "large"}:
            after, skipped = after + 1, skipped + 1
        outer, more = self.known.unit_at(self.words, after)
        if outer is not None and outer.name == "cup":
            outer = self.known.units["tub",]  # "two 5 ounce cups of yogurt"
        held = outer is not None and outer.kind in ("package", "count", "trade")
        if not held or self.words[after].breaks:
            return False
        amount.each, amount.unit = (self.words[at].value or 0.0, inner.said), outer
        amount.end = after + more
        self._of(amount)
        return True

    def _plain(self, amount: Amount) -> Amount | None:
        end = amount.end
        skipped: list[str] = []
        while len(skipped) < 3 and self.close(end) and self.food_length(end) < 2 and (
            self._fat_ones(end)
            or (self.close(end) in ADJECTIVES
                and self.known.unit_at(self.words, end)[1] < 2)  # "small spoon"
        ):  # fmt: skip
            skipped.append(self.text[end])
            end += 1
        amount.size = next((s for s in skipped if s in SIZES), "")
        told = skipped or self.words[amount.start].share
        if told and self.close(end) in ("one", "ones") and not amount.article:
            amount.end = end + 1  # "onions, two big ones"
            return amount
        unit, size = self.known.unit_at(self.words, end)
        tail = self.words[amount.start].tail
        if unit is not None and not self.words[end].breaks and self._is_unit(unit, end, size):
            amount.unit, amount.end = unit, end + size
            if tail == 1 and unit.said not in SHORT and self.text[end] == self.folded[end]:
                amount.value = amount.high = tail  # "protein fifty one cup of yogurt"
            part = self._and_part(amount.end)
            behind = amount.end + 2
            if part and unit.name not in ("g", "ml") and (
                self.close(behind) in {"of", *self.known.manners} or self._boundary(behind)
            ):  # fmt: skip
                amount.value = amount.high = amount.value + part
                amount.end += 2
            self._and_smaller(amount)
        elif not amount.article and amount.value >= 1 and self._measures(end):
            amount.unit = Unit(self.text[end], "count", self.text[end])
            amount.end = end + 1
        else:
            amount.end = end
            if tail and amount.value >= _COUNTED and self._food_near(end):
                amount.value = amount.high = tail  # nobody counts 452 peppers
        self._of(amount)
        return amount

    def _and_smaller(self, amount: Amount) -> None:
        """Add what is told in a smaller unit of the same kind: "a kilo and two hundred grams"."""
        at, unit = amount.end + (self.close(amount.end) in ("and", "plus")), amount.unit
        if at == amount.end and unit is not None and unit.kind != "mass":
            return  # "not a tablespoon, one teaspoon of it"
        other, size = self.known.unit_at(self.words, at + 1)
        if other is None and unit is not None and unit.name in ("kg", "l") and self.counts(at) and (
            self.close(at) and self.close(at + 1) == "of" and (self.words[at].value or 0) >= 100
        ):  # fmt: skip
            other, size = self.known.units["g" if unit.name == "kg" else "ml",], 0
        if unit is None or other is None or not unit.weighs or unit.kind != other.kind or not (
            self.counts(at) and self.close(at) and self.close(at + 1)
        ):  # fmt: skip
            return
        end, share = at + 1 + size, kitchen_units().ratio(other.name, unit.name)
        before = range(max(amount.start - 3, 0), amount.start)
        told = amount.article or any(self.food_length(k) == amount.start - k for k in before)
        if told and self.close(amount.start) and (
            self.close(end) == "of" or (self.close(end) and self.food_length(end))
        ):  # fmt: skip
            return  # "chicken one kilo 200 grams of rice"
        more = (self.words[at].value or 0.0) * share
        if share < 1 and more < 1:
            amount.value = amount.high = amount.value + more
            amount.end = end

    def _fat_ones(self, at: int) -> bool:
        """ "two fat leeks": how big they are, not what is in them."""
        several = self.close(at + 1) and self.text[at + 1] != self.folded[at + 1]
        return self.close(at) == "fat" and bool(several) and self.food_length(at + 1) > 0

    def _measures(self, at: int) -> bool:
        """A word of no table that stands where a unit does: "one branch of rosemary"."""
        text = self.close(at)
        others = self._ends | self._talk | word_class("ENERC_KCAL")
        plain = text and self.plain(at) and text not in others
        return bool(plain and self.close(at + 1) == "of" and self.close(at + 2)) and (
            self.food_length(at + 2) > 0
        )

    def _and_part(self, at: int) -> float:
        """The half of "and a half" behind a unit; 0 for none."""
        if self.close(at) != "and" or not self.close(at + 1) or not self.words[at + 1].share:
            return 0.0
        return self.words[at + 1].value or 0.0

    def _is_unit(self, unit: Unit, at: int, size: int) -> bool:
        """Whether a unit word is one here: "two slices of ham", but "two pound 80" is money."""
        after = at + size
        if unit.name == "lb" and self.close(after) and self.words[after].value is not None and (
            not self.words[after].share
        ):  # fmt: skip
            return False
        if unit.kind == "length":
            named = any(self.food_length(k) == at - 1 - k for k in range(max(at - 4, 0), at - 1))
            return (self.close(after) == "of" and self._food_near(after + 1)) or (
                named and not self.close(after)
            )  # "ginger, an inch"
        if unit.kind == "share":
            return False
        if self.close(after) == "of" or self.word(after) == "":
            return True
        # "four salmon fillets", "two chicken breasts": the piece is part of the name there, and
        # "a lemon cut in wedges" has none; before "of" or a food it is a unit
        return (
            unit.kind not in ("count", "package")
            or unit.said in word_class("always_unit")
            or self._food_near(after)
            or self.words[after].breaks != 0
            or not self.known.food_at(self.folded, at, self.n)
        )

    def _of(self, amount: Amount) -> None:
        if self.close(amount.end) in ("of", "o'"):
            amount.of = True
            amount.end += 1

    def _another(self, at: int) -> Amount | None:
        """ "another onion": one more of what was named shortly before."""
        length = self.food_length(at + 1) if self.close(at + 1) else 0
        name = self.folded[at + 1 : at + 1 + length]
        lately = self.folded[max(at - _LATELY, 0) : at]
        if not length or not any(lately[k : k + length] == name for k in range(len(lately))):
            return None
        return Amount(at, at + 1, 1.0, 1.0, article=True)

    def _bare_unit(self, at: int) -> Amount | None:
        """ "teaspoon of honey", "handful of spinach" without a number before it."""
        unit, size = self.known.unit_at(self.words, at)
        package = unit is not None and unit.kind == "package" and self.close(at + size) == "of"
        if unit is None or unit.name == "ml":
            return None
        of = self.close(at + size) == "of" and self.words[at].breaks
        weight = unit.kind == "mass" or unit.name == "l"
        if weight and not (self._and_part(at + size) or of):
            return None
        listed = of and self._food_near(at + size + 1)  # "two onions, thumb of ginger"
        if unit.kind not in ("volume", "trade") and not (package or weight or listed):
            return None
        if unit.said.endswith("s") and not unit.said.endswith("ss") and unit.name != "tbsp":
            return None
        end = at + size
        if self.text[at] == "squeeze" and self.close(end) != "of":
            return None
        part = self._and_part(end)
        amount = Amount(at, end + 2 if part else end, 1.0 + part, 1.0 + part, unit)
        self._of(amount)
        if not (amount.of or part or unit.name in ("tsp", "tbsp")):
            return None
        each = self.close(amount.end) == "each" and self.close(amount.end + 1) == "of"
        alone = part and self.words[at].breaks and self._boundary(amount.end)
        return amount if alone or self._food_near(amount.end + 2 * each) else None

    def _food_near(self, at: int) -> bool:
        """A known food begins at a word or shortly after it."""
        for index in range(at, min(at + 4, self.n)):
            if self.words[index].breaks == STRONG and index > at:
                return False
            if self.words[index].value is not None:
                return False
            if self.known.food_at(self.folded, index, self.n):
                return True
            if self.text[index] in self._ends and self.text[index] not in DETERMINERS:
                return False
        return False

    # --- foods ---------------------------------------------------------------------------------

    @staticmethod
    def one_of(food: Food) -> str:
        """A line of one piece of a food."""
        return f"1 {' '.join(food.name)}"

    def countable(self, food: Food) -> bool:
        """A piece of the food has a weight, or it is not known: an egg, not flour."""
        text = self.one_of(food)
        return self.composition.of(text) is not None or text not in self.composition.unweighed

    def _limit(self, at: int) -> int:
        """End of the words that nothing parts from ``at``."""
        end = at + 1
        while end < self.n and end < at + 7 and not self.words[end].breaks and (
            self.words[end].value is None
        ):  # fmt: skip
            end += 1
        return end

    def food_length(self, at: int) -> int:
        """Words of the food name that begins at ``at``, breaks and numbers heeded."""
        if self._lengths[at] < 0:
            self._lengths[at] = self._food_length(at)
        return self._lengths[at]

    def _food_length(self, at: int) -> int:
        word = self.folded[at]
        if self.words[at].value is not None or (word not in self.known.foods and "-" not in word):
            return 0
        length = self.known.food_at(self.folded, at, self._limit(at))
        if length == 1 and (self.text[at] in self._ends or self._is_done(at)):
            return 0
        if length > 1 and self.text[at + length - 1] in PARTS and self.close(at + length) == "of":
            return self.known.food_at(
                self.folded, at, at + length - 1
            )  # "pineapple, juice of a lime"
        return length

    def _is_done(self, at: int) -> bool:
        """ "you water them one night": what is done to a thing, whatever else the word names."""
        done = self.close(at + 1) in ("it", "them") and self.close(at)
        return bool(done) and self.text[at - 1] in word_class("does")

    def food_span(self, at: int, *, measured: bool, weighed: bool = False) -> Food | None:
        """The food that is named from ``at`` on; an unknown one only after a measured amount."""
        begin, determined = at, ""
        while begin < self.n and begin - at < 4 and (
            self.text[begin] in DETERMINERS
            or (self.text[begin] in ADJECTIVES and self.text[begin] in self._talk | self._ends)
        ) and (not self.words[begin].breaks or begin == at) and self.food_length(begin) <= 1:  # fmt: skip
            if self.text[begin] in DETERMINERS:
                determined = self.text[begin]
            begin += 1
        if begin >= self.n or (begin > at and self.words[begin].breaks == STRONG):
            return None
        end, known_end, head = self._scan(begin, measured)
        if known_end < 0:
            end = min(end, begin + 4)
            if measured and end == begin and self._is_noun(begin):
                end = begin + 1
            heard = self._misheard(begin, determined) if weighed and end <= begin + 1 else None
            if heard is not None:
                heard.end = self._notes(heard, heard.end)
                return heard
            if not measured or end == begin:
                return None
        else:
            end = known_end
        name = ["%" if text == "percent" else text for text in self.text[begin:end]]
        if self._of_a_name(begin):
            name[0] = NUMBERS_IN_WORDS.get(name[0], name[0])  # "five spice"
        turned = (self.folded[end + 1], self.folded[begin]) if self.close(end + 1) else ()
        if end == begin + 1 and self.close(end) == "of" and turned in self.known.food_set:
            name, head, end = [self.text[end + 1], *name], turned, end + 2  # "oil of sunflower"
        described = self._described(begin, end)
        if described > end:
            name = [*self.text[end:described], *name]
            head = (*self.folded[end:described], *self.folded[begin:end])
            end = described
        food = Food(begin, end, name, head, known_end >= 0, determined=determined)
        if not food.known and self.close(end) in ("it", "them"):
            return None  # "ten ounces, poke it"
        if measured:
            self._repair(food)
        if not food.known and (determined in ("that", "this", "those") or self._unlikely(food)):
            return None
        food.end = self._notes(food, end)
        return food

    def _described(self, begin: int, end: int) -> int:
        """End of what a name has behind a comma: "rice, long grain" is long grain rice."""
        if end >= self.n or self.words[end].breaks != WEAK:
            return end
        if self.text[end] in self.known.prep or self.text[end] in self.known.manners:
            return end  # a state, which is a note
        for stop in range(min(end + 3, self.n), end, -1):
            if any(
                self.words[i].breaks or self.words[i].value is not None
                for i in range(end + 1, stop)
            ):
                continue
            if (*self.folded[end:stop], *self.folded[begin:end]) in self.known.food_set:
                return stop
        return end

    def _scan(self, begin: int, measured: bool) -> tuple[int, int, Phrase]:
        """How far a name may go, the end of what is known of it (-1: nothing), and its head."""
        end, known_end = begin, -1
        head: Phrase = ()
        while end < self.n and end - begin < 9:
            breaks, text = self.words[end].breaks, self.text[end]
            if end > begin and (
                breaks == STRONG
                or (breaks == WEAK and (known_end >= 0 or not self._describes(end - 1)))
            ):
                break
            if self.words[end].value is not None or text == "percent" or "/" in text:
                step = self._figure(end) if known_end < 0 else 0
                if not step:
                    break
                end += step
                continue
            length = self.food_length(end)
            listed = self.words[end].breaks and end + 1 < self.n and self.words[end + 1].breaks
            verb = text in self.known.verbs and not listed and (
                self.word(end - 1) not in word_class("names_a_thing")
            ) and not self._told_behind(end + 1)  # fmt: skip
            if length == 1 and (verb or text in self._talk) and (known_end >= 0 or not measured):
                length = 0
            if length:
                found = tuple(self.folded[end : end + length])
                if known_end >= 0 and (end > known_end + 1 or "salt" in found):
                    break
                head = found
                end = known_end = end + length
            elif self._ends_name(end):
                break
            elif known_end < 0:
                if text in self._talk:
                    break
                end += 1
            else:
                step, known = self._goes_on(end, known_end)
                if not step:
                    break
                end += 1
                known_end = end if known else known_end
        return end, known_end, head

    def _told_behind(self, at: int) -> bool:
        """ "cream two decilitres", "then cream, two decilitres": an amount that closes makes the word
        before it a thing."""
        if at >= self.n or self.words[at].breaks == STRONG or not self.counts(at):
            return False
        unit, size = self.known.unit_at(self.words, at + 1)
        after = at + 1 + size
        closes = self._boundary(after) and self.close(after) != "of"
        return unit is not None and unit.weighs and closes

    def stands_for(self, at: int) -> int:
        """End of what stands for a food named before, "of them", "of the small ones"; ``at`` where
        nothing does."""
        inner = self.close(at + 1) if self.close(at) == "of" else ""
        if inner in word_class("of_them") - {"these"}:
            return at + 2
        if inner in word_class("pointing") | {"these"}:
            for end in range(at + 2, at + 5):
                if self.close(end) in ("one", "ones"):
                    return end + 1
                if self._boundary(end):
                    break
        return at

    def _ends_name(self, at: int) -> bool:
        """A verb, a small word or the unit of another amount ends a name."""
        if self.text[at] in self._ends or self.text[at] in self.known.verbs:
            return True
        if self.text[at] in ("one", "ones"):
            return True
        unit, _ = self.known.unit_at(self.words, at)
        return unit is not None and (
            self.close(at + 1) == "of" or unit.kind in ("mass", "volume", "trade")
        )

    def _goes_on(self, at: int, known_end: int) -> tuple[bool, bool]:
        """Whether a word behind a known name belongs to it, and whether the name may end there."""
        text, known, after = self.text[at], self.known, at + 1
        manner = known.prep | known.manners
        if text in manner or text in self._talk or (text.endswith("ed") and len(text) > 5):
            return False, False
        if text in known.ordinals:
            return False, False  # "boil the eggs first"
        ends_here = self._boundary(after) or self.text[after] in manner
        follows = not ends_here and self.food_length(after) > 0
        if not ends_here and not follows:
            alike = bool(known.sounding_like(text)) and self._boundary(at + 2)
            return alike, alike
        in_names = self.folded[at] in known.food_words or text in known.kinds
        return at <= known_end and (follows or in_names), not follows

    def _is_noun(self, at: int) -> bool:
        """A word that may be a verb elsewhere names a thing here: "300 grams of mash"."""
        text = self.word(at)
        if self.word(at - 1) != "of" and self.close(at + 1) in word_class("object"):
            return False
        does = text.endswith("s") and text.removesuffix("s") in self.known.verbs
        return len(text) > 3 and text in self.known.verbs and text not in self._ends and (
            self._boundary(at + 1) and not (does and self.folded[at] not in self.known.food_words)
        )  # fmt: skip

    def _misheard(self, begin: int, determined: str) -> Food | None:
        """A food heard as common words: "a teaspoon of come in", "a cup of or so"."""
        known, noun = self.known, self._is_noun(begin)
        if self.close(begin + 1) in word_class("object") or self.text[begin] in word_class(
            "PROCNT"
        ):
            return None  # whatever it is, it is done: "two teaspoons stir it"
        unheard = (self._talk - {"time"}).union(known.prep, known.manners)
        for size in (2, 1):
            end = begin + size
            said = self.text[begin:end]
            if end > self.n or not unheard.isdisjoint(said) or (
                size == 2 and known.food_words.issuperset(said) and self._ends.isdisjoint(said)
            ) or any(
                self.words[i].value is not None or (i > begin and self.words[i].breaks)
                for i in range(begin, end)
            ):  # fmt: skip
                continue
            word = said[0]
            if size == 1 and (
                noun or word in self._ends or word in DETERMINERS or word in known.kinds
            ):
                continue
            found = known.sounding_like(" ".join(said))
            if found and not (size == 1 and self._commoner(self.folded[begin], found[0])):
                repairs = [(begin, end, " ".join(said), " ".join(found[0]))]
                return Food(begin, end, list(found[0]), found[0], True, [], repairs, determined)
        return None

    def _unlikely(self, food: Food) -> bool:
        """An unknown name that is all talk: "200 grams of that", "one time"."""
        known = self.known
        empty = self._talk.union(
            word_class("link"), self._ends, ADJECTIVES, known.ordinals, known.sizes, known.prep,
            known.manners, word_class("container"), word_class("of_them"),
            word_class("correct"),
        )  # fmt: skip
        said = self.text[food.start : food.end]
        return all(
            w in empty or (w,) in known.units or (w.endswith("ed") and len(w) > 5) for w in said
        )

    def _describes(self, at: int) -> bool:
        """The word goes on to its noun behind a comma: "boneless, skinless chicken"."""
        text = self.text[at]
        return text in self.known.manners or text in self.known.kinds or text in self.known.prep

    def _figure(self, at: int) -> int:
        """Words of a percentage or a product's own figure within a name; 0 for none."""
        if self.words[at].value is None:
            return 1 if "/" in self.text[at] else 0
        after = self.close(at + 1)
        if self.words[at].article:
            return 0
        if after in ("percent", "lean") or (
            after == "fat" and self.close(at + 2) not in ("", "and") and not self._fat_ones(at + 1)
        ):
            return 2 + (self.close(at + 2) in ("fat", "lean"))
        if after in ("calorie", "cal", "kcal") and self._food_near(at + 2):
            return 2
        value, other = self.words[at].value or 0.0, self.words[at + 1] if at + 1 < self.n else None
        if other is not None and other.value is not None and value + other.value == 100:
            return 2
        return int(self._of_a_name(at))

    def _boundary(self, at: int) -> bool:
        """A name cannot go on at a word."""
        if at >= self.n or self.words[at].breaks or self.words[at].value is not None:
            return True
        return self.text[at] in self._ends or self.text[at] in self.known.verbs

    def _notes(self, food: Food, end: int) -> int:
        """States and preparation behind a name: "drained", "peeled and sliced", "in water"."""
        if self.joined(end) == "in":
            for more in range(end + 1, end + 4):
                if self.close(more) in word_class("packed_in"):
                    food.notes.append(" ".join(self.text[end : more + 1]))
                    return more + 1
                if self.close(more) in self.known.verbs:
                    break
        said: list[str] = []
        at = end
        while at < self.n and at - end < 6 and self._note(at, said):
            at += 1
        if not said:
            return end
        food.notes.append(" ".join(said))
        return at

    def _note(self, at: int, said: list[str]) -> bool:
        """Take a word into a note; False where the note ends."""
        word, text, nxt, known = self.words[at], self.text[at], self.close(at + 1), self.known
        if word.breaks == STRONG or word.value is not None:
            return False
        if text in word_class("verb") and nxt in word_class("object"):
            return False
        length = self.food_length(at)
        deed = text.endswith("ed") and len(text) > 5
        if text in known.prep or (not length and (deed or text in known.manners)):
            other = nxt and text not in known.prep and self.food_length(at + 1)
            if length > 1 or other:
                return False
            said.append(text)
            return True
        goes_on = (
            (text in word_class("before_states") and (nxt in known.prep or nxt == "weight"))
            or text == "dry"
            or (text == "weight" and said)
            or (text == "and" and said and nxt in known.prep | known.manners)
        )
        if goes_on:
            said.append(text)
        return bool(goes_on or (text in ("up", "small") and said))

    # --- misheard words ------------------------------------------------------------------------

    def _repair(self, food: Food) -> None:
        """Read a misheard word as the food it sounds like, where that makes a known name."""
        known = self.known
        folded = [known.fold(w) for w in food.name]
        best: tuple[float, int, int, Phrase] | None = None
        for size in (2, 1):
            for at in range(len(folded) - size + 1):
                said = folded[at : at + size]
                as_said = size == 1 and self._sound_as_said(food, folded, at)
                if as_said and (tuple(said) not in known.food_set or len(folded) == 1):
                    continue
                if any(not w.isalpha() for w in said):
                    continue
                if size == 2 and (tuple(said) in known.food_set or any(
                    w in known.food_words and (w,) in known.food_set for w in said)
                    or known.food_words.issuperset(said)):  # fmt: skip
                    continue
                for to in known.sounding_like(" ".join(said))[:6]:
                    if list(to) == said:
                        break
                    if size == 1 and self._commoner(said[0], to):
                        continue
                    new = [*folded[:at], *to, *folded[at + size :]]
                    gain = self._cover(new) - self._cover(folded)
                    if as_said and (
                        len(to) > 1 or known.food_at(new, max(at - 1, 0), len(new)) < 2
                    ):
                        continue
                    if gain > 0.3 and (best is None or gain > best[0]):
                        best = (gain, at, size, to)
        if best is None:
            return
        _, at, size, to = best
        start = food.start + at if len(food.name) == food.end - food.start else food.start
        food.repairs.append(
            (start, start + size, " ".join(food.name[at : at + size]), " ".join(to))
        )
        food.name[at : at + size] = list(to)
        folded[at : at + size] = list(to)
        food.known = True
        tails = (tuple(folded[n:]) for n in range(len(folded)))
        food.head = next((tail for tail in tails if tail in known.food_set), food.head or to)

    def _commoner(self, word: str, read: Phrase) -> bool:
        """More names have the word than what it is taken for: masala, mazola."""
        names = self.known.in_names
        return names.get(word, 0) > min(names.get(w, 0) for w in read)

    def _sound_as_said(self, food: Food, folded: list[str], at: int) -> bool:
        """The word makes sense as it is, in a name or as a describing word."""
        known, word, said = self.known, folded[at], food.name[at]
        if (word,) in known.food_set or word in known.kinds or word in known.manners:
            return True
        if any(said in words for words in (known.prep, known.sizes, self._talk, known.verbs)):
            return True
        if said in word_class("dish") or (said,) in known.units:
            return True
        return any(
            tuple(folded[begin : begin + size]) in known.food_set and begin + size > at
            for size in range(2, 5)
            for begin in range(max(at - size + 1, 0), at + 1)
        )

    def _cover(self, folded: list[str]) -> float:
        """How well known names cover a name: the share of its words, longer names first."""
        if not folded:
            return 0.0
        at, score = 0, 0.0
        while at < len(folded):
            length = self.known.food_at(folded, at, len(folded))
            score += length + 0.2 * max(length - 1, 0)
            at += length or 1
        return score / len(folded) * 2
