"""Every kind of sheet through an accessibility engine, light and dark, wide and narrow; nothing scrolls sideways."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from fastapi.testclient import TestClient
from playwright.sync_api import Page, expect

from app.main import build_app
from app.settings import Settings
from tests.browser.conftest import served
from tests.pages.sheet_reader import kind_of, walk

pytestmark = pytest.mark.browser

WIDE, NARROW = 1360, 390
CONTRAST = {"runOnly": {"type": "rule", "values": ["color-contrast"]}, "resultTypes": ["violations"]}
# The fullest of their kinds, and those with something amiss, beside the one of each kind that is found first.
BESIDES = ("/panels/P05", "/panels/P07", "/boards/BD04", "/boards/BD06", "/functions/F012", "/workshop/MP07")


@pytest.fixture(scope="module")
def sheets(demo_settings: Settings) -> list[str]:
    """One address of each kind that a link of the demo leads to."""
    by_kind: dict[str, str] = {}
    with TestClient(build_app(demo_settings), base_url="http://127.0.0.1") as client:
        for path, found in walk(client, of_each_kind=2):
            if found.content == "text/html" and found.status == 200:
                by_kind.setdefault(kind_of(path), path)
    return [*by_kind.values(), *BESIDES]


@pytest.fixture(scope="module")
def empty_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with served(Settings(tmp_path_factory.mktemp("empty"))) as address:
        yield address


def amiss(page: Page, options: object = None) -> list[str]:
    """What the engine finds against the sheet as it is shown now."""
    results = Axe().run(page, options=options or {"resultTypes": ["violations"]})
    return [
        f"{violation['id']}: {violation['help']}: {[node['target'] for node in violation['nodes'][:3]]}"
        for violation in results.response["violations"]
    ]


def troubles_of(page: Page) -> list[str]:
    """The sheet that is open, in both lights and at both widths."""
    troubles = []
    for width in (WIDE, NARROW):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme="light")
        troubles += [f"{width} light: {said}" for said in amiss(page)]
        page.emulate_media(color_scheme="dark")
        troubles += [f"{width} dark: {said}" for said in amiss(page, CONTRAST)]
        across = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if across > 0:
            troubles.append(f"{width}: {across} px stand out sideways: {standing_out(page)}")
    return troubles


def standing_out(page: Page) -> object:
    """The elements that reach past the right edge, the innermost first."""
    return page.evaluate(
        """() => [...document.querySelectorAll("main *")].reverse()
             .filter(each => each.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
             .slice(0, 3).map(each => each.outerHTML.slice(0, 80))"""
    )


def test_no_kind_of_sheet_keeps_anyone_out(
    open_page: Callable[..., Page], demo_address: str, sheets: list[str]
) -> None:
    assert len(sheets) > 30
    page = open_page()
    troubles = {}
    for path in sheets:
        page.goto(demo_address + path)
        found = troubles_of(page)
        if found:
            troubles[path] = found
    assert troubles == {}


@pytest.mark.parametrize(
    "path",
    ["/", "/panels", "/boards", "/power", "/workshop", "/findings", "/bring-in", "/workshop/log", "/nowhere"],
)
def test_an_empty_sheet_keeps_no_one_out(
    open_page: Callable[..., Page], empty_address: str, path: str
) -> None:
    page = open_page()
    page.goto(empty_address + path)
    assert troubles_of(page) == []


@pytest.mark.parametrize(
    ("path", "button"),
    [
        ("/panels/new", "Keep"),
        ("/boards/new", "Keep"),
        ("/power/supplies/new", "Keep"),
        ("/workshop/new", "Add the part"),
        ("/bring-in", "Show how it is taken"),
    ],
)
def test_a_refused_form_says_so_to_everyone(
    open_page: Callable[..., Page], empty_address: str, path: str, button: str
) -> None:
    page = open_page()
    page.goto(empty_address + path)
    page.get_by_role("button", name=button).click()
    summary = page.locator(".error-summary")
    expect(summary).to_be_focused()
    summary.get_by_role("link").first.click()
    assert page.evaluate("document.activeElement.getAttribute('aria-invalid')") == "true"
    assert troubles_of(page) == []


def test_the_preview_of_a_list_keeps_no_one_out(open_page: Callable[..., Page], empty_address: str) -> None:
    page = open_page()
    page.goto(empty_address + "/bring-in")
    page.get_by_label("Function list").fill(
        "Airspeed, needle, 0-180 kt, air.speed_kt, gs4\n, needle\nx, y, z"
    )
    page.get_by_label("Panel of rows that name none").fill("P01")
    page.get_by_role("button", name="Show how it is taken").click()
    assert troubles_of(page) == []


def test_a_sheet_is_walked_by_keyboard_alone(open_page: Callable[..., Page], demo_address: str) -> None:
    page = open_page()
    page.goto(demo_address + "/panels/P05")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the sheet"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.id") == "sheet"
    seen = set()
    for _ in range(25):
        page.keyboard.press("Tab")
        seen.add(page.evaluate("document.activeElement.outerHTML.slice(0, 200)"))
        is_shown = page.evaluate(
            """() => { const at = document.activeElement, style = getComputedStyle(at);
                return style.outlineStyle !== "none" || at.matches(".balloon.lit"); }"""
        )
        assert is_shown, page.evaluate("document.activeElement.outerHTML.slice(0, 200)")
    assert len(seen) > 20


def test_dark_sheets_are_remembered(open_page: Callable[..., Page], demo_address: str) -> None:
    page = open_page(color_scheme="light")
    page.goto(demo_address)
    light = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.get_by_role("button", name="Dark sheets").click()
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    assert dark != light
    page.goto(demo_address + "/findings")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == dark


def test_a_sheet_prints_without_what_only_a_screen_needs(
    open_page: Callable[..., Page], demo_address: str, tmp_path: Path
) -> None:
    page = open_page()
    page.goto(demo_address + "/panels/P05")
    page.emulate_media(media="print")
    expect(page.locator("button:visible")).to_have_count(0)
    expect(page.locator(".register-wide")).to_be_hidden()
    expect(page.get_by_role("heading", level=1)).to_be_visible()
    page.pdf(path=tmp_path / "sheet.pdf", format="A4")
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-")


def test_a_face_prints_at_its_true_size(open_page: Callable[..., Page], demo_address: str) -> None:
    """CSS Values and Units 3, section 6.2: 1in is 96px and 25.4mm; within 0.1 mm, as a browser rounds."""
    page = open_page(width=794)  # A4
    page.goto(demo_address + "/panels/P11")
    page.emulate_media(media="print")
    width = "each => each.getBoundingClientRect().width"
    height = "each => each.getBoundingClientRect().height"
    plate, ruler = page.locator("svg.face rect.plate"), page.locator(".check-ruler path")
    px = 96 / 25.4
    assert plate.evaluate(width) == pytest.approx(
        146 * px, abs=0.1 * px
    )  # scenario section 1: P11 is 146 x 95 mm
    assert plate.evaluate(height) == pytest.approx(95 * px, abs=0.1 * px)
    assert ruler.evaluate(width) == pytest.approx(100 * px, abs=0.1 * px)
