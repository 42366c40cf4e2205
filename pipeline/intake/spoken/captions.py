"""Caption files and plain scripts as the speech alone, each piece of it with its line and time.

Captions cut sentences anywhere, repeat the line before (rolling captions), and hold markup, sound
notes and speaker names; a plain script may begin its lines with a time. WebVTT: W3C; SRT has no
standard, so its reader is tolerant. The lines of the file are needed, so no caption library is used.
"""

from __future__ import annotations

import html
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise

from pipeline.intake.spoken.phrases import word_class

_TIMING = re.compile(
    r"^\s*(?P<start>(?:\d+:)?\d{1,2}:\d{2}[.,]\d{1,3})\s*-->\s*"
    r"(?P<end>(?:\d+:)?\d{1,2}:\d{2}[.,]\d{1,3})"
)
_MARKUP = re.compile(r"</?[A-Za-z0-9:.][^<>]*>|\{\\[^}]*\}")
_NOTE = re.compile(
    r"\[[^\]\d][^\]]{0,40}\]|\([^)]{0,20}(?:music|laugh|applause)[^)]{0,20}\)|♪+", re.I
)
_TIME_LEAD = re.compile(r"^\s*[\[(]?(?P<time>(?:\d{1,2}:)?\d{1,2}:\d{2})[\])]?\s*[-–—:]?(?:\s+|$)")
_SPEAKER = re.compile(
    r"^\s*(?:>>+\s*)?(?:[A-Z][A-Z .'-]{1,24}|[A-Z][a-z]{1,15}):\s+(?=\S)|^\s*>>+\s*"
)
_SENTENCE_END = re.compile(r"[.!?](?=\s|$)")
NAN = float("nan")
#: How many lines of talk end in a small word, at the least, where they are broken anywhere.
_LEAST_BROKEN, _BROKEN = 3, 0.12
_TIMED = 3  # a line in so many with a time before it: a time says nothing of a new thought
_OVERLAP = 4  # words a cue must share with the end of the last to be a repeat


@dataclass(frozen=True, slots=True)
class Piece:
    """Some words of a script, as a caption or a line holds them.

    Attributes:
        text: the words.
        line: 1-based line of the file.
        from_s, to_s: seconds in the recording, NaN when the file does not say.
        starts_paragraph: a new thought may begin here (plain scripts).
    """

    text: str
    line: int
    from_s: float = NAN
    to_s: float = NAN
    starts_paragraph: bool = False


def pieces(text: str, kind: str) -> list[Piece]:
    """Spoken pieces of a script; ``kind`` is webvtt, srt or script. Total."""
    if kind in ("webvtt", "srt"):
        return _without_repeats(_cues(text))
    return _plain(text)


def speech(spoken: list[Piece]) -> tuple[str, list[int]]:
    """The speech as one text, a piece a line, and the character each piece begins at."""
    out: list[str] = []
    begins: list[int] = []
    length = 0
    for piece in spoken:
        gap = "" if not out else "\n\n" if piece.starts_paragraph else "\n"
        begins.append(length + len(gap))
        out.append(gap + piece.text)
        length += len(gap) + len(piece.text)
    return "".join(out), begins


def clock(seconds: float) -> str:
    """Seconds as "00:01:23"; "" for NaN."""
    if seconds != seconds:
        return ""
    whole = int(seconds)
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"


def seconds_of(when: str) -> float:
    """ "00:01:23" or "01:23,450" in seconds; NaN for what is no time."""
    if ":" not in when:
        return NAN
    total = 0.0
    for part in when.replace(",", ".").split(":"):
        total = total * 60 + float(part)
    return total


def _cues(text: str) -> list[Piece]:
    out: list[Piece] = []
    from_s = to_s = NAN
    skipping = True  # until the first timing: header
    for no, line in enumerate(text.split("\n"), start=1):
        timing = _TIMING.match(line)
        if timing:
            from_s, to_s, skipping = seconds_of(timing["start"]), seconds_of(timing["end"]), False
            continue
        if not line.strip():
            skipping = True  # what follows is a cue id, a note or a style, until its timing
            continue
        if skipping:
            continue
        said = _said(line)
        if said:
            out.append(Piece(said, no, from_s, to_s))
    return out


def _said(line: str) -> str:
    line = html.unescape(_MARKUP.sub("", line))
    line = _NOTE.sub(" ", line)
    line = _SPEAKER.sub("", line)
    return " ".join(line.split()).lstrip("-– ").strip()


def _without_repeats(cues: list[Piece]) -> list[Piece]:
    """Drop lines that a rolling caption shows a second time, whole or by their first words."""
    out: list[Piece] = []
    tail: list[str] = []
    recent: list[str] = []
    for cue in cues:
        key = cue.text.lower()
        if key in recent[-2:]:
            continue
        recent.append(key)
        words = key.split()
        shared = next(
            (
                n
                for n in range(min(len(words), len(tail)), _OVERLAP - 1, -1)
                if tail[-n:] == words[:n]
            ),
            0,
        )
        text = " ".join(cue.text.split()[shared:])
        if text:
            out.append(replace(cue, text=text))
        tail = (tail + words[shared:])[-40:]
    return out


def _plain(text: str) -> list[Piece]:
    out: list[Piece] = []
    from_s, blank = NAN, True
    stops = len(_SENTENCE_END.findall(text))
    sentences = stops * 60 > len(text.split())  # else nobody put full stops into it
    lines = text.split("\n")
    anywhere = broken_anywhere(lines)
    filled = [line for line in lines if line.strip()]
    timed = _TIMED * sum(map(bool, map(_TIME_LEAD.match, filled))) > len(filled)
    turns = 2 * sum(map(bool, map(_SPEAKER.match, filled))) > len(filled)
    ended = True
    for no, (line, cut) in enumerate(_with_cuts(text), start=1):
        if not line.strip():
            blank = True
            continue
        ended = ended or cut
        lead = _TIME_LEAD.match(line)
        if lead:
            from_s = seconds_of(lead["time"])
            line = line[lead.end() :]
            if not line:
                continue  # a time alone, of what is said below it
        said = _said(line.lstrip("#*- "))
        if said:
            capital = said[0].isupper() and not anywhere
            fresh = ended if sentences else blank or (lead is not None and not timed) or capital
            ended = said[-1] in ".!?:\"')"
            out.append(Piece(said, no, from_s, NAN, starts_paragraph=fresh and not turns))
        blank = False
    return out


def broken_anywhere(lines: Sequence[str]) -> bool:
    """Whether lines end in the middle of what is said, as a transcript that was broken at a width."""
    words = (line.split()[-1].lower() for line in lines if line.strip())
    ends = [word in word_class("function") for word in words]
    return sum(ends) >= max(_LEAST_BROKEN, _BROKEN * len(ends))


def _with_cuts(text: str) -> Iterator[tuple[str, bool]]:
    """Lines, and whether each was begun on purpose: its first word had room in the line above."""
    anywhere = broken_anywhere(text.split("\n"))
    for filled, lines in groupby(text.split("\n"), lambda line: bool(line.strip())):
        block = list(lines)
        width = 0 if anywhere else max(map(len, block))
        for above, line in pairwise(["", *block]):
            yield line, filled and 0 < len(above) < width - len(line.split(maxsplit=1)[0])
