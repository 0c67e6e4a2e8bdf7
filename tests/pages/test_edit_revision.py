"""Writing why a revision was made, what changed, and what happened."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import MadePart, Revision

VALID = {"number": "1", "why": "it bound", "what": "guide 22 to 30 mm", "what_happened": ""}


@pytest.fixture(autouse=True)
def part(session: Session) -> None:
    session.add(MadePart(code="MP01", name="Scoop slide carriage"))
    session.commit()


def test_a_revision_is_added_and_its_words_are_shown(client: TestClient) -> None:
    answer = client.post("/workshop/MP01/revisions/new", data=VALID)
    assert answer.url.path == "/workshop/MP01/revisions/1"
    assert "guide 22 to 30 mm" in client.get("/workshop/MP01").text


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"number": ""}, "Number is needed."),
        ({"number": "0"}, "a whole number from 1"),
        ({"number": "1.5"}, "Number"),
        ({"why": "x" * 20_001}, "at most 20000"),
    ],
)
def test_bad_input_is_said_at_its_field(client: TestClient, change: dict[str, str], says: str) -> None:
    answer = client.post("/workshop/MP01/revisions/new", data={**VALID, **change})
    assert answer.status_code == 422
    assert says in answer.text
    assert "guide 22 to 30 mm" in answer.text


def test_a_number_is_given_once(client: TestClient) -> None:
    client.post("/workshop/MP01/revisions/new", data=VALID)
    answer = client.post("/workshop/MP01/revisions/new", data=VALID)
    assert answer.status_code == 422
    assert "has a revision r1 already" in answer.text


def test_what_happened_is_written_later(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP01/revisions/new", data=VALID)
    client.post(
        "/workshop/MP01/revisions/1",
        data={**VALID, "version": "1", "what_happened": "ran warm, stopped cold"},
    )
    assert session.exec(select(Revision.what_happened)).one() == "ran warm, stopped cold"


def test_the_second_of_two_tabs_is_told_and_loses_nothing(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP01/revisions/new", data=VALID)
    client.post("/workshop/MP01/revisions/1", data={**VALID, "version": "1", "why": "theirs"})
    answer = client.post("/workshop/MP01/revisions/1", data={**VALID, "version": "1", "why": "mine"})
    assert answer.status_code == 409
    assert "theirs" in answer.text
    assert ">\nmine</textarea>" in answer.text
    assert session.exec(select(Revision.why)).one() == "theirs"


@pytest.mark.parametrize("number", ["7", "9" * 30])
def test_a_revision_that_is_not_there_is_said_in_words(client: TestClient, number: str) -> None:
    answer = client.get(f"/workshop/MP01/revisions/{number}")
    assert answer.status_code == 404
    assert f"MP01 has no revision r{number}." in answer.text
