"""Documents people publish recipes in: web pages without markup, e-books, word processors, PDF.

Each reader turns its document into lines of a card, in the order they are read, and hands them to
``pipeline.intake.text.card``. A document has no lines of a text file: what its numbers count is
said in ``pipeline.problems.place``.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from pipeline.intake.model import Read
from pipeline.problems import input_problem

#: Formats of recipes that are read from documents and are not written into them.
FORMATS = frozenset({"html-text", "epub", "docx", "odt", "pdf", "rtf", "text-values"})
if TYPE_CHECKING:
    from pipeline.intake.text.card_line import CardLine

_ZIP = b"PK\x03\x04"
_OLD_OFFICE = b"\xd0\xcf\x11\xe0"
_ENCRYPTED_PACKAGE = "EncryptedPackage".encode("utf-16-le")
_ENDINGS = {
    ".epub": "epub", ".docx": "docx", ".docm": "docx", ".dotx": "docx", ".odt": "odt", ".ott": "odt",
}  # fmt: skip


def kind_of(path: Path, head: bytes) -> str:
    """ "pdf", "epub", "docx", "odt", "locked" (an Office document under a password), "old" (one of
    before 2007), "rtf"; "" for what is no document read here. Content decides, the ending where a
    damaged archive leaves it open."""
    if b"%PDF-" in head[:1024]:
        return "pdf"
    if head.startswith(b"{\\rtf"):
        return "rtf"
    if head.startswith(_OLD_OFFICE):
        return "locked" if _has(path, _ENCRYPTED_PACKAGE) else "old"
    return _zip_kind(path) if head.startswith(_ZIP) else ""


def _has(path: Path, wanted: bytes) -> bool:
    with path.open("rb") as handle:
        return wanted in handle.read(4 * 1024 * 1024)


def _zip_kind(path: Path) -> str:
    import zipfile

    by_ending = _ENDINGS.get(path.suffix.lower(), "")
    try:
        with zipfile.ZipFile(path) as archive:
            names = set(archive.namelist())
            if "META-INF/container.xml" in names or any(n.endswith(".opf") for n in names):
                return "epub"
            if "[Content_Types].xml" in names and any(n.startswith("word/") for n in names):
                return "docx"
            if "content.xml" in names:
                info = archive.getinfo("mimetype") if "mimetype" in names else None
                told = archive.read("mimetype") if info and info.file_size < 200 else b""
                return "odt" if b"opendocument.text" in told or not told else by_ending
    except Exception:  # what is wrong with it is said by the reader
        return by_ending
    return by_ending


def read_document(path: Path, source: str, kind: str) -> Read:
    """Recipes of a document of a kind that ``kind_of`` told; never raises."""
    if kind == "pdf":
        from pipeline.intake.documents.pdf import read_pdf

        return read_pdf(path, source)
    if kind == "epub":
        from pipeline.intake.documents.epub import read_epub

        return read_epub(path, source)
    if kind == "docx":
        from pipeline.intake.documents.word import read_word

        return read_word(path, source)
    if kind == "odt":
        from pipeline.intake.documents.open_text import read_open_text

        return read_open_text(path, source)
    if kind == "rtf":
        from pipeline.intake.documents.rich_text import read_rich_text

        return read_rich_text(path, source)
    if kind == "locked":
        return Read(
            problems=[input_problem("document-locked", source=source, kind="Office document")]
        )
    return Read(problems=[input_problem("document-old", source=source, file=path.name)])


def page_lines(text: str) -> list[CardLine]:
    """Lines of the main text of an HTML page or of a piece of one."""
    from pipeline.intake.documents.blocks import card_lines
    from pipeline.intake.documents.web_text import page_blocks

    return card_lines(page_blocks(text)[0])


def read_page_text(text: str, source: str) -> Read:
    """Recipes of the main text of an HTML page; never raises."""
    from pipeline.intake.documents.blocks import card_lines
    from pipeline.intake.documents.page_tables import read_tables
    from pipeline.intake.documents.web_text import page_parts
    from pipeline.intake.text.card import read_cards

    blocks, title, tables = page_parts(text)
    read = read_cards(card_lines(blocks), source, format="html-text")
    if tables:
        read = read_tables(blocks, tables, title[:300], read, source)
    read.found = "a web page"
    if read.recipes and not read.recipes[0].title:
        read.recipes[0].title = title[:300]
    return read
