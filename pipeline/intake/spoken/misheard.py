"""Words heard for a food's name: "a teaspoon of come in" is cumin."""

from __future__ import annotations

from pipeline.intake.spoken.lexicon import Lexicon, Phrase
from pipeline.intake.spoken.mentions import Food
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.talk import Talk


def is_noun(talk: Talk, at: int) -> bool:
    """A word that may be a verb elsewhere names a thing here: "300 grams of mash"."""
    text = talk.word(at)
    if talk.word(at - 1) != "of" and talk.close(at + 1) in word_class("object"):
        return False
    does = text.endswith("s") and text.removesuffix("s") in talk.known.verbs
    return len(text) > 3 and text in talk.known.verbs and text not in talk.small and (
        talk.boundary(at + 1) and not (does and talk.folded[at] not in talk.known.food_words)
    )  # fmt: skip


def misheard(talk: Talk, begin: int, determined: str) -> Food | None:
    """A food heard as common words: "a teaspoon of come in", "a cup of or so"."""
    known, noun = talk.known, is_noun(talk, begin)
    if talk.close(begin + 1) in word_class("object") or talk.text[begin] in word_class("PROCNT"):
        return None  # whatever it is, it is done: "two teaspoons stir it"
    unheard = word_class("talk") - {"time"} | known.states
    for size in (2, 1):
        end = begin + size
        said = talk.text[begin:end]
        if end > talk.n or not unheard.isdisjoint(said) or (
            size == 2 and known.food_words.issuperset(said) and talk.small.isdisjoint(said)
        ) or any(
            talk.words[i].value is not None or (i > begin and talk.words[i].breaks)
            for i in range(begin, end)
        ):  # fmt: skip
            continue
        word = said[0]
        if size == 1 and (
            noun or word in talk.small or word in word_class("before_foods") or word in known.kinds
        ):
            continue
        found = known.sounding_like(" ".join(said))
        if found and not (size == 1 and _commoner(known, talk.folded[begin], found[0])):
            repairs = [(begin, end, " ".join(said), " ".join(found[0]))]
            return Food(begin, end, list(found[0]), found[0], True, [], repairs, determined)
    return None


def repair(talk: Talk, food: Food) -> None:
    """Read a misheard word as the food it sounds like, where that makes a known name."""
    known = talk.known
    folded = [known.fold(w) for w in food.name]
    best: tuple[float, int, int, Phrase] | None = None
    for size in (2, 1):
        for at in range(len(folded) - size + 1):
            said = folded[at : at + size]
            as_said = size == 1 and _sounds_as_said(known, food, folded, at)
            if as_said and (tuple(said) not in known.food_set or len(folded) == 1):
                continue
            if any(not w.isalpha() for w in said):
                continue
            if size == 2 and (tuple(said) in known.food_set or any(
                w in known.food_words and (w,) in known.food_set for w in said)
                or known.food_words.issuperset(said)):  # fmt: skip
                continue
            for to in known.sounding_like(" ".join(said))[:6]:
                if list(to) == said:
                    break
                if size == 1 and _commoner(known, said[0], to):
                    continue
                new = [*folded[:at], *to, *folded[at + size :]]
                gain = _cover(known, new) - _cover(known, folded)
                if as_said and (len(to) > 1 or known.food_at(new, max(at - 1, 0), len(new)) < 2):
                    continue
                if gain > 0.3 and (best is None or gain > best[0]):
                    best = (gain, at, size, to)
    if best is None:
        return
    _, at, size, to = best
    start = food.start + at if len(food.name) == food.end - food.start else food.start
    food.repairs.append((start, start + size, " ".join(food.name[at : at + size]), " ".join(to)))
    food.name[at : at + size] = list(to)
    folded[at : at + size] = list(to)
    food.known = True
    tails = (tuple(folded[n:]) for n in range(len(folded)))
    food.head = next((tail for tail in tails if tail in known.food_set), food.head or to)


def _commoner(known: Lexicon, word: str, read: Phrase) -> bool:
    """More names have the word than what it is taken for: masala, mazola."""
    names = known.in_names
    return names.get(word, 0) > min(names.get(w, 0) for w in read)


def _sounds_as_said(known: Lexicon, food: Food, folded: list[str], at: int) -> bool:
    """The word makes sense as it is, in a name or as a describing word."""
    word, said = folded[at], food.name[at]
    if (word,) in known.food_set or word in known.kinds | known.manners:
        return True
    if any(
        said in words
        for words in (known.prep, known.sizes, known.verbs, word_class("talk"), word_class("dish"))
    ):
        return True
    return (said,) in known.units or any(
        tuple(folded[begin : begin + size]) in known.food_set and begin + size > at
        for size in range(2, 5)
        for begin in range(max(at - size + 1, 0), at + 1)
    )


def _cover(known: Lexicon, folded: list[str]) -> float:
    """How well known names cover a name: the share of its words, longer names first."""
    if not folded:
        return 0.0
    at, score = 0, 0.0
    while at < len(folded):
        length = known.food_at(folded, at, len(folded))
        score += length + 0.2 * max(length - 1, 0)
        at += length or 1
    return score / len(folded) * 2
