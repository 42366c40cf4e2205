"""Of whom and of what a clause tells: somebody else, another time, what is not."""

from __future__ import annotations

import re
from itertools import pairwise

from pipeline.intake.spoken.phrases import phrases, word_class
from pipeline.intake.spoken.talk import Talk

_CLAUSE, _HEAD = 16, 4  # words of a clause, and of those its first
#: Words for somebody else, another place or another time, without those that say so seldom.
_OTHERS = frozenset().union(*map(word_class, ("kin", "elsewhere", "other_time"))) | (
    word_class("irrealis") - word_class("function")
)
_OTHERS -= {"used", "last", "next", "later", "back", "when", "before", "they", "always", "never"}
_NO_AMOUNT = ("chatter", "supposed", "choice", "comes_out")
_BEFORE = (("last", "time"), ("used", "to"), ("back", "then"))


def denied(talk: Talk, at: int) -> bool:
    """Denial right before a word, small words between: "it is not quite the same"."""
    before = talk.said(at - 3, at).split("|")[-1].split()
    no = [k for k, word in enumerate(before) if word in word_class("negative")]
    return bool(no) and all(w in talk.small or w == "quite" for w in before[no[-1] + 1 :])


def of_others(talk: Talk, at: int) -> bool:
    """The clause before a place begins with somebody else, another place or another time, and what
    the speaker does now is no part of it: "my gran put", "last time I used"."""
    begin = at
    while begin > max(at - _CLAUSE, 0) and not _turns(talk, begin):
        begin -= 1
    if begin and not _turns(talk, begin):
        return False
    clause = [word.split("'")[0] for word in talk.text[begin:at]]
    for place, word in enumerate(clause):
        done = {w for w in clause[place + 1 : place + 3] if w.endswith("ed")} | (
            word_class("past") & {*clause[place + 1 : place + 4]}
        )
        if word in ("i", "we", "you") and not done:
            return False
    return any(
        w in _OTHERS or (w, after) in _BEFORE for w, after in pairwise([*clause[: _HEAD + 1], ""])
    )


def _turns(talk: Talk, at: int) -> bool:
    """A clause begins: a sentence, or words behind "so" and "but"."""
    return talk.stops(at) or talk.text[at - 1] in word_class("turns")


def tells_otherwise(talk: Talk, start: int, at: int) -> bool:
    """The clause before an amount tells of something else: what others take, or what it cost."""
    if at < talk.n and talk.stops(at):
        return False
    clause = re.split(r"[|,] ?", talk.said(start, at))[-1]
    return of_others(talk, at) or any(phrases(name).search(clause) for name in _NO_AMOUNT)
