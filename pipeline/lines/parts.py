"""What a part after a comma is, told by its form: more of the food's name, or a note.

"Yogurt, Greek, plain" and "onion, finely chopped" differ in what kind of words follow the comma.
Notes have a form of their own: participles ("softened", "skin removed"), participles with an
adverb, phrases that begin with a preposition, a determiner or a negation ("in wedges", "no skin"),
sentences, amounts, flags, a size by itself. A part without any of these forms is made of nouns
and adjectives, and belongs to the name.
"""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.lines.tokens import WORD, Tokens
from pipeline.lines.vocabulary import (
    CLOSING_WORDS,
    CUT_NOUNS,
    FUNCTION_WORDS,
    IRREGULAR_PARTICIPLES,
    LEXICON,
    MANNERS,
    NAMING_CUTS,
    NO_WORD,
    WORK_VERBS,
    group,
)

RAW = frozenset({"raw", "dry", "dried"})
COOKED = group("cooked_state")
_TREATMENTS = RAW | COOKED | {"fresh"}
#: Ends of states that tell what was taken off or left on: "skinless", "bone-in".
_TAKEN_OFF = ("-in", "-on", "-off", "-out", "less")
#: Classes of function words that make a remark of a part wherever they stand in it.
_SENTENCE = frozenset({"pronoun", "auxiliary", "negation", "determiner"})
#: Prepositions inside a part that say what it is for, or to what point a thing is done.
_AIM = group("aim")
_BREAKS = frozenset(",;()[]{}:|")
#: Parts of a thing that the cook takes of it: alone after a comma they name no kind.
_OF_IT = group("part_alone")


def is_participle(word: str) -> bool:
    """Whether a word has the form of a past participle: "deveined", "torn", not "linseed"."""
    if word in IRREGULAR_PARTICIPLES:
        return True
    return len(word) > 4 and word.endswith("ed") and word[-3] not in "ea"


def is_adverb(word: str) -> bool:
    """Whether an unlisted word has the form of an adverb: "coarsely", not "jelly"."""
    return len(word) > 5 and word.endswith("ly")


def is_work(word: str) -> bool:
    """ "mixed", "well", "lightly": words of what is done with a food."""
    return is_participle(word) or is_adverb(word) or bool(LEXICON.get(word, NO_WORD).prep)


def part_end(t: Tokens, i: int, limit: int) -> int:
    """The token after the comma part that begins at ``i``; parentheses end it too."""
    word = t.word
    while i < limit and word[i] not in _BREAKS:
        i += 1
    return i


def names_food(t: Tokens, i: int, limit: int) -> bool:
    """Whether the comma part at token ``i`` goes on with the name of the food.

    Args:
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
    found = t.phrase(i, "state")
    if found is None or not found[0].in_name or _treated(found[0].value, t.word[found[1] - 1]):
        return 0
    return found[1]


def goes_on(t: Tokens, i: int, limit: int) -> bool:
    """Whether the part at token ``i`` brings the noun that adjectives before the comma lack."""
    stop = part_end(t, i, limit)
    last = LEXICON.get(t.word[stop - 1], NO_WORD)
    return stop > i + 1 and not last.modifier and _nominal(t, i, stop, limit)


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
#: follows, after a participle of cooking ("fried chicken, wing"; "cooked al dente").
NOTE, NAME, EITHER, COOKED_NAME = range(4)
_FORMS: dict[str, int] = {}
_KEPT = 20_000


def _form(t: Tokens, i: int, stop: int) -> int:
    """The form of the part of tokens ``i`` to ``stop``; told once per part, by its text alone."""
    if stop <= i:
        return NOTE
    text = t.between(i, stop)
    form = _FORMS.get(text)
    if form is None:
        form = _read_form(t, i, stop)
        if len(_FORMS) < _KEPT:
            _FORMS[text] = form
    return form


def _read_form(t: Tokens, i: int, stop: int) -> int:
    first = t.word[i]
    if first in _OF_IT and (stop == i + 1 or t.word[i + 1] in FUNCTION_WORDS):
        return NOTE
    if t.word[stop - 1] in CLOSING_WORDS or _pieces(t, i, stop):
        return NOTE
    if stop == i + 1 and first in WORK_VERBS and _only_counts(first):
        return NOTE
    if first in FUNCTION_WORDS or t.phrase(i, "stopflagasidehedgenoteexampleopen"):
        return NOTE
    form = _Form(EITHER if "or" in t.word[i:stop] else NAME)
    k = i
    while k < stop:
        k = form.past(t, i, k, stop)
        if not k:
            return NOTE
    return NOTE if form.quality or form.after_participle else form.form


def _only_counts(word: str) -> bool:
    """Whether a word is nothing to the tables but what pieces are called: "chop", "slice"."""
    entry = LEXICON.get(word, NO_WORD)
    return not (entry.effects or entry.role or entry.number_class or entry.modifier or entry.prep)


@dataclass(slots=True)
class _Form:
    """The form of a part while its words are read.

    Attributes:
        form: what the part is, unless a word makes a note of it.
        quality: all words so far are adjectives of quality or sizes.
        after_participle: the last word is one.
    """

    form: int
    quality: bool = True
    after_participle: bool = False

    def past(self, t: Tokens, i: int, k: int, stop: int) -> int:
        """The token after the word at ``k`` of the part ``i`` to ``stop``; 0 when it is a note."""
        w = t.word[k]
        if t.kind[k] != WORD:
            return k + 1 if w in ("-", "/", "&", "'", ".") and k > i else 0
        what = FUNCTION_WORDS.get(w)
        if what is not None:  # "made with water", "cooked per packet instructions"
            note = what in _SENTENCE or w in _AIM or k + 1 == stop or self.after_participle
            return 0 if note else k + 1
        if w not in LEXICON:
            self.after_participle = is_participle(w) or w.endswith(_TAKEN_OFF[:-1])
            self.quality = False
            return k + 1
        return self._past_known(t, i, k, stop)

    def _past_known(self, t: Tokens, i: int, k: int, stop: int) -> int:
        entry = LEXICON[t.word[k]]
        found = t.phrase(k, "stateflagnotestop") if entry.effects else None
        if found is not None:
            effect, after = found
            if effect.kind != "state" or not effect.in_name or entry.prep == "adverb":
                return 0  # "freshly ground"
            self.quality = False
            if effect.noun and k > i:  # "chuck, arm roast": a cut
                self.after_participle = False
                return after
            if k == i and effect.value in COOKED and self.form == NAME:
                self.form = COOKED_NAME
            self.after_participle = _treated(effect.value, t.word[after - 1])
            return min(after, stop)
        following = t.word[k + 1] if k + 1 < stop else ""
        if (entry.prep and following not in entry.stay_before) or entry.number is not None:
            return 0
        self.quality = self.quality and (entry.modifier == "quality" or bool(entry.sizes))
        self.after_participle = bool(entry.effects) and is_participle(t.word[k])
        return k + 1


def _pieces(t: Tokens, i: int, stop: int) -> bool:
    """ "wedges", "thin slices", "small dice", "rough chop": what it is cut into."""
    last = t.word[stop - 1]
    entry = LEXICON.get(last, NO_WORD)
    first = t.word[i]
    sized = stop > i + 1 and (first in MANNERS or bool(LEXICON.get(first, NO_WORD).sizes))
    if not entry.units:
        return sized and last in CUT_NOUNS
    unit = entry.units[-1][1]
    if unit.kind == "count" and entry.plural and unit.unit not in NAMING_CUTS:
        return stop == i + 1 or sized
    return sized and unit.kind in ("count", "trade")
