"""What is wrong with a ``steelyard.toml`` that cannot be used, in the words of who wrote it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pipeline.near_names import near_names, offered

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column \d+|end of document)\)$")
_SETTING = re.compile(r"\s*([\w-]+)\s*=\s*(.*?)\s*(?:#.*)?$")
_TABLE = re.compile(r"\s*\[\s*([\w-]+)\.\s*(.+?)\s*\]\s*$")
_QUOTES = "\"'‘’‚‛“”„«»"
_COMMA = re.compile(r"[-+]?\d+,\d+")
_YES_NO = {
    "yes": "true",
    "on": "true",
    "no": "false",
    "off": "false",
    "true": "true",
    "false": "false",
}


@dataclass(frozen=True, slots=True)
class Fault:
    """Where and what: the line, None when unknown; why; and how to put it right, "" when unknown."""

    line: int | None
    why: str
    fix: str = ""


def toml_fault(text: str, said: str, kinds: Mapping[str, str]) -> Fault:
    """The fault of a text that is no TOML.

    Args:
        said: what the reader of TOML says, with its place.
        kinds: setting → ``float``, ``bool`` or ``str``.
    """
    found = _PLACE.search(said)
    lines = text.splitlines()
    no = int(found[1]) if found and found[1] else len(lines)
    written = lines[no - 1].strip() if 0 < no <= len(lines) else ""
    plain = f"{_PLACE.sub('', said)}: {written}" if written else said
    if table := _TABLE.match(written):
        return Fault(no, plain, f"put the name in quotes: [{table[1]}.{_quoted(table[2])}]")
    setting = _SETTING.match(written)
    if setting is None:
        return Fault(no, plain, 'write NAME = VALUE, such as profile = "eu", one a line')
    name, value = setting.groups()
    return Fault(no, plain, _written_right(name, value, kinds.get(name, "str")))


def _written_right(name: str, value: str, kind: str) -> str:
    if kind == "float":
        if _COMMA.fullmatch(value):
            return f"write {value.replace(',', '.')}, with a point"
        return f"write a plain number: {name} = 10.0"
    if kind == "bool":
        return f"write {name} = {_YES_NO.get(value.lower(), 'true')}"
    return f"put {value.strip(_QUOTES)} in quotes: {name} = {_quoted(value)}"


def _quoted(value: str) -> str:
    return json.dumps(value.strip(_QUOTES + " "), ensure_ascii=False)


def value_fault(text: str, faults: Iterable[tuple[str, str]], kinds: Mapping[str, str]) -> Fault:
    """The first of some settings that are not known or hold a value that cannot be.

    Args:
        faults: name and reason of each, names of tables with points between.
        kinds: as in ``toml_fault``.
    """
    name, why = next(iter(faults))
    last = name.rpartition(".")[2]
    at = (n for n, line in enumerate(text.splitlines(), start=1)
          if (m := _SETTING.match(line)) and m[1] == last)  # fmt: skip
    line = next(at, None)
    if last in kinds or name.startswith("creators."):
        return Fault(line, f"{name}: {why}")
    return Fault(line, f'there is no setting "{name}"', offered(near_names(last, kinds, 2)))
