"""Lines that state several facts at once: "Prep 10 min · Serves 4 · 512 kcal per serving".

``find_facts`` finds what a line says of yield and time beside anything else it holds. Yields are
handed to ``servings.read_yield`` as written; what is left, at the same places of the line, can be
read as stated numbers without taking "4" of "Serves 4 - 512 kcal" for one of them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.foods.words import singular
from pipeline.intake.numbers import DIGITS, Roles, words_of

#: A number that carries its own unit of energy, mass or share is no count.
_COUNT = "[number count one unity hundred] (?! metric | energy | energy_unit | letter | percent)"
_RANGE = f"{_COUNT} (?: to {_COUNT})?"
_THING = "[word portion serving servings whole container slice small size recipe item thing unit single dozen fraction]"
_SERVED = (
    "(?: [portion servings serving serve] | serves (?! colon? [number unity hundred count one]))"
)
#: One to three words that are no facts of their own, up to where something else begins.
_NOUN = f"{_THING} {{0,3}}"
_NOTE = (
    f"(?: of hedge? {DIGITS} [metric unit])?"
    "(?: open [^ open close energy energy_unit nutrient letter percent comma colon bar slash dot]* close)?"
)
_TIMES = f"(?: times {DIGITS} metric)?"
_YIELDS = (
    f"divided (?P<yield> {_COUNT} {_SERVED}?)",
    f"[one unity] (?: of | in) (?P<yield> {_COUNT} {_SERVED})",
    f"^ [one unity] of (?P<yield> {_COUNT}) (?= colon? number [energy energy_unit])",
    "(?<! slash) [it enough recipe]? (?: makes | serves | (?<! per) servings | serve (?= colon)) colon?"
    f" [hedge limit]* {_RANGE}{_TIMES}{_NOUN}{_NOTE}",
    f"(?<! [per of each slash]) for? [hedge limit]* (?! [one unity]) {_RANGE}{_TIMES}"
    f" [word size small whole hedge]? to? {_SERVED} {_NOTE}",
    "for? definite? [number count] of diners",
    f"(?: company | [makes serves] article [word whole container] of | ^ mark* recipe of) {_COUNT}"
    f" {_NOUN} | for definite? count (?! word) | single",
)
_SHARE = (
    "[per for in] article? one? (?: unity slash (?P<over> number) | (?P<named> fraction | number))"
    " of? [article definite]* entire? [whole container recipe]"
)
_TIME = (
    f"[timing total in]* colon? {DIGITS} (?: to {DIGITS})? to? time dot?"
    f" (?: [and comma]? {DIGITS} to? time dot?)? timing?"
)
#: "Nutrition (8 slices) per slice": what the dish gives, where the words behind say for how much.
_HEADED = (
    f"^ mark* announce word? open (?P<yield> {_RANGE}{_NOUN}) close (?= [colon mark]* [per each])"
)
#: A line that only says a yield: its key and a number, up to the end of a sentence; or a number and
#: what it counts.
_YIELD_LINE = (
    "^ [mark open it enough recipe]*"
    " (?P<key> makes | serves | portion | servings | for | recipe of) close? [colon bar]?"
    " [hedge limit dot]* (?P<yield> (?= [number unity hundred count one article endless] | to number)"
    " (?: [^ dot] | (?<= [hedge metric unit time]) dot){1,40}) [dot mark]* $"
    " | ^ [mark open]* [makes serves servings] colon (?P<open> .{1,20}) $"
    f" | ^ [mark open]* (?P<count> {_RANGE} (?: portion | serving | servings | serves)"
    f" | {_RANGE} {_NOUN} colon (?P<equal> {_RANGE} [portion serving servings])"
    f" | (?! [one unity]) {_RANGE} size? [slice item]) [mark close dot]* $"
)
_YIELD_CHARS, _YIELD_WORDS = 110, 12
_PARTS = re.compile(r"\s{2,}|\s*(?:[|·•;\n]|,(?!\d)|\s[-–—/]\s|\.\s)\s*")
#: Between the columns of a line; what stands behind belongs to another fact.
_WIDE = re.compile(r"\s{3,}")
#: Emoji and other signs before a fact.
_SIGNS = re.compile(r"^[\W_]+|[\W_]+$")


@dataclass(frozen=True, slots=True)
class Facts:
    """Facts of one line beside its stated numbers.

    Attributes:
        divided: the line says what its numbers were divided by: "per serving, based on 4".
        yields: what it says of servings and yield, as written, in order.
        rest: the line with those and the times blanked out, of the same length.
        counted: ``rest`` with yields that "for" begins left in: "2048 kcal for 4 servings".
        only: every part of the line is such a fact.
    """

    yields: tuple[str, ...]
    rest: str
    counted: str
    only: bool
    divided: bool = False


@cache
def _may() -> re.Pattern[str]:
    """What a line that says a yield or a time holds; nothing else is looked through."""
    served = words_of("yield_words.csv", "serving")
    told = words_of("head_words.csv", "makes", "serves")
    return re.compile(
        rf"\b(?:{served})\b|{told}|make|nutrition|macro|serv|into|based|\bof\b"
        r"|\b(?:per|for|in)\s|\d\s?-?(?:h|m|sec|day)",
        re.IGNORECASE,
    )


@lru_cache(maxsize=4096)
def find_facts(text: str) -> Facts:
    """Yields and times of ``text``; total, linear in its length."""
    if not _may().search(text):
        return Facts((), text, text, False)
    line = Roles(text)
    rest, yields, divided = text, [], False
    counted: list[tuple[int, int]] = []
    share = line.search(_SHARE)
    if share:
        parts = 1 / line.value(share, "named") if share["named"] else line.value(share, "over")
        if parts > 1:
            yields.append(f"{parts:g} servings")
            rest = _blank(rest, *line.span(share), "per serving")
            line.take(share)
    for pattern in _YIELDS:
        for match in line.finditer(pattern):
            start, end = line.span(match)
            yields.append(_yield_of(line, match, rest))
            rest = _blank(rest, start, end)
            if text[start:end].lower().startswith("for "):
                counted.append((start, end))
            divided = divided or pattern is _YIELDS[0]
            line.take(match)
    headed = None if yields else line.search(_HEADED)
    if headed:
        yields.append(text[slice(*line.span(headed, "yield"))])
        rest = _blank(rest, *line.span(headed, "yield"))
    for match in line.finditer(_TIME):
        rest = _blank(rest, *line.span(match))
    parts_of = [[p for p in _PARTS.split(t) if _SIGNS.sub("", p)] for t in (text, rest)]
    with_counted = rest
    for start, end in counted:
        with_counted = with_counted[:start] + text[start:end] + with_counted[end:]
    only = bool(yields) and len(parts_of[0]) > 1 and not parts_of[1]
    return Facts(tuple(yields), rest, with_counted, only, divided)


def _yield_of(line: Roles, match: re.Match[str], text: str) -> str:
    """What a match says of the yield, as ``read_yield`` understands it."""
    named = "yield" if match.groupdict().get("yield") else 0
    said = _WIDE.split(text[slice(*line.span(match, named))])[0]
    first = line.role(match)
    if first == "single":
        return "1 serving"
    if first == "company":
        return f"serves {said.split()[-1]}"
    return f"{said} servings" if first == "divided" and " " not in said else said


def _blank(text: str, start: int, end: int, keep: str = "") -> str:
    return text[:start] + keep[: end - start].ljust(end - start) + text[end:]


def yield_line(text: str) -> str | None:
    """What a line says that does nothing but say a yield ("Makes 12 bars"), None for any other."""
    if len(text) > _YIELD_CHARS:
        return None
    line = Roles(text)
    match = line.search(_YIELD_LINE)
    if not match:
        return None
    group = next(name for name in ("yield", "open", "equal", "count") if match[name])
    said = _WIDE.split(text[slice(*line.span(match, group))])[0]
    if group != "yield":
        return said
    counted = said.strip(" )]").isdigit() or line.search(
        f"[portion servings serving] | enough for | for [hedge limit]* {_COUNT} word {{1,2}} [dot mark]* $"
    )
    if len(said.split()) > _YIELD_WORDS or (
        line.role_at(match.start("key")) == "for" and not counted
    ):
        return None
    key = text[slice(*line.span(match, "key"))]
    return f"{key} {said}" if key.lower().startswith(("serv", "portion", "feed")) else said


@cache
def _tails() -> re.Pattern[str]:
    """Where what stands behind a title may begin."""
    keys = words_of("head_words.csv", "makes", "serves")
    return re.compile(
        rf"\s*[(\[]|\s+[-–—|·/]+\s+|[,:]\s+|\s{{2,}}|\s+(?=(?:{keys})\s)", re.IGNORECASE
    )


def _counts_the_title(tail: str, title: str) -> bool:
    """Whether a text counts what a title names: "30 crackers" behind "Seed crackers"."""
    line = Roles(tail)
    if not line.search(f"^ {_COUNT} {_THING} $"):
        return False
    return singular(line.words[-1]) in map(singular, title.lower().split())


def titled_yield(text: str) -> tuple[str, str | None]:
    """A title without the yield behind it, and that yield; the text and None where there is none.

    >>> titled_yield("Cottage pie (6 plates)"), titled_yield("Dal - makes 4 bowls")
    (('Cottage pie', '6 plates'), ('Dal', '4 bowls'))
    """
    if not re.search(r"\d", text) and not _may().search(text):
        return text, None
    for found in reversed(list(_tails().finditer(text, 1))[:20]):
        tail = text[found.end() :].strip(" )]*_-–—")
        told = yield_line(tail) or (tail if _counts_the_title(tail, text[: found.start()]) else "")
        if told:
            return text[: found.start()].strip(" *_-–—"), told
    facts = find_facts(text)
    if len(facts.yields) == 1 and text.rstrip().endswith(facts.yields[0]):  # "LENTIL SOUP for six"
        title = text.rstrip()[: -len(facts.yields[0])].strip(" *_-–—,")
        if sum(c.isalpha() for c in title) > 2:
            return title, facts.yields[0]
    return text, None
