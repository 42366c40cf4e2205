"""``dataclass`` as the standard library has it, for half of what a class costs to define there.

The library compiles up to six functions for each class; of the 140 classes that a run on one recipe
imports this was a tenth of all it takes. Here only ``__init__`` is compiled, and the others are shared
functions over the fields. What the classes do, and ``fields``, ``replace`` and ``asdict`` of them, is
the same; ``tests/test_records.py`` holds both side by side.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, Field, FrozenInstanceError
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from dataclasses import dataclass as dataclass
else:

    def dataclass(
        cls: type | None = None, /, *, frozen: bool = False, slots: bool = False, eq: bool = True,
        unsafe_hash: bool = False,
    ) -> Any:  # fmt: skip
        """Make a class of its annotated fields; the arguments are those of the library."""

        def made(of: type) -> type:
            return _made(of, frozen, slots, eq, (frozen and eq) or unsafe_hash)

        return made if cls is None else made(cls)


class _ByFactory:
    """Stands in a signature for what a factory makes."""

    def __repr__(self) -> str:
        return "<factory>"


_MADE = _ByFactory()


def _made(cls: type, frozen: bool, slots: bool, eq: bool, hashed: bool) -> type:
    own = vars(cls)
    if cls.__doc__ is None:  # the library would ask for the signature, which takes a millisecond
        cls.__doc__ = f"{cls.__name__}({', '.join(own.get('__annotations__', ()))})"
    made: Any = dataclasses.dataclass(init=False, repr=False, eq=False, slots=slots)(cls)
    every = dataclasses.fields(made)
    _give(made, own, "__init__", _init(made, every, frozen))
    _give(made, own, "__repr__", _repr([f.name for f in every if f.repr]))
    if eq:
        compared = _values([f.name for f in every if f.compare])
        _give(made, own, "__eq__", _eq(compared))
        if own.get("__hash__") is None:  # also where the class says how it is compared
            made.__hash__ = _hash(compared) if hashed else None
    if frozen:
        made.__setattr__ = made.__delattr__ = _refuse
        if slots:
            _give(made, own, "__getstate__", _state)
            _give(made, own, "__setstate__", _restore)
    return made  # type: ignore[no-any-return]


def _give(made: type, own: Any, name: str, function: Any) -> None:
    """Set a method that the class does not define by itself."""
    if name not in own:
        function.__qualname__ = f"{made.__qualname__}.{name}"
        setattr(made, name, function)


def _init(made: Any, every: Sequence[Field[Any]], frozen: bool) -> Any:
    """``__init__``, the one function whose text depends on the fields."""
    known: dict[str, Any] = {"_factory": _MADE, "_set": object.__setattr__}
    told, body = [], []
    for f in every:
        name = value = f.name
        default = ""
        if f.default_factory is not MISSING:
            known[f"_make_{name}"], default = f.default_factory, "=_factory"
            value = (
                f"_make_{name}() if {name} is _factory else {name}" if f.init else f"_make_{name}()"
            )
        elif f.default is not MISSING:
            known[f"_default_{name}"], default = f.default, f"=_default_{name}"
            value = name if f.init else f"_default_{name}"
        elif not f.init:
            continue
        if f.init:
            told.append(name + default)
        body.append(f"_set(self, {name!r}, {value})" if frozen else f"self.{name} = {value}")
    if hasattr(made, "__post_init__"):
        body.append("self.__post_init__()")
    exec(f"def __init__(self, {', '.join(told)}):\n " + "\n ".join(body or ["pass"]), known)
    known["__init__"].__annotations__ = {f.name: f.type for f in every if f.init} | {"return": None}
    return known["__init__"]


def _values(names: Sequence[str]) -> Callable[[Any], tuple[Any, ...]]:
    """What gives the values of some fields, always as a tuple."""
    if len(names) > 1:
        return attrgetter(*names)
    return lambda thing: tuple(getattr(thing, name) for name in names)


def _repr(names: Sequence[str]) -> Any:
    @recursive_repr()
    def __repr__(self: Any) -> str:
        told = ", ".join(f"{name}={getattr(self, name)!r}" for name in names)
        return f"{type(self).__qualname__}({told})"

    return __repr__


def _eq(values: Callable[[Any], tuple[Any, ...]]) -> Any:
    def __eq__(self: Any, other: object) -> Any:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return values(self) == values(other)

    return __eq__


def _hash(values: Callable[[Any], tuple[Any, ...]]) -> Any:
    def __hash__(self: Any) -> int:
        return hash(values(self))

    return __hash__


def _refuse(self: Any, name: str, *value: Any) -> None:
    raise FrozenInstanceError(f"cannot {'assign to' if value else 'delete'} field {name!r}")


def _state(self: Any) -> list[Any]:
    return [getattr(self, f.name) for f in dataclasses.fields(self)]


def _restore(self: Any, state: list[Any]) -> None:
    for f, value in zip(dataclasses.fields(self), state, strict=True):
        object.__setattr__(self, f.name, value)
