"""The food phrase: name words up to what ends them."""

from __future__ import annotations

from pipeline.lines.alternatives import alternatives_until, kinds_of_name, or_list
from pipeline.lines.brackets import closing, parenthesis
from pipeline.lines.draft import Draft
from pipeline.lines.further import names_another, second_food
from pipeline.lines.measured_asides import EACH
from pipeline.lines.measures import read_measure
from pipeline.lines.parts import goes_on, is_work, names_food
from pipeline.lines.percents import percent_at
from pipeline.lines.readings import Reading
from pipeline.lines.tokens import CLOSE, END, MARK, NUMERIC, WORD
from pipeline.lines.vocabulary import FUNCTION_WORDS, LEXICON, NO_WORD, Effect, Word, group

#: States of which a food has one: "fresh/frozen" leaves the choice.
_EITHER = group("one_state")
_HELD = frozenset({"mass", "volume"})
_TIMES, _SHAPES = group("time"), group("shape")
#: Words behind which a number is no amount.
_NUMBERED = group("numbered")


def food_phrase(d: Draft, i: int) -> int:
    """Name words up to what ends them; returns the token where the tail begins."""
    t = d.t
    word, kind = t.word, t.kind
    d.into = d.name
    while True:
        k = kind[i]
        if k == WORD:
            entry = LEXICON.get(word[i])
            if entry is None or entry.naming:
                d.into.append(word[i])
                i += 1
                continue
            past = _known_word(d, i, entry)
        elif k == END:
            return i
        else:
            past = _mark_inside(d, i) if k == MARK else _number_inside(d, i)
        if past < 0:
            return i
        i = past


def _known_word(d: Draft, i: int, entry: Word) -> int:
    """A word of the tables inside the name: the token after it, -1 when it ends the name."""
    if entry.role == "or" and (d.name or d.measures):
        return _or_inside(d, i)
    if _another_begins(d, i, entry.role):
        return -1
    if entry.role == "each" and not d.into:
        d.flags.add("each")
        return i + 2 if d.t.word[i + 1] in ("of", ":") else i + 1
    if entry.effects:
        past = _phrase_inside(d, i)
        if past:
            return past
    if entry.sizes:
        past = _size_inside(d, i)
        if past:
            return past
    if d.into and not d.measures and (entry.number is not None or entry.units):
        past = _late_amount(d, i)
        if past:
            return past
    d.into.append(d.t.word[i])
    return i + 1


def _size_inside(d: Draft, i: int) -> int:
    """Take a size inside the name: the token after it, 0 when it is a word of the name.

    Behind kitchen work it says how the food is cut: "half an onion diced small".
    """
    t = d.t
    size, j = t.size(i) if d.measures else ("", i)
    if not size:
        return 0
    if d.name and LEXICON.get(t.word[i - 1], NO_WORD).prep == "cut" and t.kind[j] != WORD:
        d.notes.append(" ".join(t.word[i:j]))
        return j
    if d.name and t.kind[j] not in (WORD, END):
        return 0
    d.give_size(size)
    return j


def _another_begins(d: Draft, i: int, role: str) -> bool:
    """Whether "plus", "and", "extra", "with" or "in" begins another amount or food."""
    t = d.t
    word = t.word[i]
    if role == "plus":
        return bool(d.name)
    if role == "and":
        return bool(d.name) and (
            t.kind[i + 1] in NUMERIC or _part_follows(d, i + 1) or _amount_follows(d, i + 1)
        )
    if not d.into:
        return False
    if role == "extra":
        return t.word[i + 1] in ("for", "to")
    if word not in ("with", "in"):
        return False
    # "with its skin" speaks of the food, "with rice" may name it
    return (
        t.kind[i + 1] in NUMERIC or _amount_follows(d, i + 1)
        or (word == "in" and d.into is d.name and _cut_follows(d, i + 1))
        or (word != "in" and FUNCTION_WORDS.get(t.word[i + 1]) == "determiner")
    )  # fmt: skip


def _cut_follows(d: Draft, i: int) -> bool:
    """ "carrots in thick sticks": what the food is cut to stands at token ``i``, and nothing behind."""
    t, j = d.t, i
    while t.kind[j] == WORD and j < i + 3:
        j += 1
    last = LEXICON.get(t.word[j - 1], NO_WORD)
    shape = (last.plural and bool(last.units)) or t.word[j - 1] in _SHAPES
    return j > i and t.kind[j] != WORD and shape


def _phrase_inside(d: Draft, i: int) -> int:
    """Take a phrase of the tables inside the name: the token after it, -1 when it ends the name,
    0 when it says nothing there."""
    t, word = d.t, d.t.word
    found = t.phrase(i)
    if found is None:
        return 0
    effect, j = found
    what = effect.kind
    if what == "state":
        return _state_inside(d, i, effect, j)
    if what == "note":
        d.notes.append(" ".join(word[i:j]))
        return j
    if what == "flag" and (d.into or d.measures or j - i > 1):
        if t.kind[j] == END or word[j] in ",;(":  # "salt to taste"
            d.cut(i, j)
        d.flags.add(effect.value)
        stop = _object_end(d, j) if d.into and word[i] in ("for", "to") else j
        d.notes.append(" ".join(word[i:stop]))
        return stop
    if d.into and effect.value == "behind_work":
        return _behind_work(d, i)
    if d.into and what in ("stop", "example"):
        return -1
    return j if d.into and what == "hedge" and t.kind[j] in NUMERIC else 0


