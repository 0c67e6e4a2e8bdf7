"""Names that try to be more than names, figures that cannot be meant, and two tabs on one row, in a real browser."""

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser

MARKUP = "<script>document.title='taken'</script><marquee>Fuel</marquee> \"&amp;'"
LONG = "Bow thruster door " * 16 + "end of 300!!"  # 300 characters, as many as are kept
RIGHT_TO_LEFT = "לוח דלק \u202eABC"
EMOJI = "Fuel 🛟👩🏽‍✈️ panel"
HOSTILE = [MARKUP, LONG, RIGHT_TO_LEFT, EMOJI]

assert len(LONG) == 300


@pytest.mark.parametrize("name", HOSTILE, ids=["markup", "300 characters", "right to left", "emoji"])
@pytest.mark.parametrize("width", [1360, 390])
def test_a_name_is_shown_as_text_on_every_sheet_that_names_it(
    open_page: Callable[..., Page], address: str, name: str, width: int
) -> None:
    page = open_page(width=width)
    page.on("dialog", lambda dialog: pytest.fail(f"a name has opened a dialog: {dialog.message}"))

    page.goto(f"{address}/panels/new")
    page.locator("#f-code").fill("P01")
    page.locator("#f-name").fill(name)
    page.get_by_role("button", name="Keep").click()
    page.goto(f"{address}/panels/P01")
    form = page.locator("#add-function")
    form.locator("#f-name").fill(name)
    form.locator("#f-kind").fill("switch")
    form.get_by_label("Wiring word").fill("tg")
    form.get_by_role("button", name="Add it").click()
    page.goto(f"{address}/boards/new")
    page.locator("#f-code").fill("BD01")
    page.locator("#f-name").fill(name)
    page.get_by_label("Module").select_option(value="T8S")
    page.get_by_role("button", name="Keep").click()
    page.goto(f"{address}/functions/F001")
    page.get_by_label("Put it on").select_option("BD01")
    page.get_by_role("button", name="Put it there").click()
    page.goto(f"{address}/workshop/new")
    page.locator("#f-code").fill("MP01")
    page.locator("#f-name").fill(name)
    page.get_by_label("Panel").select_option(value="P01")
    page.get_by_role("button", name="Add the part").click()
    page.goto(f"{address}/power/supplies/new")
    page.locator("#f-name").fill(name)
    page.get_by_label("Voltage").fill("5")
    page.get_by_role("button", name="Keep").click()
    page.goto(f"{address}/cockpit/edit")
    page.locator("#f-name").fill(name)
    page.get_by_role("button", name="Keep").click()

    kept = " ".join(name.split())
    troubles = []
    for path in (
        "/",
        "/panels",
        "/panels/P01",
        "/panels/P01/edit",
        "/functions/F001",
        "/boards",
        "/boards/BD01",
        "/boards/BD01/functions",
        "/workshop",
        "/workshop/MP01",
        "/workshop/log",
        "/power",
        "/findings",
    ):
        page.goto(address + path)
        shown = page.evaluate(
            """() => document.querySelector("main").textContent
                 + [...document.querySelectorAll("main input")].map(each => each.value).join(" ")"""
        )
        if kept not in " ".join(shown.split()) and path != "/findings":
            troubles.append(f"{path} does not show the name")
        if page.evaluate("document.title") == "taken" or page.locator("main script, main marquee").count():
            troubles.append(f"{path} takes the name for markup")
        across = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if across > 0:
            troubles.append(f"{path} is {across} px too wide")
    assert troubles == []


