"""Does a food's state fit what the line says: answered, contradicted, or the ordinary meaning."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from pipeline.match.columns import Meaning
from pipeline.resources import word_lists

_LISTS = {name: frozenset(own) for name, own in word_lists("match_words.csv").items()}
COOKED, FAT_WORDS = _LISTS["state_cooked"], _LISTS["state_fat"]
_TELLING, _SOFT = _LISTS["state_telling"] | COOKED, _LISTS["state_soft"]
_KEPT, _UNKEPT, _PACKED, _DRY_HEAT = (
    _LISTS[f"state_{name}"] for name in ("kept", "unkept", "packed", "dry_heat")
)
#: The same thing said of a cut by the cook and by the table.
SAME = {"fat_trimmed": "lean", "jarred": "canned", "bottled": "canned"}

_NONE: frozenset[str] = frozenset()
_UNCOOKED = frozenset({"raw", "dry"})
_PLAIN = _UNKEPT | {"dry"}
_DRY = frozenset({"dry", "dried"})
#: States of one kind: said of a row but not of the line, they are what the ordinary row says.
DIMENSIONS = (
    frozenset({"skin_on", "skinless"}),
    frozenset({"bone_in", "boneless"}),
    frozenset({"in_oil", "in_water", "in_brine", "in_juice", "in_syrup"}),
)
_ANY_DIMENSION = frozenset().union(*DIMENSIONS)
#: What excludes what.
CONTRARY = {
    "skinless": "skin_on", "skin_on": "skinless", "sweetened": "unsweetened",
    "unsweetened": "sweetened", "in_oil": "in_water", "in_water": "in_oil",
    "in_juice": "in_syrup", "in_syrup": "in_juice", "undrained": "drained", "drained": "undrained",
}  # fmt: skip


class StateFit(NamedTuple):
    """How a candidate's states fit the line's; counts, small ones shared out below 1."""

    answered: float = 0.0  # states the line says and the food shows
    contradicted: float = 0.0  # states the line says and the food shows the contrary of
    unanswered: float = 0.0  # states the line says and nothing of the food answers
    cooked_unasked: float = 0.0  # 1 when the food is cooked and nobody said so
    kept_unasked: float = 0.0  # ways of keeping (dried, canned, juice ...) that nobody said
    kind_unasked: float = 0.0  # kinds (with skin, in oil ...) that nobody said
    ordinary: float = 0.0  # 1 for the row meant when nothing is said, below 0 for one that is not


#: The states of a line that a fit depends on; of others ("rinsed") it has the same.
_WEIGHED = _TELLING | SAME.keys() | _PACKED


@lru_cache(maxsize=4096)
def weighed(said: frozenset[str]) -> frozenset[str]:
    """The states of a line that ``state_fit`` looks at."""
    return said & _WEIGHED


@lru_cache(maxsize=4096)
def _asked(said: frozenset[str]) -> frozenset[str]:
    """The states of a line that make another food, each by the word the tables use."""
    asked = {SAME.get(s, s) for s in said if s in _TELLING or s in SAME}
    if asked & {"skinless", "skin_on"}:  # the bone changes the weight, not the flesh
        asked -= {"boneless", "bone_in"}
    return frozenset(asked)


@lru_cache(maxsize=4096)
def _offered(states: frozenset[str]) -> frozenset[str]:
    """A food's states, the cook's words for them and the tables'."""
    return frozenset(SAME.get(s, s) for s in states) | states


def sold_otherwise(said: frozenset[str], facet_states: frozenset[str]) -> bool:
    """Whether a line asks for a food out of a tin or a jar, and the table's is fresh or frozen.

    Args:
        said: canonical states of the line, that of a container ("1 jar") among them.
        facet_states: states that the table's own name of the food says.
    """
    return (
        not _PACKED.isdisjoint(said)
        and not _UNKEPT.isdisjoint(facet_states)
        and _KEPT.isdisjoint(facet_states)
        and COOKED.isdisjoint(facet_states)
    )


def state_fit(
    said: frozenset[str],
    facet_states: frozenset[str],
    meaning: Meaning | None = None,
    *,
    fully_said: bool = True,
) -> StateFit:
    """How a candidate's states fit the line's.

    Args:
        said: canonical states of the line.
        facet_states: states that the table's own name of the food says.
        meaning: the row of the words files that proposes the food, if one does.
        fully_said: the line says every word of the name; a name only alike proposes a food, but
            does not make it the ordinary one.
    """
    if meaning is not None and meaning.lacking:
        return StateFit(ordinary=1.0)
    asked = _asked(said)
    offered = _offered(meaning.states if meaning is not None else facet_states)
    if sold_otherwise(said, facet_states):  # the row of a food that stands in for the tinned one
        offered -= {"canned"}
    shown = offered | facet_states
    elsewhere, usual = (meaning.elsewhere, meaning.usual) if meaning is not None else (_NONE, _NONE)
    yes = no = open_ = cooked = kept = kind = 0.0
    for state in asked:
        if state in offered:
            yes += 1.0
        elif state in shown:  # a row lists its own states; the table's words count less then
            yes += 0.9 if meaning is None else 0.4
        else:
            also, against, left = _unlike(state, shown, elsewhere)
            yes, no, open_ = yes + also, no + against, open_ + left
    if meaning is None or not (meaning.default and fully_said):
        cooked = float(bool(shown & COOKED and not asked & COOKED and not shown & _UNCOOKED))
        if "cooked" in asked and "cooked" not in offered:  # one way of cooking among several
            open_ += 0.6 if "fried" in offered else 0.2
        kept = float(len((shown & _KEPT) - asked - usual))
        kind = _kinds_unasked(shown, asked, usual)
    if meaning is None or not fully_said:
        ordinary = 0.3 if shown & {"raw"} or not shown & COOKED else 0.0
    elif meaning.default:
        ordinary = 0.0 if no >= 0.8 and asked & elsewhere else 1.0
    else:
        ordinary = 0.6 if yes >= 0.8 else -0.6
    return StateFit(
        min(yes, 2.0), min(no, 2.0), min(open_, 2.0), cooked, min(kept, 2.0), min(kind, 2.0),
        ordinary,
    )  # fmt: skip


def _unlike(
    state: str, shown: frozenset[str], elsewhere: frozenset[str]
) -> tuple[float, float, float]:
    """How far a state that a food does not show is answered, contradicted and left open by it."""
    toasted = state == "toasted"
    group = _DRY_HEAT if toasted else COOKED if state in COOKED else frozenset({state})
    if CONTRARY.get(state) in shown or (state == "fresh" and not _DRY.isdisjoint(shown)):
        return 0.0, 1.0, 0.0
    if group & shown:
        return 0.8, 0.0, 0.0
    boiled = shown & COOKED and not shown & _UNCOOKED  # or else with water
    if ((state in _PLAIN or toasted) and boiled) or (
        state in COOKED and shown & _UNCOOKED and not toasted
    ):
        return 0.0, 1.0, 0.0
    if group & elsewhere:
        return 0.0, 0.8, 0.0
    unanswered = state not in _SOFT or (state == "canned" and bool(shown & _UNKEPT))
    return 0.0, 0.0, float(unanswered)


def _kinds_unasked(shown: frozenset[str], asked: frozenset[str], usual: frozenset[str]) -> float:
    """How many kinds (with skin, in oil ...) a food shows that nobody asked for."""
    if _ANY_DIMENSION.isdisjoint(shown):
        return 0.0
    return float(
        sum(
            bool(shown & kind) and not asked & kind and not shown & kind & usual
            for kind in DIMENSIONS
        )
    )
