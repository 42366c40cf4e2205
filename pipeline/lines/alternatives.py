"""Other foods that may stand for the one named: "or", examples, kinds in parentheses."""

from __future__ import annotations

from pipeline.foods.words import singular
from pipeline.lines.draft import Draft
from pipeline.lines.measures import read_measure
from pipeline.lines.parts import is_participle
from pipeline.lines.tokens import CLOSE, END, NUMERIC, WORD
from pipeline.lines.vocabulary import LEXICON, NO_WORD, SHARED_HEADS

_COUNTS = ("article", "count")


def alternatives_until(d: Draft, j: int, end: int) -> None:
    """Foods between ``j`` and ``end``, parted by "or", "," and "/"; amounts dropped."""
    t, word = d.t, d.t.word
    current: list[str] = []
    d.alternatives.append(current)
    while j < end:
        w = word[j]
        if w in ("or", "/", ","):
            if current:
                current = []
                d.alternatives.append(current)
            j += 1
            continue
        if t.kind[j] in NUMERIC or (
            not current and LEXICON.get(w, NO_WORD).number_class in _COUNTS
        ):
            past = d.percent(j) if not d.percents else None
            if past is None:
                reading = read_measure(d.t, j, leading=not current)
                past = reading.next if reading is not None else j + 1
                if reading is not None:
                    d.cut_amount(j, past)
            j = past
            continue
        if current and t.phrase(j, "stopflag") is not None:
            d.notes.append(" ".join(word[j:end]))
            break
        if t.kind[j] == WORD:
            current.append(w)
        j += 1


def kinds_of_name(d: Draft, begun: int) -> None:
    """ "oil (olive or vegetable)": the first kind goes to the name, the others complete it."""
    kinds = d.alternatives[begun:]
    if not kinds or not all(_all_modifiers(words) for words in kinds):
        if d.depth:
            narrow(d, begun)
        return
    d.kind_parts.append(kinds[0])
    del d.alternatives[begun]
    for words in kinds[1:]:
        words += d.name


def examples(d: Draft, i: int, stop: int) -> None:
    """ "milk, such as oat or soy": foods that may stand for the name, from token ``i`` on."""
    begun = len(d.alternatives)
    alternatives_until(d, i, stop)
    narrow(d, begun)


def narrow(d: Draft, begun: int) -> None:
    """Words beside a food narrow it: "beans (black or pinto)" are black beans, pinto beans.

    What names a food by itself stays alone: "cheese (cheddar or feta)".
    """
    head = next((w for w in reversed(d.name) if not _is_piece(w)), "".join(d.name[-1:]))
    alone = SHARED_HEADS.get(head)
    for words in d.alternatives[begun:]:
        if not words or singular(words[-1]) == singular(head):
            continue
        shares = alone is not None and words[-1] not in alone and words[-1] not in SHARED_HEADS
        if (shares and words[-1] not in SHARED_HEADS["*"]) or _all_modifiers(words):
            words.append(head)


def foods_only(d: Draft, j: int, end: int) -> bool:
    """ "(cod or haddock)": words and one "or", nothing that prepares or measures."""
    t = d.t
    if "or" not in t.word[j:end]:
        return False
    for k in range(j, end):
        w = t.word[k]
        if t.kind[k] != WORD and w not in (",", "/"):
            return False
        entry = LEXICON.get(w, NO_WORD)
        plain = w in ("or", "and") or entry.modifier
        if not plain and (entry.prep or entry.sizes or t.phrase(k) is not None):
            return False
    return True


def or_list(d: Draft, i: int) -> int:
    """ "olive oil, avocado oil, or ghee": where the foods after the comma end, 0 for none."""
    t = d.t
    word = t.word
    seen_or, length = False, 0
    food = names = False  # any of them, this one names a food: "homemade or bought" do not
    while True:
        w = word[i]
        if w == "or":
            food, seen_or, length = food or names, True, 0
        elif w == ",":
            if seen_or:
                return i
        elif t.kind[i] != WORD:
            ends = t.kind[i] == END or w in CLOSE
            return i if seen_or and length and (food or names) and ends else 0
        else:
            entry = LEXICON.get(w, NO_WORD)
            if not entry.modifier and (
                entry.prep or entry.number_class or entry.role or entry.effects or entry.sizes
            ):  # fmt: skip
                return i if seen_or and length else 0
            names = not (is_participle(w) or entry.modifier == "quality")
            length += 1
        i += 1


def _is_piece(word: str) -> bool:
    """ "cubes", "fillets": what the food is counted in."""
    noun = LEXICON.get(word, NO_WORD).noun
    return noun is not None and not noun.keep


def _all_modifiers(words: list[str]) -> bool:
    return all(LEXICON.get(w, NO_WORD).modifier for w in words)
