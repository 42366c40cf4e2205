"""Lines that state several facts at once: "Prep 10 min · Serves 4 · 512 kcal per serving".

``find_facts`` finds what a line says of yield and time beside anything else it holds. Yields are
handed to ``servings.read_yield`` as written; what is left, at the same places of the line, can be
read as stated numbers without taking "4" of "Serves 4 - 512 kcal" for one of them.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.foods.words import singular
from pipeline.intake.known_texts import kept_by_text
from pipeline.intake.numbers import DIGITS, Roles, listed_words, role_pattern, words_of
from pipeline.intake.patterns import pattern

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
#: One of the servings, and how many there are: "one wedge out of the fourteen".
_ONE_OF = (
    f"[one unity article] [word slice item portion] beside? of definite? (?P<yield> {_COUNT})"
    " (?= $ | [colon comma bar mark close])"
)
_YIELDS = (
    f"divided (?P<yield> {_COUNT} {_SERVED}?)",
    f"[one unity] (?: of | in) (?P<yield> {_COUNT} {_SERVED})",
    f"(?: ^ | dot) mark* [one unity each] of (?P<yield> {_COUNT}) (?= colon? hedge? number [energy energy_unit])",
    f"into (?P<yield> {_COUNT}) (?= $ | [dot comma close])",
    "(?<! slash) [it enough recipe]? (?: makes | serves | serve (?= colon)"
    " | (?<! per) servings (?: per recipe)? (?: to (?= [number count]))?) [colon mark]?"
    f" [hedge limit times]* {_RANGE}{_TIMES}{_NOUN}{_NOTE}",
    f"(?<! [per of each slash]) for? [hedge limit]* (?! [one unity]) {_RANGE}{_TIMES}"
    f" [word size small whole hedge]? to? {_SERVED} {_NOTE}",
    f"(?: ^ | [open bar comma dot mark to]) mark* {_COUNT} times {_SERVED}",
    "for? definite? [number count] of diners",
    f"enough for definite? [hedge limit]* {_RANGE}{_NOUN}",
    _ONE_OF,
    f"(?: company | [makes serves] article [word whole container] of | (?: ^ mark* | open) recipe of) {_COUNT}"
    f" {_NOUN} | for definite? count (?! word) | single",
)
#: Those that say that numbers are for one serving of so many.
_OF_ALL = (*_YIELDS[1:3], _ONE_OF)
_SHARE = (
    "(?: [per for in] | (?: (?<= [serving portion]) | (?<= [serving portion] word)) colon) article? one?"
    " (?: unity slash (?P<over> number) | (?P<named> fraction | number))"
    " of? [article definite]* entire? [whole container recipe]"
)
#: The same without such a word, beside an energy: "A bowl (a sixth of the pot): 390 kcal".
_PART = (
    "(?: ^ mark* | [open colon comma has each energy energy_unit]) (?P<part> article? one?"
    " (?: unity slash (?P<over> number) | (?P<named> fraction | (?<! [article one]) number (?= of)))"
    " (?: of (?: [article definite] entire? [whole container recipe] | [recipe container]) | (?= [colon has])"
    " | (?<= [portion serving slice item container word each] open unity slash number) (?= close)))"
    " (?= $ | [close colon comma dot has mark bar] | number [energy energy_unit])"
)
_TIME = (
    f"[timing total in]* colon? {DIGITS} (?: to {DIGITS})? to? time dot?"
    f" (?: [and comma]? {DIGITS} to? time dot?)? timing?"
)
#: "Nutrition (8 slices) per slice": what the dish gives, where the words behind say for how much.
_HEADED = (
    f"^ mark* announce word? open (?P<yield> {_RANGE}{_NOUN}) close (?= [colon mark]* [per each])"
)
#: "Per box (6 boxes)": how many there are of what the numbers are for, where both name one thing.
_OF_THOSE = f"per (?P<one> {_THING}) open (?P<yield> {_RANGE} (?P<all> {_THING})) close"
_ENERGY = "[energy energy_unit]"
_WHOLE = (
    "(?: in? total | together | [per for in]? [article definite]? entire [recipe container whole thing item]?"
    " | [per for in]? definite [recipe container whole thing] | [per for] [article definite]? recipe)"
)
_ALL = (
    f"(?: {_ENERGY}? [colon has]* hedge? {DIGITS} {_ENERGY}? open? {_WHOLE} {_ENERGY}? close?"
    f" | {_ENERGY}? (?: {_WHOLE} | recipe) {_ENERGY}? [colon has]* hedge? {DIGITS} {_ENERGY}?)"
)
_ONE = (
    f"(?: {DIGITS} {_ENERGY}? (?: each | [per slash article] size? {_THING} | open [portion serving each] close)"
    f" | (?: each | [portion serving] | [per for each] size? {_THING}) [colon has]* hedge? {DIGITS} {_ENERGY}?)"
)
_BETWEEN = "[comma slash bar dot open close and to colon mark word hedge has it beside]{0,5}"
#: Several of what is made, of which there may be more: "3 cookies = 300 kcal (100 each)".
_LEAD = f"[number count] {_THING} {{1,2}} [colon has mark]"
#: The energy of the whole beside that of one part: "1551 calories total / 388 each", "1551 kcal / 4 = 388",
#: "1551kcal/388 each".
_BOTH = (
    f"(?P<lead> {_LEAD})? (?P<all> {_ALL}) {_BETWEEN} (?P<one> {_ONE})",
    f"(?P<one> {_ONE}) {_BETWEEN} (?P<all> {_ALL})",
    f"(?P<all> (?: {_WHOLE} [colon has]*)? {DIGITS} {_ENERGY}?) [slash mark] (?P<parts> {DIGITS}) colon"
    f" (?P<one> hedge? {DIGITS} {_ENERGY}? each?)",
    f"(?P<lead> {_LEAD})? (?P<all> {_ENERGY}? colon? {DIGITS} {_ENERGY}?) [slash open]"
    f" (?P<bare> (?P<one> {DIGITS} each))",
)
#: How far the whole may be from a multiple of its part, as a share; and parts of it, at most.
_ROUNDED, _MOST_PARTS = 0.02, 100
#: A line that only says a yield: its key and a number, up to the end of a sentence; or a number and
#: what it counts.
_YIELD_LINE = (
    "^ [mark open it enough recipe hedge]* (?: serves (?= [makes serves portion servings number count]))?"
    " (?: word dot? of)?"
    " (?P<key> makes | serves | portion | servings | for | recipe of) (?: per recipe)? close? [colon bar mark times]?"
    " (?: enough for)? [hedge limit dot]* (?P<yield> (?= [number unity hundred count one article endless] | to number)"
    " (?: [^ dot] | (?<= [hedge metric unit time]) dot){1,40}) [dot mark]* $"
    " | ^ [mark open]* [makes serves servings] colon (?P<open> .{1,20}) $"
    f" | ^ [mark open]* (?P<count> {_RANGE} (?: portion | serving | servings | serves)"
    f" | word colon (?P<labelled> {_RANGE} (?: portion | serving | servings | serves))"
    f" | {_RANGE} {_NOUN} colon (?P<equal> {_RANGE} [portion serving servings])"
    " | [one unity article] [container whole] [of open comma to bar]? [hedge limit]*"
    f" (?P<cut> {_RANGE} [slice portion serving servings])"
    f" | (?! [one unity]) {_RANGE} size? [slice item] | [number unity count one article] dozen)"
    " [mark close dot]* $"
    f" | ^ [mark open]* [word hedge size it has article definite container whole]{{1,5}} for [hedge limit]*"
    f" (?P<eaters> {_RANGE} [portion serving servings]?) [mark close dot]* $"
    f" | ^ [mark open]* (?P<things> [slice item serving]) colon (?P<made> {_RANGE}) (?: [open comma] .*)? $"
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
        total: where the energy of the whole stands that is blanked out beside that of one part.
        parts: how many such parts the whole has by these energies; NaN without them.
    """

    yields: tuple[str, ...]
    rest: str
    counted: str
    only: bool
    divided: bool = False
    total: tuple[int, int] | None = None
    parts: float = math.nan


