"""A spoken script of an invented galley, and how to find its words."""

from __future__ import annotations

from typing import Any

SOURCE = "morning.srt"
_CUES = (
    "morning all and welcome back to the galley of the ferry",
    "first up is the harbour porridge so take the big pan and in it go",
    "eighty grams of rolled oats",
    "two hundred millilitres of semi skimmed milk",
    "and a tablespoon of honey on the top",
    "that comes to four hundred and ten calories and thirteen grams of protein",
    "next up is the bosun rice bowl and you need",
    "seventy five grams of white rice",
    "and one hundred grams of chicken breast",
    "all in that is four hundred and fifty calories with thirty five grams of protein",
    "thanks for watching and mind the step",
)


def _clock(seconds: int) -> str:
    return f"00:00:{seconds:02},000"


TALK = "\n".join(
    f"{no}\n{_clock(4 * no)} --> {_clock(4 * no + 3)}\n{cue}\n"
    for no, cue in enumerate(_CUES, start=1)
)


def words_at(script: Any, words: str) -> tuple[int, int]:
    """Characters of some words in a script."""
    start = script.text.index(words)
    return start, start + len(words)


def mark_of(script: Any, words: str) -> dict[str, Any]:
    """The mark over some words, their own ingredient before others."""
    start, end = words_at(script, words)
    found = [m for m in script.marks if m["start"] < end and start < m["end"]]
    assert found, (words, script.marks)
    return min(found, key=lambda m: m["kind"] != "ingredient")
