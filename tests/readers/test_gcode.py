"""G-code reading. Word address format: ISO 6983-1; codes beyond it (M82/M83, M201 to M205, G28 of printers) are
common practice. Numbers are checked against Python's own float, geometry against closed forms."""

import io
import math
import random
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from app.readers import gcode_words
from app.readers.gcode import GcodeCancelled, GcodeMoves, GcodeRefused, read_gcode

FILES = Path(__file__).parent / "gcode"


def read(text: str | bytes, max_bytes: int = 10_000_000) -> GcodeMoves:
    data = text.encode() if isinstance(text, str) else text
    return read_gcode(io.BytesIO(data), "part.gcode", max_bytes=max_bytes)


def refusal(text: str | bytes, max_bytes: int = 10_000_000) -> GcodeRefused:
    with pytest.raises(GcodeRefused) as caught:
        read(text, max_bytes)
    assert caught.value.file_name == "part.gcode"
    assert str(caught.value) == f"part.gcode, line {caught.value.line}: {caught.value.reason}"
    return caught.value


@pytest.mark.parametrize(
    ("name", "x", "y"),
    [("a", [20, 0], [0, 20]), ("b", [5], [0]), ("c", [30, 21.2132034], [0, 21.2132034])],
)
def test_the_fixtures_read_as_written(name: str, x: list[float], y: list[float]) -> None:
    with (FILES / f"{name}.gcode").open("rb") as stream:
        moves = read_gcode(stream, f"{name}.gcode", max_bytes=1000)
    assert moves.x_mm == pytest.approx(x, abs=1e-12)
    assert moves.y_mm == pytest.approx(y, abs=1e-12)
    assert (moves.speed_mm_s == 100).all()  # F6000 is mm/min
    assert np.isnan(moves.acceleration_mm_s2).all()
    assert moves.unknown_words == {}


# An independent reader: one line at a time, one word at a time, Python's float, a dictionary of what is in force.


def plain_reading(text: str) -> tuple[list[tuple[float, ...]], float]:
    at = dict.fromkeys("XYZE", 0.0)
    relative = relative_e = False
    unit, speed, printing, travel = 1.0, math.inf, math.nan, math.nan
    pushed = furthest = 0.0
    rows = []
    for line in text.splitlines():
        line = line.split(";")[0].upper()
        found = [(letter, float(number)) for letter, number in re.findall(r"([A-Z]) *([-+]?[\d.]+)", line)]
        if not found:
            continue
        (letter, number), given = found[0], dict(found[1:])
        code = f"{letter}{number:g}"
        if code == "G20":
            unit = 25.4
        elif code == "G21":
            unit = 1.0
        elif code == "G90":
            relative = False
        elif code == "G91":
            relative = True
        elif code == "M82":
            relative_e = False
        elif code == "M83":
            relative_e = True
        elif code == "M204":
            both = given.get("S", math.nan)
            printing = given["P"] if "P" in given else printing if math.isnan(both) else both
            travel = given["T"] if "T" in given else travel if math.isnan(both) else both
        elif code == "G92":
            for axis in "XYZE":
                if axis in given:
                    at[axis] = given[axis] * unit
                elif not given:
                    at[axis] = 0.0
        elif code == "G28":
            for axis in "XYZ":
                if axis in given or not given:
                    at[axis] = 0.0
        elif code in ("G0", "G1"):
            speed = given["F"] * unit / 60 if "F" in given else speed
            step = dict.fromkeys("XYZE", 0.0)
            for axis in set("XYZE") & given.keys():
                value = given[axis] * unit
                adds = relative or (axis == "E" and relative_e)
                step[axis] = value if adds else value - at[axis]
                at[axis] = at[axis] + value if adds else value
            pushed += step["E"]
            furthest = max(furthest, pushed)
            if any(step.values()):
                rows.append((*step.values(), speed, printing if step["E"] > 0 else travel))
    return rows, furthest


