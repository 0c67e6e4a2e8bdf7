"""Remedies of a board against the demo's worked example, brute force, and a matching by another library."""

from dataclasses import replace
from itertools import combinations, count

import numpy as np
import pytest
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching

from app.calculations.board_remedy import UnknownRemedy, board_remedies, board_remedy
from app.calculations.board_remedy_move import function_sets
from app.calculations.board_remedy_row import RemedyRow
from app.calculations.board_remedy_stock import (
    RemedyBoard,
    RemedyCarrier,
    RemedyComponent,
    RemedyFigures,
    RemedyFunction,
    RemedyLibrary,
    RemedyModule,
    RemedyQuestion,
    RemedyStock,
)
from app.calculations.board_take import board_take
from app.calculations.pin_ability import Pin, PinUse, meets_need
from app.calculations.pin_demand import TerminalNeed
from tests.calculations.demo_boards import BOARD_PINS, DEMO, SERIAL, WIRING

# Costs, buffers, libraries and places of the starter list (all assumed there); scenario section 10 for bytes.
INSTEAD = {
    "gs4": "gsd",
    "svd": "sve",
    "led": "sr px exo",
    "tg": "ex isr mx",
    "tg3": "ex isr",
    "bt": "ex isr mx",
    "lad": "ex isr mx",
    "rot": "lad ex isr mx",
}
KINDS = {
    **dict.fromkeys(("gs4", "gsd", "gsti", "svd", "sve"), "needle"),
    **dict.fromkeys(("led", "sr", "px", "exo"), "light"),
    **dict.fromkeys(("o64", "o32", "seg"), "display"),
    **dict.fromkeys(("lad", "rot"), "selector"),
    **dict.fromkeys(("ex", "isr", "mx"), "switch button selector"),
    **dict.fromkeys(("tg", "tg3"), "switch"),
    "bt": "button",
    **dict.fromkeys(("enc", "encp"), "encoder"),
    "pot": "lever or knob",
    "hold": "holding switch",
}
COST = {
    "gs4": 6.5,
    "gsd": 6.5,
    "led": 0.3,
    "sr": 0.3,
    "px": 0.4,
    "exo": 0.3,
    "lad": 4.2,
    "rot": 4.2,
    "tg": 2.5,
}
CARRIER = {
    "gsd": "gauge-driver",
    "sve": "servo-expander",
    "sr": "output-register",
    "isr": "input-register",
    "ex": "io-expander",
    "exo": "io-expander",
}
LIBRARIES = {
    "svd": ("servo",),
    "px": ("pixels",),
    "o64": ("display", "bus"),
    "o32": ("display", "bus"),
    "seg": ("segment-driver",),
    **dict.fromkeys(("sve", "ex", "exo"), ("bus",)),
}
DISPLAY = (0x3C, 0x3D)
STOCK = RemedyStock(
    components=tuple(
        RemedyComponent(
            code=code,
            name=code,
            terminals=WIRING[code],
            kinds=tuple(KINDS[code].split() if code in ("ex", "isr", "mx") else (KINDS[code],)),
            carrier=CARRIER.get(code, ""),
            libraries=LIBRARIES.get(code, ()),
            buffer_bytes={"o64": 1024, "o32": 512, "px": 3}.get(code, 0),
            blocked_us=30.0 if code == "px" else None,
            addresses=DISPLAY if code in ("o64", "o32") else (),
            cost=COST.get(code),
            fewer_pins_by=tuple(INSTEAD.get(code, "").split()),
        )
        for code in WIRING
    ),
    carriers=(
        RemedyCarrier("gauge-driver", "gauge driver", 4, (), 5.0),
        RemedyCarrier("servo-expander", "servo expander", 16, tuple(range(0x40, 0x48)), 7.0),
        RemedyCarrier("output-register", "output register", 8, (), 1.5),
        RemedyCarrier("input-register", "input register", 8, (), 0.8),
        RemedyCarrier("io-expander", "I/O expander", 16, tuple(range(0x20, 0x28)), 3.0),
    ),
    libraries=(
        RemedyLibrary("base", "base", 3000, 300, is_on_every_board=True),
        RemedyLibrary("display", "display", 6000, 100),
        RemedyLibrary("segment-driver", "segment driver", 2000, 20),
        RemedyLibrary("servo", "servo", 1500, 60),
        RemedyLibrary("pixels", "pixels", 1200, 20),
        RemedyLibrary("bus", "bus", 2500, 200),
    ),
    modules=(
        RemedyModule("T8S", "small", tuple(BOARD_PINS["T8S"]), SERIAL, 2048, 32768, logic_v=5.0),
        RemedyModule("T8L", "large", tuple(BOARD_PINS["T8L"]), SERIAL, 8192, 262144, logic_v=5.0),
        RemedyModule("T32", "32-bit", tuple(BOARD_PINS["T32"]), (), 270336, 2097152, logic_v=3.3),
    ),
)
FIGURES = RemedyFigures()


