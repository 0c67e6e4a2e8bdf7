"""A new builder's path through an empty cockpit, from the pasted list to the findings, in a real browser.

The wiring words' pins and the boards' pins are those of the scenario, sections 2 and 4: gs4 takes 4, o32 two of the
two-wire bus, tg, led, bt and pot one each, rot one a position; the small 8-bit board has 20 and gives 2 to its link.
"""

import os
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app.seed_demo.sample_gcode import SamplePart, sample_gcode

pytestmark = pytest.mark.browser

FIXTURES = Path(__file__).parents[1] / "readers" / "firmware"
SCREENSHOTS = os.environ.get("COAMING_SCREENSHOTS")

LIST = """\
Function\tKind\tRange\tSignal\tWiring
Left tank\tneedle\t0-600 kg\tfuel.left_kg\tgs4
Right tank\tneedle\t0-600 kg\tfuel.right_kg\tgs4
Total fuel\tdisplay\t4 numerals\tfuel.total_kg\to32
Crossfeed\tswitch\ton-off\tcmd.crossfeed\ttg
Left pump\tswitch\ton-off\tcmd.pump_left\ttg
Right pump\tswitch\ton-off\tcmd.pump_right\ttg
Tank selector\tselector\t4 positions\tcmd.tank\trot n=4
FUEL LOW\tlight\tamber\twarn.fuel_low\tled
Gauge test\tbutton\tmomentary\tcmd.gauge_test\tbt
Dimmer\tlever or knob\t0-100 %\tset.dimmer_pct\t
"""
CHOSEN_PINS = 4 + 4 + 1 + 1 + 1 + 4 + 1 + 1  # own, the dimmer's still missing
BUS_PINS, LINK_PINS, USABLE_PINS = 2, 2, 20


def keep_picture(page: Page, name: str) -> None:
    """Keep a picture where the run asks for it, to be looked at."""
    if SCREENSHOTS:
        page.screenshot(path=f"{SCREENSHOTS}/{name}.png", full_page=True)


def bring_list_in(page: Page, address: str) -> None:
    page.goto(address)
    page.get_by_role("link", name="Bring a function list in").click()
    page.get_by_label("Function list").fill(LIST)
    page.get_by_label("Panel of rows that name none").fill("Fuel panel")
    page.get_by_role("button", name="Show how it is taken").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("How the list is taken")
    expect(page.get_by_text("10 rows: 10 new, 0 changed, 0 as they are, 0 refused")).to_be_visible()
    # What was read from a range stands there to be corrected.
    line = page.get_by_role("row").filter(has_text="Left tank")
    expect(line.get_by_label("Low")).to_have_value("0")
    expect(line.get_by_label("High")).to_have_value("600")
    expect(line.get_by_label("Unit")).to_have_value("kg")
    expect(page.get_by_role("row").filter(has_text="Tank selector").get_by_label("Positions")).to_have_value(
        "4"
    )
    keep_picture(page, "1-preview")
    page.get_by_role("button", name="Keep 10 rows").click()


def functions_on_sheet(page: Page) -> int:
    return page.locator("tr[id^=item-]").count()


def choose_component(page: Page, address: str) -> None:
    """The dimmer's wiring column was empty: it is chosen by hand, with the reason, another one rejected."""
    page.goto(f"{address}/panels/P01")
    row = page.get_by_role("row").filter(has_text="Dimmer")
    expect(row).to_contain_text("not chosen")
    row.get_by_role("link", name="Dimmer").click()
    for component, state, reason in (
        ("enc", "reject it", "no end stops"),
        ("pot", "choose it", "has end stops"),
    ):
        page.get_by_label("Component", exact=True).select_option(value=component)
        page.get_by_label(state).check()
        page.get_by_label("Reason").fill(reason)
        page.get_by_role("button", name="Keep it").click()
        expect(page.get_by_role("row").filter(has_text=reason)).to_be_visible()
    expect(page.get_by_role("row").filter(has_text="has end stops")).to_contain_text("chosen")
    expect(page.get_by_role("row").filter(has_text="no end stops")).to_contain_text("rejected")
    keep_picture(page, "3-component")


def add_board(page: Page, address: str) -> None:
    page.goto(f"{address}/boards")
    page.get_by_role("link", name=re.compile("Add a board")).first.click()
    page.get_by_label("Id").fill("BD01")
    page.get_by_label("Name").fill("Fuel")
    page.get_by_label("Module").select_option(value="T8S")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("BD01")


def put_functions_on_board(page: Page) -> None:
    page.get_by_role("link", name="Put functions on").click()
    page.get_by_label(re.compile("P01")).check()
    page.get_by_role("button", name="Put them on BD01").click()


def upload_firmware(page: Page, address: str) -> None:
    page.goto(f"{address}/boards/BD01/firmware")
    page.get_by_label("Firmware file").set_input_files(FIXTURES / "t_atmega328p.elf")
    page.get_by_label("Note").fill("first light")
    page.get_by_role("button", name="Upload").click()


