"""The parts after a comma or a dash: an amount, a share that is used, more of the name, or a note."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.alternatives import alternatives_until, examples
from pipeline.lines.amounts import read_amount
from pipeline.lines.draft import Draft
from pipeline.lines.further import SEASONINGS, comma_end, names_another, second_food, stands_alone
from pipeline.lines.measured_asides import EACH, NET, measure_aside, measure_of_state
from pipeline.lines.measures import bare_unit, may_begin, read_measure
from pipeline.lines.notes import note, plus
from pipeline.lines.parts import kind_state, named_later, names_food, part_end
from pipeline.lines.percents import percent_at
from pipeline.lines.readings import HELD, Reading, hedges
from pipeline.lines.tokens import CLOSE, END, MARK, NUMBER, NUMERIC, WORD
from pipeline.lines.vocabulary import LEXICON, NO_WORD, group

#: Words beside a share that is used: "use half".
_USED = group("used")
#: Those that say it is used, and who uses how much of what.
_TAKES = frozenset({"use", "used", "using", "need"})
_WHO_USES = frozenset({"of", "which", "i", "we", "you"})
_OF_THAT = frozenset({"of", "it", "them", "this", "that", "here"})


def tail(d: Draft, i: int, limit: int) -> int:
    """One comma part from token ``i``: alternative, added amount, amount, kind, or note."""
    t = d.t
    word, kind = t.word, t.kind
    i = past_marks(d, i, limit)
    if i >= limit:
        return limit
    w = word[i]
    entry = LEXICON.get(w)
    if d.measures and (w in _USED or w in _WHO_USES or may_begin(t, i)):
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
    if d.measures and d.name and measure_of_state(d, i, stop := comma_end(d, i, limit)):
        return stop
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
    reading = read_measure(d.t, at)
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
    begin = i
    while i < stop:
        found = t.phrase(i, "state")
        if found is None:
            i += 1
            continue
        effect, i = found
        if effect.leads and i == stop > begin + 1:  # "beef, chuck, arm roast"
            continue
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


def packages(d: Draft, i: int, limit: int) -> int | None:
    """ "700 g passata, bottle", "chickpeas, 3 tins": what a weighed food came in, as all of a part."""
    t = d.t
    if not d.name or not d.measures or d.measures[0].kind not in HELD:
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
    if not may_begin(t, i):
        return None
    if t.word[i] in ("×", "x") and t.kind[i + 1] == NUMBER:
        i += 1
    if percent_at(t, i) or d.glued_word(i):
        return None
    reading = read_measure(d.t, i, leading=not d.measures)
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
    amount = read_amount(t, hedges(t, j)[1])
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
    reading = read_measure(d.t, j)
    if reading is None or reading.measures[0].kind not in HELD:
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


def _unit_alone(d: Draft, i: int) -> int | None:
    """ "butter – knob", "basil: small handful": one of it, where nothing else tells an amount."""
    if d.measures or d.depth or not d.name or d.t.word[i - 1] not in (",", ":", "-"):
        return None
    reading = bare_unit(d.t, i)
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
    if names_another(d, j, limit) and (EACH | NET).isdisjoint(d.t.word[j:stop]):
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
