"""What a part after a comma is, told by its form: more of the food's name, or a note.

"Yogurt, Greek, plain" and "onion, finely chopped" differ in what kind of words follow the comma.
Notes have a form of their own: participles ("softened", "skin removed"), participles with an
adverb, phrases that begin with a preposition, a determiner or a negation ("in wedges", "no skin"),
sentences, amounts, flags, a size by itself. A part without any of these forms is made of nouns
and adjectives, and belongs to the name.
"""

from __future__ import annotations

from pipeline.lines.measures import match_effect
from pipeline.lines.names import NAMING_CUTS
from pipeline.lines.tokens import WORD, Tokens
from pipeline.lines.vocabulary import (
    CLOSING_WORDS,
    CUT_NOUNS,
    FUNCTION_WORDS,
    IRREGULAR_PARTICIPLES,
    LEXICON,
    MANNERS,
    Word,
)

RAW = frozenset({"raw", "dry", "dried"})
COOKED = frozenset({"cooked", "boiled", "steamed", "roasted", "baked", "grilled", "fried"})
_TREATMENTS = RAW | COOKED | {"fresh"}
#: Ends of states that tell what was taken off or left on: "skinless", "bone-in".
_TAKEN_OFF = ("-in", "-on", "-off", "-out", "less")
#: Classes of function words that make a remark of a part wherever they stand in it.
_SENTENCE = frozenset({"pronoun", "auxiliary", "negation", "determiner"})
#: Prepositions inside a part that say what it is for, or to what point a thing is done.
_AIM = frozenset({"for", "to", "until", "into", "as", "than", "if"})
_BREAKS = frozenset(",;()[]{}:|")
#: Parts of a thing that the cook takes of it: alone after a comma they name no kind.
_OF_IT = frozenset({"juice", "zest", "rind", "peel", "seeds", "flesh", "pulp", "leaves", "kernels",
                    "whites", "yolks", "juiced", "zested"})  # fmt: skip


def is_participle(word: str) -> bool:
    """Whether a word has the form of a past participle: "deveined", "torn", not "linseed"."""
    if word in IRREGULAR_PARTICIPLES:
        return True
    return len(word) > 4 and word.endswith("ed") and word[-3] not in "ea"


def is_adverb(word: str) -> bool:
    """Whether an unlisted word has the form of an adverb: "coarsely", not "jelly"."""
    return len(word) > 5 and word.endswith("ly")


def part_end(t: Tokens, i: int, limit: int) -> int:
    """The token after the comma part that begins at ``i``; parentheses end it too."""
    word = t.word
    while i < limit and word[i] not in _BREAKS:
        i += 1
    return i


def names_food(t: Tokens, i: int, limit: int) -> bool:
    """Whether the comma part at token ``i`` goes on with the name of the food.

    Args:
        t: the line.
        i: first token of the part.
        limit: token at which the line, or the parenthesis, ends.
    """
    stop = part_end(t, i, limit)
    form = _form(t, i, stop)
    if form == NOTE:
        return False
    if form != EITHER:
        return form == NAME or _named_after(t, stop, limit)
    end = part_end(t, stop + 1, limit)  # "broilers or fryers, breast" and not "rice or couscous"
    return "or" not in t.word[stop + 1 : end] and _named_after(t, stop, limit)


def _treated(state: str, last: str) -> bool:
    """Whether a state, said with ``last`` as its last word, is no kind but a treatment."""
    return (
        state in _TREATMENTS or last in FUNCTION_WORDS or last in CLOSING_WORDS
        or is_participle(last) or last.endswith(_TAKEN_OFF)
    )  # fmt: skip


def kind_state(t: Tokens, i: int) -> int:
    """The token after a state at token ``i`` that tells a kind ("lowfat"), 0 when none is there."""
    found = match_effect(t, i, "state")
    if found is None or not found[0].in_name or _treated(found[0].value, t.word[found[1] - 1]):
        return 0
    return found[1]


def goes_on(t: Tokens, i: int, limit: int) -> bool:
    """Whether the part at token ``i`` brings the noun that adjectives before the comma lack."""
    stop = part_end(t, i, limit)
    last = LEXICON.get(t.word[stop - 1])
    return stop > i + 1 and (last is None or not last.modifier) and _nominal(t, i, stop, limit)


def named_later(t: Tokens, i: int, limit: int) -> bool:
    """Whether the comma part after the one at token ``i`` names a food."""
    return _named_after(t, part_end(t, i, limit), limit)


def _named_after(t: Tokens, stop: int, limit: int) -> bool:
    """Whether a part that names the food stands directly after the part that ends at ``stop``."""
    if stop >= limit or t.word[stop] != ",":
        return False
    return _nominal(t, stop + 1, part_end(t, stop + 1, limit), limit)


