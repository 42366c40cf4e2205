"""Lines that state several facts at once: "Prep 10 min · Serves 4 · 512 kcal per serving".

``find_facts`` finds what a line says of yield and time beside anything else it holds. Yields are
handed to ``servings.read_yield`` as written; what is left, at the same places of the line, can be
read as stated numbers without taking "4" of "Serves 4 - 512 kcal" for one of them.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, lru_cache

from pipeline.intake.amounts import NUMBER
from pipeline.resources import shared_rows

_COUNT_WORDS = "one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|sixteen|twenty"
#: A number that carries its own unit of energy, mass or share is no count.
_NOT_MEASURED = (
    r"(?!\s?(?:k\.?cals?|cals?\b|calories?|kj|kilo|k?g\b|mg\b|ml\b|cl\b|gr\b|grams?\b|%)|[.,]?\d"
    r"|\s?[pcf]\b)"
)
_COUNT = rf"(?:(?:{NUMBER}|\b(?:{_COUNT_WORDS})\b){_NOT_MEASURED})"
_RANGE = rf"{_COUNT}(?:\s?(?:-|–|—|to|or)\s?{_COUNT})?"
#: "4 x 350 g portions".
_TIMES = rf"(?:\s?[x×]\s?{NUMBER}\s?(?:g|ml)\b)?"
_HEDGE = r"(?:about|approx\.?|approximately|around|roughly|up\s+to|~)?\s*"
#: One to three words that are no facts of their own, up to where something else begins.
_NOUN = (
    r"(?:\s+(?!at\b|for\b|with\b|and\b|each\b|per\b|of\b|is\b|are\b|from\b|in\b|a\b|energy\b"
    r"|k?cal|prot|carb|fat\b|macro|prep(?:aration)?\b|cook(?:ing)?\b|bak(?:e|ing)\b|time\b|total\b|ready\b|oven\b"
    r"|difficulty\b|level\b|easy\b|rest\b)[^\W\d_][\w'’-]*){0,3}"
)
_NOTE = (
    rf"(?:\s+of\s+(?:about\s+)?{NUMBER}\s?(?:g|kg|ml|oz)\b)?"
    rf"(?:\s*\((?![^()]*(?:cal|kj|prot|carb|fat))(?:{NUMBER}|[^\W\d_]|[ '’-])*\))?"
)
_TIME_UNIT = r"(?:h|hrs?|hours?|m|mins?|minutes?|secs?|seconds?|days?)\b\.?"
_TIME = re.compile(
    r"(?:\b(?:(?:prep(?:aration)?|cook(?:ing)?|total|active|hands?-on|bak(?:e|ing)|rest(?:ing)?|"
    r"chill(?:ing)?|ready(?:\s+in)?|done\s+in|time|in)\b\s*)+[:=]?\s*)?"
    rf"(?<![\w.,]){NUMBER}(?:\s?(?:-|–|to)\s?{NUMBER})?\s?-?{_TIME_UNIT}"
    rf"(?:\s?(?:and\s+|,\s?)?{NUMBER}\s?-?{_TIME_UNIT})?"
    r"(?:\s+(?:prep|cook(?:ing)?|total|active|bake|baking|chilling|resting)\b)?",
    re.IGNORECASE,
)
_PARTS = re.compile(r"\s{2,}|\s*(?:[|·•;\n]|,(?!\d)|\s[-–—/]\s|\.\s)\s*")
#: Emoji and other signs before a fact.
_SIGNS = re.compile(r"^[\W_]+|[\W_]+$")
_SHARES = {
    "half": 2, "third": 3, "quarter": 4, "fourth": 4, "fifth": 5, "sixth": 6, "eighth": 8,
    "tenth": 10, "twelfth": 12, "½": 2, "⅓": 3, "¼": 4, "⅕": 5, "⅙": 6, "⅛": 8,
}  # fmt: skip
_SHARE = re.compile(
    rf"\b(?:per|for|in)\s+(?:an?\s+|one\s+)?(?:1\s?/\s?(?P<over>[2-9]|1\d|2[0-4])\b|(?P<named>{'|'.join(_SHARES)}))"
    r"\s*(?:of\s+)?(?:the\s+|this\s+|a\s+)?(?:whole\s+)?(?P<of>[^\W\d_]+)",
    re.IGNORECASE,
)


#: "Nutrition (8 slices) per slice": what the dish gives, where the words behind say for how much.
_HEADED = re.compile(
    rf"^\W*(?:nutrition\w*(?:\s+\w+)?|macros?)\s*\(\s*(?P<yield>{_RANGE}{_NOUN})\s*\)(?=\W*(?:per|each)\b)",
    re.IGNORECASE,
)


@cache
def _words_of(*kinds: str) -> str:
    """Alternation of the words of ``shared/yield_words.csv`` of some kinds, longest first."""
    words = {
        word for row in shared_rows("yield_words.csv") if row["kind"] in kinds
        for word in row["words"].split(";")
    }  # fmt: skip
    return "|".join(re.escape(w) for w in sorted(words, key=lambda w: (-len(w), w)))


@cache
def _patterns() -> tuple[re.Pattern[str], ...]:
    served = _words_of("serving")
    keyed = (
        r"(?<![\w/])(?:(?:it|this|recipe|which|that|enough)\s+)?"
        r"(?:serves|feeds|makes|yields?|servings|portions|yield|serve(?=\s*[:=])"
        r"|(?:cut|divide|split|slice|portion)(?:s|d|ed)?\s+into)\s*[:=]?\s*"
        rf"{_HEDGE}{_RANGE}{_TIMES}{_NOUN}{_NOTE}"
    )
    counted = (
        rf"(?<![\w/])(?<!per )(?<!of )(?<!each )(?:for\s+)?{_HEDGE}(?!(?:1|one)\s)"
        rf"{_RANGE}{_TIMES}\s*(?:[^\W\d_]+\s)?\s*-?\s*"
        rf"\b(?:{served})\b(?!\s*sizes?\b){_NOTE}"
    )
    share = rf"\b(?:1|one)\s+(?:of|in)\s+(?P<yield>{_COUNT}\s*(?:{served}))\b"
    company = (
        rf"\b(?:family|group|party|crowd|table)\s+of\s+{_COUNT}"
        rf"|\bfor\s+(?:{_COUNT_WORDS})\b(?!\s+[^\W\d_])|\bsingle\s+serv(?:e|ings?)\b"
    )
    divided = rf"\bbased\s+on\s+(?P<yield>{_COUNT}(?:\s*(?:{served})\b)?)"
    patterns = (divided, share, keyed, counted, company)
    return tuple(re.compile(pattern, re.IGNORECASE) for pattern in patterns)


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


#: What a table of servings is laid for, as ``read_yield`` reads it.
_COMPANY = re.compile(r"^(?:family|group|party|crowd|table)\s+of\s+", re.IGNORECASE)
_SINGLE = re.compile(r"^single\s+serv(?:e|ings?)", re.IGNORECASE)


@cache
def _may() -> re.Pattern[str]:
    """What a line that says a yield or a time holds; nothing else is looked through."""
    return re.compile(
        rf"\b(?:{_words_of('serving')})\b|feed|make|yield|nutrition|macro|serv|into|based|\bof\b"
        r"|\b(?:per|for|in)\s|\d\s?-?(?:h|m|sec|day)",
        re.IGNORECASE,
    )


@lru_cache(maxsize=4096)
def find_facts(text: str) -> Facts:
    """Yields and times of ``text``; total, linear in its length."""
    if not _may().search(text):
        return Facts((), text, text, False)
    rest, yields = text, []
    counted: list[tuple[int, int]] = []
    share = _SHARE.search(rest)
    if share and re.fullmatch(_words_of("whole", "container"), share["of"], re.IGNORECASE):
        yields.append(f"{share['over'] or _SHARES[share['named'].lower()]} servings")
        rest = _blank(rest, share.start(), share.end(), "per serving")
    for pattern in _patterns():
        for match in pattern.finditer(rest):
            said = match.groupdict().get("yield") or match[0]
            if " " not in said and match[0].lower().startswith("based"):
                said += " servings"
            yields.append(_SINGLE.sub("1 serving", _COMPANY.sub("serves ", said.strip())))
            rest = _blank(rest, match.start(), match.end())
            if match[0].lstrip().lower().startswith("for "):
                counted.append(match.span())
    headed = None if yields else _HEADED.match(rest)
    if headed:
        yields.append(headed["yield"])
        rest = _blank(rest, *headed.span("yield"))
    for match in _TIME.finditer(rest):
        rest = _blank(rest, match.start(), match.end())
    parts = [p for p in _PARTS.split(text) if _SIGNS.sub("", p)]
    left = [p for p in _PARTS.split(rest) if _SIGNS.sub("", p)]
    with_counted = rest
    for start, end in counted:
        with_counted = with_counted[:start] + text[start:end] + with_counted[end:]
    only = bool(yields) and len(parts) > 1 and not left
    return Facts(
        tuple(yields), rest, with_counted, only, "based on" in text.lower() and bool(yields)
    )


def _blank(text: str, start: int, end: int, keep: str = "") -> str:
    return text[:start] + keep[: end - start].ljust(end - start) + text[end:]
