"""The words around the numbers of a head, a caption or a label: one pass, one role a word.

``Roles`` cuts a text into numbers, words and marks and gives each its role by the tables
(``shared/head_words.csv`` for the words that bind numbers, ``yield_words.csv``, ``units.csv``,
``number_words.csv`` and ``nutrient_words.csv``). Its readers are patterns over roles, not over
letters: ``role_pattern("per number? portion")`` finds "per 2 bars" and "for 4 heads" alike. A word
that no table knows is a ``word``: it may name what is counted.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from pipeline.intake.columns import nutrient_pattern
from pipeline.intake.known_texts import kept_by_text
from pipeline.phrases import any_of, spelled
from pipeline.resources import shared_rows

_FRACTIONS = {
    "½": 1 / 2, "¼": 1 / 4, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8, "⅜": 3 / 8,
    "⅝": 5 / 8, "⅞": 7 / 8, "⅕": 1 / 5, "⅖": 2 / 5, "⅗": 3 / 5, "⅘": 4 / 5, "⅙": 1 / 6, "⅚": 5 / 6,
}  # fmt: skip

#: A number with thousands and decimals of either tradition, or a vulgar fraction. It begins where
#: its digits begin and takes all of them (``++``), so that a run of digits is looked through once.
NUMBER = (
    r"(?<![0-9])"
    r"(?:(?<![^\W\d_])[0-9]{1,3}(?:[\u0020\u00a0\u202f'’][0-9]{3})+(?![0-9])(?:[.,][0-9]++)?"
    r"|[0-9]{1,3}(?:,[0-9]{3}){2,}(?:\.[0-9]++)?|[0-9]{1,3}(?:\.[0-9]{3}){2,}(?:,[0-9]++)?"
    r"|[0-9]{1,3},[0-9]{3}\.[0-9]++|[0-9]{1,3}\.[0-9]{3},[0-9]++"
    r"|[0-9]++[.,][0-9]++|[0-9]++\s?[½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]|[½¼¾⅓⅔⅛⅜⅝⅞⅕⅖⅗⅘⅙⅚]|[0-9]++|(?<!\.)\.[0-9]++)"
)
#: Digits of any value, in patterns over roles.
DIGITS = "[number unity hundred]"
#: Roles of marks, and those that the pass itself gives.
_MARKS = {
    ":": "colon", "=": "colon", "(": "open", "[": "open", ")": "close", "]": "close", "%": "percent",
    ",": "comma", ".": "dot", "/": "slash", ";": "bar", "|": "bar", "·": "bar", "•": "bar",
    "∞": "endless",
}  # fmt: skip
_OTHER = ("taken", "number", "count", "one", "unity", "hundred", "metric", "unit", "length", "energy",
          "nutrient", "letter", "fraction", "word", "mark", "gap")  # fmt: skip
_METRIC = frozenset(("g", "kg", "mg", "ml", "cl"))
_MEASURES = {"mass": "unit", "volume": "unit", "length": "length"}


@cache
def _letters() -> dict[str, str]:
    """Role to the letter that stands for it in patterns."""
    roles = dict.fromkeys(
        [*_MARKS.values(), *_OTHER,
         *(row["role"] for row in shared_rows("head_words.csv")),
         *(row["kind"] for row in shared_rows("yield_words.csv"))]
    )  # fmt: skip
    return {role: chr(0xA1 + at) for at, role in enumerate(roles)}


@cache
def _names() -> dict[str, str]:
    return {letter: role for role, letter in _letters().items()}


@cache
def number_words(*classes: str) -> dict[str, float]:
    """Value of each number that is written as a word, of some classes or all."""
    return {
        row["word"]: float(row["value"]) for row in shared_rows("number_words.csv")
        if not classes or row["class"] in classes
    }  # fmt: skip


@cache
def _lexicon() -> dict[str, list[tuple[tuple[str, ...], str]]]:
    """First word to the words behind it and the role they have together, the longest first."""
    words: dict[str, str] = {}
    for table, column in (("head_words.csv", "role"), ("yield_words.csv", "kind")):
        for row in shared_rows(table):
            words |= {w: row[column] for w in row["words"].split(";") if w not in words}
    for row in shared_rows("units.csv"):
        role = "metric" if row["unit"] in _METRIC else _MEASURES.get(row["kind"], "")
        for word in (row["unit"], *row["words"].split(";")) if role else ():
            if len(word) > 1 or word == row["unit"]:
                words.setdefault(word, role)
    for row in shared_rows("number_words.csv"):
        if row["class"] in ("count", "fraction"):
            words.setdefault(row["word"], "one" if row["value"] == "1" else row["class"])
    out: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for word, role in words.items():
        first, *rest = word.split()
        out.setdefault(first, []).append((tuple(rest), role))
    return {first: sorted(found, key=lambda f: -len(f[0])) for first, found in out.items()}


@cache
def _token() -> re.Pattern[str]:
    return re.compile(
        rf"(?P<number>{NUMBER})|(?<![^\W\d_])(?P<name>{nutrient_pattern()})(?![^\W\d_])"
        r"|(?:(?<![^\W\d_])|(?<=\dg))(?P<letter>[PCF])(?![^\W\d_])|[hx](?=\s?\d)"
        r"|(?<=\d)g(?=[PCF](?![^\W\d_]))"  # "28gP"
        r"|[^\W\d_]+(?:['’-][^\W\d_]+|\d)*|[^\S\n]*\n\s*|(?<=\d)[^\S\n]{2,}|\S",
        re.IGNORECASE,
    )


class Roles:
    """A text as roles.

    Attributes:
        roles: one letter a token; ``taken`` where a reader has used it.
        words: the tokens as written, in lower case.
        spans: their places in the text.
    """

    __slots__ = ("roles", "spans", "text", "words")

    def __init__(self, text: str) -> None:
        self.text = text
        self.roles, self.words, self.spans = _read(text)

    def search(self, pattern: str) -> re.Match[str] | None:
        """The first match of a pattern over roles; its places are tokens."""
        return role_pattern(pattern).search(self.roles)

    def finditer(self, pattern: str) -> Iterator[re.Match[str]]:
        """Every match of a pattern over roles."""
        return role_pattern(pattern).finditer(self.roles)

    def role(self, match: re.Match[str]) -> str:
        """Role of the first token of a match."""
        return _names()[match[0][0]]

    def role_at(self, token: int) -> str:
        """Role of a token."""
        return _names()[self.roles[token]]

    def value(self, match: re.Match[str], group: str | int) -> float:
        """Value of the number or number word that a group is."""
        word = self.words[match.start(group)]
        return number_words()[word] if word in number_words() else read_number(word).value

    def span(self, match: re.Match[str], group: str | int = 0) -> tuple[int, int]:
        """Characters of the text that a match, or a group of it, takes."""
        first, last = match.span(group)
        return self.spans[first][0], self.spans[last - 1][1]

    def take(self, match: re.Match[str]) -> None:
        """Mark the tokens of a match as used, so that no later pattern reads them."""
        self._take(*match.span())

    def take_outside(self, kept: range) -> None:
        """Mark all tokens but those of a range as used."""
        self._take(0, kept.start)
        self._take(kept.stop, len(self.roles))

    def _take(self, first: int, last: int) -> None:
        taken = _letters()["taken"] * (last - first)
        self.roles = self.roles[:first] + taken + self.roles[last:]


@kept_by_text
def _read(text: str) -> tuple[str, tuple[str, ...], tuple[tuple[int, int], ...]]:
    """Roles, words and spans of a text; kept, for a line is asked for its roles by many readers."""
    found = list(_token().finditer(text))
    plain = [m[0].lower() for m in found]
    letters, lexicon = _letters(), _lexicon()
    words: list[str] = []
    spans: list[tuple[int, int]] = []
    roles: list[str] = []
    at = 0
    while at < len(found):
        role, used = _role(found, plain, at, lexicon)
        if role == "serve" and roles[-1:] == [letters["per"]]:
            role = "portion"  # "per serve"
        words.append(" ".join(plain[at : at + used]))
        spans.append((found[at].start(), found[at + used - 1].end()))
        roles.append(letters[role])
        at += used
    return _with_separators(text, "".join(roles), words, spans), tuple(words), tuple(spans)


def _with_separators(text: str, roles: str, words: list[str], spans: list[tuple[int, int]]) -> str:
    """Roles where a dash between spaces that parts other things of the text parts numbers too."""
    to, number, bar = _letters()["to"], role_pattern(DIGITS), _letters()["bar"]
    dashes = {
        at for at, (start, end) in enumerate(spans)
        if roles[at] == to and words[at] in "-–—"
        and text[start - 1 : start].isspace() and text[end : end + 1].isspace()
    }  # fmt: skip
    if all(number.match(roles, at - 1) and number.match(roles, at + 1) for at in dashes):
        return roles
    return "".join(bar if at in dashes else role for at, role in enumerate(roles))


def _role(
    found: list[re.Match[str]],
    plain: list[str],
    at: int,
    lexicon: dict[str, list[tuple[tuple[str, ...], str]]],
) -> tuple[str, int]:
    """Role of the token at a place, and how many tokens have it together."""
    match, word = found[at], plain[at]
    if match["number"]:
        value = read_number(word).value
        return ("unity" if word == "1" else "hundred" if value == 100 else "number"), 1
    for rest, role in lexicon.get(word, ()):
        if plain[at + 1 : at + 1 + len(rest)] == list(rest):
            return role, 1 + len(rest)
    if match["name"]:
        return ("energy" if word[0] in "ekcb" else "nutrient"), 1
    if match["letter"]:
        return "letter", 1
    if not word.strip():
        return ("bar" if "\n" in word else "gap"), 1
    return _MARKS.get(word.strip(), "word" if word[0].isalpha() else "mark"), 1


@cache
def role_pattern(names: str) -> re.Pattern[str]:
    """A regular expression over roles, written with their names: ``"per number? portion"``."""
    letters = _letters()
    spaced = re.sub(r"(?<![<\w])[a-z_]+(?![\w>])", lambda m: letters[m[0]], names)
    return re.compile(re.sub(r"\s+", "", spaced))


@dataclass(frozen=True, slots=True)
class Number:
    """A value and the step of its last written digit."""

    value: float
    step: float


def read_number(token: str, unit: str = "") -> Number:
    """Value of one ``NUMBER`` token.

    A comma before exactly three digits parts thousands, except in grams, where three decimals are
    likelier than a kilogram of a nutrient, and after a zero. A dot before exactly three digits is
    a decimal point except in an energy below 10, where ``1.724 kJ`` can only mean 1724.
    """
    token = token.strip()
    if token and token[-1] in _FRACTIONS:
        whole = token[:-1].strip()
        return Number((float(whole) if whole else 0.0) + _FRACTIONS[token[-1]], 0.01)
    token = re.sub(r"[\s\u00a0\u202f'’]", "", token)
    commas, dots = token.count(","), token.count(".")
    if commas and dots:
        thousands = "," if token.rfind(".") > token.rfind(",") else "."
        token = token.replace(thousands, "").replace(",", ".")
    elif commas > 1 or dots > 1:
        token = token.replace(",", "").replace(".", "")
    elif commas or dots:
        whole, _, decimals = token.replace(",", ".").partition(".")
        grouped = len(decimals) == 3 and whole.strip("0") != "" and len(whole) <= 3
        energy = unit.lower().startswith(("k", "cal"))
        if grouped and ((commas and not _is_grams(unit)) or (dots and energy and len(whole) == 1)):
            token = whole + decimals
        else:
            token = f"{whole}.{decimals}"
    whole, _, decimals = token.partition(".")
    return Number(float(token), 10.0 ** -len(decimals))


def _is_grams(unit: str) -> bool:
    return unit.lower().startswith("g")


def is_kj(unit: str) -> bool:
    """Whether a unit of energy is the kilojoule."""
    return unit.lower().startswith(("kj", "kilo-j", "kiloj"))


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number of a text and what binds it.

    Attributes:
        low, high: as written; ``high`` is "" where there is no range.
        unit: as written behind it; ``kind`` is mass, energy or percent, "" without a unit.
        less: it is an upper end ("<1 g"); ``less_at`` is where the words for that begin.
        start, end: characters of the number or range; ``unit_end`` with its unit.
    """

    low: str
    high: str
    unit: str
    kind: str
    less: bool
    negative: bool
    less_at: int
    start: int
    end: int
    unit_end: int

    def number(self, unit: str = "") -> Number:
        """Its value in ``unit``: the middle of a range, half of an upper end."""
        number = read_number(self.low, unit)
        if self.high:
            high = read_number(self.high, unit)
            if high.value > number.value:
                width = high.value - number.value
                return Number((number.value + high.value) / 2, width + number.step)
        elif self.less:
            return Number(number.value / 2, max(number.value, number.step))
        return number


