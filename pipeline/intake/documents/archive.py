"""Documents that are zip archives of XML (EPUB, DOCX, ODT): their parts, each within bounds."""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from pipeline.intake.files import MIB
from pipeline.intake.model import cut
from pipeline.problems import Problem, input_problem

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

MAX_BYTES = 512 * MIB
MAX_ENTRIES = 50_000
#: Most bytes that one part, and all parts read, unpack to. The text of a thick book is a tenth of it.
MAX_PART = 32 * MIB
MAX_READ = 128 * MIB
#: Elements within elements.
MAX_DEPTH = 400


class RefusedError(Exception):
    """A document that is not read; carries the problem that says why."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.what)
        self.problem = problem


def damaged(kind: str, source: str, why: str) -> Problem:
    """The problem of a document that cannot be opened."""
    return input_problem("document-damaged", source=source, kind=kind, why=cut(why, 160))


def locked(kind: str, source: str, why: str = "it is protected by a password") -> Problem:
    """The problem of a document that only opens with a key."""
    return input_problem("document-locked", source=source, kind=kind, why=why)


def too_deep(kind: str, source: str) -> Problem:
    """The problem of a document whose elements nest deeper than is read."""
    return input_problem("document-too-deep", source=source, kind=kind, levels=MAX_DEPTH)


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
                raise RefusedError(self._too_large(path.stat().st_size))
            self._zip = zipfile.ZipFile(path)
        except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as fault:
            raise RefusedError(damaged(kind, source, str(fault))) from fault
        if len(self._zip.namelist()) > MAX_ENTRIES:
            raise RefusedError(self._too_large(0))
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
            raise RefusedError(damaged(self.kind, self.source, f'"{name}" is missing')) from fault
        except RuntimeError as fault:  # how zipfile says that a part is encrypted
            raise RefusedError(locked(self.kind, self.source)) from fault
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError,
                NotImplementedError) as fault:  # fmt: skip
            why = f'"{name}": {fault}'
            raise RefusedError(damaged(self.kind, self.source, why)) from fault
        if len(data) > min(MAX_PART, self._left):
            raise RefusedError(self._too_large(len(data)))
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
            problem = input_problem(
                "document-entities", source=self.source, kind=self.kind, name=name
            )
            raise RefusedError(problem) from fault
        except (ElementTree.ParseError, ValueError, LookupError) as fault:
            why = f'"{name}" is not XML: {fault}'
            raise RefusedError(damaged(self.kind, self.source, why)) from fault
        return root

    def _too_large(self, size: int) -> Problem:
        said = f"to more than {size / MIB:,.0f} MB" if size > MIB else "to too many parts"
        return input_problem("document-bomb", source=self.source, kind=self.kind, to=said)
