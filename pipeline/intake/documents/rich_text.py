"""Rich text (.rtf): paragraphs, items of lists and rows of tables.

Control words: Rich Text Format Specification 1.9.1 (Microsoft, 2008).
"""

from __future__ import annotations

import codecs
import re
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.intake.documents.archive import MAX_DEPTH
from pipeline.intake.documents.blocks import Block, Cell, card_lines, squeezed, table_blocks
from pipeline.intake.files import MAX_TEXT_BYTES, MIB
from pipeline.intake.model import Read
from pipeline.intake.text.card import read_cards
from pipeline.problems import input_problem

KIND = "rich-text document"
_TOKEN = re.compile(
    r"\\'(?P<byte>[0-9a-fA-F]{2})|\\(?P<word>[a-zA-Z]{1,32})(?P<number>-?\d{1,6})?[ ]?"
    r"|\\(?P<sign>[^a-zA-Z])|(?P<brace>[{}])|(?P<text>[^\\{}\r\n]+)"
)
#: Groups that hold no text of the document.
_LEFT_OUT = frozenset(
    ("fonttbl", "colortbl", "stylesheet", "info", "pict", "object", "header", "headerf", "headerl",
     "headerr", "footer", "footerf", "footerl", "footerr", "footnote", "annotation", "listtable",
     "listoverridetable", "revtbl", "rsidtbl", "themedata", "datastore", "fldinst", "xmlnstbl")
)  # fmt: skip
_CHARACTERS = {
    "tab": " ", "line": "\n", "lquote": "‘", "rquote": "’", "ldblquote": "“", "rdblquote": "”",
    "endash": "–", "emdash": "—", "bullet": "•", "~": " ", "_": "-", "\\": "\\", "{": "{", "}": "}",
}  # fmt: skip
#: What ends a paragraph, a cell or a row; an escaped end of a line is a paragraph's.
_ENDS = frozenset(("par", "cell", "row", "sect", "page", "\n", "\r"))
_LARGER = 1.25


@dataclass(slots=True)
class _Look:
    """What a group sets: left out, in bold, size in half points, sign of a list, bytes after a \\u."""

    left_out: bool = False
    bold: bool = False
    size: int = 24
    sign: bool = False
    replaced: int = 1


@dataclass(slots=True)
class _Body:
    """Gathers the paragraphs of a text; ``strong`` holds characters in bold, and others, by size."""

    codepage: str = "cp1252"
    blocks: list[Block] = field(default_factory=list)
    sizes: Counter[int] = field(default_factory=Counter)
    smallest: list[int] = field(default_factory=list)
    _parts: list[str] = field(default_factory=list)
    _plain: int = 0
    _size: int = 0
    _item: str = ""
    _level: int = 0
    _cells: list[Cell] = field(default_factory=list)
    _rows: list[list[Cell]] = field(default_factory=list)

    def text(self, text: str, look: _Look) -> None:
        """Add text as it stands."""
        if look.left_out:
            return
        if look.sign:
            self._item = self._item or f"{text.strip()} "
            return
        self._parts.append(text)
        inked = len(text.strip())
        self._plain += 0 if look.bold else inked
        if inked:
            self.sizes[look.size] += inked
            self._size = min(self._size or look.size, look.size)

    def ends(self, word: str) -> None:
        """The end of a paragraph, a cell or a row."""
        if word == "row":
            self._rows.append(self._cells)
            self._cells = []
        elif word == "cell":
            self._cells.append([self._block()])
        else:
            if self._rows:
                self._add(table_blocks(self._rows, len(self.blocks) + 1))
                self._rows = []
            self._add([self._block()])

    def _add(self, blocks: list[Block]) -> None:
        self.smallest += [self._size] * len(blocks)
        self.blocks += blocks
        self._size = 0

    def _block(self) -> Block:
        text = squeezed("".join(self._parts))
        item = self._item if self._item[:1].isdigit() else "- " if self._item else ""
        made = Block(len(self.blocks) + 1, text, self._level, "item" if item else "", item if text else "",
                     bool(text) and not self._plain)  # fmt: skip
        self._parts, self._plain, self._item, self._level = [], 0, "", 0
        return made

    def finished(self) -> list[Block]:
        """All blocks; those in larger type than most of the text stand out."""
        self.ends("par")
        usual = self.sizes.most_common(1)[0][0] if self.sizes else 24
        return [
            replace(b, strong=bool(b.text) and (b.strong or size >= _LARGER * usual))
            for b, size in zip(self.blocks, self.smallest, strict=True)
        ]

    def word(self, word: str, number: int | None, look: _Look) -> None:
        """A control word: it sets something, or stands for a character or the end of something."""
        if word in _LEFT_OUT:
            look.left_out = True
        elif word == "v":  # hidden text
            look.left_out = number != 0
        elif word in ("listtext", "pntext"):
            look.sign = True
        elif word == "b":
            look.bold = number != 0
        elif word == "plain":
            look.bold, look.size = False, 24
        elif word in ("fs", "uc") and number is not None:
            setattr(look, "size" if word == "fs" else "replaced", number)
        elif word == "outlinelevel" and number is not None:
            self._level = min(number + 1, 6)
        elif word == "ansicpg":
            self.codepage = f"cp{number}"
        elif word in _ENDS and not look.left_out:
            self.ends(word)
        elif word in _CHARACTERS:
            self.text(_CHARACTERS[word], look)


def read_rich_text(path: Path, source: str) -> Read:
    """Recipes of a rich text; never raises. Lines are numbered by paragraph."""
    if (size := path.stat().st_size) > MAX_TEXT_BYTES:
        problem = input_problem(
            "file-too-large", source=source, size=size / MIB, limit=MAX_TEXT_BYTES / MIB
        )
        return Read(problems=[problem], found=f"a {KIND}")
    try:
        blocks = blocks_of(path.read_bytes().decode("latin-1"))
    except RecursionError:
        problem = input_problem("document-too-deep", source=source, kind=KIND, levels=MAX_DEPTH)
        return Read(problems=[problem], found=f"a {KIND}")
    read = read_cards(card_lines(blocks), source, format="rtf")
    read.found = f"a {KIND}"
    return read


def blocks_of(text: str) -> list[Block]:
    """Blocks of a rich text, in the order they are read.

    Raises:
        RecursionError: its groups nest deeper than any document's.
    """
    body, looks, skip = _Body(), [_Look()], 0
    for found in _TOKEN.finditer(text):
        look = looks[-1]
        if found["brace"] == "{":
            if len(looks) > MAX_DEPTH:
                raise RecursionError
            looks.append(replace(look))
        elif found["brace"]:
            del looks[max(len(looks) - 1, 1) :]
        elif found["sign"] == "*":
            look.left_out = True
        elif found["word"] == "u" and found["number"]:
            body.text(chr(int(found["number"]) % 0x10000), look)
            skip = look.replaced
            continue
        elif found["word"] or found["sign"]:
            number = found["number"]
            body.word(found["word"] or found["sign"], None if number is None else int(number), look)
        elif found["byte"]:
            if not skip:
                body.text(_decoded(found["byte"], body.codepage), look)
            skip = max(skip - 1, 0)
            continue
        else:
            body.text(found["text"][skip:], look)
        skip = 0
    return body.finished()


def _decoded(byte: str, codepage: str) -> str:
    try:
        return codecs.decode(bytes.fromhex(byte), codepage, "replace")
    except LookupError:
        return codecs.decode(bytes.fromhex(byte), "cp1252", "replace")
