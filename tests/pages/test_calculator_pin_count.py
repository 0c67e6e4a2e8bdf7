"""The pin count calculator: from the address to the answer, nothing kept."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, func, select

from app.tables import Board, Function, PinUse
from tests.pages.sheet_text import answer_of, said_at, words_of

PATH = "/calculators/pin-count"
# The functions of the scenario's fuel panel (section 4, P07).
FUEL_PANEL = {
    "module": "T8S",
    "component1": "gs4",
    "count1": "3",
    "component2": "rot",
    "count2": "1",
    "positions2": "4",
    "component3": "tg",
    "count3": "2",
    "component4": "led",
    "count4": "2",
    "component5": "o32",
    "count5": "1",
}


def asked(client: TestClient, fields: dict[str, str]) -> str:
    answer = client.get(PATH, params=fields)
    assert answer.status_code == 200
    return answer_of(answer.text)


def test_the_fuel_panel_is_short_by_four(client: TestClient) -> None:
    words = asked(client, FUEL_PANEL)
    # Scenario, sections 2 and 9, fault 1.
    assert "needs 24 pins and has 20 usable: short by 4" in words
    assert (
        "Own 20 Shared, once each i2c 2 Link to the computer 2 Total 24 of 20 usable Left short by 4" in words
    )
    assert "24 terminals compete for 20 pins" in words
    assert "(12 → 7)" in words
    assert "16 needed, 4 left (20 %)." in words


def test_a_larger_module_carries_it(client: TestClient) -> None:
    words = asked(client, {**FUEL_PANEL, "module": "T8L"})
    assert words.startswith("Answer Fine")
    assert "Total 24 of 70 usable Left 46" in words


def test_contacts_are_read_as_a_matrix(client: TestClient) -> None:
    words = asked(client, {"module": "T8L", "component1": "mx", "count1": "11"})
    assert "3 rows × 4 columns for 11 contacts: 7" in words  # scenario, section 2, BD08


def test_analogue_pins_run_out_before_pins_do(client: TestClient) -> None:
    page = client.get(PATH, params={"module": "T8S", "component1": "pot", "count1": "9"}).text
    words = answer_of(page)
    assert words.startswith("Answer Stop")
    assert "9 terminals compete for 6 analogue pins" in words  # scenario, section 2: T8S has 6 analogue
    assert words.count("compete for") == 1
    assert "analogue input 9 6 0" in words_of(page)


def test_a_selector_without_positions_cannot_be_told(client: TestClient) -> None:
    words = asked(client, {"module": "T8S", "component1": "rot"})
    assert words.startswith("Answer Cannot tell")
    assert "the number of positions is missing for rot-1" in words


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"module": ""}, "module", "Choose the board module."),
        ({"module": "T99"}, "module", "There is no board module T99"),
        ({"component1": "strip"}, "component1", "no component strip with terminals"),
        ({"component1": ""}, "component1", "Choose the component that is counted here."),
        ({"count1": "-1"}, "count1", "below zero"),
        ({"count1": "3 mm"}, "count1", ""),
        ({"count1": "501"}, "count1", "from 0 to 500"),
        ({"count1": "300"}, "module", "at most 200"),
        ({"positions2": "0"}, "positions2", "from 1 to 100"),
    ],
)
def test_a_field_that_is_wrong_says_so_and_nothing_is_called_fine(
    client: TestClient, change: dict[str, str], field: str, message: str
) -> None:
    answer = client.get(PATH, params={**FUEL_PANEL, "module": "T8L", **change})
    assert answer.status_code == 422
    said = said_at(answer.text, field)
    assert said
    assert message in said
    assert not answer_of(answer.text).startswith(("Answer Fine", "Answer Caution"))


def test_htmx_gets_the_answer_alone(client: TestClient) -> None:
    answer = client.get(PATH, params={**FUEL_PANEL, "count8": ""}, headers={"hx-request": "true"})
    assert "<html" not in answer.text
    assert "short by 4" in answer.text
    assert answer.headers["hx-replace-url"].startswith(f"{PATH}?module=T8S&component1=gs4")
    assert "count8" not in answer.headers["hx-replace-url"]


def test_nothing_is_kept(client: TestClient, session: Session) -> None:
    client.get(PATH, params=FUEL_PANEL)
    for table in (Board, Function, PinUse):
        assert session.exec(select(func.count()).select_from(table)).one() == 0
