"""The print hours calculator: from the address to the answer."""

import math

import pytest
from fastapi.testclient import TestClient

from tests.pages.sheet_text import answer_of, said_at, words_of

PATH = "/calculators/print-hours"


def asked(client: TestClient, **fields: str) -> str:
    answer = client.get(PATH, params=fields)
    assert answer.status_code == 200
    return answer_of(answer.text)


def test_a_tray_in_one_piece_and_in_halves(client: TestClient) -> None:
    # Scenario, section 9, fault 25: one piece, 11.5 h at 25 % good: 46 h expected if failures are seen at the
    # end, 25 h if seen at once. Two halves, 6 h at 67 %: 18 h or 15 h.
    whole = asked(client, hours="11.5", share="25 %")
    assert "24.9 h if a failure is seen and stopped at once, 46.0 h if it is seen only at the end" in whole
    assert "Attempts for a good one 4.0" in whole
    halves = asked(client, hours="6", attempts="3", good="2", parts="2")
    assert "Hours, failures seen at once 14.8 h Hours, seen at the end 18.0 h" in halves


def test_twelve_hours_at_three_failures_in_a_hundred_hours(client: TestClient) -> None:
    # 12 h at 0.03 an hour: 70 % chance of success, 14.4 h if seen at once: (e^(lambda T) - 1)/lambda, standard
    # result of renewal theory; mean of the geometric distribution 1/p = 1.43.
    words = asked(client, hours="12", share=f"{math.exp(-0.36):.6f}")
    assert "At 70 % good, 12.0 h on paper become 14.4 h" in words
    assert "Attempts for a good one 1.4" in words


def test_splitting_pays_at_the_same_rate_of_failures(client: TestClient) -> None:
    # 20 h whole at 0.03 an hour: 27.4 h expected; four pieces of 5 h: 21.6 h (arithmetic of the same formula).
    page = client.get(PATH, params={"hours": "20", "share": f"{math.exp(-0.6):.6f}", "pieces": "4"}).text
    assert "Splitting in 4 pays: 21.6 h against 27.4 h seen at once" in answer_of(page)
    assert "4 pieces 5.0 h 86 % 21.6 h 23.2 h 5.8 h" in words_of(page)


def test_joining_can_cost_more_than_splitting_saves(client: TestClient) -> None:
    fields = {"hours": "20", "share": f"{math.exp(-0.6):.6f}", "pieces": "4"}
    # three joints at 2 h add 6 h: 27.6 h is more than 27.4 h, but seen at the end 29.2 h is less than 36.4 h
    words = asked(client, **fields, joining="2 h")
    assert "Splitting in 4 pays only if failures are seen at the end: 27.6 h against 27.4 h" in words
    assert "Splitting in 4 does not pay" in asked(client, **fields, joining="5")


def test_thirty_parts_at_95_in_a_hundred_rarely_need_no_reprint(client: TestClient) -> None:
    # "a plan of 30 parts at 95 % each has only a 21 % chance of no reprint": 0.95^30 = 0.2146.
    words = asked(client, hours="1", share="95", parts="30")
    assert "Chance of no reprint of any of 30 21 %" in words


@pytest.mark.parametrize("share", ["59 %", "59", "0.59", "0,59", "59 percent"])
def test_a_share_is_read_as_people_write_it(client: TestClient, share: str) -> None:
    assert "At 59 % good" in asked(client, hours="2", share=share)


@pytest.mark.parametrize(
    ("share", "said"), [("1", "At 100 % good"), ("0.5 %", "good"), ("1 %", "At 1 % good")]
)
def test_a_bare_number_up_to_one_is_a_share_of_one(client: TestClient, share: str, said: str) -> None:
    words = asked(client, hours="2", share=share, pieces="2")
    assert said in words
    if share == "1":
        assert "splitting saves nothing" in words
    if share == "0.5 %":
        assert "Attempts for a good one 200.0" in words


def test_no_good_one_yet_has_no_forecast(client: TestClient) -> None:
    words = asked(client, hours="3", attempts="4", good="0")
    assert words.startswith("Answer Cannot tell None came good so far, so there is no number")
    assert "Hours, seen at the end cannot tell" in words


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"hours": "0"}, "hours", "over 0"),
        ({"hours": "3 kg"}, "hours", "a mass"),
        ({"hours": "-2"}, "hours", "below zero"),
        ({"share": "140 %"}, "share", "at most 100 %"),
        ({"share": "most"}, "share", "The good share is wanted"),
        ({"attempts": "4"}, "share", "not both"),
        ({"share": "", "attempts": "4"}, "good", "How many good ones?"),
        ({"share": "", "good": "4"}, "attempts", "How many attempts?"),
        ({"share": "", "attempts": "4", "good": "5"}, "good", "cannot be"),
        ({"parts": "0"}, "parts", "from 1"),
        ({"pieces": "1"}, "pieces", "from 2 to 50"),
        ({"joining": "5 mm"}, "joining", "a length"),
    ],
)
def test_a_field_that_is_wrong_says_so_and_the_rest_cannot_be_told(
    client: TestClient, change: dict[str, str], field: str, message: str
) -> None:
    answer = client.get(PATH, params={"hours": "11.5", "share": "25 %", "pieces": "2", **change})
    assert answer.status_code == 422
    assert message in said_at(answer.text, field)
    assert "cannot " in answer_of(answer.text) or "Cannot tell" in answer_of(answer.text)
    name, value = next(iter(change.items()))
    assert value == "" or f'name="{name}"' in answer.text
    assert f'value="{value}"' in answer.text


def test_a_print_of_a_thousand_hours_is_asked_about(client: TestClient) -> None:
    answer = client.get(PATH, params={"hours": "1000", "share": "50"})
    assert answer.status_code == 200
    assert "Is it meant?" in said_at(answer.text, "hours")
    assert "2,000.0 h" in answer_of(answer.text)


@pytest.mark.parametrize(
    "text", ["9" * 60, "1e308", "nan", "inf", "0." + "0" * 56 + "1", "9" * 500, "\x00", "💡"]
)
@pytest.mark.parametrize("name", ["hours", "share", "attempts", "good", "parts", "pieces", "joining"])
def test_no_text_breaks_it(client: TestClient, name: str, text: str) -> None:
    fields = {"hours": "2", "share": "50 %", "pieces": "3", name: text}
    assert client.get(PATH, params=fields).status_code in (200, 422)


def test_htmx_gets_the_answer_and_a_short_address(client: TestClient) -> None:
    answer = client.get(
        PATH, params={"hours": "12", "share": "70 %", "good": ""}, headers={"hx-request": "true"}
    )
    assert "<html" not in answer.text
    assert answer.headers["hx-replace-url"] == f"{PATH}?hours=12&share=70+%25"
