"""Adding a made part to the workshop."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import MadePart, Panel

VALID = {
    "code": "MP01",
    "name": "Scoop slide carriage",
    "panel": "P05",
    "material": "tough",
    "hours": "3 h 30 min",
    "grams": "38",
    "figures_mark": "assumed",
    "note": "",
}


@pytest.fixture(autouse=True)
def panel(session: Session) -> None:
    session.add(Panel(code="P05", name="Scoop and drop pedestal"))
    session.commit()


def test_it_is_kept_and_its_sheet_opens(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/new", data=VALID)
    assert answer.url.path == "/workshop/MP01"
    assert "MP01 Scoop slide carriage was added." in answer.text
    part = session.exec(select(MadePart)).one()
    assert (part.hours, part.grams, part.figures_mark) == (3.5, 38.0, "assumed")


@pytest.mark.parametrize(("typed", "hours"), [("3,5", 3.5), ("90 min", 1.5), ("", None)])
def test_hours_are_read_as_a_person_types_them(
    client: TestClient, session: Session, typed: str, hours: float | None
) -> None:
    client.post("/workshop/new", data={**VALID, "hours": typed})
    assert session.exec(select(MadePart.hours)).one() == hours


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"hours": "250 mV"}, "Hours of one print is wanted"),
        ({"hours": "-1"}, "cannot be below zero"),
        ({"hours": "400"}, "Save again to keep it."),
        ({"grams": "3 1/0 g"}, "divides by zero"),
        ({"name": " "}, "Name is needed."),
        ({"code": "M P"}, "Id may hold"),
        ({"code": "log"}, "stands for a form in an address"),
        ({"panel": "P99"}, "one of those offered"),
    ],
)
def test_bad_input_is_said_at_its_field_and_what_was_typed_stays(
    client: TestClient, session: Session, change: dict[str, str], says: str
) -> None:
    answer = client.post("/workshop/new", data={**VALID, **change})
    assert answer.status_code == 422
    assert says in answer.text
    assert 'value="Scoop slide carriage"' in answer.text or "name" in change
    assert session.exec(select(MadePart)).all() == []


def test_an_absurd_figure_is_asked_about_once(client: TestClient, session: Session) -> None:
    asked = client.post("/workshop/new", data={**VALID, "hours": "400"})
    assert 'name="sure-hours" value="400"' in asked.text
    client.post("/workshop/new", data={**VALID, "hours": "400", "sure-hours": "400"})
    assert session.exec(select(MadePart.hours)).one() == 400.0


def test_an_id_that_is_taken_is_refused_whatever_its_case(client: TestClient) -> None:
    client.post("/workshop/new", data=VALID)
    answer = client.post("/workshop/new", data={**VALID, "code": "mp01"})
    assert answer.status_code == 422
    assert "Another made part has the id mp01." in answer.text


@pytest.mark.parametrize("name", ["<b onclick=x>bold</b>", "ש" * 300, "needle 🛩"])
def test_a_name_is_shown_as_text_everywhere(client: TestClient, name: str) -> None:
    client.post("/workshop/new", data={**VALID, "name": name})
    for address in ("/workshop", "/workshop/MP01", "/workshop/log", "/workshop/MP01/log"):
        text = client.get(address).text
        assert "<b onclick" not in text
        assert name.replace("<", "&lt;").replace(">", "&gt;") in text


def test_the_form_suggests_the_next_id(client: TestClient) -> None:
    client.post("/workshop/new", data=VALID)
    assert 'value="MP02"' in client.get("/workshop/new").text


def test_an_empty_workshop_says_what_goes_here(client: TestClient) -> None:
    text = client.get("/workshop").text
    assert "Made parts and every attempt at them" in text
    assert 'href="/workshop/new"' in text


def test_the_workshop_can_be_kept_to_one_panel(client: TestClient) -> None:
    client.post("/workshop/new", data=VALID)
    client.post("/workshop/new", data={**VALID, "code": "MP37", "name": "Wire comb", "panel": ""})
    assert "Wire comb" in client.get("/workshop").text
    assert "Wire comb" not in client.get("/workshop?panel=P05").text
    assert "Scoop slide" not in client.get("/workshop", params={"panel": "no panel of its own"}).text


def test_cautions_end_with_who_decides(client: TestClient) -> None:
    client.post("/workshop/new", data=VALID)
    for address in ("/workshop", "/workshop/MP01", "/workshop/MP01/log"):
        text = client.get(address).text
        assert text.count("Who decides:") == 2
        assert "Unattended printing is a fire risk" in text
