"""PDF documents: their text page by page, in the order it is read. Pictures of text are said."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from pipeline.intake.documents.blocks import card_lines
from pipeline.intake.documents.pdf_lines import (
    Char,
    Page,
    blocks_of,
    pieces,
    regions,
    usual_size,
    without_running_heads,
)
from pipeline.intake.documents.places import renumber
from pipeline.intake.files import MIB
from pipeline.intake.model import Read, RefusedError, cut
from pipeline.intake.text.card import read_cards
from pipeline.problems import Problem, input_problem, is_of_the_input

KIND = "PDF"
MAX_BYTES = 128 * MIB
#: Share of characters without a known letter from which on a text is no use.
_UNKNOWN = 0.2


def read_pdf(path: Path, source: str) -> Read:
    """Recipes of a PDF; never raises. Lines are numbered by page."""
    read = Read(found="a PDF")
    try:
        pages = _pages(path, source, read)
    except RefusedError as refused:
        read.problems.append(refused.problem)
        return read
    without_running_heads(pages)
    blocks, places = blocks_of(pages)
    found = read_cards(card_lines(blocks), source, format="pdf")
    renumber(found, lambda no: places[min(no, len(places)) - 1])
    found.found = read.found
    found.problems[:0] = read.problems
    return found


def _pages(path: Path, source: str, read: Read) -> list[Page]:
    """The pages that have text; what the others are is said in ``read``.

    Raises:
        RefusedError: the document is locked, damaged, too large, or has no text at all.
    """
    size = path.stat().st_size
    if size > MAX_BYTES:
        raise RefusedError(
            "document-bomb/pdf", source=source, what=f"the PDF holds {size / MIB:,.0f} MB"
        )
    from pipeline.intake.documents.pdf_chars import LockedError, TooMuchError, characters

    chars: list[tuple[int, float, list[Char]]] = []
    empty: list[int] = []
    failed: list[int] = []
    try:
        with path.open("rb") as handle:
            for no, height, found in characters(handle, failed):
                if any(c.text.strip() for c in found):
                    chars.append((no, height, found))
                else:
                    empty.append(no)
    except LockedError as fault:
        raise RefusedError("document-locked", source=source, kind=KIND) from fault
    except TooMuchError as fault:
        raise RefusedError("document-bomb/pdf", source=source, what=str(fault)) from fault
    except Exception as fault:  # pdfminer raises whatever a broken object makes it trip over
        if not is_of_the_input(fault) and not isinstance(fault, (OSError, RecursionError)):
            raise
        why = cut(f"{type(fault).__name__}: {fault}", 160)
        raise RefusedError("document-damaged", source=source, kind=KIND, why=why) from fault
    read.problems.extend(_told(failed, empty, source, some=bool(chars)))
    if not chars:
        if not empty and not failed:
            raise RefusedError("document-damaged", source=source, kind=KIND, why="it has no pages")
        return []
    _refuse_unknown(chars, source)
    sizes: Counter[float] = Counter(round(c.size * 2) / 2 for *_, some in chars for c in some)
    usual = usual_size(sizes)
    return [Page(no, height, regions(pieces(some), usual)) for no, height, some in chars]


def _told(failed: Sequence[int], empty: Sequence[int], source: str, *, some: bool) -> list[Problem]:
    """What is said of pages that gave nothing."""
    out = []
    if failed:
        out.append(
            input_problem(
                "pdf-page-damaged", source=source, source_line=failed[0], pages=_listed(failed)
            )
        )
    if empty:
        hold = f"{_listed(empty)} hold{'s' if len(empty) == 1 else ''}"
        code = "pdf-no-text/some" if some else "pdf-no-text"
        out.append(input_problem(code, source=source, source_line=empty[0], hold=hold))
    return out


def _listed(pages: Sequence[int]) -> str:
    shown = ", ".join(str(no) for no in pages[:8])
    more = f" and {len(pages) - 8} more" if len(pages) > 8 else ""
    return f"page{'' if len(pages) == 1 else 's'} {shown}{more}"


def _refuse_unknown(chars: Sequence[tuple[int, float, list[Char]]], source: str) -> None:
    total = sum(len(found) for *_, found in chars)
    unknown = sum(c.text == "\ufffd" for *_, found in chars for c in found)
    if unknown > _UNKNOWN * total:
        raise RefusedError("pdf-letters-unknown", source=source, share=unknown / total)