def add_supply(page: Page, address: str) -> None:
    page.goto(f"{address}/power")
    page.get_by_role("link", name="Add a supply").first.click()
    page.get_by_label("Name").fill("Enclosed supply 5 V 3 A")
    page.get_by_label("Voltage").fill("5")
    page.get_by_label("Rating", exact=False).first.fill("3")
    page.get_by_label("Source of the rating").select_option("listed")
    page.get_by_role("button", name="Keep").click()
    for rail in ("5L", "5M"):
        page.goto(f"{address}/power/rails/{rail}")
        page.get_by_label("Supply", exact=False).select_option(index=1)
        page.get_by_role("button", name="Keep").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Power")


def add_part(page: Page, address: str) -> None:
    page.goto(f"{address}/workshop")
    page.get_by_role("link", name="Add a part").first.click()
    page.get_by_label("Id").fill("MP01")
    page.get_by_label("Name").fill("Gauge bezel")
    page.get_by_label("Panel").select_option(value="P01")
    page.get_by_label("Material").fill("tough")
    page.get_by_label("Hours of one print").fill("2 h 30 min")
    page.get_by_label("Weight of one print").fill("26")
    page.get_by_role("button", name="Add the part").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("MP01")
    page.get_by_role("link", name="Add a revision").click()
    page.get_by_label("Why it changed").fill("first try")
    page.get_by_role("button", name="Add the revision").click()


def upload_gcode(page: Page, address: str, folder: Path) -> float:
    """Upload a file; returns the millimetres of filament that its own words push, summed here."""
    text = sample_gcode(SamplePart(20, 15, 2))
    path = folder / "bezel.gcode"
    path.write_text(text, encoding="utf-8")
    page.goto(f"{address}/workshop/MP01/revisions/1")
    page.get_by_label("G-code file").set_input_files(path)
    page.get_by_role("button", name="Upload and time it").click()
    expect(
        page.get_by_role("cell", name="bezel.gcode").or_(page.get_by_text("bezel.gcode")).first
    ).to_be_visible()
    pushed = [float(word) for word in re.findall(r"^G1 X.* E(\S+)", text, re.MULTILINE)]
    return sum(pushed)


def log_attempt(page: Page, address: str) -> None:
    page.goto(f"{address}/workshop/MP01/log")
    page.get_by_label("failed").check()
    page.get_by_label("wrong size").check()
    page.get_by_label("What happened").fill("bore 0.2 mm tight")
    page.get_by_role("button", name="Log it").click()


@pytest.mark.parametrize("java_script_enabled", [True, False], ids=["with scripts", "without scripts"])
def test_a_new_builder_comes_from_a_pasted_list_to_the_findings(
    open_page: Callable[..., Page], address: str, tmp_path: Path, *, java_script_enabled: bool
) -> None:
    page = open_page(java_script_enabled=java_script_enabled)

    # 1 and 2: an empty cockpit says what goes there; the list is shown first and then kept.
    bring_list_in(page, address)
    page.goto(f"{address}/panels/P01")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Fuel panel")
    assert functions_on_sheet(page) == 10
    keep_picture(page, "2-panel")

    # 3: the wiring column chose nine components; the tenth is chosen by hand.
    choose_component(page, address)

    # 4: a board, its functions, its pins.
    add_board(page, address)
    keep_picture(page, "4-board-empty")
    put_functions_on_board(page)
    page.goto(f"{address}/boards/BD01")
    own = CHOSEN_PINS + 1  # and the dimmer's
    needed = own + BUS_PINS + LINK_PINS
    short = f"BD01 needs {needed} pins and has {USABLE_PINS} usable: short by {needed - USABLE_PINS}"
    expect(page.get_by_text(short).first).to_be_visible()
    expect(page.get_by_text(f"{needed} of {USABLE_PINS}").first).to_be_visible()
    expect(page.locator("main svg").first).to_be_visible()
    keep_picture(page, "4-board")

    # 5: firmware, measured. avr-size -A of this file: .text 336, .data 10, .bss 100, .noinit 7, .eeprom 16.
    upload_firmware(page, address)
    build = page.get_by_text("program 346 bytes")
    expect(build).to_contain_text("static memory 117 bytes")
    expect(build).to_contain_text("EEPROM 16 bytes")
    expect(build).to_contain_text("measured")
    keep_picture(page, "5-firmware")

    # 6: a supply and what its rails carry.
    add_supply(page, address)
    expect(page.get_by_text("with everything at its peak").first).to_be_visible()
    keep_picture(page, "6-power")

    # 7: a part, its G-code timed, an attempt logged.
    add_part(page, address)
    pushed_mm = upload_gcode(page, address, tmp_path)
    expect(page.get_by_text(re.compile(rf"{pushed_mm / 1000:.1f}\d*\s*m\b")).first).to_be_visible()
    keep_picture(page, "7-gcode")
    log_attempt(page, address)
    page.goto(f"{address}/workshop/MP01")
    expect(page.get_by_text("bore 0.2 mm tight").first).to_be_visible()
    expect(page.get_by_text("0 of 1").first).to_be_visible()
    keep_picture(page, "7-part")

    # 8: the findings, worst first, each with a way to where it is mended.
    page.goto(f"{address}/findings")
    first = page.get_by_role("listitem").filter(has_text="short by").first
    expect(first).to_contain_text(short)
    keep_picture(page, "8-findings")
    first.get_by_role("link", name="See the board's pins").click()
    expect(page).to_have_url(f"{address}/boards/BD01")
    page.goto(address)
    expect(page.get_by_text(short).first).to_be_visible()
    keep_picture(page, "9-cockpit")
