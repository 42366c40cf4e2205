"""Classes of ``pipeline.records.dataclass`` beside those of the standard library."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from dataclasses import FrozenInstanceError, field, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline import records

SHAPES: list[dict[str, Any]] = [
    {},
    {"slots": True},
    {"frozen": True},
    {"frozen": True, "slots": True},
    {"slots": True, "unsafe_hash": True},
    {"eq": False},
]


def pair(shape: dict[str, Any]) -> list[Any]:
    """The same class made by both."""

    def plain() -> type:
        class Thing:
            """A thing."""

            name: str
            parts: tuple[int, ...] = ()
            noted: list[str] = field(default_factory=list, compare=False)
            hidden: float = field(default=0.5, repr=False, compare=False)
            own: int = field(init=False, default=7)
            made: dict[str, int] = field(init=False, default_factory=dict, compare=False)

        return Thing

    return [make(**shape)(plain()) for make in (dataclasses.dataclass, records.dataclass)]


@pytest.mark.parametrize("shape", SHAPES, ids=str)
@given(name=st.text(max_size=3), parts=st.tuples(st.integers(0, 2)), noted=st.lists(st.text()))
def test_both_make_the_same(shape: dict[str, Any], name: str, parts: Any, noted: Any) -> None:
    told = []
    for thing in pair(shape):
        one, other = thing(name, parts, noted), thing(name, hidden=1.0)
        told.append([
            repr(one), repr(other), one == other, one == thing(name, parts), one != 3,
            dataclasses.asdict(one), repr(replace(one, name="x")), thing.__match_args__,
            [f.name for f in dataclasses.fields(thing)], hasattr(one, "__dict__"),
            one.made is other.made, one.noted is noted, repr(copy.copy(one)),
            str(inspect.signature(thing)), thing.__hash__ is None,
        ])  # fmt: skip
        if thing.__hash__ is not None and shape.get("eq", True):
            told[-1].append(hash(one))
    assert told[0] == told[1]


@pytest.mark.parametrize("slots", [False, True])
def test_a_frozen_one_cannot_be_changed(slots: bool) -> None:
    for thing in pair({"frozen": True, "slots": slots}):
        one = thing("a")
        with pytest.raises(FrozenInstanceError, match="assign to field 'name'"):
            one.name = "b"
        with pytest.raises(FrozenInstanceError, match="delete field 'name'"):
            del one.name
        with pytest.raises(TypeError):
            thing()


@records.dataclass(frozen=True, slots=True)
class Sent:
    """At the top of a module, as what goes to another process has to be."""

    text: str
    count: int = 1
    length: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        object.__setattr__(self, "length", len(self.text))


@records.dataclass(slots=True)
class Keyed:
    """With a comparison and a hash of its own."""

    text: str
    other: int = 0

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Keyed) and self.text == other.text

    def __hash__(self) -> int:
        return hash(self.text)

    def __repr__(self) -> str:
        return self.text


def test_it_goes_to_another_process() -> None:
    one = Sent("abc")
    assert one.length == 3
    assert pickle.loads(pickle.dumps(one)) == one
    assert {one: 1}[Sent("abc")] == 1


def test_what_a_class_says_itself_stands() -> None:
    assert Keyed("a", 1) == Keyed("a", 2)
    assert len({Keyed("a", 1), Keyed("a", 2)}) == 1
    assert repr(Keyed("a")) == "a"


def test_one_that_holds_itself_can_be_shown() -> None:
    @records.dataclass
    class Node:
        inside: list[Any]

    node = Node([])
    node.inside.append(node)
    assert repr(node).endswith("Node(inside=[...])")


def test_an_unknown_argument_is_a_mistake() -> None:
    with pytest.raises(TypeError):
        records.dataclass(order=True)  # type: ignore[call-overload]
