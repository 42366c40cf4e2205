"""YAML without its dangers: plain trees of text, with line numbers, within bounds.

The parser's events are turned into dicts, lists and text directly. Tags other than YAML's own are
refused, so are more nodes or deeper nesting than any recipe has, counted after aliases are
expanded. Scalars stay text: ``12.50`` keeps its rounding, ``no`` stays a word.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

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


class YamlRefusedError(Exception):
    """The text is no YAML, or YAML that is not read here."""

    def __init__(self, code: str, what: str, why: str, line: int | None) -> None:
        super().__init__(what)
        self.code, self.what, self.why, self.line = code, what, why, line


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
    documents: list[Any] = []
    stack: list[_Open] = []
    anchors: dict[str, tuple[Any, int]] = {}
    total = 0

    def refuse(code: str, what: str, why: str, mark: Any) -> YamlRefusedError:
        return YamlRefusedError(code, what, why, mark.line + 1 if mark is not None else None)

    def put(node: Any, size: int, mark: Any) -> None:
        nonlocal total
        total += size
        if total > MAX_NODES:
            raise refuse(
                "yaml-bomb",
                "the YAML unfolds to more than a recipe collection can hold",
                f"more than {MAX_NODES:,} nodes once its aliases are expanded; it was not read",
                mark,
            )
        if not stack:
            documents.append(node)
            return
        top = stack[-1]
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

    try:
        event: Any
        for event in yaml.parse(text, Loader=loader):
            mark: Any = event.start_mark
            kind = type(event).__name__
            if kind in ("ScalarEvent", "SequenceStartEvent", "MappingStartEvent"):
                tag = event.tag
                if tag is not None and tag not in ("!", "?") and tag not in _HARMLESS:
                    raise refuse(
                        "yaml-tag",
                        f'the YAML holds the tag "{tag[:60]}"',
                        "tags can make a reader build objects; files with tags are not read",
                        mark,
                    )
            if kind == "ScalarEvent":
                node: Any = Text(event.value)
                node.line = mark.line + 1
                node.start, node.end = mark.index, event.end_mark.index
                node.quoted = event.style in ("'", '"')
                if event.anchor:
                    anchors[event.anchor] = (node, 1)
                put(node, 1, mark)
            elif kind in ("SequenceStartEvent", "MappingStartEvent"):
                if len(stack) >= MAX_DEPTH:
                    raise refuse(
                        "yaml-too-deep",
                        f"the YAML is nested deeper than {MAX_DEPTH} levels",
                        "no recipe is; it was not read",
                        mark,
                    )
                if kind == "MappingStartEvent":
                    node = Mapping()
                    node.line, node.flow, node.key_text = mark.line + 1, bool(event.flow_style), {}
                    node.end = mark.index
                else:
                    node = []
                stack.append(_Open(node, event.anchor))
            elif kind in ("SequenceEndEvent", "MappingEndEvent"):
                done = stack.pop()
                if isinstance(done.node, Mapping):
                    done.node.end = event.end_mark.index
                    for merged in done.merges:
                        for source in merged if isinstance(merged, list) else [merged]:
                            if isinstance(source, dict):
                                for key, value in source.items():
                                    done.node.setdefault(key, value)
                if done.anchor:
                    anchors[done.anchor] = (done.node, done.size)
                put(done.node, done.size if not stack else 1, mark)
                if stack:
                    stack[-1].size += done.size - 1
            elif kind == "AliasEvent":
                if event.anchor not in anchors:
                    raise refuse(
                        "yaml-invalid",
                        f'the alias "*{event.anchor[:60]}" names nothing before it',
                        "the file cannot be read as YAML",
                        mark,
                    )
                node, size = anchors[event.anchor]
                put(node, size, mark)
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None)
        said = " ".join(
            s for s in (getattr(fault, "context", None), getattr(fault, "problem", None)) if s
        )
        raise refuse(
            "yaml-invalid", "the file is not valid YAML", said or str(fault), mark
        ) from None
    except (RecursionError, ValueError, OverflowError) as fault:
        raise refuse("yaml-invalid", "the file is not valid YAML", str(fault), None) from None
    return documents


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
