"""Tables of a page as the grids that they are: each by itself, and the page as one sheet around them.

A page is read as a text first. Its tables are read as sheets are, with a row for each paragraph
around them or without, and the reading that is best borne out stands.
"""

from __future__ import annotations

from collections.abc import Sequence

from pipeline.intake.documents.blocks import Block
from pipeline.intake.documents.places import renumber, take
from pipeline.intake.documents.web_text import PageTable
from pipeline.intake.model import Read
from pipeline.intake.tables.card_rows import Row, trimmed
from pipeline.intake.tables.sheet import read_sheet_rows
from pipeline.intake.text.evidence import better, leaves_doubt

#: Rows of tables that are read as sheets, and tables, at most.
_MOST_ROWS, _MOST_TABLES = 3_000, 60
#: Text of what may be the name of the table below it, at most.
_LONGEST_NAME = 100
_FORMAT = "html-text"


def read_tables(
    blocks: Sequence[Block], tables: Sequence[PageTable], title: str, text: Read, source: str
) -> Read:
    """What a page gives: as the text that it was read as, or by its tables where they say more.

    Args:
        blocks: of the page.
        tables: those of them that are tables.
        title: of the page.
        text: how the page reads as a text.
        source: its name in messages.
    """
    if len(tables) > _MOST_TABLES or sum(len(one.rows) for one in tables) > _MOST_ROWS:
        return text
    if text.recipes and not leaves_doubt(text.recipes):
        return text
    best = text
    for read in (
        _each(blocks, tables, title, source),
        _sheet(_around(blocks, tables), title, source),
    ):
        more = (
            better(read.recipes, best.recipes) if read.recipes else not best.recipes and read.apart
        )
        best = read if more else best
    for position, recipe in enumerate(best.recipes):
        recipe.position = position
    return best


def _each(blocks: Sequence[Block], tables: Sequence[PageTable], title: str, source: str) -> Read:
    """The recipes of the tables of a page, each below the heading before it."""
    read = Read()
    before = 0
    for one in tables:
        named = [b.text for b in blocks[before : one.first] if 0 < len(b.text) <= _LONGEST_NAME]
        alone = len(tables) == 1 and not named
        take(read, _sheet(one.rows, title if alone else next(reversed(named), ""), source))
        before = one.end
    return read


def _around(blocks: Sequence[Block], tables: Sequence[PageTable]) -> list[tuple[int, list[str]]]:
    """The page as one grid: a row for each paragraph, those of its tables between them."""
    rows: list[tuple[int, list[str]]] = []
    at = 0
    for one in tables:
        rows += [(b.no, [b.text]) for b in blocks[at : one.first]]
        rows += [(one.rows[0][0] if one.rows else 0, []), *one.rows]
        at = one.end
    return [*rows, *((b.no, [b.text]) for b in blocks[at:])]


def _sheet(rows: Sequence[tuple[int, list[str]]], name: str, source: str) -> Read:
    """What a grid gives, read by the numbers of its rows, whose places are lines of the page."""
    filled: list[Row] = [(at, cells) for at, (_, c) in enumerate(rows, 1) if (cells := trimmed(c))]
    read = read_sheet_rows(filled, name, source, _FORMAT)
    for recipe in [*read.recipes, *(row for one in read.apart for row in one.rows)]:
        for stated in recipe.stated:
            stated.column = None
    renumber(read, lambda no: rows[no - 1][0] if 0 < no <= len(rows) else no)
    return read
