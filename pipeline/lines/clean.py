"""Text as written → the form the grammar reads, with the way back to the written characters."""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.lines.remarks import MAX_CHARS
from pipeline.lines.sorting import tells_time_or_heat
from pipeline.lines.tokens import VULGAR
from pipeline.lines.vocabulary import LEXICON, NO_WORD
from pipeline.resources import shared_rows

#: "half fat" is a kind, no number; the hyphen keeps the length.
_HALF_FAT = re.compile(r"\b(half|semi) (fat|skimmed)\b", re.IGNORECASE)
#: "900 g-ish", "1-inch-thick": what is attached to a figure or a length; no character changes its place.
_HANGING = re.compile(
    r"(?<=\d)(\s?[a-z]{0,2}\.?)-(ish)\b|(?<![a-z])(inch|cm|mm)-(thick|wide|long|tall|deep)\b",
    re.IGNORECASE,
)
#: "seventy-five per cent": a figure with its sign; no character changes its place.
_PERCENT = re.compile(
    r"\b(?:(?P<tens>[a-z]+ty)[ -])?(?P<number>[a-z]+|\d[\d.,/]*)[ -]?(?:per[ -]?cent|pct)\b",
    re.IGNORECASE,
)
_AT = re.compile(
    r"(?<!\S)(?:@\s?(?=\d)|at\s(?=\d[\d.,/]*\s?[a-z]+\s(?:each|apiece)\b))|(?<=\d)(\s?)@(\s?)(?=\d)",
    re.IGNORECASE,
)
#: "3/4th of a cup": no character changes its place.
_NTH = re.compile(r"(?<=/)(\d+)((?:th|rd|nd)s?)\b", re.IGNORECASE)
_NOTHING = {"zero": 0.0, "nought": 0.0}
#: "cooked w/ 2 tbsp sugar": a word, and no slash between two foods.
_WITH = re.compile(r"(?<![\w/])w/(?!o\b)", re.IGNORECASE)
#: A heat within a line, which is no amount: "5 °C".
_HEAT = re.compile(
    r"(?<![\w.,])\d+(?:[.,]\d+)?\s?\N{DEGREE SIGN}\s?[CF]?(?![^\W\d_])", re.IGNORECASE
)
#: "300 g after cooking", "340 g each after draining", "weighed before boiling", "150 g rice after cooking".
_WEIGHED = re.compile(
    r"(?P<of>\d\s?(?:g|kg|oz|lb|ml|l)|\b(?:each|weighed|weight)|(?P<food>[a-z]))"
    r"(?P<said>\s(?P<when>after|before)\s(?P<deed>[a-z]+ing))\b(?(food)\s*$)",
    re.IGNORECASE,
)
_MASS_FIRST = re.compile(r"\s*\d+(?:[.,]\d+)?\s?(?:g|kg|oz|lb)\b", re.IGNORECASE)
#: "zest + juice", "salt n pepper": between words the sign is the word; no character changes its place.
_PLUS = re.compile(r"(?<=[^\W\d_]) (?:(\+) (?=[^\W\d_])|('?n'?) (?=\w))", re.IGNORECASE)
_ANDS = (" + ", " n ", " 'n", " n' ")
#: "[2]" and a star at the end are marks of a note, "[ ]" and "[x]" at the start boxes to tick.
_NOTE_MARKS = ("*", "†", "‡")
_MARKED = re.compile(r"^\s*\[[ xX]?\]|\[\d{1,2}\]|[*†‡]+\s*$")
#: What a line costs: "£1.20", "(2,50 € each)".
_SIGNS = "$£€¥₹₽₩₺₫₦₱₪"
_CURRENCIES = frozenset(_SIGNS)
_PRICE = re.compile(
    rf"(?:[{_SIGNS}]\s?\d+(?:[.,]\d+)*|\d+(?:[.,]\d+)?\s?[{_SIGNS}](?!\s?\d))"
    r"(?:\s?(?:each|ea|apiece|/\s?\w+|(?:per|a)\s\w+)\b)?",
    re.IGNORECASE,
)
#: Two and more macronutrients beside a food: "12P 3C 4F", "P: 46 g / C: 0 g".
_MACROS = re.compile(
    r"(?<![\w.,])(?:\d+(?:[.,]\d+)?\s?g?\s?(?:p|c|f|pro|protein|carbs?|fats?)\b[\s,;/|•-]*){2,}"
    r"|\b(?:(?:p|c|f|pro|protein|carbs?|fats?)\s?[:=]?\s?\d+(?:[.,]\d+)?\s?g?\b[\s,;/|•-]*){2,}",
    re.IGNORECASE,
)
#: Energy, and a macronutrient set apart, behind a food: "= 120 kcal", "– 24 g protein, 130 kcal".
_ENERGY = r"~?\d+(?:[.,]\d+)?\s?(?:k?cal(?:orie)?s?|kj)\b"
_MACRO = r"\d+(?:[.,]\d+)?\s?g\s(?:of\s)?(?:protein|carb(?:ohydrate)?s?|fats?|fib(?:re|er))\b"
_OF_THE_FOOD = re.compile(
    rf"(?<=\w)\W*[,;:=→>|–—-]+\s*(?:(?:{_ENERGY}|{_MACRO})[\s,;/|&+•-]*)+\s*$"
    rf"|(?<=[\w)])\s+{_ENERGY}[\s,;/|&+•-]*(?:(?:{_ENERGY}|{_MACRO})[\s,;/|&+•-]*)*\s*$"
    r"|(?<=[\w)])\s+(?:#\w+\s*)+$",
    re.IGNORECASE,
)
#: One of these stands in every list of macronutrients, and takes less time to look for.
_MACRO_LAST = re.compile(r"\d\s?g?\s?(?:[pcf]\b|pro|carb|fat)")
_MACRO_FIRST = re.compile(r"[pcfonbst]\s?[:=]?\s?\d")
_SHOUTED = re.compile(r"(?:[!?]+|(?<=\w)\.{2,})\s*$")
_ENTITY = re.compile(r"&(?:#\d{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,30});")
_KEEP = frozenset("×∞") | VULGAR.keys()
_AS_THEY_ARE = str.maketrans(dict.fromkeys(_KEEP, ""))
_AS = {
    "’": "'", "‘": "'", "ʼ": "'", "`": "'", "´": "'", "′": "'", "″": '"', "“": '"', "”": '"',
    "„": '"', "⁄": "/", "∕": "/", "✕": "×", "✖": "×", "⨯": "×", "х": "x", "•": "•", "·": "•",
    "▪": "•", "◦": "•", "‣": "•", "●": "•", "○": "•", "■": "•", "□": "•", "☐": "•", "☑": "•",
    "✓": "•", "✔": "•", "−": "-", "‐": "-", "‑": "-", "‒": "-", "–": "-", "—": "-", "―": "-",
    "~": "~", "≈": "~", "∼": "~", "†": "*", "‡": "*", "§": "*", "¶": "*", "，": ",", "、": ",",
    "…": " ", "_": " ", "\\": " ", "｜": "|", "＋": "+", "º": " ", "ª": " ", "®": " ", "™": " ",
    "©": " ",
}  # fmt: skip


