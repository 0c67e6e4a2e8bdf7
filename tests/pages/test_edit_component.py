"""Editing a component of the starter list: figures with their source, terminals, two tabs at once."""

import html
import re

from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.planning.board_edit import add_board
from app.planning.choose import set_candidate
from app.planning.panel_edit import add_panel
from app.tables import Component, Function, PinUse, Terminal
from tests.pages.sheet_text import message_at, words_of


def form_of(client: TestClient, code: str) -> dict[str, str | list[str]]:
    """The form as the browser would send it back."""
    page = client.get(f"/components/{code}/edit").text
    start = page.index("component-form")
    form = html.unescape(page[start : page.index("</form>", start)])
    values: dict[str, str | list[str]] = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name = re.search(r'name="([^"]*)"', tag)
        value = re.search(r'value="([^"]*)"', tag)
        if name is None or ('type="checkbox"' in tag and " checked" not in tag):
            continue
        if 'type="checkbox"' in tag and name[1] in ("kinds", "libraries"):
            before = values.setdefault(name[1], [])
            assert isinstance(before, list)
            before.append(value[1] if value else "")
        else:
            values[name[1]] = value[1] if value else ""
    for name, body in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r"<option(?: value=\"([^\"]*)\")? selected>([^<]*)", body)
        values[name] = (chosen[1] or chosen[2]) if chosen else ""
    values.update(re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>\n?(.*?)</textarea>', form, re.DOTALL))
    return values


def kept(session: Session, code: str) -> Component:
    session.expire_all()
    return session.exec(select(Component).where(Component.code == code)).one()


def test_a_form_sent_back_unchanged_changes_nothing_but_the_version(
    client: TestClient, session: Session
) -> None:
    before = kept(session, "o64").model_dump()
    terminals = [
        t.name for t in session.exec(select(Terminal).where(Terminal.component_id == before["id"])).all()
    ]
    answer = client.post("/components/o64/edit", data=form_of(client, "o64"), follow_redirects=False)
    assert answer.status_code == 303
    after = kept(session, "o64").model_dump()
    assert after == {**before, "version": before["version"] + 1}
    now = [t.name for t in session.exec(select(Terminal).where(Terminal.component_id == before["id"])).all()]
    assert now == terminals


def test_a_measured_figure_replaces_a_guess(client: TestClient, session: Session) -> None:
    form = {**form_of(client, "svd"), "peak_ma": "0.62 A", "peak_mark": "measured"}
    assert client.post("/components/svd/edit", data=form, follow_redirects=False).status_code == 303
    servo = kept(session, "svd")
    assert (servo.peak_ma, servo.peak_mark, servo.typical_mark) == (620, "measured", "assumed")
    assert "620 mA measured" in words_of(client.get("/components/svd").text)


def test_an_emptied_row_takes_its_terminal_away_and_the_board_is_solved_anew(
    client: TestClient, session: Session
) -> None:
    panel = add_panel(session, "P1", "Fuel")
    board = add_board(session, "BD1", "T8S")
    function = Function(code="F1", panel_id=panel.id or 0, board_id=board.id, name="Left", kind="needle")
    session.add(function)
    session.flush()
    set_candidate(session, function, kept(session, "gs4").id or 0, "chosen")
    session.commit()
    on_pins = select(PinUse.terminal).where(col(PinUse.function_id) == function.id)
    assert len(session.exec(on_pins).all()) == 4
    form = {**form_of(client, "gs4"), "terminal_name_3": "", "terminal_need_3": ""}
    answer = client.post("/components/gs4/edit", data=form, follow_redirects=False)
    assert answer.status_code == 303
    assert "BD1" in answer.headers["location"]
    session.expire_all()
    assert len(session.exec(on_pins).all()) == 3


def test_the_second_of_two_tabs_is_told_sees_both_and_loses_nothing(
    client: TestClient, session: Session
) -> None:
    first = form_of(client, "svd")
    second = {**first, "peak_ma": "650", "terminal_name_0": "pulse", "note": "from my bench"}
    client.post("/components/svd/edit", data={**first, "name": "Small servo, blue"}, follow_redirects=False)
    told = client.post("/components/svd/edit", data=second, follow_redirects=False)
    assert told.status_code == 409
    both = words_of(told.text, '<section class="conflict"', "</section>")
    assert "Small servo, direct Small servo, blue" in both
    assert "650 700" in both
    assert "pulse: out" in both
    assert 'value="650"' in told.text
    assert "from my bench" in told.text
    assert kept(session, "svd").name == "Small servo, blue"
    assert kept(session, "svd").peak_ma == 700
    version = str(kept(session, "svd").version)
    assert f'name="version" value="{version}"' in told.text
    again = client.post("/components/svd/edit", data={**second, "version": version}, follow_redirects=False)
    assert again.status_code == 303
    assert (kept(session, "svd").name, kept(session, "svd").peak_ma) == ("Small servo, direct", 650)


def test_a_wrong_unit_keeps_what_was_typed(client: TestClient, session: Session) -> None:
    answer = client.post("/components/svd/edit", data={**form_of(client, "svd"), "typical_ma": "250 mV"})
    assert answer.status_code == 422
    assert "250 mV is a voltage" in message_at(answer.text, "typical_ma")
    assert 'value="250 mV"' in answer.text
    assert kept(session, "svd").typical_ma == 60


def test_a_component_does_the_same_as_itself_never(client: TestClient) -> None:
    answer = client.post("/components/svd/edit", data={**form_of(client, "svd"), "fewer_pins": "svd"})
    assert answer.status_code == 422
    assert "no other component svd" in message_at(answer.text, "fewer_pins")


def test_an_unknown_component_has_no_form(client: TestClient) -> None:
    assert client.get("/components/gs9/edit").status_code == 404
    assert client.post("/components/gs9/edit", data={"code": "gs9"}).status_code == 404
