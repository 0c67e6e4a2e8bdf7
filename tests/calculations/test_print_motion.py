"""Print motion. Expected times are closed forms of even acceleration (t = v / a, v² = v0² + 2 a d) and of the
published junction-deviation formula, worked out by hand beside each; random paths are checked against a plain loop
that plans forward and backward move by move, and a short path by integrating its speed along the way."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from app.calculations import print_motion as module
from app.calculations.print_motion import (
    MotionLimits,
    MotionTime,
    PrintMotionCancelled,
    junction_speed_mm_s,
    print_motion,
    square_corner_deviation_mm,
)
from app.calculations.print_moves import MoveTable

FREE = MotionLimits(
    speed_x_mm_s=1e9,
    speed_y_mm_s=1e9,
    speed_z_mm_s=1e9,
    speed_e_mm_s=1e9,
    acceleration_x_mm_s2=1e9,
    acceleration_y_mm_s2=1e9,
    acceleration_z_mm_s2=1e9,
    acceleration_e_mm_s2=1e9,
)


def free_limits(acceleration: float, corner: float = 0.0) -> MotionLimits:
    """No axis limits: one acceleration and a square corner speed."""
    return replace(
        FREE, acceleration_mm_s2=acceleration, junction_deviation_mm=None, square_corner_speed_mm_s=corner
    )


def table(
    ways: Sequence[Sequence[float]], speed: float | Sequence[float] = 100.0, acceleration: float = math.nan
) -> MoveTable:
    """Moves from rows of x, y, z, e."""
    x, y, z, e = np.array(ways, float).reshape(-1, 4).T.copy()
    return MoveTable(x, y, z, e, np.zeros(x.size) + speed, np.full(x.size, acceleration))


def seconds(ways: Sequence[Sequence[float]], limits: MotionLimits, speed: float = 100.0) -> float:
    return print_motion(table(ways, speed), limits).seconds


@pytest.mark.parametrize(
    ("length", "expected"),
    [
        (5, 0.141421),  # never reaches 100 mm/s: 2 sqrt(d / a), peak sqrt(a d) = 70.711 mm/s
        (10, 0.2000),  # just reaches it: 2 v / a
        (50, 0.6000),  # d / v + v / a
    ],
)
def test_one_move_from_rest_to_rest(length: float, expected: float) -> None:
    assert seconds([[length, 0, 0, 0]], free_limits(1000)) == pytest.approx(expected, abs=5e-7)


def test_a_move_between_two_moving_neighbours() -> None:
    # 12 mm entered at 20, left at 30, top 80 mm/s, 1500 mm/s²: v1² = v0² + 2 a d gives a peak of
    # sqrt((400 + 900) / 2 + 1500 x 12) = 136.6 > 80, so 60/1500 + 50/1500 + (12 - 2 - 1.8333)/80 = 0.175417 s.
    # The neighbours are long and straight on, at 20 and 30 mm/s: each costs its length over speed plus half a stop.
    moves = table([[10, 0, 0, 0], [12, 0, 0, 0], [10, 0, 0, 0]], speed=[20.0, 80.0, 30.0])
    slow = (10 / 20 + 20 / 1500 / 2) + (10 / 30 + 30 / 1500 / 2)
    assert print_motion(moves, free_limits(1500)).seconds - slow == pytest.approx(0.175417, abs=5e-7)


def turn(degrees: float) -> float:
    """Cosine between the directions of two moves that meet in a turn of so many degrees."""
    return math.cos(math.radians(degrees))


def test_corner_speed_by_junction_deviation() -> None:
    # v² = a jd s / (1 - s), s = sin(45 deg) in a right angle: 500 x 0.01 and 3000 x 0.05.
    assert junction_speed_mm_s(turn(90), 500, 0.01) == pytest.approx(3.47434, abs=5e-6)
    assert junction_speed_mm_s(turn(90), 3000, 0.05) == pytest.approx(19.0298, abs=5e-5)


@pytest.mark.parametrize(("degrees", "expected"), [(45, 11.2109), (90, 5.0000), (120, 3.2180)])
def test_corner_speed_by_the_speed_of_a_square_corner(degrees: float, expected: float) -> None:
    # jd = v² (sqrt 2 - 1) / a with v = 5 mm/s, at any acceleration.
    for acceleration in (300, 1000, 20000):
        deviation = square_corner_deviation_mm(5, acceleration)
        assert junction_speed_mm_s(turn(degrees), acceleration, deviation) == pytest.approx(
            expected, abs=5e-5
        )


def test_straight_on_keeps_the_speed_and_a_reversal_stops() -> None:
    assert math.isinf(junction_speed_mm_s(1, 1000, 0.01))
    assert junction_speed_mm_s(-1, 1000, 0.01) == 0
    limits = free_limits(1000, corner=5)
    assert seconds([[25, 0, 0, 0], [25, 0, 0, 0]], limits) == pytest.approx(
        0.6, abs=1e-9
    )  # as one move of 50 mm
    assert seconds([[25, 0, 0, 0], [-25, 0, 0, 0]], limits) == pytest.approx(
        2 * 0.35, abs=1e-9
    )  # d/v + v/a each


def test_a_square_corner_of_two_moves() -> None:
    # 20 mm and 20 mm at a right angle kept at 5 mm/s: 5 mm and 0.1 s up, 4.9875 mm and 0.095 s down to 5, the rest
    # of 10.0125 mm in 0.100125 s; twice.
    result = print_motion(table([[20, 0, 0, 0], [0, 20, 0, 0]]), free_limits(1000, corner=5))
    assert result.seconds == pytest.approx(0.59025, abs=5e-9)
    assert result.bound_s == pytest.approx(0.40)


def test_a_turn_of_45_degrees() -> None:
    # 30 mm each; corner speed 11.2109 mm/s. By the same sums as above: 2 x 0.3894175 s.
    bend = 30 * math.sqrt(0.5)
    assert seconds([[30, 0, 0, 0], [bend, bend, 0, 0]], free_limits(1000, corner=5)) == pytest.approx(
        0.778835, abs=5e-7
    )


def test_at_a_junction_the_smaller_acceleration_counts() -> None:
    moves = replace(table([[40, 0, 0, 0], [0, 40, 0, 0]]), acceleration_mm_s2=np.array([500.0, 4000.0]))
    limits = replace(FREE, junction_deviation_mm=0.01)
    corner = 3.47434  # right angle, 500 mm/s² and 0.01 mm
    expected = sum(
        100 / a + (100 - corner) / a + (40 - (2 * 100**2 - corner**2) / (2 * a)) / 100 for a in (500, 4000)
    )
    assert print_motion(moves, limits).seconds == pytest.approx(expected, abs=1e-6)


def test_an_axis_that_is_slower_slows_the_whole_move() -> None:
    # 30 mm along x and 40 along z is 50 mm; z at most 8 mm/s lets the path have 10, and 80 mm/s² lets it have 100.
    limits = replace(FREE, speed_z_mm_s=8, acceleration_z_mm_s2=80)
    assert seconds([[30, 0, 40, 0]], limits) == pytest.approx(50 / 10 + 10 / 100)
    # The extruder likewise: 5 mm of filament over 50 mm at most 1 mm/s, 10 mm/s²: 10 mm/s, 100 mm/s².
    limits = replace(FREE, speed_e_mm_s=1, acceleration_e_mm_s2=10)
    assert seconds([[50, 0, 0, -5]], limits) == pytest.approx(50 / 10 + 10 / 100)


def test_filament_alone_keeps_its_own_limits_and_stands_between_rests() -> None:
    limits = replace(free_limits(100, corner=50), speed_e_mm_s=40, acceleration_e_mm_s2=1000)
    result = print_motion(table([[50, 0, 0, 1], [0, 0, 0, -4], [50, 0, 0, 0]]), limits)
    assert result.filament_only_s == pytest.approx(4 / 40 + 40 / 1000)
    assert result.printing_s == pytest.approx(2 * math.sqrt(50 / 100))  # at 100 mm/s² never reaches 100 mm/s
    assert result.travel_s == pytest.approx(2 * math.sqrt(50 / 100))
    assert result.seconds == pytest.approx(result.printing_s + result.travel_s + result.filament_only_s)


def test_a_dwell_stops_the_motion_and_counts() -> None:
    moves = replace(
        table([[25, 0, 0, 0], [25, 0, 0, 0]]), rest_row=np.array([1, 2]), rest_s=np.array([1.5, 0.25])
    )
    result = print_motion(moves, free_limits(1000, corner=5))
    assert result.rest_s == 1.75
    assert result.seconds == pytest.approx(2 * 0.35 + 1.75)
    assert result.bound_s == pytest.approx(0.5 + 1.75)


def half_circle(radius: float, climb: float = 0.0) -> MoveTable:
    length = math.hypot(math.pi * radius, climb)
    level = math.pi * radius / length
    return replace(
        table([[-2 * radius, 0, climb, 1]]),
        arc_row=np.array([0]),
        arc_length_mm=np.array([length]),
        arc_radius_mm=np.array([radius]),
        arc_start=np.array([[0, level, climb / length]]),
        arc_end=np.array([[0, -level, climb / length]]),
    )


def test_an_arc_goes_no_faster_than_the_root_of_acceleration_and_radius() -> None:
    # Radius 4 mm at 1000 mm/s²: sqrt(4000) = 63.246 mm/s, not 100.
    top = math.sqrt(4000)
    result = print_motion(half_circle(4), free_limits(1000))
    assert result.seconds == pytest.approx(4 * math.pi / top + top / 1000)
    assert print_motion(half_circle(40), free_limits(1000)).seconds == pytest.approx(40 * math.pi / 100 + 0.1)


def test_a_climbing_arc_bends_less() -> None:
    # A helix has the curvature r / (r² + (climb per radian)²).
    climb = 2.0
    radius = 4 + (climb / math.pi) ** 2 / 4
    top = math.sqrt(1000 * radius)
    length = math.hypot(4 * math.pi, climb)
    assert print_motion(half_circle(4, climb), free_limits(1000)).seconds == pytest.approx(
        length / top + top / 1000
    )


def test_an_arc_meets_its_neighbours_in_the_directions_of_its_ends() -> None:
    # A line along y, a half circle that starts along y and ends against y, a line against y: straight on throughout.
    arc = half_circle(40)
    lines = table([[0, 30, 0, 1], [-80, 0, 0, 1], [0, -30, 0, 1]])
    joined = replace(arc, **{f: getattr(lines, f) for f in ("x_mm", "y_mm", "z_mm", "e_mm", "speed_mm_s")},
                     acceleration_mm_s2=lines.acceleration_mm_s2, arc_row=np.array([1]))  # fmt: skip
    whole = 60 + 40 * math.pi
    assert print_motion(joined, free_limits(1000)).seconds == pytest.approx(whole / 100 + 100 / 1000)


# An independent planner: one move at a time, speeds instead of running minima, time from the corners of each trapezoid.


def plain_plan(moves: MoveTable, limits: MotionLimits) -> float:
    count = moves.x_mm.size
    length, top, rate, direction = [], [], [], []
    for k in range(count):
        way = [float(moves.x_mm[k]), float(moves.y_mm[k]), float(moves.z_mm[k])]
        e = abs(float(moves.e_mm[k]))
        d = math.sqrt(sum(w * w for w in way))
        path = d or e
        asked = float(moves.acceleration_mm_s2[k])
        rates = [] if d == 0 else [limits.acceleration_mm_s2 if math.isnan(asked) else asked]
        tops = [float(moves.speed_mm_s[k])]
        for axis, w in zip("xyze", [*way, e], strict=True):
            if w:
                tops.append(getattr(limits, f"speed_{axis}_mm_s") * path / abs(w))
                rates.append(getattr(limits, f"acceleration_{axis}_mm_s2") * path / abs(w))
        length.append(path)
        top.append(min(tops))
        rate.append(min(rates))
        direction.append([w / d for w in way] if d else None)
    corner = [0.0] * (count + 1)
    for k in range(1, count):
        before, after = direction[k - 1], direction[k]
        if before is None or after is None or k in moves.rest_row:
            continue
        cosine = -sum(p * q for p, q in zip(before, after, strict=True))
        corner[k] = min(top[k - 1], top[k])
        a = min(rate[k - 1], rate[k])
        if cosine > 0.999999:
            corner[k] = 0.0
        elif cosine > -0.999999:
            sine = math.sqrt((1 - cosine) / 2)
            deviation = limits.junction_deviation_mm
            if deviation is None:
                deviation = (limits.square_corner_speed_mm_s or 0) ** 2 * (math.sqrt(2) - 1) / a
            corner[k] = min(corner[k], math.sqrt(a * deviation * sine / (1 - sine)))
    speed = 0.0
    total = float(moves.rest_s.sum())
    sight = limits.queue_moves or count + 1
    allowed = list(corner)
    if limits.queue_moves is None:
        for k in range(count - 1, -1, -1):
            allowed[k] = min(allowed[k], math.sqrt(allowed[k + 1] ** 2 + 2 * rate[k] * length[k]))
    for k in range(count):
        # The speed after move k: what move k can reach, and what the moves then in the queue can still stop from.
        if limits.queue_moves is None:
            leave = allowed[k + 1]
        else:
            leave = 0.0
            for m in range(min(k + sight, count) - 1, k, -1):
                leave = min(corner[m], math.sqrt(leave**2 + 2 * rate[m] * length[m]))
        leave = min(leave, math.sqrt(speed**2 + 2 * rate[k] * length[k]))
        peak = min(top[k], math.sqrt((speed**2 + leave**2) / 2 + rate[k] * length[k]))
        up = (peak**2 - speed**2) / (2 * rate[k])
        down = (peak**2 - leave**2) / (2 * rate[k])
        total += (peak - speed) / rate[k] + (peak - leave) / rate[k] + max(length[k] - up - down, 0.0) / peak
        speed = leave
    return total


def random_path(seed: int, count: int, *, tiny: bool) -> MoveTable:
    chance = np.random.default_rng(seed)
    heading = np.cumsum(chance.normal(0, 0.5, count))
    reach = chance.exponential(0.3 if tiny else 8.0, count) + 0.01
    x, y = reach * np.cos(heading), reach * np.sin(heading)
    z = np.where(chance.random(count) < 0.02, 0.2, 0.0)
    e = np.where(chance.random(count) < 0.8, reach * 0.03, 0.0)
    alone = chance.random(count) < 0.02
    x[alone] = y[alone] = z[alone] = 0.0
    e[alone] = chance.choice([-0.8, 0.8], int(alone.sum()))
    back = chance.random(count) < 0.01
    x[1:][back[1:]], y[1:][back[1:]] = -x[:-1][back[1:]], -y[:-1][back[1:]]
    nowhere = (x == 0) & (y == 0) & (z == 0) & (e == 0)
    x[nowhere] = 1.0
    rest_row = np.unique(chance.integers(0, count + 1, 4))
    speed = chance.choice([5.0, 30.0, 60.0, 150.0, math.inf], count)
    acceleration = chance.choice([math.nan, 500.0, 1500.0, 8000.0], count)
    return MoveTable(x, y, z, e, speed, acceleration, rest_row=rest_row, rest_s=chance.random(rest_row.size))


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("queue", [None, 1, 2, 3, 16])
def test_running_minima_agree_with_a_plain_loop(
    seed: int, queue: int | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Chunks of a few moves too, so that what is handed over between chunks is tried.
    monkeypatch.setattr(module, "_CHUNK", (7, 64, 8192)[seed % 3])
    moves = random_path(seed, 1500, tiny=seed % 2 == 0)
    limits = MotionLimits(queue_moves=queue)
    if seed % 4 == 1:
        limits = replace(limits, junction_deviation_mm=None, square_corner_speed_mm_s=6.0)
    result = print_motion(moves, limits)
    assert result.seconds == pytest.approx(plain_plan(moves, limits), rel=1e-9)
    assert result.seconds >= result.bound_s
    assert result.moves == 1500


def test_long_files_with_high_accelerations_keep_their_digits() -> None:
    moves = random_path(99, 70_000, tiny=False)
    moves = replace(moves, acceleration_mm_s2=np.full(70_000, 20_000.0))
    limits = MotionLimits(
        acceleration_x_mm_s2=20_000, acceleration_y_mm_s2=20_000, acceleration_e_mm_s2=20_000
    )
    assert print_motion(moves, limits).seconds == pytest.approx(plain_plan(moves, limits), rel=1e-9)


def test_a_longer_queue_is_never_slower() -> None:
    moves = random_path(5, 2000, tiny=True)
    times = [print_motion(moves, MotionLimits(queue_moves=q)).seconds for q in (1, 2, 4, 16, 64, None)]
    assert times == sorted(times, reverse=True)
    assert times[0] > times[-1] * 1.2


def test_integrating_the_speed_along_a_short_path_gives_the_same_time() -> None:
    # The fastest speed at each of many places: at most the top speed there and the corner speed at a corner, and
    # changing by no more than a allows over each step; then the sum of step over mean speed. Corner speeds by hand:
    # 90 deg 5 mm/s; 45 deg 11.2109 mm/s; and the last end at rest.
    bend = 0.4 * math.sqrt(0.5)
    ways: list[list[float]] = [[6, 0, 0, 0], [0, 0.4, 0, 0], [bend, bend, 0, 0], [9, 9, 0, 0]]
    length = [math.hypot(*way[:2]) for way in ways]
    corners = {0.0: 0.0, length[0]: 5.0, length[0] + length[1]: 11.2109, sum(length): 0.0}
    places = np.unique(np.concatenate((np.linspace(0, sum(length), 200_001), list(corners))))
    v2 = np.full(places.size, 100.0**2)
    for at, corner in corners.items():
        v2[np.abs(places - at).argmin()] = corner**2
    step = np.diff(places)
    for k in range(step.size):
        v2[k + 1] = min(v2[k + 1], v2[k] + 2 * 1000 * step[k])
    for k in range(step.size - 1, -1, -1):
        v2[k] = min(v2[k], v2[k + 1] + 2 * 1000 * step[k])
    v = np.sqrt(v2)
    integrated = float((2 * step / (v[1:] + v[:-1])).sum())
    assert seconds(ways, free_limits(1000, corner=5)) == pytest.approx(integrated, rel=1e-5)


def test_no_moves_take_no_time() -> None:
    assert print_motion(table([]), MotionLimits()) == MotionTime(0, 0, 0, 0, 0, 0, 0)


def test_limits_of_a_file_take_the_place_of_the_printers() -> None:
    limits = MotionLimits().with_limits({"speed_z_mm_s": 20.0, "square_corner_speed_mm_s": 8.0})
    assert limits == replace(
        MotionLimits(), speed_z_mm_s=20.0, square_corner_speed_mm_s=8.0, junction_deviation_mm=None
    )
    both = {"junction_deviation_mm": 0.05, "square_corner_speed_mm_s": 8.0}
    assert MotionLimits().with_limits(both) == MotionLimits(junction_deviation_mm=0.05)
    assert MotionLimits().with_limits({}) == MotionLimits()


def test_limits_that_cannot_be_are_named_all_at_once() -> None:
    with pytest.raises(
        ValueError, match=r"speed_x_mm_s .* got 0.*acceleration_z_mm_s2 .* got nan.*queue_moves .* -1"
    ):
        MotionLimits(speed_x_mm_s=0, acceleration_z_mm_s2=math.nan, queue_moves=-1)
    with pytest.raises(ValueError, match="one of junction_deviation_mm and square_corner_speed_mm_s"):
        MotionLimits(square_corner_speed_mm_s=5)


def test_moves_that_do_not_fit_together_are_refused() -> None:
    moves = table([[1, 0, 0, 0], [2, 0, 0, 0]])
    for wrong in (
        {"y_mm": np.zeros(1)},
        {"speed_mm_s": np.array([1.0, 0.0])},
        {"speed_mm_s": np.array([1.0, math.nan])},
        {"acceleration_mm_s2": np.array([-1.0, 5.0])},
        {"rest_row": np.array([1])},
        {"rest_row": np.array([2, 1]), "rest_s": np.zeros(2)},
        {"arc_row": np.array([0])},
    ):
        with pytest.raises(ValueError, match="must be"):
            print_motion(replace(moves, **wrong), MotionLimits())


def test_planning_tells_its_progress_and_stops_when_asked() -> None:
    moves = random_path(1, 50_000, tiny=True)
    seen: list[int] = []
    print_motion(moves, MotionLimits(), progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 50_000
    with pytest.raises(PrintMotionCancelled):
        print_motion(moves, MotionLimits(), cancelled=lambda: True)
