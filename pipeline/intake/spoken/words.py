"""Words of a script in order, with their numbers put together.

Captions split numbers and sentences anywhere; a number said in words is one ``Word`` with its value:
"one and a half" is 1 1/2, "four oh five" 405.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from pipeline.intake.spoken.captions import NAN, Piece, clock, speech
from pipeline.lines.vocabulary import LEXICON


def word_set(words: str) -> frozenset[str]:
    """The words of a text, as a set."""
    return frozenset(words.split())


#: Characters of a number that somebody speaks of; longer ones are words like any other.
MOST_DIGITS = 20

WEAK, STRONG = 1, 2  # a comma, a full stop, before a word

_ONES = {
    "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
}  # fmt: skip
_TEENS = {
    "ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
    "sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19,
}  # fmt: skip
_TENS = {
    "twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
    "eighty": 80, "ninety": 90,
}  # fmt: skip
_PARTS = {
    "half": 1 / 2, "halves": 1 / 2, "quarter": 1 / 4, "quarters": 1 / 4, "third": 1 / 3,
    "thirds": 1 / 3, "eighth": 1 / 8, "eighths": 1 / 8,
}  # fmt: skip
_SIGNS = {"½": 1 / 2, "¼": 1 / 4, "¾": 3 / 4, "⅓": 1 / 3, "⅔": 2 / 3, "⅛": 1 / 8}
#: "one" after these is no number: "this one", "the last one", "the smooth one".
_PRONOUN_WORDS = """
    this that the each every last first next second third fourth fifth other another which percent
    smooth big small good nice light dark final same any no these those easy quick
