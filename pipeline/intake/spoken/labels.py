"""Words for nutrients and the numbers that may state one, each as it stands."""

from __future__ import annotations

from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.stated import CARBS, ENERGY, FAT, PROTEIN, Item
from pipeline.intake.spoken.talk import Talk
from pipeline.nutrients import NET_CARBS_TAG

#: Word → the nutrient it may mean.
LABELS = {
    word: tag
    for tag in (ENERGY, PROTEIN, CARBS, FAT, "FIBTG", "SUGAR", "FASAT")
    for word in word_class(tag)
}
GRAMS = word_class("grams")
_LETTERS = {"p": PROTEIN, "c": CARBS, "f": FAT}
_FOODS = ("powder", "bar", "free")  # behind a nutrient


def labels_in(talk: Talk) -> dict[int, Item]:
    """The nutrient words of a script, by their places."""
    found = (_label(talk, at) for at in range(talk.n))
    return {item.start: item for item in found if item is not None}


def _label(talk: Talk, at: int) -> Item | None:
    """Nutrient word at a place; None when none is meant."""
    text, after = talk.text[at].removesuffix("'s"), talk.close(at + 1)
    if text in _LETTERS:
        return Item(at, at + 1, None, _LETTERS[text]) if _letter(talk, at) else None
    if text == "net" and LABELS.get(after) == CARBS:
        return Item(at, at + 2, None, NET_CARBS_TAG)
    if text in ("saturated", "sat") and after in ("fat", "fats"):
        return Item(at, at + 2, None, "FASAT")
    tag = LABELS.get(text, "")
    item = Item(at, at + 1, None, tag)
    before = "" if talk.words[at].breaks else talk.word(at - 1)
    if tag and before == "no" and talk.is_number(at + 1) and talk.words[at + 1].breaks:
        return item  # "almost no carbs, three grams"
    if not tag or before in word_class("before_kinds_of_food") or (
        before == "of" and talk.word(at - 2) == "lot"
    ) or {"scoop", "scoops"} & {talk.word(at - back) for back in (1, 2, 3, 4)}:  # fmt: skip
        return None
    if tag in ("SUGAR", "FIBTG", "FASAT"):
        lead = at - 2 if before == "of" else at - 1
        grams = lead > 0 and talk.text[lead] in GRAMS and talk.is_number(lead - 1)
        if not grams and (before == "of" or not talk.is_number(at - 1)):
            return None
    names_food = talk.food_length(at) > 1 or (
        tag != ENERGY and _of_food(talk, at + 1) and not _in_list(talk, at)
    )
    return None if names_food else item


def _of_food(talk: Talk, at: int) -> bool:
    """The word behind a nutrient makes a food of it: "protein bar", "fat free"."""
    after = talk.close(at)
    if not after or talk.is_number(at) or after in LABELS:
        return False
    return talk.food_length(at) > 0 or after in word_class("dish") or after in _FOODS


def _in_list(talk: Talk, at: int) -> bool:
    """A nutrient word right behind its number, and another nutrient right before:
    "14 carbs 6 grams of fat tuna pasta is next"."""
    number = at - 1
    while number > at - 3 and talk.text[number] in ("of", *GRAMS):
        number -= 1
    listed = not LABELS.keys().isdisjoint(talk.text[max(number - 3, 0) : number])
    product = talk.close(at + 1) in _FOODS
    return not product and number > 0 and talk.counts(number) and listed


def _letter(talk: Talk, at: int) -> bool:
    """ "29P / 28C / 4F", "P 29, C 28": a letter beside a number, and another such pair next."""

    def pair(at: int, number: int) -> bool:
        letter = 0 < at < talk.n and talk.text[at] in _LETTERS
        return letter and talk.is_number(at + number)

    return any(pair(at, side) and (pair(at + 2, side) or pair(at - 2, side)) for side in (-1, 1))


def number_at(talk: Talk, at: int) -> Item | None:
    """A number that may state a nutrient."""
    word, after = talk.words[at], talk.close(at + 1)
    if word.value is None or after == "percent" or (
        after == "of" and counts_food(talk, at + 2, talk.n)  # "110 sugar, 200 of flour"
    ):  # fmt: skip
        return None
    before = "" if word.breaks else talk.word(at - 1)
    if after in GRAMS:
        gram = LABELS.keys() & {talk.close(at + 2), talk.close(at + 3)}  # "a gram of fat"
        if (word.article and not gram) or before in word_class("numbered"):
            return None
        return Item(at, at + 2, word.value)
    beside = LABELS.keys() & {after, talk.close(at + 2), talk.word(at - 1)}
    if word.article or (word.share and not beside):
        return None
    if before in word_class("numbered") and after not in LABELS:
        return None
    unit, _ = talk.unit_at(at + 1)
    if after and (unit is not None or after in word_class("no_nutrient_unit")):
        return None
    return Item(at, at + 1, word.value)


def numbers_in(talk: Talk, start: int, end: int) -> list[Item]:
    """The numbers of a stretch that may state a nutrient."""
    return [n for at in range(start, min(end, talk.n)) if (n := number_at(talk, at))]


def counts_food(talk: Talk, at: int, end: int) -> bool:
    """A food stands right behind a number, a word of size between at most: "1 big cucumber"."""
    if talk.close(at) in word_class("before_units") and not talk.food_length(at):
        at += 1
    if at >= end or talk.words[at].breaks or not talk.food_length(at):
        return False
    text = talk.text[at]
    return text not in LABELS and text not in word_class("container") | word_class("talk")
