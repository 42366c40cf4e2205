"""Units and what belongs to them: sizes, packages and what they hold, lengths of pieces, "of"."""

from __future__ import annotations

from dataclasses import dataclass, replace

from pipeline.lines.amounts import Amount, read_amount
from pipeline.lines.model import Measure
from pipeline.lines.percents import percent_at
from pipeline.lines.readings import HELD, MOST_PIECES, PIECE, Reading, measure_of
from pipeline.lines.tokens import NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import LEXICON, UnitWord, group

#: Count units that hold a stated weight when they follow it: "200 g block feta".
_HOLDERS = group("holder")
#: Pieces that a length gives the amount of; of others it says how thick or wide they are.
LENGTHS_OF = group("length_of")
#: How a spoon or a cup is filled; other sizes after a volume describe the food.
_FILLINGS = group("filling")
#: What a length after these words says of the thing that follows.
_HOW_THICK = frozenset({"thick", "wide", "long", "tall", "deep"})


@dataclass(slots=True)
class Count:
    """What stands before the unit, while it is read; ``j`` is the next token."""

    amount: Amount
    start: int
    j: int
    size: str
    about: bool
    each: Measure | None = None

    def measure(self, t: Tokens, amount: Amount, unit: UnitWord, name: str, end: int) -> Measure:
        """An amount of a unit that ends before token ``end``, with what stands before it."""
        return measure_of(t, amount, unit, name, self.start, end, self.size, self.each, self.about)


def product(one: Amount, other: Amount | Measure) -> Amount:
    """So many times another amount."""
    return Amount(one.low * other.low, one.high * other.high, one.next, one.word, one.problem)


def each_of(t: Tokens, second: Amount, start: int) -> tuple[Measure | None, int]:
    """The measure made of ``second`` and the unit after it, when there is one, and the token after."""
    found = t.unit(second.next)
    if found is None:
        return None, second.next
    unit, j, name = found
    return measure_of(t, second, unit, name, start, j), j


def with_unit(t: Tokens, c: Count, unit: UnitWord, j: int, name: str) -> Reading:
    """An amount with a unit that ends before token ``j``, and what belongs to that."""
    word = t.word
    if unit.kind == "length" and (thick := _thick(t, c, j)) is not None:
        return thick
    if unit.kind in HELD and c.each is None:
        packed = _package_after(t, c, unit, name, j)
        if packed is not None:
            return packed
    food_at = j
    amount = c.amount
    more_size, j = t.size(j)
    if more_size and (not c.size or unit.kind == "volume"):
        c.size = more_size
    if unit.kind != "mass" and (unit.kind != "volume" or more_size in _FILLINGS):
        food_at = j
    if word[j] == "or" and word[j + 1] == "two":
        amount = amount._replace(high=amount.high + 1, best=None)
        j += 2
    elif word[j] == "and" and word[j + 1] == "a" and word[j + 2] == "half":
        amount = amount._replace(low=amount.low + 0.5, high=amount.high + 0.5)
        j += 3
    share = unit.kind == "share"
    measure = c.measure(t, amount, unit, "whole" if share else name, j)
    reading = Reading([measure], j, share=share, food_at=food_at if food_at < j else -1)
    if unit.kind == "length":
        reading.next = past_length(t, j)
    _skip_of(t, reading)
    if unit.kind == "package" and c.each is None:
        if word[j] == "of":
            _contents(t, reading, amount, c.start)
        elif word[j] == "(" and t.kind[j + 1] == NUMBER and word[j + 2] == ")":
            _pieces_in(t, reading, amount, c.start, j)
    return reading


def _contents(t: Tokens, reading: Reading, amount: Amount, start: int) -> None:
    """ "1 pack of 6 wraps" is six; "1 pack of 200 g feta" one of 200 g."""
    k = reading.next
    second = read_amount(t, k)
    if second is None or second.word == "article" or percent_at(t, k):
        return
    each, after = each_of(t, second, k)
    if each is not None and each.kind in HELD:
        reading.measures[0] = replace(reading.measures[0], each=each)
        reading.next = after
    elif each is None and t.kind[second.next] == WORD:
        several = product(amount, second)
        reading.measures[0] = measure_of(t, several, PIECE, "piece", start, second.next)
        reading.next = second.next


def _pieces_in(t: Tokens, reading: Reading, amount: Amount, start: int, j: int) -> None:
    """ "1 pack (4) tortillas" is four; "1 tin (400) beans" are grams that nobody wrote."""
    held = read_amount(t, j + 1)
    if held is not None and held.high < MOST_PIECES and t.kind[j + 3] == WORD:
        several = product(amount, held)
        reading.measures[0] = measure_of(t, several, PIECE, "piece", start, j + 3)
        reading.next = j + 3


def _skip_of(t: Tokens, reading: Reading) -> None:
    """Past "of", and past a piece that a mass comes in: "1.5 lb rack of ribs"."""
    j = reading.next
    reading.next = t.past_of(j)
    if reading.next > j:
        return
    found = t.unit(j) if reading.measures[0].kind in HELD else None
    if found is None or found[0].kind not in ("count", "trade"):
        return
    past = t.past_of(found[1])
    if past > found[1] and not found[0].keep:
        reading.next = past
    elif found[0].unit in ("piece", "chunk", "knob"):
        if past == found[1] and reading.food_at < 0:
            reading.food_at = j
        reading.next = past


def past_length(t: Tokens, j: int) -> int:
    """ "2 cm knob of ginger": the word for the piece says no more; the token after it."""
    if t.word[j] in ("length", "long", "thick"):
        j += 1
    found = t.unit(j)
    if found and found[0].kind in ("count", "trade") and found[0].unit != "stick":
        j = found[1]
    return t.past_of(j)


def _package_after(t: Tokens, c: Count, unit: UnitWord, name: str, j: int) -> Reading | None:
    """ "400g tin cannellini beans": one tin of 400 g. "1-400 g tin": one too."""
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
    each = measure_of(t, held, unit, name, c.start, j, "", None, c.about)
    size = c.size or size_after
    whole = measure_of(t, count, holder, holder_name, c.start, after, size, each)
    may_name = not package and t.word[after] != "of"  # "100 g head cheese"
    reading = Reading([whole], after, food_at=j if may_name else -1)
    _skip_of(t, reading)
    return reading


def _thick(t: Tokens, c: Count, j: int) -> Reading | None:
    """ "1-inch-thick slice of bread": one slice; the length says how thick it is.

    Of "2-inch thick slices" it is not said how many there are.
    """
    found = t.unit(j + 1) if t.word[j] in _HOW_THICK else None
    if found is None or found[0].kind != "count" or found[0].unit in LENGTHS_OF:
        return None
    whole = float(int(c.amount.low))
    mixed = c.amount.low == c.amount.high != whole  # "4 1/2-inch thick slices"
    if LEXICON[t.word[j + 1]].plural and not (mixed and whole > 1):
        return None
    n = whole if mixed and whole else 1.0
    c.amount, c.size = Amount(n, n, found[1], c.amount.word), c.size or t.size(j)[0]
    return with_unit(t, c, *found)
