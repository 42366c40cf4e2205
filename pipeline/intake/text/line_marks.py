"""The marks of lines, read alike in every text: signs and numbers in front of them, and within them."""

from __future__ import annotations

import re
import unicodedata
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.line_kinds import BULLET, begins_section, looks_like_ingredient, tells

#: "* Lamb soup * makes 6": the signs are around words, not in front of a line of a list.
_EMPHASIS = re.compile(r"^\s*[*_]{1,3}\s*([^*_]+?)\s*[*_]{1,3}(?=\s|$)")
_BOLD = re.compile(r"(\*\*|__)(?=\S)(.+?)(?<=\S)\1")
#: Lines that a sign begins or parts of a line that it parts, at least, for it to be that of a list.
_SIGNS_OF_A_LIST = 3
#: A sign in front of a line: any picture, or another that is set apart, or joined to the word behind it.
_SIGN_OF_A_LINE = re.compile(
    r"[^\w\s\x00-\x7f–—“”‘’«»½-¾£€¥]|([~^%=&!?.,:;/\\])\1*(?=\s)|[-*](?=[^\W_])"
)
_SIGNS = re.compile(r"[^\w\s(][^\w(]*")
#: The number or letter of a line of several that are counted: "(1) ", "1/ ", "Step 1 – ", "b) ", "1<tab>".
_COUNTED = re.compile(
    r"\s*(?:[-–—*•]\s+)?(?:step\s*)?[(\[#]?(\d{1,2}|[a-z](?=\s?[.)\]]))"
    r"(?P<mark>\s?[)\]]\s*|\ufe0f?\u20e3\s*|\s?[.:/]\s+|\s?[-–—]\s+|\s+)(?=\S)",
    re.IGNORECASE,
)
#: The number of a part of a line: "1) 200 g rice 2) 2 eggs".
_COUNTED_PART = re.compile(r"(?<!\S)\(?(\d{1,2})[.)]\s+(?=\S)")
_DASH = re.compile(r"(?<!\S)-(?=[^\W_])")
#: Spaces in a text of a few words, at most.
_SHORT = 4
#: Lines between two that are counted, at most.
_BETWEEN = 1
#: Share of the parts of a line that look like ingredients where it is a list.
_MOST = 0.6


def marked(lines: Sequence[CardLine]) -> list[CardLine]:
    """Lines with the signs and numbers of lists said in one way, "- " and "1. ", and an ingredient a line."""
    texts = [
        one.text if one.level else _EMPHASIS.sub(r"\1", _BOLD.sub(r"\2", one.text)) for one in lines
    ]
    texts = _bulleted(_numbered(texts))
    return [
        replace(line, text=text)
        for line, whole in zip(lines, texts, strict=True)
        for text in ([whole] if line.level else _parted(whole))
    ]


def _bulleted(texts: list[str]) -> list[str]:
    """Lines with a bullet for the sign that several have, and without those that heads of lists have too."""
    bulleted = [(text, BULLET.match(text)) for text in texts]
    found = [_SIGN_OF_A_LINE.match(text) for text in texts]
    signs = Counter(sign[0] for sign in found if sign)
    bullets = {sign for sign, count in signs.items() if count >= _SIGNS_OF_A_LIST}
    if any(found and begins_section(text[found.end() :]) for text, found in bulleted):
        return [text[found.end() :] if found else text for text, found in bulleted]
    return [
        "- " + text[sign.end() :].lstrip("\ufe0f ")
        if sign and sign[0] in bullets and not _around(text, sign[0]) and not BULLET.match(text)
        else text
        for text, sign in zip(texts, found, strict=True)
    ]  # fmt: skip


def _around(text: str, sign: str) -> bool:
    """Whether a sign stands at both ends of a text, or more of it behind: "★★ 12 ratings", "★ Pea soup ★"."""
    behind = text[len(sign) :]
    return behind.startswith(sign) or behind.rstrip().endswith(sign)


def _numbered(texts: list[str]) -> list[str]:
    """Lines with one mark behind the numbers or letters that count them from the first, with nothing between
    them or a heading; of numbers that only space sets apart a third tell what to do, and half are
    sentences: "1 slice rusk" above "2 eggs" counts neither."""
    out = list(texts)
    run: list[tuple[int, re.Match[str]]] = []
    between = 0  # lines since the last of the run
    for at, text in [*enumerate(texts), *((len(texts), ".") for _ in range(_BETWEEN + 2))]:
        if not text.strip():
            continue
        found = _COUNTED.match(text)
        begins = found is not None and _place(found[1]) == 1
        between += 1
        if between > _BETWEEN + 1 or begins:
            _renumber(out, run)
            run = []
        if found and _place(found[1]) == len(run) + 1:
            run.append((at, found))
            between = 0
    return out


def _place(counted: str) -> int:
    return int(counted) if counted.isdigit() else ord(counted.lower()) - ord("a") + 1


def _renumber(out: list[str], run: list[tuple[int, re.Match[str]]]) -> None:
    behind = [out[at][found.end() :] for at, found in run]
    bare = any(not found["mark"].strip() for _, found in run)
    told = 3 * sum(map(tells, behind)) >= len(run)
    long = 2 * sum(text.endswith(".") or text.count(" ") > _SHORT for text in behind) >= len(run)
    if len(run) > 1 and not (bare and not (told and long)):
        for place, ((at, _), text) in enumerate(zip(run, behind, strict=True), start=1):
            out[at] = f"{place}. {text}"


def _parted(text: str) -> list[str]:
    """The ingredients that signs or numbers part in one line, each with a bullet: "👉 10 eggs 👉 200 g ham"."""
    places = _places(text)
    if len(places) < _SIGNS_OF_A_LIST or read_stated_line(text).certain:
        return [text]
    head = text[: places[0][0]]
    ends = [begin for begin, _ in places[1:]] + [len(text)]
    parts = [text[begin:end].strip() for (_, begin), end in zip(places, ends, strict=True)]
    if sum(map(looks_like_ingredient, parts)) < _MOST * len(parts):
        return [text]
    return [*filter(str.strip, [head]), *(f"- {one}" for one in parts if one)]


def _places(text: str) -> list[tuple[int, int]]:
    """Where the marks of the parts of a line begin and end: pictures, numbers that count, joined dashes."""
    if not text.isascii():
        found = [m.span() for m in _SIGNS.finditer(text) if any(map(_is_picture, m[0]))]
        if len(found) >= _SIGNS_OF_A_LIST:
            return found
    counted = list(_COUNTED_PART.finditer(text))
    if [int(m[1]) for m in counted] == [*range(1, len(counted) + 1)] and counted:
        return [m.span() for m in counted]
    begins = text.lstrip().startswith("-")
    return [m.span() for m in _DASH.finditer(text)] if begins else []


def _is_picture(sign: str) -> bool:
    return sign > "\x7f" and unicodedata.category(sign) == "So"
