"""What a person typed: read field by field, kept as typed, with a message at each field refused."""

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.pages.typed import LONGEST_NAME, Typed, TypedForm, typed_text
from app.tables import Supply

RTL = "לוח דלק"


def typed(**values: str) -> Typed:
    return Typed(values)


def test_text_is_trimmed_and_kept_as_it_is_otherwise() -> None:
    form = typed(name="  <b>Fuel</b>  \n panel 🛟 ", note=f" {RTL}\nsecond line ")
    assert form.text("name", "Name") == "<b>Fuel</b> panel 🛟"
    assert form.text("note", "Note", longest=2000) == f"{RTL}\nsecond line"
    assert form.is_fine
    assert form.value("name") == "  <b>Fuel</b>  \n panel 🛟 "


def test_a_name_of_three_hundred_characters_is_kept_and_one_more_is_refused() -> None:
    assert typed(name="x" * 300).text("name", "Name") == "x" * 300
    form = typed(name="x" * (LONGEST_NAME + 1))
    form.text("name", "Name")
    assert form.error("name") == "Name has 301 characters; at most 300 are kept."


def test_what_no_screen_can_show_is_left_out_of_a_text() -> None:
    assert typed(name="Fuel\x00 pan\x07el").text("name", "Name") == "Fuel panel"


@pytest.mark.parametrize("nothing", ["", "   ", "\t\n", "\x00"])
def test_a_text_that_is_needed_may_not_be_empty(nothing: str) -> None:
    form = typed(name=nothing)
    assert form.text("name", "Name", required=True) == ""
    assert form.error("name") == "Name is needed."


@pytest.mark.parametrize("code", ["P07", "BD-06", "gs4", "a.b_c", "Ä1", "7"])
def test_an_id_that_can_stand_in_an_address_is_kept(code: str) -> None:
    form = typed(code=code)
    assert form.code("code") == code
    assert form.is_fine


@pytest.mark.parametrize(
    "code",
    ["", "P 07", "P/07", "../P07", "P07.", "-P07", "P07?", "<P07>", "P#7", "x" * 25, "new", "log", "%2e"],
)
def test_an_id_that_could_not_be_reached_is_refused(code: str) -> None:
    form = typed(code=code)
    form.code("code")
    assert form.error("code")
    assert form.value("code") == code


@pytest.mark.parametrize(
    ("text", "want", "value"),
    [
        ("250", "current_ma", 250.0),
        ("0,25 A", "current_ma", 250.0),
        # NIST SP 811 (2008), table B.8: 1 in = 25.4 mm exactly.
        ("3 1/8 in", "length_mm", 79.375),
        ("", "length_mm", None),
        ("  ", "length_mm", None),
    ],
)
def test_a_quantity_is_read_into_the_unit_of_its_column(text: str, want: str, value: float | None) -> None:
    form = typed(figure=text)
    assert form.quantity("figure", want, "Figure") == value
    assert form.is_fine


@pytest.mark.parametrize(
    ("text", "want"),
    [
        ("250 mV", "current_ma"),
        ("3 1/0 in", "length_mm"),
        ("-5 mm", "length_mm"),
        ("much", "current_ma"),
        ("nan", "length_mm"),
        ("inf", "length_mm"),
        ("9**9**9 mm", "length_mm"),
        ("1" * 5000, "length_mm"),
        ("1e999", "length_mm"),
    ],
)
def test_a_figure_that_cannot_be_meant_is_refused_at_its_field_and_stays_as_typed(
    text: str, want: str
) -> None:
    form = typed(figure=text)
    assert form.quantity("figure", want, "Figure") is None
    assert form.error("figure")
    assert form.value("figure") == text


