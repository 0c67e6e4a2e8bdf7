"""The power draw calculator: from the address to the answer, nothing kept."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, func, select

from app.tables import Component, Function, Supply
from tests.pages.sheet_text import answer_of, said_at, words_of

PATH = "/calculators/power-draw"
SERVOS = {"rating": "5 A", "component1": "svd", "count1": "13"}


def asked(client: TestClient, **fields: str) -> str:
    answer = client.get(PATH, params=fields)
    assert answer.status_code == 200
    return answer_of(answer.text)


def test_thirteen_servos_overload_a_supply_of_5_a(client: TestClient) -> None:
    words = asked(client, **SERVOS)
    # Scenario, section 9, fault 13: 13 servos all stalled 9.1 A on 5 A: 182 %.
    assert (
        "Stop The loads draw 9.10 A with everything at its peak: 182 % of 5 A, and 80 % may be used." in words
    )
    assert "Typical 0.78 A" in words  # scenario, section 3
    assert "Rating it needs 11.4 A or more" in words
    assert "assumed" in words


def test_homing_four_at_a_time_passes(client: TestClient) -> None:
    words = asked(client, **SERVOS, at_once="4")
    # Scenario, section 9, fault 13: homing four at a time 2.8 A + idle passes; idle 10 mA each of the other nine.
    assert "Home the motors 4 at a time, the rest idle: 2.89 A, 58 % of 5 A." in words


def test_a_steady_load_of_8_a_needs_10_a(client: TestClient) -> None:
    # Check S2.3: 8 A continuous wants 10 A, NEC 210.20(A) and 215.3 (from memory).
    words = asked(client, rating="10", peak1="8 A", typical1="8 A")
    assert "80 % of 10 A, and 80 % may be used." in words
    assert words.startswith("Answer Fine")
    assert "Rating it needs 10.0 A or more" in words
    assert asked(client, rating="9,9", peak1="8 A", typical1="8 A").startswith("Answer Caution")


def test_figures_typed_stand_over_those_of_the_component(client: TestClient) -> None:
    words = asked(client, **SERVOS, peak1="0,5 A")
    assert "6.50 A" in words  # 13 x 0.5 A
    assert "Typical 0.78 A" in words


def test_without_a_rating_the_share_cannot_be_told(client: TestClient) -> None:
    words = asked(client, component1="svd", count1="13")
    assert words.startswith("Answer Cannot tell")
    assert "of what rating cannot be told" in words
    assert "11.4 A" in words


def test_a_load_without_its_peak_is_never_fine(client: TestClient) -> None:
    words = asked(client, rating="10", peak1="1 A", count2="3")
    assert words.startswith("Answer Cannot tell")
    assert "Not known: the peak of load 2." in words


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"peak2": "250 mV"}, "peak2", "250 mV is a voltage"),
        ({"peak2": "-3"}, "peak2", "cannot be below zero"),
        ({"count1": "1.5"}, "count1", "whole"),
        ({"count1": "many"}, "count1", "The count is wanted"),
        ({"rating": "0"}, "rating", "over 0 A"),
        ({"rating": "5 V"}, "rating", "a voltage"),
        ({"share": "120"}, "share", "at most 100 %"),
        ({"component1": "gs9"}, "component1", "There is no component gs9"),
        ({"component1": "<script>"}, "component1", "There is no component <script>"),
        ({"at_once": "-1"}, "at_once", "below zero"),
    ],
)
def test_a_field_that_is_wrong_says_so_is_kept_and_nothing_is_called_fine(
    client: TestClient, change: dict[str, str], field: str, message: str
) -> None:
    fine = {"rating": "20 A", "component1": "svd", "count1": "13"}
    assert asked(client, **fine).startswith("Answer Fine")
    answer = client.get(PATH, params={**fine, **change})
    assert answer.status_code == 422
    assert message in said_at(answer.text, field)
    if field != "component1":
        assert f'value="{change[field]}"' in answer.text
    assert "<script>" not in answer.text.replace('<script src="', "")
    if field not in ("at_once",):
        assert not answer_of(answer.text).startswith(("Answer Fine", "Answer Caution"))


def test_an_absurd_lamp_is_counted_and_asked_about(client: TestClient) -> None:
    answer = client.get(PATH, params={"rating": "100", "peak1": "80 A", "typical1": "1"})
    assert answer.status_code == 200
    assert "80 A is far above what is usual for this. Is it meant?" in said_at(answer.text, "peak1")
    assert "80.00 A" in answer_of(answer.text)


def test_htmx_gets_the_answer_and_the_messages_but_no_field(client: TestClient) -> None:
    answer = client.get(
        PATH, params={**SERVOS, "peak2": "3 kg", "count3": ""}, headers={"hx-request": "true"}
    )
    assert answer.status_code == 200  # htmx shows nothing of a refusal
    assert "<html" not in answer.text
    assert "<input" not in answer.text
    assert "182 %" in answer.text
    assert "a mass" in said_at(answer.text, "peak2")
    assert 'id="m-peak2" hx-swap-oob="true"' in answer.text
    # the address bar holds what was entered, and only that
    assert answer.headers["hx-replace-url"] == f"{PATH}?rating=5+A&component1=svd&count1=13&peak2=3+kg"


def test_the_empty_calculator_offers_an_example(client: TestClient) -> None:
    answer = client.get(PATH)
    assert answer.status_code == 200
    assert "Enter a load" in answer_of(answer.text)
    assert "As counted" not in words_of(answer.text)


def test_nothing_is_kept(client: TestClient, session: Session) -> None:
    tables = (Component, Function, Supply)
    before = [session.exec(select(func.count()).select_from(table)).one() for table in tables]
    client.get(PATH, params=SERVOS)
    assert [session.exec(select(func.count()).select_from(table)).one() for table in tables] == before


def test_all_three_are_listed(client: TestClient) -> None:
    page = client.get("/calculators").text
    for name in ("power-draw", "pin-count", "print-hours"):
        assert f'href="/calculators/{name}"' in page
        assert client.get(f"/calculators/{name}").status_code == 200


@pytest.mark.parametrize("text", ["9" * 60, "1e308", "nan", "0." + "0" * 56 + "1", "9" * 500, "\x00", "💡"])
@pytest.mark.parametrize(
    "name", ["rating", "share", "at_once", "count1", "idle1", "peak1", "component1", "stall1"]
)
def test_no_text_breaks_it(client: TestClient, name: str, text: str) -> None:
    assert client.get(PATH, params={**SERVOS, "peak2": "9" * 60, name: text}).status_code in (200, 422)
