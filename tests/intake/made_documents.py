"""Documents made in the tests: EPUB, DOCX and ODT by ``zipfile``, PDF by reportlab."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Sequence
from html import escape
from pathlib import Path

W = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
_NS = "urn:oasis:names:tc:opendocument:xmlns:"


def epub(
    path: Path, chapters: Sequence[str], *, css: str = "", extra: Iterable[tuple[str, str]] = ()
) -> Path:
    """An e-book; each chapter is the inside of its body, the first in ``text/c1.xhtml``."""
    items = range(1, len(chapters) + 1)
    manifest = "".join(
        f'<item id="c{n}" href="text/c{n}.xhtml" media-type="application/xhtml+xml"/>'
        for n in items
    )
    spine = "".join(f'<itemref idref="c{n}"/>' for n in items)
    with zipfile.ZipFile(path, "w") as book:
        book.writestr("mimetype", "application/epub+zip")
        book.writestr(
            "META-INF/container.xml",
            '<container xmlns="urn:oasis:names:tc:opendocument:xmlns:container"><rootfiles>'
            '<rootfile full-path="OEBPS/book.opf"/></rootfiles></container>',
        )
        book.writestr(
            "OEBPS/book.opf",
            f'<package xmlns="http://www.idpf.org/2007/opf"><manifest>{manifest}</manifest><spine>{spine}</spine></package>',
        )
        book.writestr("OEBPS/look.css", css)
        for n, body in enumerate(chapters, start=1):
            book.writestr(
                f"OEBPS/text/c{n}.xhtml",
                '<?xml version="1.0" encoding="utf-8"?>\n<html xmlns="http://www.w3.org/1999/xhtml"><head>'
                f'<title>Galley</title><link rel="stylesheet" href="../look.css"/></head>\n<body>\n{body}\n</body></html>',
            )
        for name, text in extra:
            book.writestr(name, text)
    return path


def word_paragraph(text: str, style: str = "", *, item: str = "", bold: bool = False) -> str:
    """A paragraph; ``item`` is the number of a list (1 bulleted, 2 numbered); tabs and line ends as elements."""
    parts = text.replace("\t", "\0t").replace("\n", "\0n").split("\0")
    runs = ""
    for at, part in enumerate(parts):
        lead = {"t": "<w:tab/>", "n": "<w:br/>"}[part[0]] if at else ""
        said = escape(part[1:] if at else part)
        weight = "<w:rPr><w:b/></w:rPr>" if bold else ""
        runs += f'<w:r>{weight}{lead}<w:t xml:space="preserve">{said}</w:t></w:r>'
    look = f'<w:pStyle w:val="{style}"/>' if style else ""
    look += f'<w:numPr><w:ilvl w:val="0"/><w:numId w:val="{item}"/></w:numPr>' if item else ""
    return f"<w:p><w:pPr>{look}</w:pPr>{runs}</w:p>"


def word_table(rows: Sequence[Sequence[str]]) -> str:
    """A table of one paragraph a cell."""
    cells = "".join(
        "<w:tr>" + "".join(f"<w:tc>{word_paragraph(c)}</w:tc>" for c in row) + "</w:tr>"
        for row in rows
    )
    return f"<w:tbl>{cells}</w:tbl>"


def word(path: Path, body: str, *, declared: str = "") -> Path:
    """A Word document with the styles Title, Heading1, Heading2 and a bulleted and a numbered list."""
    styles = "".join(
        f'<w:style w:styleId="{i}"><w:name w:val="{name}"/></w:style>'
        for i, name in (("Title", "Title"), ("Heading1", "heading 1"), ("Heading2", "heading 2"))
    )
    lists = "".join(
        f'<w:abstractNum w:abstractNumId="{n}"><w:lvl w:ilvl="0"><w:numFmt w:val="{kind}"/></w:lvl></w:abstractNum>'
        for n, kind in ((1, "bullet"), (2, "decimal"))
    ) + "".join(f'<w:num w:numId="{n}"><w:abstractNumId w:val="{n}"/></w:num>' for n in (1, 2))
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("[Content_Types].xml", "<Types/>")
        made.writestr("word/styles.xml", f"<w:styles {W}>{styles}</w:styles>")
        made.writestr("word/numbering.xml", f"<w:numbering {W}>{lists}</w:numbering>")
        made.writestr(
            "word/document.xml", f"{declared}<w:document {W}><w:body>{body}</w:body></w:document>"
        )
    return path


def open_text(path: Path, body: str) -> Path:
    """An OpenDocument text; ``L2`` is a numbered list, ``Bold`` a paragraph style."""
    names = " ".join(
        f'xmlns:{n}="{_NS}{full}:1.0"'
        for n, full in (("office", "office"), ("text", "text"), ("table", "table"), ("style", "style"),
                        ("draw", "drawing"), ("fo", "xsl-fo-compatible"))
    )  # fmt: skip
    automatic = (
        '<style:style style:name="Bold"><style:text-properties fo:font-weight="bold"/></style:style>'
        '<text:list-style style:name="L2"><text:list-level-style-number text:level="1"/></text:list-style>'
    )
    with zipfile.ZipFile(path, "w") as made:
        made.writestr("mimetype", "application/vnd.oasis.opendocument.text")
        made.writestr(
            "content.xml",
            f"<office:document-content {names}><office:automatic-styles>{automatic}</office:automatic-styles>"
            f"<office:body><office:text>{body}</office:text></office:body></office:document-content>",
        )
    return path


Line = (
    tuple[float, float, str]
    | tuple[float, float, str, float]
    | tuple[float, float, str, float, str]
)


def pdf(path: Path, pages: Sequence[Sequence[Line]], *, password: str | None = None) -> Path:
    """A PDF; each line is x, y (points from the lower left), text, size (10) and font (Helvetica)."""
    from reportlab.lib.pdfencrypt import StandardEncryption
    from reportlab.pdfgen.canvas import Canvas

    lock = StandardEncryption(password, ownerPassword="owner") if password is not None else None
    canvas = Canvas(str(path), pagesize=(595, 842), encrypt=lock)
    for lines in pages:
        for x, y, text, *more in lines:
            canvas.setFont(
                str(more[1]) if len(more) > 1 else "Helvetica", float(more[0]) if more else 10
            )
            canvas.drawString(x, y, text)
        canvas.showPage()
    canvas.save()
    return path


def column(x: float, top: float, lines: Sequence[str], pitch: float = 14) -> list[Line]:
    """Lines one below the other."""
    return [(x, top - pitch * at, text) for at, text in enumerate(lines)]
