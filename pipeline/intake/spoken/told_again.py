"""A food with its amount: a line, or one that was said before, told again, corrected or put in anew."""

from __future__ import annotations

import re
from dataclasses import replace

from pipeline.intake.spoken.foods import countable
from pipeline.intake.spoken.loose_amounts import THOUGHT
from pipeline.intake.spoken.mentions import (
    FEW,
    Amount,
    Mention,
    named_again,
    same_amount,
    same_food,
    same_unit,
    singular_words,
)
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.reading import Reading
from pipeline.intake.spoken.refusals import CHOICE, ONCE, Case, offered, why_not
from pipeline.intake.spoken.talk import Talk

_MORE = re.compile(r"\b(?:another|more|extra)\b")
_UNCOUNTED = 50  # pieces that nobody counts: a number of grams, where others are said in grams
_SOON = 12  # words behind a line in which a second voice says it again
_BACK = 14  # words before an amount in which another is taken back
_NEAR = 5  # words between a line and its food named once more


def read_both(r: Reading, mention: Mention, title: str, doubt: float) -> None:
    """A food with its amount: a line, or one said before.

    Args:
        r: gets it.
        mention: the food.
        title: of the recipe.
        doubt: what speaks for a food that is only talked of, above nought.
    """
    found, food, talk = r.found, mention.food, r.talk
    amount = mention.amount = _with_unit(r, mention)
    case = Case(talk, mention, title)
    why = why_not(case, found, late=r.late, doubt=doubt)
    if (why == CHOICE or (not why and offered(case, found))) and _may_be_added(talk, mention):
        why = ""
        mention.notes.append("optional")
    left = r.left[-1] if r.left else None
    if left is not None and left.why == ONCE and (
        talk.said(left.end, mention.start).lstrip(", ") == "and"
    ):  # fmt: skip
        why = why or ONCE  # "she used a ham hough and half a pound of butter"
    if _named_anew(r, mention, amount):
        return
    same = [
        m for m in found
        if same_food(m.food, food) or (m.amount is None and (
            named_again(m.food, food) or (food.determined and named_again(food, m.food))))
        or _echoes(talk, m, mention)
    ]  # fmt: skip
    if _corrected(r, mention):
        own = [m for m in found if not m.shared]
        other = [m for m in own if named_again(food, m.food)]
        last = [m for m in found[-1:] if not m.shared and named_again(m.food, food)]
        if same or other or last:
            _correct(r, (same or other or last)[-1], mention, amount)
            return
    if why:
        r.leave(mention, why)
        return
    anew = "instead" in talk.said(mention.end, mention.end + 3)
    if same:
        if _said_again(r, same[-1], mention, amount, anew):
            return
    else:
        shorter = next(
            (m for m in found if m.shared
             and (named_again(m.food, food) or (food.known and named_again(food, m.food)))), None,
        )  # fmt: skip
        if shorter is not None and (anew or not named_again(food, shorter.food)):
            if len(food.name) >= len(shorter.food.name):
                shorter.food = food
            _change(shorter, mention, amount)
            return
    r.add(mention)


def _with_unit(r: Reading, mention: Mention) -> Amount:
    """The amount of a mention; "175 grams of butter, 150 of sugar" leaves the unit out."""
    amount, food, last = mention.amount, mention.food, r.last
    assert amount is not None
    if amount.unit is not None:
        return amount
    many = amount.value >= _UNCOUNTED or (amount.value > FEW and (
        not food.determined or not countable(r.talk, food) if amount.of else food.end <= amount.start
    ))  # fmt: skip
    if not amount.size and many:
        grams = r.talk.known.units[("g",)] if r.talk.weighs_in_grams else None
        return replace(amount, unit=grams)
    had = last.amount if last is not None and 0 <= mention.start - last.end <= 4 else None
    of = amount.of and amount.start < food.end  # not "two of those"
    if not of or amount.article or had is None:
        return amount
    told = (had.weighs or had.kind == "package") and food.determined not in word_class("pointing")
    return replace(amount, unit=had.unit) if told else amount


