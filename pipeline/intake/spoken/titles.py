"""What a dish is called, from the words behind its announcement."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.intake.spoken.grammar import Talk
from pipeline.intake.spoken.words import STRONG, word_set

_SKIP = word_set("""
    is are was it's its it we've weve we have i've ive i got a an the my our some your these those this that
    thing things one ones going to be making make i'm im we're were doing do called um uh er erm like kind of
    sort for you with so okay ok and another up just really super favourite favorite absolute now
    probably alright right then oh well today recipe gonna here let's lets us number everyone's
    easiest simplest quickest is's had ate having always i'd other comes what call calling only
    day big little first off on list there's there got which basically that's today's people ask take
    show two three four of both these them show old actual by us easy quick simple nice lovely
    who know guys to onto snack its were was i made always same
""")
_STOP = word_set("""
    so which that this these it it's its i i'm im i've you you'll you'd you're youre we we're were we'll okay ok
    alright right um uh now because start starting first begin grab take put just super at if when as but
    then again same all they they're let's lets from who where what coming is are was has have makes takes
    really today honestly guys everyone literally my your don't oh need got cuz cause one's only serves feeds
    does three two four five six seven eight nine ten in or before after not ingredients for on thing
    y'all yall guys folks everybody everyone
""")
_MEALS = word_set("breakfast brunch lunch dinner supper dessert pudding snack starter")
#: Verbs that also name dishes: "breakfast scramble", "tray bake".
_DEEDS = word_set("scramble mash bake roast melt crumble dip whip crush toast smash")
_NUMBERED = _MEALS | word_set("meal recipe number day dish smoothie shake bowl wrap one")
_TAIL = word_set("recipe recipes one thing things meal kind style")


@dataclass(slots=True)
class Title:
    """A dish's name: its text, the words it takes, and whether it names a dish or a food."""

    text: str
    start: int
    end: int
    dish: bool


def title_after(talk: Talk, at: int) -> Title | None:
    """The dish named from ``at`` on; None when no words there could be a name.

    What stands there first is taken, unless "is the", "it's my" or "called" soon leads to a dish.
    """
    first = named_at(talk, at)
    if first is not None and first.dish:
        return first
    for begin in range(at, min(at + 14, talk.n - 1)):
        if talk.words[begin].value is not None and not talk.words[begin].article:
            break
        if talk.text[begin] in ("is", "it's", "called", "that's", "are", "this") and (
            talk.words[begin + 1].article or talk.word(begin + 2) in ("pan", "pot", "tray")
            or talk.text[begin + 1] in ("the", "my", "our", "is", "called", "what")
            or talk.text[begin] == "called"
        ):  # fmt: skip
            later = named_at(talk, begin + 1)
            if later is not None and later.dish:
                return later
    if first is not None and not _talks(talk, first) and first.start - at <= 3:
        return first
    for begin in range(at + 1, min(at + 12, talk.n)):
        if talk.words[begin].breaks == STRONG:
            later = named_at(talk, begin)
            if later is not None and later.dish and later.start - begin <= 2:
                return later
    for begin in range(at, min(at + 14, talk.n - 1)):
        if talk.words[begin].value is not None and not talk.words[begin].article:
            break
        if talk.text[begin] in ("the", "my", "our") or talk.words[begin].article:
            later = named_at(talk, begin + 1)
            if later is not None and later.start == begin + 1 and talk.text[later.end - 1] in (
                talk.known.classes["dish"]
            ):  # fmt: skip
                return later
    return None if first is not None and _talks(talk, first) else first


def _talks(talk: Talk, title: Title) -> bool:
    """Words that could be any talk: pronouns, people, times."""
    known = talk.known
    words = talk.text[title.start : title.end]
    return all(w in known.classes["talk"] or w in talk._ends or w in known.verbs for w in words) or (
        words[0] in known.classes["function"]
    )  # fmt: skip


def named_at(talk: Talk, at: int) -> Title | None:
    """The name that stands at a place, small words skipped."""
    begin, skipped = at, 0
    while begin < talk.n and skipped < 9:
        word = talk.words[begin]
        if word.value is not None and not word.article:
            if begin + 1 < talk.n and talk.text[begin + 1] in (
                "pan",
                "pot",
                "tray",
                "bowl",
                "ingredient",
            ):
                begin, skipped = begin + 1, skipped + 1
                break
            return None
        nxt = talk.words[begin + 1] if begin + 1 < talk.n else None
        if nxt is not None and nxt.value is not None and not nxt.article and not nxt.share and (
            skipped == 0 and talk.text[begin] in _NUMBERED
        ):  # fmt: skip
            begin, skipped = begin + 2, skipped + 2  # "meal two, meal two is …"
            continue
        if word.article or (talk.text[begin] in _SKIP and talk.food_length(begin) < 2):
            begin, skipped = begin + 1, skipped + 1
            continue
        break
    if (
        begin < talk.n - 1
        and talk.known.unit_at(talk.words, begin)[0] is not None
        and talk.text[begin + 1] == "of"
    ):
        return None
    if begin >= talk.n or talk.text[begin] in talk.known.classes["negative"]:
        return None
    end = begin
    dish = False
    while end < talk.n and end - begin < 7:
        word, text = talk.words[end], talk.text[end]
        if end > begin and word.breaks:
            break
        if word.value is not None:
            break
        length = talk.food_length(end)
        if length > 1:
            dish, end = True, end + length
            continue
        if text == "stir" and talk.close(end + 1) == "fry":
            dish, end = True, end + 2
            continue
        if end > begin and text in _DEEDS:
            dish, end = True, end + 1
            continue
        if (text in _STOP and end > begin) or (
            text in talk.known.verbs and not length and text not in talk.known.classes["dish"]
        ):
            break
        dish |= length > 0 or text in talk.known.classes["dish"]
        end += 1
    while end > begin and (
        talk.text[end - 1] in _TAIL or talk.text[end - 1] in ("and", "with", "the", "of", "a", "or", "called")
    ):  # fmt: skip
        end -= 1
    if end <= begin:
        return None
    if end - begin > 2 and talk.text[begin] in _MEALS - {"breakfast", "pudding"} and dish:
        begin += 1
    if end - begin == 1 and talk.text[begin] in _MEALS and end < talk.n and talk.words[end].breaks:
        after = named_at(talk, end)
        if after is not None and after.dish:
            return after
    text = " ".join(talk.text[begin:end]).replace(" percent", "%")
    return Title(text[0].upper() + text[1:], begin, end, dish)
