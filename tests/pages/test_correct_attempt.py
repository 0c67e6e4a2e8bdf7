"""Correcting an attempt, and taking one out of the log."""

from datetime import date
from html import unescape
from re import search

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.attempt_log import log_attempt
from app.tables import Attempt, MadePart

VALID = {
    "revision": "1",
    "outcome": "stopped",
    "cause": "looks",
    "what_happened": "seam across the horizon",
    "hours": "2",
    "hours_mark": "measured",
    "grams": "20",
    "grams_mark": "copied",
    "made_on": "2026-11-03",
}


@pytest.fixture(autouse=True)
def attempt(session: Session) -> None:
    part = MadePart(code="MP16", name="Pitch drum", hours=4.6)
    session.add(part)
    session.flush()
    log_attempt(
        session,
        part,
        revision_number=1,
        outcome="failed",
        cause="unknown",
        made_on=date(2026, 11, 2),
        hours=4.6,
    )
    session.commit()


def seen(client: TestClient) -> str:
    found = search(r'name="seen" value="(\w+)"', client.get("/workshop/MP16/attempts/1").text)
    assert found is not None
    return found[1]


def test_it_is_kept(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/MP16/attempts/1", data={**VALID, "seen": seen(client)})
    assert "Kept: r1 stopped, looks." in answer.text
    session.expire_all()
    attempt = session.exec(select(Attempt)).one()
    assert (attempt.hours, attempt.hours_mark, attempt.grams_mark) == (2.0, "measured", "copied")
    assert attempt.made_on == date(2026, 11, 3)


@pytest.mark.parametrize(
    ("change", "says"),
    [({"cause": ""}, "Why did it fail?"), ({"hours_mark": "guessed"}, "Source mark is one")],
)
def test_bad_input_is_said_at_its_field(client: TestClient, change: dict[str, str], says: str) -> None:
    answer = client.post("/workshop/MP16/attempts/1", data={**VALID, "seen": seen(client), **change})
    assert answer.status_code == 422
    assert says in answer.text


def test_the_second_of_two_tabs_is_told_and_loses_nothing(client: TestClient, session: Session) -> None:
    opened = seen(client)
    client.post("/workshop/MP16/attempts/1", data={**VALID, "seen": opened, "what_happened": "theirs"})
    answer = client.post("/workshop/MP16/attempts/1", data={**VALID, "seen": opened, "what_happened": "mine"})
    assert answer.status_code == 409
    assert "theirs" in answer.text
    assert 'value="mine"' in answer.text
    session.expire_all()
    assert session.exec(select(Attempt.what_happened)).one() == "theirs"
    again = search(r'name="seen" value="(\w+)"', unescape(answer.text))
    assert again is not None
    client.post("/workshop/MP16/attempts/1", data={**VALID, "seen": again[1], "what_happened": "mine"})
    session.expire_all()
    assert session.exec(select(Attempt.what_happened)).one() == "mine"


def test_one_logged_by_mistake_is_taken_out(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/MP16/attempts/1/remove")
    assert "was taken out of the log" in answer.text
    assert session.exec(select(Attempt)).all() == []


@pytest.mark.parametrize("address", ["/workshop/MP16/attempts/2", f"/workshop/MP16/attempts/{10**30}"])
def test_an_attempt_that_is_not_there_is_said_in_words(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 404
    assert "MP16 has no attempt" in answer.text
