"""Bringing a function list in: the preview, what is kept, the second paste, and the list sent back as text.

What should be kept is issue 2, "What the builder does", 2 and 3: reason alone decides these cases.
"""

import io
from datetime import date

import openpyxl
import pytest
from sqlalchemy import event
from sqlmodel import Session, col, select

from app.planning.board_edit import add_board
from app.planning.bring_in import BroughtIn, FunctionListRefused, ListPreview, keep_list, preview_list
from app.planning.choose import set_candidate
from app.planning.panel_edit import add_panel
from app.tables import Candidate, Component, Function, Panel, PinUse

HEADINGS = "Id\tPanel\tFunction\tKind\tRange\tSignal\tWiring\n"
AIRSPEED = "F001\tP01\tAirspeed\tgauge\t0-180 kt\tair.speed_kt\tgs4\n"
OIL = "F002\tP01\tOil lamp\tlight\tamber\tengine.oil\tled\n"


def bring_in(session: Session, text: str, panel_code: str = "") -> BroughtIn:
    return keep_list(session, preview_list(session, text, panel_code=panel_code))


def functions(session: Session) -> dict[str, Function]:
    return {f.code: f for f in session.exec(select(Function).order_by(Function.code)).all()}


def component(session: Session, code: str) -> Component:
    return session.exec(select(Component).where(Component.code == code)).one()


def chosen(session: Session, code: str) -> tuple[str, str] | None:
    """The component chosen for a function, and the reason."""
    row = session.exec(
        select(Component.code, Candidate.reason)
        .join(Candidate, col(Candidate.component_id) == Component.id)
        .join(Function, col(Function.id) == Candidate.function_id)
        .where(Function.code == code, Candidate.state == "chosen")
    ).first()
    return (row[0], row[1]) if row else None


def outcomes(preview: ListPreview) -> list[str]:
    return [row.outcome for row in preview.rows]


def test_a_preview_writes_nothing(empty_session: Session) -> None:
    preview = preview_list(empty_session, HEADINGS + AIRSPEED)
    assert outcomes(preview) == ["new"]
    assert preview.new_panels == ("P01",)
    assert not empty_session.new
    assert empty_session.exec(select(Function)).all() == []
    assert empty_session.exec(select(Panel)).all() == []


def test_a_list_is_kept_with_its_ranges_read_and_its_components_chosen(empty_session: Session) -> None:
    kept = bring_in(empty_session, HEADINGS + AIRSPEED + OIL)
    assert (kept.new, kept.changed, kept.same, kept.refused) == (2, 0, 0, 0)
    assert kept.panel_codes == ("P01",)
    airspeed = functions(empty_session)["F001"]
    assert (airspeed.kind, airspeed.range_text) == ("needle", "0-180 kt")
    assert (airspeed.low, airspeed.high, airspeed.unit) == (0.0, 180.0, "kt")
    assert functions(empty_session)["F002"].colour == "amber"
    assert chosen(empty_session, "F001") == ("gs4", "from the function list")


def test_rows_that_name_no_panel_go_on_the_one_given(empty_session: Session) -> None:
    add_panel(empty_session, "P07", "Weapons")
    bring_in(empty_session, "Airspeed\tneedle\t0-180 kt", panel_code="p07")
    assert functions(empty_session)["F001"].panel_id == empty_session.exec(select(Panel.id)).one()


def test_a_row_without_any_panel_is_refused_and_says_so(empty_session: Session) -> None:
    (row,) = preview_list(empty_session, "Function\tKind\nAirspeed\tneedle").rows
    assert (row.outcome, row.reason) == (
        "refused",
        "no panel is named; name one in the list or choose one for all rows",
    )


def test_a_refused_row_leaves_the_others_to_be_kept(empty_session: Session) -> None:
    preview = preview_list(empty_session, HEADINGS + "F009\tP01\t\tlight\t\t\tled\n" + OIL)
    assert outcomes(preview) == ["refused", "new"]
    assert preview.rows[0].reason == "it has no name"
    assert keep_list(empty_session, preview).new == 1
    assert list(functions(empty_session)) == ["F002"]


