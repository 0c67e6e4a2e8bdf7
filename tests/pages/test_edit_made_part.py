"""Editing a made part, and removing one that was entered by mistake."""

from datetime import date

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.attempt_log import ensure_revision, log_attempt
from app.tables import MadePart

VALID = {
    "version": "1",
    "code": "MP07",
    "name": "Caution light box",
    "panel": "",
    "material": "tough white",
    "hours": "6,8",
    "grams": "96",
    "figures_mark": "measured",
    "approved": "6",
    "installed": "4",
    "note": "sleeve",
}


@pytest.fixture(autouse=True)
def part(session: Session) -> None:
    part = MadePart(code="MP07", name="Light box")
    session.add(part)
    session.flush()
    for number in (4, 6):
        ensure_revision(session, part, number)
    session.commit()


def kept(session: Session) -> MadePart:
    session.expire_all()
    return session.exec(select(MadePart)).one()


def test_it_is_kept(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/MP07/edit", data=VALID)
    assert "MP07 was kept." in answer.text
    part = kept(session)
    assert (part.approved_revision, part.installed_revision, part.hours) == (6, 4, 6.8)
    assert (part.figures_mark, part.version) == ("measured", 2)


def test_a_revision_that_is_not_there_can_be_neither_approved_nor_installed(client: TestClient) -> None:
    answer = client.post("/workshop/MP07/edit", data={**VALID, "installed": "5"})
    assert answer.status_code == 422
    assert "Installed revision is one of those offered" in answer.text


def test_the_second_of_two_tabs_is_told_and_loses_nothing(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP07/edit", data={**VALID, "note": "theirs"})
    answer = client.post("/workshop/MP07/edit", data={**VALID, "note": "mine"})
    assert answer.status_code == 409
    assert "theirs" in answer.text
    assert 'value="mine"' in answer.text
    assert 'name="version" value="2"' in answer.text
    assert kept(session).note == "theirs"
    client.post("/workshop/MP07/edit", data={**VALID, "note": "mine", "version": "2"})
    assert kept(session).note == "mine"


def test_one_without_a_history_is_removed(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/MP07/remove")
    assert "MP07 Light box was removed." in answer.text
    assert session.exec(select(MadePart)).all() == []


def test_one_with_a_history_stays(client: TestClient, session: Session) -> None:
    log_attempt(session, kept(session), revision_number=6, outcome="good", made_on=date(2026, 11, 2))
    session.commit()
    answer = client.post("/workshop/MP07/remove")
    assert "a part with a history stays" in answer.text
    assert kept(session).code == "MP07"
