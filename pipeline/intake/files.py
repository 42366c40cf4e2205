"""Which files belong to a collection, and their text: walk, sniff, decode, each within bounds."""

from __future__ import annotations

import codecs
import os
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.intake.left_out import NO_RECIPES, REPORTED, left_out
from pipeline.intake.model import cut
from pipeline.problems import Problem, input_problem

MIB = 1024 * 1024
SNIFF_BYTES = 64 * 1024
#: Most bytes read as one text. A card or a page is never near it; bulk data are JSON or tables.
MAX_TEXT_BYTES = 16 * MIB
MAX_JSON_BYTES = 512 * MIB

OUR_FILES = frozenset(
    {"steelyard.toml", "pantry.csv", "pantry.yaml", "pantry.yml", "decisions.csv"}
)
_OUTPUT_STEMS = (
    "recipes", "findings", "lines", "explanations", "problems", "to_review", "claims", "publish",
    "drift_foods", "drift_recipes", "drift_lines", "drift_decisions",
)  # fmt: skip
OUTPUT_FILES = frozenset(
    f"{stem}{ending}" for stem in _OUTPUT_STEMS for ending in (".csv", ".parquet")
) | {"report.html", "report-recipe.html", "report.json", "report.md", "drift.html"}
#: Folder of the report's pages, where results are written beside recipes.
REPORT_PAGES = "pages"
#: What stands at the top of the results of a run, of a drift, and of a run in parts.
RUN_FILES = frozenset({"findings.csv", "report.json"})
DRIFT_FILES = frozenset({"drift.html", "drift_recipes.csv"})
BULK_FILES = frozenset({"report.html", "summary.json", "manifest.json"})
_SKIPPED_FOLDERS = frozenset(
    {"out", "node_modules", "__pycache__", "venv", "env", "build", "dist", "site-packages"}
)
_NOT_RECIPE_NAMES = frozenset(
    ("readme", "license", "licence", "changelog", "contributing", "makefile", "dockerfile",
     "copying", "notice")
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class SourceFile:
    """One file to read.

    Attributes:
        path: where it is.
        source: posix path relative to the collection root; how every message names it.
        named: the person named this very file, so silence about it would be wrong.
    """

    path: Path
    source: str
    named: bool


@dataclass(slots=True)
class Found:
    """Files of a collection, in a deterministic order, and what was wrong on the way."""

    root: Path
    files: list[SourceFile] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    stdin: bool = False
    left_out: list[str] = field(default_factory=list)


def collection_root(paths: Sequence[str | Path]) -> Path:
    """The folder the collection stands in: where ``steelyard.toml`` and ``pantry.csv`` belong.

    One folder is its own root; files have the folder they share; standard input the working folder.
    """
    real = [Path(os.path.abspath(p)) for p in paths if str(p) != "-"]
    if not real:
        return Path.cwd()
    if len(real) == 1:
        return real[0] if real[0].is_dir() else real[0].parent
    folders = [str(p if p.is_dir() else p.parent) for p in real]
    try:
        return Path(os.path.commonpath(folders))
    except ValueError:  # other drives
        return Path(folders[0])


def find_files(
    paths: Sequence[str | Path], *, follow_links: bool, skip: frozenset[Path] = frozenset()
) -> Found:
    """Walk ``paths``; ``skip`` names files that belong to the collection but are no recipes."""
    root = collection_root(paths)
    found = Found(root)
    seen: set[str] = set()
    for given in paths:
        if str(given) == "-":
            found.stdin = True
            continue
        path = Path(os.path.abspath(given))
        if path.is_dir():
            before = len(found.files)
            problems = len(found.problems)
            for file in _walk(path, found, follow_links=follow_links):
                _take(file, found, seen, named=False, skip=skip)
            if len(found.files) == before and len(found.problems) == problems:
                found.problems.append(
                    input_problem("folder-empty", source=_relative(path, root), folder=given)
                )
            found.problems.extend(left_out(found.left_out, _relative(path, root)))
            found.left_out.clear()
        elif path.exists():
            _take(path, found, seen, named=True, skip=frozenset())
        else:
            dangling = " (a link whose target is gone)" if path.is_symlink() else ""
            found.problems.append(
                input_problem(
                    "path-not-found", source=_relative(path, root), path=given, dangling=dangling
                )
            )
    return found


def _take(path: Path, found: Found, seen: set[str], *, named: bool, skip: frozenset[Path]) -> None:
    real = os.path.realpath(path)
    if real in seen or path in skip:
        return
    seen.add(real)
    found.files.append(SourceFile(path, _relative(path, found.root), named))


def _relative(path: Path, root: Path) -> str:
    try:
        return path.relative_to(root).as_posix() or "."
    except ValueError:
        return path.name


def _link_outside(entry: os.DirEntry[str], root: Path) -> Problem:
    return input_problem("link-outside", source=_relative(Path(entry.path), root), name=entry.name)


def _walk(top: Path, found: Found, *, follow_links: bool) -> Iterator[Path]:
    """Files below ``top``, folders after files, both by name; loops of links are cut."""
    visited: set[str] = set()
    inside = os.path.realpath(top) + os.sep
    pending = [str(top)]
    while pending:
        folder = pending.pop()
        real = os.path.realpath(folder)
        if real in visited:
            continue
        visited.add(real)
        try:
            with os.scandir(folder) as listing:
                entries = sorted(listing, key=lambda e: e.name)
        except OSError as fault:
            found.problems.append(
                input_problem(
                    "folder-unreadable", source=_relative(Path(folder), found.root),
                    folder=_relative(Path(folder), found.root), why=fault.strerror or str(fault),
                )
            )  # fmt: skip
            continue
        names = {e.name for e in entries}
        output = any(names >= written for written in (RUN_FILES, BULK_FILES, DRIFT_FILES))
        if output and folder != str(top):
            continue
        folders: list[str] = []
        for entry in entries:
            name = entry.name
            if name.startswith((".", "~$")) or name in OUR_FILES:
                continue
            if entry.is_symlink() and not follow_links:
                target = os.path.realpath(entry.path)
                if not (target + os.sep).startswith(inside):
                    found.problems.append(_link_outside(entry, found.root))
                continue  # a link to inside: its target is read at its own place
            try:
                is_folder = entry.is_dir()
                is_file = not is_folder and entry.is_file()
            except OSError:
                continue
            if is_folder:
                if output and name == REPORT_PAGES:
                    continue
                if name not in _SKIPPED_FOLDERS and not name.endswith(".egg-info"):
                    folders.append(entry.path)
            elif is_file and not _no_recipe(name, output):
                yield Path(entry.path)
            elif is_file and not output:
                found.left_out.append(name)
        pending.extend(reversed(folders))


def _no_recipe(name: str, beside_output: bool) -> bool:
    stem, ending = os.path.splitext(name.lower())
    return (
        ending in NO_RECIPES
        or ending in REPORTED
        or stem in _NOT_RECIPE_NAMES
        or name.endswith("~")
        or name.endswith(".schema.json")
        or (beside_output and name in OUTPUT_FILES)
    )


# --- text -----------------------------------------------------------------------------------

_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_META_CHARSET = re.compile(rb"<meta[^>]{0,200}charset\s*=\s*[\"']?\s*([A-Za-z0-9_.:-]{2,40})", re.I)
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1a\x1c-\x1f\x7f]")
_KINDS = (
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"\x89PNG", "a PNG picture"),
    (b"GIF8", "a GIF picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a zip archive"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
    (b"SQLite format 3", "a SQLite database"),
    (b"\xd0\xcf\x11\xe0", "an old Office document"),
)


