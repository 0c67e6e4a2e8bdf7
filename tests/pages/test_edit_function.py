"""Editing a function, and two tabs that save one."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.tables import Candidate, Component, Function, PinUse
from tests.pages.cockpit_rows import board_with
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at, words_of

EDIT = "/functions/F001/edit"


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    board_with(session, "Crossfeed\tselector\trot\t4", "Oil lamp\tlight\tled")


def kept(session: Session, code: str = "F001") -> Function:
    session.expire_all()
    return session.exec(select(Function).where(Function.code == code)).one()


def chosen(session: Session) -> str | None:
    return session.exec(
        select(Component.code)
        .join(Candidate, col(Candidate.component_id) == Component.id)
        .where(Candidate.function_id == 1, Candidate.state == "chosen")
    ).first()


def edit(client: TestClient, **changes: str) -> dict[str, str]:
    """The form as it is sent with these entries changed."""
    return {**fields_of(client.get(EDIT).text), **changes}


def test_the_form_holds_what_is_kept_and_sent_back_changes_nothing(
    client: TestClient, session: Session
) -> None:
    before = kept(session).model_dump(exclude={"version"})
    assert client.post(EDIT, data=edit(client)).status_code == 200
    assert kept(session).model_dump(exclude={"version"}) == before


def test_what_was_changed_is_kept(client: TestClient, session: Session) -> None:
    changes = {
        "name": "Fuel quantity",
        "kind": "gauge",
        "range_text": "0-6,5 bar",
        "low": "0",
        "high": "6,5",
        "unit": "Bar",
        "range_mark": "copied",
        "is_endless": "yes",
        "colour": "amber",
        "signal": "fuel.x",
        "note": "from the handbook",
    }
    client.post(EDIT, data=edit(client, **changes))
    function = kept(session)
    assert (function.name, function.kind, function.low, function.high) == ("Fuel quantity", "needle", 0, 6.5)
    assert (function.unit, function.range_mark, function.is_endless) == ("bar", "copied", True)
    assert (function.colour, function.signal, function.note) == ("amber", "fuel.x", "from the handbook")
    assert function.version > 1


def test_the_entries_are_read_from_the_range_again_when_asked(client: TestClient, session: Session) -> None:
    client.post(EDIT, data=edit(client, range_text="-20 to 140 C, 5 positions", low="7", read_range="yes"))
    function = kept(session)
    assert (function.low, function.high, function.unit, function.positions) == (-20, 140, "°C", 5)


def test_more_positions_take_more_pins_at_once(client: TestClient, session: Session) -> None:
    client.post(EDIT, data=edit(client, positions="6"))
    uses = session.exec(select(PinUse).where(PinUse.function_id == 1)).all()
    assert len(uses) == 6


def test_the_wiring_text_changes_no_choice_and_the_sheet_says_so(
    client: TestClient, session: Session
) -> None:
    answer = client.post(EDIT, data=edit(client, wiring_text="lad n=4"))
    assert kept(session).wiring_text == "lad n=4"
    assert chosen(session) == "rot"
    assert "The wiring as typed says lad, rot is chosen: the text changes no choice." in words_of(answer.text)
    answer = client.post(EDIT, data=edit(client, wiring_text="magic"))
    assert chosen(session) == "rot"
    assert "The wiring as typed, 'magic', is no component of the list, rot is chosen." in words_of(
        answer.text
    )
    answer = client.post(EDIT, data=edit(client, wiring_text="ROT n=4"))
    assert "The wiring as typed says" not in words_of(answer.text)


def test_the_second_of_two_tabs_sees_both_versions_and_its_second_save_decides(
    client: TestClient, session: Session
) -> None:
    first = second = edit(client)
    client.post(EDIT, data={**first, "name": "Cross feed", "positions": "5", "is_endless": "yes"})
    seen = kept(session).version
    answer = client.post(EDIT, data={**second, "name": "Crossfeed valve", "low": "1,5", "high": "2"})
    assert answer.status_code == 409
    both = words_of(answer.text, '<section class="conflict"', "</section>")
    assert "Name differs Crossfeed valve Cross feed" in both
    assert "Low differs 1.5 –" in both
    assert "Endless differs no yes" in both
    assert "Positions differs 4 5" in both
    assert "Kind selector selector" in both
    fields = fields_of(answer.text)
    assert (fields["name"], fields["low"], fields["version"]) == ("Crossfeed valve", "1,5", str(seen))
    assert read_sheet(answer.text).troubles == []
    assert (kept(session).name, kept(session).version) == ("Cross feed", seen)
    client.post(EDIT, data=fields)
    assert (kept(session).name, kept(session).low, kept(session).positions) == ("Crossfeed valve", 1.5, 4)
    assert len(session.exec(select(PinUse).where(PinUse.function_id == 1)).all()) == 4


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("code", "", "Id is needed."),
        ("code", "f002", "Another function has the id f002."),
        ("code", "F/1", "Id may hold letters"),
        ("name", "", "Name is needed."),
        ("name", "x" * 301, "Name has 301 characters; at most 300 are kept."),
        ("kind", "", "Kind is needed."),
        ("kind", "k" * 61, "at most 60 are kept"),
        ("positions", "0", "Positions is a whole number from 1 to 100; 0 is not."),
        ("positions", "-4", "below zero"),
        ("positions", "4 V", "a voltage"),
        ("low", "nan", "Low is a number without its unit; 'nan' is not."),
        ("low", "5 kg", "Low is a number without its unit; '5 kg' is not."),
        ("high", "1" + "0" * 15, "High is at most 1,000,000,000,000"),
        ("high", "3 1/0", "High is a number"),
        ("unit", "u" * 25, "at most 24 are kept"),
        ("colour", "c" * 61, "at most 60 are kept"),
        ("note", "n" * 20_001, "at most 20000 are kept"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    before = kept(session).version
    answer = client.post(EDIT, data=edit(client, **{field: value, "signal": "typed.before"}))
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    fields = fields_of(answer.text)
    assert (fields[field], fields["signal"]) == (value, "typed.before")
    assert kept(session).version == before


@pytest.mark.parametrize(("low", "high"), [("5", "5"), ("7", "5")])
def test_a_high_end_that_is_not_above_the_low_one_is_refused(
    client: TestClient, session: Session, low: str, high: str
) -> None:
    answer = client.post(EDIT, data=edit(client, low=low, high=high))
    assert message_at(answer.text, "high") == f"The high end, {high}, is not above the low end, {low}."


@pytest.mark.parametrize("code", ["Ü1", "f-1.b"])
def test_a_new_id_leads_to_its_new_address(client: TestClient, session: Session, code: str) -> None:
    answer = client.post(EDIT, data=edit(client, code=code))
    assert answer.status_code == 200
    assert f"{code} Crossfeed" in words_of(answer.text)
    assert client.get("/functions/F001").status_code == 404


def test_a_function_that_is_not_there_says_so(client: TestClient) -> None:
    answer = client.get("/functions/F999")
    assert answer.status_code == 404
    assert "There is no function F999 in this cockpit." in words_of(answer.text)


def test_an_unknown_figure_stands_as_not_read_on_the_sheet(client: TestClient) -> None:
    words = words_of(client.get("/functions/F002").text)
    assert "Low not read High not read" in words
    assert "Signal not entered" in words


def test_a_function_that_no_check_looks_at_is_not_called_fine(client: TestClient) -> None:
    client.post("/functions/F001/board", data={"board": ""})
    side = words_of(client.get("/functions/F001").text, "<h2>What stops this function</h2>", "</section>")
    assert side.startswith("What stops this function Cannot tell: no check looks at it yet")


def test_a_board_is_chosen_on_the_sheet_and_left_again(client: TestClient, session: Session) -> None:
    assert fields_of(client.get("/functions/F001").text, "/functions/F001/board") == {"board": "BD01"}
    client.post("/functions/F001/board", data={"board": ""})
    assert kept(session).board_id is None
    assert session.exec(select(PinUse).where(PinUse.function_id == 1)).all() == []
    client.post("/functions/F001/board", data={"board": "BD01"})
    assert len(session.exec(select(PinUse).where(PinUse.function_id == 1)).all()) == 4
    refused = client.post("/functions/F001/board", data={"board": "BD99"})
    assert refused.status_code == 422
    assert message_at(refused.text, "board") == "There is no board BD99 in this cockpit."