def test_an_absurd_figure_is_asked_about_once_and_kept_when_it_is_sent_again() -> None:
    form = typed(draw="80 A")
    form.quantity("draw", "current_ma", "Current of the lamp")
    assert "80 A is more than" in (form.error("draw") or "")
    assert "Save again to keep it." in (form.error("draw") or "")
    again = Typed(form.values)  # the form carries what was asked about
    assert again.quantity("draw", "current_ma", "Current of the lamp") == 80_000
    assert again.is_fine
    other = Typed({**form.values, "draw": "90 A"})
    other.quantity("draw", "current_ma", "Current of the lamp")
    assert other.error("draw")


@pytest.mark.parametrize(("text", "number"), [("0", 0), ("12", 12), ("1,234", 1234), (" 7 ", 7), ("", None)])
def test_a_whole_number_is_read(text: str, number: int | None) -> None:
    form = typed(count=text)
    assert form.whole("count", "Count", most=10_000) == number
    assert form.is_fine


@pytest.mark.parametrize("text", ["2.5", "1/2", "-1", "10001", "six", "²", "1e3", "0x10", "9" * 400])
def test_what_is_no_whole_number_within_bounds_is_refused(text: str) -> None:
    form = typed(count=text)
    form.whole("count", "Count", most=10_000)
    assert form.error("count")


def test_a_choice_is_one_of_those_offered() -> None:
    assert typed(kind="light").choice("kind", "Kind", ["light", "switch"]) == "light"
    form = typed(kind="<script>")
    form.choice("kind", "Kind", ["light", "switch"])
    assert form.error("kind")


@pytest.mark.parametrize(
    ("text", "version"), [("3", 3), ("", 0), ("-1", 0), ("x", 0), ("²", 0), ("9" * 30, 0), ("3.0", 0)]
)
def test_a_version_that_is_none_is_never_the_one_seen(text: str, version: int) -> None:
    assert typed(version=text).seen_version() == version


def test_the_first_message_at_a_field_stays() -> None:
    form = typed()
    form.refuse("name", "First.")
    form.refuse("name", "Second.")
    assert form.error("name") == "First."
    assert not form.is_fine


def test_a_row_fills_a_form_as_one_would_type_it() -> None:
    supply = Supply(code="PS01", name="Supply", volts=5.0, rating_a=None, load_share=0.8)
    form = Typed.of_row(supply, ("code", "volts", "rating_a", "load_share", "version"))
    assert form.values == {"code": "PS01", "volts": "5", "rating_a": "", "load_share": "0.8", "version": "1"}


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "on"),
        (False, ""),
        (12.5, "12.5"),
        (1e-7, "1e-07"),
        (1_234_567.0, "1234567"),
        (3, "3"),
    ],
)
def test_a_value_is_written_as_it_is_typed(value: object, text: str) -> None:
    assert typed_text(value) == text


def asked(form: dict[str, str], files: dict[str, tuple[str, bytes]] | None = None) -> dict[str, object]:
    """What the endpoint of a form gets."""
    app = FastAPI()

    @app.post("/")
    def take(form: TypedForm) -> dict[str, object]:
        upload = form.file("file", "File", required=False)
        return {
            "values": form.values,
            "lists": form.lists,
            "file": [upload.filename, len(upload.file.read())] if upload else None,
        }

    with TestClient(app) as client:
        answer: dict[str, object] = client.post("/", data=form, files=files).json()
    return answer


def test_values_and_files_of_a_form_arrive_as_sent() -> None:
    got = asked({"name": f"{RTL} 🛟"}, {"file": ("a.hex", b":00000001FF\n" * 200_000)})
    assert got["values"] == {"name": f"{RTL} 🛟"}
    assert got["file"] == ["a.hex", 2_400_000]


def test_a_file_field_left_empty_is_no_file() -> None:
    assert asked({"name": "x"}, {"file": ("", b"")})["file"] is None


def test_every_ticked_box_of_one_name_arrives() -> None:
    app = FastAPI()

    @app.post("/")
    def take(form: TypedForm) -> list[str]:
        return form.lists["function"]

    with TestClient(app) as client:
        assert client.post("/", data={"function": ["3", "1", "2"]}).json() == ["3", "1", "2"]