def test_a_second_paste_of_a_corrected_list_changes_rows_instead_of_doubling_them(
    empty_session: Session,
) -> None:
    bring_in(empty_session, HEADINGS + AIRSPEED + OIL)
    preview = preview_list(empty_session, HEADINGS + AIRSPEED.replace("180 kt", "200 kt") + OIL)
    assert outcomes(preview) == ["changed", "same"]
    assert preview.rows[0].changes == (("range", "0-180 kt", "0-200 kt"), ("high", "180", "200"))
    kept = keep_list(empty_session, preview)
    assert (kept.new, kept.changed, kept.same) == (0, 1, 1)
    assert len(functions(empty_session)) == 2
    assert functions(empty_session)["F001"].high == 200


@pytest.mark.parametrize("name", ["Oil lamp", "OIL LAMP", " oil  lamp", "Oillamp"])
def test_without_an_id_a_row_is_matched_by_panel_and_name_case_and_spaces_ignored(
    empty_session: Session, name: str
) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    bring_in(empty_session, f"Panel\tFunction\tKind\tRange\np01\t{name}\tlight\tred")
    assert [(f.code, f.colour) for f in functions(empty_session).values()] == [("F002", "red")]


def test_the_same_name_on_another_panel_is_another_function(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    bring_in(empty_session, "Panel\tFunction\tKind\nP02\tOil lamp\tlight")
    assert len(functions(empty_session)) == 2


def test_a_row_missing_from_the_new_list_stays_and_is_named(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + AIRSPEED + OIL)
    preview = preview_list(empty_session, HEADINGS + AIRSPEED)
    assert preview.not_named == (("F002", "Oil lamp"),)
    keep_list(empty_session, preview)
    assert list(functions(empty_session)) == ["F001", "F002"]


def test_two_rows_of_one_function_are_refused_even_when_one_goes_by_id_and_one_by_name(
    empty_session: Session,
) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    preview = preview_list(
        empty_session, HEADINGS + "F002\tP01\tOil pressure lamp\tlight\n\tP01\tOil lamp\tlight"
    )
    assert outcomes(preview) == ["changed", "refused"]
    assert preview.rows[1].reason == "the same function as line 2"


def test_an_id_in_another_case_is_the_same_id(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    preview = preview_list(empty_session, HEADINGS + OIL.replace("F002", "f 002"))
    assert outcomes(preview) == ["same"]


@pytest.mark.parametrize("code", ["..", "-F1", "F1.", "F/1", "F" * 25])
def test_an_id_that_cannot_stand_in_an_address_is_refused(empty_session: Session, code: str) -> None:
    (row,) = preview_list(empty_session, HEADINGS + OIL.replace("F002", code)).rows
    assert row.outcome == "refused"
    assert "the id" in row.reason


@pytest.mark.parametrize(
    ("column", "size", "longest"), [("Function", 301, 300), ("Kind", 61, 60), ("Signal", 301, 300)]
)
def test_a_cell_longer_than_its_form_takes_is_refused_with_both_counts(
    empty_session: Session, column: str, size: int, longest: int
) -> None:
    cells = {"Panel": "P01", "Function": "Oil lamp", "Kind": "light", "Signal": "a.b"} | {column: "x" * size}
    (row,) = preview_list(empty_session, "\t".join(cells) + "\n" + "\t".join(cells.values())).rows
    assert row.outcome == "refused"
    assert f"{size} characters; at most {longest} are kept" in row.reason


def test_an_unknown_wiring_word_is_kept_as_text_and_nothing_is_chosen(empty_session: Session) -> None:
    preview = preview_list(empty_session, HEADINGS + OIL.replace("led", "magic lamp"))
    assert "'magic lamp' is no component of the list" in preview.rows[0].remarks[0]
    keep_list(empty_session, preview)
    assert functions(empty_session)["F002"].wiring_text == "magic lamp"
    assert chosen(empty_session, "F002") is None


def test_a_component_chosen_by_hand_outlives_a_second_paste_of_the_same_wiring(
    empty_session: Session,
) -> None:
    bring_in(empty_session, HEADINGS + OIL.replace("led", "magic lamp"))
    oil = functions(empty_session)["F002"]
    set_candidate(empty_session, oil, component(empty_session, "px").id or 0, "chosen", "brighter")
    kept = bring_in(empty_session, HEADINGS + OIL.replace("led", "magic lamp").replace("amber", "red"))
    assert kept.changed == 1
    assert chosen(empty_session, "F002") == ("px", "brighter")


def test_the_reason_of_a_choice_outlives_a_second_paste_that_makes_the_same_choice(
    empty_session: Session,
) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    oil = functions(empty_session)["F002"]
    set_candidate(empty_session, oil, component(empty_session, "led").id or 0, "chosen", "two in a drawer")
    bring_in(empty_session, HEADINGS + OIL.replace("amber", "red"))
    assert chosen(empty_session, "F002") == ("led", "two in a drawer")


def test_a_new_wiring_word_changes_the_component_and_the_preview_says_so(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    preview = preview_list(empty_session, HEADINGS + OIL.replace("led", "px"))
    assert ("component", "led", "px") in preview.rows[0].changes
    keep_list(empty_session, preview)
    assert chosen(empty_session, "F002") == ("px", "from the function list")
    states = {c.component_id: c.state for c in empty_session.exec(select(Candidate)).all()}
    assert states[component(empty_session, "led").id or 0] == "rejected"


def test_a_new_wiring_word_that_is_unknown_leaves_none_chosen_and_the_preview_says_so(
    empty_session: Session,
) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    preview = preview_list(empty_session, HEADINGS + OIL.replace("led", "magic lamp"))
    assert ("component", "led", "none") in preview.rows[0].changes
    keep_list(empty_session, preview)
    assert chosen(empty_session, "F002") is None


def test_what_was_read_from_a_range_can_be_corrected_before_it_is_kept(empty_session: Session) -> None:
    corrections = {2: {"low": 20.0, "unit": "mph"}}
    keep_list(empty_session, preview_list(empty_session, HEADINGS + AIRSPEED, corrections=corrections))
    airspeed = functions(empty_session)["F001"]
    assert (airspeed.low, airspeed.high, airspeed.unit) == (20.0, 180.0, "mph")


def test_what_was_corrected_outlives_a_second_paste_of_the_same_range(empty_session: Session) -> None:
    keep_list(empty_session, preview_list(empty_session, HEADINGS + AIRSPEED, corrections={2: {"low": 20.0}}))
    preview = preview_list(empty_session, HEADINGS + AIRSPEED)
    assert outcomes(preview) == ["same"]
    assert preview.rows[0].values["low"] == 20.0


def test_a_range_whose_ends_are_the_same_after_a_correction_is_refused(empty_session: Session) -> None:
    (row,) = preview_list(empty_session, HEADINGS + AIRSPEED, corrections={2: {"low": 180.0}}).rows
    assert row.reason == "the low end of its range, 180, is not below the high end, 180"


def test_positions_come_from_the_wiring_word_or_from_their_own_column(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + "F003\tP01\tMode\tselector\t\t\tlad n=6\n")
    assert functions(empty_session)["F003"].positions == 6
    bring_in(empty_session, "Id\tFunction\tn\nF003\tMode\t8")
    assert functions(empty_session)["F003"].positions == 8


def test_a_function_named_for_a_board_goes_on_it_and_its_pins_are_solved(empty_session: Session) -> None:
    board = add_board(empty_session, "BD01", "T8S")
    bring_in(empty_session, "Panel\tBoard\tFunction\tKind\tWiring\nP01\tbd01\tOil lamp\tlight\tled")
    oil = functions(empty_session)["F001"]
    assert oil.board_id == board.id
    assert len(empty_session.exec(select(PinUse).where(PinUse.function_id == oil.id)).all()) == 1


def test_a_board_that_is_not_there_is_remarked_and_the_function_is_on_none(empty_session: Session) -> None:
    preview = preview_list(empty_session, "Panel\tBoard\tFunction\tKind\nP01\tBD99\tOil lamp\tlight")
    assert preview.rows[0].remarks == ("board BD99 is not in this cockpit: the function is on no board yet",)
    keep_list(empty_session, preview)
    assert functions(empty_session)["F001"].board_id is None


def test_a_function_moved_to_another_panel_stands_last_there(empty_session: Session) -> None:
    bring_in(empty_session, "Panel\tFunction\tKind\nP01\tA\tlight\nP01\tB\tlight\nP02\tC\tlight")
    preview = preview_list(empty_session, "Id\tPanel\tFunction\nF001\tP02\tA")
    assert preview.rows[0].changes == (("panel", "P01", "P02"),)
    keep_list(empty_session, preview)
    moved = functions(empty_session)
    assert (moved["F003"].place, moved["F001"].place) == (0, 1)


def test_ids_given_by_the_program_pass_over_those_of_the_list(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + "\tP01\tFirst\tlight\nF001\tP01\tSecond\tlight\n")
    assert {f.code: f.name for f in functions(empty_session).values()} == {"F001": "Second", "F002": "First"}


def test_a_panel_named_in_words_gets_an_id_of_its_own(empty_session: Session) -> None:
    bring_in(empty_session, "Panel\tFunction\tKind\nFuel and oil\tOil lamp\tlight\nfuel AND oil\tFuel\tlight")
    assert [(p.code, p.name) for p in empty_session.exec(select(Panel)).all()] == [("P01", "Fuel and oil")]


def test_an_empty_list_is_refused(empty_session: Session) -> None:
    with pytest.raises(FunctionListRefused, match="there is nothing in it"):
        preview_list(empty_session, " \n \n")


def test_a_list_may_give_ids_later_to_functions_that_were_brought_in_without_any(
    empty_session: Session,
) -> None:
    bring_in(empty_session, "Panel\tFunction\tKind\nP01\tOil lamp\tlight\nP01\tFuel lamp\tlight")
    ids = {f.name: f.id for f in functions(empty_session).values()}
    preview = preview_list(empty_session, "Id\tPanel\tFunction\nF010\tP01\tOil lamp\nF001\tP01\tFuel lamp")
    assert [row.changes for row in preview.rows] == [(("id", "F001", "F010"),), (("id", "F002", "F001"),)]
    keep_list(empty_session, preview)
    assert {f.code: (f.name, f.id) for f in functions(empty_session).values()} == {
        "F001": ("Fuel lamp", ids["Fuel lamp"]),
        "F010": ("Oil lamp", ids["Oil lamp"]),
    }


def test_an_id_of_another_panels_function_under_another_name_is_refused(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + OIL)
    (row,) = preview_list(empty_session, HEADINGS + "F002\tP02\tFlaps\tlever or knob\n").rows
    assert row.outcome == "refused"
    assert row.reason.startswith("the id F002 is that of 'Oil lamp' on P01")


def test_an_id_whose_function_keeps_it_is_refused_to_another(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + AIRSPEED + OIL)
    preview = preview_list(empty_session, HEADINGS + "F002\tP01\tAirspeed\tgauge\n")
    assert [row.outcome for row in preview.rows] == ["changed"]  # the id wins: F002 takes the new name
    assert ("name", "Oil lamp", "Airspeed") in preview.rows[0].changes


@pytest.mark.parametrize("number", ["0", "101"])
def test_a_number_of_positions_that_no_selector_has_is_left_out_with_a_remark(
    empty_session: Session, number: str
) -> None:
    preview = preview_list(empty_session, f"Panel\tFunction\tKind\tn\nP01\tMode\tselector\t{number}")
    assert preview.rows[0].remarks == (f"{number} positions are not from 1 to 100: left out",)
    keep_list(empty_session, preview)
    assert functions(empty_session)["F001"].positions is None


def test_a_row_without_a_range_shows_what_its_function_has_and_leaves_it(empty_session: Session) -> None:
    bring_in(empty_session, HEADINGS + AIRSPEED)
    (row,) = preview_list(empty_session, "Id\tFunction\tSignal\nF001\tAirspeed\tair.kt").rows
    assert (row.shown["low"], row.shown["high"], row.shown["unit"]) == (0.0, 180.0, "kt")
    assert row.changes == (("signal", "air.speed_kt", "air.kt"),)


def test_control_characters_do_not_come_into_a_name(empty_session: Session) -> None:
    bring_in(empty_session, "Panel\tFunction\tKind\nP01\tOil\x07 lamp\tlight")
    assert functions(empty_session)["F001"].name == "Oil lamp"


def test_the_number_of_queries_does_not_grow_with_the_list(empty_session: Session) -> None:
    seen: list[str] = []

    def note(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    def queries(count: int, panel: str) -> int:
        lamps = "".join(f"{panel}\tLamp {n}\tlight\tled\n" for n in range(count))
        seen.clear()
        bring_in(empty_session, "Panel\tFunction\tKind\tWiring\n" + lamps)
        return len([text for text in seen if text.startswith("SELECT")])

    event.listen(empty_session.get_bind(), "before_cursor_execute", note)
    assert queries(2, "P01") == queries(80, "P02")


# The list sent back as text: the second reading must say what the first said.


def said(preview: ListPreview) -> list[tuple[int, str, str, str]]:
    return [(r.line, r.outcome, r.reason, str(r.values.get("name", ""))) for r in preview.rows]


def read_again(session: Session, preview: ListPreview) -> ListPreview:
    return preview_list(
        session,
        preview.as_text,
        columns={column.index: column.field for column in preview.list.columns},
        has_headings=preview.list.has_headings,
        is_sent_back=True,
    )


@pytest.mark.parametrize(
    "text",
    [
        HEADINGS + AIRSPEED + "\n\n" + OIL,
        "Panel,Function,Kind\nP01,Oil lamp,light\nP01,Altimeter, main,needle\n",
        'Panel;Function;Kind\nP01;"Oil; hot";light\nP01;Oil\n',
        "F001\tP01\tAirspeed\tgauge\t0-180 kt\tair.speed_kt\tgs4\nF002\tP01\tOil lamp\tlight\tamber\ta.b\tled",
        "Panel\tFunction\tKind\nP01\t" + "x" * 2_500 + "\tlight\nP01\tOil\tlight",
        "Panel\tFunction\tKind\t\nP01\tOil\tlight\tsaid\n",
        "Panel\tFunction\tKind\tRange\nP01\tOil\tdisplay\t2026-05-03",
        "Panel,Function,Kind\nP01,Oil,light\nalone\nlonely\nsingle\n",
        "Function\nOil lamp, left\nFuel; right\n",
        'Panel\tFunction\tKind\nP01\t"Oil\nlamp"\tlight\nP01\tFuel "low"\tlight',
    ],
    ids=[
        *("gaps", "too many", "quoted", "bare", "too long", "empty heading", "date"),
        *("ragged", "one column", "two lines"),
    ],
)
def test_the_list_read_again_from_its_text_says_the_same_of_each_row(
    empty_session: Session, text: str
) -> None:
    first = preview_list(empty_session, text)
    again = read_again(empty_session, first)
    is_two_lines = "Oil\nlamp" in text  # a cell on two lines comes back on one: later lines move up
    assert [row[1:] for row in said(again)] == [row[1:] for row in said(first)]
    assert is_two_lines or said(again) == said(first)
    assert read_again(empty_session, again).as_text == again.as_text


def workbook(*rows: tuple[object, ...]) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in rows:
        sheet.append(row)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def test_a_workbook_read_again_still_refuses_the_range_that_became_a_date(empty_session: Session) -> None:
    data = workbook(
        ("Panel", "Function", "Kind", "Range"),
        ("P01", "Mode", "selector", date(2026, 5, 3)),
        ("P01", "Oil", "light", "red"),
    )
    first = preview_list(empty_session, data, "list.xlsx")
    assert outcomes(first) == ["refused", "new"]
    again = read_again(empty_session, first)
    assert outcomes(again) == ["refused", "new"]
    assert "2026-05-03" in again.rows[0].reason
