"""YAML without its dangers: plain trees of text, with line numbers, within bounds.

The parser's events are turned into dicts, lists and text directly. Tags other than YAML's own are
refused, so are more nodes or deeper nesting than any recipe has, counted after aliases are
expanded. Scalars stay text: ``12.50`` keeps its rounding, ``no`` stays a word.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from pipeline.intake.model import RefusedError

MAX_NODES = 200_000
MAX_DEPTH = 40
_CORE = "tag:yaml.org,2002:"
_HARMLESS = frozenset({_CORE + t for t in ("str", "int", "float", "bool", "null", "seq", "map")})


class Text(str):
    """A scalar that knows where it stood; ``start`` and ``end`` are character offsets."""

    __slots__ = ("end", "line", "quoted", "start")
    line: int
    start: int
    end: int
    quoted: bool


class Mapping(dict[str, Any]):
    """A mapping that knows its line, where it ends, and whether it is in flow style."""

    __slots__ = ("end", "flow", "key_text", "line")
    line: int
    end: int
    flow: bool
    key_text: dict[str, Text]


class YamlRefusedError(RefusedError):
    """The text is no YAML, or YAML that is not read here, and where."""

    def __init__(self, code: str, mark: Any, **values: Any) -> None:
        super().__init__(code, source_line=None if mark is None else mark.line + 1, **values)


@dataclass(slots=True)
class _Open:
    node: Any
    anchor: str | None
    key: Text | None = None
    size: int = 1
    merges: list[Any] = field(default_factory=list)


def load_documents(text: str) -> list[Any]:
    """The documents of ``text`` as dicts, lists and ``Text``.

    Raises:
        YamlRefusedError: syntax error, foreign tag, or too much after aliases are expanded.
    """
    import yaml

    loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    builder = _Builder()
    try:
        for event in yaml.parse(text, Loader=loader):
            builder.take(event)
    except (yaml.YAMLError, RecursionError, ValueError, OverflowError) as fault:
        reasons = (getattr(fault, "context", None), getattr(fault, "problem", None))
        why = " ".join(filter(None, reasons)) or str(fault)
        mark = getattr(fault, "problem_mark", None)
        raise YamlRefusedError("yaml-invalid", mark, why=why) from None
    return builder.documents


class _Builder:
    """Documents from the parser's events, one after the other."""

    def __init__(self) -> None:
        self.documents: list[Any] = []
        self._open: list[_Open] = []
        self._anchors: dict[str, tuple[Any, int]] = {}
        self._total = 0

    def take(self, event: Any) -> None:
        """One event of the parser."""
        mark = event.start_mark
        kind = type(event).__name__
        tag = getattr(event, "tag", None)
        if tag is not None and tag not in ("!", "?") and tag not in _HARMLESS:
            raise YamlRefusedError("yaml-tag", mark, tag=tag[:60])
        if kind == "ScalarEvent":
            self._scalar(event, mark)
        elif kind in ("SequenceStartEvent", "MappingStartEvent"):
            self._begin(event, mark)
        elif kind in ("SequenceEndEvent", "MappingEndEvent"):
            self._end(event, mark)
        elif kind == "AliasEvent":
            if event.anchor not in self._anchors:
                raise YamlRefusedError("yaml-invalid/alias", mark, alias=event.anchor[:60])
            self._put(*self._anchors[event.anchor], mark)

    def _scalar(self, event: Any, mark: Any) -> None:
        node = Text(event.value)
        node.line = mark.line + 1
        node.start, node.end = mark.index, event.end_mark.index
        node.quoted = event.style in ("'", '"')
        if event.anchor:
            self._anchors[event.anchor] = (node, 1)
        self._put(node, 1, mark)

    def _begin(self, event: Any, mark: Any) -> None:
        if len(self._open) >= MAX_DEPTH:
            raise YamlRefusedError("yaml-too-deep", mark, levels=MAX_DEPTH)
        node: Any = []
        if type(event).__name__ == "MappingStartEvent":
            node = Mapping()
            node.line, node.flow, node.key_text = mark.line + 1, bool(event.flow_style), {}
            node.end = mark.index
        self._open.append(_Open(node, event.anchor))

    def _end(self, event: Any, mark: Any) -> None:
        done = self._open.pop()
        if isinstance(done.node, Mapping):
            done.node.end = event.end_mark.index
            for merged in done.merges:
                for source in merged if isinstance(merged, list) else [merged]:
                    for key, value in source.items() if isinstance(source, dict) else ():
                        done.node.setdefault(key, value)
        if done.anchor:
            self._anchors[done.anchor] = (done.node, done.size)
        self._put(done.node, done.size if not self._open else 1, mark)
        if self._open:
            self._open[-1].size += done.size - 1

    def _put(self, node: Any, size: int, mark: Any) -> None:
        """Put a finished node into what is open, or among the documents."""
        self._total += size
        if self._total > MAX_NODES:
            raise YamlRefusedError("yaml-bomb", mark, most=MAX_NODES)
        if not self._open:
            self.documents.append(node)
            return
        top = self._open[-1]
        top.size += size
        if isinstance(top.node, list):
            top.node.append(node)
        elif top.key is None:
            top.key = node if isinstance(node, Text) else _as_key(node, mark)
        else:
            key, top.key = top.key, None
            if key == "<<" and not key.quoted:
                top.merges.append(node)
            else:
                top.node[str(key)] = node
                top.node.key_text[str(key)] = key


def _as_key(node: Any, mark: Any) -> Text:
    key = Text("…")
    key.line, key.start, key.end, key.quoted = mark.line + 1, mark.index, mark.index, False
    return key


def is_null(value: object) -> bool:
    """True for nothing: None, or an unquoted empty scalar, ``~`` or ``null``."""
    if value is None:
        return True
    if isinstance(value, Text):
        return not value.quoted and value.strip() in ("", "~", "null", "Null", "NULL")
    return False
