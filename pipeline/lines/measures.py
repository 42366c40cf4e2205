"""Amounts with their units: "2 x 400 g tins", "1 heaped tbsp", "1 cup plus 2 tbsp (30 g)"."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from pipeline.foods.words import singular
from pipeline.lines.amounts import Amount, numeral, read_amount
from pipeline.lines.model import Measure
from pipeline.lines.percents import CALORIES, DEFINITE, percent_at, share_in_percent
from pipeline.lines.tokens import FRACTION, MARK, NUMBER, NUMERIC, VULGAR, WORD, Tokens
from pipeline.lines.vocabulary import LEXICON, NOT_FOOD, UNITS, UnitWord, group, meant_unit

PIECE = UNITS["piece"]
WHOLE = UNITS["whole"]
#: Count units that hold a stated weight when they follow it: "200 g block feta".
_HOLDERS = group("holder")
#: How much of the first unit the second is, by the definitions of the units.
_SMALLER = {
    ("lb", "oz"): 1 / 16, ("kg", "g"): 1 / 1000, ("l", "ml"): 1 / 1000, ("cup", "tbsp"): 1 / 16,
    ("cup", "tsp"): 1 / 48, ("tbsp", "tsp"): 1 / 3,
}  # fmt: skip
#: Pieces that a length gives the amount of; of others it says how thick or wide they are.
_LENGTHS_OF = group("length_of")
#: A package holds fewer pieces than this; a larger number is its weight (common practice).
_MOST_PIECES = 50
_LESS = ("minus", "less")
#: Words after a unit with which the amount goes on: "1 cup minus 1 tbsp", "2 cups worth of".
_GOES_ON = frozenset({*_LESS, "worth", "ish", "more"})
#: How far an amount may be off that is "or so" (common practice).
_OR_SO = 0.1
#: How a spoon or a cup is filled; other sizes after a volume describe the food.
FILLINGS = group("filling")
#: What a length after these words says of the thing that follows.
_HOW_THICK = frozenset({"thick", "wide", "long", "tall", "deep"})
_TIMES = frozenset({"x", "×", "*"})
#: Small words beside a weight in parentheses: "(400 g each)", "(400 g per tin)".
_BESIDE = frozenset({"each", "apiece", "per", "net", "tin", "can", "."})
_DUAL = frozenset({"/", "=", "|"})
_HELD = ("mass", "volume")
#: Units that stand without "of" or a number: "small bunch thyme", "tbsp oil".
BARE_UNITS = frozenset({"bunch", "sprig", "tbsp", "tsp"})
#: Words after a number that make it no count: "5 percent", "1 cal spray", "1 t butter".
_NOT_COUNTED = frozenset({"percent", "pct", "t", *CALORIES})


@dataclass(slots=True)
class Reading:
    """What was read at one place of the line.

    Attributes:
        measures: the amount, and the same amount said again.
        next: first token after it.
        plus: amounts to add.
        flags, problems: codes.
        implied: no number was written ("pinch of salt").
        share: a part of a whole said before ("half the dressing").
        written: how the number was said: numeral, count, article, fraction, vague.
        lead: adjectives that stood before the unit and belong to the food.
        food_at: the token where words begin that were read with the amount and may also describe
            the food: the size of a mass ("1 lb large shrimp"); -1 for none.
    """

    measures: list[Measure]
    next: int
    plus: list[Measure] = field(default_factory=list)
    flags: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    implied: bool = False
    share: bool = False
    written: str = ""
    lead: list[str] = field(default_factory=list)
    food_at: int = -1


@dataclass(slots=True)
class _Count:
    """What stands before the unit, while it is read; ``j`` is the next token."""

    amount: Amount
    start: int
    j: int
    size: str
    about: bool
    each: Measure | None = None


def _product(one: Amount, other: Amount | Measure) -> Amount:
    return Amount(one.low * other.low, one.high * other.high, one.next, one.word, one.problem)


def _or_so(amount: Amount) -> Amount:
    low, high = amount.low * (1 - _OR_SO), amount.high * (1 + _OR_SO)
    return amount._replace(low=low, high=high, next=amount.next + 1, best=amount.value)


class MeasureReader:
    """Reads measures of one line."""

    __slots__ = ("t",)

    def __init__(self, t: Tokens) -> None:
        self.t = t

    def read(self, i: int, *, leading: bool = False) -> Reading | None:
        """A measure at token ``i`` with all that belongs to it, or None.

        Args:
            leading: nothing stands before it, so "a", bare numbers and unit words count.
        """
        t = self.t
        start = i
        about, i = self._hedges(i)
        size, i = t.size(i)
        if size:
            hedged, i = self._hedges(i)
            about = about or hedged
        amount = read_amount(t, i)
        if amount is not None and amount.word == "article":
            amount, size, about = self._past_article(amount, size, about)
        if amount is not None and t.word[amount.next] == "ish":  # "30-ish g"
            amount, about = _or_so(amount), True
        if amount is None:
            reading = self._implied(start, i, size, about)
        elif amount.word == "article" and not leading and not t.unit_after(amount.next):
            return None
        elif (share := self._share(amount, start, about)) is not None:
            return share
        else:
            reading = self._counted(_Count(amount, start, amount.next, size, about))
        if reading is not None:
            while any(rule(self, reading) for rule in _MORE):
                reading.next = t.past_of(reading.next)
        return reading

    # --- the common case -------------------------------------------------------------------

    def plain(self, i: int) -> tuple[Measure, int] | None:
        """The amount at token ``i`` when it is one number and one unit or size, and no more.

        The common case of ``read``, answered without looking for ranges, packages, lengths and
        amounts said twice; None when the words could hold any of these.

        Returns:
            The measure, and the first token of the food.
        """
        t = self.t
        word, kind = t.word, t.kind
        value, j = self._plain_number(i)
        if kind[j] != WORD or not j:
            return None
        size = ""
        after = word[j]
        entry = LEXICON.get(after)
        if entry is not None and entry.bare_size is not None:  # "2 large eggs"
            size, not_before = entry.bare_size
            j += 1
            after = word[j]
            if kind[j] != WORD or after in not_before or f"{after} {word[j + 1]}" in not_before:
                return None
            entry = LEXICON.get(after)
        if entry is None or entry.counted:
            if (
                word[j + 1] == "of"
                or after in _NOT_COUNTED
                or (entry is None and meant_unit(after))
            ):
                return None
            place = (t.start[i], t.end[j - 1])
            return Measure(value, "piece", "count", value, value, size, None, False, place), j
        unit = entry.bare_unit
        past = self._past_unit(unit, j) if unit is not None and not size else 0
        if unit is None or not past:
            return None
        place = (t.start[i], t.end[j])
        return Measure(value, unit.unit, unit.kind, value, value, "", None, False, place), past

    def _plain_number(self, i: int) -> tuple[float, int]:
        """The number at token ``i`` and the token after it; (0, 0) where more may be meant."""
        kind, word = self.t.kind, self.t.word
        text = word[i]
        j = i + 1
        if kind[i] == FRACTION:
            return VULGAR[text], j
        value, whole, fraction, problem = numeral(text)
        if problem or (fraction and value >= 1):  # "80/20"
            return 0.0, 0
        if not whole:
            return value, j
        if text[0] == "0":  # "00 flour"
            return 0.0, 0
        if kind[j] == FRACTION:  # "1½"
            return value + VULGAR[word[j]], j + 1
        if kind[j] == NUMBER:  # "1 1/2"
            part = numeral(word[j])
            proper = part.fraction and part.value < 1 and not part.problem
            return (value + part.value, j + 1) if proper else (0.0, 0)
        return value, j

    def _past_unit(self, unit: UnitWord, j: int) -> int:
        """The first token of the food after the unit at ``j``; 0 where more may be meant."""
        t = self.t
        past = j + 1
        if t.kind[past] != WORD:
            return 0
        if t.word[past] == "of":
            past += 1
            if unit.kind == "package" or t.kind[past] != WORD:
                return 0
        if t.word[past] in _GOES_ON:
            return 0
        following = LEXICON.get(t.word[past])
        if following is not None and not following.after_unit:
            return 0
        return 0 if unit.kind in ("count", "package") and self._no_food(j, past) else past

    def _no_food(self, j: int, past: int) -> bool:
        """ "2 loaf tins": the word that looks like a unit begins the name of a kitchen thing."""
        return f"{self.t.word[j]} {singular(self.t.word[past])}" in NOT_FOOD

    # --- pieces ----------------------------------------------------------------------------

    def _measure(
        self, amount: Amount, unit: UnitWord, name: str, start: int, end: int,
        size: str = "", each: Measure | None = None, about: bool = False,
    ) -> Measure:  # fmt: skip
        place = (self.t.start[start], self.t.end[end - 1]) if end > start else (0, 0)
        return Measure(
            amount.value, name, unit.kind, amount.low, amount.high, size, each, about, place
        )

    def _hedges(self, i: int) -> tuple[bool, int]:
        t = self.t
        about = False
        while True:
            if t.word[i] == "~":
                about, i = True, i + 1
                continue
            if t.word[i] == "the" and t.kind[i + 1] == NUMBER:  # "the 400 g ones"
                i += 1
            found = t.phrase(i, "hedge")
            if found is None:
                return about, i
            about, i = True, found[1]
            if t.word[i] == ".":
                i += 1

    def _past_article(self, article: Amount, size: str, about: bool) -> tuple[Amount, str, bool]:
        """ "a scant half cup", "a good 3 tbsp": the number after the article's adjectives."""
        t = self.t
        filled, j = t.size(article.next)
        hedged, j = self._hedges(j)
        number = read_amount(t, j) if j > article.next else None
        if number is None or number.word in ("article", "vague") or not t.unit_after(number.next):
            return article, size, about
        return number, size or filled, about or hedged

    def hedged(self, i: int) -> int:
        """The token after "about" and the like at ``i``."""
        return self._hedges(i)[1]

    def _implied(self, start: int, i: int, size: str, about: bool) -> Reading | None:
        """ "pinch of salt", "small handful of basil": one of it, by a word that measures."""
        t = self.t
        found = t.unit(i)
        if found is None or len(t.word[i]) == 1:  # "T bone steak"
            return None
        unit, j, name = found
        if unit.kind == "trade":
            if not t.word[j] or (unit.needs_number and t.word[j] != "of"):
                return None
        elif name not in BARE_UNITS and t.word[j] != "of":
            return None
        one = Amount(1.0, 1.0, j, "implied")
        if t.word[j] == "or" and t.word[j + 1] == "two":  # "squeeze or two of lemon"
            j += 2
            one = Amount(1.0, 2.0, j, "implied")
        return self._one_of(self._measure(one, unit, name, start, j, size, None, about), j)

    def alone(self, start: int) -> Reading | None:
        """A trade's or a counted unit without a number at token ``start``: "knob", "small bunch"."""
        t = self.t
        about, i = self._hedges(start)
        size, i = t.size(i)
        found = t.unit(i)
        if found is None or found[0].kind not in ("trade", "count"):
            return None
        unit, j, name = found
        one = Amount(1.0, 1.0, j, "implied")
        return self._one_of(self._measure(one, unit, name, start, j, size, None, about), j)

    def _one_of(self, measure: Measure, j: int) -> Reading:
        reading = Reading([measure], self.t.past_of(j))
        reading.implied = True
        reading.flags.append("amount_assumed")
        return reading

    def _share(self, amount: Amount, start: int, about: bool) -> Reading | None:
        """ "half the base dressing", "a quarter of the dough", "50 % of the sauce"."""
        if share_in_percent(self.t, amount.next):
            amount = amount._replace(
                low=amount.low / 100, high=amount.high / 100, next=amount.next + 1
            )
        if amount.high > 1 or amount.word not in ("fraction", "count", "numeral"):
            return None
        k = self.t.past_of(amount.next)
        if self.t.word[k] not in DEFINITE:
            return None
        measure = self._measure(amount, WHOLE, "whole", start, amount.next, "", None, about)
        reading = Reading([measure], k + 1)
        reading.share = True
        return reading

    def _counted(self, c: _Count) -> Reading:
        """An amount, what each holds, sizes, and the unit."""
        t, word = self.t, self.t.word
        problem = c.amount.problem
        flags: list[str] = []
        doubled = self._times(c)
        more_size, c.j = t.size(c.j, near=True)
        c.size = c.size or more_size
        if c.each is None and not doubled:
            self._each_in_front(c)
            if c.each is not None and c.each.kind == "length":
                if self._piece_after(c.j):
                    return self._of_length(c, c.each)
                c.each = None  # "8 (6-inch) tortillas": how wide they are
        bracket = word[c.j] == "("
        more_size, c.j = t.size(c.j)
        if more_size and c.size not in ("", more_size) and not bracket:
            c.size = f"{c.size} {more_size}"
        c.size = c.size or more_size
        hedge = t.phrase(c.j, "hedge")
        if hedge is not None and t.unit_after(hedge[1]):  # "a good handful"
            c.about, c.j = True, hedge[1]
        found = None if self._no_food(c.j, c.j + 1) else t.unit(c.j)
        lead: list[str] = []
        if found is None:
            found, lead = self._unit_past_adjectives(c.j)
        if found is not None:
            if found[0] is PIECE:
                flags.append("piece_written")
            reading = self._with_unit(c, *found)
        else:
            name = "piece"
            if self._own_word(c.j):
                name, c.j = word[c.j], c.j + 2
                problem = problem or "unit-unknown"
            counted = self._measure(c.amount, PIECE, name, c.start, c.j, c.size, c.each, c.about)
            reading = Reading([counted], c.j)
        reading.written = c.amount.word
        reading.lead = lead
        reading.flags += flags
        if c.amount.word == "vague" and c.amount.best != 2:
            reading.flags.append("vague")
        if problem:
            reading.problems.append(problem)
        return reading

    def _times(self, c: _Count) -> bool:
        """ "2 x 400 g tins", "2 x 3 cups"; whether the count has been multiplied."""
        if self.t.word[c.j] not in _TIMES:
            return False
        second = read_amount(self.t, c.j + 1)
        if second is None or second.word == "article":
            c.j += 1
            return False
        each, c.j = self._each(second, c.j + 1)
        if each is not None and each.kind in _HELD:
            c.each = each
            return False
        c.amount, c.j = _product(c.amount, second if each is None else each), second.next
        return each is not None

    def _each(self, second: Amount, start: int) -> tuple[Measure | None, int]:
        """The measure made of ``second`` and the unit after it, when there is one."""
        found = self.t.unit(second.next)
        if found is None:
            return None, second.next
        unit, j, name = found
        return self._measure(second, unit, name, start, j), j

    def _each_in_front(self, c: _Count) -> None:
        """ "2 400g tins", "a 15-oz can", "2 (15 oz) cans", "1-400 g tin", "1, 14 oz can"."""
        t = self.t
        closing = t.word[c.j] == "("
        k = self._begin_of_each(c)
        second = read_amount(t, k) if t.kind[k] in NUMERIC else None
        if second is None:
            return
        each, after = self._each(second, k)
        article = c.amount.word == "article" and not closing
        held = each is not None and each.kind in (*_HELD, "length")
        if closing and held:
            after = self._past_closing(after)
            held = after > 0
        if article and held:
            follows = t.unit(t.size(after)[1])
            held = follows is not None and follows[0].kind in ("package", "count")
        if held:
            c.each, c.j = each, after
        elif article:  # "a 400 g": the article belongs to what follows
            c.amount, c.j = second, second.next

    def _begin_of_each(self, c: _Count) -> int:
        """The token at which the content of each would begin after a count."""
        t, j = self.t, c.j
        mark = t.word[j]
        if mark == "(":
            return self._hedges(j + 1)[1]
        if t.kind[j + 1] != NUMBER:
            return j
        set_apart = mark == "," or t.is_dash(j)
        if (mark == "-" and not set_apart) or (
            set_apart and c.amount.low.is_integer() and self._fills(j + 1)
        ):
            return j + 1
        return j

    def _past_closing(self, after: int) -> int:
        """The token after "(400 g / 14 oz each)" from ``after`` on, 0 when it is none."""
        t, word = self.t, self.t.word
        while word[after] in _DUAL or word[after] in ("or", ",", ";"):
            again = read_amount(t, after + 1)
            if again is None:
                return 0
            _, after = self._each(again, after + 1)
        if word[after] in ("each", "apiece"):
            after += 1
        past = after + 1
        if word[after] != ")" or not word[past] or (t.kind[past] == MARK and word[past] != "-"):
            return 0
        return past

    def _fills(self, k: int) -> bool:
        """ "14 oz can": whether an amount and the package it fills stand at token ``k``."""
        second = read_amount(self.t, k)
        if second is None:
            return False
        each, after = self._each(second, k)
        if each is None or each.kind not in _HELD:
            return False
        holder = self.t.unit(self.t.size(after)[1])
        return holder is not None and holder[0].kind == "package"

    def _of_length(self, c: _Count, length: Measure) -> Reading:
        """ "2 5 cm pieces of ginger": so many times the length."""
        amount, unit = _product(c.amount, length), UNITS[length.unit]
        times = self._measure(amount, unit, length.unit, c.start, c.j, c.size, None, c.about)
        return Reading([times], self._past_length(c.j))

    def _unit_past_adjectives(self, j: int) -> tuple[tuple[UnitWord, int, str] | None, list[str]]:
        """ "1 individual pot", "2 fresh sprigs thyme": the unit, and the words before it."""
        t, k = self.t, j
        while (
            k < j + 3
            and (entry := LEXICON.get(t.word[k])) is not None
            and (entry.modifier == "quality" or (entry.effects and t.phrase(k, "state")))
        ):
            k += 1
        found = t.unit(k) if k > j else None
        if found is None or found[0].kind not in ("count", "package", "trade", "volume"):
            return None, []
        after = t.past_of(found[1])
        if t.kind[after] != WORD and t.word[after] != "(":
            return None, []
        return found, [w for w in t.word[j:k] if w != "whole"]

    def _piece_after(self, j: int) -> bool:
        found = self.t.unit(j)
        return found is not None and found[0].unit in _LENGTHS_OF

    def _own_word(self, j: int) -> bool:
        """ "2 wheels of brie": a word before "of" measures even when no table knows it."""
        t = self.t
        return (t.kind[j] == WORD and t.word[j + 1] == "of" and t.kind[j + 2] == WORD
                and t.word[j] not in LEXICON)  # fmt: skip

    # --- the unit and what belongs to it ---------------------------------------------------

    def _with_unit(self, c: _Count, unit: UnitWord, j: int, name: str) -> Reading:
        t, word = self.t, self.t.word
        if unit.kind == "length" and (thick := self._thick(c, j)) is not None:
            return thick
        if unit.kind in _HELD and c.each is None:
            packed = self._package_after(c, unit, name, j)
            if packed is not None:
                return packed
        food_at = j
        amount, size = c.amount, c.size
        more_size, j = t.size(j)
        if more_size and (not size or unit.kind == "volume"):
            size = more_size
        if unit.kind != "mass" and (unit.kind != "volume" or more_size in FILLINGS):
            food_at = j
        if word[j] == "or" and word[j + 1] == "two":
            amount = amount._replace(high=amount.high + 1, best=None)
            j += 2
        elif word[j] == "and" and word[j + 1] == "a" and word[j + 2] == "half":
            amount = amount._replace(low=amount.low + 0.5, high=amount.high + 0.5)
            j += 3
        share = unit.kind == "share"
        measure = self._measure(
            amount, unit, "whole" if share else name, c.start, j, size, c.each, c.about
        )
        reading = Reading([measure], j)
        reading.share = share
        if food_at < j:
            reading.food_at = food_at
        if unit.kind == "length":
            reading.next = self._past_length(j)
        self._skip_of(reading)
        if unit.kind == "package" and c.each is None:
            if word[j] == "of":
                self._contents(reading, amount, c.start)
            elif word[j] == "(" and t.kind[j + 1] == NUMBER and word[j + 2] == ")":
                self._pieces_in(reading, amount, c.start, j)
        return reading

    def _contents(self, reading: Reading, amount: Amount, start: int) -> None:
        """ "1 pack of 6 wraps" is six; "1 pack of 200 g feta" one of 200 g."""
        k = reading.next
        second = read_amount(self.t, k)
        if second is None or second.word == "article" or percent_at(self.t, k):
            return
        each, after = self._each(second, k)
        if each is not None and each.kind in _HELD:
            reading.measures[0] = replace(reading.measures[0], each=each)
            reading.next = after
        elif each is None and self.t.kind[second.next] == WORD:
            several = Amount(amount.low * second.low, amount.high * second.high, second.next)
            reading.measures[0] = self._measure(several, PIECE, "piece", start, second.next)
            reading.next = second.next

    def _pieces_in(self, reading: Reading, amount: Amount, start: int, j: int) -> None:
        """ "1 pack (4) tortillas" is four; "1 tin (400) beans" are grams that nobody wrote."""
        held = read_amount(self.t, j + 1)
        if held is not None and held.high < _MOST_PIECES and self.t.kind[j + 3] == WORD:
            reading.measures[0] = self._measure(
                _product(amount, held), PIECE, "piece", start, j + 3
            )
            reading.next = j + 3

    @staticmethod
    def pieces_of(measures: list[Measure], held: Measure) -> bool:
        """Make packages of so many pieces each a count of pieces; whether they can be."""
        first = measures[0]
        if first.kind != "package" or first.each is not None or not 1 < held.high < _MOST_PIECES:
            return False
        measures[0] = replace(
            held, amount=first.amount * held.amount, low=first.low * held.low,
            high=first.high * held.high,
        )  # fmt: skip
        return True

    def _skip_of(self, reading: Reading) -> None:
        """Past "of", and past a piece that a mass comes in: "1.5 lb rack of ribs"."""
        t, j = self.t, reading.next
        reading.next = t.past_of(j)
        if reading.next > j:
            return
        found = t.unit(j) if reading.measures[0].kind in _HELD else None
        if found is None or found[0].kind not in ("count", "trade"):
            return
        past = t.past_of(found[1])
        if past > found[1] and not found[0].keep:
            reading.next = past
        elif found[0].unit in ("piece", "chunk", "knob"):
            if past == found[1] and reading.food_at < 0:
                reading.food_at = j
            reading.next = past

    def _past_length(self, j: int) -> int:
        """ "2 cm knob of ginger": the word for the piece says no more; the token after it."""
        t = self.t
        if t.word[j] in ("length", "long", "thick"):
            j += 1
        found = t.unit(j)
        if found and found[0].kind in ("count", "trade") and found[0].unit != "stick":
            j = found[1]
        return t.past_of(j)

    def _package_after(self, c: _Count, unit: UnitWord, name: str, j: int) -> Reading | None:
        """ "400g tin cannellini beans": one tin of 400 g. "1-400 g tin": one too."""
        t = self.t
        size_after, k = t.size(j)
        found = t.unit(k)
        if found is None:
            return None
        holder, after, holder_name = found
        package = holder.kind == "package"
        if not package and (
            holder.unit not in _HOLDERS
            or t.word[after] == ","  # "100 g bar, granola"
            or (t.word[after] == "of" and holder.unit == "rack")
        ):
            return None
        count, held, amount = Amount(1.0, 1.0, j), c.amount, c.amount
        if amount.low < amount.high and amount.low.is_integer() and amount.high >= 4 * amount.low:
            count, held = (Amount(end, end, j) for end in (amount.low, amount.high))
        each = self._measure(held, unit, name, c.start, j, "", None, c.about)
        whole = self._measure(
            count, holder, holder_name, c.start, after, c.size or size_after, each
        )
        reading = Reading([whole], after)
        if not package and t.word[after] != "of":
            reading.food_at = j  # "100 g head cheese"
        self._skip_of(reading)
        return reading

    def _thick(self, c: _Count, j: int) -> Reading | None:
        """ "1-inch-thick slice of bread": one slice; the length says how thick it is.

        Of "2-inch thick slices" it is not said how many there are.
        """
        t = self.t
        found = t.unit(j + 1) if t.word[j] in _HOW_THICK else None
        if found is None or found[0].kind != "count" or found[0].unit in _LENGTHS_OF:
            return None
        whole = float(int(c.amount.low))
        mixed = c.amount.low == c.amount.high != whole  # "4 1/2-inch thick slices"
        if LEXICON[t.word[j + 1]].plural and not (mixed and whole > 1):
            return None
        n = whole if mixed and whole else 1.0
        c.amount, c.size = Amount(n, n, found[1], c.amount.word), c.size or t.size(j)[0]
        return self._with_unit(c, *found)

    # --- what may follow -------------------------------------------------------------------

    def _times_behind(self, reading: Reading) -> bool:
        """ "400 g x 2", "400g x 2 tins": so many of what was read."""
        t, j, each = self.t, reading.next, reading.measures[0]
        if t.word[j] not in _TIMES or len(reading.measures) > 1 or each.kind not in _HELD:
            return False
        times = read_amount(t, j + 1)
        if times is None or times.word == "article":
            return False
        unit, past, name = t.unit(times.next) or (PIECE, times.next, "piece")
        if unit.kind not in ("count", "package"):
            return False
        several = self._measure(times, unit, name, j + 1, past, "", each, each.about)
        reading.measures[0] = replace(several, of_text=(each.of_text[0], several.of_text[1]))
        reading.next = past
        return True

    def _or_so(self, reading: Reading) -> bool:
        """ "900 g or so", "900 g ish": an amount that is not meant to the gram."""
        found = self.t.phrase(reading.next, "hedge")
        if found is None or found[0].value != "behind":
            return False
        last = reading.measures[-1]
        reading.measures[-1] = replace(
            last, low=last.low * (1 - _OR_SO), high=last.high * (1 + _OR_SO), about=True
        )
        reading.next = found[1]
        return True

    def _aside(self, reading: Reading) -> bool:
        """The same amount, what each holds, or a size in parentheses."""
        return self.t.word[reading.next] == "(" and self.parenthesis(reading, reading.next)

    def _again(self, reading: Reading) -> bool:
        """ "1 cup / 240 ml", "1 lb or 450 g": the same amount said again."""
        j, mark = reading.next, self.t.word[reading.next]
        if mark not in _DUAL and (mark != "or" or reading.measures[-1].kind == "count"):
            return False
        again = self._single(j + 1)
        if again is None or (mark == "or" and again[0].kind not in _HELD):
            return False
        reading.measures.append(again[0])
        reading.next = again[1]
        if again[0].kind == "length":
            reading.next = self._past_length(again[1])
        return True

    def _added(self, reading: Reading) -> bool:
        """ "1 cup plus 2 tbsp": an amount to add."""
        first = reading.measures[0]
        if self.t.word[reading.next] not in ("plus", "+", "and", "&") or (
            first.kind == "count" and first.unit == "piece"
        ):
            return False
        again = self._single(reading.next + 1)
        if again is None or again[0].unit == "piece":
            return False
        reading.plus.append(again[0])
        reading.next = again[1]
        return True

    def _less(self, reading: Reading) -> bool:
        """ "1 cup minus 1 tbsp": an amount to take off, where the one unit is a part of the other."""
        first = reading.measures[-1]
        if self.t.word[reading.next] not in _LESS:
            return False
        taken = self._single(reading.next + 1)
        share = _SMALLER.get((first.unit, taken[0].unit)) if taken is not None else None
        if taken is None or share is None or taken[0].high * share >= first.low:
            return False
        least, most = first.low - taken[0].high * share, first.high - taken[0].low * share
        reading.measures[-1] = replace(
            first, amount=(least + most) / 2, low=least, high=most,
            of_text=(first.of_text[0], taken[0].of_text[1]),
        )  # fmt: skip
        reading.next = taken[1]
        return True

    def _beside(self, reading: Reading) -> bool:
        """ "1 lb 4 oz" is one amount, 1.25 lb; "1 lb 450 g" says it twice."""
        first = reading.measures[-1]
        if self.t.kind[reading.next] not in NUMERIC or first.kind not in _HELD:
            return False
        again = self._single(reading.next)
        if again is None or again[0].kind not in _HELD:
            return False
        smaller, reading.next = again
        share = _SMALLER.get((first.unit, smaller.unit))
        if (
            first.unit in ("cup", "tbsp")
            or share is None
            or first.low != first.high
            or smaller.amount * share >= 1
        ):
            reading.measures.append(smaller)
            return True
        value = first.amount + smaller.amount * share
        reading.measures[-1] = replace(
            first, amount=value, low=value, high=value,
            of_text=(first.of_text[0], smaller.of_text[1]),
        )  # fmt: skip
        return True

    def _single(self, i: int) -> tuple[Measure, int] | None:
        """One amount and one unit, with hedges and size; no more."""
        t = self.t
        about, i = self._hedges(i)
        start = i
        size, i = t.size(i)
        amount = read_amount(t, i)
        if amount is None or (amount.word == "article" and not t.unit_after(amount.next)):
            return None
        j = amount.next
        if t.word[j] in _TIMES:  # "(2 x 150 g)"
            second = read_amount(t, j + 1)
            if second is None or self._each(second, j + 1)[0] is None:
                return None
            amount = Amount(amount.low * second.low, amount.high * second.high, second.next)
            j = second.next
        more_size, j = t.size(j)
        unit, j, name = t.unit(j) or (PIECE, j, "piece")
        last_size, j = t.size(j)
        size = size or more_size or last_size
        return self._measure(amount, unit, name, start, j, size, None, about), j

    def parenthesis(self, reading: Reading, j: int) -> bool:
        """ "(30 g)", "(400 g / 14 oz)", "(about 130 g each)", "(packed)" after an amount.

        Takes it only when all words in it are part of the amount; sets ``reading.next`` past it.
        """
        word = self.t.word
        inside: list[Measure] = []
        k = j + 1
        each = total = False
        while True:
            if word[k] == "each":
                each, k = True, k + 1
                continue
            found = self._single(k)
            if found is None or found[0].unit == "piece":
                return False
            inside.append(found[0])
            total = total or self._multiple(k) == reading.measures[0].amount > 1
            k = found[1]
            while (past := self.t.past_total(k)) or word[k] in _BESIDE:
                each = each or word[k] in ("each", "apiece", "per")
                total = total or past > 0
                k = past or k + 1
            if word[k] == ")" or not word[k]:
                break
            if word[k] not in _DUAL and word[k] not in ("or", ",", ";", "-"):
                return False
            k += 1
        if inside[0].kind == "length":
            return False
        self.attach(reading.measures, inside, each, total)
        reading.next = k + 1 if word[k] else k
        return True

    def _multiple(self, k: int) -> float:
        """The 2 of "2 tins (2 x 400 g)", which is all of it; 0 when nothing is multiplied."""
        times = read_amount(self.t, self._hedges(k)[1])
        return times.value if times is not None and self.t.word[times.next] in _TIMES else 0.0

    @staticmethod
    def attach(measures: list[Measure], inside: list[Measure], each: bool, total: bool) -> None:
        """Give amounts said aside to the counted thing ("each"), or beside it (in all).

        Several packages and one weight after the name: the weight of all ("2 cans of tuna,
        drained (240 g)"); directly after the word, of each ("2 cans (15 oz)").
        """
        first = measures[0]
        weights = [m for m in inside if m.kind in _HELD]
        counted = first.kind in ("count", "package", "trade") and first.each is None
        if weights and counted and (each or (first.kind == "package" and not total)):
            measures[0] = replace(first, each=weights[0])
            return
        measures.extend(inside)


#: What may follow an amount, tried in order until none fits.
_MORE = (
    MeasureReader._times_behind, MeasureReader._or_so, MeasureReader._aside, MeasureReader._again,
    MeasureReader._added, MeasureReader._less, MeasureReader._beside,
)  # fmt: skip
