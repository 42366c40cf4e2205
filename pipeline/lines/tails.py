"""What is said beside a name: parentheses, and the parts after a comma or a dash."""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.foods.words import singular
from pipeline.lines.alternatives import alternatives_until, examples, foods_only, kinds_of_name
from pipeline.lines.amounts import read_amount
from pipeline.lines.draft import Draft
from pipeline.lines.further import (
    SEASONINGS,
    comma_end,
    mixed_in,
    names_another,
    same_food,
    second_food,
    stands_alone,
)
from pipeline.lines.measures import Reading
from pipeline.lines.model import Measure
from pipeline.lines.parts import (
    is_participle,
    kind_state,
    named_later,
    names_food,
    part_end,
)
from pipeline.lines.percents import percent_at
from pipeline.lines.several import foods_of
from pipeline.lines.tokens import CLOSE, END, MARK, NUMBER, NUMERIC, WORD
from pipeline.lines.vocabulary import FUNCTION_WORDS, LEXICON, NO_WORD, PART_OF, Word, group

_JOINED = frozenset({"+", "&", "and", "plus", ","})
#: Words after a weight that say it is what is eaten ("(200 g flesh)"), and states that do.
_NET, _NET_STATES = map(group, ("net", "net_state"))
_OF_IT = group("part_alone")
#: Small words inside "(240 g when drained)".
_LINKS = group("weight_link") | group("left_on")
EACH = group("of_each")
_RESULTS = group("result")
#: Words beside a share that is used: "use half".
_USED = group("used")
#: Those that say it is used, and who uses how much of what.
_TAKES = frozenset({"use", "used", "using", "need"})
_WHO_USES = frozenset({"of", "which", "i", "we", "you"})
_OF_THAT = frozenset({"of", "it", "them", "this", "that", "here"})
_HELD = ("mass", "volume")
#: Words of how much there was of it: "(weighed raw)", "(dry measure)".
_WEIGHED = frozenset({"weighed", "weight", "measured", "measure"})
#: What may stand between a word and the amount it belongs to: "drained = 480 g", "weight: 300 g".
_BEFORE_AMOUNT = frozenset({"=", ":", "~", "-", "weight", "about", "approx", "roughly", "around"})
#: Words that add nothing to an amount after "plus".
_EXTRA = group("extra_more")

# --- parentheses -----------------------------------------------------------------------------


def parenthesis(d: Draft, i: int) -> int:
    """Read "( ... )" and return the token after it; unclosed ones end with the line."""
    if d.depth > 1:
        return i + 1
    d.depth += 1
    after = inside(d, i)
    d.depth -= 1
    return after


def inside(d: Draft, i: int) -> int:
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
    _tails(d, i, end)
    return after


def _tails(d: Draft, i: int, end: int) -> None:
    while i < end:
        i = max(i + 1, tail(d, i, end))


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


def _amount_inside(d: Draft, j: int, end: int) -> bool:
    """ "(about 400 g)", "(30 g (whey or casein))"."""
    reading = d.reader.read(j) if _may_measure(d.t.kind[j], d.t.word[j]) else None
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
    _tails(d, stop, end)
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
    return True


def _count_inside(d: Draft, j: int, end: int) -> bool:
    """ "Eggs (2)", "1 packet burger buns (8)"."""
    late = d.reader.read(j, leading=True) if _may_measure(d.t.kind[j], d.t.word[j]) else None
    if late is None or late.next != end or "/" in d.t.word[j] or late.written == "article":
        return False
    held = d.placed(late.measures[0])
    if not d.measures:
        d.take(late)
    elif d.measures[0].kind == "mass" and held.unit == "piece" and held.each is None:
        d.measures.append(held)  # "450 g bananas (about 4)"
        d.flags.update(late.flags)
    elif not d.reader.pieces_of(d.measures, held):
        return False
    d.cut(j, end)
    return True


def made_of(d: Draft, j: int, end: int) -> bool:
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


def closing(d: Draft, i: int) -> int:
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


def measure_of_state(d: Draft, j: int, end: int) -> bool:
    """ "(drained weight 240 g)": the weight is of the food in that state."""
    t = d.t
    said = t.phrase(j, "state")
    k = said[1] if said else j
    while t.word[k] in ("weight", ":", "net", "total"):
        k += 1
    if k == j or k >= end or t.kind[k] not in (*NUMERIC, MARK):
        return False
    reading = d.reader.read(k)
    if reading is None or reading.measures[0].kind != "mass" or reading.next > end:
        return False
    if said:
        d.states.add(said[0].value)
        d.notes.append(" ".join(t.word[j : said[1]]))
    if said or "net" in t.word[j:k]:
        d.flags.add("net_weight")
    if not measure_aside(d, j, reading, reading.next, end):
        d.keep_note(j, end)
    return True


