"""Uploading the G-code of a revision, watching a long file, timing one again."""

import threading

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning import print_time, print_upload
from app.planning.attempt_log import ensure_revision
from app.settings import LARGEST_GCODE_BYTES, Settings
from app.tables import MadePart, PrintFile

# Check S16.11: a metre of 1.75 mm filament of 1.24 g/cm³ weighs 2.98255 g; the printer of a fresh cockpit has both.
ONE_METRE = b"M83\nG1 X500 E500 F600\nG1 X0 E500\n"
ADDRESS = "/workshop/MP01/revisions/1/gcode"


@pytest.fixture(autouse=True)
def part(session: Session) -> None:
    part = MadePart(code="MP01", name="Scoop slide carriage")
    session.add(part)
    session.flush()
    ensure_revision(session, part, 1)
    session.commit()


def sent(client: TestClient, data: bytes, name: str = "carriage.gcode", printer: str = "1") -> object:
    return client.post(ADDRESS, data={"printer": printer}, files={"file": (name, data)})


def test_its_hours_metres_and_grams_are_shown_with_their_source(client: TestClient, session: Session) -> None:
    answer = client.post(ADDRESS, data={"printer": "1"}, files={"file": ("carriage.gcode", ONE_METRE)})
    assert answer.url.path == "/workshop/MP01/revisions/1"
    assert "1.00 m of filament, 3.0 g, simulated from 2 moves." in answer.text
    assert "simulated" in answer.text
    assert "assumed" in answer.text
    assert session.exec(select(PrintFile.grams)).one() == pytest.approx(2.98255, abs=5e-6)
    part_sheet = client.get("/workshop/MP01").text
    assert "carriage.gcode" in part_sheet
    assert "1.00 m" in part_sheet


def test_the_form_states_its_limit(client: TestClient) -> None:
    assert LARGEST_GCODE_BYTES == 200 * 1024 * 1024
    assert "At most 200 MB." in client.get("/workshop/MP01/revisions/1").text


def test_a_binary_file_is_refused_at_the_field_with_its_place(client: TestClient, settings: Settings) -> None:
    answer = client.post(
        ADDRESS, data={"printer": "1"}, files={"file": ("odd.gcode", b"\x7fELF" + bytes(99))}
    )
    assert answer.status_code == 422
    assert "odd.gcode, line 1: " in answer.text
    assert 'id="e-file"' in answer.text
    assert list(settings.files_dir.iterdir()) == []


def test_unknown_words_are_counted_and_shown(client: TestClient) -> None:
    sent(client, ONE_METRE + b"M8765 S1\n")
    assert "Not understood: M8765 × 1" in client.get("/workshop/MP01").text


@pytest.mark.parametrize("change", [{"files": None}, {"printer": "99"}])
def test_without_file_or_printer_it_is_said_at_the_field(
    client: TestClient, change: dict[str, str | None]
) -> None:
    answer = client.post(
        ADDRESS,
        data={"printer": change.get("printer") or "1"},
        files=None if "files" in change else {"file": ("carriage.gcode", ONE_METRE)},
    )
    assert answer.status_code == 422
    assert ("choose a file" if "files" in change else "one of those offered") in answer.text


def test_a_file_name_with_markup_is_shown_as_text(client: TestClient) -> None:
    sent(client, ONE_METRE, name="<i>x.gcode")
    text = client.get("/workshop/MP01").text
    assert "&lt;i&gt;x.gcode" in text
    assert "<i>x.gcode" not in text


@pytest.fixture
def waits(monkeypatch: pytest.MonkeyPatch) -> threading.Event:
    """Every file counts as long, and its reading begins only when the event is set."""
    begin = threading.Event()
    timed = print_time.time_gcode

    def when_told(*args: object, **kwargs: object) -> object:
        assert begin.wait(10)
        return timed(*args, **kwargs)  # type: ignore[arg-type]  # handed through as they came

    monkeypatch.setattr(print_upload, "SMALL_BYTES", 0)
    monkeypatch.setattr(print_upload, "time_gcode", when_told)
    return begin


def done(client: TestClient) -> None:
    readings = print_upload.print_readings(client.app.state.engine)  # type: ignore[attr-defined]  # FastAPI's own
    reading = readings.latest("MP01")
    assert reading is not None
    assert reading.thread is not None
    reading.thread.join(10)


def test_a_long_file_shows_how_far_it_is_and_then_its_figures(
    client: TestClient, waits: threading.Event
) -> None:
    answer = client.post(ADDRESS, data={"printer": "1"}, files={"file": ("long.gcode", ONE_METRE)})
    assert answer.url.path == "/workshop/MP01/reading"
    assert '<meta http-equiv="refresh" content="2">' in answer.text
    assert "<progress" in answer.text
    assert 'action="/workshop/MP01/reading/cancel"' in answer.text
    part = client.get("/workshop/MP01/reading", headers={"hx-request": "true"})
    assert part.text.strip().startswith('<div id="reading" hx-get="/workshop/MP01/reading"')
    waits.set()
    done(client)
    moved = client.get("/workshop/MP01/reading", headers={"hx-request": "true"})
    assert moved.headers["hx-redirect"] == "/workshop/MP01/reading"
    answer = client.get("/workshop/MP01/reading")
    assert answer.url.path == "/workshop/MP01/revisions/1"
    assert "long.gcode: " in answer.text


def test_a_second_file_waits_for_the_first(client: TestClient, waits: threading.Event) -> None:
    sent(client, ONE_METRE, name="first.gcode")
    answer = client.post(ADDRESS, data={"printer": "1"}, files={"file": ("second.gcode", ONE_METRE)})
    assert answer.status_code == 409
    assert "first.gcode is still being read" in answer.text
    waits.set()
    done(client)


def test_a_long_file_can_be_cancelled(client: TestClient, session: Session, waits: threading.Event) -> None:
    sent(client, ONE_METRE, name="long.gcode")
    threading.Timer(0.2, waits.set).start()
    answer = client.post("/workshop/MP01/reading/cancel")
    assert "long.gcode was cancelled; nothing of it was kept." in answer.text
    assert session.exec(select(PrintFile)).all() == []


def test_a_long_file_that_is_refused_says_where(client: TestClient, waits: threading.Event) -> None:
    waits.set()
    sent(client, b"\x7fELF" + bytes(99), name="odd.gcode")
    done(client)
    answer = client.get("/workshop/MP01/reading")
    assert answer.status_code == 422
    assert "odd.gcode, line 1: " in answer.text


def test_a_kept_file_is_timed_again_with_new_limits(client: TestClient, session: Session) -> None:
    sent(client, ONE_METRE)
    before = session.exec(select(PrintFile.seconds)).one()
    limits = client.get("/printers/1")
    assert "carriage.gcode" in limits.text
    from tests.pages.test_edit_printer import VALID

    client.post("/printers/1", data={**VALID, "speed_x_mm_s": "5"})
    session.expire_all()
    assert session.exec(select(PrintFile.seconds)).one() == before
    client.post("/workshop/MP01/files/1/time-again")
    session.expire_all()
    # 1000 mm at 5 mm/s: at least 200 s, and not a second more with 1500 mm/s².
    assert 200 < session.exec(select(PrintFile.seconds)).one() < 201


def test_a_file_is_removed_from_its_revision(client: TestClient, session: Session) -> None:
    sent(client, ONE_METRE)
    answer = client.post("/workshop/MP01/files/1/remove")
    assert "carriage.gcode was removed from r1." in answer.text
    assert session.exec(select(PrintFile)).all() == []
