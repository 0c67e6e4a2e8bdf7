"""Adding a component of the builder's own: a valid form, with one change each."""

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.planning.component_edit import component_links
from app.tables import Component
from tests.pages.sheet_text import message_at, words_of

VALID = {
    "code": "needle7",
    "name": "Long needle drive",
    "kinds": ["needle", "slide"],
    "own_kinds": "winch",
    "rail_id": "1",
    "idle_ma": "10",
    "idle_mark": "listed",
    "typical_ma": "60",
    "typical_mark": "measured",
    "peak_ma": "0,5 A",
    "peak_mark": "copied",
    "peak_is_stall": "yes",
    "terminal_name_0": "step",
    "terminal_need_0": "out",
    "terminal_name_1": "direction",
    "terminal_need_1": "out",
    "terminal_name_3": "enable",
    "terminal_need_3": "out",
    "terminal_shared_3": "gdrv",
    "buffer_bytes": "1 KB",
    "buffer_mark": "listed",
    "libraries": ["2"],
    "width_mm": "3 1/8 in",
    "height_mm": "30",
    "depth_mm": "",
    "size_mark": "measured",
    "cost": "4,50",
    "cost_mark": "listed",
    "fewer_pins": "sve, GSD",
    "source": "data sheet of 2026-03",
    "note": "",
}


def test_a_valid_component_is_kept_with_all_that_hangs_on_it(client: TestClient, session: Session) -> None:
    answer = client.post("/components/new", data=VALID, follow_redirects=False)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/components/needle7?")
    kept = session.exec(select(Component).where(Component.code == "needle7")).one()
    assert kept.kinds == "needle, slide, winch"
    assert (kept.idle_ma, kept.typical_ma, kept.peak_ma) == (10, 60, 500)  # 0,5 A is 500 mA
    assert (kept.idle_mark, kept.typical_mark, kept.peak_mark) == ("listed", "measured", "copied")
    assert kept.peak_is_stall
    assert not kept.is_starter
    assert (kept.buffer_bytes, kept.buffer_is) == (1024, "frame buffer")
    assert (kept.width_mm, kept.height_mm, kept.depth_mm) == (79.375, 30, None)  # 3 1/8 in = 79.375 mm
    assert kept.cost == 4.5
    links = component_links(session, kept)
    assert [(t.name, t.need, t.shared_as) for t in links.terminals] == [
        ("step", "out", ""),
        ("direction", "out", ""),
        ("enable", "out", "gdrv"),
    ]
    assert links.library_ids == (2,)
    codes = {c.id: c.code for c in session.exec(select(Component)).all()}
    assert [(saves, codes[id_]) for saves, id_ in links.insteads] == [("pins", "sve"), ("pins", "gsd")]


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"code": ""}, "code", "Id is needed."),
        ({"code": "GS4"}, "code", "Another component has the id GS4."),
        ({"code": "new"}, "code", "stands for a form in an address"),
        ({"code": "two words"}, "code", "does not fit"),
        ({"name": "  "}, "name", "Name is needed."),
        ({"name": "n" * 301}, "name", "301 characters"),
        ({"rail_id": "99"}, "rail_id", "one of those offered"),
        ({"peak_ma": "250 mV"}, "peak_ma", "250 mV is a voltage"),
        ({"typical_ma": "-60"}, "typical_ma", "cannot be below zero"),
        ({"idle_ma": "ten"}, "idle_ma", "Idle current is wanted"),
        ({"peak_ma": "20"}, "peak_ma", "20 mA, is under the typical 60 mA"),
        ({"peak_mark": "certain"}, "peak_mark", "one of those offered"),
        ({"width_mm": "3 1/0 in"}, "width_mm", ""),
        ({"width_mm": "3 kg"}, "width_mm", "a mass"),
        ({"buffer_bytes": "10.5"}, "buffer_bytes", "whole"),
        ({"cost": "free"}, "cost", "Cost is wanted"),
        ({"terminal_need_1": ""}, "terminal_need_1", "what terminal 2 (direction) needs"),
        ({"terminal_name_3": ""}, "terminal_name_3", "Terminal 3 needs a name"),
        ({"terminal_need_0": "electric"}, "terminal_need_0", "what terminal 1 (step) needs"),
        ({"terminal_shared_3": "matrix"}, "terminal_shared_3", "kept for the contact matrix"),
        ({"fewer_pins": "sve gs99"}, "fewer_pins", "no other component gs99"),
        ({"fewer_bytes": "sve"}, "fewer_bytes", "name it once"),
    ],
)
def test_a_field_that_is_wrong_says_so_and_keeps_what_was_typed(
    client: TestClient, session: Session, change: dict[str, str], field: str, message: str
) -> None:
    answer = client.post("/components/new", data={**VALID, **change}, follow_redirects=False)
    assert answer.status_code == 422
    said = message_at(answer.text, field)
    assert said
    assert message in said
    assert 'value="data sheet' in answer.text or "data sheet of 2026-03" in answer.text
    assert 'value="direction"' in answer.text
    assert session.exec(select(Component).where(Component.name == VALID["name"])).first() is None


def test_an_absurd_current_is_asked_about_and_kept_when_sent_again(
    client: TestClient, session: Session
) -> None:
    lamp = {**VALID, "peak_ma": "80 A"}
    asked = client.post("/components/new", data=lamp, follow_redirects=False)
    assert asked.status_code == 422
    assert "80 A is more than 20 A" in message_at(asked.text, "peak_ma")
    assert '<input type="hidden" name="sure-peak_ma" value="80 A">' in asked.text
    kept = client.post("/components/new", data={**lamp, "sure-peak_ma": "80 A"}, follow_redirects=False)
    assert kept.status_code == 303
    component = session.exec(select(Component).where(Component.code == "needle7")).one()
    assert component.peak_ma == 80_000


def test_another_absurd_figure_is_asked_about_again(client: TestClient) -> None:
    lamp = {**VALID, "peak_ma": "90 A", "sure-peak_ma": "80 A"}
    assert client.post("/components/new", data=lamp, follow_redirects=False).status_code == 422


@pytest.mark.parametrize(
    "name", ["<b>bold</b> & <script>alert(1)</script>", "n" * 300, "‮נהג‬ needle", "lamp 💡"]
)
def test_any_name_is_shown_as_text(client: TestClient, name: str) -> None:
    client.post("/components/new", data={**VALID, "name": name}, follow_redirects=False)
    for address in (
        "/components/needle7",
        "/components",
        "/components/needle7/edit",
        "/calculators/pin-count",
    ):
        page = client.get(address).text
        assert "<script>alert" not in page
        assert "<b>bold" not in page
    assert name in words_of(client.get("/components/needle7").text, "<h1>", "</h1>")


def test_the_list_shows_the_builders_own_first(client: TestClient) -> None:
    client.post("/components/new", data=VALID, follow_redirects=False)
    words = words_of(client.get("/components").text)
    assert "Your own 1" in words
    assert words.index("needle7") < words.index("gs4")
    assert "2 outputs; 1 output, shared as gdrv" in words[words.index("needle7") :][:200]


def test_the_empty_form_offers_rows_for_terminals(client: TestClient) -> None:
    page = client.get("/components/new").text
    assert page.count('name="terminal_name_') == 4
    assert message_at(page, "code") == ""