#: Readings of the words in parentheses, tried in order; what none takes is read as comma parts.
_INSIDE = (
    _or_inside, _examples_inside, measure_of_state, made_of, _amount_inside, _foods_inside,
    _size_inside, _count_inside,
)  # fmt: skip


@dataclass(slots=True)
class _Aside:
    """What stands beside an amount in parentheses: "(2 oz / 60 g each, drained)"."""

    measures: list[Measure]
    each: bool = False
    total: bool = False
    states: set[str] = field(default_factory=set)
    rest: list[str] = field(default_factory=list)


def _gather(d: Draft, aside: _Aside, j: int, end: int) -> None:
    """Take what tokens ``j`` to ``end`` say of the amount."""
    t, word = d.t, d.t.word
    while j < end:
        w = word[j]
        if w in ("/", ",", ";", "or", "=") and t.kind[j + 1] in NUMERIC:
            again = d.reader.read(j + 1)
            if again is not None and again.next <= end:
                aside.measures += again.measures
                j = again.next
                continue
        past = t.past_total(j)
        aside.total = aside.total or past > 0
        aside.each = aside.each or w in EACH or w == "per"
        found = t.phrase(j, "state")
        if past or w in EACH:
            j = past or j + 1
        elif found is not None and found[1] <= end:
            aside.states.add(found[0].value)
            aside.rest += word[j : found[1]]
            j = found[1]
        else:
            if word[j + 1] == "only":  # "350 g flesh only"
                note_part(d, j, end, j)
            if w != "weight":
                aside.rest.append(w)
            j += 1


def measure_aside(d: Draft, begin: int, reading: Reading, j: int, end: int) -> bool:
    """An amount in parentheses or between commas, tokens ``begin`` to ``end``, read up to ``j``.

    Each of its words says what the amount is of (each, all, what is left to eat); False where one
    does not, or where the amount cannot be the line's.
    """
    aside = _Aside(list(reading.measures))
    _gather(d, aside, j, end)
    measures, states, rest = aside.measures, aside.states, aside.rest
    if any(w not in LEXICON and w not in _NET and w not in _LINKS for w in rest):
        comma = next((k for k in range(reading.next, end) if d.t.word[k] in (",", ";")), 0)
        if comma and measure_aside(d, begin, reading, reading.next, comma):
            _tails(d, comma, end)  # "(about 6 oz each, preferably skinned)"
            return True
        return False  # "(1 tbsp ground flax + 3 tbsp water)"
    contrary = any(d.contrary(state) for state in states)
    same_kind = any(m.kind == n.kind for m in d.measures for n in measures)
    weighed = any(m.kind == "mass" for m in d.measures)
    length = measures[0].kind == "length"
    if d.measures and (length or contrary or (states and (weighed or same_kind))):
        return False
    if rest:
        d.notes.append(" ".join(rest))
    d.cut_amount(begin, reading.next if rest else end)
    for state in states if not d.measures else ():
        d.weighed_as(state)  # "chicken breast, baked (200 g raw)"
    d.states |= states
    if "before" not in rest and (states & _NET_STATES or any(w in _NET for w in rest)):
        d.flags.add("net_weight")
    if d.measures:
        d.attach(measures, each=aside.each, total=aside.total or d.measures[0].amount > 1)
    else:
        d.measures = [d.placed(m) for m in measures]
        d.problems += [p for p in reading.problems if p not in d.problems]
    return True


# --- after the name --------------------------------------------------------------------------


def tail(d: Draft, i: int, limit: int) -> int:
    """One comma part from token ``i``: alternative, added amount, amount, kind, or note."""
    t = d.t
    word, kind = t.word, t.kind
    i = past_marks(d, i, limit)
    if i >= limit:
        return limit
    w = word[i]
    entry = LEXICON.get(w)
    if d.measures and (w in _USED or w in _WHO_USES or _may_measure(kind[i], w)):
        past = portion(d, i, limit) or weight_used(d, i, limit)
        if past is not None:
            return past
    if entry is not None or kind[i] != WORD or w in ("with", "&"):
        if w == "or" and kind[i + 1] != END and not d.aside(i + 1):
            stop = comma_end(d, i + 1, limit)
            alternatives_until(d, i + 1, stop)
            return stop
        if entry is not None and entry.remark and d.name:
            example = t.phrase(i, "example")
            if example is not None and not percent_at(t, example[1]):
                stop = limit if "or" in word[i:limit] else comma_end(d, i, limit)
                examples(d, example[1], stop)
                return stop
        if w in ("plus", "+", "and", "&", "with"):
            past = plus(d, i, limit)
            if past is not None:
                return past
        past = packages(d, i, limit) or tail_measure(d, i, limit) or _unit_alone(d, i)
        if past is not None:
            return past
    if d.name and word[i - 1] == "," and not d.depth:
        closed = limit if d.measures else _closing_amount(d, i, limit)
        if closed and names_food(t, i, closed):
            return name_part(d, i, part_end(t, i, closed))
        if closed:
            return note(d, i, limit)
    if d.name and kind_segment(d, i, limit):
        return name_part(d, i, part_end(t, i, limit))
    return note(d, i, limit)