def functions_of(words: str, first: int = 1) -> tuple[RemedyFunction, ...]:
    rows = []
    for number, word in enumerate(words.split(), start=first):
        code, _, positions = word.partition(":")
        contacts = int(positions) if positions else None
        if contacts is None and code in ("tg", "bt", "mx", "ex", "isr"):
            contacts = 1
        rows.append(
            RemedyFunction(f"F{number:03}", code, contacts, contacts or (2 if code == "tg3" else 1), "P01")
        )
    return tuple(rows)


def board_of(words: str, module: str = "T8S", code: str = "B1", first: int = 1) -> RemedyBoard:
    return RemedyBoard(code, module, functions_of(words, first), baud=57600)


# P07's board: three gauges on four pins, a selector of four, two toggles, two lights, one display.
P07 = board_of("gs4 gs4 gs4 rot:4 tg tg led led o32")


def ask(board: RemedyBoard, *others: RemedyBoard) -> RemedyQuestion:
    return RemedyQuestion(board, others, STOCK, FIGURES)


@pytest.fixture(scope="module")
def table() -> dict[str, RemedyRow]:
    others = [
        board_of(DEMO[code][1], DEMO[code][0], code, 100 * k)
        for k, code in enumerate(("BD02", "BD03", "BD11"), 1)
    ]
    return {row.code: row for row in board_remedies(ask(P07, *others))}


def test_gauge_driver_and_ladder_make_the_fuel_panel_fit_with_four_pins_to_spare(
    table: dict[str, RemedyRow],
) -> None:
    # Scenario section 9, fault 1: "24 pins needed, 20 usable: short by 4. Remedy shown: gauge driver (12 -> 7)
    # and ladder (4 -> 1): 16 needed, 4 left (20 %)".
    pair = table["gauge-driver~ladder"]
    assert (pair.pins_before, pair.pins_needed, pair.usable, pair.pins_left) == (24, 16, 20, 4)
    assert pair.left_share == pytest.approx(0.20)
    assert (pair.makes_all_fit, pair.has_margin, pair.verdict) == (True, True, "fine")
    assert table["gauge-driver"].pins_saved == 12 - 7
    assert table["ladder"].pins_saved == 4 - 1
    assert table["ladder"].makes_all_fit is False


def test_each_change_saves_what_counting_by_hand_gives(table: dict[str, RemedyRow]) -> None:
    # Counting rules of scenario section 2, for 4 + 1 + 1 contacts and 2 lights of 24 pins: registers take 3 pins
    # a chain, 6 contacts 2 x 3 = 5 pins in a matrix, pixels 1 pin; the bus is there for the display already.
    assert table["output-register"].pins_needed == 24 - 2 + 3
    assert table["input-register"].pins_needed == 24 - 6 + 3
    assert table["matrix"].pins_needed == 24 - 6 + 5
    assert table["pixels"].pins_needed == 24 - 2 + 1
    assert table["io-expander"].pins_needed == 24 - 6 - 2


def test_parts_are_counted_by_their_places_and_priced(table: dict[str, RemedyRow]) -> None:
    # One driver for up to four gauges at 5.0, one expander for up to sixteen at 3.0, one register for eight at 0.8.
    assert table["gauge-driver"].cost == 5.0
    assert table["io-expander"].cost == 3.0
    assert table["input-register"].cost == 0.8
    # Two pixel cells of 0.4 in place of LED cells of 0.3.
    assert table["pixels"].cost == 0.2
    priced = [row for row in table.values() if row.makes_all_fit and row.cost > 0 and not row.cost_missing]
    assert len(priced) >= 4


