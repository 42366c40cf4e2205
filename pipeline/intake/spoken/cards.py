"""The cards beside a spoken script: what people corrected is read instead of the script.

A correction never touches the script. It goes into a file of text cards beside it (``talk.srt`` →
``talk.srt.cards.txt``), first written out from what was understood. From then on its recipes are
those of the cards. Each line of a card ends with its place in the script::

    - 80 g rolled oats  [00:01:12 @310-327]

the time it was said at and the characters of the spoken words, which is how a line finds its way
back to the script. People may edit the file like any card; edits made here change single lines of
it and leave every other as it is.
"""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.intake.entries import clean
from pipeline.intake.files import SourceFile
from pipeline.intake.model import NAN, RawMark, RawRecipe, Read
from pipeline.intake.stated_line import read_stated_line
from pipeline.intake.text.card import read_cards, split_at_rules
from pipeline.intake.text.line_kinds import BULLET, MAYBE_STATED, SAID_AT
from pipeline.intake.text.plain_lines import card_lines
from pipeline.problems import input_problem

#: Endings a script may have; other files have no cards beside them.
_SCRIPT_ENDINGS = frozenset({"", ".srt", ".vtt", ".txt", ".text"})
#: A file of cards that stands for a script is named after it, with this behind.
ENDING = ".cards.txt"

_PLACE = re.compile(
    r"\s*\[(?P<when>(?:\d{1,2}:)?\d{1,2}:\d{2}|line \d+)?\s*(?:@(?P<start>\d+)-(?P<end>\d+))?\]\s*$"
)
_OF_WORDS = re.compile(r"\bof words ([0-9a-f]{12})\b")
INGREDIENTS_WORD = re.compile(r"^\W*ingredients\W*$", re.IGNORECASE)
NOTES_WORD = re.compile(r"^\W*(?:notes|method)\W*$", re.IGNORECASE)
SERVES = re.compile(r"^\W*(?:serves|makes)\b", re.IGNORECASE)

Span = tuple[int, int]


# --- which files belong together ----------------------------------------------------------------


def cards_path(script: Path) -> Path:
    """The file of cards that stands for a script."""
    return script.with_name(script.name + ENDING)


def pairs(files: Sequence[SourceFile]) -> Iterator[tuple[SourceFile, SourceFile | None]]:
    """Each file to read, a script together with its cards; the order is that of the files.

    A file that a person named brings its other half along when that lies beside it.
    """
    here = {file.path: file for file in files}
    done: set[Path] = set()
    for file in files:
        if file.path in done:
            continue
        is_cards = file.path.name.endswith(ENDING)
        other = (
            file.path.with_name(file.path.name.removesuffix(ENDING))
            if is_cards
            else cards_path(file.path)
        )
        if other.suffix.lower() not in _SCRIPT_ENDINGS and not other.name.endswith(ENDING):
            yield file, None
            continue
        partner = here.get(other)
        if partner is None and file.named and other.is_file():
            name = (
                file.source.removesuffix(ENDING) if is_cards else file.source + ENDING
            )  # beside it, so the folder is the same
            partner = SourceFile(other, name, named=False)
        done.add(file.path)
        if partner is None:
            yield file, None
            continue
        done.add(partner.path)
        yield (partner, file) if is_cards else (file, partner)


def own_ids(read: Read, source: str) -> None:
    """Give recipes of a file of cards the ids they would have in the script."""
    base = source.removesuffix(ENDING)
    for raw in read.recipes:
        raw.own_id = raw.own_id or (base if raw.position == 0 else f"{base}#{raw.position + 1}")


def in_place_of(script: Read, cards: Read, text: str, source: str) -> Read:
    """What a script and the cards that stand for it give together.

    Args:
        script: the script as the reader understands it.
        cards: the file of cards as read; without a recipe the script is read instead.
        text: of the file of cards.
        source: of the file of cards, for messages.

    Returns:
        The recipes of the cards, with the script's text and marks that follow the cards.
    """
    if not cards.recipes:
        script.problems = [
            *script.problems, *(p for p in cards.problems if p.code != "no-recipe"),
            input_problem("cards-empty", source=source),
        ]  # fmt: skip
        return script
    from pipeline.intake.spoken.card_marks import marks_by_cards

    written = CardFile(text)
    problems = list(cards.problems)
    words = _OF_WORDS.search(text)
    marks: list[RawMark] = []
    if words is not None and script.script is not None and words[1] != words_key(script.script):
        problems.append(input_problem("script-changed", source=source))
    else:
        marks = marks_by_cards(script, written)
    return replace(cards, problems=problems, script=script.script, marks=marks)


