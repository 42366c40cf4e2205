"""What stands before the food: bullets, a heading, the amount, "juice of"."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.draft import Draft
from pipeline.lines.measures import read_measure
from pipeline.lines.percents import percent_at, share_in_percent
from pipeline.lines.plain_measures import plain_measure
from pipeline.lines.tokens import END, MARK, NUMBER, NUMERIC, WORD
from pipeline.lines.vocabulary import FUNCTION_WORDS, HEADINGS, LEXICON, NO_WORD, group

_BULLETS = frozenset("-*•+>#=|.:;,!?°[]{}%&/\"')")
#: Connectives, and words that call for a food: "and", "then", "add".
_LEAD_IN, _AND_THEN = group("lead_in"), group("and_then")
_LONGEST_LEAD_IN = 6
_NOT_NUMBERS = frozenset({"∞", "nan", "inf", "infinity"})


def lead(d: Draft) -> int:
    """Past bullets, numbering and a heading before a colon ("Dressing: 2 tbsp oil")."""
    t = d.t
    word, kind, start, end = t.word, t.kind, t.start, t.end
    i = 0
    while kind[i] == MARK and word[i] in _BULLETS:
        if word[i] == "-" and kind[i + 1] in NUMERIC and end[i] == start[i + 1]:
            place = d.clean.span(start[i], end[i])[0]
            if d.text[place] in "-−":  # a longer dash is a bullet
                d.problems.append("amount-negative")
        i += 1
    if (
        kind[i] == NUMBER and word[i].isdecimal() and word[i + 1] in (".", ")")
        and end[i] == start[i + 1] and start[i + 2] > end[i + 1] and kind[i + 2] != END
    ):  # fmt: skip
        i += 2
    if word[i] == "x" and kind[i + 1] in NUMERIC:
        i += 1
    if ":" in t.text:
        for j in range(i + 1, min(i + 5, t.count)):
            if word[j] == ":":
                return _before_colon(d, i, j)
    return i if kind[i] in NUMERIC else _past_lead_in(d, i)


def _past_lead_in(d: Draft, i: int) -> int:
    """Past words that name nothing: "then 2 eggs", "(optional) 1 egg", "stir in 3 eggs", "and oil"."""
    t = d.t
    word, kind = t.word, t.kind
    j = begin = i
    stop, calls, flags = i + _LONGEST_LEAD_IN, False, []
    while j < stop:
        if LEXICON.get(word[j], NO_WORD).hedge or (kind[j] == MARK and word[j] in "~≈."):
            j += 1  # the reader of amounts takes it
            continue
        if kind[j] == MARK and word[j] in "(),:":
            j += 1
        elif (found := t.phrase(j, "flag")) is not None and found[0].value == "optional":
            flags.append(found[0].value)
            j = found[1]
        elif word[j] in _LEAD_IN:
            calls = calls or word[j] not in _AND_THEN
            j += 1
        else:
            break
        begin = j
    if j == i or kind[j] == MARK:
        return i
    if LEXICON.get(word[_past_prep(d, j)], NO_WORD).role == "part":  # "add juice of 2 limes"
        return j
    reading = read_measure(d.t, j, leading=True)
    before_food = kind[reading.next if reading else j] == WORD
    if not before_food or (reading is None and (calls or word[j] in FUNCTION_WORDS)):
        return i
    d.flags.update(flags)
    return begin


def _before_colon(d: Draft, i: int, j: int) -> int:
    t = d.t
    if " ".join(t.word[i:j]) not in HEADINGS and t.word[i] not in ("for", "to"):
        weighed = read_measure(d.t, j + 1) if t.word[i] == "per" else None  # "per person: 100 g"
        if weighed is None or weighed.measures[0].unit == "piece":
            return i
    found = (t.phrase(k, "flag") for k in range(i, j))
    d.flags.update(one[0].value for one in found if one)
    return j + 1


def head(d: Draft, i: int) -> int:
    """The amount in front, with "juice of" and "the" before it."""
    t = d.t
    word, kind = t.word, t.kind
    if kind[i] in NUMERIC:
        plain = plain_measure(d.t, i)
        if plain is not None:
            measure, past = plain
            d.take_plain(measure)
            past = _past_hedge(d, past)
            d.cut(i, past)
            return past if word[past] not in LEXICON else part_of(d, past)
    i = begin = part_of(d, i)
    if word[i] == "the":
        i += 1
    if word[i] in ("remaining", "reserved", "rest"):
        d.flags.add("remaining")
        i += 1
        while word[i] in ("of", "the"):
            i += 1
    found = t.phrase(i, "open")
    if found:
        d.flags.add("vague")
        d.cut(begin, found[1])
        return found[1]
    if not word[i] or d.glued_word(i) or (percent_at(t, i) and not share_in_percent(t, i + 1)):
        return i
    reading = read_measure(d.t, i, leading=True)
    if reading is None:
        return _no_number(d, i)
    d.take(reading)
    i = _past_hedge(d, reading.next)
    if reading.lead:
        _lead_words(d, reading.lead)
    if word[i] in ("the", "a", "an") and not reading.share:
        i += 1
    d.cut(begin, i if reading.food_at < 0 else reading.food_at)
    return i if d.part else part_of(d, i)


def _past_hedge(d: Draft, i: int) -> int:
    """Past a hedge behind the amount: "200 g approx. rice"."""
    found = d.t.phrase(i, "hedge") if LEXICON.get(d.t.word[i], NO_WORD).hedge else None
    if found is None:
        return i
    past = found[1] + (d.t.word[found[1]] == ".")
    return past if d.t.kind[past] != END else i


def _no_number(d: Draft, i: int) -> int:
    """Where a number should stand and none does: "∞ g", "NaN g"."""
    if d.t.word[i] not in _NOT_NUMBERS:
        return i
    d.problems.append("amount-not-a-number")
    past = i + 2 if d.t.unit_after(i + 1) else i + 1
    d.cut(i, past)
    return past


def _lead_words(d: Draft, words: list[str]) -> None:
    """Adjectives that stood before the unit: states go to the name, the rest is dropped."""
    d.lead = words
    for w in words:
        state = LEXICON[w].state
        if state is not None:
            d.name.append(w)
            d.states.add(state.value)


def part_of(d: Draft, i: int) -> int:
    """ "juice of", "zest and juice of", "finely grated zest of", "whites of"; else ``i``."""
    word = d.t.word
    parts: list[str] = []
    named = i
    j = begin = i + 1 if word[i] == "the" else i
    if _owned(d, j):
        j = begin = j + 1
    while True:
        j = _past_prep(d, j)
        if LEXICON.get(word[j], NO_WORD).role != "part":
            break
        parts.append(word[j])
        named = j = j + 1
        if word[j] not in ("and", "&", "/", "+", ",", "plus"):
            break
        j += 1
    if not parts:
        return i
    j = named + 1 if word[named] == "only" else named
    if word[j] in ("of", "from"):
        j += 1
    elif parts[0] not in ("juice", "zest") or read_measure(d.t, j, leading=True) is None:
        return i
    d.set_part(parts)
    if named > begin + 1 and set(word[begin:named]) - {"juice", "zest", "and", "the"}:
        d.keep_note(begin, named)
    return j


def _owned(d: Draft, j: int) -> bool:
    """ "lemon juice of 1 lemon", "egg whites from 3 eggs": a food that is named again."""
    word = d.t.word
    return (
        d.t.kind[j] == WORD
        and LEXICON.get(word[j + 1], NO_WORD).role == "part"
        and word[j + 2] in ("of", "from")
        and singular(word[j]) in map(singular, word[j + 3 : j + 7])
    )


def _past_prep(d: Draft, j: int) -> int:
    word = d.t.word
    stop = j + 4
    while j < stop:
        entry = LEXICON.get(word[j], NO_WORD)
        if entry.role == "part" or not (entry.prep or word[j] in ("fresh", "peeled")):
            break
        j += 1
    return j
