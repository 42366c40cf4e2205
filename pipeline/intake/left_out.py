"""Files of a folder that are not read and yet may hold recipes: told once, with what to do."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Iterable, Mapping

from pipeline.problems import Problem

#: Kinds of them: what one is called, and several.
_OLD_TEXT = ("document", "documents")
_SLIDES = ("set of slides", "sets of slides")
_BOOKS = ("e-book of another form", "e-books of other forms")
_SHEETS = ("spreadsheet", "spreadsheets")
_PICTURES = ("picture", "pictures")
_RECORDINGS = ("recording", "recordings")
_ARCHIVES = ("archive", "archives")

_ENDINGS: Mapping[str, tuple[str, str]] = {
    **dict.fromkeys((".doc", ".rtf", ".pages", ".wps", ".wpd", ".fodt"), _OLD_TEXT),
    **dict.fromkeys((".ppt", ".pptx", ".odp", ".key"), _SLIDES),
    **dict.fromkeys((".mobi", ".azw", ".azw3", ".fb2", ".djvu"), _BOOKS),
    **dict.fromkeys((".xls", ".ods", ".numbers"), _SHEETS),
    **dict.fromkeys(
        (".jpg", ".jpeg", ".png", ".gif", ".webp", ".heic", ".avif", ".bmp", ".tif", ".tiff"),
        _PICTURES,
    ),
    **dict.fromkeys((".mp4", ".mov", ".avi", ".mkv", ".webm", ".mp3", ".m4a", ".wav"), _RECORDINGS),
    **dict.fromkeys((".zip", ".tar", ".gz", ".7z", ".rar"), _ARCHIVES),
}
_FIX = {
    _OLD_TEXT: "save documents as .docx, .odt or .txt",
    _SLIDES: "save slides as PDF",
    _BOOKS: "convert e-books to .epub",
    _SHEETS: "save spreadsheets as .xlsx or .csv",
    _PICTURES: "write out recipes that are pictured",
    _RECORDINGS: "give the captions of recordings (.srt, .vtt)",
    _ARCHIVES: "unpack archives",
}
#: Endings that are left out of a folder and told.
TOLD = frozenset(_ENDINGS)


def left_out(names: Iterable[str], source: str) -> list[Problem]:
    """One note about files that were left out of a folder; none when none may hold a recipe.

    Args:
        names: of the files.
        source: the folder, relative to the collection.
    """
    counts: dict[tuple[str, str], Counter[str]] = {}
    for name in names:
        ending = os.path.splitext(name.lower())[1]
        if ending in _ENDINGS:
            counts.setdefault(_ENDINGS[ending], Counter())[ending] += 1
    total = sum(c.total() for c in counts.values())
    if not total:
        return []
    kinds = [kind for kind in _FIX if kind in counts]
    said = ", ".join(
        f"{(many := counts[k].total()):,} {k[many > 1]} ({', '.join(sorted(counts[k]))})"
        for k in kinds
    )
    were = "file that may hold recipes was" if total == 1 else "files that may hold recipes were"
    return [
        Problem(
            "files-left-out",
            f"{total:,} {were} left out: {said}",
            "what is in them is not read here",
            "if they hold recipes: " + "; ".join(_FIX[kind] for kind in kinds),
            source=source,
            severity="note",
        )
    ]
