"""The list of components: whole, of one kind, by a word; as a fragment and without a script."""

from fastapi.testclient import TestClient
from sqlalchemy import event
from sqlmodel import Session

from app.tables import Component, Terminal
from tests.pages.sheet_text import words_of


def test_the_starter_list_is_there_from_the_start(client: TestClient) -> None:
    words = words_of(client.get("/components").text)
    assert "27 of 27 components" in words  # 27 wiring words of the starter list
    assert "gs4 Gauge stepper, 4 pins direct needle, drum 4 outputs 5L 20 / 20 / 40 mA" in words
    assert "10 / 60 / 700 mA stalled" in words
    assert "1,024 bytes frame buffer, display, two-wire bus" in words


def test_a_kind_narrows_the_list_without_a_script(client: TestClient) -> None:
    page = client.get("/components?kind=selector").text
    assert "<h1>" in page
    assert "rot" in words_of(page)
    assert "gs4" not in words_of(page, '<div id="components"', "</main>")


def test_htmx_gets_only_the_list(client: TestClient) -> None:
    part = client.get("/components?kind=selector", headers={"hx-request": "true"}).text
    assert "<h1>" not in part
    assert "<html" not in part
    assert 'href="/components/rot"' in part
    assert 'href="/components/gs4"' not in part


def test_a_word_is_searched_for(client: TestClient) -> None:
    page = client.get("/components", params={"q": "expander servo"}).text
    assert "1 of 27 components hold “expander servo”" in words_of(page)


def test_what_suits_nothing_is_said(client: TestClient) -> None:
    page = client.get("/components", params={"kind": "<kite>"}).text
    assert "None yet" in words_of(page)
    assert "<kite>" not in page


def test_the_number_of_queries_does_not_grow_with_the_list(client: TestClient, session: Session) -> None:
    def queries() -> int:
        seen: list[str] = []

        def count(*args: object) -> None:
            seen.append(str(args[2]))

        engine = client.app.state.engine  # type: ignore[attr-defined]
        event.listen(engine, "before_cursor_execute", count)
        assert client.get("/components").status_code == 200
        event.remove(engine, "before_cursor_execute", count)
        return len(seen)

    first = queries()
    for k in range(40):
        component = Component(code=f"own{k}", name=f"Own {k}", kinds="light", peak_ma=1.0)
        session.add(component)
        session.flush()
        session.add(Terminal(component_id=component.id or 0, name="a", need="out"))
    session.commit()
    assert queries() == first
