"""Characters of the pages of a PDF, by pdfminer.six, within bounds on what its streams unpack to."""

from __future__ import annotations

import logging
import threading
import zlib
from collections.abc import Iterable, Iterator
from io import BytesIO
from typing import Any, BinaryIO

from pdfminer import pdftypes
from pdfminer.converter import PDFLayoutAnalyzer
from pdfminer.layout import LTChar, LTContainer
from pdfminer.lzw import LZWDecoder
from pdfminer.pdfdocument import PDFDocument
from pdfminer.pdfdocument import PDFEncryptionError as LockedError
from pdfminer.pdfinterp import PDFPageInterpreter, PDFResourceManager
from pdfminer.pdfpage import PDFPage
from pdfminer.pdfparser import PDFParser
from pdfminer.runlength import rldecode

from pipeline.intake.documents.pdf_lines import Char
from pipeline.intake.files import MIB
from pipeline.problems import is_of_the_input

__all__ = ["LockedError", "TooMuchError", "characters"]

MAX_PAGES = 3_000
#: Characters of one page; a page that people read has a fiftieth.
MAX_PAGE_CHARS = 40_000
#: Bytes that one stream, and all of them, unpack to; and that are drawn, forms counted each time.
MAX_STREAM = 24 * MIB
MAX_UNPACKED = 256 * MIB
MAX_DRAWN = 64 * MIB
_MAX_FORMS = 2_000
#: Latin ligatures (Unicode block "Alphabetic Presentation Forms") as the letters they join.
_LIGATURES = {
    0xFB00: "ff", 0xFB01: "fi", 0xFB02: "fl", 0xFB03: "ffi", 0xFB04: "ffl", 0xFB05: "st", 0xFB06: "st",
    0xA0: " ", 0xAD: "",
}  # fmt: skip
_BOLD = ("bold", "black", "heavy", "demi")


class TooMuchError(Exception):
    """More than a document of recipes holds."""


def characters(handle: BinaryIO, failed: list[int]) -> Iterator[tuple[int, float, list[Char]]]:
    """Number, height in points and characters of each page.

    Args:
        handle: the document.
        failed: to which the numbers of pages that cannot be read are added.

    Raises:
        LockedError: it opens with a password alone.
        TooMuchError: it is larger than a document of recipes.
        Exception: whatever a broken document makes pdfminer trip over.
    """
    logging.getLogger("pdfminer").setLevel(logging.CRITICAL)
    _bound_filters()
    _spent.left = MAX_UNPACKED
    manager = PDFResourceManager()
    device = _Device(manager)
    interpreter = _Interpreter(manager, device)
    document = PDFDocument(PDFParser(handle))
    for no, page in enumerate(PDFPage.create_pages(document), start=1):
        if no > MAX_PAGES:
            raise TooMuchError(f"the PDF has more than {MAX_PAGES:,} pages")
        try:
            interpreter.process_page(page)
        except TooMuchError:
            raise
        except Exception as fault:
            if not is_of_the_input(fault) and not isinstance(fault, RecursionError):
                raise
            failed.append(no)
            continue
        box: Any = page.mediabox
        yield no, abs(float(box[3]) - float(box[1])) or 1.0, device.chars


class _Device(PDFLayoutAnalyzer):
    """Keeps the characters of a page; drawings and pictures are passed over."""

    def __init__(self, manager: PDFResourceManager) -> None:
        super().__init__(manager)
        self.chars: list[Char] = []
        self.drawn = self.forms = self.count = 0

    def begin_page(self, page: Any, ctm: Any) -> None:
        self.chars = []
        self.count = self.forms = 0
        self._stack.clear()
        super().begin_page(page, ctm)

    def begin_figure(self, name: Any, bbox: Any, matrix: Any) -> None:
        self.forms += 1
        if self.forms > _MAX_FORMS:
            raise TooMuchError(f"a page of the PDF draws more than {_MAX_FORMS:,} forms")
        super().begin_figure(name, bbox, matrix)

    def paint_path(self, *args: Any, **more: Any) -> None:
        """Lines and areas say nothing."""

    def render_image(self, name: Any, stream: Any) -> None:
        """Nor do pictures."""

    def render_char(self, *args: Any, **more: Any) -> float:
        self.count += 1
        if self.count > MAX_PAGE_CHARS:
            raise TooMuchError(f"a page of the PDF has more than {MAX_PAGE_CHARS:,} characters")
        return float(super().render_char(*args, **more))

    def handle_undefined_char(self, font: Any, cid: int) -> str:
        return "\ufffd"

    def receive_layout(self, ltpage: Any) -> None:
        self.chars = list(_kept(ltpage))


def _kept(item: Iterable[Any]) -> Iterator[Char]:
    for one in item:
        if isinstance(one, LTChar):
            if one.upright and one.size > 0:
                text = one.get_text().translate(_LIGATURES)
                bold = any(word in str(one.fontname).lower() for word in _BOLD)
                yield Char(one.x0, one.x1, one.matrix[5], text, one.size, bold)
        elif isinstance(one, LTContainer):
            yield from _kept(one)


class _Interpreter(PDFPageInterpreter):
    """Counts what is drawn, forms each time they are."""

    device: _Device

    def execute(self, streams: Any) -> None:
        for one in streams:
            found = pdftypes.stream_value(one)
            self.device.drawn += len(found.get_data())
        if self.device.drawn > MAX_DRAWN:
            raise TooMuchError("the pages of the PDF draw more than a book of recipes does")
        super().execute(streams)


# --- bounds on what streams unpack to ---------------------------------------------------------------

_spent = threading.local()


def _spend(data: bytes) -> bytes:
    _spent.left = getattr(_spent, "left", MAX_UNPACKED) - len(data)
    if len(data) > MAX_STREAM or _spent.left < 0:
        raise TooMuchError("the PDF unpacks to more than a book of recipes does")
    return data


class _BoundedZlib:
    """Stands for ``zlib`` in pdfminer, which sets no bound to what a stream unpacks to."""

    error = zlib.error

    @staticmethod
    def decompress(data: bytes) -> bytes:
        """What can be unpacked of ``data``, broken ends left out."""
        unpacker = zlib.decompressobj()
        out: list[bytes] = []
        size = 0
        for start in range(0, len(data), 65_536):
            try:
                part = unpacker.decompress(data[start : start + 65_536], MAX_STREAM + 1 - size)
            except zlib.error:
                break
            out.append(part)
            size += len(part)
            if size > MAX_STREAM:
                break
        return _spend(b"".join(out))


def _bounded_lzw(data: bytes) -> bytes:
    out: list[bytes] = []
    size = 0
    for part in LZWDecoder(BytesIO(data)).run():
        out.append(part)
        size += len(part)
        if size > MAX_STREAM or len(out) > 4_000_000:
            raise TooMuchError("the PDF unpacks to more than a book of recipes does")
    return _spend(b"".join(out))


def _bound_filters() -> None:
    """Put the bounded filters into pdfminer, once a process."""
    module: Any = pdftypes
    if module.zlib is not _BoundedZlib:
        module.zlib = _BoundedZlib
        module.lzwdecode = _bounded_lzw
        module.rldecode = lambda data: _spend(rldecode(data))