@pytest.mark.parametrize(
    ("words", "code", "count"),
    [
        ("gs4 gs4 gs4 gs4", "gauge-driver", 1),
        ("gs4 gs4 gs4 gs4 gs4", "gauge-driver", 2),
        ("led " * 8, "output-register", 1),
        ("led " * 9, "output-register", 2),
        ("rot:12 tg tg tg tg", "io-expander", 1),
        ("rot:12 tg tg tg tg tg", "io-expander", 2),
        # A centre-off toggle has two leads: seven of them are fourteen places.
        ("tg3 " * 7, "input-register", 2),
    ],
)
def test_a_carrier_more_is_wanted_where_its_places_run_out(words: str, code: str, count: int) -> None:
    # Places of a carrier: 4, 8 and 16 (needs C4: "16 each"; "8N bits").
    row = board_remedy(ask(board_of(words, "T8L")), [code])
    carriers = {part.name: part.count for part in row.parts if not part.instead_of}
    assert carriers[STOCK.carrier[code].name] == count


def test_a_carrier_with_a_free_place_costs_nothing() -> None:
    row = board_remedy(ask(board_of("ex ex ex tg", "T8S")), ["io-expander"])
    assert row.parts == ()
    assert row.cost == 0


def test_time_added_is_that_of_the_bus_the_clock_and_the_pixels() -> None:
    # Needs C4: an expander takes "about 0.3-0.5 ms a read at 100 kHz", refresh of registers = bits / clock (8 bits
    # at 100 kHz: 0.08 ms). Needs D3: 30 us a pixel, 0.1 ms an analogue reading, two of them for a ladder.
    question = ask(board_of("rot:4 tg led"))
    assert 0.3 <= board_remedy(question, ["io-expander"]).added_ms <= 0.5
    assert board_remedy(question, ["input-register"]).added_ms == pytest.approx(0.08)
    assert board_remedy(question, ["output-register"]).added_ms == pytest.approx(0.08)
    assert board_remedy(question, ["pixels"]).added_ms == pytest.approx(0.03)
    assert board_remedy(question, ["ladder"]).added_ms == pytest.approx(0.2)
    # 2 x 3 for five contacts: two rows of 50 us (common practice).
    assert board_remedy(question, ["matrix"]).added_ms == pytest.approx(0.1)


def test_a_faster_bus_makes_the_expander_faster() -> None:
    slow = board_remedy(ask(replace(P07, bus_clock_khz=100)), ["io-expander"]).added_ms
    fast = board_remedy(ask(replace(P07, bus_clock_khz=400)), ["io-expander"]).added_ms
    assert slow == pytest.approx(4 * fast)


@pytest.mark.parametrize(("lights", "is_lost"), [(5, False), (6, True)])
def test_pixels_that_lose_bytes_of_the_link_are_a_caution(lights: int, is_lost: bool) -> None:
    # Needs D4: "safe if blocked <= 2 x 10/baud: 5 pixels at 115 200".
    board = replace(board_of("led " * lights), baud=115_200)
    row = board_remedy(ask(board), ["pixels"])
    assert bool(row.cautions) is is_lost
    assert row.verdict == ("caution" if is_lost else "fine")


def test_pixels_on_a_link_of_unknown_baud_are_not_called_fine() -> None:
    row = board_remedy(ask(replace(board_of("led led"), baud=None)), ["pixels"])
    assert row.verdict == "caution"
    assert "cannot be told" in row.cautions[0]


@pytest.mark.parametrize(("positions", "verdict"), [(12, "fine"), (24, "caution")])
def test_a_ladder_of_too_many_positions_is_a_caution(positions: int, verdict: str) -> None:
    # Needs C11: "12 positions work and 24 often do not": "n=24 -> 22 (fails at 5 %, passes at 1 %)".
    row = board_remedy(ask(board_of(f"rot:{positions}", "T8L")), ["ladder"])
    assert row.verdict == verdict
    assert any("24 positions" in caution for caution in row.cautions) is (positions == 24)