_QUANTITY = (
    f"(?P<less> [less limit])? (?P<sign> to)? (?P<low> {DIGITS}) (?: to (?P<high> {DIGITS}))?"
    " (?P<unit> metric | energy_unit | energy | percent)?"
)


def quantities(line: Roles) -> list[Quantity]:
    """Every number of a text that is no part of a word."""
    found = (quantity(line, match) for match in line.finditer(_QUANTITY))
    return [
        q for q in found
        if not re.match(r"[\w.,+]", line.text[max(q.start - 1, 0) : q.start])
        and (q.kind or not line.text[q.end : q.end + 1].isalpha())
    ]  # fmt: skip


def quantity(line: Roles, match: re.Match[str]) -> Quantity:
    """The number of a match with the groups of ``_QUANTITY``."""
    text, low = line.text, line.span(match, "low")
    end = line.span(match, "high")[1] if match["high"] else low[1]
    unit, kind, unit_end = "", "", end
    if match["unit"]:
        begin, unit_end = line.span(match, "unit")
        unit = text[begin:unit_end]
        kind = _unit_kind(line.role_at(match.start("unit")), unit)
        if not kind:
            unit, unit_end = "", end
    sign = line.span(match, "sign") if match.groupdict().get("sign") else None
    negative = sign is not None and sign[1] == low[0] and text[sign[0]] in "-−"
    less_at = line.span(match, "less")[0] if match["less"] else low[0]
    return Quantity(text[slice(*low)], text[slice(*line.span(match, "high"))] if match["high"] else "",
                    unit, kind, bool(match["less"]), negative, less_at, low[0], end, unit_end)  # fmt: skip


def _unit_kind(role: str, unit: str) -> str:
    first = unit[0].lower()
    if role == "metric":
        return "mass" if first == "g" or (first == "m" and unit[:2].lower() != "ml") else ""
    if role == "percent":
        return "percent"
    return "energy" if first in "kc" else ""


@cache
def _rows(table: str) -> tuple[dict[str, str], ...]:
    """The rows of a table of ``shared/``, which is asked for one role after the other."""
    return tuple(shared_rows(table))


@cache
def words_of(table: str, *roles: str, **only: str) -> str:
    """A pattern of the words of some roles (column ``role`` or ``kind``) of a table of ``shared/``.

    Args:
        only: values that other columns must have.
    """
    return any_of(spelled(word, {" ": r"\s+"}) for word in listed_words(table, *roles, **only))


@cache
def listed_words(table: str, *roles: str, **only: str) -> frozenset[str]:
    """The words that ``words_of`` is a pattern of."""
    return frozenset(
        word for row in _rows(table) if row.get("role", row.get("kind")) in roles
        and all(row[column] == value for column, value in only.items())
        for word in row["words"].split(";")
    )  # fmt: skip
