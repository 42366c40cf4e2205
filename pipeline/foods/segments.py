"""One part of a description, between commas or in brackets, read into what it says."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise

from pipeline.foods.vocabulary import (
    BESIDE,
    CONTRARY,
    FUNCTION,
    GONE,
    JOINS,
    NOT,
    OPENS,
    THERE,
    UNSAID,
    WITH,
    WITHOUT,
    Meaning,
    vocabulary,
)
from pipeline.foods.words import fold, singular
from pipeline.foods.words import words as all_words

_TOKEN = re.compile(r"[a-z][a-z0-9'&]*|[0-9]+[a-z]+[a-z0-9'&]*")
#: Numbers with their unit or sign are read by ``numbers``; here they would only be in the way.
_FIGURES = re.compile(
    r"(?<![a-z0-9'&])[0-9][0-9./,]*\s*"
    r"(?:(?:%|(?:g|grams?)\b)\s*"  # a share or an amount of a nutrient: "9% protein", "20% fat"
    r"(?:(?:lean(?:\s+meat)?|(?:milk|butter)?fat|protein|cacao|cocoa)\b(?:\s+solids)?)?"
    r"|\"|''|(?:inch(?:es)?|oz|ounces?|ml)\b|(?![a-z0-9]))"
)


#: A word of a name, the part it names ("" none, "+" an adjective), heads that forbid that.
Name = tuple[str, str, frozenset[str]]
_ANY: frozenset[str] = frozenset()
_SETTLED = THERE | GONE
_ENDS = FUNCTION | WITHOUT | BESIDE


@dataclass(slots=True)
class Reading:
    """What one part says; parts repeat over a table, so readings are kept.

    Attributes:
        words: every word in order, singular.
        content: words that are left as name once states, forms and function words are taken out.
        names: (word, part of a body or plant it names, heads under which it names none) of
            ``content``; ``"+"`` for the part marks an adjective.
        beside: words of clauses ("with pork and sweet sauce"); ``denied``: of "without ...".
        says: (key, value) pairs in the order of the text.
        only_if: (heads, pairs) that count under certain heads only.
        group: it is nothing but a heading that gathers foods ("Nuts", "USDA Commodity").
        empty: nothing in it names a food.
        maker: it is a name in capitals: "HORMEL ALWAYS TENDER".
    """

    words: tuple[str, ...]
    content: tuple[str, ...] = ()
    names: tuple[Name, ...] = ()
    beside: tuple[str, ...] = ()
    denied: tuple[str, ...] = ()
    says: tuple[tuple[str, str], ...] = ()
    only_if: tuple[tuple[frozenset[str], tuple[tuple[str, str], ...]], ...] = ()
    group: bool = False
    empty: bool = False
    maker: bool = False


@dataclass(slots=True)
class _Scan:
    """State of one pass over the words of a part."""

    words: list[str]
    raw: list[str]
    content: list[Name] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)
    denied: list[str] = field(default_factory=list)
    says: list[tuple[str, str]] = field(default_factory=list)
    only_if: list[tuple[frozenset[str], tuple[tuple[str, str], ...]]] = field(default_factory=list)
    clause: str = ""  # "", "with", "without" or "beside"
    topic_met: bool = False  # the open clause has named its topic
    denies_next: bool = False


def _found(scan: _Scan, at: int) -> Sequence[Meaning]:
    """The meanings of the longest phrase that starts at a word and counts there."""
    meanings = vocabulary().meanings
    words, raw, end = scan.words, scan.raw, len(scan.words)
    found: list[Meaning] = []
    candidates = meanings.get(words[at], ())
    if raw[at] != words[at]:
        candidates = meanings.get("=" + raw[at], ()) + candidates
    for meaning in candidates:
        size = len(meaning.phrase)
        if found and size < len(found[0].phrase):
            break
        stop = at + size
        if size > 1 and (
            stop > end
            or words[at + 1] != meaning.phrase[1]
            or tuple(words[at:stop]) != meaning.phrase
        ):
            continue
        place = meaning.place
        if place == "first" and (at or stop == end):
            continue
        if place == "only" and (at or stop != end):
            continue
        if place == "last" and stop != end and words[stop] not in _ENDS:
            continue
        if place == "clause" and scan.clause not in ("with", "without"):
            following = words[stop : stop + 2]
            if not following or not (following[0] in THERE or following[0] in NOT):
                continue
        if stop < end and any(tuple(words[stop : stop + len(p)]) == p for p in meaning.not_before):
            continue
        if at and meaning.not_after and words[at - 1] in meaning.not_after:
            continue
        found.append(meaning)
    whole = [m for m in found if m.place == "only"]
    return whole or found


def _topic(scan: _Scan, stop: int) -> bool | None:
    """Whether the topic before a word (salt, skin ...) is there, gone, or only mentioned (None)."""
    following = scan.words[stop : stop + 4]
    nxt = following[0] if following else ""
    if any(a in NOT and b in _SETTLED for a, b in pairwise(following)):
        return False  # "skin not eaten", "skin or coating not eaten"
    if nxt in THERE:
        return scan.clause != "without"
    if nxt in GONE:
        return False
    if scan.clause == "without":
        return False
    if scan.clause == "with":
        return True
    if stop - 2 >= 0 and scan.words[stop - 2] == "added":
        return True
    return None


def _apply(scan: _Scan, found: Sequence[Meaning], at: int) -> None:
    size = len(found[0].phrase)
    stop = at + size
    here = scan.words[at:stop]
    topics = [value for m in found for key, value in m.says if key == "topic"]
    if scan.topic_met and not topics and (not at or scan.words[at - 1] not in JOINS):
        scan.clause, scan.topic_met = "", False  # "with skin roasted": the clause was "with skin"
    if topics:
        there = _topic(scan, stop)
        if there is not None:
            scan.says.append((topics[0], "yes" if there else "no"))
            scan.topic_met = True
            return
        ends = stop == len(scan.words) or scan.words[stop] in WITH | WITHOUT | BESIDE
        if topics[0] in ("skin", "bone") and ends and not scan.clause:  # "potatoes, skin only"
            scan.content.append((" ".join(here), topics[0], _ANY))
            return
        scan.content.extend((w, "", _ANY) for w in here)
        return
    if scan.clause == "without":
        scan.denied.extend(here)
        return
    if scan.clause in ("with", "beside") and not scan.topic_met:
        scan.beside.extend(here)
        return
    for meaning in found:
        if scan.denies_next:
            scan.says.extend(
                (key, CONTRARY.get(value, "un" + value) if key == "state" else "no")
                for key, value in meaning.says
                if key in ("state", "salt", "sugar", "skin", "bone", "vitamins", "drained")
            )
        elif meaning.head:
            scan.only_if.append((meaning.head, meaning.says))
        else:
            scan.says.extend(meaning.says)
    noun = any(m.noun for m in found)
    if noun and not scan.denies_next:
        part = next((v for m in found for k, v in m.says if k == "part" and not m.head), "")
        if not part and any(k == "adjective" for m in found for k, _ in m.says):
            part = "+"
        if part and size > 1 and part != " ".join(here):
            scan.content.extend((w, "", _ANY) for w in here[:-1])
            here = here[-1:]
        scan.content.append((" ".join(here), part, found[0].unless))
    scan.denies_next = False


def _step(scan: _Scan, at: int) -> int | None:
    """Read what stands at a word; the next place to read, None where the rest says nothing."""
    word = scan.words[at]
    if word in UNSAID:  # "NS as to fat eaten"
        return None
    if word == "of" and scan.content and scan.content[-1][1] not in ("", "+"):
        scan.says.append(("part of", scan.content.pop()[1]))  # "leg of lamb"
        return at + 1
    known = word in vocabulary().meanings or scan.raw[at] != word
    found = _found(scan, at) if known else ()
    if found:
        _apply(scan, found, at)
        return at + len(found[0].phrase)
    if word in WITHOUT:
        scan.clause, scan.topic_met = "without", False
    elif word in NOT:
        scan.denies_next = True
    elif word in WITH:
        scan.clause, scan.topic_met = "with", False
    elif word in BESIDE and (at or word in OPENS):
        scan.clause, scan.topic_met = "beside", False
    elif scan.topic_met and word not in JOINS and word not in FUNCTION:
        scan.clause, scan.topic_met = "", False
        return at  # the clause is over: read the word again
    elif word in FUNCTION or word in _SETTLED:
        if word in GONE or (word in THERE and scan.denies_next):
            scan.denies_next = False
    elif scan.clause == "without" or scan.denies_next:
        scan.denied.append(word)
        scan.denies_next = False
    elif scan.clause:
        scan.beside.append(word)
    else:
        scan.content.append((word, "", _ANY))
    return at + 1


@lru_cache(maxsize=50_000)
def read_segment(text: str) -> Reading:
    """Read one part of a description.

    Args:
        text: the part without its comma or brackets, as written.
    """
    folded = fold(text)
    figures = any(map(str.isdigit, folded))
    if figures:
        folded = _FIGURES.sub(" ", folded)
    raw = [w for w in (t.strip("'&") for t in _TOKEN.findall(folded)) if len(w) > 1 or w == "a"]
    scan = _Scan([singular(w) for w in raw], raw)
    at: int | None = 0
    while at is not None and at < len(raw):
        at = _step(scan, at)
    return Reading(
        words=all_words(text),
        content=tuple(w for name in scan.content for w in name[0].split()),
        names=tuple(scan.content),
        **{name: tuple(getattr(scan, name)) for name in ("beside", "denied", "says", "only_if")},
        group=tuple(scan.words) in vocabulary().headings,
        empty=not scan.content,
        maker=text.isupper() and sum(map(str.isalpha, text)) > 3 and "USDA" not in text,
    )