def test_memory_added_is_that_of_buffers_and_libraries() -> None:
    # Scenario section 10: pixels 3 bytes each and a library of 20, the bus 200 (there already on P07).
    row = board_remedy(ask(P07), ["pixels"])
    assert row.memory_added_bytes == 2 * 3 + 20
    assert row.program_added_bytes == 1200
    assert board_remedy(ask(board_of("led led")), ["io-expander"]).memory_added_bytes == 200 + 1


def test_a_matrix_row_says_its_shape_its_diodes_and_what_seems_closed(table: dict[str, RemedyRow]) -> None:
    # Needs C5: smallest R + C with R x C >= n, so 2 x 3 for 6; positions of one selector exclude each other, so
    # only the rectangle of the two toggles with two of its positions can close, through the toggles' contacts.
    notes = table["matrix"].notes
    assert notes[0].startswith("2 x 3 for 6 contacts, 2 diodes at F005 and F006")
    assert "F001" not in " ".join(notes)
    assert any("seems closed" in note for note in notes[1:])


def test_where_two_remedies_take_one_function_the_first_of_the_table_has_it() -> None:
    row = board_remedy(ask(P07), ["io-expander", "ladder"])
    to = {change.function: change.to_code for change in row.changes}
    assert to == {"F004": "lad", "F005": "ex", "F006": "ex", "F007": "exo", "F008": "exo"}
    assert row.code == "ladder~io-expander"
    assert board_remedy(ask(P07), ["ladder~io-expander"]) == row


def test_no_code_is_the_board_as_it_stands_and_an_unknown_one_is_refused() -> None:
    row = board_remedy(ask(P07), [])
    assert (row.pins_needed, row.makes_all_fit, row.left_out) == (24, False, ("F004",))
    with pytest.raises(UnknownRemedy, match="string-and-glue"):
        board_remedy(ask(P07), ["ladder", "string-and-glue"])


def test_a_change_that_no_function_can_make_does_not_apply(table: dict[str, RemedyRow]) -> None:
    assert table["servo-expander"].verdict == "does not apply"
    assert table["servo-expander"].changes == ()


def test_no_pair_is_offered_where_one_of_it_does_as_well(table: dict[str, RemedyRow]) -> None:
    alone = {code for code, row in table.items() if "~" not in code and row.makes_all_fit and row.has_margin}
    assert "io-expander" in alone
    for code, row in table.items():
        assert "~" not in code or not alone & set(row.codes)


def _terminals(board: RemedyBoard) -> list[TerminalNeed]:
    """Every terminal of a board that takes a pin, shared groups once, by the counting rules of section 2."""
    own: list[TerminalNeed] = list(SERIAL)
    shared: dict[tuple[str, str], TerminalNeed] = {}
    for function in board.functions:
        for need in WIRING[function.component]:
            if need.shared_as:
                shared[need.shared_as, need.name] = need
            else:
                own += [need] * (function.positions or 1 if need.per_position else 1)
    return [*own, *shared.values()]


def _matches(pins: tuple[Pin, ...], terminals: list[TerminalNeed]) -> bool:
    able = np.array([[meets_need(pin, need.need) for pin in pins] for need in terminals])
    return bool((maximum_bipartite_matching(csr_matrix(able), perm_type="column") >= 0).all())


@pytest.mark.parametrize(
    "codes",
    [
        (),
        ("ladder",),
        ("gauge-driver",),
        ("pixels",),
        ("output-register",),
        ("io-expander",),
        ("gauge-driver", "ladder"),
        ("ladder", "pixels"),
        ("gauge-driver", "input-register"),
        ("gauge-driver", "output-register", "input-register", "ladder"),
    ],
)
def test_whether_all_fit_agrees_with_a_matching_by_another_library(codes: tuple[str, ...]) -> None:
    # scipy's Hopcroft-Karp over the same terminals; this chip has one bus and one port, so pairs match alike.
    row = board_remedy(ask(P07), codes)
    to = {change.function: change.to_code for change in row.changes}
    changed = replace(
        P07, functions=tuple(replace(f, component=to.get(f.key, f.component)) for f in P07.functions)
    )
    terminals = _terminals(changed)
    assert len(terminals) == row.pins_needed
    assert row.makes_all_fit is _matches(STOCK.module["T8S"].pins, terminals)