def _may_be_added(talk: Talk, mention: Mention) -> bool:
    """ "you can throw in a handful": an addition; "you can use walnuts" is another choice."""
    wide = talk.sentence(mention.start, 10)
    if phrases("other_choice").search(wide):
        return False
    after = talk.said(mention.end, mention.end + 6)
    return phrases("addition").search(wide) is not None or (
        re.search(r"\b(?:on top|on there|in)\b|\bon it\b", after) is not None
    )


def _named_anew(r: Reading, mention: Mention, amount: Amount) -> bool:
    """The food just named once more: "grated an onion into it, one brown onion", "lime juice,
    60 mil, so two limes"."""
    last, food = r.last, mention.food
    if last is None or last.shared or last.amount is None:
        return False
    had, gap = last.amount, mention.start - last.end
    again = named_again(food, last.food) or named_again(last.food, food)
    if again and had.one and 0 <= gap <= 1:
        last.amount = amount  # "a vanilla quark, 250 grams of quark"
    elif again and had.article and had.unit is not None and not had.weighs and (
        amount.kind == "mass" and not last.also and 0 <= gap <= _NEAR and food.start < amount.start
    ):  # fmt: skip
        last.also = [amount]  # "a block of tofu, firm tofu, 300 grams"
        last.food = max(last.food, food, key=lambda food: len(food.name))
    elif amount.measured or not 0 <= gap <= _NEAR or _MORE.search(
        r.talk.said(last.end, food.start)
    ):  # fmt: skip
        return False
    else:
        old, new = singular_words(last.food), singular_words(food)
        if not (old < new and had.article and amount.value == had.value == 1):
            small = word_class("around_numbers") - {"so", "is"}
            between = [w for w in r.talk.text[last.end : mention.start] if w not in small]
            told = between and between[-1] in ("so", "or", "that's", "is") and bool(old & new)
            if not told or not had.measured or amount.unit is not None:
                return False
            r.mark(mention, last)
            return True
        last.food = food
    last.end = mention.end
    last.amount_spans += mention.amount_spans
    return True


def _echoes(talk: Talk, had: Mention, mention: Mention) -> bool:
    """A line said again in more or fewer words in the next sentence, as a second voice does."""
    amount, old = mention.amount, had.amount
    if amount is None or old is None or not amount.measured or not same_amount(amount, old):
        return False
    shorter = named_again(mention.food, had.food)
    if not shorter and not named_again(had.food, mention.food):
        return False
    if shorter and not amount.article and amount.name not in ("tsp", "tbsp"):
        return True  # "a cup of mild cheddar, I weighed it, so a cup of cheddar"
    return mention.start + 1 - had.end <= _SOON and talk.stopped(had.end, mention.start + 1)


def _corrected(r: Reading, mention: Mention) -> bool:
    """The speaker took an amount back just before this one."""
    ends = (m.end for m in r.found if m.end <= mention.start and not m.shared)
    start = max([mention.start - _BACK, *ends])
    said = f" {r.talk.said(start, mention.start)} "
    said += ", " if r.talk.words[mention.start].breaks else ""
    return phrases("corrects").search(said) is not None


def _correct(r: Reading, target: Mention, mention: Mention, amount: Amount) -> None:
    """The speaker took an amount back and gives another."""
    if target.amount is not None:
        target.refused.append(target.amount)
    target.take(amount, mention)
    if len(mention.food.name) > len(target.food.name):
        target.food = mention.food
    target.end = mention.end
    r.mark(mention, target)


def _change(had: Mention, mention: Mention, amount: Amount) -> None:
    """A line taken over gets an amount of its own."""
    had.take(amount, mention)
    had.start, had.end, had.shared = mention.start, mention.end, "changed"