def _behind_work(d: Draft, i: int) -> int:
    """ "parmesan stirred through", "apples cooked down": -1 where work ends the name, else 0."""
    work = d.t.word[i - 1]
    if not is_work(work):
        return 0
    if len(d.into) > 1 and d.into[-1] == work:
        d.notes.append(d.into.pop())
    return -1


def _state_inside(d: Draft, i: int, effect: Effect, j: int) -> int:
    """Take a state inside the name, tokens ``i`` to ``j``."""
    t, word, into = d.t, d.t.word, d.into
    joint = effect.leads and into and t.kind[j] != WORD
    if into is d.name and not joint:
        d.states.add(effect.value)
    if into and not effect.in_name and word[j] in ("in", "with", "for"):
        return -1  # "soaked in 3 tbsp water"
    after_noun = j - i > 1 and into and t.kind[j] != WORD  # "skin on"
    if effect.in_name and not after_noun:
        into.extend(word[i:j])
    else:
        d.notes.append(" ".join(word[i:j]))
    return j


def _late_amount(d: Draft, i: int) -> int:
    """Take an amount behind name words: the token after it, 0 when there is none."""
    reading = d.late_measure(i)
    if reading is None:
        return 0
    if d.measures and d.t.word[reading.next] in EACH:  # "2 chicken breasts 150 g each"
        d.cut_amount(i, reading.next + 1)
        d.attach(reading.measures[:1], each=True)
        return reading.next + 1
    past = d.t.past_total(reading.next) or reading.next
    d.cut_amount(i, past)
    packed = d.measures[0] if d.measures and d.measures[0].kind == "package" else None
    if packed is not None and (not d.into or packed.amount == 1):  # "1 tin 400 g tomatoes"
        d.attach(reading.measures[:1], each=True)
    else:
        d.add(reading)
    return past


def _object_end(d: Draft, j: int) -> int:
    """Past the words that say on what: "sugar for rolling | dough", "oil to fry | the onions"."""
    t = d.t
    while t.kind[j] == WORD:
        role = LEXICON.get(t.word[j], NO_WORD).role
        if role in ("plus", "or") or (role == "and" and t.kind[j + 1] in NUMERIC):
            break
        j += 1
    return j


def _part_follows(d: Draft, i: int) -> bool:
    """ "and zest of 1 lemon": a part of another thing."""
    t = d.t
    return LEXICON.get(t.word[i], NO_WORD).role == "part" and t.word[i + 1] in ("of", "from")


def _amount_follows(d: Draft, i: int) -> bool:
    """ "and a pinch of salt", "and an egg": an amount in words with a food after it."""
    if LEXICON.get(d.t.word[i], NO_WORD).number is None:
        return False
    reading = read_measure(d.t, i, leading=True)
    return reading is not None and names_another(d, reading.next, d.t.count)


def _or_inside(d: Draft, i: int) -> int:
    """ "or" inside the name begins an alternative; its own amount is dropped."""
    t = d.t
    if d.aside(i + 1) or t.kind[i + 1] == END:
        return -1
    j = i + 1
    if not percent_at(t, j):
        reading = read_measure(d.t, j)
        if reading is not None:
            d.cut_amount(i if not d.name else j, reading.next)
            if not d.name:  # "1 tin or 240 g cooked chickpeas"
                d.measures += [d.placed(m) for m in reading.measures]
                return reading.next
            j = reading.next
    _begin_alternative(d)
    return j


def _number_inside(d: Draft, i: int) -> int:
    """A number inside the name: a percentage, a late amount, or part of the name; -1 for packages that
    end the line, "800 g chopped tomatoes 2 tins"."""
    past = d.percent(i)
    if past is not None:
        return past
    t = d.t
    if d.glued_word(i):
        if t.word[i + 1] == "-":
            d.into.append(f"{t.word[i]}-{t.word[i + 2]}")
            return i + 3
        d.into += t.word[i : i + 2]
        return i + 2
    if d.into and d.into[-1] in _NUMBERED and t.kind[i + 1] != WORD:  # "rye flour type 720 - 300 g"
        d.notes.append(f"{d.into.pop()} {t.word[i]}")
        return i + 1
    if d.into and t.word[i + 1] in _TIMES:  # "dal soaked 4 hours"
        d.keep_note(i, i + 2)
        return i + 2
    reading = read_measure(d.t, i) if d.measures else None
    if reading is not None and _beside_the_amount(d, reading):
        d.keep_note(i, reading.next)
        return reading.next
    if reading is not None and d.name and t.kind[reading.next] == END and (
        reading.measures[0].kind == "package"
    ):  # fmt: skip
        return -1
    past = _of_another(d, i) or _late_amount(d, i)
    if not past:
        d.into.append(t.word[i])
    return past or i + 1