def _closing_amount(d: Draft, i: int, limit: int) -> int:
    """ "chicken, breast - 2 lb": where the parts end behind which the amount of the line stands, and
    no other food; 0 where there is none."""
    t = d.t
    at = next((j for j in range(i, limit) if t.kind[j] in NUMERIC and not percent_at(t, j)), 0)
    mark = at - 1
    if mark <= i or not (t.word[mark] in ",:" or t.is_dash(mark)):
        return 0
    last = t.word[min(part_end(t, i, limit), mark) - 1]
    if singular(last) != last or not SEASONINGS.isdisjoint(d.name):
        return 0
    reading = d.reader.read(at)
    if reading is None or not (
        t.kind[reading.next] == END or t.word[reading.next] in (",", "(", ";")
    ):
        return 0
    return mark


def name_part(d: Draft, i: int, stop: int) -> int:
    """A comma part that goes on with the name: "yogurt, greek", "sugar, granulated"."""
    t = d.t
    if t.word[i] in ("white", "yolk", "whites", "yolks") and d.name in (["egg"], ["eggs"]):
        d.part = singular(t.word[i])  # "egg, white, raw"
        d.name[:] = ["egg", d.part]
        i += 1
        if i == stop:
            return stop
    d.kind_parts.append([w for w, k in zip(t.word[i:stop], t.kind[i:stop], strict=True)
                            if k == WORD])  # fmt: skip
    while i < stop:
        found = t.phrase(i, "state")
        if found is None:
            i += 1
            continue
        effect, i = found
        # "tuna, light" is light tuna: what may not follow the word stands before the comma
        if effect.not_before.isdisjoint(d.name) and not d.contrary(effect.value):
            d.states.add(effect.value)
    return stop


def past_marks(d: Draft, i: int, limit: int) -> int:
    """The first token from ``i`` on that is no separating mark."""
    t = d.t
    while i < limit and t.kind[i] == MARK and t.word[i] in ",;-:|./*•)":
        i += 1
    return i


def plus(d: Draft, i: int, limit: int) -> int | None:
    """ "plus 1 tbsp for sprinkling"; open ones are a flag and handled as a phrase."""
    t = d.t
    if t.phrase(i, "flag") is not None:
        return None
    reading = d.reader.read(i + 1, leading=True)
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


def packages(d: Draft, i: int, limit: int) -> int | None:
    """ "700 g passata, bottle", "chickpeas, 3 tins": what a weighed food came in, as all of a part."""
    t = d.t
    if not d.name or not d.measures or d.measures[0].kind not in _HELD:
        return None
    amount = read_amount(t, i)
    packed = t.unit(t.size(amount.next if amount else i)[1])
    if packed is None or packed[0].kind != "package":
        return None
    unit, past, _ = packed
    if past > limit or (past < limit and t.kind[past] != MARK):
        return None
    if unit.unit == "tin":
        d.states.add("canned")
    d.cut(i, past)
    d.keep_note(i, past)
    return past


def tail_measure(d: Draft, i: int, limit: int) -> int | None:
    """An amount at the start of a comma part: "butter, 50g", "1 duck, around 2 kg"."""
    t = d.t
    if not _may_measure(t.kind[i], t.word[i]):
        return None
    if t.word[i] in ("×", "x") and t.kind[i + 1] == NUMBER:
        i += 1
    if percent_at(t, i) or d.glued_word(i):
        return None
    reading = d.reader.read(i, leading=not d.measures)
    if reading is None or reading.next > limit or d.no_amount(reading):
        return None
    if not d.measures:
        return _first_amount(d, reading, i, limit)
    first = reading.measures[0]
    if first.kind in ("mass", "volume") and not reading.implied:
        return _amount_again(d, reading, i, limit)
    counted = first.kind in ("count", "trade", "package") and not reading.implied
    another = counted and not d.depth and names_another(d, reading.next, limit, counted=True)
    return second_food(d, i, i, limit) if another else None


