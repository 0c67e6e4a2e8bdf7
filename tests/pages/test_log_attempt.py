"""Logging an attempt: part, outcome or cause, one line, and it is in the log."""

from datetime import date, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.tables import Attempt, MadePart, Printer, PrintFile, Revision

VALID = {
    "revision": "9",
    "outcome": "failed",
    "cause": "wrong size",
    "what_happened": "0.4 mm too tight",
    "hours": "3.5",
    "grams": "38",
    "made_on": "2026-11-02",
    "offered_hours": "3.5",
    "offered_grams": "38",
    "offered_mark": "assumed",
}


@pytest.fixture(autouse=True)
def part(session: Session) -> None:
    part = MadePart(code="MP01", name="Scoop slide carriage", hours=3.5, grams=38.0)
    session.add(part)
    session.flush()
    session.add(Revision(made_part_id=part.id or 0, number=9))
    session.commit()


def logged(session: Session) -> Attempt:
    session.expire_all()
    return session.exec(select(Attempt)).one()


def test_it_is_logged_and_shown(client: TestClient, session: Session) -> None:
    answer = client.post("/workshop/MP01/log", data=VALID)
    assert answer.url.path == "/workshop/MP01"
    assert "Logged: r9 failed, wrong size." in answer.text
    assert "0.4 mm too tight" in answer.text
    attempt = logged(session)
    assert (attempt.made_on, attempt.hours, attempt.grams) == (date(2026, 11, 2), 3.5, 38.0)


def test_the_form_has_everything_filled_in_but_the_outcome(client: TestClient) -> None:
    text = client.get("/workshop/MP01/log").text
    today = date.today().isoformat()  # noqa: DTZ011 - the day on the builder's own wall
    assert f"r9 · 3.5 h · 38 g · {today}" in text
    assert "checked" not in text


def test_three_taps_and_a_short_text_are_enough(client: TestClient, session: Session) -> None:
    # Taps: the part in the list, the cause, "Log it". The form's other fields go as they were filled in.
    today = date.today().isoformat()  # noqa: DTZ011 - the day on the builder's own wall
    filled_in = {**VALID, "outcome": "", "made_on": today}
    assert 'href="/workshop/MP01/log"' in client.get("/workshop/log").text
    client.post("/workshop/MP01/log", data={**filled_in, "cause": "split layers"})
    assert (logged(session).outcome, logged(session).cause) == ("failed", "split layers")


def test_figures_left_as_offered_keep_their_mark_and_changed_ones_are_measured(
    client: TestClient, session: Session
) -> None:
    client.post("/workshop/MP01/log", data={**VALID, "hours": "1 h 10 min"})
    attempt = logged(session)
    assert (attempt.hours_mark, attempt.grams_mark) == ("measured", "assumed")
    assert attempt.hours == pytest.approx(7 / 6)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"outcome": "", "cause": ""}, "Outcome is needed."),
        ({"cause": ""}, "Why did it fail?"),
        ({"outcome": "stopped", "cause": ""}, "Why did it fail?"),
        ({"cause": "gremlins"}, "one of those offered"),
        ({"hours": "3 1/0 h"}, "Hours"),
        ({"grams": "-2"}, "cannot be below zero"),
        ({"revision": "12"}, "one of those offered"),
        ({"made_on": "yesterday"}, "The date is wanted as"),
        ({"made_on": ""}, "Date is needed."),
    ],
)
def test_bad_input_is_said_at_its_field_and_what_was_typed_stays(
    client: TestClient, session: Session, change: dict[str, str], says: str
) -> None:
    answer = client.post("/workshop/MP01/log", data={**VALID, **change})
    assert answer.status_code == 422
    assert says in answer.text
    assert 'value="0.4 mm too tight"' in answer.text
    assert session.exec(select(Attempt)).all() == []


def test_a_day_to_come_is_refused(client: TestClient) -> None:
    tomorrow = date.today() + timedelta(days=1)  # noqa: DTZ011 - the day on the builder's own wall
    answer = client.post("/workshop/MP01/log", data={**VALID, "made_on": tomorrow.isoformat()})
    assert answer.status_code == 422
    assert "has not come yet" in answer.text


def test_unknown_is_a_cause(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP01/log", data={**VALID, "cause": "unknown"})
    assert logged(session).cause == "unknown"


def test_a_good_one_needs_no_cause(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP01/log", data={**VALID, "outcome": "good"})
    assert (logged(session).outcome, logged(session).cause) == ("good", "")


def test_a_new_revision_is_numbered_after_the_newest(client: TestClient, session: Session) -> None:
    client.post("/workshop/MP01/log", data={**VALID, "revision": "new"})
    assert session.exec(select(Revision.number).order_by(Revision.number)).all() == [9, 10]  # type: ignore[arg-type]  # a column
    assert "r10" in client.get("/workshop/MP01").text


def test_the_newest_gcode_of_the_revision_fills_the_figures_in(client: TestClient, session: Session) -> None:
    printer = session.exec(select(Printer)).first() or Printer(name="Printer")
    revision = session.exec(select(Revision)).one()
    session.add(
        PrintFile(
            revision_id=revision.id or 0,
            printer_id=printer.id or 0,
            file_name="carriage-r9.gcode",
            fingerprint="0" * 64,
            seconds=9000.0,
            filament_m=11.0,
            grams=32.8,
            moves=100,
            uploaded_on=date(2026, 11, 1),
        )
    )
    session.commit()
    text = client.get("/workshop/MP01/log").text
    assert "r9 · 2.5 h · 32.8 g" in text
    assert "simulated from carriage-r9.gcode" in text


def test_another_revision_fills_only_the_figures_in_again(client: TestClient) -> None:
    answer = client.get("/workshop/MP01/log?revision=new", headers={"hx-request": "true"})
    assert answer.text.strip().startswith('<details id="figures"')
    assert "new revision, r10 · 3.5 h" in answer.text


def test_the_part_used_last_stands_first_in_the_list(client: TestClient, session: Session) -> None:
    session.add(MadePart(code="MP00", name="Guard"))
    session.commit()
    client.post("/workshop/MP01/log", data=VALID)
    text = client.get("/workshop/log").text
    assert text.index("/workshop/MP01/log") < text.index("/workshop/MP00/log")


def test_an_unknown_part_is_said_in_words(client: TestClient) -> None:
    answer = client.get("/workshop/MP99/log")
    assert answer.status_code == 404
    assert "There is no made part MP99 in this cockpit." in answer.text
