"""An amount beside the name, in parentheses or between commas, and of what it is: of each thing, of all, of
what is left to eat.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pipeline.lines.draft import Draft
from pipeline.lines.measures import read_measure
from pipeline.lines.model import Measure
from pipeline.lines.part_words import note_part
from pipeline.lines.readings import Reading
from pipeline.lines.tokens import MARK, NUMERIC
from pipeline.lines.vocabulary import LEXICON, group

#: Words after a weight that say it is what is eaten ("(200 g flesh)"), and states that do.
NET, NET_STATES = map(group, ("net", "net_state"))
#: Small words inside "(240 g when drained)".
LINKS = group("weight_link") | group("left_on")
EACH = group("of_each")
#: Words between a state and the weight of the food in it.
_WEIGHS = frozenset(("weight", "wt", "weighs", "weighing", ":", "net", "total"))


def measure_aside(d: Draft, begin: int, reading: Reading, j: int, end: int) -> bool:
    """An amount in parentheses or between commas, tokens ``begin`` to ``end``, read up to ``j``.

    Each of its words says what the amount is of (each, all, what is left to eat); False where one
    does not, or where the amount cannot be the line's.
    """
    aside = _Aside(list(reading.measures))
    _gather(d, aside, j, end)
    measures, states, rest = aside.measures, aside.states, aside.rest
    if any(w not in LEXICON and w not in NET and w not in LINKS for w in rest):
        comma = next((k for k in range(reading.next, end) if d.t.word[k] in (",", ";")), 0)
        if comma and measure_aside(d, begin, reading, reading.next, comma):
            d.tails(comma, end)  # "(about 6 oz each, preferably skinned)"
            return True
        return False  # "(1 tbsp ground flax + 3 tbsp water)"
    contrary = any(d.contrary(state) for state in states)
    same_kind = any(m.kind == n.kind for m in d.measures for n in measures)
    weighed = any(m.kind == "mass" for m in d.measures)
    length = measures[0].kind == "length"
    if weighed and states & NET_STATES and _is_left(d.measures, measures):
        d.measures = []  # "tuna in brine 160 g (112 g drained)"
        weighed = same_kind = False
    if d.measures and (length or contrary or (states and (weighed or same_kind))):
        return False
    if rest:
        d.notes.append(" ".join(rest))
    d.cut_amount(begin, reading.next if rest else end)
    for state in states if not d.measures else ():
        d.weighed_as(state)  # "chicken breast, baked (200 g raw)"
    d.states |= states
    if "before" not in rest and (states & NET_STATES or any(w in NET for w in rest)):
        d.flags.add("net_weight")
    if d.measures:
        d.attach(measures, each=aside.each, total=aside.total or d.measures[0].amount > 1)
    else:
        d.measures = [d.placed(m) for m in measures]
        d.problems += [p for p in reading.problems if p not in d.problems]
    return True


def _is_left(whole: list[Measure], left: list[Measure]) -> bool:
    """Whether one weight is what is left of another."""
    return (
        len(whole) == len(left) == 1 and whole[0].unit == left[0].unit
        and whole[0].kind == left[0].kind == "mass" and left[0].amount < whole[0].amount
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
            again = read_measure(d.t, j + 1)
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


def measure_of_state(d: Draft, j: int, end: int) -> bool:
    """ "(drained weight 240 g)", "raw wt 180 g": the weight is of the food in that state."""
    t = d.t
    said = t.phrase(j, "state")
    k = said[1] if said else j
    while t.word[k] in _WEIGHS:
        k += 1
    if k == j or k >= end or t.kind[k] not in (*NUMERIC, MARK):
        return False
    reading = read_measure(d.t, k)
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
