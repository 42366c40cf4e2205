"""Notes: the words of a part that name no food, with the states, amounts and parts that they tell."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.lines.brackets import parenthesis
from pipeline.lines.draft import Draft
from pipeline.lines.further import comma_end, mixed_in, same_food, second_food
from pipeline.lines.measured_asides import LINKS, NET, NET_STATES, measure_aside
from pipeline.lines.measures import read_measure
from pipeline.lines.part_words import note_part
from pipeline.lines.parts import is_participle
from pipeline.lines.readings import HELD
from pipeline.lines.tokens import CLOSE, END, MARK, NUMERIC, WORD
from pipeline.lines.vocabulary import FUNCTION_WORDS, LEXICON, NO_WORD, Word, group

_RESULTS = group("result")
#: What may stand between a word and the amount it belongs to: "drained = 480 g", "weight: 300 g".
_BEFORE_AMOUNT = frozenset({"=", ":", "~", "-", "weight", "about", "approx", "roughly", "around"})
#: Words of how much there was of it: "(weighed raw)", "(dry measure)".
_WEIGHED = frozenset({"weighed", "weight", "measured", "measure"})
#: Words that add nothing to an amount after "plus".
_EXTRA = group("extra_more")


def note(d: Draft, i: int, limit: int) -> int:
    """Words kept as a note up to the next comma; states, flags and figures are read."""
    word, kind = d.t.word, d.t.kind
    n = _Note(i, i, limit, i if d.measures or d.name else -1)
    while n.i < limit:
        k = kind[n.i]
        if k == MARK:
            if _ends_note(d, n):
                break
        elif k in NUMERIC:
            if past := _count_behind_work(d, n):
                return past
            n.i = d.percent(n.i) or _amount_in_note(d, n) or n.i + 1
        else:
            w = word[n.i]
            entry = LEXICON.get(w)
            if w in ("with", "in") and not n.results and (
                n.end(d, mixed_in(d, n.i, n.first, limit))
            ):  # fmt: skip
                return n.past
            if entry is None:
                n.results = n.results or w in _RESULTS
                n.i += 1
            elif not (entry.effects and _effect_in_note(d, n)):
                _word_in_note(d, n, entry)
        if n.past >= 0:
            return n.past
    if n.flags_to == n.i > n.first:
        d.cut(n.first, n.i)
    d.keep_note(n.first, n.i)
    return n.i


@dataclass(slots=True)
class _Note:
    """A note while it is read.

    Attributes:
        first: where its words begin.
        i: the token to read.
        limit: where line or parenthesis ends.
        flags_to: where the flags end that it begins with.
        results: what follows is what the food becomes ("makes 2 cups cooked").
        past: the token after a further food that ends the note, -1 while there is none.
    """

    first: int
    i: int
    limit: int
    flags_to: int
    results: bool = False
    past: int = -1

    def end(self, d: Draft, past: int | None) -> bool:
        """End with a further food that was read up to ``past``, if there was one."""
        if not past:
            return False
        d.keep_note(self.first, self.i)
        self.past = past
        return True


def _ends_note(d: Draft, n: _Note) -> bool:
    """A mark in a note: whether it ends it."""
    t, i = d.t, n.i
    w = t.word[i]
    if w in ",;|" or (i > n.first and t.is_dash(i)):
        return True
    if w in CLOSE:
        d.keep_note(n.first, i)
        n.first = n.i = min(parenthesis(d, i), n.limit)
        return False
    if w in "+&":
        if t.phrase(i, "flag"):
            d.flags.add("plus_extra")
        elif t.kind[i + 1] in NUMERIC and i > n.first and not d.depth:
            n.end(d, plus(d, i, n.limit))  # "butter, melted + 2 tbsp butter"
    n.i += 1
    return False


def plus(d: Draft, i: int, limit: int) -> int | None:
    """ "plus 1 tbsp for sprinkling"; open ones are a flag and handled as a phrase."""
    t = d.t
    if t.phrase(i, "flag") is not None:
        return None
    reading = read_measure(d.t, i + 1, leading=True)
    if reading is None or reading.next > limit:
        return None
    first = reading.measures[0]
    k = reading.next
    if reading.written == "article" and first.unit == "piece" and t.word[k] in LEXICON:
        return None
    while t.word[k] in _EXTRA:
        k += 1
    named = t.kind[k] == WORD and k < limit and t.phrase(k, "stopflag") is None
    if named and not same_food(d, k, limit):
        return second_food(d, i, i + 1, limit)
    if reading.written == "article" and first.unit == "piece":
        return None
    if first.unit == "piece" and not (d.measures and d.measures[0].kind == "count"):
        return None
    d.plus += [d.placed(m) for m in reading.measures[:1]]
    d.cut_amount(i, k)
    return note(d, k, limit) if k < limit else k


def _amount_in_note(d: Draft, n: _Note) -> int:
    """ "grated 30 g", "drained = 480 g", "shredded, about 500 g of meat": the token after an amount
    that ends its note, 0 where it is no amount of the line."""
    t, i = d.t, n.i
    while i > n.first and t.word[i - 1] in _BEFORE_AMOUNT:
        i -= 1
    before = t.word[i - 1] if i > n.first else ""
    counted = bool(d.measures) and d.measures[0].kind not in HELD
    if before == "at" and i - 1 == n.first and counted:
        return _weight_of_each(d, n)
    if n.results and not NET.isdisjoint(t.word[n.i : comma_end(d, n.i, n.limit)]):
        return _what_it_yields(d, n)
    if n.results or before in FUNCTION_WORDS or (d.measures and d.measures[0].kind in HELD):
        return 0
    reading = d.late_measure(n.i)
    if reading is None or reading.next > n.limit:
        return 0
    first = reading.measures[0]
    if first.kind == "length" or (first.unit == "piece" and first.each is None):
        return 0
    stop = comma_end(d, reading.next, n.limit)
    if not measure_aside(d, n.i, reading, reading.next, stop):
        return 0
    said = t.phrase(i - 1, "state") if before else None
    if said is not None and said[1] == i and said[0].value in NET_STATES:
        d.flags.add("net_weight")
    return stop


def _count_behind_work(d: Draft, n: _Note) -> int:
    """ "pepper, diced: 1", "apples, cut into wedges ... 2 large": the token after the amount of the
    line where it ends the line after what was done to the food, 0 for none."""
    t, i = d.t, n.i
    if d.measures or d.depth or not d.name:
        return 0
    reading = read_measure(d.t, i)
    if reading is None or t.kind[reading.next] != END or reading.measures[0].kind == "length":
        return 0
    end = i
    while end > n.first and t.kind[end - 1] == MARK:
        end -= 1
    first, last = (t.word[n.first], t.word[end - 1]) if end > n.first else ("", "")
    stays = d.t.phrase(max(end - 2, n.first), "state")  # "skin on"
    if (last in FUNCTION_WORDS and (stays is None or stays[1] != end)) or not (
        stays or is_participle(first) or is_participle(last) or LEXICON.get(last, NO_WORD).effects
    ):
        return 0
    d.take(reading)
    d.cut(i, reading.next)
    d.keep_note(n.first, end)
    return reading.next


def _weight_of_each(d: Draft, n: _Note) -> int:
    """ "3 salmon fillets at 140 g": the token after what each of the things weighs, 0 for none."""
    reading = d.late_measure(n.i)
    if reading is None or reading.measures[0].kind != "mass" or reading.next > n.limit:
        return 0
    if reading.next < n.limit and d.t.kind[reading.next] != MARK:
        return 0
    d.attach(reading.measures, each=True)
    return reading.next


def _what_it_yields(d: Draft, n: _Note) -> int:
    """ "1 chicken (1.4 kg), yields 450 g meat": the token after what is eaten of it, in place of what
    it weighed; 0 where the amount is of something else."""
    reading = read_measure(d.t, n.i)
    stop = comma_end(d, n.i, n.limit)
    if reading is None or reading.measures[0].kind != "mass" or reading.next > stop:
        return 0
    if not all(w in NET or w in LINKS for w in d.t.word[reading.next : stop]):
        return 0
    d.measures = [d.placed(m) for m in reading.measures]
    d.flags.add("net_weight")
    return stop


def _effect_in_note(d: Draft, n: _Note) -> bool:
    """Take a phrase of the tables in a note; whether it was a state, a flag, or another food."""
    found = d.t.phrase(n.i)
    if found is None:
        return False
    effect, j = found
    if effect.kind != "state" and d.t.word[j - 1] in ("with", "in") and not n.results:
        past = mixed_in(d, j - 1, n.first, n.limit)
        if past:
            n.past = past
            return True
    if effect.kind == "state":
        before = d.t.word[n.i - 1] if n.i else ""
        undone = before in ("be", "or", "half", "until", "if") or _denied(d, n)
        if not _WEIGHED.isdisjoint((before, *d.t.word[n.i : j])):
            d.weighed_as(effect.value)  # "roast squash (weighed raw)"
        if not (n.results or undone or d.contrary(effect.value)):
            d.states.add(effect.value)
    elif effect.kind == "flag":
        d.flags.add(effect.value)
        if n.flags_to == n.i:
            n.flags_to = j
    else:
        return False
    n.i = j
    return True


def _denied(d: Draft, n: _Note) -> bool:
    """ "not too ripe", "never the instant kind": a negation, and only small words after it."""
    for w in reversed(d.t.word[n.first : n.i]):
        if FUNCTION_WORDS.get(w) == "negation":
            return True
        if w not in FUNCTION_WORDS:
            return False
    return False


def _word_in_note(d: Draft, n: _Note, entry: Word) -> None:
    """Any other word of the tables in a note."""
    t, i = d.t, n.i
    n.i += 1
    if entry.role == "extra" and t.word[i + 1] in ("for", "to"):
        d.flags.add("plus_extra")
    if entry.role == "part" or t.word[i] == "squeezed":
        note_part(d, i, n.limit, n.first)
    elif i == n.first:
        size, j = t.size(i) if entry.sizes and d.measures else ("", i)
        if size and (j >= n.limit or t.kind[j] == MARK):
            d.give_size(size)
            n.i = j
    elif t.word[i] == "plus":
        n.i = i
        if not n.end(d, plus(d, i, n.limit)):
            n.i += 1
