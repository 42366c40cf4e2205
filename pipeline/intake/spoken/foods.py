"""Spans of words that name a food: where a name ends, and what is said of its state behind it.

A name ends where the names of foods, a break, a verb or a new amount end it.
"""

from __future__ import annotations

from pipeline.intake.spoken.figures import figure, of_a_name
from pipeline.intake.spoken.lexicon import Phrase
from pipeline.intake.spoken.mentions import Food
from pipeline.intake.spoken.misheard import is_noun, misheard, repair
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import NUMBERS_IN_WORDS, STRONG, WEAK

#: Classes of words that name nothing by themselves.
_EMPTY = ("talk", "link", "before_units", "container", "of_them", "correct")


def food_span(talk: Talk, at: int, *, measured: bool, weighed: bool = False) -> Food | None:
    """The food that is named from ``at`` on; an unknown one only after a measured amount."""
    begin, determined = at, ""
    while begin < talk.n and begin - at < 4 and (
        not talk.words[begin].breaks or begin == at
    ) and talk.food_length(begin) <= 1:  # fmt: skip
        text = talk.text[begin]
        if text in word_class("before_foods"):
            determined = text
        elif text not in word_class("before_units") or (
            text not in talk.small and text not in word_class("talk")
        ):  # fmt: skip
            break
        begin += 1
    if begin >= talk.n or (begin > at and talk.stops(begin)):
        return None
    end, known_end, head = _scan(talk, begin, measured)
    if known_end < 0:
        end = min(end, begin + 4)
        if measured and end == begin and is_noun(talk, begin):
            end = begin + 1
        heard = misheard(talk, begin, determined) if weighed and end <= begin + 1 else None
        if heard is not None:
            heard.end = _notes(talk, heard, heard.end)
            return heard
        if not measured or end == begin:
            return None
    else:
        end = known_end
    name = ["%" if text == "percent" else text for text in talk.text[begin:end]]
    if of_a_name(talk, begin):
        name[0] = NUMBERS_IN_WORDS.get(name[0], name[0])  # "five spice"
    turned = (talk.folded[end + 1], talk.folded[begin]) if talk.close(end + 1) else ()
    if end == begin + 1 and talk.close(end) == "of" and turned in talk.known.food_set:
        name, head, end = [talk.text[end + 1], *name], turned, end + 2  # "oil of sunflower"
    described = _described(talk, begin, end)
    if described > end:
        name = [*talk.text[end:described], *name]
        head = (*talk.folded[end:described], *talk.folded[begin:end])
        end = described
    food = Food(begin, end, name, head, known_end >= 0, determined=determined)
    if not food.known and talk.close(end) in ("it", "them"):
        return None  # "ten ounces, poke it"
    if measured:
        repair(talk, food)
    if not food.known and (determined in ("that", "this", "those") or _unlikely(talk, food)):
        return None
    food.end = _notes(talk, food, end)
    return food


def _described(talk: Talk, begin: int, end: int) -> int:
    """End of what a name has behind a comma: "rice, long grain" is long grain rice."""
    if end >= talk.n or talk.words[end].breaks != WEAK:
        return end
    if talk.text[end] in talk.known.states:
        return end  # a state, which is a note
    for stop in range(min(end + 3, talk.n), end, -1):
        if any(
            talk.words[i].breaks or talk.words[i].value is not None for i in range(end + 1, stop)
        ):
            continue
        if (*talk.folded[end:stop], *talk.folded[begin:end]) in talk.known.food_set:
            return stop
    return end


def _scan(talk: Talk, begin: int, measured: bool) -> tuple[int, int, Phrase]:
    """How far a name may go, the end of what is known of it (-1: nothing), and its head."""
    end, known_end, describing = begin, -1, talk.known.states | talk.known.kinds
    head: Phrase = ()
    while end < talk.n and end - begin < 9:
        breaks, text = talk.words[end].breaks, talk.text[end]
        if end > begin and (
            breaks == STRONG
            or (breaks == WEAK and (known_end >= 0 or talk.text[end - 1] not in describing))
        ):
            break
        if talk.words[end].value is not None or text == "percent" or "/" in text:
            step = figure(talk, end) if known_end < 0 else 0
            if not step:
                break
            end += step
            continue
        length = talk.food_length(end)
        listed = talk.words[end].breaks and end + 1 < talk.n and talk.words[end + 1].breaks
        verb = text in talk.known.verbs and not listed and (
            talk.word(end - 1) not in word_class("names_a_thing")
        ) and not _told_behind(talk, end + 1)  # fmt: skip
        if (
            length == 1
            and (verb or text in word_class("talk"))
            and (known_end >= 0 or not measured)
        ):
            length = 0
        if length:
            found = tuple(talk.folded[end : end + length])
            if known_end >= 0 and (end > known_end + 1 or "salt" in found):
                break
            head = found
            end = known_end = end + length
        elif ends_name(talk, end):
            break
        elif known_end < 0:
            if text in word_class("talk"):
                break
            end += 1
        else:
            step, known = _goes_on(talk, end, known_end)
            if not step:
                break
            end += 1
            known_end = end if known else known_end
    return end, known_end, head


