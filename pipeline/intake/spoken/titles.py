"""What a dish is called, from the words behind its announcement."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pipeline.intake.spoken.amounts import amount_at
from pipeline.intake.spoken.captions import pieces
from pipeline.intake.spoken.phrases import word_class
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.words import NUMBERS_IN_WORDS, Span

_SOON = 30  # words behind an announcement in which a dish is named


@dataclass(slots=True)
class Title(Span):
    """A dish's name, and whether it names a dish or a food."""

    text: str
    dish: bool


def title_after(talk: Talk, at: int) -> Title | None:
    """The dish named from ``at`` on; None when no words there could be a name.

    What stands there first is taken, unless "is the", "it's my" or "called" soon leads to a dish.
    """
    if talk.joined(at) == "with":  # "next one, with the sauce that's left, I make a pozole"
        at = next(
            (k for k in range(at + 1, min(at + _SOON // 2, talk.n)) if talk.words[k].breaks), at
        )
    written = _in_capitals(talk, at)
    first = named_at(talk, at)
    if written is not None:
        return written
    if first is not None and first.dish:
        return first
    for begin in _before_number(talk, at):
        if talk.text[begin] == "called" or (
            talk.text[begin] in ("is", "it's", "that's", "are", "this")
            and _presents(talk, begin + 1)
        ):
            later = named_at(talk, begin + 1)
            if later is not None and later.dish:
                return later
    talks = first is not None and _talks(talk, first)
    if first is not None and not talks and first.start - at <= 3:
        return first
    for begin in range(at + 1, min(at + 12, talk.n)):
        if talk.stops(begin):
            later = named_at(talk, begin)
            if later is not None and later.dish and later.start - begin <= 2:
                return later
    return None if talks else first


def dish_named(text: str) -> str:
    """The dish that a sentence names, as a title; "" for none.

    >>> dish_named("yeah. doing mackerel rice, for 2 if you want half"), dish_named("eat something")
    ('Mackerel rice', '')
    """
    talk = Talk.of(pieces(text, "script"))
    title = title_after(talk, 0) if talk.n else None
    return title.text if title is not None and title.dish else ""


def _in_capitals(talk: Talk, at: int) -> Title | None:
    """The first dish written as a name: "what we call the Ward Four Tomato Soup"."""
    for begin in range(at, min(at + _SOON, talk.n)):
        amount = amount_at(talk, begin)
        if amount is not None and amount.measured and not amount.article:
            return None
        end = begin
        counts = talk.counts(begin) and talk.stops(begin)
        if talk.text[begin] in word_class("before_titles") or counts:
            continue
        while end < talk.n and talk.words[end].capital and (end == begin or talk.close(end)):
            end += 1
            small = talk.close(end) in word_class("within_titles") and talk.close(end + 1)
            end += bool(small and talk.words[end + 1].capital)
        dishes = sum(
            talk.food_length(k) > 0 or talk.text[k] in word_class("dish") for k in range(begin, end)
        )
        named = talk.close(begin) and talk.word(begin - 1) in ("is", "called")
        if end - begin > 1 and (dishes or named):
            return Title(begin, end, _titled(talk, begin, end), True)
    return None


def _before_number(talk: Talk, at: int) -> Iterator[int]:
    """Places from ``at`` on, up to the first number."""
    for begin in range(at, min(at + 14, talk.n - 1)):
        if talk.counts(begin):
            return
        yield begin


def _presents(talk: Talk, at: int) -> bool:
    """ "a", "the", "my": a name may follow; or "two pan"."""
    return (
        talk.words[at].article
        or talk.word(at + 1) in ("pan", "pot", "tray")
        or talk.text[at] in ("the", "my", "our", "is", "called", "what")
    )


def _talks(talk: Talk, title: Title) -> bool:
    """Words that could be any talk: pronouns, people, times."""
    known = talk.known
    words = [w.removesuffix("'s") for w in talk.text[title.start : title.end]]
    return all(w in word_class("talk") or w in talk.small or w in known.verbs for w in words) or (
        words[0] in word_class("function")
    )  # fmt: skip


def named_at(talk: Talk, at: int) -> Title | None:
    """The name that stands at a place, small words skipped."""
    begin = _name_begins(talk, at)
    if begin is None or begin >= talk.n or talk.text[begin] in word_class("negative"):
        return None
    if talk.word(begin + 1) == "of" and talk.unit_at(begin)[0] is not None:
        return None
    end, dish = _name_ends(talk, begin)
    while end > begin and talk.text[end - 1] in word_class("title_tail"):
        end -= 1
    if end <= begin:
        return None
    meals = word_class("meals")
    if end - begin > 2 and talk.text[begin] in meals - {"breakfast", "pudding"} and dish:
        begin += 1
    if end - begin == 1 and talk.text[begin] in meals and end < talk.n and talk.words[end].breaks:
        after = named_at(talk, end)
        if after is not None and after.dish:
            return after
    return Title(begin, end, _titled(talk, begin, end), dish)


def _titled(talk: Talk, begin: int, end: int) -> str:
    """Words as a title."""
    written = [w.capital and NUMBERS_IN_WORDS.get(w.text) for w in talk.words[begin:end]]
    text = " ".join(a or b for a, b in zip(written, talk.text[begin:end], strict=True))
    text = text.replace(" percent", "%")
    return text[0].upper() + text[1:]


def _name_begins(talk: Talk, at: int) -> int | None:
    """First word of the name behind small words; None before a number."""
    begin = at
    while begin < talk.n and begin - at < 9:
        word, text = talk.words[begin], talk.text[begin]
        if talk.counts(begin):
            several = talk.word(begin + 1) in ("pan", "pot", "tray", "bowl", "ingredient")
            return begin + 1 if several else None
        if begin == at and text in word_class("numbered_dish") and talk.counts(begin + 1) and (
            not talk.words[begin + 1].share
        ):  # fmt: skip
            begin += 2  # "meal two, meal two is …"
        elif text in word_class("batch_of") and talk.close(begin + 1) == "of":
            begin += 2
        elif word.article or (text in word_class("before_titles") and talk.food_length(begin) < 2):
            begin += 1
        else:
            break
    return begin


def _is_clause(text: str) -> bool:
    """A pronoun with its verb: "my girlfriend she's off meat"."""
    return text in word_class("function") and "'" in text


def _name_ends(talk: Talk, begin: int) -> tuple[int, bool]:
    """End of a name, and whether it names a dish."""
    end, dish = begin, False
    while end < talk.n and end - begin < 7 and talk.words[end].value is None:
        text = talk.text[end]
        if end > begin and (talk.words[end].breaks or _is_clause(text)):
            break
        length = talk.food_length(end)
        fry = text == "stir" and talk.close(end + 1) == "fry"
        if length > 1 or fry or (end > begin and text in word_class("deed_dish")):
            dish, end = True, end + max(length, 1 + fry)
            continue
        if text == "the" and end > begin and talk.text[end - 1] not in word_class("within_titles"):
            break  # "carrot and ginger the base again"
        known = length > 0 or text in word_class("dish")
        if (text in word_class("behind_titles") and end > begin) or (
            text in talk.known.verbs and not known
        ):
            break
        dish |= known
        end += 1
    return end, dish
