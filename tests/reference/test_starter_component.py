import json
from importlib.resources import files
from typing import Any

import pytest

from app.reference.starter_component import (
    BASE_LIBRARY,
    KINDS,
    NEEDS,
    STACK_RESERVE_BYTES,
    UnknownStarterComponent,
    starter_carriers,
    starter_component,
    starter_components,
    starter_libraries,
    starter_rails,
)

SCENARIO: dict[str, Any] = json.loads(
    files("app.seed_demo").joinpath("scenario.json").read_text(encoding="utf-8")
)
WORDS: dict[str, dict[str, Any]] = SCENARIO["wiring_styles"]
KIND_OF_WORD = {"gauge": "needle"}  # as an import takes the demo's words (scenario.md, head)


def own_and_shared(code: str) -> tuple[int, dict[str, int]]:
    """Own pins at one position and pins of each shared group, without contacts of a matrix."""
    own, shared = 0, dict[str, int]()
    for terminal in starter_component(code).terminals:
        if terminal.shared_as:
            shared[terminal.shared_as] = shared.get(terminal.shared_as, 0) + 1
        elif terminal.need not in ("contact", "none"):
            own += 1
    return own, shared


def test_the_list_is_the_wiring_words_two_page_buffers_and_the_strip() -> None:
    codes = [component.code for component in starter_components()]
    assert len(set(codes)) == len(codes)
    assert set(codes) == {*WORDS, "o64p", "o32p", "strip"}
    assert len(WORDS) == 24


@pytest.mark.parametrize("code", WORDS)
def test_pins_rail_currents_and_buffers_are_those_of_the_demo(code: str) -> None:
    # scenario.json wiring_styles: pins, shared group, rail, mA, bytes
    word, component = WORDS[code], starter_component(code)
    own, shared = own_and_shared(code)
    assert own == (1 if word["pins"] == "one a position" else word["pins"])
    share = word.get("share")
    assert shared == ({share[0]: share[1]} if isinstance(share, list) else {})
    assert component.rail == word.get("rail", "")
    assert component.typical_ma == word.get("typ", 0)
    assert component.peak_ma == word.get("peak", 0)
    # scenario.md section 2, counting rules: 1,024 (o64), 512 (o32), 3 a pixel, nothing else
    assert component.buffer_bytes == {"o64": 1024, "o32": 512, "px": 3}.get(code, 0)


@pytest.mark.parametrize(
    ("code", "needs"),
    [
        # scenario.md section 10, "Terminals by wiring word"
        ("gs4", ["out"] * 4),
        ("gsd", ["out"] * 3),
        ("gsti", ["out"] * 4 + ["in"]),
        ("svd", ["out"]),
        ("led", ["out"]),
        ("lad", ["analogue"]),
        ("pot", ["analogue"]),
        ("rot", ["in"]),
        ("tg", ["in"]),
        ("bt", ["in"]),
        ("tg3", ["in"] * 2),
        ("enc", ["in"] * 2),
        ("encp", ["in"] * 3),
        ("hold", ["out", "in"]),
        ("seg", ["out"] * 3),
        ("sr", ["out"] * 3),
        ("isr", ["out", "out", "in"]),
        ("px", ["out"]),
        ("sve", ["sda", "scl"]),
        ("ex", ["sda", "scl"]),
        ("exo", ["sda", "scl"]),
        ("o64", ["sda", "scl"]),
        ("o32", ["sda", "scl"]),
        ("mx", ["contact"]),
        ("strip", []),
    ],
)
def test_terminals_by_wiring_word(code: str, needs: list[str]) -> None:
    assert [terminal.need for terminal in starter_component(code).terminals] == needs


def test_only_selectors_one_pin_a_position_and_matrix_contacts_repeat() -> None:
    repeating = {c.code for c in starter_components() if any(t.per_position for t in c.terminals)}
    assert repeating == {"rot", "mx"}


def test_every_function_of_the_demo_has_a_component_of_its_kind() -> None:
    for function in SCENARIO["functions"]:
        kind = KIND_OF_WORD.get(function["kind"], function["kind"])
        assert kind in starter_component(function["wiring"]).kinds, function["id"]


