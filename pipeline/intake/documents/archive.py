"""Documents that are zip archives of XML (EPUB, DOCX, ODT): their parts, each within bounds."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from pipeline.intake.files import MIB
from pipeline.intake.model import RefusedError, cut

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

MAX_BYTES = 512 * MIB
MAX_ENTRIES = 50_000
#: Most bytes that one part, and all parts read, unpack to. The text of a thick book is a tenth of it.
MAX_PART = 32 * MIB
MAX_READ = 128 * MIB
#: Elements within elements.
MAX_DEPTH = 400


class Archive:
    """An opened document; every part of it is read within bounds."""

    def __init__(self, path: Path, kind: str, source: str) -> None:
        """Open it.

        Raises:
            RefusedError: it is no zip archive, damaged, or larger than a document is.
        """
        self.kind, self.source = kind, source
        self._left = MAX_READ
        try:
            if path.stat().st_size > MAX_BYTES:
                raise self._too_large(path.stat().st_size)
            self._zip = zipfile.ZipFile(path)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as fault:
            raise RefusedError(
                "document-damaged", source=source, kind=kind, why=cut(str(fault), 160)
            ) from fault
        if len(self._zip.namelist()) > MAX_ENTRIES:
            raise self._too_large(0)
        self._names = set(self._zip.namelist())

    def __enter__(self) -> Archive:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        self._zip.close()

    @property
    def names(self) -> list[str]:
        """Names of the parts, in their order in the archive."""
        return self._zip.namelist()

    def __contains__(self, name: str) -> bool:
        return name in self._names

    def read(self, name: str) -> bytes:
        """Bytes of a part.

        Raises:
            RefusedError: the part is missing, damaged, locked, or unpacks to too much.
        """
        try:
            with self._zip.open(name) as part:
                data = part.read(min(MAX_PART, self._left) + 1)
        except KeyError as fault:
            raise self._damaged(f'"{name}" is missing') from fault
        except RuntimeError as fault:  # how zipfile says that a part is encrypted
            raise RefusedError("document-locked", source=self.source, kind=self.kind) from fault
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError,
                NotImplementedError) as fault:  # fmt: skip
            why = f'"{name}": {fault}'
            raise self._damaged(why) from fault
        if len(data) > min(MAX_PART, self._left):
            raise self._too_large(len(data))
        self._left -= len(data)
        return data

    def xml(self, name: str) -> Element:
        """Root element of a part.

        Raises:
            RefusedError: as ``read``; or it is no XML, or defines entities.
        """
        import defusedxml
        from defusedxml import ElementTree

        data = self.read(name)
        try:
            root: Element = ElementTree.fromstring(data)
        except defusedxml.DefusedXmlException as fault:
            raise RefusedError(
                "document-entities", source=self.source, kind=self.kind, name=name
            ) from fault
        except (ElementTree.ParseError, ValueError, LookupError) as fault:
            why = f'"{name}" is not XML: {fault}'
            raise self._damaged(why) from fault
        return root

    def _damaged(self, why: str) -> RefusedError:
        return RefusedError(
            "document-damaged", source=self.source, kind=self.kind, why=cut(why, 160)
        )

    def _too_large(self, size: int) -> RefusedError:
        said = f"to more than {size / MIB:,.0f} MB" if size > MIB else "to too many parts"
        return RefusedError("document-bomb", source=self.source, kind=self.kind, to=said)