@pytest.mark.parametrize("java_script_enabled", [True, False])
def test_of_two_tabs_saving_one_row_the_second_sees_both_and_loses_nothing(
    open_page: Callable[..., Page], address: str, *, java_script_enabled: bool
) -> None:
    first = open_page(java_script_enabled=java_script_enabled)
    first.goto(f"{address}/panels/new")
    first.locator("#f-code").fill("P01")
    first.locator("#f-name").fill("Fuel panel")
    first.get_by_role("button", name="Keep").click()
    second = open_page(java_script_enabled=java_script_enabled)
    for tab in (first, second):
        tab.goto(f"{address}/panels/P01/edit")
    first.locator("#f-name").fill("Fuel and fire")
    first.get_by_role("button", name="Keep").click()
    expect(first.get_by_role("heading", level=1)).to_contain_text("Fuel and fire")

    second.locator("#f-name").fill("Fuel, left")
    second.get_by_label("Note").fill("two crossfeed valves")
    second.get_by_role("button", name="Keep").click()
    told = second.get_by_role("alert")
    expect(told).to_contain_text("changed while you were editing")
    row = told.get_by_role("row").filter(has_text="Name")
    expect(row).to_contain_text("Fuel, left")
    expect(row).to_contain_text("Fuel and fire")
    expect(second.locator("#f-name")).to_have_value("Fuel, left")
    expect(second.get_by_label("Note")).to_have_value("two crossfeed valves")
    first.reload()
    expect(first.get_by_role("heading", level=1)).to_contain_text("Fuel and fire")

    second.get_by_role("button", name="Keep").first.click()  # seen both: now it is a decision
    expect(second.get_by_role("heading", level=1)).to_contain_text("Fuel, left")
    expect(second.get_by_text("two crossfeed valves")).to_be_visible()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("250 mV", "A"),
        ("3 1/0 A", "3 1/0"),
        ("-5", "below zero"),
        ("9**9**9", "not a unit"),
        ("250 A", "Save again to keep it"),
    ],
)
def test_a_figure_that_cannot_be_meant_is_told_at_its_field_and_stays_as_typed(
    open_page: Callable[..., Page], address: str, typed: str, said: str
) -> None:
    page = open_page()
    page.goto(f"{address}/power/supplies/new")
    page.locator("#f-name").fill("Supply")
    page.get_by_label("Voltage").fill("5")
    rating = page.locator("#f-rating_a")
    rating.fill(typed)
    page.get_by_role("button", name="Keep").click()
    expect(rating).to_have_attribute("aria-invalid", "true")
    expect(rating).to_have_value(typed)
    expect(page.locator("#e-rating_a")).to_contain_text(said)
    expect(page.locator("#f-name")).to_have_value("Supply")


def test_an_absurd_figure_is_kept_when_it_is_confirmed(open_page: Callable[..., Page], address: str) -> None:
    page = open_page()
    page.goto(f"{address}/power/supplies/new")
    page.locator("#f-name").fill("Welder")
    page.get_by_label("Voltage").fill("5")
    page.locator("#f-rating_a").fill("250 A")
    page.get_by_role("button", name="Keep").click()
    expect(page.locator("#e-rating_a")).to_be_visible()
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Power")
    expect(page.get_by_text("250 A").first).to_be_visible()


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("b.elf", b"\x7fELF" + bytes(30), "b.elf"),
        ("b.hex", b":00000001FE\n", "line 1"),
        ("b.bin", bytes(range(256)), "b.bin"),
    ],
)
def test_a_firmware_file_that_is_none_is_refused_with_file_place_and_reason(
    open_page: Callable[..., Page], address: str, tmp_path: Path, name: str, content: bytes, said: str
) -> None:
    page = open_page()
    page.goto(f"{address}/boards/new")
    page.locator("#f-code").fill("BD01")
    page.get_by_label("Module").select_option(value="T8S")
    page.get_by_role("button", name="Keep").click()
    page.goto(f"{address}/boards/BD01/firmware")
    (tmp_path / name).write_bytes(content)
    page.get_by_label("Firmware file").set_input_files(tmp_path / name)
    page.get_by_role("button", name="Upload").click()
    expect(page.locator("#e-file")).to_contain_text(said)
    expect(page.locator("#e-file")).to_contain_text("Nothing was kept")


def test_a_picture_named_gcode_is_refused(
    open_page: Callable[..., Page], address: str, tmp_path: Path
) -> None:
    page = open_page()
    page.goto(f"{address}/workshop/new")
    page.locator("#f-code").fill("MP01")
    page.locator("#f-name").fill("Bezel")
    page.get_by_role("button", name="Add the part").click()
    page.get_by_role("link", name="Add a revision").click()
    page.get_by_role("button", name="Add the revision").click()
    page.goto(f"{address}/workshop/MP01/revisions/1")
    (tmp_path / "photo.gcode").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20)
    page.get_by_label("G-code file").set_input_files(tmp_path / "photo.gcode")
    page.get_by_role("button", name="Upload and time it").click()
    expect(page.locator("#e-file")).to_contain_text("photo.gcode")