def test_words_of_the_list_are_known() -> None:
    rails = {rail.code for rail in starter_rails()}
    libraries = {library.code for library in starter_libraries()}
    carriers = {carrier.code for carrier in starter_carriers()}
    codes = {component.code for component in starter_components()}
    for component in starter_components():
        assert set(component.kinds) <= set(KINDS)
        assert {terminal.need for terminal in component.terminals} <= set(NEEDS)
        assert component.rail in rails | {""}
        assert set(component.libraries) <= libraries - {BASE_LIBRARY}
        assert {component.carrier} <= carriers | {""}
        assert {*component.fewer_pins_by, *component.fewer_bytes_by} <= codes - {component.code}
        names = [terminal.name for terminal in component.terminals]
        assert len(set(names)) == len(names)
        assert component.idle_ma <= component.typical_ma <= component.peak_ma
        assert component.mark == "assumed"


def test_what_takes_fewer_pins_really_does() -> None:
    for component in starter_components():
        for other in component.fewer_pins_by:
            per_position = 6 if any(terminal.per_position for terminal in component.terminals) else 1
            analogue = any(terminal.need == "analogue" for terminal in component.terminals)
            assert own_and_shared(other)[0] < own_and_shared(component.code)[0] * per_position, (
                component.code,
                other,
            )
            assert not analogue or own_and_shared(other)[0] == 0
            assert set(component.kinds) & set(starter_component(other).kinds)


def test_page_buffers_are_one_page_of_the_picture() -> None:
    # SSD1306 8.7 (values.md S5.10): 128 x 64 dots are 1,024 bytes in 8 pages
    for full, page, pages in (("o64", "o64p", 8), ("o32", "o32p", 4)):
        assert starter_component(full).fewer_bytes_by == (page,)
        assert starter_component(page).buffer_bytes * pages == starter_component(full).buffer_bytes


def test_idle_is_10_ma_for_a_servo_and_typical_for_the_rest() -> None:
    # scenario.md section 10
    for component in starter_components():
        servo = component.code in ("svd", "sve")
        assert component.idle_ma == (10 if servo else component.typical_ma)
        assert component.peak_is == ("stall" if servo else "peak")


def test_libraries_and_stack_reserve() -> None:
    # scenario.md section 10: program / memory bytes, once a board
    assert {
        library.code: (library.program_bytes, library.memory_bytes) for library in starter_libraries()
    } == {
        "display": (6000, 100),
        "segment-driver": (2000, 20),
        "servo": (1500, 60),
        "pixels": (1200, 20),
        "bus": (2500, 200),
        "base": (3000, 300),
    }
    assert STACK_RESERVE_BYTES == 300
    assert starter_component("o64").libraries == ("display", "bus")


def test_rails_and_the_light_strip() -> None:
    assert {rail.code: rail.name for rail in starter_rails()} == SCENARIO["rails"]
    strip, rows = starter_component("strip"), SCENARIO["strips"]
    assert (strip.rail, strip.typical_ma, strip.peak_ma) == (rows["rail"], rows["typ"], rows["peak"])
    assert strip.rail_volts == 12.0


def test_costs_are_those_of_the_demo_components() -> None:
    # scenario.json components: the part behind each wiring word (scenario.md section 6)
    cost = {row["id"]: row["cost"] for row in SCENARIO["components"]}
    part = {
        "gs4": "CP01", "gsd": "CP01", "svd": "CP06", "sve": "CP06", "led": "CP08", "sr": "CP08", "exo": "CP08",
        "px": "CP09", "o64": "CP13", "o64p": "CP13", "o32": "CP14", "o32p": "CP14", "seg": "CP15", "tg": "CP16",
        "tg3": "CP18", "lad": "CP20", "rot": "CP20", "bt": "CP21", "enc": "CP23", "encp": "CP24", "pot": "CP25",
        "hold": "CP26", "strip": "CP37",
    }  # fmt: skip
    for code, component_id in part.items():
        assert starter_component(code).cost == cost[component_id], code
    assert starter_component("gsti").cost == pytest.approx(cost["CP03"] + cost["CP04"])
    carriers = {"gauge-driver": "CP02", "servo-expander": "CP07", "output-register": "CP10",
                "input-register": "CP11", "io-expander": "CP12"}  # fmt: skip
    assert {carrier.code: carrier.cost for carrier in starter_carriers()} == {
        code: cost[component_id] for code, component_id in carriers.items()
    }


def test_an_unknown_word_is_refused() -> None:
    with pytest.raises(UnknownStarterComponent, match="no component 'zzz'"):
        starter_component("zzz")