@cache
def _may() -> re.Pattern[str]:
    """What a line that says a yield or a time holds; nothing else is looked through."""
    served = words_of("yield_words.csv", "serving")
    told = words_of(
        "head_words.csv",
        "makes",
        "serves",
        "into",
        "total",
        "together",
        "entire",
        "thing",
        "recipe",
    )
    return re.compile(
        rf"\b(?:{served})\b|{told}|make|nutrition|macro|serv|based|\bof\b"
        rf"|(?<![^\W\d_])(?:{words_of('head_words.csv', 'each')})(?![^\W\d_])"
        rf"|\b(?:{words_of('number_words.csv', 'fraction')})\s(?:is|has|=)\s"
        r"|\b(?:per|for|in)\s|[/÷]\s?\d+\s?=|\(1/\d+\)|\d\s?-?(?:h|m|sec|day)",
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
    rest, total, parts_told, of_all = _without_total(line)
    if of_all and is_count(parts_told):
        yields.append(f"{round(parts_told)} servings")
    share = line.search(_SHARE)
    if not share and line.search("energy | energy_unit"):
        share = line.search(_PART)
    if share:
        parts = 1 / line.value(share, "named") if share["named"] else line.value(share, "over")
        if parts > 1:
            yields.append(f"{parts:g} servings")
            part = "part" if "part" in share.groupdict() else 0
            rest = _blank(rest, *line.span(share, part), "per serving")
            line.take(share)
    for said in _YIELDS:
        for match in line.finditer(said):
            start, end = line.span(match)
            yields.append(_yield_of(line, match, rest))
            rest = _blank(rest, start, end, "per serving" if said in _OF_ALL else "")
            if text[start:end].lower().startswith("for "):
                counted.append((start, end))
            divided = divided or said is _YIELDS[0]
            line.take(match)
    headed = None if yields else line.search(_HEADED) or _of_those(line)
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
    return Facts(tuple(yields), rest, with_counted, only, divided, total, parts_told)


def _without_total(line: Roles) -> tuple[str, tuple[int, int] | None, float, bool]:
    """A line without the energy of the whole that stands beside that of one part, where that number
    stands, how many parts that makes, and whether these are all; a word of energy that only the whole
    has is left to the part."""
    text = line.text
    energy = role_pattern(_ENERGY)
    for words in _BOTH if energy.search(line.roles) else ():
        found = line.search(words)
        if not found or not energy.search(found[0]):
            continue
        whole, part = (
            role_pattern(DIGITS).search(line.roles, *found.span(g)) for g in ("all", "one")
        )
        if whole is None or part is None:
            continue
        parts = line.value(whole, 0) / (line.value(part, 0) or math.inf)
        groups = found.groupdict()
        said = line.value(found, "parts") if groups.get("parts") else parts
        doubtful = groups.get("bare") and not is_count(parts)
        if not parts > 1 + _ROUNDED or doubtful or abs(parts / (said or math.inf) - 1) > _ROUNDED:
            continue
        named = energy.search(line.roles, *found.span("all"))
        has_name = energy.search(line.roles, *found.span("one"))
        (first, last), (begin, end) = line.span(found), line.span(found, "one")
        kept = [(begin, end)] + ([line.span(named)] if named and not has_name else [])
        blanked = "".join(
            c if any(a <= at < b for a, b in kept) else " "
            for at, c in enumerate(text[first:last], first)
        )
        of_all = not groups.get("lead")
        return text[:first] + blanked + text[last:], line.span(whole), parts, of_all
    return text, None, math.nan, False


def _of_those(line: Roles) -> re.Match[str] | None:
    found = line.search(_OF_THOSE)
    if found is None:
        return None
    one, each = (singular(line.words[found.start(group)]) for group in ("one", "all"))
    return found if one == each else None


def is_count(parts: float) -> bool:
    """Whether a ratio of two rounded numbers is a number of servings."""
    return 1.5 < parts < _MOST_PARTS and abs(parts / round(parts) - 1) < _ROUNDED


def _yield_of(line: Roles, match: re.Match[str], text: str) -> str:
    """What a match says of the yield, as ``read_yield`` understands it."""
    named = "yield" if match.groupdict().get("yield") else 0
    said = _WIDE.split(text[slice(*line.span(match, named))])[0]
    first = line.role(match)
    if first == "single":
        return "1 serving"
    if first == "company":
        return f"serves {said.split()[-1]}"
    bare = first in ("divided", "into", "one", "unity", "article") and " " not in said
    return f"{said} servings" if bare else said


def _blank(text: str, start: int, end: int, keep: str = "") -> str:
    return text[:start] + keep[: end - start].ljust(end - start) + text[end:]


#: "For one box:", above a list.
_FOR_ONE = "^ for [one unity] (?P<thing> [portion serving servings item container]) [colon dot]* $"


#: How many a list is for, above it: "For 10 cups:", "Total for one pot (8 small bowls):".
_ABOVE_LIST = (
    f"^ [word total]{{0,3}} for [hedge limit]* (?P<told> {_COUNT} size?"
    " (?P<thing> [word portion serving servings slice item container thing unit])?) colon $"
    " | ^ [word total]{0,3} for [one unity article definite] [container whole recipe] open"
    f" (?P<inside> {_COUNT} size? [word portion serving servings slice item container thing]) close colon? $"
)


def _above_list(line: Roles) -> str:
    """How many a line that heads a list says that it is for; "" for none, one, and for a measure."""
    found = line.search(_ABOVE_LIST)
    if not found:
        return ""
    group = "told" if found["told"] else "inside"
    if not line.value(found, group) > 1:
        return ""
    thing = found.start("thing") if found["thing"] else -1
    if thing >= 0 and line.role_at(thing) == "unit":
        from pipeline.intake.spoken.phrases import word_class  # here: few lists are headed so

        if line.words[thing] not in word_class("container"):
            return ""  # "For 500 g:"
    said = line.text[slice(*line.span(found, group))]
    return f"{said} servings" if said.isdigit() else said


@kept_by_text
def yield_line(text: str) -> str | None:
    """What a line says that does nothing but say a yield ("Makes 12 bars"), None for any other."""
    if len(text) > _YIELD_CHARS:
        return None
    line = Roles(text)
    if single := line.search(_FOR_ONE):
        return f"1 {line.words[single.start('thing')]}"
    if told := _above_list(line):
        return told
    match = line.search(_YIELD_LINE)
    if not match or (match["eaters"] and pattern("verb_start").match(text)):
        return None
    group = next(
        name
        for name in ("yield", "open", "equal", "labelled", "cut", "count", "eaters", "made")
        if match[name]
    )
    said = _WIDE.split(text[slice(*line.span(match, group))])[0]
    if group == "made":
        return f"{said} {text[slice(*line.span(match, 'things'))]}"
    if group != "yield":
        return said
    counted = said.strip(" )]").isdigit() or line.search(
        f"[portion servings serving] | enough for | for [hedge limit]* {_COUNT} word {{0,2}} [dot mark]* $"
    )
    if len(said.split()) > _YIELD_WORDS or (
        line.role_at(match.start("key")) == "for" and not counted
    ):
        return None
    key = text[slice(*line.span(match, "key"))]
    return (
        f"{key} {said}"
        if key.lower().startswith(("serv", "feed")) or pattern("divides").match(key)
        else said
    )


#: A count that no word behind it makes a measure, a time or a step of something else.
_BARE_COUNT = f"(?<! [per of each slash times]) {_COUNT} (?! to | unit | time | length | times | slash | mark)"


def counted(text: str) -> list[tuple[float, tuple[str, ...], str]]:
    """Every count of a text above one: its value, the words behind it in the singular, and as written.

    >>> counted("Into 5 deep jars, 40 min at 180C")
    [(5.0, ('deep', 'jar'), '5 deep jars')]
    """
    line = Roles(text)
    found = []
    for match in line.finditer(
        f"(?P<count> {_BARE_COUNT}) (?: of [definite it])? {_THING} {{0,4}}"
    ):
        value = line.value(match, "count")
        behind = line.words[match.end("count") : match.end()]
        if value > 1:
            said = text[slice(*line.span(match))]
            found.append((value, tuple(map(_noun, behind)), said))
    return found


def _noun(word: str) -> str:
    """A word in the singular; of one with hyphens the part that is in the plural: "cups-to-go"."""
    first, _, behind = word.partition("-")
    return singular(first) if behind and singular(first) != first else singular(word)


@cache
def _tails() -> re.Pattern[str]:
    """Where what stands behind a title may begin."""
    keys = words_of("head_words.csv", "makes", "serves")
    return re.compile(
        rf"\s*[(\[]|\s+[-–—|·/]+\s+|[,:]\s+|\s{{2,}}|\s+(?=(?:{keys})\s|for\s\d{{1,3}}$)",
        re.IGNORECASE,
    )


#: How many there are of what the last word of a title names.
_TIMES_OF = re.compile(r"\s\(?[x×]\s?(?P<count>[2-9]|[1-9]\d)\)?$")
#: A remark behind a count.
_REMARK = re.compile(r"[,;+]|\s[-–—]\s")
#: A sentence that ends in how many the whole is for: "The tin gives 16.", "It does six."
_OF_THE_WHOLE = (
    "(?: definite [container whole recipe] (?P<verb> [has makes serves]) | (?: ^ | dot) it? [makes serves])"
    f" [hedge limit]* (?P<count> {_COUNT}) (?= $ | [dot comma])"
)
_MOST_OF_ONE = 100


@cache
def _will() -> re.Pattern[str]:
    """What will be, or should: "it'll do", "that would feed", and the verb of making."""
    verbs = sorted(
        re.sub(r"(?<=o)es$|s$", "", word)
        for word in listed_words("head_words.csv", "makes", "serves") if word.endswith("s")
    )  # fmt: skip
    return re.compile(
        rf"(?:\b(?:it|this|that|they)\b)?(?:['’](?:ll|d)|\s*\b(?:will|would|should|can)) ({'|'.join(verbs)})\b",
        re.IGNORECASE,
    )


def sentence_yield(text: str) -> str:
    """How many servings a sentence says that the whole is, by a count alone; "" where none does.

    >>> sentence_yield("Cut them warm. The tin gives 16."), sentence_yield("Nobody agrees. It'll do six.")
    ('16 servings', '6 servings')
    """
    line = Roles(_will().sub(lambda m: f" {m[1]}{'es' if m[1][-1] == 'o' else 's'}", text))
    found = line.search(_OF_THE_WHOLE)
    value = line.value(found, "count") if found else 0.0
    is_size = found and found["verb"] and line.words[found.start("verb")] in ("is", "are")
    return f"{value:g} servings" if 1 < value <= _MOST_OF_ONE and not is_size else ""


def counts_title(tail: str, title: str) -> str:
    """A text that counts what a title names, as a yield; "" for any other.

    >>> counts_title("30 crackers", "Seed crackers"), counts_title("8 pots (small)", "SLAW POTS")
    ('30 crackers', '8 servings')
    """
    line = Roles(tail)
    found = line.search(
        f"^ (?! [one unity]) (?P<count> {_COUNT}) (?P<thing> {_THING}) {_NOTE} [close]? $"
    )
    thing = line.words[found.start("thing")] if found else ""
    if not found or singular(thing) not in map(singular, title.lower().split()):
        return ""
    said = tail[slice(*line.span(found, "count"))]
    return f"{said} {'servings' if line.role_at(found.start('thing')) == 'container' else thing}"


_PIECES = re.compile(r"^\W*\d{1,3}\s?(?:pcs?|pieces)\b", re.IGNORECASE)


def packed_in(tail: str) -> str:
    """A text that counts what a dish is packed in or its pieces, and nothing else: "6 tubs", "10 pcs";
    "" for any other."""
    from pipeline.lines import parse  # here: few titles end in a count

    counted = parse(tail.strip(" ()[]"))
    pieces = _PIECES.search(tail) is not None
    packs = [m for m in counted.measures if (m.kind == "package" or pieces) and m.amount > 1]
    return tail.strip(" ()[]") if len(packs) == 1 and not counted.name else ""


def _fed(remark: str) -> str:
    """How many a remark in brackets says that a dish feeds: "6 pancakes, 2 each so feeds 3"; or ""."""
    from pipeline.intake.servings import read_yield  # here: few titles have such a remark

    fed = [one for one in find_facts(remark).yields if read_yield(one).kind == "serving"]
    return fed[0] if len(fed) == 1 else ""


@kept_by_text
def titled_yield(text: str) -> tuple[str, str | None]:
    """A title without the yield behind it, and that yield; the text and None where there is none.

    >>> titled_yield("Cottage pie (6 plates)"), titled_yield("Dal - makes 4 bowls")
    (('Cottage pie', '6 plates'), ('Dal', '4 bowls'))
    >>> titled_yield("Chilli (4 tubs, two for the freezer)")
    ('Chilli', '4 tubs')
    """
    if not re.search(r"\d", text) and not _may().search(text):
        return text, None
    for found in list(_tails().finditer(text, 1))[:20]:
        tail = _SIGNS.sub("", text[found.end() :])
        remark = (
            _REMARK.search(tail) if "(" in found[0] else None
        )  # "(4 tubs, two for the freezer)"
        fed = _fed(tail) if remark else ""
        for said in (tail, tail[: remark.start()]) if remark else (tail,):
            told = (
                yield_line(said) or fed or counts_title(said, text[: found.start()])
                or packed_in(said)
            )  # fmt: skip
            if told:
                return text[: found.start()].strip(" *_-–—"), told
    facts = find_facts(text)
    if len(facts.yields) == 1 and text.rstrip().endswith(facts.yields[0]):  # "LENTIL SOUP for six"
        title = text.rstrip()[: -len(facts.yields[0])].strip(" *_-–—,")
        if sum(c.isalpha() for c in title) > 2:
            return title, facts.yields[0]
    times = None if facts.yields else _TIMES_OF.search(text)
    title = text[: times.start()].rstrip() if times else ""
    things = title.rpartition(" ")[2]
    if times and things.isalpha() and things.endswith("s"):  # "Strawberry pots x4"
        return title, f"{times['count']} {things}"
    return text, None