def _said_again(r: Reading, had: Mention, mention: Mention, amount: Amount, anew: bool) -> bool:
    """A food that has a line already: True when it needs no other."""
    talk, food, old = r.talk, mention.food, had.amount
    if old is None:
        had.amount = amount
        had.food = food if len(food.name) >= len(had.food.name) else had.food
        had.amount_spans += mention.amount_spans
        return True
    more = _MORE.search(talk.said(amount.start - 2, food.start))
    if old.one and had is r.found[0] and amount.unit is None and not (amount.article or more):
        had.take(amount, mention)  # "with an egg on top it's supper ... four eggs"
        return True
    if r.section and had.section != r.section and not had.shared:
        return False  # "for the filling, one egg"
    if had.shared:
        same = same_amount(old, amount)
        if not same and (anew or not more):
            _change(had, mention, amount)
        return same or anew or not more
    if not more and _only_named(talk, had, mention, amount):
        r.mark(mention, had)
        return True
    reach = THOUGHT if had is r.last else _SOON
    adds = _adds(talk, had, mention)
    if mention.start - had.end > reach or not same_unit(old, amount) or adds:
        return not more and not (adds or _put_in(talk, had, mention))
    if _tells_anew(talk, mention):
        had.take(amount, mention)
    return True


def _adds(talk: Talk, had: Mention, mention: Mention) -> bool:
    """ "And two onions": so many more."""
    start = max(had.end, (mention.amount or mention).start - 3)
    said = talk.said(start, mention.food.start)
    return re.search(r"\b(?:another|more|extra|plus|and)\b", said) is not None


def _put_in(talk: Talk, had: Mention, mention: Mention) -> bool:
    """A food that has its line is put in once more: the clause says so, or is an item of a list.
    Not "at the wedding we went through four kilos of prawns"."""
    if talk.close(mention.end) == "for":
        return True
    clause = re.split(r"[|,]", talk.lead(mention.start, 8))[-1].split()
    puts = (talk.known.verbs - word_class("verb")).union(
        *map(word_class, ("puts_in", "goes_on", "before_tools"))
    )
    said = " ".join(clause)
    if not puts.isdisjoint(clause) or any(phrases(p).search(said) for p in ("added", "i_use")):
        return True
    told = {"that's", "which", "it's"} & {*clause} and mention.start - had.end <= _SOON
    small = word_class("filler") | word_class("link") | word_class("function")
    return not told and small.issuperset(clause)


def _only_named(talk: Talk, had: Mention, mention: Mention, amount: Amount) -> bool:
    """The food is worked with, shared out or talked of: "two of the eggs", "cut it in
    eight pieces of tofu"."""
    old, food = had.amount, mention.food
    lead = talk.sentence(mention.start, 9)
    assert old is not None
    if same_amount(old, amount):
        return True
    shared = phrases("a_serving").search(lead) and same_unit(old, amount)
    if shared and 0 < amount.value < old.value and old.value % amount.value == 0:
        return True
    pointed = talk.close(food.start) and talk.word(food.start - 1) in word_class("pointing")
    if amount.of and pointed and amount.start < food.start:
        return not phrases("corrects").search(f" {lead} ")
    counted = amount.kind in ("", "count")
    return old.weighs and not old.article and counted and not _adds(talk, had, mention)


def _tells_anew(talk: Talk, mention: Mention) -> bool:
    """An amount without a word of correction takes the place of another: it opens its clause, or
    the speaker says that he uses it. Not "take one egg", nor "you get six in a bag"."""
    amount = mention.amount
    if amount is None or amount.one:
        return False  # "there's grit in a leek"
    clause = re.split(r"[|,]", talk.lead(mention.start, 6))[-1].split()
    small = word_class("filler") | word_class("link") - {"take"} | word_class("correct")
    said = " ".join(clause)
    if phrases("so_in_all").search(said) or clause[-2:] == ["make", "it"]:
        return True
    other = {"if", "when", "for"} & set(talk.sentence(mention.start, 9).split())
    says = not other and phrases("i_use").search(said) is not None
    return says or not word_class("correct").isdisjoint(clause) or small.issuperset(clause)
