"""Taking the pin names away as a C header or a table, and holding a program's own list against the plan."""

import csv
import io
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.planning.board_edit import add_board
from app.settings import LARGEST_FORM_BYTES
from tests.pages.cockpit_rows import board_with
from tests.pages.sheet_reader import read_sheet
from tests.pages.test_boards_queries import asked
from tests.readers.avr_compiler import run

NAMES = "/boards/BD01/pin-names"


@pytest.fixture(autouse=True)
def board(session: Session) -> None:
    board_with(session, "Oil lamp\tlight\tled", "Total\tdisplay\to64")


def compare(client: TestClient, text: str | bytes, name: str = "pins.h", status: int = 200) -> str:
    answer = client.post(f"{NAMES}/header", files={"file": (name, text)})
    assert answer.status_code == status, answer.text
    assert read_sheet(answer.text).troubles == []
    return answer.text


def test_the_boards_sheet_leads_to_the_names_and_they_to_the_files(client: TestClient) -> None:
    assert NAMES in read_sheet(client.get("/boards/BD01").text).links
    sheet = read_sheet(client.get(NAMES).text)
    assert {"/boards/BD01/pins.h", "/boards/BD01/pins.csv", f"{NAMES}/header"} <= set(sheet.links)
    assert sheet.troubles == []


def test_the_header_comes_as_a_file_that_compiles(client: TestClient, tmp_path: Path) -> None:
    answer = client.get("/boards/BD01/pins.h")
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert 'attachment; filename="BD01-pins.h"' in answer.headers["content-disposition"]
    (tmp_path / "pins.h").write_bytes(answer.content)
    # The receiver of this chip's serial port is PD0, which its boards call pin 0 (ATmega328P data sheet; the
    # boards' numbering is common practice).
    (tmp_path / "try.c").write_text('#include "pins.h"\n_Static_assert(PIN_LINK_RECEIVE == 0, "receive");\n')
    run(
        "avr-gcc",
        "-mmcu=atmega328p",
        "-Wall",
        "-Wextra",
        "-Werror",
        "-c",
        tmp_path / "try.c",
        "-o",
        tmp_path / "o",
    )


def test_the_table_comes_as_a_file_with_every_pin_of_the_module(client: TestClient) -> None:
    answer = client.get("/boards/BD01/pins.csv")
    assert answer.headers["content-type"].startswith("text/csv; charset=utf-8")
    assert 'attachment; filename="BD01-pins.csv"' in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    by_pin = {row["pin"]: row for row in rows}
    # The chip's own places of its two-wire bus (ATmega328P data sheet, port C: PC4 SDA).
    assert (by_pin["A4"]["chip pin"], by_pin["A4"]["name in C"]) == ("PC4", "PIN_I2C_SDA")
    assert {row["state"] for row in rows} >= {"used", "free", "power"}


def test_a_name_beyond_ascii_gives_the_file_its_name_both_ways(client: TestClient, session: Session) -> None:
    add_board(session, "Höhe1", "T8S")
    session.commit()
    disposition = client.get("/boards/Höhe1/pins.h").headers["content-disposition"]
    # RFC 6266, section 4.3 and appendix D: a plain name, and one in UTF-8 with percent signs.
    assert disposition == "attachment; filename=\"H_he1-pins.h\"; filename*=UTF-8''H%C3%B6he1-pins.h"


def test_a_header_is_compared_and_nothing_is_kept(client: TestClient) -> None:
    mine = client.get("/boards/BD01/pins.h").text
    assert "on the plan&#39;s pin, 0 on another, and 0 not at all" in compare(client, mine)
    moved = mine.replace("PIN_I2C_SDA", "PIN_OTHER", 1)
    page = compare(client, moved.replace("#define PIN_LINK_SEND    ", "#define PIN_LINK_SEND 9 //"))
    for heading in ("Missing in the file", "Not in the plan", "Agree with the plan"):
        assert heading in page
    assert "0 not at all" in compare(client, mine)  # the one before left nothing behind


def test_a_name_on_another_pin_stops(client: TestClient) -> None:
    page = compare(client, "#define PIN_LINK_SEND 9\n#define BAUD 9600\n#define ROWS 4\n")
    assert "On another pin" in page
    assert "PIN_LINK_SEND 1 (now 9)" in page
    assert "Not read as a pin (1)" in page


def test_names_made_distinct_are_shown(client: TestClient, session: Session) -> None:
    assert "Names that had to change" not in client.get(NAMES).text
    board_with(session, "Oil lamp\tlight\tled", "oil-lamp\tlight\tled", code="BD02")
    page = client.get("/boards/BD02/pin-names").text
    assert "Names that had to change" in page
    assert "more than one pin has this name" in page


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("/* never closed", "line 1: a comment that begins here is not closed"),
        (b"\x7fELF\0\0", "is not text"),
        ("<img src=x>*/ /*", "is not closed"),
    ],
)
def test_a_file_that_is_no_program_text_is_refused_at_the_field(
    client: TestClient, text: str | bytes, message: str
) -> None:
    page = compare(client, text, "<b>.h", status=422)
    assert message in page
    assert 'id="e-file"' in page
    assert "&lt;b&gt;.h" in page


def test_no_file_is_asked_for(client: TestClient) -> None:
    assert client.get(f"{NAMES}/header").status_code == 200
    answer = client.post(f"{NAMES}/header")
    assert answer.status_code == 422
    assert "choose a file" in answer.text


def test_a_file_over_the_limit_is_refused_while_it_streams(client: TestClient) -> None:
    assert "At most 1 MB" in client.get(f"{NAMES}/header").text
    big = {"file": ("big.h", b" " * (LARGEST_FORM_BYTES + 200_000))}
    assert client.post(f"{NAMES}/header", files=big).status_code == 413


def test_a_board_with_nothing_on_it_says_what_goes_here(client: TestClient, session: Session) -> None:
    add_board(session, "BD09", "T32")
    session.commit()
    page = client.get("/boards/BD09/pin-names").text
    assert "Put functions on" in page
    assert read_sheet(page).troubles == []
    assert client.get("/boards/BD09/pins.h").status_code == 200
    assert client.get("/boards/BD99/pin-names").status_code == 404
    assert client.get("/boards/BD99/pins.h").status_code == 404


def test_the_names_ask_the_database_nothing_of_their_own(client: TestClient) -> None:
    # One statement tells whether the file has changed since the cockpit was last computed.
    assert {len(asked(client, sheet)) for sheet in (NAMES, "/boards/BD01/pins.h", f"{NAMES}/header")} <= {
        1,
        2,
        3,
    }
