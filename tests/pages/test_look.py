"""The inks against WCAG 2.2, and the templates against the content security policy."""

import re
from pathlib import Path

import pytest

APP = Path(__file__).parents[2] / "app"
INKS = {
    name: {"light": light, "dark": dark}
    for name, light, dark in re.findall(
        r"--([a-z-]+): light-dark\((#[0-9a-f]{6}), (#[0-9a-f]{6})\)",
        (APP / "static/coaming.css").read_text("utf-8"),
    )
}
TEMPLATES = sorted((APP / "pages/templates").glob("*.html"))


def luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.2, definition of "relative luminance"."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio, WCAG 2.2, definition of "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_contrast_of_black_on_white_is_the_21_of_the_standard() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # From memory of the common example: #767676 is the lightest grey that passes 4.5 on white.
    assert contrast("#767676", "#ffffff") >= 4.5 > contrast("#777777", "#ffffff")


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ink", ["ink", "soft", "act", "stop", "caution", "fine"])
@pytest.mark.parametrize("ground", ["paper", "fill", "desk", "lit"])
def test_text_reads_on_every_ground(theme: str, ink: str, ground: str) -> None:
    assert contrast(INKS[ink][theme], INKS[ground][theme]) >= 4.5  # WCAG 2.2, 1.4.3, level AA


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), [("on-act", "act"), ("paper", "stop")])
def test_text_reads_on_buttons_and_filled_balloons(theme: str, ink: str, ground: str) -> None:
    assert contrast(INKS[ink][theme], INKS[ground][theme]) >= 4.5


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("ink", ["edge", "rule", "act", "stop"])
def test_edges_of_fields_and_bars_are_seen(theme: str, ink: str) -> None:
    assert contrast(INKS[ink][theme], INKS["paper"][theme]) >= 3  # WCAG 2.2, 1.4.11, level AA


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.name)
def test_a_template_carries_nothing_that_the_policy_would_block(template: Path) -> None:
    text = template.read_text("utf-8")
    assert not re.search(r"<[^>{]*\sstyle\s*=", text)
    assert not re.search(r"<style\b", text)
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r"(?:src|href)\s*=\s*[\"']\s*(?:https?:|//|javascript:)", text)


def test_the_stylesheet_and_scripts_fetch_nothing() -> None:
    for name in ("coaming.css", "coaming.js", "theme.js"):
        text = (APP / "static" / name).read_text("utf-8")
        assert not re.search(r"https?:|@import|url\((?!#)|fetch\(|eval\(", text)
