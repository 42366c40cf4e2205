"""Lines that were broken at the width of a page, made whole."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from pipeline.intake.patterns import pattern
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import talks
from pipeline.intake.text.line_kinds import (
    BULLET,
    MAYBE_STATED,
    begins_section,
    heads_part,
    looks_like_ingredient,
    measures,
    tells,
)  # fmt: skip

#: Characters of the longest line of a paragraph from which on it may have been broken to that width.
_BROKEN_FROM = 36
#: Characters of a line made whole, at most.
_LONGEST = 2_000
_ENDS = (".", "!", "?", ":", ";")
_SENTENCE_END = re.compile(r"[^\W\d_]{2}[.!?]\s+[^\W\d_]")
#: What says what stands behind it.
_LABEL = re.compile(r"[^\W\d_][\w' ]{0,24}:(?:\s|$)")
#: A mark at the end of a line that more follows.
_OPEN = re.compile(r"(?:[,;/+|·&–—-]|\s[x×])$")
#: Where a list in a line parts.
_PARTS = re.compile(r",\s+|\s*[;|·•]\s*|\s+[/+–—-]\s+")
#: Characters of a line of a list, at most.
_ITEM = 80
_BRACKETS = re.compile(r"\([^()]*\)")
#: What leads from a food to its amount at the end of a line: "rye bread ......... 25 slices of 50 g".
_LEADERS = re.compile(r"\.{4,}|…{2,}|_{4,}")
_OR_LAST = re.compile(r"\bor$", re.IGNORECASE)


def made_whole(lines: Sequence[CardLine]) -> list[CardLine]:
    """Lines that go on with the one above joined to it; the others as they are.

    A line goes on where the next word had no room in the line above and what stands there is not
    over: a list with a piece that lacks its amount or its food, a sentence, stated numbers.
    """
    out: list[CardLine] = []
    for blank, some in groupby(lines, lambda line: not any(map(str.isalnum, line.text))):
        paragraph = list(some)
        width = max(len(line.text.strip()) for line in paragraph)
        if blank or width < _BROKEN_FROM or len(paragraph) == 1:
            out += paragraph
            continue
        before = ""  # the last line of what is made whole, as it stands
        for line in paragraph:
            text = line.text.strip()
            if before and not line.level and _goes_on(out[-1], before, text, width):
                out[-1] = replace(out[-1], text=f"{out[-1].text.rstrip()} {text}")
            else:
                out.append(line)
            before = text
    return out


def _goes_on(whole: CardLine, above: str, text: str, width: int) -> bool:
    first = text.split(maxsplit=1)[0]
    if (
        whole.level or whole.role or whole.begins or len(above) + 1 + len(first) <= width
        or above.endswith(_ENDS) or len(whole.text) + len(text) > _LONGEST
        or _LEADERS.search(above) or BULLET.match(text) or pattern("step").match(text)
        or begins_section(text) or heads_part(text)
    ):  # fmt: skip
        return False
    said, above = (BULLET.sub("", one).strip() for one in (whole.text, above))
    if MAYBE_STATED.search(said) or MAYBE_STATED.search(text):
        return _states_on(said, above, text)
    if _LABEL.match(text) or (_OR_LAST.search(above) and _has_amount(above) and _has_amount(text)):
        return False  # "200 g feta, or" above "300 g carrots": one of the two, a line each
    if _is_open(above, text):
        return True
    if looks_like_ingredient(said) and text[:1].isnumeric() and not _lacks_food(text):
        return False  # "1 bay leaf" below "1 (15 oz) can beans, drained and rinsed"
    pieces, behind = _PARTS.split(said), _PARTS.split(text)[0]
    if sum(map(_has_amount, pieces)) > 1:
        return _lacks_food(behind) or (text[:1].islower() and not _has_amount(behind))
    sentence = tells(said) or _SENTENCE_END.search(said) is not None
    if not sentence and _measures(said) and _measures(text):
        return False  # "salmon, no skin - 6 oz" above "potatoes - 300 g"
    told = sentence or talks(said) >= 1
    return told and not text[:1].isupper()


def _states_on(said: str, above: str, text: str) -> bool:
    """Whether a line goes on with the stated numbers of a sentence that ends in the line above it."""
    leads_on = (
        pattern("open_end").search(above)
        or read_stated_line(re.split(r"[.!?]\s+", above)[-1]).basis
    )
    return bool(
        above[:1].isalnum()
        and (
            text[:1].islower()
            or (text[:1].isdigit() and leads_on and MAYBE_STATED.search(text) is not None)
        )
        and not (text[0].isalpha() and looks_like_ingredient(text.rstrip(" ,;.")))
        and not looks_like_ingredient(said)
        and read_stated_line(text).basis is None
        and not pattern("leaves_out").search(text)
    )


def _is_open(text: str, below: str) -> bool:
    """Whether a line ends in a word or mark that more follows, or in an amount of nothing that the line
    below may be of: in "200 g rice, 2 tbsp", not in "salmon, no skin - 6 oz", "1 can beans, NOT drained
    (15 oz)", or "1 can beans, drained, 240 g" above "1 onion"."""
    *before, last = _PARTS.split(_BRACKETS.sub(" ", text).rstrip())
    amount = _lacks_food(last) and (not before or any(map(_has_amount, before)))
    amount = amount and not (below[:1].isnumeric() and _has_amount(_PARTS.split(below)[0]))
    return bool(_OPEN.search(text) or pattern("open_end").search(text) or amount)


def _has_amount(piece: str) -> bool:
    from pipeline.lines import parse

    return bool(parse(piece).measures)


def _measures(text: str) -> bool:
    """Whether a text is short, and an amount and a food."""
    return len(text) <= _ITEM and measures(text)


def _lacks_food(piece: str) -> bool:
    from pipeline.lines import parse

    line = parse(piece)
    return bool(line.measures and not line.name)