@lru_cache(maxsize=4096)
def _piece(char: str) -> str:
    """What one character becomes: itself, a plainer form, a space, or nothing."""
    if char.isascii():
        return " " if char == "_" or not char.isprintable() else char
    if char in _KEEP:
        return char
    if char in _AS:
        return _AS[char]
    category = unicodedata.category(char)
    if category in ("Cf", "Mn", "Me"):
        return ""  # joiners, direction marks, stray accents
    plain = unicodedata.normalize("NFKC", char)
    if category == "No":  # superscripts are footnote marks
        return (
            plain
            if "⁄" not in plain
            and unicodedata.decimal(char, None) is None
            and ("<super>" not in unicodedata.decomposition(char))
            else " "
        )
    if category[0] == "S" and category != "Sc":
        return plain if plain != char and plain.isascii() else " "  # emoji, arrows, boxes
    if category == "Pd":
        return "-"
    return plain if plain.isprintable() else " "


#: Pictures of food and drink, as the Unicode Standard orders them.
_PICTURES = tuple(
    map(range, (0x1F32D, 0x1F950, 0x1F9C0, 0x1FAD0), (0x1F380, 0x1F970, 0x1F9CC, 0x1FAE0))
)


def named_pictures(written: str) -> dict[int, str]:
    """The pictures of food in a line, each with its name in the Unicode Standard: "🥚" is "egg"."""
    return {
        ord(char): f" {unicodedata.name(char, '').lower()} "
        for char in set(written) if any(ord(char) in stretch for stretch in _PICTURES)
    }  # fmt: skip


