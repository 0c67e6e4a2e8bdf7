"""Adding a supply: a valid form, with one change each."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Supply
from tests.pages.sheet_text import message_at, words_of

VALID = {
    "code": "PS01",
    "name": "Enclosed supply 5 V 10 A",
    "volts": "5",
    "rating_a": "10 A",
    "rating_mark": "listed",
    "load_share": "80",
    "note": "",
    "version": "",
}


def test_a_valid_supply_is_kept(client: TestClient, session: Session) -> None:
    answer = client.post("/power/supplies/new", data=VALID, follow_redirects=False)
    assert answer.status_code == 303
    kept = session.exec(select(Supply)).one()
    assert (kept.code, kept.volts, kept.rating_a, kept.rating_mark) == ("PS01", 5, 10, "listed")
    assert kept.load_share == 0.8
    words = words_of(client.get("/power").text)
    assert "PS01 Enclosed supply 5 V 10 A" in words
    assert "of which 80 % may be used" in words


def test_the_form_suggests_the_next_id(client: TestClient) -> None:
    client.post("/power/supplies/new", data=VALID, follow_redirects=False)
    assert 'value="PS02"' in client.get("/power/supplies/new").text


def test_a_rating_may_be_unknown_and_is_read_in_milliamperes(client: TestClient, session: Session) -> None:
    client.post("/power/supplies/new", data={**VALID, "rating_a": ""}, follow_redirects=False)
    client.post("/power/supplies/new", data={**VALID, "code": "PS02", "rating_a": "2500 mA"})
    kept = {supply.code: supply.rating_a for supply in session.exec(select(Supply)).all()}
    assert kept == {"PS01": None, "PS02": 2.5}
    assert "rating not entered" in words_of(client.get("/power").text)


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"code": ""}, "code", "Id is needed."),
        ({"code": "new"}, "code", "stands for a form in an address"),
        ({"name": ""}, "name", "Name is needed."),
        ({"volts": ""}, "volts", "Voltage is needed."),
        ({"volts": "0"}, "volts", "over 0 V"),
        ({"volts": "5 A"}, "volts", "a current"),
        ({"rating_a": "10 V"}, "rating_a", "a voltage"),
        ({"rating_a": "0"}, "rating_a", "over 0 A"),
        ({"rating_a": "-5"}, "rating_a", "below zero"),
        ({"rating_mark": "sure"}, "rating_mark", "one of those offered"),
        ({"load_share": ""}, "load_share", "is needed"),
        ({"load_share": "0"}, "load_share", "over 0 and at most 100 %"),
    ],
)
def test_a_field_that_is_wrong_says_so_and_keeps_what_was_typed(
    client: TestClient, session: Session, change: dict[str, str], field: str, message: str
) -> None:
    answer = client.post("/power/supplies/new", data={**VALID, **change}, follow_redirects=False)
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    name, value = next(iter(change.items()))
    assert name == "rating_mark" or f'value="{value}"' in answer.text
    assert session.exec(select(Supply)).first() is None
    assert client.get("/power").status_code == 200


def test_an_absurd_rating_is_asked_about_and_kept_when_sent_again(
    client: TestClient, session: Session
) -> None:
    asked = client.post("/power/supplies/new", data={**VALID, "rating_a": "800 A"}, follow_redirects=False)
    assert asked.status_code == 422
    assert "800 A is more than 100 A" in message_at(asked.text, "rating_a")
    assert '<input type="hidden" name="sure-rating_a" value="800 A">' in asked.text
    sure = {**VALID, "rating_a": "800 A", "sure-rating_a": "800 A"}
    assert client.post("/power/supplies/new", data=sure, follow_redirects=False).status_code == 303
    assert session.exec(select(Supply)).one().rating_a == 800


def test_an_id_is_given_once(client: TestClient) -> None:
    client.post("/power/supplies/new", data=VALID, follow_redirects=False)
    again = client.post("/power/supplies/new", data={**VALID, "code": "ps01"}, follow_redirects=False)
    assert again.status_code == 422
    assert "Another supply has the id ps01." in message_at(again.text, "code")
