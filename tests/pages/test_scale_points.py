"""The points of a dial, typed a line each."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.tables import ScalePoint
from tests.pages.cockpit_rows import bring_in
from tests.pages.form_reader import fields_of
from tests.pages.sheet_reader import read_sheet
from tests.pages.sheet_text import message_at

VALID = {"points": "0 0\n40 60\n180 300", "scale_mark": "measured"}
ADDRESS = "/functions/F001/scale"


@pytest.fixture(autouse=True)
def rows(session: Session) -> None:
    bring_in(session, "Airspeed\tneedle\tgs4")


def points(session: Session) -> list[tuple[float, float]]:
    session.expire_all()
    return [
        (p.value, p.angle_deg) for p in session.exec(select(ScalePoint).order_by(col(ScalePoint.value))).all()
    ]


def test_the_points_are_kept_with_their_source_and_the_dial_is_drawn(
    client: TestClient, session: Session
) -> None:
    answer = client.post(ADDRESS, data=VALID)
    assert points(session) == [(0, 0), (40, 60), (180, 300)]
    assert {p.mark for p in session.exec(select(ScalePoint)).all()} == {"measured"}
    fields = fields_of(answer.text, ADDRESS)
    assert fields["points"].splitlines() == ["0 0", "40 60", "180 300"]
    assert fields["scale_mark"] == "measured"
    assert "<svg" in answer.text[answer.text.index("<main") : answer.text.index("<h2>What it is</h2>")]
    assert read_sheet(answer.text).troubles == []


@pytest.mark.parametrize(
    "text",
    [
        "0,5 10\n1,5 20",
        "0.5; 10°\n1.5; 20°",
        "0.5 -> 10\n\n1.5 → 20\n",
        "1.5 20\n0.5 10",
        "0.5\t10\r\n1.5\t20",
    ],
)
def test_points_are_read_as_people_write_them(client: TestClient, session: Session, text: str) -> None:
    client.post(ADDRESS, data={**VALID, "points": text})
    assert points(session) == [(0.5, 10), (1.5, 20)]


def test_a_scale_may_fall_and_may_run_below_zero(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data={**VALID, "points": "−30 90\n0 0\n30 -90"})
    assert points(session) == [(-30, 90), (0, 0), (30, -90)]


def test_figures_of_many_digits_come_back_as_typed(client: TestClient, session: Session) -> None:
    text = "1000000 0.125\n1234567.5 90.0625"
    answer = client.post(ADDRESS, data={**VALID, "points": text})
    assert fields_of(answer.text, ADDRESS)["points"].splitlines() == text.splitlines()


def test_new_points_replace_the_old_and_none_clear_the_scale(client: TestClient, session: Session) -> None:
    client.post(ADDRESS, data=VALID)
    client.post(ADDRESS, data={**VALID, "points": "0 0\n200 320"})
    assert points(session) == [(0, 0), (200, 320)]
    client.post(ADDRESS, data={**VALID, "points": ""})
    assert points(session) == []


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("0 0\n40", "Line 2: a value and its degrees are wanted; '40' is not."),
        ("0 0\n40 sixty", "Line 2: a value and its degrees are wanted"),
        ("0 0\n40 60 80", "Line 2"),
        ("0 0\nnan 60", "Line 2"),
        ("0 0\n40 inf", "Line 2"),
        ("0 0\n40 1e400", "Line 2"),
        ("0 0\n1,234 60", "Line 2"),
        ("<script>\n0 0", "Line 1"),
        ("0 0", "A scale has at least two points."),
        ("0 0\n40 60\n40 80", "The value 40 stands at two angles, 60° and 80°."),
        ("0 0\n40 60\n80 30", "The angle turns back between 40 and 80 (60° to 30°)"),
        ("0 0\n40 0", "The angle turns back between 0 and 40"),
        ("\n".join(f"{n} {n}" for n in range(201)), "A scale has at most 200 points; these are 201."),
    ],
)
def test_points_that_make_no_scale_are_refused_and_kept_as_typed(
    client: TestClient, session: Session, text: str, message: str
) -> None:
    client.post(ADDRESS, data=VALID)
    answer = client.post(ADDRESS, data={**VALID, "points": text})
    assert answer.status_code == 422
    assert message in message_at(answer.text, "points")
    assert fields_of(answer.text, ADDRESS)["points"].splitlines() == text.splitlines()
    assert points(session) == [(0, 0), (40, 60), (180, 300)]


def test_a_mark_that_is_none_is_refused(client: TestClient, session: Session) -> None:
    answer = client.post(ADDRESS, data={**VALID, "scale_mark": "guessed"})
    assert answer.status_code == 422
    assert "Source mark is one of those offered" in message_at(answer.text, "scale_mark")
    assert points(session) == []
