import pytest

from app.readers.function_kind import KIND_WORDS, KINDS, is_kind_word, read_kind


def test_the_kinds_are_those_of_the_trade() -> None:
    # words.md, "Suggested function kinds", less the builder's own.
    assert KINDS == (
        "needle",
        "slide",
        "drum",
        "light",
        "display",
        "switch",
        "selector",
        "button",
        "encoder",
        "lever or knob",
        "holding switch",
        "backlight",
        "sounder",
    )
    assert set(KIND_WORDS.values()) == set(KINDS)


@pytest.mark.parametrize(
    ("text", "name", "kind"),
    [
        # scenario.md, head: gauge = needle (F007 = drum), analogue = lever or knob, holding = holding switch.
        ("gauge", "Airspeed", "needle"),
        ("gauge", "Attitude pitch drum", "drum"),
        ("drum", "Attitude pitch", "drum"),
        ("analogue", "Flap lever", "lever or knob"),
        ("holding", "Scoop hold switch", "holding switch"),
        ("slide", "Scoop position slide", "slide"),
        ("Gauges", "Airspeed", "needle"),
        (" LAMP ", "", "light"),
        ("push-button", "", "button"),
        ("lever/knob", "", "lever or knob"),
        ("switch", "Drum brake", "switch"),
        ("smoke  machine", "", "smoke machine"),
        ("", "", ""),
    ],
)
def test_a_word_of_a_list_is_taken_for_its_kind(text: str, name: str, kind: str) -> None:
    assert read_kind(text, name) == kind


def test_a_word_of_the_builders_own_is_not_known() -> None:
    assert is_kind_word("Gauge")
    assert not is_kind_word("smoke machine")