def written_at_random(chance: random.Random, lines: int) -> str:
    text = ["G1 F1200 X0.5"]
    for _ in range(lines):
        kind = chance.random()
        if kind < 0.9:
            words = [chance.choice(("G1", "G0", "g1", "G01", "G1 "))]
            for letter, share, span in (("X", 0.8, 250), ("Y", 0.8, 250), ("Z", 0.05, 20), ("E", 0.7, 9000)):
                if chance.random() < share:
                    number = f"{chance.uniform(-span, span):.{chance.randint(0, 8)}f}"
                    words.append(chance.choice((letter, letter.lower(), letter + " ")) + number)
            if chance.random() < 0.2:
                words.append(f"F{chance.randint(1, 9000)}")
            text.append(chance.choice(("", " ")).join(words) + chance.choice(("", "", " ; X5 Y7 a comment")))
        else:
            codes = ("G20", "G21", "G90", "G91", "M82", "M83", "G92 E0", "G92", "G92 X5 Y-2.5", "M106 S255", "T0",
                     "M204 S900", "M204 P1500 T2500", "M204 T800", "; only a comment", "", "G28 X0", "G28 Z0 Y0",
                     "G28")  # fmt: skip
            text.append(chance.choice(codes))
    return chance.choice(("\n", "\r\n")).join(text)


