"""What may follow an amount: the same said again, one to add or to take off, what each holds, how many."""

from __future__ import annotations

from dataclasses import replace

from pipeline.lines.amounts import read_amount
from pipeline.lines.model import Measure
from pipeline.lines.readings import DUAL, HELD, PIECE, TIMES, Reading, attach, hedges, measure_of
from pipeline.lines.tokens import NUMERIC, Tokens
from pipeline.lines.units import each_of, past_length, product

#: How much of the first unit the second is, by the definitions of the units.
_SMALLER = {
    ("lb", "oz"): 1 / 16, ("kg", "g"): 1 / 1000, ("l", "ml"): 1 / 1000, ("cup", "tbsp"): 1 / 16,
    ("cup", "tsp"): 1 / 48, ("tbsp", "tsp"): 1 / 3,
}  # fmt: skip
_LESS = ("minus", "less")
#: How far an amount may be off that is "or so" (common practice).
OR_SO = 0.1
#: Small words beside a weight in parentheses: "(400 g each)", "(400 g per tin)".
_BESIDE = frozenset({"each", "apiece", "per", "net", "tin", "can", "."})


def with_more(t: Tokens, reading: Reading) -> Reading:
    """An amount with all that follows and belongs to it."""
    while any(rule(t, reading) for rule in _MORE):
        reading.next = t.past_of(reading.next)
    return reading


def _times_behind(t: Tokens, reading: Reading) -> bool:
    """ "400 g x 2", "400g x 2 tins": so many of what was read."""
    j, each = reading.next, reading.measures[0]
    if t.word[j] not in TIMES or len(reading.measures) > 1 or each.kind not in HELD:
        return False
    times = read_amount(t, j + 1)
    if times is None or times.word == "article":
        return False
    unit, past, name = t.unit(times.next) or (PIECE, times.next, "piece")
    if unit.kind not in ("count", "package"):
        return False
    several = measure_of(t, times, unit, name, j + 1, past, "", each, each.about)
    reading.measures[0] = replace(several, of_text=(each.of_text[0], several.of_text[1]))
    reading.next = past
    return True


def _or_so(t: Tokens, reading: Reading) -> bool:
    """ "900 g or so", "900 g ish": an amount that is not meant to the gram."""
    found = t.phrase(reading.next, "hedge")
    if found is None or found[0].value != "behind":
        return False
    last = reading.measures[-1]
    reading.measures[-1] = replace(
        last, low=last.low * (1 - OR_SO), high=last.high * (1 + OR_SO), about=True
    )
    reading.next = found[1]
    return True


def _aside(t: Tokens, reading: Reading) -> bool:
    """The same amount, what each holds, or a size in parentheses."""
    return t.word[reading.next] == "(" and _in_brackets(t, reading, reading.next)


def _again(t: Tokens, reading: Reading) -> bool:
    """ "1 cup / 240 ml", "1 lb or 450 g": the same amount said again."""
    j, mark = reading.next, t.word[reading.next]
    if mark not in DUAL and (mark != "or" or reading.measures[-1].kind == "count"):
        return False
    again = _single(t, j + 1)
    if again is None or (mark == "or" and again[0].kind not in HELD):
        return False
    reading.measures.append(again[0])
    reading.next = again[1]
    if again[0].kind == "length":
        reading.next = past_length(t, again[1])
    return True


def _added(t: Tokens, reading: Reading) -> bool:
    """ "1 cup plus 2 tbsp": an amount to add."""
    first = reading.measures[0]
    if t.word[reading.next] not in ("plus", "+", "and", "&") or (
        first.kind == "count" and first.unit == "piece"
    ):
        return False
    again = _single(t, reading.next + 1)
    if again is None or again[0].unit == "piece":
        return False
    reading.plus.append(again[0])
    reading.next = again[1]
    return True


def _less(t: Tokens, reading: Reading) -> bool:
    """ "1 cup minus 1 tbsp": an amount to take off, where the one unit is a part of the other."""
    first = reading.measures[-1]
    if t.word[reading.next] not in _LESS:
        return False
    taken = _single(t, reading.next + 1)
    share = _SMALLER.get((first.unit, taken[0].unit)) if taken is not None else None
    if taken is None or share is None or taken[0].high * share >= first.low:
        return False
    least, most = first.low - taken[0].high * share, first.high - taken[0].low * share
    reading.measures[-1] = _with(first, least, most, taken[0])
    reading.next = taken[1]
    return True


def _beside(t: Tokens, reading: Reading) -> bool:
    """ "1 lb 4 oz" is one amount, 1.25 lb; "1 lb 450 g" says it twice."""
    first = reading.measures[-1]
    if t.kind[reading.next] not in NUMERIC or first.kind not in HELD:
        return False
    again = _single(t, reading.next)
    if again is None or again[0].kind not in HELD:
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
    reading.measures[-1] = _with(first, value, value, smaller)
    return True


def _with(first: Measure, low: float, high: float, last: Measure) -> Measure:
    """A measure with another amount, from its own words up to those of the last."""
    return replace(
        first, amount=(low + high) / 2, low=low, high=high,
        of_text=(first.of_text[0], last.of_text[1]),
    )  # fmt: skip


def _single(t: Tokens, i: int) -> tuple[Measure, int] | None:
    """One amount and one unit, with hedges and size; no more."""
    about, i = hedges(t, i)
    start = i
    size, i = t.size(i)
    amount = read_amount(t, i)
    if amount is None or (amount.word == "article" and not t.unit_after(amount.next)):
        return None
    j = amount.next
    if t.word[j] in TIMES:  # "(2 x 150 g)"
        second = read_amount(t, j + 1)
        if second is None or each_of(t, second, j + 1)[0] is None:
            return None
        amount, j = product(amount, second), second.next
    more_size, j = t.size(j)
    unit, j, name = t.unit(j) or (PIECE, j, "piece")
    last_size, j = t.size(j)
    size = size or more_size or last_size
    return measure_of(t, amount, unit, name, start, j, size, None, about), j


def _in_brackets(t: Tokens, reading: Reading, j: int) -> bool:
    """ "(30 g)", "(400 g / 14 oz)", "(about 130 g each)", "(packed)" after an amount.

    Takes it only when all words in it are part of the amount; sets ``reading.next`` past it.
    """
    word = t.word
    inside: list[Measure] = []
    k = j + 1
    each = total = False
    while True:
        if word[k] == "each":
            each, k = True, k + 1
            continue
        found = _single(t, k)
        if found is None or found[0].unit == "piece":
            return False
        inside.append(found[0])
        total = total or _multiple(t, k) == reading.measures[0].amount > 1
        k = found[1]
        while (past := t.past_total(k)) or word[k] in _BESIDE:
            each = each or word[k] in ("each", "apiece", "per")
            total = total or past > 0
            k = past or k + 1
        if word[k] == ")" or not word[k]:
            break
        if word[k] not in DUAL and word[k] not in ("or", ",", ";", "-"):
            return False
        k += 1
    if inside[0].kind == "length":
        return False
    attach(reading.measures, inside, each, total)
    reading.next = k + 1 if word[k] else k
    return True


def _multiple(t: Tokens, k: int) -> float:
    """The 2 of "2 tins (2 x 400 g)", which is all of it; 0 when nothing is multiplied."""
    times = read_amount(t, hedges(t, k)[1])
    return times.value if times is not None and t.word[times.next] in TIMES else 0.0


#: What may follow an amount, tried in order until none fits.
_MORE = (_times_behind, _or_so, _aside, _again, _added, _less, _beside)