def _told_behind(talk: Talk, at: int) -> bool:
    """ "cream two decilitres", "then cream, two decilitres": an amount that closes makes the word
    before it a thing."""
    if at >= talk.n or talk.stops(at) or not talk.counts(at):
        return False
    unit, size = talk.unit_at(at + 1)
    after = at + 1 + size
    closes = talk.boundary(after) and talk.close(after) != "of"
    return unit is not None and unit.weighs and closes


def ends_name(talk: Talk, at: int) -> bool:
    """A verb, a small word or the unit of another amount ends a name."""
    if talk.text[at] in talk.small or talk.text[at] in talk.known.verbs:
        return True
    if talk.text[at] in ("one", "ones"):
        return True
    unit, _ = talk.unit_at(at)
    return unit is not None and (
        talk.close(at + 1) == "of" or unit.kind in ("mass", "volume", "trade")
    )


def _goes_on(talk: Talk, at: int, known_end: int) -> tuple[bool, bool]:
    """Whether a word behind a known name belongs to it, and whether the name may end there."""
    text, known, after = talk.text[at], talk.known, at + 1
    if text in known.states or text in word_class("talk") or _is_deed(text) or (
        text in known.ordinals  # "boil the eggs first"
    ):  # fmt: skip
        return False, False
    ends_here = talk.boundary(after) or talk.text[after] in known.states
    follows = not ends_here and talk.food_length(after) > 0
    if not ends_here and not follows:
        alike = bool(known.sounding_like(text)) and talk.boundary(at + 2)
        return alike, alike
    in_names = talk.folded[at] in known.food_words or text in known.kinds
    return at <= known_end and (follows or in_names), not follows


def _unlikely(talk: Talk, food: Food) -> bool:
    """An unknown name that is all talk: "200 grams of that", "one time"."""
    known = talk.known
    empty = talk.small.union(known.ordinals, known.sizes, known.states, *map(word_class, _EMPTY))
    said = talk.text[food.start : food.end]
    return all(w in empty or (w,) in known.units or _is_deed(w) for w in said)


def _is_deed(word: str) -> bool:
    """A participle: what was done to a food."""
    return word.endswith("ed") and len(word) > 5


def _notes(talk: Talk, food: Food, end: int) -> int:
    """States and preparation behind a name: "drained", "peeled and sliced", "in water"."""
    if talk.joined(end) == "in":
        for more in range(end + 1, end + 4):
            if talk.close(more) in word_class("packed_in"):
                food.notes.append(" ".join(talk.text[end : more + 1]))
                return more + 1
            if talk.close(more) in talk.known.verbs:
                break
    said: list[str] = []
    at = end
    while at < talk.n and at - end < 6 and _note(talk, at, said):
        at += 1
    if not said:
        return end
    food.notes.append(" ".join(said))
    return at


def _note(talk: Talk, at: int, said: list[str]) -> bool:
    """Take a word into a note; False where the note ends."""
    word, text, nxt, known = talk.words[at], talk.text[at], talk.close(at + 1), talk.known
    if word.breaks == STRONG or word.value is not None:
        return False
    if text in word_class("verb") and nxt in word_class("object"):
        return False
    length = talk.food_length(at)
    if text in known.prep or (not length and (_is_deed(text) or text in known.manners)):
        other = nxt and text not in known.prep and talk.food_length(at + 1)
        if length > 1 or other:
            return False
        said.append(text)
        return True
    goes_on = (
        (text in word_class("before_states") and (nxt in known.prep or nxt == "weight"))
        or text == "dry"
        or (text == "weight" and said)
        or (text == "and" and said and nxt in known.states)
    )
    if goes_on:
        said.append(text)
    return bool(goes_on or (text in ("up", "small") and said))


def one_of(food: Food) -> str:
    """A line of one piece of a food."""
    return f"1 {' '.join(food.name)}"


def countable(talk: Talk, food: Food) -> bool:
    """A piece of the food has a weight, or it is not known: an egg, not flour."""
    text = one_of(food)
    return talk.composition.of(text) is not None or text not in talk.composition.unweighed
