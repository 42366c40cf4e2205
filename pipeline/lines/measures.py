"""Amounts with their units: "2 x 400 g tins", "1 heaped tbsp", "1 cup plus 2 tbsp (30 g)"."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from pipeline.lines.amounts import VULGAR, Amount, numeral, read_amount
from pipeline.lines.model import Measure, new_measure
from pipeline.lines.percents import CALORIES, percent_at
from pipeline.lines.tokens import FRACTION, MARK, NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import (
    LEXICON,
    MISSPELT,
    NOT_FOOD,
    UNITS,
    WITH_SYSTEM,
    Effect,
    UnitWord,
    deletions,
)  # fmt: skip

PIECE = UNITS["piece"]
WHOLE = UNITS["whole"]
INCH = UNITS["inch"]
#: Count units that hold a stated weight when they follow it: "200 g block feta".
_HOLDERS = frozenset({"block", "bar", "ball", "loaf", "nest", "bunch", "head", "cube", "rack"})
_SMALLER = {("lb", "oz"): 1 / 16, ("kg", "g"): 1 / 1000, ("l", "ml"): 1 / 1000,
            ("pint", "fl_oz"): None}  # fmt: skip
#: How a spoon or a cup is filled; other sizes behind a volume describe the food.
FILLINGS = frozenset({"heaped", "rounded", "level", "scant", "packed", "loosely packed"})
_TIMES = frozenset({"x", "×", "*"})
_DUAL = frozenset({"/", "=", "|"})
_INCH_BEFORE = frozenset({"piece", "pieces", "knob", "chunk", "stick", "slice", "cube", "length",
                          "thick", "long", "thumb", "of"})  # fmt: skip


class Reading:
    """What was read at one place of the line.

    Attributes:
        measures: the amount, and the same amount said again.
        plus: amounts to add.
        next: first token after it.
        flags, problems: codes.
        implied: no number was written ("pinch of salt").
        share: a part of a whole said before ("half the dressing").
        written: how the number was said: numeral, count, article, fraction, vague.
        lead: adjectives that stood before the unit and belong to the food.
        food_at: the token where words begin that were read with the amount and may also describe
            the food: the size of a mass ("1 lb large shrimp"); -1 for none.
    """

    __slots__ = (
        "flags",
        "food_at",
        "implied",
        "lead",
        "measures",
        "next",
        "plus",
        "problems",
        "share",
        "written",
    )

    def __init__(self, measure: Measure, at: int) -> None:
        self.measures: list[Measure] = [measure]
        self.plus: list[Measure] = []
        self.next = at
        self.food_at = -1
        self.flags: list[str] = []
        self.problems: list[str] = []
        self.implied = False
        self.share = False
        self.written = ""
        self.lead: list[str] = []


def match_effect(t: Tokens, i: int, kinds: str | None = None) -> tuple[Effect, int] | None:
    """The longest phrase of the tables at token ``i`` and the token after it."""
    entry = LEXICON.get(t.word[i])
    if entry is None or not entry.effects:
        return None
    word = t.word
    for rest, effect in entry.effects:
        j = i + 1
        for part in rest:
            if word[j] == ".":
                j += 1
            if word[j] != part:
                break
            j += 1
        else:
            if effect.not_before and _before(t, j, effect.not_before):
                continue
            if kinds is None or effect.kind in kinds:
                return effect, j
    return None


def _before(t: Tokens, j: int, words: frozenset[str]) -> bool:
    return t.word[j] in words or f"{t.word[j]} {t.word[j + 1]}" in words


#: Counted units that stand without "of" or a number: "small bunch thyme".
_BARE_UNITS = frozenset({"bunch", "sprig"})


def read_size(t: Tokens, i: int, *, near: bool = False) -> tuple[str, int]:
    """A size at token ``i`` (``"(large)"`` too), or ``""`` and ``i``.

    Args:
        t: the line.
        i: token.
        near: directly after the number, where "fat" is a size too ("2 fat garlic cloves").
    """
    word = t.word
    if word[i] == "(" and word[i + 1] != "(":
        size, j = read_size(t, i + 1)
        return (size, j + 1) if size and word[j] == ")" else ("", i)
    entry = LEXICON.get(word[i])
    if entry is None or not entry.sizes:
        return "", i
    for rest, size, not_before, only_near in entry.sizes:
        if only_near and not near:
            continue
        j = i + 1
        for part in rest:
            if word[j] != part:
                break
            j += 1
        else:
            if not_before and _before(t, j, not_before):
                continue
            return size, j
    return "", i


def read_unit(t: Tokens, i: int, cased: str) -> tuple[UnitWord, int, str] | None:
    """The unit word at token ``i``: its row, the token after it, the canonical unit."""
    word = t.word
    if word[i] == "-" and (t.end[i] == t.start[i + 1] or t.kind[i - 1] == NUMBER):
        i += 1  # "14-ounce", "14- ounce"
    text = word[i]
    if not text:
        return None
    entry = LEXICON.get(text)
    if text == "in":
        return (INCH, _skip_dot(t, i + 1), "inch") if word[i + 1] in _INCH_BEFORE else None
    if entry is None:
        if text == "t":
            unit = UNITS["tbsp" if cased[t.start[i]] == "T" else "tsp"]
            return unit, _skip_dot(t, i + 1), unit.unit
        if text == '"' or (text == "'" and word[i + 1] == "'"):
            return INCH, i + (1 if text == '"' else 2), "inch"
        return _misspelt(t, i)
    if entry.units:
        for rest, unit, _ in entry.units:
            j = i + 1
            for part in rest:
                if word[j] == ".":
                    j += 1
                if word[j] != part:
                    break
                j += 1
            else:
                j = _skip_dot(t, j)
                if unit.needs_of and not entry.plural and word[j] not in ("of", "("):
                    continue
                return unit, j, unit.unit
    if entry.system is not None:
        after = read_unit(t, i + 1, cased)
        if after and after[0].unit in WITH_SYSTEM:
            return after[0], after[1], f"{after[0].unit}_{entry.system}"
    return None


def _skip_dot(t: Tokens, j: int) -> int:
    return j + 1 if t.word[j] == "." else j


#: Words behind a number that make it no count: "5 percent", "1 cal spray", "1 t butter".
_NOT_COUNTED = frozenset({"percent", "pct", "t", *CALORIES})


def _misspelt(t: Tokens, i: int) -> tuple[UnitWord, int, str] | None:
    """Long unit words with one slip: a letter left out, added, or exchanged."""
    if t.kind[i] != WORD:
        return None
    unit = _meant_unit(t.word[i])
    return None if unit is None else (unit, _skip_dot(t, i + 1), unit.unit)


@lru_cache(maxsize=16_384)
def _meant_unit(text: str) -> UnitWord | None:
    """The unit that an unknown word is one slip away from."""
    if not 6 <= len(text) <= 16:
        return None
    meant = MISSPELT.get(text)
    if meant is None:
        for shorter in deletions(text):
            meant = shorter if shorter in LEXICON else MISSPELT.get(shorter)
            if meant is not None:
                break
    if meant is None or len(meant) < 7:
        return None
    for rest, unit, _ in LEXICON[meant].units:
        if not rest and unit.kind in ("mass", "volume", "trade"):
            return unit
    return None


class MeasureReader:
    """Reads measures of one line; ``cased`` is the line with its capitals ("T", "t")."""

    __slots__ = ("cased", "t")

    def __init__(self, t: Tokens, cased: str) -> None:
        self.t = t
        self.cased = cased

    def read(self, i: int, *, leading: bool = False) -> Reading | None:
        """A measure at token ``i`` with all that belongs to it, or None.

        Args:
            i: token.
            leading: nothing stands before it, so "a", bare numbers and unit words count.
        """
        t = self.t
        start = i
        about, i = self._hedges(i)
        size, i = read_size(t, i)
        if size:
            hedged, i = self._hedges(i)
            about = about or hedged
        amount = read_amount(t, i)
        if amount is None:
            return self._implied(start, i, size, about)
        if amount.word == "article" and not leading and not self.unit_after(amount.next):
            return None
        j = amount.next
        share = self._share(amount, start, j, about)
        if share is not None:
            return share
        reading = self._counted(amount, start, j, size, about)
        self._more(reading)
        return reading

    def plain(self, i: int) -> tuple[Measure, int] | None:
        """The amount at token ``i`` when it is one number and one unit or size, and no more.

        The common case of ``read``, answered without looking for ranges, packages, lengths and
        amounts said twice; None when the words could hold any of these.

        Returns:
            The measure, and the first token of the food.
        """
        t = self.t
        word, kind = t.word, t.kind
        text = word[i]
        j = i + 1
        if kind[i] == NUMBER:
            number = numeral(text)
            value = number.value
            if number.problem or (number.fraction and value >= 1):  # "80/20"
                return None
            if number.whole:
                if text[0] == "0":  # "00 flour"
                    return None
                if kind[j] == FRACTION:  # "1½"
                    value += VULGAR[word[j]]
                    j += 1
                elif kind[j] == NUMBER:  # "1 1/2"
                    part = numeral(word[j])
                    if part.problem or not part.fraction or part.value >= 1:
                        return None
                    value += part.value
                    j += 1
        else:
            value = VULGAR[text]
        if kind[j] != WORD:
            return None
        after = word[j]
        size = ""
        entry = LEXICON.get(after)
        if entry is not None and entry.bare_size is not None:  # "2 large eggs"
            size, not_before = entry.bare_size
            j += 1
            after = word[j]
            if kind[j] != WORD or after in not_before or f"{after} {word[j + 1]}" in not_before:
                return None
            entry = LEXICON.get(after)
        if entry is None or entry.counted:
            if word[j + 1] == "of" or after in _NOT_COUNTED or (
                entry is None and _meant_unit(after)
            ):  # fmt: skip
                return None
            place = (t.start[i], t.end[j - 1])
            return new_measure(value, "piece", "count", value, value, size, None, False, place), j
        unit = entry.bare_unit
        if unit is None or size or kind[j + 1] != WORD:
            return None
        place = (t.start[i], t.end[j])
        follows = word[j + 1]
        what = unit.kind
        j += 1
        if follows == "of":
            if what == "package" or kind[j + 1] != WORD:
                return None
            j += 1
            follows = word[j]
        following = LEXICON.get(follows)
        if following is not None and not following.after_unit:
            return None
        if what in ("count", "package") and f"{after} {follows.rstrip('s')}" in NOT_FOOD:
            return None  # "2 loaf tins"
        return new_measure(value, unit.unit, what, value, value, "", None, False, place), j

    # --- pieces ----------------------------------------------------------------------------

    def _measure(
        self, amount: Amount, unit: UnitWord, name: str, start: int, end: int,
        size: str = "", each: Measure | None = None, about: bool = False,
    ) -> Measure:  # fmt: skip
        place = (self.t.start[start], self.t.end[end - 1]) if end > start else (0, 0)
        return new_measure(
            amount.value, name, unit.kind, amount.low, amount.high, size, each, about, place
        )

    def _hedges(self, i: int) -> tuple[bool, int]:
        about = False
        while True:
            if self.t.word[i] == "~":
                i += 1
                about = True
                continue
            found = match_effect(self.t, i, "hedge")
            if found is None:
                return about, i
            about, i = True, found[1]
            if self.t.word[i] == ".":
                i += 1

    def unit_after(self, j: int) -> bool:
        """Whether a unit stands at token ``j``, a size before it allowed."""
        _, j = read_size(self.t, j)
        return read_unit(self.t, j, self.cased) is not None

    def _implied(self, start: int, i: int, size: str, about: bool) -> Reading | None:
        """ "pinch of salt", "small handful of basil": one of it, by a word that measures."""
        found = read_unit(self.t, i, self.cased)
        if found is None:
            return None
        unit, j, name = found
        if unit.kind != "trade" and name not in _BARE_UNITS and self.t.word[j] != "of":
            return None
        if unit.kind == "trade" and not self.t.word[j]:
            return None
        one = Amount(1.0, 1.0, j, "implied")
        if self.t.word[j] == "or" and self.t.word[j + 1] == "two":  # "squeeze or two of lemon"
            j += 2
            one = Amount(1.0, 2.0, j, "implied")
        reading = Reading(self._measure(one, unit, name, start, j, size, None, about), j)
        reading.implied = True
        reading.flags.append("amount_assumed")
        if self.t.word[j] == "of":
            reading.next = j + 1
        self._more(reading)
        return reading

    def _share(self, amount: Amount, start: int, j: int, about: bool) -> Reading | None:
        """ "half the base dressing", "a quarter of the dough", "50 % of the sauce"."""
        word = self.t.word
        if amount.high > 1 or amount.word not in ("fraction", "count", "numeral"):
            return None
        k = j
        if word[k] == "of":
            k += 1
        if word[k] not in ("the", "this", "your", "our", "my"):
            return None
        measure = self._measure(amount, WHOLE, "whole", start, j, "", None, about)
        reading = Reading(measure, k + 1)
        reading.share = True
        return reading

    def _counted(self, amount: Amount, start: int, j: int, size: str, about: bool) -> Reading:
        t, word = self.t, self.t.word
        flags: list[str] = []
        problem = amount.problem
        each: Measure | None = None
        doubled = False
        if word[j] in _TIMES:
            second = read_amount(t, j + 1)
            if second is None or second.word == "article":
                j += 1
            else:
                each, after = self._each(second, j + 1)
                if each is None:
                    amount = Amount(
                        amount.low * second.low,
                        amount.high * second.high,
                        second.next,
                        amount.word,
                        problem or second.problem,
                    )
                    after = second.next
                elif each.kind not in ("mass", "volume"):
                    amount, each, doubled = self._product(amount, each), None, True
                    after = second.next
                j = after
        more_size, j = read_size(t, j, near=True)
        size = size or more_size
        if each is None and not doubled:
            each, amount, j = self._each_in_front(amount, j)
            if each is not None and each.kind == "length" and not self._piece_after(j):
                each = None  # "8 (6-inch) tortillas": how wide they are
            if each is not None and each.kind == "length":
                length = each
                amount = self._product(amount, length)
                reading = Reading(
                    self._measure(
                        amount, UNITS[length.unit], length.unit, start, j, size, None, about
                    ),
                    j,
                )
                self._after_length(reading)
                return reading
        if not size or word[j] == "(":
            more_size, j = read_size(t, j)
            size = size or more_size
        elif (more := read_size(t, j))[0]:
            size, j = (size if more[0] == size else f"{size} {more[0]}"), more[1]
        hedge = match_effect(t, j, "hedge")
        if hedge is not None and self.unit_after(hedge[1]):  # "a good handful"
            about, j = True, hedge[1]
        found = read_unit(t, j, self.cased)
        if found is not None and f"{word[j]} {word[j + 1].rstrip('s')}" in NOT_FOOD:
            found = None  # "2 loaf tins"
        lead: list[str] = []
        if found is None:
            found, lead = self._unit_past_adjectives(j)
        if found is None:
            name, unit = "piece", PIECE
            unknown = self._own_word(j)
            if unknown:
                name, j = word[j], j + 2
                problem = problem or "unit-unknown"
            reading = Reading(self._measure(amount, unit, name, start, j, size, each, about), j)
        else:
            unit, j, name = found
            if unit is PIECE:
                flags.append("piece_written")
            reading = self._with_unit(amount, unit, name, start, j, size, each, about)
        reading.written = amount.word
        reading.lead = lead
        reading.flags += flags
        if amount.word == "vague" and amount.best != 2:
            reading.flags.append("vague")
        if problem:
            reading.problems.append(problem)
        return reading

    def _unit_past_adjectives(self, j: int) -> tuple[tuple[UnitWord, int, str] | None, list[str]]:
        """ "1 individual pot", "2 fresh sprigs thyme": the unit, and the words before it."""
        t, k = self.t, j
        while (
            k < j + 3
            and (entry := LEXICON.get(t.word[k])) is not None
            and (entry.modifier == "quality" or (entry.effects and match_effect(t, k, "state")))
        ):
            k += 1
        if k == j:
            return None, []
        found = read_unit(t, k, self.cased)
        if found is None or found[0].kind not in ("count", "package", "trade", "volume"):
            return None, []
        after = found[1] + 1 if t.word[found[1]] == "of" else found[1]
        if t.kind[after] != WORD and t.word[after] != "(":
            return None, []
        return found, [w for w in t.word[j:k] if w != "whole"]

    def _piece_after(self, j: int) -> bool:
        found = read_unit(self.t, j, self.cased)
        return found is not None and found[0].kind in ("count", "trade")

    def _own_word(self, j: int) -> bool:
        """ "2 wheels of brie": a word before "of" measures even when no table knows it."""
        t = self.t
        return (t.kind[j] == WORD and t.word[j + 1] == "of" and t.kind[j + 2] == WORD
                and t.word[j] not in LEXICON)  # fmt: skip

    def _product(self, amount: Amount, each: Measure) -> Amount:
        return Amount(
            amount.low * each.low, amount.high * each.high, amount.next, amount.word, amount.problem
        )

    def _each(self, second: Amount, start: int) -> tuple[Measure | None, int]:
        """The measure made of ``second`` and the unit after it, when there is one."""
        found = read_unit(self.t, second.next, self.cased)
        if found is None:
            return None, second.next
        unit, j, name = found
        return self._measure(second, unit, name, start, j), j

    def _each_in_front(self, amount: Amount, j: int) -> tuple[Measure | None, Amount, int]:
        """ "2 400g tins", "a 15-oz can", "2 (15 oz) cans", "1-400 g tin"."""
        t, word = self.t, self.t.word
        k = j
        closing = False
        if word[j] == "(":
            k, closing = j + 1, True
            _, k = self._hedges(k)
        elif word[j] == "-" and t.kind[j + 1] == NUMBER:
            k = j + 1
        elif word[j] == "," and t.kind[j + 1] == NUMBER and amount.low.is_integer():
            k = j + 1  # "1, 14 oz can"
            held, past = self._held(k)
            if held is None or past == 0:
                return None, amount, j
        if t.kind[k] not in (NUMBER, FRACTION):
            return None, amount, j
        second = read_amount(t, k)
        if second is None:
            return None, amount, j
        each, after = self._each(second, k)
        if each is None:
            if amount.word == "article" and not closing:
                return None, second, second.next
            return None, amount, j
        if each.kind not in ("mass", "volume", "length"):
            if amount.word == "article" and not closing:
                return None, second, second.next
            return None, amount, j
        if closing:
            while word[after] in _DUAL or word[after] in ("or", ",", ";"):  # (400 g / 14 oz)
                again = read_amount(t, after + 1)
                if again is None:
                    return None, amount, j
                _, after = self._each(again, after + 1)
            if word[after] in ("each", "apiece"):
                after += 1
            if word[after] != ")":
                return None, amount, j
            after += 1
            if not word[after] or (t.kind[after] == MARK and word[after] != "-"):
                return None, amount, j
        if amount.word == "article" and not closing:
            _, past = read_size(t, after)
            follows = read_unit(t, past, self.cased)
            if follows is None or follows[0].kind not in ("package", "count"):
                return None, second, second.next
        return each, amount, after

    def _held(self, k: int) -> tuple[Measure | None, int]:
        """ "14 oz can": the measure, and the token after the package it fills, 0 without one."""
        second = read_amount(self.t, k)
        if second is None:
            return None, 0
        each, after = self._each(second, k)
        if each is None or each.kind not in ("mass", "volume"):
            return None, 0
        _, past = read_size(self.t, after)
        holder = read_unit(self.t, past, self.cased)
        return each, past if holder is not None and holder[0].kind == "package" else 0

    def _with_unit(
        self, amount: Amount, unit: UnitWord, name: str, start: int, j: int, size: str,
        each: Measure | None, about: bool,
    ) -> Reading:  # fmt: skip
        t, word = self.t, self.t.word
        if unit.kind in ("mass", "volume") and each is None:
            packed = self._package_after(amount, unit, name, start, j, size, about)
            if packed is not None:
                return packed
        food_at = j
        more_size, j = read_size(t, j)
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
        if unit.kind == "share":
            name = "whole"
        reading = Reading(self._measure(amount, unit, name, start, j, size, each, about), j)
        if food_at < j:
            reading.food_at = food_at
        if unit.kind == "length":
            self._after_length(reading)
        if unit.kind == "share":
            reading.share = True
        self._skip_of(reading)
        if unit.kind == "package" and each is None and t.word[j] == "of":
            self._contents(reading, amount, start)
        return reading

    def _contents(self, reading: Reading, amount: Amount, start: int) -> None:
        """ "1 pack of 6 wraps" is six; "1 pack of 200 g feta" one of 200 g."""
        k = reading.next
        second = read_amount(self.t, k)
        if second is None or second.word == "article" or percent_at(self.t, k):
            return
        each, after = self._each(second, k)
        if each is not None and each.kind in ("mass", "volume"):
            reading.measures[0] = replace(reading.measures[0], each=each)
            reading.next = after
        elif each is None and self.t.kind[second.next] == WORD:
            several = Amount(amount.low * second.low, amount.high * second.high, second.next)
            reading.measures[0] = self._measure(several, PIECE, "piece", start, second.next)
            reading.next = second.next

    def _skip_of(self, reading: Reading) -> None:
        t, j = self.t, reading.next
        if t.word[j] == "of":
            reading.next = j + 1
        elif reading.measures[0].kind in ("mass", "volume"):
            found = read_unit(t, j, self.cased)  # "1.5 lb rack of ribs", "300 g piece of salmon"
            if found is None or found[0].kind not in ("count", "trade"):
                return
            if t.word[found[1]] == "of" and not found[0].keep:
                reading.next = found[1] + 1
            elif found[0].unit in ("piece", "chunk", "knob"):
                if t.word[found[1]] != "of" and reading.food_at < 0:
                    reading.food_at = j
                reading.next = found[1] + 1 if t.word[found[1]] == "of" else found[1]

    def _after_length(self, reading: Reading) -> None:
        """ "2 cm knob of ginger": the word for the piece says no more."""
        j = reading.next
        if self.t.word[j] == "-" and self.t.end[j] == self.t.start[j + 1]:
            j += 1
        if self.t.word[j] in ("length", "long", "thick"):
            j += 1
        found = read_unit(self.t, j, self.cased)
        if found and found[0].kind in ("count", "trade") and found[0].unit != "stick":
            j = found[1]
        reading.next = j + 1 if self.t.word[j] == "of" else j

    def _package_after(
        self, amount: Amount, unit: UnitWord, name: str, start: int, j: int, size: str, about: bool
    ) -> Reading | None:
        """ "400g tin cannellini beans": one tin of 400 g. "1-400 g tin": one too."""
        size_after, k = read_size(self.t, j)
        found = read_unit(self.t, k, self.cased)
        if found is None:
            return None
        holder, after, holder_name = found
        if holder.kind != "package" and holder.unit not in _HOLDERS:
            return None
        if self.t.word[after] == "," and holder.kind != "package":
            return None  # "100 g bar, granola"
        if self.t.word[after] == "of" and holder.kind != "package" and holder.unit == "rack":
            return None
        count, held = Amount(1.0, 1.0, j), amount
        if amount.low < amount.high and amount.low.is_integer() and amount.high >= 4 * amount.low:
            count, held = (
                Amount(amount.low, amount.low, j), Amount(amount.high, amount.high, j)
            )  # fmt: skip
        each = self._measure(held, unit, name, start, j, "", None, about)
        reading = Reading(
            self._measure(count, holder, holder_name, start, after, size or size_after, each),
            after,
        )
        if holder.kind != "package" and self.t.word[after] != "of":
            reading.food_at = j  # "100 g head cheese"
        self._skip_of(reading)
        return reading

    # --- what may follow -------------------------------------------------------------------

    def _more(self, reading: Reading) -> None:
        """The same amount again, and amounts added, until other words come."""
        t, word = self.t, self.t.word
        while True:
            j = reading.next
            mark = word[j]
            if mark == "(":
                if not self.parenthesis(reading, j):
                    return
                if word[reading.next] == "of":
                    reading.next += 1
                continue
            if mark in _DUAL or (mark == "or" and reading.measures[-1].kind != "count"):
                again = self._plain(j + 1)
                if again is None or (mark == "or" and again[0].kind not in ("mass", "volume")):
                    return
                reading.measures.append(again[0])
                reading.next = again[1]
                if again[0].kind == "length":
                    self._after_length(reading)
                if word[reading.next] == "of":
                    reading.next += 1
                continue
            if mark in ("plus", "+", "and", "&"):
                if reading.measures[0].kind == "count" and reading.measures[0].unit == "piece":
                    return
                again = self._plain(j + 1)
                if again is None or again[0].unit == "piece":
                    return
                reading.plus.append(again[0])
                reading.next = again[1]
                if word[reading.next] == "of":
                    reading.next += 1
                continue
            if t.kind[j] in (NUMBER, FRACTION) and reading.measures[-1].kind in ("mass", "volume"):
                again = self._plain(j)
                if again is None or again[0].kind not in ("mass", "volume"):
                    return
                if not self._compound(reading, again[0]):
                    reading.measures.append(again[0])
                reading.next = again[1]
                if word[reading.next] == "of":
                    reading.next += 1
                continue
            return

    def _compound(self, reading: Reading, smaller: Measure) -> bool:
        """ "1 lb 4 oz" is one amount, 1.25 lb."""
        first = reading.measures[-1]
        share = _SMALLER.get((first.unit, smaller.unit))
        if share is None or first.low != first.high or smaller.amount * share >= 1:
            return False
        value = first.amount + smaller.amount * share
        reading.measures[-1] = replace(
            first,
            amount=value,
            low=value,
            high=value,
            of_text=(first.of_text[0], smaller.of_text[1]),
        )
        return True

    def _plain(self, i: int) -> tuple[Measure, int] | None:
        """One amount and one unit, with hedges and size; no more."""
        about, i = self._hedges(i)
        start = i
        size, i = read_size(self.t, i)
        amount = read_amount(self.t, i)
        if amount is None or (amount.word == "article" and not self.unit_after(amount.next)):
            return None
        j = amount.next
        if self.t.word[j] in _TIMES:  # "(2 x 150 g)"
            second = read_amount(self.t, j + 1)
            if second is None or self._each(second, j + 1)[0] is None:
                return None
            amount = Amount(amount.low * second.low, amount.high * second.high, second.next)
            j = second.next
        more_size, j = read_size(self.t, j)
        found = read_unit(self.t, j, self.cased)
        unit, j, name = found if found else (PIECE, j, "piece")
        last_size, j = read_size(self.t, j)
        size = size or more_size or last_size
        return self._measure(amount, unit, name, start, j, size, None, about), j

    def parenthesis(self, reading: Reading, j: int) -> bool:
        """ "(30 g)", "(400 g / 14 oz)", "(about 130 g each)", "(packed)" after an amount.

        Takes it only when all words in it are part of the amount; sets ``reading.next`` past it.
        """
        word = self.t.word
        size, after = read_size(self.t, j)
        if size:
            reading.measures[0] = replace(reading.measures[0], size=size)
            reading.next = after
            return True
        inside: list[Measure] = []
        k = j + 1
        each = total = False
        while True:
            if word[k] in ("each", "ea"):
                each, k = True, k + 1
                continue
            found = self._plain(k)
            if found is None or found[0].unit == "piece":
                return False
            inside.append(found[0])
            k = found[1]
            while word[k] in ("each", "apiece", "total", "in", "per", "net", "tin", "can", "."):
                if word[k] == "in" and word[k + 1] != "total":
                    return False
                each = each or word[k] in ("each", "apiece", "per")
                total = total or word[k] == "total"
                k += 1
            if word[k] == ")" or not word[k]:
                break
            if word[k] in _DUAL or word[k] in ("or", ",", ";", "-"):
                k += 1
                continue
            return False
        if inside[0].kind == "length":
            return False
        self.attach(reading.measures, inside, each, total)
        reading.next = k + 1 if word[k] else k
        return True

    @staticmethod
    def attach(measures: list[Measure], inside: list[Measure], each: bool, total: bool) -> None:
        """Give amounts said aside to the counted thing ("each"), or beside it (in all).

        Several packages and one weight after the name: the weight of all ("2 cans of tuna,
        drained (240 g)"); directly after the word, of each ("2 cans (15 oz)").
        """
        first = measures[0]
        weights = [m for m in inside if m.kind in ("mass", "volume")]
        counted = first.kind in ("count", "package", "trade") and first.each is None
        if weights and counted and (each or (first.kind == "package" and not total)):
            measures[0] = replace(first, each=weights[0])
            return
        measures.extend(inside)
