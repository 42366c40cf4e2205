"""Lines of a plain text: without the senders of messages, quote marks and signs of emphasis."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import pairwise, zip_longest

from pipeline.intake.columns import field_of, nutrient_named, plain
from pipeline.intake.facts_line import find_facts, packed_in, yield_line
from pipeline.intake.numbers import Roles
from pipeline.intake.patterns import pattern
from pipeline.intake.servings import read_yield
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card_line import CardLine
from pipeline.intake.text.features import may_be_title, names_food
from pipeline.intake.text.line_kinds import begins_section, looks_like_ingredient
from pipeline.intake.text.white_columns import columns_apart

#: Characters of a line that are looked at; no line of a card that people wrote is near it.
MAX_READ_CHARS = 4_000
_SQUEEZED_FROM = 200
_WHITE = re.compile(r"\s{2,}")
_SIGNS_OF_A_LIST = 3
#: What stands before the words of a message, as chats are exported or copied: the day, in any form, and
#: the time of day, and by whom ("[02/03/2026, 18:04:11] Priti: ", "Mon 18:04 Priti >> ", "Maud K: ").
_SENT = re.compile(
    r"(?:(?P<day>[^\n]{0,30}?)(?<![\d:.])(?P<time>\d{1,2}[:.]\d{2}(?:[:.]\d{2})?)"
    r"(?:\s*[ap]m)?\b[^\w\n]{0,4})?"
    r"(?P<name>[^\W\d_][^:>|\n]{0,39}?)(?::|\s*>+|\s\|)\s+(?=\S)",
    re.IGNORECASE,
)
#: The first minute of a recording.
_BEGUN = re.compile(r"(?:00?[:.])?00?[:.]\d\d$")
_DAY = re.compile(r"\d[./-]\d")
#: A frame around a line: a bar at each end and none between; three signs or more at each end.
_FRAME = re.compile(r"\s*([|│║])[^|│║]*\1\s*")
_EDGE = re.compile(r"\s*[+|┌└├╔╚╠][-=_─═]{3,}[-=_─═+┬┴┼]*[+|┐┘┤╗╝╣]\s*")
#: What is drawn within a frame, and what parts one card from the next.
_RULED, _RULE = re.compile(r"[\s=_─═+┼╪-]*"), "---"
_ENDS = r"(?:={3,}|-{3,}|\*{3,}|~{3,})"
_BANNER = re.compile(rf"\s*{_ENDS}\s*([^\W_].*?[\w)!?.])\s*{_ENDS}\s*")
_DIGITS = re.compile(r"\d+")
#: Nothing, or signs that part what is above from what is below.
_PARTED = re.compile(r"[\W_]*")
_BARS = re.compile(r"\s*[|·•]\s*|\s+[–—-]\s+")
#: "Protein          9.4 g", "Protein ........ 9.4 g".
_TWO_ENDS = re.compile(
    r"(?P<name>\s*[^\W\d_][^\d]{0,40}?)(?:\s{3,}|\s*\.{4,}\s*)(?P<value>[\d<~].{0,40})"
)
_SIDES = re.compile(r"\s*(?P<left>\S.{0,60}?\S) {3,}(?P<right>\d\S*(?: [^\W\d_]+){1,2})\s*")
#: "Pork sausages, 8      450 g": a count behind the name, and apart from it what all of them weigh.
_COUNTED = re.compile(r"([^\W\d_][^\w(\[]+\d{1,2})(?: {3,}|\s*\t\s*)(?=\d[\d.,]*\s?[^\W\d_])")
#: What stands in a chat for what is no text: "<media left out>", "[photo]"; with a number it may be food.
_NOT_SAID = re.compile(r"\W*[<\[][^<>\[\]\d]{1,60}[>\]]\W*")
#: What underlines a title, and by how many characters it may be longer or shorter.
_STROKE, _ABOUT = re.compile(r"\s*(?:={3,}|-{3,}|~{3,}|\*{3,})\s*"), 2
_QUOTED = re.compile(r"^(?:>\s?)+")
#: A question for the servings, and how an answer to it begins: "4. well 3 if you are one of them".
_HOW_MANY = re.compile(
    r"\bhow many\b(?!\s+(?:cal|kcal|carb|gram|g\b|egg|tin|cup|min|hour|day))[^?\n]{0,60}\??\s*$|"
    r"\bhow many (?:people|serv|portion)",
    re.IGNORECASE,
)
_ANSWER = (
    "^ hedge? [number count] (?! [metric unit time times length percent energy energy_unit letter])"
)
#: Share of the lines of a thread that begin with a name.
_MOST = 0.6


def card_lines(text: str) -> list[CardLine]:
    """Lines of a plain text, numbered from 1; a sign that begins several of them is a bullet."""
    said, begins = messages(text)
    said, entries = (said, frozenset()) if begins else _undated(said)
    said = _unframed([bounded(line) for line in said])
    placed = columns_apart(said) if not begins else list(enumerate(said))
    places, said = [no for no, _ in placed], [line for _, line in placed]
    levels = _underlined(said)
    lines = list(map(_named, said))
    return [
        CardLine(at + 1, one, level, begins=at in entries)
        for at, line, level in zip(places, lines, levels, strict=True)
        for one in (
            *([""] if at in begins else ()),
            *(_cells(line) if "\t" in line.strip() else [line]),
        )
    ]


def _undated(lines: list[str]) -> tuple[list[str], frozenset[int]]:
    """Lines of a log without the days that its entries begin with, and without what such lines say again
    and again in one place: "2026-02-11 | quay | reel". Also positions of the lines that begin an entry."""
    heads = {
        at: _BARS.split(line[found.end() :].strip(" |,;:–—-")) for at, line in enumerate(lines)
        if (at == 0 or _PARTED.fullmatch(lines[at - 1])) and (found := pattern("dated").match(line))
    }  # fmt: skip
    if len(heads) < _SIGNS_OF_A_LIST:
        return lines, frozenset()
    said = [Counter(column) for column in zip_longest(*heads.values(), fillvalue="")]
    often = [3 * len(values) <= 2 * values.total() for values in said]
    out, begins = list(lines), set()
    for at, parts in heads.items():
        rare = [part for part, repeated in zip(parts, often, strict=False) if not repeated]
        out[at] = " | ".join(filter(None, rare))
        begins.add(at if out[at] or at + 1 == len(out) else at + 1)
    return out, frozenset(begins)


def _unframed(lines: list[str]) -> list[str]:
    """Lines without the frame drawn around them: bars at both ends, "=== Labels ===="."""
    framed = [at for at, line in enumerate(lines) if _FRAME.fullmatch(line)]
    for at in framed if len(framed) >= _SIGNS_OF_A_LIST else ():
        lines[at] = lines[at].rstrip()[:-1].replace(lines[at].lstrip()[0], " ", 1).rstrip()
        if _RULED.fullmatch(lines[at]):
            lines[at] = ""
    frame = set(framed)
    edges = [at for at, line in enumerate(lines) if _EDGE.fullmatch(line)]
    for at in edges:
        inside = (at - 1 in frame) + (at + 1 in frame)
        lines[at] = _RULE if inside == 1 else ""  # the top or the bottom of a frame parts cards
    banners = {at: found[1] for at, line in enumerate(lines) if (found := _BANNER.fullmatch(line))}
    shapes = Counter(_DIGITS.sub("0", said) for said in banners.values())
    parts = len(banners) > 1 and _only_part(banners, lines)
    for at, said in banners.items():
        numbered = _DIGITS.search(said) and shapes[_DIGITS.sub("0", said)] > 1
        lines[at] = _RULE if numbered or parts else said  # "note 2 of 5 | edited 05/03" is no title
    return lines


def _only_part(banners: Mapping[int, str], lines: Sequence[str]) -> bool:
    """Whether banners part a text and name no dish, as the lines right below them do: "=== Mon ==="."""
    below = [lines[at + 1].strip() if at + 1 < len(lines) else "" for at in banners]
    return not any(map(names_food, banners.values())) and all(
        may_be_title(text) and names_food(text) and not looks_like_ingredient(text)
        for text in below
    )


def _underlined(lines: list[str]) -> list[int]:
    """The level of each line that a stroke of its own length underlines, below a blank one; 0 of others.
    Where several are, the strokes are taken out: they part nothing."""
    found = [
        at for at, (above, line, below) in enumerate(zip(["", *lines], lines, lines[1:], strict=False))
        if not above.strip() and line.strip() and _STROKE.fullmatch(below)
        and abs(len(line.strip()) - len(below.strip())) <= _ABOUT
    ]  # fmt: skip
    levels = [0] * len(lines)
    for at in found if len(found) > 1 else ():
        levels[at] = 1 if lines[at + 1].strip()[0] == "=" else 2
        lines[at + 1] = ""
    return levels


def _named(line: str) -> str:
    """What stands at the two ends of a line put together: "nutrient: number", "title (6 tubs)"; any
    other line with a comma between a count and a weight in columns of their own."""
    ends = _TWO_ENDS.fullmatch(line)
    if ends is not None and read_stated_line(line).certain:
        return f"{ends['name'].rstrip(' :.')}: {ends['value']}"
    sides = _SIDES.fullmatch(line)
    if sides is not None and may_be_title(sides["left"]):
        right = sides["right"]
        if yield_line(right) or packed_in(right):
            return f"{sides['left']} ({right})"
    return _COUNTED.sub(r"\1, ", line)


def messages(text: str) -> tuple[list[str], frozenset[int]]:
    """Lines of a chat without times and names, of a thread without quote marks; of others as they are.

    Also positions of the lines that begin a message.
    """
    lines = text.split("\n")
    sent = words_sent(lines)
    if sent:
        said = [line[sent.get(at, 0) :] for at, line in enumerate(lines)]
        said = ["" if _NOT_SAID.fullmatch(line) else line for line in said]
        return _answered(said, sorted(sent)), frozenset(sent)
    if sum(1 for line in lines if line.startswith(">")) >= _SIGNS_OF_A_LIST:
        return [_QUOTED.sub("", line) for line in lines], frozenset()
    return lines, frozenset()


def _answered(lines: list[str], begins: Sequence[int]) -> list[str]:
    """Lines of a chat with what answers the question how many a recipe is for said in full."""
    for asked, answer in pairwise(begins):
        if _HOW_MANY.search(lines[asked]) and Roles(lines[answer]).search(_ANSWER):
            lines[answer] = f"Serves {lines[answer].lstrip()}"
    return lines


def is_chat(text: str) -> bool:
    """Whether a text is messages that say when and by whom they were sent; what says how long after
    its begin each thing was said is a recording."""
    lines = text.split("\n")
    sent = [found for at in sorted(words_sent(lines)) if (found := _SENT.match(lines[at]))]
    dated = [found for found in sent if found["day"]]
    recorded = (
        dated and not any(map(str.isalnum, dated[0]["day"])) and _BEGUN.match(dated[0]["time"])
    )
    return bool(dated) and not recorded


def words_sent(lines: Sequence[str]) -> dict[int, int]:
    """Lines that begin with who sent them, and where their words begin.

    Either the day and the time stand there too, or most lines of the text begin with one of a few names of
    which no table knows any.
    """
    found = {at: m for at, line in enumerate(lines) if (m := _SENT.match(line))}
    dated = {at: m.end() for at, m in found.items() if any(map(str.isalnum, m["day"] or ""))}
    if len(dated) >= _SIGNS_OF_A_LIST and len({found[at]["name"] for at in dated}) < len(dated):
        return dated
    if dated and min(dated) == 0 and all(_DAY.search(found[at]["day"]) for at in dated):
        return dated  # one message, copied with what stands before it
    filled = sum(bool(line.strip()) for line in lines)
    said = Counter(m["name"] for m in found.values())
    if len(found) < max(2 * _SIGNS_OF_A_LIST, _MOST * filled) or not (
        1 < len(said) <= filled / _SIGNS_OF_A_LIST
    ):
        return {}
    known = any(
        nutrient_named(name) or field_of(plain(name), "key") or begins_section(name)
        or find_facts(f"{name}: 2").yields for name in said
    )  # fmt: skip
    return {} if known else {at: m.end() for at, m in found.items() if said[m["name"]] > 1}


def _cells(line: str) -> list[str]:
    """The lines that a row pasted from a sheet makes: a title and its yield are two."""
    from pipeline.intake.tables.card_rows import joined  # here: it imports the reading of tables

    cells = [cell.strip() for cell in line.split("\t") if cell.strip()]
    if len(cells) == 2 and yield_line(cells[1]) and not math.isnan(read_yield(cells[1]).servings):
        return cells
    return [joined(cells)]


def bounded(line: str) -> str:
    """A line short enough to be looked at many times: runs of white space in a long one are one
    space, and what lies beyond ``MAX_READ_CHARS`` is left to the message that says so."""
    if len(line) <= _SQUEEZED_FROM:
        return line
    return _WHITE.sub(" ", line)[:MAX_READ_CHARS]
