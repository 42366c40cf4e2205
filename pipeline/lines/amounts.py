"""Numbers as cooks write them: numerals, fractions, words, ranges. No units here."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from pipeline.lines.tokens import FRACTION, NUMBER, VULGAR, Tokens
from pipeline.lines.vocabulary import LEXICON, NO_WORD, Word

_FRACTIONS = frozenset({"half", "quarter", "quarters", "third", "thirds"})
#: Those that count parts and are no number without one before them: "pecan halves 50 g".
_PARTS = frozenset({"halves", "quarters", "thirds"})
#: Denominators a cook divides by; "100/150" is no fraction.
_DENOMINATORS = frozenset({2, 3, 4, 5, 6, 8, 10, 12, 16})


class Amount(NamedTuple):
    """A number or a range; ``next`` is the first token after it.

    Attributes:
        low, high: ends, equal for a single number.
        word: how it was said: numeral, count, article, fraction, multiple, vague.
        problem: "" or the code of what could be read two ways.
        best: the likeliest number where it is not the middle ("a couple": 2, perhaps 3).
    """

    low: float
    high: float
    next: int
    word: str = "numeral"
    problem: str = ""
    best: float | None = None

    @property
    def value(self) -> float:
        """The best single number: the middle of a range unless a word says better."""
        return (self.low + self.high) / 2 if self.best is None else self.best


class Numeral(NamedTuple):
    """Value of one numeral token; ``whole`` when a fraction may follow to make it mixed."""

    value: float
    whole: bool
    fraction: bool
    problem: str


@lru_cache(maxsize=4096)
def numeral(text: str) -> Numeral:
    """Read ``12``, ``1.5``, ``1,5``, ``1,500``, ``1/2``; never raises.

    A comma before exactly three digits groups thousands, unless the number starts with 0; any
    other single comma is a decimal mark.
    """
    if "/" in text:
        above, _, below = text.partition("/")
        top, bottom = numeral(above.strip()), numeral(below.strip())
        if bottom.value == 0:
            return Numeral(0.0, False, True, "amount-not-a-number")
        problem = "" if bottom.value in _DENOMINATORS else "amount-ambiguous"
        return Numeral(top.value / bottom.value, False, True, top.problem or problem)
    if text.isdecimal() and len(text) < 10:
        return Numeral(float(text), True, False, "")
    groups = text.replace(",", ".").split(".")
    if len(groups) == 1:
        return Numeral(0.0, False, False, "amount-not-a-number")
    problem = ""
    first_comma, first_dot = text.find(","), text.find(".")
    if first_comma >= 0 and first_dot >= 0:  # 1,500.5 or 1.500,5: the last mark is the decimal one
        plain = "".join(groups[:-1]) + "." + groups[-1]
    elif len(groups) > 2:
        plain = "".join(groups)  # 1,000,000
        problem = "" if all(len(g) == 3 for g in groups[1:]) else "amount-ambiguous"
    elif first_comma >= 0 and len(groups[1]) == 3 and groups[0] != "0":
        plain = "".join(groups)
    else:
        plain = (groups[0] or "0") + "." + groups[1]
    if len(plain) > 15:
        return Numeral(0.0, False, False, "amount-not-a-number")
    return Numeral(float(plain), False, False, problem)


_TEN, _HUNDRED = 10, 100
#: No range ends at so many times what it begins with.
_WIDEST = 20


def read_amount(t: Tokens, i: int) -> Amount | None:
    """The number or range at token ``i``, or None when none stands there."""
    word = t.word
    if word[i] == "between":
        first = _number(t, i + 1)
        joined = first is not None and word[first.next] in ("and", "-", "to")
        second = _number(t, first.next + 1) if first and joined else None
        return _ranged(first, second) if first and second else None
    first = _number(t, i)
    if first is None:
        return None
    j = first.next
    if word[j] == "-" and word[j + 1] == "to":  # "3- to 4-pound"
        j += 1
    link = word[j]
    if link in ("-", "to", "or") and first.word != "article":
        second = _number(t, j + 1)
        glued = link == "-" and t.end[j - 1] == t.start[j]
        if second is not None and link == "-" and not glued and second.low > _WIDEST * first.high:
            return first  # "courgettes x 2 - 400 g"
        if second is not None and second.word not in ("article", "vague"):
            return _ranged(
                first,
                second,
                glued=glued,
                mixed=j - i == 2 and t.kind[i] == NUMBER and t.kind[i + 1] == NUMBER,
            )
    return first


def _ranged(first: Amount, second: Amount, glued: bool = False, mixed: bool = False) -> Amount:
    problem = first.problem or second.problem
    if glued and mixed:  # "1 1/2-2" may be 1½ to 2, or 1 to 2½ typed in haste
        problem = problem or "amount-ambiguous"
    low, high = first.low, second.high
    if low > high:
        low, high, problem = high, low, problem or "amount-ambiguous"
    return Amount(low, high, second.next, first.word, problem)


def _number(t: Tokens, i: int) -> Amount | None:
    kind = t.kind[i]
    if kind == NUMBER:
        return _digits(t, i)
    if kind == FRACTION:
        value = VULGAR[t.word[i]]
        return _times_dozen(t, Amount(value, value, _skip_article(t, i + 1)))
    entry = LEXICON.get(t.word[i], NO_WORD)
    return None if entry.number is None or t.word[i] in _PARTS else _words(t, i, entry)


def _digits(t: Tokens, i: int) -> Amount | None:
    text = t.word[i]
    if text[0] == "0" and len(text) > 1 and text.isdecimal():
        return None  # "00 flour"
    value, whole, _, problem = numeral(text)
    j = i + 1
    if whole:
        value, j = _with_fraction(t, i, value)
    if not value.is_integer():
        j = _skip_article(t, j)  # "1/2 a cup"
    return _times_dozen(t, Amount(value, value, j, "numeral", problem))


def _with_fraction(t: Tokens, i: int, value: float) -> tuple[float, int]:
    """The whole number at token ``i`` with the fraction after it, and the token after both."""
    j = i + 1
    if t.word[j] in _FRACTIONS and _is_fraction(t, j):  # "3 quarters of a"
        return value * (LEXICON[t.word[j]].number or 1.0), _skip_article(t, j + 1)
    if t.word[j] in ("and", "&", "+"):
        added = _proper_fraction(t, j + 1)
        if added is not None:
            return value + added, j + 2
        if t.word[j + 1] in ("a", "an", "one") and t.word[j + 2] in ("half", "quarter"):
            return value + (0.5 if t.word[j + 2] == "half" else 0.25), j + 3
    elif t.kind[i] == NUMBER:
        if t.word[j] == "-" and t.glued(i) and t.glued(j):  # "1-1/2", "1-½"
            j += 1
        added = _proper_fraction(t, j)
        if added is not None:
            return value + added, j + 1
    return value, i + 1


def _proper_fraction(t: Tokens, i: int) -> float | None:
    if t.kind[i] == FRACTION:
        return VULGAR[t.word[i]]
    if t.kind[i] == NUMBER and "/" in t.word[i]:
        part = numeral(t.word[i])
        if part.value < 1 and not part.problem:
            return part.value
    return None


def _is_fraction(t: Tokens, i: int) -> bool:
    """ "3 quarters of a cup" is a number, "3 quarters of chicken" counts quarters."""
    word = t.word
    if not word[i].endswith("s"):
        return True
    entry = LEXICON.get(word[t.past_of(i + 1)], NO_WORD)
    return bool(entry.units or entry.number_class == "article" or entry.role == "the")


def _skip_article(t: Tokens, j: int) -> int:
    word = t.word
    if word[j] == "of" and word[j + 1] in ("a", "an", "one", "1"):
        return j + 2
    return j + 1 if word[j] in ("a", "an") else j


def _times_dozen(t: Tokens, amount: Amount) -> Amount:
    entry = LEXICON.get(t.word[amount.next], NO_WORD)
    if entry.number_class != "multiple" or entry.number is None:
        return amount
    times = amount._replace(
        low=amount.low * entry.number, high=amount.high * entry.number, next=amount.next + 1
    )
    return _with_rest(t, times) if entry.number == _HUNDRED else times


def _with_rest(t: Tokens, amount: Amount) -> Amount:
    """ "two hundred (and) fifty", "twenty five": the smaller number in words after one."""
    j, most = amount.next, _HUNDRED if amount.low % _HUNDRED == 0 else _TEN
    if amount.low < _TEN * 2 or amount.low % _TEN or amount.low != amount.high:
        return amount
    j += most == _HUNDRED and t.word[j] == "and"
    entry = LEXICON.get(t.word[j], NO_WORD)
    value = entry.number or 0.0
    if entry.number_class != "count" or not 0 < value < most:
        return amount
    total = amount.low + value
    return _with_rest(t, amount._replace(low=total, high=total, next=j + 1))


def _words(t: Tokens, i: int, entry: Word) -> Amount | None:
    """A number in words at token ``i``, by its class."""
    j = i + 1
    value = entry.number or 0.0
    what = entry.number_class
    if what == "article":
        after = LEXICON.get(t.word[j], NO_WORD)
        if after.number is None or after.number_class == "article":
            return Amount(1.0, 1.0, j, "article")
        return None if after.number_class == "count" else _words(t, j, after)  # "a two"
    if what == "fraction":
        if t.word[j] == "and":  # "half and half"
            return None
        past = _skip_article(t, j)
        if t.word[past] == "of" and t.unit(past + 1) is not None:
            past += 1  # "half of glass"
        return _times_dozen(t, Amount(value, value, past, "fraction"))
    if what == "vague":
        return Amount(entry.number_low, entry.number_high, t.past_of(j), "vague", best=value)
    if what == "multiple":
        counted = Amount(value, value, j, "count")
        counted = _with_rest(t, counted) if value == _HUNDRED else counted
        return counted._replace(next=t.past_of(counted.next))
    value, j = _with_fraction(t, i, value)
    return _times_dozen(t, _with_rest(t, Amount(value, value, j, "count")))
