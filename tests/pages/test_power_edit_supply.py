"""Editing a supply in two tabs, changing its voltage, taking it away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.rail_edit import add_rail, add_supply
from app.tables import Supply
from tests.pages.sheet_text import message_at, words_of

FORM = {
    "code": "PS01",
    "name": "Enclosed supply",
    "volts": "5",
    "rating_a": "10",
    "rating_mark": "listed",
    "load_share": "80",
    "note": "",
    "version": "1",
}


@pytest.fixture
def supply(session: Session) -> Supply:
    supply = add_supply(session, "PS01", "Enclosed supply", 5.0, 10.0, rating_mark="listed")
    session.commit()
    return supply


def kept(session: Session) -> Supply:
    session.expire_all()
    return session.exec(select(Supply).where(Supply.code == "PS01")).one()


def test_the_form_shows_what_is_kept(client: TestClient, supply: Supply) -> None:
    page = client.get("/power/supplies/PS01").text
    for name, value in (("volts", "5"), ("rating_a", "10"), ("load_share", "80"), ("version", "1")):
        assert f'name="{name}"' in page
        assert f'value="{value}"' in page


def test_a_change_is_kept(client: TestClient, session: Session, supply: Supply) -> None:
    form = {**FORM, "rating_a": "8,5", "rating_mark": "measured", "load_share": "70 %"}
    assert client.post("/power/supplies/PS01", data=form, follow_redirects=False).status_code == 303
    now = kept(session)
    assert (now.rating_a, now.rating_mark, now.load_share, now.version) == (8.5, "measured", 0.7, 2)


def test_the_second_of_two_tabs_is_told_sees_both_and_loses_nothing(
    client: TestClient, session: Session, supply: Supply
) -> None:
    client.post("/power/supplies/PS01", data={**FORM, "rating_a": "12"}, follow_redirects=False)
    told = client.post("/power/supplies/PS01", data={**FORM, "rating_a": "9", "note": "bench"})
    assert told.status_code == 409
    both = words_of(told.text, '<section class="conflict"', "</section>")
    assert "Rating, A differs 9.0 12.0" in both
    assert 'value="9"' in told.text
    assert "bench" in told.text
    assert kept(session).rating_a == 12
    again = {**FORM, "rating_a": "9", "note": "bench", "version": "2"}
    assert 'name="version" value="2"' in told.text
    assert client.post("/power/supplies/PS01", data=again, follow_redirects=False).status_code == 303
    assert (kept(session).rating_a, kept(session).note) == (9, "bench")


def test_a_wrong_unit_keeps_what_was_typed(client: TestClient, session: Session, supply: Supply) -> None:
    answer = client.post("/power/supplies/PS01", data={**FORM, "rating_a": "10 V"})
    assert answer.status_code == 422
    assert "10 V is a voltage" in message_at(answer.text, "rating_a")
    assert kept(session).rating_a == 10


def test_the_voltage_stays_while_it_feeds_rails_of_that_voltage(
    client: TestClient, session: Session, supply: Supply
) -> None:
    add_rail(session, "5X", "lights", 5.0, supply)
    session.commit()
    answer = client.post("/power/supplies/PS01", data={**FORM, "volts": "12"})
    assert answer.status_code == 422
    assert "It feeds rails of another voltage (5X is 5 V)" in message_at(answer.text, "volts")
    assert kept(session).volts == 5
    # a supply trimmed up a little still feeds it (within 5 %)
    trimmed = client.post("/power/supplies/PS01", data={**FORM, "volts": "5.1"}, follow_redirects=False)
    assert trimmed.status_code == 303


def test_a_supply_that_feeds_a_rail_stays(client: TestClient, session: Session, supply: Supply) -> None:
    add_rail(session, "5X", "lights", 5.0, supply)
    session.commit()
    answer = client.post("/power/supplies/PS01/remove")
    assert "PS01 feeds 1 rails" in answer.text
    assert kept(session).code == "PS01"


def test_a_supply_that_feeds_nothing_goes(client: TestClient, session: Session, supply: Supply) -> None:
    assert client.post("/power/supplies/PS01/remove", follow_redirects=False).status_code == 303
    assert session.exec(select(Supply)).first() is None


def test_an_unknown_supply_is_answered_in_words(client: TestClient) -> None:
    answer = client.get("/power/supplies/PS77")
    assert answer.status_code == 404
    assert "There is no supply PS77 in this cockpit." in words_of(answer.text)