def test_the_functions_to_move_are_the_fewest_there_are() -> None:
    # By hand: own pins of scenario section 10, 2 for the bus, 2 for the link; 17 of 20 leave the margin of 15 %.
    own = {"gs4": 4, "rot": 4, "tg": 1, "led": 1, "o32": 0}
    functions = {f.key: f.component for f in P07.functions}

    def needed(staying: set[str]) -> int:
        bus = 2 if any(functions[key] == "o32" for key in staying) else 0
        return sum(own[functions[key]] for key in staying) + bus + 2

    fewest = next(
        number
        for number in range(1, 10)
        if any(needed(set(functions) - set(gone)) <= 17 for gone in combinations(functions, number))
    )
    sets = function_sets(P07, STOCK, FIGURES)
    assert len(sets[0]) == fewest
    for moved in sets:
        assert needed(set(functions) - {f.key for f in moved}) <= 17
    assert len({frozenset(f.key for f in moved) for moved in sets}) == len(sets)


def test_moving_names_a_board_that_has_room_and_leaves_both_their_margin(table: dict[str, RemedyRow]) -> None:
    moves = [row for code, row in table.items() if code.startswith("move-")]
    assert {row.target.board for row in moves if row.target} <= {"BD02", "BD03", "BD11"}
    assert moves
    for row in moves:
        assert row.makes_all_fit
        assert row.target is not None
        assert row.pins_needed <= 17
        assert row.target.left >= 0.15 * row.target.usable
        assert row.moves
    # BD03 needs 5 of 20 (scenario section 2); two gauges of four pins make 13.
    by_board = {row.target.board: row.target for row in moves if row.target}
    assert (by_board["BD03"].needed, by_board["BD03"].usable) == (5 + 8, 20)


def test_a_board_of_another_voltage_is_a_caution(table: dict[str, RemedyRow]) -> None:
    row = table["larger-T32"]
    assert any("3.3 V" in caution for caution in row.cautions)
    assert row.verdict == "caution"
    # 24 pins less the 2 of the link, which this module has inside (scenario section 2): 22 of 26, 4 left.
    assert (row.pins_needed, row.usable) == (22, 26)
    # The smallest of the same voltage is offered beside it.
    assert table["larger-T8L"].verdict == "fine"
    assert table["larger-T8L"].cost_missing == ("large",)


def test_a_second_board_takes_the_fewest_functions_and_pins_of_a_link_of_its_own(
    table: dict[str, RemedyRow],
) -> None:
    row = table["second-board"]
    assert row.target is not None
    assert len(row.moves) == 2
    # Two gauges of four pins and the two of its link.
    assert row.target.needed == 10
    assert row.makes_all_fit


def test_a_board_whose_memory_is_full_is_relieved_by_a_board_and_not_by_pins() -> None:
    # Scenario section 9, fault 2: two buffers of 1024 fill the 2048 bytes; pins are not short (11 of 20).
    board = board_of(DEMO["BD04"][1])
    rows = {row.code: row for row in board_remedies(ask(board, board_of("bt", "T8S", "B2", 100)))}
    assert not any("~" in code for code in rows)
    assert rows["io-expander"].makes_all_fit is False
    assert any("2,048" in caution for caution in rows["io-expander"].cautions)
    assert rows["larger-T8L"].makes_all_fit
    (move,) = rows["move-B2"].moves
    assert move.function in ("F003", "F004")
    assert rows["move-B2"].makes_all_fit


def test_a_board_with_its_margin_shows_what_changes_would_save_and_no_more() -> None:
    rows = list(board_remedies(ask(board_of("led led led"))))
    assert {row.code for row in rows} == {
        "gauge-driver",
        "servo-expander",
        "ladder",
        "output-register",
        "input-register",
        "matrix",
        "pixels",
        "io-expander",
    }
    assert board_remedy(ask(board_of("led")), ["second-board"]).verdict == "does not apply"


