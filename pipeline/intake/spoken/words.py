"""Words of a script in order, with their numbers put together.

Captions split numbers and sentences anywhere; a number said in words is one ``Word`` with its value:
"one and a half" is 1 1/2, "four oh five" 405. The single words stand in ``shared/number_words.csv``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from pipeline.intake.spoken.captions import NAN, Piece, clock, pieces, speech
from pipeline.intake.spoken.phrases import word_class
from pipeline.lines.vocabulary import LEXICON

#: Characters of a number that somebody speaks of; longer ones are words like any other.
MOST_DIGITS = 20

_NAMES = 0.4  # most of a script's words that are names, where capital letters tell them
WEAK, STRONG = 1, 2  # a comma, a full stop, before a word

_SINGLE = {text: word for text, word in LEXICON.items() if word.number and "-" not in text}
_COUNTS = {t: w.number for t, w in _SINGLE.items() if w.number and w.number_class == "count"}
_ONES = {text: value for text, value in _COUNTS.items() if value < 10}
_MORE = {text: value for text, value in _COUNTS.items() if value >= 10}
#: "fourth" is left out: a speaker counts recipes with it.
_PARTS = {
    text: float(Fraction(word.number or 0.0).limit_denominator(100))
    for text, word in _SINGLE.items()
    if word.number_class == "fraction" and text != "fourth"
}
#: "2" → "two", for names of foods that hold a number.
NUMBERS_IN_WORDS = {f"{value:g}": text for text, value in _ONES.items()}
_TWO = ("couple", "pair")
_LARGE = {"hundred": 100.0, "thousand": 1000.0, "dozen": 12.0}
_TOKEN = re.compile(
    r"(?P<number>\d+\s+\d\s*/\s*\d+|\d+\s*/\s*\d+|\d+\s?[½¼¾⅓⅔⅛]|[½¼¾⅓⅔⅛]|\d{1,3}(?:,\d{3})+|"
    r"\d+(?:[.,]\d+)?)"
    r"|(?P<word>[^\W\d_]+(?:['’-][^\W\d_]+)*)|(?P<percent>%)|(?P<strong>[.!?;]+(?=\s|$|[\"')])|[-=~]{3,})"
    r"|(?P<weak>[,:()–—]|\s-\s)"
)


#: A run of numbers in words: "two hundred and eighty-nine".
_ONE = "|".join(
    sorted(map(re.escape, (*_COUNTS, "hundred", "thousand")), key=lambda w: (-len(w), w))
)
_RUN = re.compile(
    rf"(?<![\w-])(?:{_ONE})(?:(?:[\s-]|\s+and\s+)(?:{_ONE}))*(?![\w-])", re.IGNORECASE
)
_GRAMS = re.compile(r"\s*(?:g|grams?)\b", re.IGNORECASE)
_TWO_FIGURES = 10


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
        capital: it begins with a capital letter, in a script where few words do.
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
    capital: bool = False
    start: int = 0
    end: int = 0
    from_s: float = NAN
    to_s: float = NAN
    tail: float = 0.0


@dataclass(slots=True)
class Span:
    """Words of a script, from ``start`` to ``end``, the end not included."""

    start: int
    end: int


def words_of(spoken: list[Piece]) -> list[Word]:
    """The words of a script in order, numbers put together."""
    out: list[Word] = []
    breaks, paragraph = STRONG, True
    for piece, begins in zip(spoken, speech(spoken)[1], strict=True):
        if piece.starts_paragraph:
            breaks, paragraph = STRONG, True
        for match in _TOKEN.finditer(piece.text.replace("’", "'")):
            kind = match.lastgroup
            if kind == "strong":
                if out and out[-1].text not in ("of", "a", "an", "the", "and"):  # a wrong split
                    breaks = STRONG
                continue
            if kind == "weak":
                breaks = max(breaks, WEAK)
                continue
            if match[0].lower() in word_class("hesitation"):
                continue
            for text in _split_hyphens(match[0].lower()) if kind == "word" else [match[0]]:
                word = Word(
                    text, piece.line, clock(piece.from_s), from_s=piece.from_s, to_s=piece.to_s
                )
                word.start, word.end = begins + match.start(), begins + match.end()
                if kind == "number" and len(text) <= MOST_DIGITS and not _is_lean(text):
                    word.value = _digits(text)
                    word.text = shown_number(word.value)
                elif kind == "percent":
                    word.text, breaks, paragraph = "percent", 0, False
                word.breaks, word.paragraph = breaks, paragraph
                word.capital = match[0].istitle() and len(match[0]) > 1
                out.append(word)
                breaks, paragraph = 0, False
    if sum(w.capital for w in out) > _NAMES * len(out):
        out = [replace(word, capital=False) for word in out]
    return _with_numbers(_without_fillers(out))


def _without_fillers(words: list[Word]) -> list[Word]:
    """Words without those that carry nothing within an amount: "two like cups of basically flour"."""
    out: list[Word] = []
    at = breaks = 0
    while at < len(words):
        said = f"{words[at].text}_{_text(words, at + 1)}"
        pair = said in word_class("filler_pair")
        end = at + 1 + pair
        if said in word_class("hesitation_pair"):
            breaks = max(breaks, words[at].breaks)
            at += 2
            continue
        filler = pair or words[at].text in word_class("filler_within")
        if not (filler and out and not words[at].breaks and _within_amount(out[-1], words, end)):
            out.append(words[at])
            end = at + 1
            if breaks:  # of the hesitation that went
                out[-1] = replace(words[at], breaks=max(breaks, words[at].breaks))
        at, breaks = end, 0
    return out


def _within_amount(before: Word, words: Sequence[Word], at: int) -> bool:
    """An amount goes on from the word before to the one at ``at``."""
    text, following = before.text, _text(words, at)
    number = before.value is not None or text in _COUNTS or text in _PARTS or text in _LARGE
    if not following:
        return False
    part = following in _PARTS or (following == "a" and _text(words, at + 1) in _PARTS)
    count = following in _COUNTS or words[at].value is not None
    article = text in ("a", "an")
    return (
        text in ("of", "couple")
        or ((number or article) and (_is_unit(following) or following in _LARGE))
        or (_is_unit(text) and following == "of")
        or (text == "and" and (part or count))
        or (text in _LARGE and (count or following == "and"))
        or (text in _MORE and following in _ONES)
        or (article and following in _PARTS)
    )


def _split_hyphens(word: str) -> list[str]:
    parts = word.split("-")
    return parts if all(p in _COUNTS or p in _PARTS for p in parts) else [word]


def _is_lean(text: str) -> bool:
    """ "93/7": lean and fat, no fraction."""
    top, slash, below = text.partition("/")
    return bool(slash) and top.isdigit() and below.isdigit() and int(top) + int(below) == 100


def _digits(text: str) -> float:
    if not text[-1].isdigit():  # a sign for a fraction
        return float(text[:-1].strip() or 0) + unicodedata.numeric(text[-1])
    if "/" in text:
        above, _, below = text.partition("/")
        *whole, top = above.split()
        part = float(top) / float(below) if float(below) else 0.0
        return float(whole[0] if whole else 0) + part
    if re.fullmatch(r"\d{1,3}(?:,\d{3})+", text):
        return float(text.replace(",", ""))
    return float(text.replace(",", "."))


def shown_number(value: float) -> str:
    """A number as recipes write it: 1/2, 1 1/2, 120, 2.5."""
    whole = int(value)
    for top, below in ((1, 2), (1, 4), (3, 4), (1, 3), (2, 3), (1, 8)):
        if abs(value - whole - top / below) < 1e-3 and value < 20:
            return f"{whole} {top}/{below}" if whole else f"{top}/{below}"
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _with_numbers(words: list[Word]) -> list[Word]:
    out: list[Word] = []
    at = 0
    while at < len(words):
        if _text(words, at + 1) == "and" and _is_half_and_half(words, at):
            last = words[at + 2]
            out.append(replace(words[at], text="half-and-half", end=last.end, to_s=last.to_s))
            at += 3
            continue
        if _is_pronoun(words, at):
            out.append(words[at])
            at += 1
            continue
        value, end, article = _number_at(words, at)
        if value is None:
            out.append(words[at])
            at += 1
            continue
        last = words[end - 1]
        merged = replace(
            words[at], text=shown_number(value), value=float(value), article=article,
            share=value < 1 and not article, end=last.end, to_s=last.to_s,
        )  # fmt: skip
        if end - at > 1 and value > 20:
            merged.tail = _ONES.get(last.text, 0.0)
        out.append(merged)
        at = end
    return out


# --- the grammar of numbers said in words ---------------------------------------------------------

#: Value, end, and whether it is only an article; no value when no number begins there.
_Number = tuple[float | None, int, bool]


def _text(words: Sequence[Word], at: int) -> str:
    """Text of a word that belongs to the one before it, "" past the end or behind a break."""
    return "" if at >= len(words) or words[at].breaks else words[at].text


def _is_pronoun(words: Sequence[Word], at: int) -> bool:
    """ "one" stands for a thing named before: "the last one", "the ten gram protein one"."""
    if words[at].text != "one" or _is_unit(_text(words, at + 1)):
        return False
    if at and not words[at].breaks and words[at - 1].text in word_class("one_of_a_kind"):
        return True
    if at > 1 and not words[at].breaks and words[at - 2].text in ("the", "that", "this"):
        kind = LEXICON.get(words[at - 1].text)
        if kind is not None and (kind.modifier or kind.prep or kind.effects):
            return True  # "the brown one"
    following = _text(words, at + 1)
    half = following == "and" and (
        _text(words, at + 2) in ("a", "half", "one") or _text(words, at + 3) in _PARTS
    )
    if half or following == "of" or (following and following not in word_class("function")):
        return False
    for back in range(1, 5):
        if at < back or words[at - back + 1].breaks:
            return False
        if words[at - back].text in ("the", "that", "those", "a", "an"):
            return back > 1
    return False


def _number_at(words: Sequence[Word], at: int) -> _Number:
    """The number that begins at ``at``."""
    text, following = words[at].text, _text(words, at + 1)
    if words[at].value is not None:
        return _with_rest(words, words[at].value or 0.0, at + 1)
    if text in _TWO or (text == "a" and following in _TWO):
        end = at + 1 if text in _TWO else at + 2
        return 2.0, end + 1 if _text(words, end) == "of" else end, False
    if text in ("a", "an"):
        if following in _LARGE:
            return _with_rest(words, *_large(words, at + 1, 1.0))
        if following in _PARTS and following not in word_class("parts"):
            return _PARTS[following], _after_part(words, at + 2), False
        return 1.0, at + 1, True
    if text in _PARTS:
        return _part(words, at)
    value, end = _integer(words, at)
    return (None, at, False) if value is None else _with_rest(words, value, end)


def _part(words: Sequence[Word], at: int) -> _Number:
    """ "half", "a third of", "half a dozen"; "third up" is none."""
    text, following = words[at].text, _text(words, at + 1)
    if text in ("third", "thirds") and following != "of":
        return None, at, False
    whole = following in word_class("before_parted") or _is_unit(following)
    if at and words[at - 1].text == "in" and not words[at].breaks and not whole:
        return None, at, False  # "cut them in half"
    if following in ("a", "an") and _text(words, at + 2) == "dozen":
        return _PARTS[text] * 12, at + 3, False
    return _PARTS[text], _after_part(words, at + 1), False


def _with_rest(words: Sequence[Word], value: float, end: int) -> _Number:
    """What goes on behind a number: "two thirds", "and a half", "point five"."""
    text, following = _text(words, end), _text(words, end + 1)
    quarters = text in _PARTS and text != "half" and _is_unit(following)
    quarters &= value > 1 and value * _PARTS.get(text, 0.0) in (0.75, 2 * _PARTS["third"])
    several = text in word_class("parts") and value * _PARTS[text] < 1  # not "twelve halves"
    if several or (value == 1 and text in _PARTS) or quarters:
        return value * _PARTS[text], _after_part(words, end + 1), False
    if text == "and":
        at = end + 1 + (following != "half")
        part, alone = _text(words, at), following in ("a", "half")
        times = 1.0 if alone else _ONES.get(following, 0.0)
        if times and part in _PARTS and _text(words, at + 1) not in ("a", "an"):
            return value + times * _PARTS[part], at + 1, False  # "one and three quarter cups"
    if text == "point" and end + 1 < len(words):
        tail = words[end + 1]
        digit = 0.0 if tail.text in ("zero", "oh") else _ONES.get(tail.text, tail.value)
        if digit is not None and digit.is_integer():
            return value + digit / 10 ** len(str(int(digit))), end + 2, False
    return value, end, False


def _is_unit(text: str) -> bool:
    """ "about 6 ounces each one pound green beans": a number after all."""
    word = LEXICON.get(text)
    return word is not None and any(not rest for rest, *_ in word.units)


def _is_package(text: str) -> bool:
    word = LEXICON.get(text)
    return word is not None and any(
        not rest and unit.kind == "package" for rest, unit, _ in word.units
    )


def _is_half_and_half(words: Sequence[Word], at: int) -> bool:
    """The name of a cream, and no number."""
    return words[at].text == "half" == _text(words, at + 2)


def _after_part(words: Sequence[Word], end: int) -> int:
    """Past the "of a" of "three quarters of a cup" and the "an" of "half an avocado"."""
    if _text(words, end) in ("a", "an"):
        return end + 1
    if _text(words, end) == "of" and _text(words, end + 1) in ("a", "an"):
        return end + 2
    return end


def _integer(words: Sequence[Word], at: int) -> tuple[float | None, int]:
    text, following = words[at].text, _text(words, at + 1)
    if text in _ONES:
        value = _ONES[text]
        if following in _LARGE:
            return _large(words, at + 1, value)
        if following in ("oh", "o") and _text(words, at + 2) in _ONES:  # "four oh five"
            return value * 100 + _ONES[_text(words, at + 2)], at + 3
        if following in _MORE:  # "four thirty", "four twelve"
            below, end = _remainder(words, at + 1)
            if _is_unit(_text(words, end)) and _is_package(_text(words, end + 1)):
                return value, at + 1  # "two fifteen ounce cans"
            return value * 100 + below, end
        return value, at + 1
    if text in _MORE:
        value, end = _below_hundred(words, at)
        if (
            10 < value < 20 and _COUNTS.get(_text(words, end), 0) >= 20
        ):  # "nineteen twenty calories"
            below, stop = _below_hundred(words, end)
            if _text(words, stop) in word_class("ENERC_KCAL"):
                return value * 100 + below, stop
        large = _text(words, end) in ("hundred", "thousand")
        return _large(words, end, value) if large else (value, end)
    if text in ("hundred", "thousand"):
        return _large(words, at, 1.0)
    return (0.0, at + 1) if text in ("zero", "nought") else (None, at)


def _below_hundred(words: Sequence[Word], at: int) -> tuple[float, int]:
    value, following = _COUNTS[words[at].text], _text(words, at + 1)
    if value >= 20 and following in _ONES:
        return value + _ONES[following], at + 2
    return value, at + 1


def _remainder(words: Sequence[Word], at: int) -> tuple[float, int]:
    """What is said below a hundred; "two sixty | two hundred and sixty" says it twice."""
    value, end = _below_hundred(words, at)
    again = end - at == 2 and _text(words, end) in ("hundred", "thousand")
    return (_COUNTS[words[at].text], at + 1) if again else (value, end)


def _large(words: Sequence[Word], at: int, times: float) -> tuple[float, int]:
    """ "hundred and twenty" after ``times``."""
    size = _LARGE[words[at].text]
    value, end = times * size, at + 1
    if size == 12.0:
        return value, end
    plus = end + 1 if _text(words, end) == "and" else end
    following = _text(words, plus)
    if size == 1000.0 and following in _ONES and _text(words, plus + 1) == "hundred":
        more, end = _large(words, plus + 1, _ONES[following])
        return value + more, end
    again = (
        following in _ONES and _text(words, plus + 1) == "hundred"
    )  # "nine hundred | nine hundred"
    if following in _COUNTS and not again:
        below, end = _remainder(words, plus)
        return value + below, end
    return value, end


def in_figures(text: str) -> str:
    """A text with its numbers of two and more figures written so, and smaller ones in front of grams.

    >>> in_figures("two hundred and eighty-nine calories, nine grams of fat in one bowl")
    '289 calories, 9 grams of fat in one bowl'
    """

    def figures(found: re.Match[str]) -> str:
        said = [
            word.value for word in words_of(pieces(found[0], "script")) if word.value is not None
        ]
        value = said[0] if len(said) == 1 else 0.0
        small = value < _TWO_FIGURES and not _GRAMS.match(text, found.end())
        return found[0] if small or not value else f"{value:g}"

    return _RUN.sub(figures, text)
