"""Recipes in electronic mail (the letters are invented)."""

from email.message import EmailMessage
from pathlib import Path

import pytest

from pipeline.intake import read_collection
from pipeline.intake.reading import read_text
from pipeline.intake.text.mail import mail_body

_BODY = """Hi both,

250 g red lentils
2 tbsp olive oil
1 onion

Simmer it all, jalapeño on top. Serves 4. 360 kcal each.
"""
_HEAD = (
    "From: Ann <ann@post.example>\nTo: Bo\nDate: Fri, 24 Feb 2023 19:12:08 +0000\n"
    "Subject: Re: Fw: Lentil stew\nMIME-Version: 1.0\nContent-Type: text/plain; charset=utf-8\n"
    "Content-Transfer-Encoding: 8bit\n\n"
)


def _in_parts() -> bytes:
    message = EmailMessage()
    message["From"], message["Subject"] = "Ann <ann@post.example>", "Lentil stew"
    message.set_content(_BODY, cte="base64")
    message.add_alternative(f"<p>{_BODY}</p>", subtype="html")
    return message.as_bytes()


@pytest.mark.parametrize(
    "mail", [(_HEAD + _BODY).encode(), (_HEAD + _BODY).replace("\n", "\r\n").encode(), _in_parts()]
)
def test_the_body_of_a_mail_is_read_under_its_subject(tmp_path: Path, mail: bytes) -> None:
    (tmp_path / "letter.eml").write_bytes(mail)
    read = read_collection([tmp_path])
    assert read.recipe[["title", "servings"]].values.tolist() == [["Lentil stew", 4.0]]
    assert list(read.line["text"]) == ["250 g red lentils", "2 tbsp olive oil", "1 onion"]
    assert list(read.stated["amount"]) == [360.0]


def test_a_greeting_is_no_title_and_a_dish_may_stand_before_its_yield(tmp_path: Path) -> None:
    letter = "Hi Craig\n\nHere you go, they are both in the plan for next month.\n\nSpag bol for 20\n2 kg beef mince\n600 g onions\n637 Cal a bowl.\n"
    (tmp_path / "letter.eml").write_text(_HEAD.replace("Lentil stew", "training night") + letter)
    read = read_collection([tmp_path])
    assert read.recipe[["title", "servings"]].values.tolist() == [["Spag bol", 20.0]]


def test_lines_keep_their_numbers() -> None:
    text = _HEAD + _BODY
    body = mail_body(text, None)
    assert body is not None
    assert body[1].split("\n").index("1 onion") == text.split("\n").index("1 onion")


def test_an_encoding_that_there_is_not_costs_no_mail() -> None:
    body = mail_body((_HEAD + _BODY).replace("utf-8", "moon-8"), None)
    assert body is not None
    assert "250 g red lentils" in body[1]


@pytest.mark.parametrize(
    "text", ["Title: Dal\nFrom: Mum\n\n200 g lentils\n", "Serves: 4\nDal\n\n", ""]
)
def test_a_card_is_no_mail(text: str) -> None:
    assert mail_body(text, None) is None


def test_a_subject_that_names_nothing_is_no_title() -> None:
    text = (_HEAD + "Sea pie\n" + _BODY).replace("Lentil stew", "as promised")
    (recipe,) = read_text(text, "note.eml").recipes
    assert recipe.title == "Sea pie"
