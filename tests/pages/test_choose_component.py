"""Weighing, choosing and rejecting components for a function."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.tables import Candidate, Component, PinUse
from tests.pages.cockpit_rows import board_with
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at, words_of

VALID = {"component": "gs4", "state": "chosen", "reason": "no dead band at the low end"}
ADDRESS = "/functions/F001/candidates"


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    board_with(session, "Airspeed\tneedle\t")


def candidates(session: Session) -> dict[str, tuple[str, str]]:
    session.expire_all()
    return {
        code: (state, reason)
        for code, state, reason in session.exec(
            select(Component.code, Candidate.state, Candidate.reason)
            .join(Candidate, col(Candidate.component_id) == Component.id)
            .order_by(col(Candidate.id))
        ).all()
    }


def pins(session: Session) -> int:
    return len(session.exec(select(PinUse).where(PinUse.function_id == 1)).all())


def test_one_is_chosen_with_its_reason_and_takes_its_pins(client: TestClient, session: Session) -> None:
    answer = client.post(ADDRESS, data=VALID)
    assert candidates(session) == {"gs4": ("chosen", "no dead band at the low end")}
    assert pins(session) == 4  # the gauge stepper on four pins (scenario section 4, wiring words)
    words = words_of(answer.text, "<h2>Candidates</h2>", "</table>")
    assert "chosen no dead band at the low end 4" in words


def test_those_that_suit_the_kind_are_offered_first(client: TestClient) -> None:
    page = client.get("/functions/F001").text
    suiting = words_of(page, '<optgroup label="Suit this kind"', "</optgroup>")
    others = words_of(page, '<optgroup label="Others"', "</optgroup>")
    assert "gs4:" in suiting
    assert "svd:" in suiting
    assert "led:" in others
    assert read_sheet(page).troubles == []


def test_another_choice_leaves_the_first_as_rejected_and_says_what_replaced_it(
    client: TestClient, session: Session
) -> None:
    client.post(ADDRESS, data=VALID)
    client.post(ADDRESS, data={**VALID, "component": "svd", "reason": "three in the drawer"})
    found = candidates(session)
    assert found["svd"] == ("chosen", "three in the drawer")
    state, reason = found["gs4"]
    name = session.exec(select(Component.name).where(Component.code == "svd")).one()
    assert state == "rejected"
    assert reason.startswith(f"replaced by {name}")
    assert pins(session) == 1


def test_rejected_and_weighed_ones_stay_with_their_reasons(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data=VALID)
    client.post(ADDRESS, data={"component": "svd", "state": "rejected", "reason": "its dead band shows"})
    client.post(ADDRESS, data={"component": "gsd", "state": "weighed", "reason": "quieter"})
    assert candidates(session) == {
        "gs4": ("chosen", "no dead band at the low end"),
        "svd": ("rejected", "its dead band shows"),
        "gsd": ("weighed", "quieter"),
    }
    words = words_of(client.get("/functions/F001").text, "<h2>Candidates</h2>", "</table>")
    assert words.index("chosen") < words.index("weighed") < words.index("its dead band shows")


def test_the_reason_it_was_rejected_for_is_not_carried_over_to_its_choice(
    client: TestClient, session: Session
) -> None:
    client.post(ADDRESS, data={"component": "svd", "state": "rejected", "reason": "its dead band shows"})
    page = client.get("/functions/F001").text
    client.post(ADDRESS, data=fields_of_choose(page))
    assert candidates(session) == {"svd": ("chosen", "")}


def fields_of_choose(page: str) -> dict[str, str]:
    """The hidden form behind the button "Choose" of the first row."""
    row = page[page.index('data-label="Do"') : page.index("</tbody>")]
    return fields_of(row[: row.index("</form>") + 7], ADDRESS)


def test_the_button_of_a_weighed_one_keeps_its_reason(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={"component": "gsd", "state": "weighed", "reason": "quieter"})
    client.post(ADDRESS, data=fields_of_choose(client.get("/functions/F001").text))
    assert candidates(session) == {"gsd": ("chosen", "quieter")}


def test_rejecting_the_chosen_one_leaves_none_and_frees_its_pins(
    client: TestClient, session: Session
) -> None:
    client.post(ADDRESS, data=VALID)
    answer = client.post(ADDRESS, data={**VALID, "state": "rejected", "reason": "hums"})
    assert candidates(session) == {"gs4": ("rejected", "hums")}
    assert pins(session) == 0
    assert "not chosen" in words_of(client.get("/panels/P01").text)
    assert answer.status_code == 200


def test_one_weighed_by_mistake_is_forgotten(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={"component": "gsd", "state": "weighed"})
    client.post(f"{ADDRESS}/gsd/drop")
    assert candidates(session) == {}
    assert client.post(f"{ADDRESS}/no-such/drop").status_code == 404


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("component", "", "Component is needed."),
        ("component", "no such part", "'no such part' is no component of the list."),
        ("state", "", "What of it is needed."),
        ("state", "bought", "What of it is one of those offered"),
        ("reason", "x" * 2_001, "at most 2000 are kept"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_kept_as_typed(
    client: TestClient, session: Session, field: str, value: str, message: str
) -> None:
    answer = client.post(ADDRESS, data={**VALID, field: value})
    assert answer.status_code == 422
    assert message in message_at(answer.text, field)
    if field != "reason":
        assert 'value="no dead band at the low end"' in answer.text
    assert read_sheet(answer.text).troubles == []
    assert candidates(session) == {}


@pytest.mark.parametrize("reason", ["<script>alert(1)</script>", "سبب", "👍 because"])
def test_any_reason_is_shown_as_text(client: TestClient, reason: str) -> None:
    answer = client.post(ADDRESS, data={**VALID, "reason": reason})
    assert reason in words_of(answer.text)
    assert read_sheet(answer.text).troubles == []