def _blank(found: re.Match[str]) -> str:
    """As many spaces, so that no character changes its place."""
    return " " * len(found[0])


@dataclass(slots=True)
class Clean:
    """A line made ready to read.

    Attributes:
        text: the same words, case kept, typography made plain.
        lower: ``text`` in lower case, same length.
        origin: for each character of ``text`` its place in the line as written, or None when
            they are the same.
        problems: "text-too-long" when the end was left unread.
        moved: whether words stand in another order than in the line as written.
    """

    text: str
    lower: str
    origin: list[int] | None
    problems: tuple[str, ...]
    moved: bool = False

    def span(self, start: int, end: int) -> tuple[int, int]:
        """Place in the line as written of ``text[start:end]``."""
        if self.origin is None or not self.origin:
            return (start, end)
        last = len(self.origin) - 1
        first, end = min(start, last), max(min(end, last + 1), 1)
        places = self.origin[first : max(end, first + 1)]
        return (min(places), max(places) + 1)


def clean(written: str, named: Mapping[int, str] | None = None) -> Clean:
    """Make typography plain; linear in the length, which is bounded by ``MAX_CHARS``.

    Args:
        named: words that are read in place of pictures, see ``named_pictures``.
    """
    problems: tuple[str, ...] = ()
    if len(written) > MAX_CHARS:
        written, problems = written[:MAX_CHARS], ("text-too-long",)
    low = written.lower()
    for sign in _SAID:
        if sign in low:
            written, low = _plainer(written, low)
            break
    if low[-1:] == "." and low[-2:-1].isalpha():  # a full stop after the line
        written = f"{written[:-1]} "
        low = written.lower()
    if "$" in low or not (low.isascii() or _CURRENCIES.isdisjoint(low)):  # all but one are wide
        written = _PRICE.sub(_blank, written)
    if (
        "cal" in low or "kj" in low or "protein" in low or "carb" in low or "fat" in low
        or "fib" in low or "#" in low
    ) and _OF_THE_FOOD.search(low):  # fmt: skip
        written = _OF_THE_FOOD.sub(_blank, written)
    if (_MACRO_LAST.search(low) or _MACRO_FIRST.search(low)) and _MACROS.search(low):
        written = _MACROS.sub(_blank, written)
    written = _without_signs(written, low)
    low = written.lower()
    if (
        (written.isascii() or written.translate(_AS_THEY_ARE).isascii())
        and written.isprintable() and "&" not in written and "_" not in written
    ):  # fmt: skip
        return Clean(written, low, None, problems)
    text, origin = _plain(written, named or {})
    # a capital with a dot above and its like would grow
    lower = "".join(c.lower() if len(c.lower()) == 1 else c for c in text)
    return Clean(text, lower, origin, problems)