def _nominal(t: Tokens, i: int, stop: int, limit: int) -> bool:
    """Whether a part is made of nouns and adjectives only."""
    form = _form(t, i, stop)
    return form in (NAME, EITHER) or (form == COOKED_NAME and _named_after(t, stop, limit))


#: Forms of a part: a note; a name; alternatives; a name only where another part of the name
#: follows: behind a participle of cooking ("fried chicken, wing"; "cooked al dente"), and one
#: participle that is no kitchen work and no state ("cottage, creamed, large curd").
NOTE, NAME, EITHER, COOKED_NAME, MADE = range(5)
_FORMS: dict[str, int] = {}
_KEPT = 20_000


def _form(t: Tokens, i: int, stop: int) -> int:
    """The form of the part of tokens ``i`` to ``stop``; told once a part, by its text alone."""
    if stop <= i:
        return NOTE
    text = t.text[t.start[i] : t.end[stop - 1]]
    form = _FORMS.get(text)
    if form is None:
        form = _read_form(t, i, stop)
        if len(_FORMS) < _KEPT:
            _FORMS[text] = form
    return form


def _read_form(t: Tokens, i: int, stop: int) -> int:
    word, kind = t.word, t.kind
    first = word[i]
    if first in _OF_IT and (stop == i + 1 or word[i + 1] in FUNCTION_WORDS):
        return NOTE
    if word[stop - 1] in CLOSING_WORDS or _pieces(t, i, stop):
        return NOTE
    entry = LEXICON.get(first)
    if entry is None and stop == i + 1 and is_participle(first):
        return MADE
    if first in FUNCTION_WORDS or (
        entry is not None and entry.remark
        and match_effect(t, i, "stopflagasidehedgenoteexampleopen")
    ):  # fmt: skip
        return NOTE
    form = EITHER if "or" in word[i:stop] else NAME
    quality = True
    after_participle = False
    k = i
    while k < stop:
        w = word[k]
        if kind[k] != WORD:
            if w in ("-", "/", "&", "'", ".") and k > i:
                k += 1
                continue
            return NOTE
        what = FUNCTION_WORDS.get(w)
        if what is not None:
            if what in _SENTENCE or w in _AIM or k + 1 == stop or after_participle:
                return NOTE  # "made with water", "cooked per packet instructions"
            k += 1
            continue
        entry = LEXICON.get(w)
        if entry is None:
            if is_adverb(w) and k + 1 < stop and _acts(word[k + 1]):
                return NOTE
            after_participle = is_participle(w) or w.endswith(_TAKEN_OFF[:-1])
            quality = False
            k += 1
            continue
        found = match_effect(t, k, "stateflagnotestop") if entry.effects else None
        if found is not None:
            effect, after = found
            if effect.kind != "state" or not effect.in_name:
                return NOTE
            if entry.prep == "adverb":
                return NOTE  # "freshly ground"
            quality = False
            if effect.noun and k > i:  # "chuck, arm roast": a cut
                after_participle, k = False, after
                continue
            if k == i and effect.value in COOKED and form == NAME:
                form = COOKED_NAME
            after_participle = _treated(effect.value, word[after - 1])
            k = min(after, stop)
            continue
        if entry.prep:
            following = word[k + 1] if k + 1 < stop else ""
            if following not in entry.stay_before:
                return NOTE
        if entry.number is not None:
            return NOTE
        quality = quality and (entry.modifier == "quality" or bool(entry.sizes))
        after_participle = bool(entry.effects) and is_participle(w)
        k += 1
    return NOTE if quality or after_participle else form


def _pieces(t: Tokens, i: int, stop: int) -> bool:
    """ "wedges", "thin slices", "small dice", "rough chop": what it is cut into."""
    last = t.word[stop - 1]
    entry = LEXICON.get(last)
    if entry is not None and entry.units:
        unit = entry.units[-1][1]
        if unit.kind == "count" and entry.plural and unit.unit not in NAMING_CUTS:
            return stop == i + 1 or _of_size(t.word[i])
        return stop > i + 1 and _of_size(t.word[i]) and unit.kind in ("count", "trade")
    return stop > i + 1 and last in CUT_NOUNS and _of_size(t.word[i])


def _of_size(word: str) -> bool:
    entry = LEXICON.get(word)
    return word in MANNERS or (entry is not None and bool(entry.sizes))


def _acts(word: str) -> bool:
    entry: Word | None = LEXICON.get(word)
    return bool(entry.prep) if entry is not None else is_participle(word)