def binary_kind(head: bytes) -> str:
    """What a file that begins so seems to be, for the message; "" when it is text in some encoding."""
    if any(head.startswith(bom) for bom, _ in _BOMS):
        return ""
    if len(_CONTROL.findall(head)) <= 8 + len(head) // 500:
        return ""
    return next((kind for magic, kind in _KINDS if head.startswith(magic)), "binary data")


def is_utf8(data: bytes) -> bool:
    """Whether a text that could be decoded without a guess is stored as UTF-8: no other mark."""
    return not any(data.startswith(bom) for bom, name in _BOMS if name != "utf-8-sig")


def decode(data: bytes, source: str) -> tuple[str, list[Problem]]:
    """Text of a file: UTF-8, or by byte order mark, or by the page's own charset, or cp1252.

    Line ends become ``\\n``; NUL bytes are dropped. Each guess is a warning. Never raises.
    """
    problems: list[Problem] = []
    text: str | None = None
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            text = data.decode(encoding, errors="replace")
            break
    if text is None:
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as fault:
            text, encoding = _legacy(data)
            line = data.count(b"\n", 0, fault.start) + 1
            start = data.rfind(b"\n", 0, fault.start) + 1
            end = data.find(b"\n", fault.start)
            shown = data[start : end if end >= 0 else len(data)][:400]
            problems.append(
                input_problem(
                    "not-utf-8", source=source, source_line=line, text=cut(_legacy(shown)[0]),
                    byte=data[fault.start], line=line, encoding=encoding,
                )
            )  # fmt: skip
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        problems.append(
            input_problem(
                "nul-bytes", source=source, source_line=line, count=text.count(chr(0)), line=line
            )
        )
        text = text.replace("\0", "")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text.removeprefix("\ufeff"), problems


def _legacy(data: bytes) -> tuple[str, str]:
    charset = _META_CHARSET.search(data[:4096])
    if charset:
        name = charset[1].decode("ascii", "replace").lower()
        try:
            if name not in ("utf-8", "utf8") and codecs.lookup(name)._is_text_encoding:
                return data.decode(name), name
        except (LookupError, UnicodeDecodeError, ValueError):
            pass
    try:
        return data.decode("cp1252"), "Windows-1252"
    except UnicodeDecodeError:
        return data.decode("latin-1"), "Latin-1"


class LineIndex:
    """Line of a character offset, and search that moves forward through a text."""

    def __init__(self, text: str) -> None:
        self._text = text
        self._starts: list[int] | None = None
        self._at = 0

    def line(self, offset: int) -> int:
        """1-based line of the character at ``offset``."""
        from bisect import bisect_right

        if self._starts is None:
            self._starts = [0, *(m.end() for m in re.finditer("\n", self._text))]
        return bisect_right(self._starts, offset)

    def find(self, *needles: str) -> int | None:
        """Line of the first needle found from the last place on; the place moves behind it."""
        for needle in needles:
            at = self._text.find(needle, self._at) if needle else -1
            if at >= 0:
                self._at = at + len(needle)
                return self.line(at)
        return None