def _plainer(written: str, low: str) -> tuple[str, str]:
    """A line with words that may stand in it as they are read elsewhere, and the same in lower case."""
    for signs, said, plain in _PLAINER:
        if any(map(low.__contains__, signs)):
            written = said.sub(plain, written)
            low = written.lower()
    return written, low


def _without_signs(written: str, low: str) -> str:
    """A line without exclamations, marks of notes, links and heats, and with its plus signs read as "and"."""
    if low[-1:] in "!?.":
        written = _SHOUTED.sub(_blank, written)
    if "[" in low or low[-1:] in _NOTE_MARKS:
        written = _MARKED.sub(_blank, written)
    if "://" in low or "</" in low:
        written = _without_links(written)
    if any(map(low.__contains__, _ANDS)):
        written = _PLUS.sub(lambda m: " & ".ljust(len(m[0])), written)
    if "\N{DEGREE SIGN}" in low and not tells_time_or_heat(low):
        written = _HEAT.sub(_blank, written)
    return written


#: "salmon fillets (130 g each) x2", "1 tbsp oil × 3": how often, where a line or its first part ends.
_TIMES_LAST = re.compile(
    r"^\W*(?=\w)(?P<line>[^,;]*[^\W\d_][^\w,;]*|.*[^\W\d_]\W*)\s\(?[x×]\s?(?P<count>\d{1,2})\)?"
    r"\s*(?P<behind>[,;].*)?$"
)
_TIMES = re.compile(r"[x×]\s?\d")
_UNIT_LAST = re.compile(r"\d\s?(?P<unit>[^\W\d_]+)\W*$")


def _ends_in_measure(text: str) -> bool:
    found = _UNIT_LAST.search(text)
    entry = LEXICON.get(found["unit"].lower(), NO_WORD) if found else NO_WORD
    return any(unit.kind in ("mass", "volume", "length") for _, unit, _ in entry.units)


def times_first(line: Clean) -> Clean | None:
    """A line that ends in how often its food is taken, with that in front; None for other lines.

    >>> times_first(clean("tomatoes, chopped x4")).text, times_first(clean("400g tin beans x 2")).text
    ('4 tomatoes, chopped', '2 x 400g tin beans')
    """
    low = line.lower
    maybe = ("x" in low or "×" in low) and _TIMES.search(low)
    found = _TIMES_LAST.match(line.text) if maybe else None
    if found is None or _ends_in_measure(found["line"]):  # "tray, 20 cm x 30", "beans 400 g x2"
        return None
    first, end = found.span("line")
    behind, stop = found.span("behind") if found["behind"] else (end, end)
    front = f"{found['count']} x " if line.text[first].isnumeric() else f"{found['count']} "
    places = line.origin or range(len(line.text))
    origin = [places[found.start("count")]] * len(front)
    origin += [*places[first:end], *places[behind:stop]]
    text = (front + line.text[first:end] + line.text[behind:stop]).rstrip()
    return Clean(text, text.lower(), origin[: len(text)], line.problems, moved=True)


def _in_figures(found: re.Match[str]) -> str:
    """A share in figures, filled up to the length it was written in; other words as they are."""
    number = found["number"].lower()
    if not number[0].isdigit():
        parts = [_count(word) for word in ((found["tens"] or "").lower(), number) if word]
        if None in parts:
            return found[0]
        number = f"{sum(filter(None, parts)):g}"
    return f"{number}%".ljust(len(found[0]))


def _count(word: str) -> float | None:
    entry = LEXICON.get(word, NO_WORD)
    return entry.number if entry.number_class == "count" else _NOTHING.get(word)


#: What tells that words may stand in a line, these, and how they are read; in this order.
def _in_state(found: re.Match[str]) -> str:
    """The state in which a food was weighed, as it is written elsewhere: "300 g cooked"."""
    deed = found["deed"].lower()
    state = _deeds().get(deed, "")
    if found["when"].lower() == "before":
        state = "raw" if state in _cooked() else ""
    if found["food"] and not _MASS_FIRST.match(found.string):
        return found[0]
    if not state:  # of a deed that no table knows: a remark, no word of the name
        return f"{found['of']},{found['said'][1:]}" if found["food"] else found[0]
    mark = "," if found["food"] else ""
    return found["of"] + f"{mark} {state}".ljust(len(found["said"]))


