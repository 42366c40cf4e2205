"""What stands in parentheses: another food, an amount, a count, a size, what a thing is made of, a note."""

from __future__ import annotations

from pipeline.lines.alternatives import alternatives_until, examples, foods_only, kinds_of_name
from pipeline.lines.draft import Draft
from pipeline.lines.measured_asides import measure_aside, measure_of_state
from pipeline.lines.measures import may_begin, read_measure
from pipeline.lines.percents import percent_at
from pipeline.lines.readings import pieces_of
from pipeline.lines.several import foods_of
from pipeline.lines.tokens import CLOSE, END, NUMERIC, WORD
from pipeline.lines.vocabulary import LEXICON

_JOINED = frozenset({"+", "&", "and", "plus", ","})


def parenthesis(d: Draft, i: int) -> int:
    """Read "( ... )" and return the token after it; unclosed ones end with the line."""
    if d.depth > 1:
        return i + 1
    d.depth += 1
    after = _inside(d, i)
    d.depth -= 1
    return after


def _inside(d: Draft, i: int) -> int:
    """The first reading of the words in parentheses that fits; the token after them."""
    end = closing(d, i)
    after = min(end + 1, d.t.count)
    i += 1
    word = d.t.word
    plain = d.t.kind[i] == WORD and word[i] not in LEXICON and "or" not in word[i:end]
    if i >= end:
        return after
    if not plain:
        for rule in _INSIDE:
            if rule(d, i, end):
                return after
    d.tails(i, end)
    return after


def closing(d: Draft, i: int) -> int:
    """The token that closes the parenthesis at token ``i``, or the end of the line."""
    word, kind = d.t.word, d.t.kind
    opening, closing = word[i], CLOSE[word[i]]
    depth = 0
    while kind[i] != END:
        if word[i] == opening:
            depth += 1
        elif word[i] == closing:
            depth -= 1
            if depth == 0:
                break
        i += 1
    return i


def _or_inside(d: Draft, j: int, end: int) -> bool:
    """ "(or ghee)"."""
    if d.t.word[j] != "or" or d.aside(j + 1):
        return False
    alternatives_until(d, j + 1, end)
    return True


def _examples_inside(d: Draft, j: int, end: int) -> bool:
    """ "(such as oat or soy)"."""
    example = d.t.phrase(j, "example")
    if example is None or not d.name or percent_at(d.t, example[1]):
        return False
    examples(d, example[1], end)
    return True


def _made_of(d: Draft, j: int, end: int) -> bool:
    """ "1 flax egg (1 tbsp ground flax + 3 tbsp water)": what the one thing is made of."""
    t = d.t
    if (
        t.kind[j] not in NUMERIC
        or d.depth > 1
        or not d.name
        or not (_JOINED.intersection(t.word[j:end]))
    ):
        return False
    if d.measures and (d.measures[0].kind != "count" or d.measures[0].amount != 1):
        return False
    d.made_of = foods_of(d, j, end)
    if not d.made_of:
        return False
    d.keep_note(j, end)
    return True


def _amount_inside(d: Draft, j: int, end: int) -> bool:
    """ "(about 400 g)", "(30 g (whey or casein))"."""
    reading = read_measure(d.t, j) if may_begin(d.t, j) else None
    if reading is None or reading.implied or reading.next > end:
        return False
    first = reading.measures[0]
    if first.unit == "piece":  # "2 fillets (2 x 130 g)"
        own = d.measures[0] if d.measures else None
        if first.each is None or own is None or own.amount != first.amount or reading.next < end:
            return False
        d.attach([first.each], each=True)
        d.cut_amount(j, end)
        return True
    stop = reading.next if d.t.word[reading.next] in CLOSE else end
    if not measure_aside(d, j, reading, reading.next, stop):
        d.keep_note(j, stop)
    d.tails(stop, end)
    return True


def _foods_inside(d: Draft, j: int, end: int) -> bool:
    """ "(cod or haddock)"."""
    if not d.name or not foods_only(d, j, end):
        return False
    begun = len(d.alternatives)
    alternatives_until(d, j, end)
    kinds_of_name(d, begun)
    return True


def _size_inside(d: Draft, j: int, end: int) -> bool:
    """ "(large)"."""
    size, k = d.t.size(j)
    if not size or k != end or not d.measures:
        return False
    d.give_size(size)
    d.notes.append(" ".join(d.t.word[j:end]))
    return True


def _count_inside(d: Draft, j: int, end: int) -> bool:
    """ "Eggs (2)", "1 packet burger buns (8)"."""
    late = read_measure(d.t, j, leading=True) if may_begin(d.t, j) else None
    if late is None or late.next != end or "/" in d.t.word[j] or late.written == "article":
        return False
    held = d.placed(late.measures[0])
    if not d.measures:
        d.take(late)
    elif d.measures[0].kind == "mass" and held.unit == "piece" and held.each is None:
        d.measures.append(held)  # "450 g bananas (about 4)"
        d.flags.update(late.flags)
    elif not pieces_of(d.measures, held):
        return False
    d.cut(j, end)
    return True


#: Readings of the words in parentheses, tried in order; what none takes is read as comma parts.
_INSIDE = (
    _or_inside, _examples_inside, measure_of_state, _made_of, _amount_inside, _foods_inside,
    _size_inside, _count_inside,
)  # fmt: skip