def test_what_is_missing_cannot_be_told_and_is_never_called_a_fit() -> None:
    board = board_of("led led")
    unknown = replace(board, functions=(*board.functions, RemedyFunction("F009", "")))
    row = board_remedy(ask(unknown), ["pixels"])
    assert row.makes_all_fit is None
    assert row.verdict == "cannot tell"
    assert "not known" in row.sentence
    no_positions = replace(board, functions=(*board.functions, RemedyFunction("F009", "rot")))
    assert board_remedy(ask(no_positions), ["pixels"]).makes_all_fit is None
    # A ladder takes one pin however many positions there are.
    assert board_remedy(ask(no_positions), ["ladder"]).makes_all_fit is True


def test_an_expander_that_finds_no_address_does_not_fit() -> None:
    # 129 contacts want nine expanders of sixteen, and there are eight addresses (needs C4: "8 addresses = 128").
    full = board_of("rot:64 rot:64", "T8L")
    assert board_remedy(ask(full), ["io-expander"]).makes_all_fit is True
    over = board_of("rot:64 rot:64 tg", "T8L")
    row = board_remedy(ask(over), ["io-expander"])
    assert row.makes_all_fit is False
    assert any("address" in caution for caution in row.cautions)


def test_a_soldered_pin_stays_where_its_terminal_is_still_there() -> None:
    lamp = PinUse("D7", "F007", None, "lamp")
    coil = PinUse("D8", "F001", None, "coil 1")
    board = replace(P07, locked=(lamp, coil), in_place=(lamp, coil))
    row = board_remedy(ask(board), ["gauge-driver", "ladder"])
    assert row.makes_all_fit
    assert (row.locks_let_go, row.pins_moved) == (1, 0)
    assert board_remedy(ask(board), ["ladder", "pixels"]).locks_let_go == 1


def test_the_table_ends_when_it_is_cancelled() -> None:
    asked = count()
    rows = list(board_remedies(ask(P07), is_cancelled=lambda: next(asked) >= 3))
    assert [row.code for row in rows] == ["gauge-driver", "servo-expander", "ladder"]


def test_a_board_that_nothing_fits_is_offered_all_changes_with_one_more_board() -> None:
    # By hand: two boards of 20 pins, less 2 for each link, are 36. Six steppers with index take 30, six lights on
    # registers 3 and eight toggles on registers 3: 36, three steppers and one chain on each board.
    board = board_of("gsti " * 6 + "led " * 6 + "tg " * 8)
    rows = list(board_remedies(RemedyQuestion(board, (), replace(STOCK, modules=STOCK.modules[:1]))))
    assert not any(row.makes_all_fit for row in rows[:-1])
    assert rows[-1].codes[-1] == "second-board"
    assert len(rows[-1].codes) > 2
    assert rows[-1].makes_all_fit
    assert rows[-1].target is not None
    assert (rows[-1].pins_needed, rows[-1].target.needed) == (20, 20)


def test_what_two_boards_cannot_hold_is_named_and_not_called_proven() -> None:
    # Seven steppers with index take 35 pins of 36, but a board of 18 holds three of five pins.
    board = board_of("gsti " * 7)
    row = board_remedy(RemedyQuestion(board, (), STOCK), ["second-board"])
    assert row.makes_all_fit is False
    assert len(row.left_out) == 1
    assert row.is_best_found


def test_every_row_has_a_code_for_a_url_and_says_how_it_fails(table: dict[str, RemedyRow]) -> None:
    for code, row in table.items():
        assert code
        assert all(c.isalnum() or c in "-._~" for c in code)
        assert row.fails.endswith(".")
        assert row.source
        assert row.source_mark == "assumed"


def test_pixels_of_the_caution_strip_hold_interrupts_off_for_510_us() -> None:
    # Scenario section 9, fault 6: 17 pixels x 30 us = 510 us.
    take = board_take(board_of(DEMO["BD03"][1]), STOCK, FIGURES)
    assert (take.pixels, take.pixels_us) == (17, 510.0)