@cache
def _cooked() -> frozenset[str]:
    row = next(r for r in shared_rows("word_groups.csv") if r["group"] == "cooked_state")
    return frozenset(row["words"].split(";"))


@cache
def _deeds() -> dict[str, str]:
    """What is done to a food, and the state that it is in afterwards: "draining", "drained"."""
    out: dict[str, str] = {}
    for row in shared_rows("states.csv"):
        for word in row["words"].split(";"):
            if word.isalpha() and word.endswith("ed"):
                stem = word[:-2]
                for deed in (stem, stem + "e", stem[:-1] + "y" if stem.endswith("i") else stem):
                    out.setdefault(f"{deed.removesuffix('e')}ing", word)
    return out


_PLAINER: tuple[tuple[tuple[str, ...], re.Pattern[str], str | Callable[[re.Match[str]], str]], ...]
_PLAINER = (
    (("half ", "semi "), _HALF_FAT, r"\1-\2"),
    (("ish", "inch-", "m-"), _HANGING, lambda m: f"{m[1] or m[3] or ''} {m[2] or m[4]}"),
    (("cent", "pct"), _PERCENT, _in_figures),
    # "4 @ 100 g", "4 fillets @ 120 g", "4 fillets at 120 g each"
    (("@", " at "), _AT, lambda m: ",".ljust(len(m[0])) if m[1] is None else f"{m[1]}x{m[2]}"),
    (("w/",), _WITH, "w "),
    (("th", "rd", "nd"), _NTH, lambda m: m[1].ljust(len(m[0]))),
    (("after ", "before "), _WEIGHED, _in_state),
)
_SAID = tuple(sign for signs, _, _ in _PLAINER for sign in signs)


#: Links as pages and notes write them; what the reader would see of each is the group "shown".
_LINKS = (
    re.compile(r"\[(?P<shown>[^\[\]|]+)\|\s*\w+://[^\[\]\s]*\s*\]"),
    re.compile(r"\[(?P<shown>[^\[\]]+)\]\(\w+://[^()\s]*\)"),
    re.compile(r"</?[a-zA-Z][^<>]*>(?P<shown>)"),
    re.compile(r"\(?\b\w{3,5}://\S+(?P<shown>)"),
)


def _without_links(written: str) -> str:
    """Links and tags blanked out but for what they show; no character changes its place."""
    for link in _LINKS:
        written = link.sub(_shown, written)
    return written


def _shown(link: re.Match[str]) -> str:
    begin, end = link.span("shown")
    before, after = begin - link.start(), link.end() - end
    return " " * before + link["shown"] + " " * after


def _plain(written: str, named: Mapping[int, str]) -> tuple[str, list[int]]:
    """The line in plain signs, and the place of each as it is written."""
    origin: list[int] = []
    joined: list[str] = []
    for char, place in _unescape(written):
        piece = named[ord(char)] if ord(char) in named else _piece(char)
        if not piece and joined and unicodedata.category(char) == "Mn":
            composed = unicodedata.normalize("NFC", joined[-1] + char)
            if len(composed) == 1:
                joined[-1] = composed
                continue
        for sign in piece:
            joined.append("/" if sign == "⁄" else sign)
            origin.append(place)
    return "".join(joined), origin


def _unescape(written: str) -> list[tuple[str, int]]:
    out: list[tuple[str, int]] = []
    at = 0
    for found in _ENTITY.finditer(written):
        out += [(written[i], i) for i in range(at, found.start())]
        out += [(char, found.start()) for char in html.unescape(found[0])]
        at = found.end()
    return out + [(written[i], i) for i in range(at, len(written))]