def _of_another(d: Draft, i: int) -> int:
    """ "200 g broccoli and lime juice 20 ml": the amount of a further food behind its name; the token
    after it, 0 when it is none."""
    t, into = d.t, d.into
    if into is not d.name or "and" not in into[1:-1] or not d.measures:
        return 0
    reading = read_measure(t, i)
    if reading is None or t.kind[reading.next] == WORD or d.no_amount(reading):
        return 0
    first, second = d.measures[0], reading.measures[0]
    link = next((k for k in range(i - 1, 0, -1) if t.word[k] in ("and", "&", "+")), 0)
    again = first.amount == second.amount or (
        first.kind == second.kind and first.unit != second.unit  # "450 g peas and carrots 16 oz"
    )
    if again or first.kind not in _HELD or second.kind not in _HELD:
        return 0
    told = into[:]
    del into[len(into) - 1 - into[::-1].index("and") :]
    if not names_another(d, link + 1, i):
        into[:] = told
        return 0
    return second_food(d, link, link + 1, t.count)


def _beside_the_amount(d: Draft, reading: Reading) -> bool:
    """ "4 cups 1-inch bread cubes", "100 g uncooked / 250 g cooked rice": how large the things are,
    or what the food comes to in another state; no amount of the line."""
    state = d.t.phrase(reading.next, "state")
    if state is not None and d.contrary(state[0].value):
        reading.next = state[1]
        return True
    return not d.name and reading.measures[0].kind == "length"


def _mark_inside(d: Draft, i: int) -> int:
    """A mark inside the name: the token after it, -1 when it ends the name."""
    t, into = d.t, d.into
    w = t.word[i]
    if w == "," or w == ";":
        return _comma_inside(d, i)
    if w in CLOSE:
        return i + 1 if _noun_inside(d, i) else parenthesis(d, i)
    if w == "/":
        named = into and t.kind[i + 1] == WORD and into[-1] not in ("and", "c")
        if named and not _both_states(d, i):
            _begin_alternative(d)
        return i + 1
    if not into:
        return i + 1
    if w == "&" or w == "+":
        of_another = t.word[i + 2] in ("of", "from")  # "+ zest of 1 lemon"
        if of_another or t.kind[i + 1] in NUMERIC or t.phrase(i, "flag"):
            return -1
        into.append("and")
        return i + 1
    apart = t.start[i] > t.end[i - 1]
    full_stop = w == "." and not t.glued(i) and len(into[-1]) > 3
    return -1 if (w == "-" and apart) or w in ":|" or full_stop else i + 1


def _comma_inside(d: Draft, i: int) -> int:
    t, into = d.t, d.into
    if "each" in d.flags and into and "and" not in into and _lists_on(d, i + 1):
        into.append(",")
        return i + 1
    if not _name_begun(d, into, i + 1):
        return i + 1
    stop = or_list(d, i + 1) if d.name and "or" in t.word else 0
    if not stop or (t.word[stop] == "," and names_food(t, i + 1, t.count)):
        return -1
    begun = len(d.alternatives)
    alternatives_until(d, i + 1, stop)
    kinds_of_name(d, begun)
    return stop


def _noun_inside(d: Draft, i: int) -> bool:
    """ "boneless (skinless chicken breasts, sliced)": a comma turned into a bracket."""
    if d.into is not d.name or not d.name or d.t.word[i] != "(":
        return False
    return not _name_begun(d, d.name, i + 1) and names_food(d.t, i + 1, closing(d, i))


def _lists_on(d: Draft, i: int) -> bool:
    """Whether after "each" a comma goes on with the foods and begins no note."""
    word = d.t.word
    if "and" in word[i:] or "&" in word[i:]:
        return True
    if d.measures and d.measures[0].unit == "piece":
        return False  # "3 each eggs, free range": how they are counted
    entry = LEXICON.get(word[i], NO_WORD)
    known = entry.prep or entry.number_class or entry.effects
    return not known and names_food(d.t, i, d.t.count)


def _both_states(d: Draft, i: int) -> bool:
    """ "boneless/skinless": both hold; "fresh/frozen": the one or the other."""
    for side in (d.into[-1], d.t.word[i + 1]):
        entry = LEXICON.get(side, NO_WORD)
        said = next((effect.value for rest, effect in entry.effects if not rest), "")
        if not said or said in _EITHER:
            return False
    return True


def _begin_alternative(d: Draft) -> None:
    d.into = []
    d.alternatives.append(d.into)


def _name_begun(d: Draft, into: list[str], after: int) -> bool:
    """A comma ends the name unless only adjectives stand before it ("boneless, skinless").

    Colour, texture and the like are adjectives when the noun comes after the comma: "plain,
    non-fat greek yogurt".
    """
    kinds = False
    for w in into:
        entry = LEXICON.get(w)
        if entry is None:
            return True
        if not (
            entry.modifier == "quality" or entry.prep or entry.sizes or entry.alone
        ):  # fmt: skip
            if entry.modifier in ("", "kind"):
                return True
            kinds = True
    return kinds and not goes_on(d.t, after, d.t.count)
