"""Words that say that the next recipe comes: "next up", "number two", "the third one"."""

from __future__ import annotations

import re
from collections.abc import Mapping

from pipeline.intake.spoken.contents import Contents
from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.stated import Total
from pipeline.intake.spoken.talk import Talk
from pipeline.intake.spoken.titles import named_at
from pipeline.intake.spoken.words import STRONG

_BACK = 60  # words back to the full stop before
_NEAR = 3  # words behind an announcement in which what comes next is an ingredient
_LED = 8  # and between it and the amount of that
_STATED = 30  # words behind the name of a dish in which its numbers are said
_MEASURES = ("mass", "volume", "trade")
#: Place, end of the words, and which one comes, where that is told.
Announcement = tuple[int, int, int | None]


def announcements(contents: Contents) -> list[Announcement]:
    """What says that the next recipe comes, and no ingredient."""
    talk = contents.talk
    out: list[Announcement] = []
    for match in phrases("announced").finditer(talk.flow):
        at = talk.at(match.start())
        order = int(match["n"]) if match["n"] else None
        ordinal = match["ord"] or match["ord2"] or match["ord3"]
        if ordinal:
            order = talk.known.ordinals.get(ordinal)
        if not refers_back(talk, at) and not (ordinal and _amid_lines(contents, at)):
            out.append((at, talk.from_offset(match.end()), order))
    out += _numbered(talk, _series(talk))
    out += _numbered(talk, _ordinal_series(talk))
    out += _bare_numbers(contents)
    return [one for one in out if not _of_an_ingredient(contents, *one[1:])]


def refers_back(talk: Talk, at: int) -> bool:
    """ "the same as the last one": points back, announces nothing."""
    if talk.stops(at):
        return False
    return phrases("refers_back").search(talk.said(at - 3, at)) is not None


def _of_an_ingredient(contents: Contents, body: int, order: int | None) -> bool:
    """ "And lastly the walnuts, 30 grams": what comes next is measured right there."""
    words = contents.talk.words
    return order in (None, 0, -1) and any(
        not any(words[at].breaks == STRONG for at in range(body + 1, c.start + 1))
        and c.amount is not None
        and (c.measured or not c.amount.article)
        and c.amount.start - body <= _LED
        for c in contents.both_in(body, body + _NEAR)
    )


def _amid_lines(contents: Contents, at: int) -> bool:
    """ "Two parsnips, the third one was for the dog": in the sentence of an ingredient."""
    if not contents.punctuated:
        return False
    words = contents.talk.words
    back = range(at, max(at - _BACK, -1), -1)
    return bool(contents.chunks_in(next((k for k in back if words[k].breaks == STRONG), at), at))


def _numbered(
    talk: Talk, series_of: Mapping[str, dict[int, tuple[int, int]]]
) -> list[Announcement]:
    """Recipes that are numbered in a row, each where its number is said first."""
    out: list[Announcement] = []
    for noun, numbers in series_of.items():
        counted = noun in word_class("counted_recipes")
        kinds = counted or phrases("kind_of_dish").fullmatch(noun) is not None
        series = {1, 2} <= numbers.keys() or (kinds and any(k + 1 in numbers for k in numbers))
        if not series and counted:
            named = {k: named_at(talk, end) for k, (_, end) in numbers.items()}
            numbers = {k: numbers[k] for k, title in named.items() if title and title.dish}
        elif not series:
            continue
        last = -1
        for number, (at, end) in sorted(numbers.items()):
            if at <= last:
                break
            last = at
            if not refers_back(talk, at):
                out.append((at, end, number))
    return out


def _bare_numbers(contents: Contents) -> list[Announcement]:
    """Numbers in a row from one on, each before a dish and its stated numbers: "one red rice pot, per
    box 502 calories ... two tuna pasta, one box 566"."""
    talk = contents.talk
    out: list[Announcement] = []
    last: Total | None = None
    for at in range(talk.n - 1):
        if not talk.counts(at) or talk.number(at) != len(out) + 1 or talk.words[at + 1].breaks:
            continue
        title = named_at(talk, at + 1)
        total = contents.total_from(at)
        if title is None or not title.dish or title.start > at + 1 or total in (None, last):
            continue
        if talk.unit_at(at + 1)[0] is not None or title.end - title.start < 2:
            continue
        if total.start - title.end <= _STATED and not any(
            c.measured for c in contents.both_in(title.end, total.start)
        ):
            out.append((at, at + 1, len(out) + 1))
            last = total
    return out if len(out) > 1 else []


def _ordinal_series(talk: Talk) -> dict[str, dict[int, tuple[int, int]]]:
    """Words that ordinals count, "first pot", "second pot", where no phrase tells that they are
    dishes: word → number → its first place and its end."""
    seen: dict[str, dict[int, tuple[int, int]]] = {}
    for at in range(talk.n - 1):
        number = talk.known.ordinals.get(talk.text[at], 0)
        noun = talk.close(at + 1)
        if number < 1 or talk.words[at].share or not noun.isalpha() or talk.food_length(at + 1):
            continue
        if noun in talk.small or noun in talk.known.verbs or (noun,) in talk.known.units or (
            noun in word_class("talk") or phrases("kind_of_dish").fullmatch(noun)
        ):  # fmt: skip
            continue
        seen.setdefault(noun, {}).setdefault(number, (at, at + 2))
    return seen


def _series(talk: Talk) -> dict[str, dict[int, tuple[int, int]]]:
    """Words that are numbered, "recipe one": word → number → its first place and its end."""
    seen: dict[str, dict[int, tuple[int, int]]] = {}
    for match in re.finditer(r"\b([a-z]{3,}) (\d{1,2})(?![\d.])", talk.flow):
        noun, number = match[1], int(match[2])
        end = talk.from_offset(match.end())
        if noun in talk.small or noun in talk.known.verbs or noun == "number" or number < 1:
            continue
        unit, _ = talk.unit_at(end)
        if talk.food_length(end - 2) or (unit is not None and unit.kind in _MEASURES):
            continue
        if noun in word_class("counted_recipes") or not (
            (noun,) in talk.known.units or noun in word_class("talk")
        ):
            seen.setdefault(noun, {}).setdefault(number, (talk.at(match.start()), end))
    return seen