def words_key(script: str) -> str:
    """A short fingerprint of the spoken words: places in a card hold for these words alone."""
    return hashlib.sha256(script.encode("utf-8", "surrogatepass")).hexdigest()[:12]


# --- the file of cards ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Place:
    """Where something was said: "00:01:12" or "line 7" ("" when neither), and its characters."""

    when: str = ""
    span: Span | None = None

    @property
    def tag(self) -> str:
        """As it stands at the end of a line, "" when nothing is known."""
        at = f"@{self.span[0]}-{self.span[1]}" if self.span else ""
        said = " ".join(part for part in (self.when, at) if part)
        return f"  [{said}]" if said else ""

    @classmethod
    def of(cls, line: str) -> Place:
        """The place at the end of a line."""
        found = _PLACE.search(line)
        if found is None:
            return cls()
        span = (int(found["start"]), int(found["end"])) if found["start"] else None
        return cls(found["when"] or "", span)


@dataclass(frozen=True, slots=True)
class Entry:
    """An ingredient line or a stated line of a card.

    Attributes:
        at: 0-based line of the file.
        text: without bullet and place.
        place: where it was said.
        alone: nothing else is read from that line of the file.
        basis: of a stated line.
    """

    at: int
    text: str
    place: Place
    alone: bool = True
    basis: str = ""


@dataclass(slots=True)
class WrittenRecipe:
    """One card.

    Attributes:
        title: of the recipe.
        at: 0-based line of the title; ``end`` one past the card's last line.
        place: where the title was said.
        servings: as read, NaN when not said.
        position: place among the recipes read from the file, None when it is not one (yet).
        lines: its ingredient lines, in the order of ``line_no``.
        stated: its stated lines.
    """

    title: str
    at: int
    end: int
    place: Place
    servings: float
    position: int | None
    lines: list[Entry] = field(default_factory=list)
    stated: list[Entry] = field(default_factory=list)


class CardFile:
    """A file of cards: which lines of it make up which recipe.

    ``publish/script_cards.py`` changes single lines of it.
    """

    def __init__(self, text: str) -> None:
        self._end = "\r\n" if "\r\n" in text else "\n"
        self._lines = text.replace("\r\n", "\n").removeprefix("\ufeff").split("\n")
        self._read()

    @property
    def text(self) -> str:
        """The file as it stands now."""
        return self._end.join(self._lines)

    def _read(self) -> None:
        read = read_cards(card_lines("\n".join(self._lines)), "")
        begins = {(r.source_line or 1) - 1: r for r in read.recipes}
        self.recipes: list[WrittenRecipe] = []
        for chunk in split_at_rules(card_lines("\n".join(self._lines))):
            filled = [line.no - 1 for line in chunk if line.text.strip()]
            if not filled:
                continue
            starts = [at for at in filled if at in begins] or filled[:1]
            ends = [*starts[1:], chunk[-1].no]
            for at, end in zip(starts, ends, strict=True):
                self.recipes.append(self._recipe(at, end, begins.get(at)))

    def _recipe(self, at: int, end: int, read: RawRecipe | None) -> WrittenRecipe:
        title = read.title if read else clean(SAID_AT.sub("", self._lines[at]))
        made = WrittenRecipe(
            title, at, end, Place.of(self._lines[at]), read.servings if read else NAN,
            read.position if read else None,
        )  # fmt: skip
        if read is None:  # not a recipe yet: no lines; but perhaps its numbers
            for no in range(at + 1, end):
                bare = SAID_AT.sub("", self._lines[no]).strip()
                if MAYBE_STATED.search(bare) and read_stated_line(bare).certain:
                    made.stated.append(Entry(no, bare, Place.of(self._lines[no])))
            return made
        often = Counter(line.source_line for line in read.lines)
        for line in read.lines:
            no = (line.source_line or 1) - 1
            made.lines.append(
                Entry(no, line.text, Place.of(self._lines[no]), often[line.source_line] == 1)
            )
        for one in read.stated:
            no = (one.source_line or 1) - 1
            if all(entry.at != no for entry in made.stated):
                bare = BULLET.sub("", SAID_AT.sub("", self._lines[no])).strip()
                made.stated.append(Entry(no, bare, Place.of(self._lines[no]), True, one.basis))
        return made
