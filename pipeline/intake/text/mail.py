"""Electronic mail (RFC 5322, MIME): the text of its body, as the standard library takes it out."""

from __future__ import annotations

import re

from pipeline.intake.patterns import pattern

_FIELDS = re.compile(r"(?:[A-Za-z][A-Za-z-]*:(?:[ \t].*)?\n(?:[ \t]+\S.*\n)*){2,}\n")
_ANSWERED = re.compile(r"^(?:\s*(?:re|fwd?|aw|wg)\s*:)+\s*", re.IGNORECASE)
_SENT = re.compile(r"^From:", re.MULTILINE | re.IGNORECASE)
_TOLD = re.compile(r"^(?:Subject|Message-ID|MIME-Version):", re.MULTILINE | re.IGNORECASE)


def mail_body(text: str, data: bytes | None) -> tuple[str, str, str] | None:
    """The subject of a mail, its body and the ending of its kind of text; None for any other text.

    The subject fits above the body, as a title would. Lines of a body that stands as it was written
    keep their numbers.

    Args:
        text: the file, decoded.
        data: its bytes, where they are at hand: parts of a mail may be in other encodings.
    """
    head = _FIELDS.match(text.replace("\r\n", "\n"))
    if head is None or not (_SENT.search(head[0]) and _TOLD.search(head[0])):
        return None
    from email import message_from_bytes, policy  # here: few texts are mails

    message = message_from_bytes(text.encode() if data is None else data, policy=policy.default)
    part = message.get_body(("plain", "html"))
    if part is None:
        return "", "", ".txt"
    try:
        body = str(part.get_content())
    except (LookupError, UnicodeError):  # names no encoding that there is
        body = str(part.get_payload())
    if part.get_content_subtype() == "html":
        return "", body, ".html"
    subject = _ANSWERED.sub("", str(message["Subject"] or ""))
    above = 1 if message.is_multipart() else head[0].count("\n") - 1
    return subject, f"{above * chr(10)}\n{_without_greeting(body)}", ".txt"


def _without_greeting(body: str) -> str:
    """A letter with the line that greets its reader left empty."""
    lines = body.split("\n")
    first = next((at for at, line in enumerate(lines) if line.strip()), None)
    if first is not None and pattern("greeting").match(lines[first].strip()):
        lines[first] = ""
    return "\n".join(lines)
