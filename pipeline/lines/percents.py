"""Figures in per cent: fat, lean, cocoa; "80/20" of minced meat."""

from __future__ import annotations

from typing import NamedTuple

from pipeline.lines.amounts import numeral
from pipeline.lines.tokens import NUMBER, WORD, Tokens
from pipeline.lines.vocabulary import group

_FAT, _OTHER, _LESS = map(group, ("fat_word", "not_fat", "less_word"))
#: Energy words: a number before one tells of the food and counts nothing.
CALORIES = group("calorie")
#: Words beside which a bare figure over 50 is the lean share, and beside which one is not fat.
_MEAT, _NO_FAT = map(group, ("lean_food", "no_fat_food"))


#: Before the name of a thing that is there already.
DEFINITE = frozenset(("the", "this", "your", "our", "my"))


class Percent(NamedTuple):
    """One figure: ``what`` is fat, lean, cocoa, "" (not said) or "-" (something else).

    Attributes:
        value: the figure.
        what: what it measures.
        next: first token after it.
        note: words to keep as a note, "" when none.
        state: canonical state it implies ("30 % less fat"), "" when none.
    """

    value: float
    what: str
    next: int
    note: str = ""
    state: str = ""


def percent_at(t: Tokens, i: int) -> bool:
    """Whether token ``i`` is a number in per cent, the first of a range, or parts of minced meat."""
    return _figure_at(t, i) or (
        t.kind[i] == NUMBER and t.word[i + 1] in ("-", "to") and _figure_at(t, i + 2)
    )


def share_in_percent(t: Tokens, at: int) -> bool:
    """Whether a sign of per cent tells how much of a thing is taken: "50 % of the sauce"."""
    return t.word[at] == "%" and t.word[at + 1] == "of" and t.word[at + 2] in DEFINITE


def _figure_at(t: Tokens, i: int) -> bool:
    if t.kind[i] != NUMBER:
        return False
    after = t.word[i + 1]
    return after == "%" or after in ("percent", "pct") or _parts(t.word[i]) is not None


def _parts(text: str) -> int | None:
    """The larger part of "80/20", None when the two do not make a hundred."""
    a, b = (part.strip() for part in f"{text}/".split("/")[:2])
    if not (a.isdecimal() and b.isdecimal()) or int(a) + int(b) != 100:
        return None
    return max(int(a), int(b))


def read_percent(t: Tokens, i: int) -> Percent | None:
    """The figure at token ``i`` with the word that says of what."""
    word = t.word
    if not percent_at(t, i):
        return None
    if not _figure_at(t, i):
        i += 2  # "2-5% fat": the higher end
    lean = _parts(word[i])
    if lean is not None and word[i + 1] != "%":
        return Percent(float(lean), "lean", i + 1)
    value = numeral(word[i]).value
    j = i + 2
    if word[j] == "-" and t.kind[j + 1] == WORD:
        j += 1
    said = word[j]
    if said in _FAT or (said in ("milk", "butter") and word[j + 1] == "fat"):
        j += 1 if said in _FAT else 2
        if word[j] == "free":
            return Percent(100.0 - value, "fat", j + 1)
        return Percent(value, "fat", j + 1 if word[j] == "content" else j)
    if said == "fat-free":
        return Percent(100.0 - value, "fat", j + 1)
    if said == "lean":
        return Percent(value, "lean", j + 1)
    if said in ("cocoa", "cacao"):
        j += 1
        return Percent(value, "cocoa", j + 1 if word[j] in ("solids", "mass", "content") else j)
    if said in _LESS:
        note, state = f"{word[i]}% {said}", ""
        j += 1
        if word[j] in ("fat", "salt", "sodium", "sugar"):
            note += f" {word[j]}"
            state = {"fat": "reduced_fat", "sugar": ""}.get(word[j], "low_sodium")
            j += 1
        return Percent(value, "-", j, note, state)
    if said in _OTHER:
        keep = said in ("whole", "wholegrain", "wholemeal", "water")
        return Percent(value, "-", j if keep else j + 1, f"{word[i]}% {said}")
    return Percent(value, "", j)


def settle(percents: list[Percent], line: str) -> tuple[float | None, float | None, float | None]:
    """Fat, lean and cocoa figures of a line; the food beside a bare figure says what it is."""
    found: dict[str, float] = {}
    for value, what, *_ in percents:
        if 0 <= value <= 100:
            found.setdefault(what or _by_food(value, line), value)
    lean = found.get("lean")
    leaves = 100.0 - lean if lean is not None and lean > 50 else None
    return found.get("fat", leaves), lean, found.get("cocoa")


def _by_food(value: float, line: str) -> str:
    if value >= 100:
        return ""
    if "chocolate" in line or "cocoa" in line or "cacao" in line:
        return "cocoa"
    if value > 50:
        return "lean" if any(word in line for word in _MEAT) else ""
    return "" if any(word in line for word in _NO_FAT) else "fat"