def portion(d: Draft, i: int, limit: int) -> int | None:
    """ "half of it", "use a third", "only two thirds of the tin": the share that the dish takes, as
    all of a part; the token after it."""
    t, j = d.t, i
    while t.word[j] in _USED:
        j += 1
    amount = read_amount(t, d.reader.hedged(j))
    if amount is None or not 0 < amount.high < 1 or percent_at(t, i):
        return None
    k = amount.next
    past = t.past_of(k)
    if t.word[past] in ("it", "them"):
        k = past + 1
    elif past > k and t.word[past] in ("the", "a", "each") and (unit := t.unit(past + 1)):
        k = unit[1]
    while t.word[k] in _USED:
        k += 1
    if k < limit and (t.kind[k] != MARK or t.word[k] in "&+"):
        return None  # "half diced"
    d.used *= amount.value
    d.keep_note(i, k)
    return k


def weight_used(d: Draft, i: int, limit: int) -> int | None:
    """ "of which I used 180 g", "only 200 g used", "use 150 ml of it": the amount that the dish takes,
    in place of what was bought, as all of a part; the token after it."""
    t, j = d.t, i
    while t.word[j] in _USED or t.word[j] in _WHO_USES:
        j += 1
    reading = d.reader.read(j)
    if reading is None or reading.measures[0].kind not in _HELD:
        return None
    k = reading.next
    while t.word[k] in _USED or t.word[k] in _OF_THAT:
        k += 1
    said = {*t.word[i:j], *t.word[reading.next : k]}
    if k > limit or (k < limit and t.kind[k] != MARK) or said.isdisjoint(_TAKES):
        return None
    d.measures = [d.placed(m) for m in reading.measures]
    d.keep_note(i, k)
    return k


def _may_measure(kind: int, word: str) -> bool:
    """Whether an amount can begin with a token."""
    if kind == MARK:
        return word in ("~", "×")
    if kind != WORD:
        return True
    entry = LEXICON.get(word, NO_WORD)
    return bool(
        entry.number is not None or entry.hedge or entry.units or entry.sizes
        or entry.role in ("x", "between", "the")
    )  # fmt: skip


def _unit_alone(d: Draft, i: int) -> int | None:
    """ "butter – knob", "basil: small handful": one of it, where nothing else tells an amount."""
    if d.measures or d.depth or not d.name or d.t.word[i - 1] not in (",", ":", "-"):
        return None
    reading = d.reader.alone(i)
    if reading is None or not (d.t.kind[reading.next] == END or d.t.word[reading.next] in ",("):
        return None
    d.take(reading)
    d.cut(i, reading.next)
    return reading.next


def _first_amount(d: Draft, reading: Reading, i: int, limit: int) -> int | None:
    """The amount of a line that has none yet, or the first further food of a list."""
    first = reading.measures[0]
    told = reading.written in ("article", "fraction") and d.t.word[reading.next] not in ("", ",")
    if first.unit == "piece" and first.each is None and told:
        return None  # "half sliced and half diced"; "avocado, half, mashed" tells the amount
    if d.name and not d.depth and names_another(d, reading.next, limit) and stands_alone(d, i):
        return second_food(d, i, i, limit)
    if d.t.word[i - 1] in (":", "-") and d.t.kind[reading.next] == WORD:
        d.flags.add("labelled")
    d.take(reading)
    d.cut(i, reading.next)
    said = d.t.phrase(reading.next, "state")
    if said is not None and d.contrary(said[0].value):
        d.weighed_as(said[0].value)  # "chicken thighs, grilled, 400 g raw"
    return reading.next


def _amount_again(d: Draft, reading: Reading, i: int, limit: int) -> int | None:
    """A mass or volume after an amount: of each, of all, the same again, or of another food."""
    j = reading.next
    stop = comma_end(d, j, limit)
    if names_another(d, j, limit) and (EACH | _NET).isdisjoint(d.t.word[j:stop]):
        return second_food(d, i, i, limit)
    return stop if measure_aside(d, i, reading, j, stop) else None