@pytest.mark.parametrize("seed", range(12))
def test_reading_in_blocks_agrees_with_a_plain_reader_word_by_word(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(gcode_words, "BLOCK_BYTES", (100, 700, 5000, 262144)[seed % 4])
    text = written_at_random(random.Random(seed), 3000)  # noqa: S311 - a test's file, not a secret
    rows, filament = plain_reading(text)
    moves = read(text)
    expected = np.array(rows)
    columns = (moves.x_mm, moves.y_mm, moves.z_mm, moves.e_mm, moves.speed_mm_s, moves.acceleration_mm_s2)
    got = np.column_stack(columns)
    # Sums of relative steps of up to 9,000 units of 25.4 mm are rounded in another order.
    assert got.shape == expected.shape
    np.testing.assert_allclose(got, expected, rtol=1e-12, atol=1e-8)
    assert moves.filament_mm == pytest.approx(filament, rel=1e-9)
    assert moves.unknown_words == {}


@pytest.mark.parametrize(
    "number",
    ["0", "5", "-5", "+5", "12345678", "-12345678.87654321", ".5", "-.5", "5.", "0.00001", "1234567.1", "123456.12",
     "12345.12345678", "0.1234567890123456789", "00000012.5", "99999999.99999999", "103.1234", "1.2345678"],
)  # fmt: skip
def test_a_number_reads_as_python_reads_it(number: str) -> None:
    way = read(f"G1 X1000 F60\nG91\nG1 X{number} Y1\n").x_mm[-1]
    assert way == pytest.approx(
        float(number), rel=1e-15, abs=1e-8
    )  # digits from the ninth place on are dropped


# Arcs: closed forms of the circle.


def test_a_quarter_circle_by_its_centre() -> None:
    moves = read("G1 X10 F600\nG3 X0 Y10 I-10 J0\n")
    assert moves.arc_row.tolist() == [1]
    assert moves.arc_length_mm == pytest.approx([math.pi / 2 * 10])
    assert moves.arc_radius_mm == pytest.approx([10])
    assert moves.arc_start[0] == pytest.approx([0, 1, 0])
    assert moves.arc_end[0] == pytest.approx([-1, 0, 0])


def test_the_same_ends_clockwise_go_the_long_way_round() -> None:
    moves = read("G1 X10 F600\nG2 X0 Y10 I-10 J0\n")
    assert moves.arc_length_mm == pytest.approx([3 * math.pi / 2 * 10])
    assert moves.arc_start[0] == pytest.approx([0, -1, 0])
    assert moves.arc_end[0] == pytest.approx([1, 0, 0])


@pytest.mark.parametrize(
    ("word", "share", "start"),
    [
        ("G3 R10", 0.25, (0, 1)),
        ("G3 R-10", 0.75, (1, 0)),
        ("G2 R10", 0.25, (-1, 0)),
        ("G2 R-10", 0.75, (0, -1)),
    ],
)
def test_an_arc_by_its_radius(word: str, share: float, start: tuple[float, float]) -> None:
    # From (10, 0) to (0, 10): centre (0, 0) for the short anticlockwise and the long clockwise arc, else (10, 10).
    code, radius = word.split()
    moves = read(f"G1 X10 F600\n{code} X0 Y10 {radius}\n")
    assert moves.arc_length_mm == pytest.approx([share * 2 * math.pi * 10])
    assert moves.arc_start[0, :2] == pytest.approx(start, abs=1e-12)


def test_an_arc_that_ends_where_it_starts_is_a_full_turn_and_p_adds_turns() -> None:
    assert read("G3 I5 F600\n").arc_length_mm == pytest.approx([2 * math.pi * 5])
    assert read("G2 J5 P1 F600\n").arc_length_mm == pytest.approx([4 * math.pi * 5])


def test_a_helix_is_the_hypotenuse_of_its_arc_and_its_climb() -> None:
    moves = read("G1 X10 F600\nG3 X0 Y10 Z4 I-10 E2\n")
    length = math.hypot(math.pi / 2 * 10, 4)
    assert moves.arc_length_mm == pytest.approx([length])
    assert moves.arc_end[0] == pytest.approx([-math.pi * 5 / length, 0, 4 / length])
    assert np.linalg.norm(moves.arc_start[0]) == pytest.approx(1)
    assert moves.e_mm.tolist() == [0, 2]


def test_inches_reach_arcs_speeds_and_offsets() -> None:
    moves = read("G20\nG1 X1 F60\nG3 X0 Y1 I-1\nG92 X2\nG1 X3\nG21\nG1 X0\n")
    assert moves.x_mm == pytest.approx([25.4, -25.4, 25.4, -76.2])
    assert moves.speed_mm_s == pytest.approx([25.4] * 4)  # 60 in/min
    assert moves.arc_radius_mm == pytest.approx([25.4])


# Modes


def test_a_line_of_axes_goes_on_with_the_last_move() -> None:
    assert read("G1 F600\nX5\nY2 X7\n").x_mm.tolist() == [5, 2]
    assert read("G1 X10 F600\nG3 X0 Y10 I-10\nX-10 Y0 J-10\n").arc_row.tolist() == [1, 2]


def test_axes_after_a_mode_on_one_line_are_a_move() -> None:
    moves = read("G1 X5 F600\nG91 G1 X5\nG90 X5\nG1 G91 Y3 Z1\n")
    assert moves.x_mm.tolist() == [5, 5, -5, 0]
    assert moves.y_mm.tolist() == [0, 0, 0, 3]


def test_line_numbers_checksums_brackets_and_bare_homing_are_taken() -> None:
    moves = read("%\nN1 G28 X Y*35\nN2 G1 X5 (to X9; no) Y2 F600*7\nN3\nN4G1X6Y2\n")
    assert moves.x_mm.tolist() == [5, 1]
    assert moves.y_mm.tolist() == [2, 0]
    assert moves.homings == 1
    assert moves.rest_row.tolist() == [0]
    assert moves.unknown_words == {}


def test_text_after_messages_is_not_read() -> None:
    moves = read("G1 X1 F60\nM117 G1 X50 (now; E5\nM118 X1.2.3 é\nN5 m117 -- G1 X99\nM1170\nG1 X2\n")
    assert moves.x_mm.tolist() == [1, 1]
    assert moves.unknown_words == {"M1170": 1}


def test_after_g90_the_extruder_stays_relative_while_m83_is_in_force() -> None:
    moves = read(
        "M83\nG91\nG1 X1 E1 F60\nG90\nG1 X2 E1\nM82\nG92 E0\nG1 X3 E1\nG91\nG1 X1 E-3\nG90\nG1 X3 E1\n"
    )
    assert moves.e_mm.tolist() == [1, 1, 1, -3, 3]


def test_setting_the_extruder_to_zero_moves_nothing() -> None:
    moves = read("M82\nG1 X1 E10 F60\nG92 E0\nG1 X2 E10\n")
    assert moves.e_mm.tolist() == [10, 10]
    assert moves.filament_mm == 20


def test_filament_pulled_back_and_pushed_again_counts_once() -> None:
    moves = read("M83\nG1 X1 E10 F60\nG1 E-2\nG1 X5\nG1 E2\nG1 X9 E5\nG1 E-3\n")
    assert moves.filament_mm == 15  # the last pull does not give filament back


def test_dwells_rest_and_waits_are_told_apart() -> None:
    moves = read("G1 X1 F60\nG4 P1500\nG1 X2\nG4 S2\nM109 S200\nM400\nG1 X3\nG4 P250 S1\n")
    assert moves.rest_row.tolist() == [1, 2, 2, 2, 3]
    assert moves.rest_s.tolist() == [1.5, 2, 0, 0, 1.25]
    assert moves.waits == 1


def test_limits_that_the_file_sets() -> None:
    moves = read(
        "M201 X2000 Y1800 Z100 E5000\nM203 X200 Z10\nM205 X8 Y10\nM205 J0.03\nM201 X3000\nG1 X1 F60\n"
    )
    assert moves.limits == {
        "acceleration_x_mm_s2": 2000,
        "acceleration_y_mm_s2": 1800,
        "acceleration_z_mm_s2": 100,
        "acceleration_e_mm_s2": 5000,
        "speed_x_mm_s": 200,
        "speed_z_mm_s": 10,
        "square_corner_speed_mm_s": 8,
        "junction_deviation_mm": 0.03,
    }
    assert moves.limits_changed == 1


def test_acceleration_asked_for_goes_by_whether_filament_is_pushed() -> None:
    moves = read("M83\nG1 X1 E1 F60\nM204 P800 T1200\nG1 X2 E1\nG1 X3\nM204 S500\nG1 X4 E1\nG1 X5\n")
    np.testing.assert_array_equal(moves.acceleration_mm_s2, [np.nan, 800, 1200, 500, 500])


def test_comments_that_claim_a_time_change_nothing() -> None:
    plain = read("G1 X5 F600\n")
    claimed = read(
        ";TIME:99999\n; estimated printing time = 9d 4h\nG1 X5 F600 ;TIME_ELAPSED:1\nM73 P0 R999\n"
    )
    assert claimed.x_mm.tolist() == plain.x_mm.tolist()
    assert claimed.rest_s.size == 0


def test_moves_before_any_speed_are_counted() -> None:
    moves = read("G1 X5\nG1 X6 F600\n")
    assert moves.moves_without_speed == 1
    assert math.isinf(moves.speed_mm_s[0])


# What is not understood is counted, not fatal.


def test_unknown_words_are_counted() -> None:
    moves = read(
        "G1 X1 F60 Q7\nM1234 P1\nG5 X1\nM1234\nG38.2 Z1\nSET_LIMIT SPEED=5 X=1\n  set_limit A\nD5 X1\n"
        "G1 X2 S3\n=7\nM220 S50\nM220 S100\nG1 F0\nM\n"
    )
    assert moves.x_mm.tolist() == [1, 1]
    assert moves.unknown_words == {
        "Q": 1, "M1234": 2, "G5": 1, "G38.2": 1, "SET_LIMIT": 2, "D5": 1, "S": 1,
        "a line that starts with a sign": 1, "M220 S50": 1, "F0": 1, "M": 1,
    }  # fmt: skip


def test_a_flood_of_different_unknown_words_is_kept_short() -> None:
    moves = read("".join(f"M{1000 + k % 5000}\n" for k in range(5000)) + "G1 X1 F60\n")
    assert len(moves.unknown_words) == 201
    assert sum(moves.unknown_words.values()) == 5000


# Refusals


@pytest.mark.parametrize(
    ("text", "line", "reason"),
    [
        ("G1 X1 F60\n\nG1 X Y2\n", 3, "X has no number"),
        ("G1 X1.2.3 F60\n", 1, "X is not a number"),
        ("G1 X1\nG1 X-\n", 2, "X has no number"),
        ("G1 X1-2\n", 1, "X is not a number"),
        ("G1 X123456789\n", 1, "X has more than 8 digits before the point"),
        ("; c\nG1 X1 Y=5\n", 2, "Y has no number"),
        ("G1 X1 ?\n", 1, "the line has a character that does not belong"),
        ("G1 X1\n5 G1 X2\n", 2, "G follows figures that have no letter"),
        ("G1 X1 E1e-05\n", 1, "E stands twice in one command"),
        ("G1 X1\nG1 X2 Y1\nG1 X2 X3\n", 3, "X stands twice in one command"),
        ("G1 X1\n\n\nG2 X5\n", 4, "an arc needs I, J or R"),
        ("G2 R5 F60\n", 1, "an arc given by its radius must end elsewhere than it starts"),
        ("G2 X20 R5\n", 1, "the radius is too short for the arc's ends"),
        ("G2 X5 I0\n", 1, "the arc's centre is one of its ends"),
        ("G2 X9 I4\n", 1, "the arc's ends lie at different radii"),
        ("N7 G1 X1\nG18\n", 2, "arcs outside the XY plane (G18, G19) are not read"),
        ("M204 P1.1.1\nG1 X1\n", 1, "P is not a number"),
        ("", 1, "the file is empty"),
        ("; nothing\nM104 S200\nG1 F600\n", 3, "the file holds no move"),
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line(text: str, line: int, reason: str) -> None:
    refused = refusal(text)
    assert (refused.line, refused.reason) == (line, reason)


def test_the_line_of_a_refusal_is_right_far_down_the_file() -> None:
    text = "".join(f"N{k} G1 X{k % 200} Y1 F600 ; {k}\n" for k in range(50_000)) + "G1 X1.1.1\n"
    assert refusal(text).line == 50_001


@pytest.mark.parametrize("at", [0, 5000, 400_000])
def test_a_zero_byte_anywhere_means_a_binary_file(at: int) -> None:
    data = bytearray(b"G1 X1 F600\nG1 X2\n" * 30_000)
    data[at] = 0
    refused = refusal(bytes(data))
    assert "binary" in refused.reason
    assert refused.line == data[:at].count(b"\n") + 1


def test_binary_files_without_zero_bytes_are_refused() -> None:
    noise = bytes(b or 1 for b in random.Random(1).randbytes(4000))  # noqa: S311 - noise
    assert "binary" in refusal(noise).reason


def test_a_file_over_the_limit_is_refused_while_it_streams() -> None:
    class Endless(io.RawIOBase):
        given = 0

        def read(self, size: int = -1) -> bytes:
            self.given += size
            return (b"G1 X1 F600\n" * (size // 11 + 1))[:size]

    stream = Endless()
    with pytest.raises(GcodeRefused, match=r"larger than 1,000,000 bytes"):
        read_gcode(stream, "part.gcode", max_bytes=1_000_000)  # type: ignore[arg-type]  # only read() is used
    assert stream.given < 2_000_000


@pytest.mark.parametrize("start", [b"", b"G1 X1 F600\n" * 5, b"G1 X1 F600\n" * 40_000])
def test_a_line_over_64_kib_is_refused(start: bytes) -> None:
    refused = refusal(start + b";" + b"a" * 70_000 + b"\nG1 X2\n")
    assert refused.reason == "the line is longer than 65,536 bytes"
    assert refused.line == start.count(b"\n") + 1
    assert read(start + b";" + b"a" * 65_000 + b"\nG1 X2 F60\n").x_mm.size


def test_a_file_without_line_ends_is_refused_and_not_read_for_ever() -> None:
    assert "longer than" in refusal(b"G1 X1 " * 200_000).reason


def test_old_line_ends_a_mark_at_the_start_and_a_missing_last_line_end_are_taken() -> None:
    assert read(b"\xef\xbb\xbfG1 X1 F60\rG1 X2\r").x_mm.tolist() == [1, 1]
    moves = read(b"G1 X1 F60\r\nG1 X2")
    assert moves.x_mm.tolist() == [1, 1]
    assert moves.lines == 2


def test_reading_tells_its_progress_and_stops_when_asked() -> None:
    data = b"G1 X1 F600\nG1 X2\n" * 60_000
    seen: list[int] = []
    read_gcode(io.BytesIO(data), "p", max_bytes=1 << 30, progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == len(data)
    stop: Callable[[], bool] = lambda: len(seen) > 10  # noqa: E731 - a one-word answer
    seen.clear()
    with pytest.raises(GcodeCancelled):
        read_gcode(io.BytesIO(data * 10), "p", max_bytes=1 << 30, progress=seen.append, cancelled=stop)
    assert len(seen) == 11


def test_any_text_is_read_or_refused_and_never_fails_otherwise() -> None:
    chance = random.Random(5)  # noqa: S311 - a test's file, not a secret
    bits = ["G1", "G2", "G3", "G4", "G20", "G28", "G91", "G92", "M83", "M204", "M117 (x", "T0", "X", "Y", "E", "F", "I",
            "R", "P", "N", "*12", "; c", "(", ")", "\n", "\n", "\r", "1", "2.5", "-3", "+.5", "1.2.3", "--",
            "123456789", "%", "/", "=", "é", "SET_X A=1", "GO", "_a", "\t", " ", "X5", "Y6", "E1",
            "F3000", "I5", "R10"]  # fmt: skip
    read_through = 0
    for _ in range(4000):
        text = "".join(
            chance.choice(bits) + chance.choice(["", " ", "\n"]) for _ in range(chance.randint(1, 20))
        )
        try:
            moves = read(text)
        except GcodeRefused:
            continue
        read_through += 1
        assert np.isfinite(moves.x_mm).all()
        assert moves.filament_mm >= 0
    assert read_through > 100
