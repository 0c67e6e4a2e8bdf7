"""Rails: added, fed by a supply of their own voltage, edited in two tabs, taken away."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.rail_edit import add_supply
from app.tables import Component, Rail, Supply
from tests.pages.sheet_text import message_at, words_of

FORM = {"code": "24", "name": "24 V coils", "volts": "24", "supply_id": "", "note": "", "version": ""}


@pytest.fixture
def supply(session: Session) -> Supply:
    supply = add_supply(session, "PS24", "Enclosed supply", 24.0, 3.0)
    session.commit()
    return supply


def rail(session: Session, code: str) -> Rail:
    session.expire_all()
    return session.exec(select(Rail).where(Rail.code == code)).one()


def test_a_rail_is_kept_with_its_supply(client: TestClient, session: Session, supply: Supply) -> None:
    form = {**FORM, "supply_id": str(supply.id)}
    assert client.post("/power/rails/new", data=form, follow_redirects=False).status_code == 303
    assert rail(session, "24").supply_id == supply.id


@pytest.mark.parametrize("volts", ["12", "6 V", "25.3"])
def test_a_supply_of_another_voltage_is_refused(
    client: TestClient, session: Session, supply: Supply, volts: str
) -> None:
    answer = client.post("/power/rails/new", data={**FORM, "volts": volts, "supply_id": str(supply.id)})
    assert answer.status_code == 422
    assert "That supply gives 24 V, the rail is" in message_at(answer.text, "supply_id")
    assert f'value="{volts}"' in answer.text
    assert session.exec(select(Rail).where(Rail.code == "24")).first() is None


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"code": ""}, "code", "Id is needed."),
        ({"code": "5l"}, "code", "Another rail has the id 5l."),
        ({"code": "new"}, "code", "stands for a form in an address"),
        ({"volts": "0"}, "volts", "over 0 V"),
        ({"volts": "24 mm"}, "volts", "a length"),
        ({"supply_id": "99"}, "supply_id", "one of those offered"),
        ({"supply_id": "x"}, "supply_id", "one of those offered"),
    ],
)
def test_a_field_that_is_wrong_says_so(
    client: TestClient, change: dict[str, str], field: str, message: str
) -> None:
    answer = client.post("/power/rails/new", data={**FORM, **change})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)


def test_the_second_of_two_tabs_is_told_and_sees_both(
    client: TestClient, session: Session, supply: Supply
) -> None:
    form = {**FORM, "supply_id": str(supply.id)}
    client.post("/power/rails/new", data=FORM, follow_redirects=False)
    version = str(rail(session, "24").version)
    client.post("/power/rails/24", data={**form, "version": version}, follow_redirects=False)
    told = client.post("/power/rails/24", data={**FORM, "name": "coils", "version": version})
    assert told.status_code == 409
    both = words_of(told.text, '<section class="conflict"', "</section>")
    assert "Supply differs – PS24 Enclosed supply" in both
    assert "Name differs coils 24 V coils" in both
    assert rail(session, "24").name == "24 V coils"


def test_a_rail_in_use_stays_and_an_unused_one_goes(client: TestClient, session: Session) -> None:
    drawing = len(session.exec(select(Component).where(Component.rail_id == rail(session, "6S").id)).all())
    assert f"{drawing} components draw from rail 6S" in client.post("/power/rails/6S/remove").text
    client.post("/power/rails/new", data=FORM, follow_redirects=False)
    client.post("/power/rails/24/remove", follow_redirects=False)
    assert session.exec(select(Rail).where(Rail.code == "24")).first() is None
    assert rail(session, "6S").volts == 6


def test_an_unknown_rail_is_answered_in_words(client: TestClient) -> None:
    answer = client.get("/power/rails/99")
    assert answer.status_code == 404
    assert "There is no rail 99 in this cockpit." in words_of(answer.text)