def kind_segment(d: Draft, i: int, limit: int) -> bool:
    """A part of kind words only: "rice (brown)", and "rice, brown" without an amount.

    Without an amount commas often part foods ("salt, black pepper, oil").
    """
    t = d.t
    begin = i
    if d.depth and (t.word[i - 1] not in CLOSE or named_later(t, i, limit)):
        return False  # "sandwich (beef, pita bread)" lists what is in it
    while i < limit and t.word[i] != "," and t.kind[i] != END:
        if LEXICON.get(t.word[i], NO_WORD).modifier not in ("", "quality"):
            i += 1
        elif d.depth or not (past := kind_state(t, i)):
            return False
        else:
            i = past
    return i > begin


# --- notes -----------------------------------------------------------------------------------


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


def _amount_in_note(d: Draft, n: _Note) -> int:
    """ "grated 30 g", "drained = 480 g", "shredded, about 500 g of meat": the token after an amount
    that ends its note, 0 where it is no amount of the line."""
    t, i = d.t, n.i
    while i > n.first and t.word[i - 1] in _BEFORE_AMOUNT:
        i -= 1
    before = t.word[i - 1] if i > n.first else ""
    counted = bool(d.measures) and d.measures[0].kind not in _HELD
    if before == "at" and i - 1 == n.first and counted:
        return _weight_of_each(d, n)
    if n.results and not _NET.isdisjoint(t.word[n.i : comma_end(d, n.i, n.limit)]):
        return _what_it_yields(d, n)
    if n.results or before in FUNCTION_WORDS or (d.measures and d.measures[0].kind in _HELD):
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
    if said is not None and said[1] == i and said[0].value in _NET_STATES:
        d.flags.add("net_weight")
    return stop


def _count_behind_work(d: Draft, n: _Note) -> int:
    """ "pepper, diced: 1", "apples, cut into wedges ... 2 large": the token after the amount of the
    line where it ends the line after what was done to the food, 0 for none."""
    t, i = d.t, n.i
    if d.measures or d.depth or not d.name:
        return 0
    reading = d.reader.read(i)
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
    reading = d.reader.read(n.i)
    stop = comma_end(d, n.i, n.limit)
    if reading is None or reading.measures[0].kind != "mass" or reading.next > stop:
        return 0
    if not all(w in _NET or w in _LINKS for w in d.t.word[reading.next : stop]):
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


_CITRUS = group("citrus")


def note_part(d: Draft, i: int, limit: int, first: int) -> None:
    """ "juiced", "zested and juiced", "whites only" after the name; a citrus fruit that is squeezed."""
    word = d.t.word
    w = word[i]
    squeezed = w == "squeezed" and d.name and singular(d.name[-1]) in _CITRUS
    part = "juice" if squeezed and d.measures else PART_OF.get(w, w)
    if part in ("juice", "zest") and w not in ("peel", "rind"):
        _juice_or_zest(d, i, first, comma_end(d, i, limit), part)
    elif part in ("white", "yolk"):
        only = word[i + 1] == "only" or (i == first and i + 1 >= limit)
        if only and any(n.startswith("egg") for n in d.name):
            d.part = part
            d.name[:] = ["egg", d.part]
    elif w in ("seeds", "flesh") and word[i + 1] == "only":
        d.part = w


def _juice_or_zest(d: Draft, i: int, first: int, stop: int, part: str) -> None:
    """Juice or zest at token ``i`` of a note's part, tokens ``first`` to ``stop``."""
    word, w = d.t.word, d.t.word[i]
    segment = word[first:stop]
    zest = w.startswith("zest")
    begins = i == first or w.endswith("ed") or (
        word[i - 1] in ("and", "&", "finely", "grated", "the", "zest", "juice")
    )  # fmt: skip
    if d.part == "zest" and word[i : i + 3] == ["juice", "of", "half"]:
        d.others.append((first, i, stop))  # "zest of 1 lemon and juice of half"
        return
    if not d.measures and i == first and word[i + 1] == "of":  # "lime, juice of half"
        of = d.reader.read(i + 2)
        if of is not None and of.next >= stop:
            d.take(of)
            d.set_part([w])
            return
    if "half" in segment or not begins or d.name[-1:] in (["juice"], ["zest"]):
        return
    if NUMBER in d.t.kind[first:stop]:
        if d.part == "zest" and w == "juice":  # "zest of 1 lemon, juice of 2"
            d.others.append((first, i, stop))
        return  # "1 juiced and 1 cut into wedges"
    if zest and "grated" not in segment and any(map(_cut_up, segment)):
        return  # "zested and segmented": all of it is used
    if d.part != "juice":
        d.set_part([part, *([d.part] if d.part else [])])
    elif zest:
        d.flags.add("zest_too")


def _cut_up(word: str) -> bool:
    entry = LEXICON.get(word, NO_WORD)
    return entry.prep == "cut" and entry.role != "part"
