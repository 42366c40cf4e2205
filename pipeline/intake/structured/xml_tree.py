"""XML of anybody's own tags as a plain tree, with the places of its texts, within bounds.

An element is an object: its text under its own name (a number with a ``unit`` as ``value``), its
attributes, its children under theirs; those of one name are a list. One without attributes and
children is its text, and so is running text with tags in it. Entities of the file's own are refused.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Any
from xml.sax.handler import ContentHandler  # nosec: defusedxml parses

from pipeline.intake.model import RefusedError
from pipeline.intake.structured.yaml_tree import MAX_DEPTH, MAX_NODES, Mapping, Text

_ATTRIBUTE = r"""\s+(?P<name>[^\s=]+)\s*=\s*(?:"(?P<double>[^"]*)"|'(?P<single>[^']*)')"""
_TAG = re.compile(rf"<[^\s/>]+(?:{re.sub(r'[?]P<[a-z]+>', '?:', _ATTRIBUTE)})*\s*/?>")


class XmlRefusedError(RefusedError):
    """The text is no XML, or XML that is not read here, and where."""


def load_xml(text: str) -> Any:
    """The root element of ``text`` as dicts, lists and ``Text``.

    >>> load_xml('<pot size="20 cm"><in much="2">eggs</in><in>salt</in></pot>')
    {'size': '20 cm', 'in': [{'in': 'eggs', 'much': '2'}, {'in': 'salt'}]}

    Raises:
        XmlRefusedError: not well-formed, entities of its own, or too much of it.
    """
    from xml.sax import SAXException, SAXParseException  # nosec: defusedxml parses

    import defusedxml
    from defusedxml.expatreader import create_parser

    parser = create_parser()
    builder = _Builder(text, parser)
    parser.setContentHandler(builder)
    try:
        parser.feed(text)
        parser.close()
    except defusedxml.DefusedXmlException as fault:
        raise XmlRefusedError("xml-entities", source_line=builder.line) from fault
    except SAXParseException as fault:
        line = fault.getLineNumber()
        raise XmlRefusedError("xml-invalid", source_line=line, why=fault.getMessage()) from None
    except (SAXException, ValueError, LookupError) as fault:
        raise XmlRefusedError("xml-invalid", source_line=None, why=str(fault)[:120]) from None
    return builder.root


@dataclass(slots=True)
class _Open:
    name: str
    at: int  # where its content begins
    line: int
    attributes: dict[str, Any]
    children: dict[str, Any] = field(default_factory=dict)
    texts: list[str] = field(default_factory=list)  # its own and those of what stands in it
    own: bool = False  # text of its own stands in it


class _Builder(ContentHandler):
    """A tree from the parser's events."""

    def __init__(self, text: str, parser: Any) -> None:
        super().__init__()
        self.root: Any = None
        self._text = text
        self._starts = list(accumulate((len(one) + 1 for one in text.split("\n")), initial=0))
        self._open: list[_Open] = []
        self._total = 0
        self._parser = parser

    @property
    def line(self) -> int:
        """1-based line that the parser is at."""
        return int(self._parser.getLineNumber() or 1)

    def startElement(self, name: str, attrs: Any) -> None:
        """An element begins."""
        self._total += 1 + len(attrs)
        if len(self._open) >= MAX_DEPTH or self._total > MAX_NODES:
            raise XmlRefusedError(
                "xml-too-much", source_line=self.line, levels=MAX_DEPTH, most=MAX_NODES
            )
        at = self._at()
        tag = _TAG.match(self._text, at)
        places = {
            one["name"]: one.span("single" if one["double"] is None else "double")
            for one in re.finditer(_ATTRIBUTE, tag[0] if tag else "")
        }
        held = {
            _plain(key): self._placed(value, *(at + to for to in places.get(key, (-at, -at))))
            for key, value in attrs.items() if not key.startswith("xmlns")
        }  # fmt: skip
        begin = tag.end() if tag else at
        self._open.append(_Open(_plain(name), begin, self.line, held))

    def characters(self, content: str) -> None:
        """Text of the element that is open."""
        self._open[-1].texts.append(content)
        self._open[-1].own = self._open[-1].own or bool(content.strip())

    def endElement(self, name: str) -> None:
        """An element ends."""
        done, at = self._open.pop(), self._at()
        said = "".join(done.texts).strip() if done.own else ""
        start = self._text.find(said, done.at, at)
        text = self._placed(said, start, start + len(said))
        held = done.attributes if done.own else {**done.attributes, **done.children}
        value: Any = text
        if held:
            own = "value" if said[:1].isdigit() and "unit" in held else done.name
            value = _object({own: text, **held} if said else held, done.line)
        if not self._open:
            self.root = value
            return
        self._open[-1].texts += done.texts
        _put(self._open[-1].children, done.name, value)

    def _placed(self, value: str, start: int, end: int) -> Text:
        """A text that knows its place; one that is not written as it reads has none."""
        text = Text(value.strip())
        inside = 0 <= start < end and self._text[start:end] == value
        text.line = bisect_right(self._starts, start) if inside else self.line
        text.start, text.end = (start, end) if inside else (0, 0)
        text.quoted = False
        return text

    def _at(self) -> int:
        return int(self._starts[self.line - 1] + self._parser.getColumnNumber())


def _plain(name: str) -> str:
    """A name without its namespace."""
    return name.rpartition(":")[2]


def _object(held: dict[str, Any], line: int) -> Mapping:
    made = Mapping(held)
    made.line, made.end, made.flow, made.key_text = line, 0, True, {}
    return made


def _put(children: dict[str, Any], name: str, value: Any) -> None:
    """Add an element to those of its name: objects, or texts where all are."""
    if name not in children:
        children[name] = value
        return
    held = children[name] if isinstance(children[name], list) else [children[name]]
    if isinstance(value, Mapping) and isinstance(held[0], Text):
        held = [_object({name: one}, one.line) for one in held]
    elif isinstance(value, Text) and isinstance(held[0], Mapping):
        value = _object({name: value}, value.line)
    held.append(value)
    children[name] = held