"""
_PRONOUN = word_set(_PRONOUN_WORDS)
_TOKEN = re.compile(
    r"(?P<number>\d+\s+\d\s*/\s*\d+|\d+\s*/\s*\d+|\d+\s?[½¼¾⅓⅔⅛]|[½¼¾⅓⅔⅛]|\d{1,3}(?:,\d{3})+|"
    r"\d+(?:[.,]\d+)?)"
    r"|(?P<word>[^\W\d_]+(?:['’-][^\W\d_]+)*)|(?P<percent>%)|(?P<strong>[.!?;]+(?=\s|$|[\"')]))"
    r"|(?P<weak>[,:()–—]|\s-\s)"
)


@dataclass(slots=True)
class Word:
    """One word or number of a script.

    Attributes:
        text: lower case; a number as it is written in a recipe.
        value: of a number, else None.
        article: the number is only "a" or "an".
        breaks: the break before it, 0, ``WEAK`` or ``STRONG``.
        paragraph: it begins a paragraph of a plain script.
        share: a part of one: "half", "a third".
        tail: the last word of a number of several, when it may be one of its own
            ("four hundred and fifty, two peppers" without the comma).
    """

    text: str
    line: int
    time: str
    value: float | None = None
    article: bool = False
    breaks: int = 0
    paragraph: bool = False
    share: bool = False
    start: int = 0
    end: int = 0
    from_s: float = NAN
    to_s: float = NAN
    tail: float = 0.0


def words_of(spoken: list[Piece]) -> list[Word]:
    """The words of a script in order, numbers put together."""
    out: list[Word] = []
    breaks, paragraph = STRONG, True
    for piece, begins in zip(spoken, speech(spoken)[1], strict=True):
        if piece.starts_paragraph:
            breaks, paragraph = STRONG, True
        time = clock(piece.from_s)
        for match in _TOKEN.finditer(piece.text.replace("’", "'")):
            span = (begins + match.start(), begins + match.end(), piece.from_s, piece.to_s)
            if match["strong"]:
                if out and out[-1].text not in ("of", "a", "an", "the", "and"):  # a wrong split
                    breaks = STRONG
                continue
            if match["weak"]:
                breaks = max(breaks, WEAK)
                continue
            number = match["number"]
            if number and (len(number) > MOST_DIGITS or _is_lean(number)):
                word = Word(match["number"], piece.line, time, None, False, 0, False, False, *span)
                out.append(_placed(word, breaks, paragraph))
            elif match["number"]:
                word = Word(
                    "", piece.line, time, _digits(match["number"]), False, 0, False, False, *span
                )
                word.text = shown_number(word.value or 0.0)
                out.append(_placed(word, breaks, paragraph))
            elif match["percent"]:
                out.append(Word("percent", piece.line, time, None, False, 0, False, False, *span))
            else:
                for at, part in enumerate(_split_hyphens(match["word"].lower())):
                    word = Word(part, piece.line, time, None, False, 0, False, False, *span)
                    out.append(_placed(word, breaks if at == 0 else 0, paragraph and at == 0))
            breaks, paragraph = 0, False
    return _with_numbers(out)


def _placed(word: Word, breaks: int, paragraph: bool) -> Word:
    word.breaks, word.paragraph = breaks, paragraph
    return word


def _split_hyphens(word: str) -> list[str]:
    parts = word.split("-")
    numbers = all(p in _ONES or p in _TENS or p in _TEENS or p in _PARTS for p in parts)
    return parts if numbers and len(parts) > 1 else [word]


def _is_lean(text: str) -> bool:
    """ "93/7": lean and fat, no fraction."""
    top, slash, below = text.partition("/")
    return bool(slash) and top.isdigit() and below.isdigit() and int(top) + int(below) == 100


def _digits(text: str) -> float:
    text = text.strip()
    if text[-1] in _SIGNS:
        whole = text[:-1].strip()
        return (float(whole) if whole else 0.0) + _SIGNS[text[-1]]
    if "/" in text:
        whole, _, rest = text.rpartition(" ") if re.match(r"\d+\s+\d", text) else ("", "", text)
        top, _, below = rest.replace(" ", "").partition("/")
        if not whole and " " in text and re.match(r"\d+\s+\d\s*/", text):
            whole = text.split()[0]
        bottom = float(below)
        return (float(whole) if whole else 0.0) + (float(top) / bottom if bottom else 0.0)
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text):
        return float(text.replace(",", ""))
    return float(text.replace(",", "."))


def shown_number(value: float) -> str:
    """A number as recipes write it: 1/2, 1 1/2, 120, 2.5."""
    whole = int(value)
    for part, sign in ((1 / 2, "1/2"), (1 / 4, "1/4"), (3 / 4, "3/4"), (1 / 3, "1/3"), (2 / 3, "2/3"),
                       (1 / 8, "1/8")):  # fmt: skip
        if abs(value - whole - part) < 1e-3 and value < 20:
            return f"{whole} {sign}" if whole else sign
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _with_numbers(words: list[Word]) -> list[Word]:
    out: list[Word] = []
    at = 0
    while at < len(words):
        value, end, article = _number_at(words, at, out[-1].text if out else "")
        if value is None:
            out.append(words[at])
            at += 1
            continue
        word = words[at]
        merged = Word(shown_number(value), word.line, word.time, float(value), article, word.breaks,
                      word.paragraph, value < 1 and not article, word.start, words[end - 1].end,
                      word.from_s, words[end - 1].to_s)  # fmt: skip
        if end - at > 1 and value >= 40 and words[end - 1].text in _ONES:
            merged.tail = float(_ONES[words[end - 1].text])
        out.append(merged)
        at = end
    return out


def _text(words: Sequence[Word], at: int, *, joined: bool = True) -> str:
    """Text of a word that belongs to the one before it, "" past the end or behind a break."""
    if at >= len(words) or (joined and words[at].breaks):
        return ""
    return words[at].text


def _number_at(words: Sequence[Word], at: int, before: str) -> tuple[float | None, int, bool]:
    """Value and end of the number that begins at ``at``; None when none does."""
    word = words[at]
    value: float | None
    end: int
    if word.value is not None:
        value, end = word.value, at + 1
    else:
        text = word.text
        if text == "one" and before in _PRONOUN and not _is_unit(_text(words, at + 1)):
            return None, at, False
        if text == "couple" or (text == "a" and _text(words, at + 1) == "couple"):
            end = at + 1 if text == "couple" else at + 2
            return 2.0, end + 1 if _text(words, end) == "of" else end, False
        if text in ("a", "an"):
            following = _text(words, at + 1)
            if following in ("hundred", "thousand", "dozen"):
                value, end = _large(words, at + 1, 1.0)
            elif following in _PARTS and following not in ("thirds", "quarters", "halves"):
                value, end = _PARTS[following], at + 2
                return value, _after_part(words, end), False
            else:
                return 1.0, at + 1, True
        elif text in _PARTS:
            if text in ("third", "thirds") and _text(words, at + 1) != "of":
                return None, at, False  # "third up"
            value, end = _PARTS[text], at + 1
            if _text(words, end) in ("a", "an") and _text(words, end + 1) in ("dozen",):
                return value * 12, end + 2, False
            return value, _after_part(words, end), False
        else:
            value, end = _spoken_integer(words, at)
            if value is None:
                return None, at, False
    if _text(words, end) in ("thirds", "quarters", "halves", "eighths") or (
        value == 1 and _text(words, end) in _PARTS
    ):
        value *= _PARTS[_text(words, end)]
        return value, _after_part(words, end + 1), False
    if _text(words, end) == "and" and _text(words, end + 1) in ("a", "one", "half"):
        half_at = end + 1 if _text(words, end + 1) == "half" else end + 2
        part = _text(words, half_at)
        if half_at == end + 1 and _text(words, end + 2) in ("a", "an"):
            part = ""  # "six eggs and half an onion" with the eggs left out
        if part in ("half", "quarter", "third"):
            return value + _PARTS[part], half_at + 1, False
    if _text(words, end) == "point" and end + 1 < len(words):
        tail = words[end + 1]
        digit = _ONES.get(tail.text, 0 if tail.text in ("zero", "oh") else None)
        if digit is None and tail.value is not None and tail.value.is_integer():
            digit = int(tail.value)
        if digit is not None:
            return value + digit / 10 ** len(str(digit)), end + 2, False
    return value, end, False


def _is_unit(text: str) -> bool:
    """ "about 6 ounces each one pound green beans": a number after all."""
    word = LEXICON.get(text)
    return word is not None and any(not rest for rest, *_ in word.units)


def _after_part(words: Sequence[Word], end: int) -> int:
    """Past the "of a" of "three quarters of a cup" and the "an" of "half an avocado"."""
    if _text(words, end) in ("a", "an"):
        return end + 1
    if _text(words, end) == "of" and _text(words, end + 1) in ("a", "an"):
        return end + 2
    return end


def _spoken_integer(words: Sequence[Word], at: int) -> tuple[float | None, int]:
    text = words[at].text
    if text in _ONES:
        value: float = _ONES[text]
        following = _text(words, at + 1)
        if following in ("hundred", "thousand", "dozen"):
            return _large(words, at + 1, value)
        if following in ("oh", "o") and _text(words, at + 2) in _ONES:  # "four oh five"
            return value * 100 + _ONES[_text(words, at + 2)], at + 3
        if following in _TENS or following in _TEENS:  # "four thirty", "four twelve"
            below, end = _below_hundred(words, at + 1)
            return value * 100 + below, end
        return value, at + 1
    if text in _TENS or text in _TEENS:
        value, end = _below_hundred(words, at)
        if _text(words, end) in ("hundred", "thousand"):
            return _large(words, end, value)
        return value, end
    if text in ("hundred", "thousand"):
        return _large(words, at, 1.0)
    if text in ("zero", "nought"):
        return 0.0, at + 1
    return None, at


def _below_hundred(words: Sequence[Word], at: int) -> tuple[float, int]:
    text = words[at].text
    if text in _TEENS:
        return float(_TEENS[text]), at + 1
    following = _text(words, at + 1)
    if following in _ONES:
        return float(_TENS[text] + _ONES[following]), at + 2
    return float(_TENS[text]), at + 1


def _large(words: Sequence[Word], at: int, times: float) -> tuple[float, int]:
    """ "hundred and twenty" after ``times``."""
    size = {"hundred": 100.0, "thousand": 1000.0, "dozen": 12.0}[words[at].text]
    value, end = times * size, at + 1
    if size == 12.0:
        return value, end
    plus = end + 1 if _text(words, end) == "and" else end
    following = _text(words, plus)
    if size == 1000.0 and following in _ONES and _text(words, plus + 1) == "hundred":
        more, end = _large(words, plus + 1, _ONES[following])
        return value + more, end
    if following in _TENS or following in _TEENS:
        below, end = _below_hundred(words, plus)
        return value + below, end
    if following in _ONES:
        return value + _ONES[following], plus + 1
    return value, end
