"""Amounts with their units: "2 x 400 g tins", "1 heaped tbsp", "1 cup plus 2 tbsp (30 g)"."""

from __future__ import annotations

from pipeline.lines.amounts import Amount, read_amount
from pipeline.lines.counts import counted
from pipeline.lines.model import Measure
from pipeline.lines.more_measures import OR_SO, with_more
from pipeline.lines.percents import DEFINITE, share_in_percent
from pipeline.lines.readings import Reading, hedges, measure_of
from pipeline.lines.tokens import MARK, WORD, Tokens
from pipeline.lines.units import Count
from pipeline.lines.vocabulary import LEXICON, NO_WORD, UNITS

#: Units that stand without "of" or a number: "small bunch thyme", "tbsp oil".
_BARE_UNITS = frozenset({"bunch", "sprig", "tbsp", "tsp"})


def read_measure(t: Tokens, i: int, *, leading: bool = False) -> Reading | None:
    """A measure at token ``i`` with all that belongs to it, or None.

    Args:
        leading: nothing stands before it, so "a", bare numbers and unit words count.
    """
    start = i
    about, i = hedges(t, i)
    size, i = t.size(i)
    if size:
        hedged, i = hedges(t, i)
        about = about or hedged
    amount = read_amount(t, i)
    if amount is not None and amount.word == "article":
        amount, size, about = _past_article(t, amount, size, about)
    if amount is not None and t.word[amount.next] == "ish":  # "30-ish g"
        low, high = amount.low * (1 - OR_SO), amount.high * (1 + OR_SO)
        amount = amount._replace(low=low, high=high, next=amount.next + 1, best=amount.value)
        about = True
    if amount is None:
        reading = _implied(t, start, i, size, about)
    elif amount.word == "article" and not leading and not t.unit_after(amount.next):
        return None
    elif (share := _share(t, amount, start, about)) is not None:
        return share
    else:
        reading = counted(t, Count(amount, start, amount.next, size, about))
    return with_more(t, reading) if reading is not None else None


def _past_article(t: Tokens, article: Amount, size: str, about: bool) -> tuple[Amount, str, bool]:
    """ "a scant half cup", "a good 3 tbsp": the number after the article's adjectives."""
    filled, j = t.size(article.next)
    hedged, j = hedges(t, j)
    number = read_amount(t, j) if j > article.next else None
    if number is None or number.word in ("article", "vague") or not t.unit_after(number.next):
        return article, size, about
    return number, size or filled, about or hedged


def _implied(t: Tokens, start: int, i: int, size: str, about: bool) -> Reading | None:
    """ "pinch of salt", "small handful of basil": one of it, by a word that measures."""
    found = t.unit(i)
    if found is None or len(t.word[i]) == 1:  # "T bone steak"
        return None
    unit, j, name = found
    if unit.kind == "trade":
        if not t.word[j] or (unit.needs_number and t.word[j] != "of"):
            return None
    elif name not in _BARE_UNITS and t.word[j] != "of":
        return None
    two = t.word[j] == "or" and t.word[j + 1] == "two"  # "squeeze or two of lemon"
    one = Amount(1.0, 1.0 + two, j, "implied")
    j += 2 * two
    return _one_of(t, measure_of(t, one, unit, name, start, j, size, None, about), j)


def bare_unit(t: Tokens, start: int) -> Reading | None:
    """A trade's or a counted unit without a number at token ``start``: "knob", "small bunch"."""
    about, i = hedges(t, start)
    size, i = t.size(i)
    found = t.unit(i)
    if found is None or found[0].kind not in ("trade", "count"):
        return None
    unit, j, name = found
    one = Amount(1.0, 1.0, j, "implied")
    return _one_of(t, measure_of(t, one, unit, name, start, j, size, None, about), j)


def _one_of(t: Tokens, measure: Measure, j: int) -> Reading:
    return Reading([measure], t.past_of(j), flags=["amount_assumed"], implied=True)


def _share(t: Tokens, amount: Amount, start: int, about: bool) -> Reading | None:
    """ "half the base dressing", "a quarter of the dough", "50 % of the sauce"."""
    if share_in_percent(t, amount.next):
        amount = amount._replace(low=amount.low / 100, high=amount.high / 100, next=amount.next + 1)
    if amount.high > 1 or amount.word not in ("fraction", "count", "numeral"):
        return None
    k = t.past_of(amount.next)
    if t.word[k] not in DEFINITE:
        return None
    measure = measure_of(t, amount, UNITS["whole"], "whole", start, amount.next, "", None, about)
    return Reading([measure], k + 1, share=True)


def may_begin(t: Tokens, i: int) -> bool:
    """Whether an amount can begin with a token."""
    kind, word = t.kind[i], t.word[i]
    if kind == MARK:
        return word in ("~", "×")
    if kind != WORD:
        return True
    entry = LEXICON.get(word, NO_WORD)
    return bool(
        entry.number is not None or entry.hedge or entry.units or entry.sizes
        or entry.role in ("x", "between", "the")
    )  # fmt: skip
