"""Currents of pins against the limits of data sheets, and against every way the coils can flow."""

import itertools
import random

import pytest

from app.calculations.board_current import CurrentPath, PinLimit, board_current

# Atmel-8271H p. 301, notes to the DC characteristics, in the labels of a module with this chip.
D0_D4 = ("D0", "D1", "D2", "D3", "D4")
SINK_D0_D4 = PinLimit("group", "sink", 100, D0_D4, name="D0 to D4")
SINK_B = PinLimit("group", "sink", 100, ("D5", "D6", "D7", *(f"D{k}" for k in range(8, 14))))
SOURCE_CD = PinLimit("group", "source", 150, (*D0_D4, *(f"A{k}" for k in range(6))))
PIN = PinLimit("pin", "either", 40)
PIN_TEST = PinLimit("pin", "either", 20, is_absolute=False)
CHIP = PinLimit("chip", "either", 200)
LIMITS = [PIN, PIN_TEST, SINK_D0_D4, SINK_B, SOURCE_CD, CHIP]


def _lights(pins: list[str], current_ma: float) -> list[CurrentPath]:
    return [CurrentPath(f"light on {pin}", current_ma, sink_pin=pin) for pin in pins]


def test_six_lights_reach_the_limit_of_their_group_and_do_not_exceed_it() -> None:
    # Atmel-8271H: six lights of 20 mA on PD0 to PD4 and PB0; the group of PD0 to PD4 is at its 100 mA.
    found = board_current(_lights([*D0_D4, "D8"], 20), LIMITS)
    group = next(load for load in found.loads if load.limit == SINK_D0_D4)
    assert (group.load_ma, group.share, group.verdict) == (100, 1, "fine")
    assert found.verdict == "fine"


def test_a_little_more_on_the_full_group_is_a_stop() -> None:
    found = board_current(_lights([*D0_D4, "D8"], 20.2), [SINK_D0_D4])
    assert found.worst is not None
    assert found.worst.load_ma == pytest.approx(101)
    assert found.verdict == "stop"


def test_eight_lights_of_20_ma_are_too_many_for_a_logic_register() -> None:
    # needs C8: 160 mA through a part good for 70 mA; eight at 8 mA, 64 mA, is the edge.
    chip = PinLimit("chip", "either", 70)
    outputs = [f"Q{k}" for k in range(8)]
    over = board_current(_lights(outputs, 20), [chip])
    assert over.worst is not None
    assert (over.worst.load_ma, over.verdict) == (160, "stop")
    edge = board_current(_lights(outputs, 8), [chip])
    assert edge.worst is not None
    assert (edge.worst.load_ma, edge.verdict) == (64, "fine")


def test_sinking_and_sourcing_are_summed_apart() -> None:
    # RP2040 data sheet, Table 632: 50 mA sourced and 50 mA sunk by all pins together.
    limits = [PinLimit("chip", "source", 50), PinLimit("chip", "sink", 50)]
    down = [CurrentPath(f"down {k}", 8, source_pin=f"GP{k}") for k in range(6)]
    up = [CurrentPath(f"up {k}", 8, sink_pin=f"GP{k}") for k in range(6, 12)]
    found = board_current([*down, *up], limits)
    assert [(load.direction, load.load_ma) for load in found.loads] == [("source", 48), ("sink", 48)]
    assert found.verdict == "fine"
    assert board_current([*down, CurrentPath("one more", 8, source_pin="GP20")], limits).verdict == "stop"


def test_over_a_test_point_is_a_caution_and_over_an_absolute_limit_a_stop() -> None:
    assert board_current(_lights(["D3"], 25), LIMITS).verdict == "caution"
    assert board_current(_lights(["D3"], 41), LIMITS).verdict == "stop"
    two = [CurrentPath("red", 15, sink_pin="D3"), CurrentPath("green", 15, sink_pin="D3")]
    worst = board_current(two, LIMITS).worst
    assert worst is not None
    assert (worst.pin, worst.load_ma, worst.verdict) == ("D3", 30, "caution")


def test_coils_of_the_demo_gauges_stay_within() -> None:
    # scenario.md section 10: 280 ohm a coil, two coils a gauge, at 5 V: 17.9 mA; three gauges on BD01.
    coils = [
        CurrentPath(
            f"gauge {g} coil {c}", 5 / 280 * 1000, f"D{4 * g + 2 * c + 22}", f"D{4 * g + 2 * c + 23}", True
        )
        for g in range(3)
        for c in range(2)
    ]
    found = board_current(coils, [PIN, PIN_TEST, CHIP])
    chip = [load.load_ma for load in found.loads if load.limit == CHIP]
    assert chip == pytest.approx([107.1, 107.1], abs=0.1)
    assert found.verdict == "fine"


@pytest.mark.parametrize("seed", range(40))
def test_sums_are_the_worst_over_every_way_the_coils_can_flow(seed: int) -> None:
    dice = random.Random(seed)  # noqa: S311  # cases for a test, not a secret
    pins = [f"D{k}" for k in range(8)]
    paths = []
    for k in range(6):
        a, b = dice.sample(pins, 2)
        kind = dice.choice(["coil", "sink", "source"])
        paths.append(
            CurrentPath(
                f"path {k}",
                dice.randint(1, 30),
                source_pin="" if kind == "sink" else a,
                sink_pin="" if kind == "source" else b,
                is_reversible=kind == "coil",
            )
        )
    limits = [
        PinLimit("group", "either", 50, tuple(dice.sample(pins, 4))),
        PinLimit("pin", "either", 20),
        CHIP,
    ]
    worst: dict[tuple[PinLimit, str, str], float] = {}
    for turned in itertools.product(*([False, True] if path.is_reversible else [False] for path in paths)):
        ends = [
            (path.sink_pin, path.source_pin) if turn else (path.source_pin, path.sink_pin)
            for path, turn in zip(paths, turned, strict=True)
        ]
        for limit in limits:
            for place, direction in enumerate(("source", "sink")):
                for pin in pins if limit.scope == "pin" else [""]:
                    covered = {pin} if pin else set(limit.pins or pins)
                    total = sum(
                        p.current_ma or 0 for p, end in zip(paths, ends, strict=True) if end[place] in covered
                    )
                    key = (limit, direction, pin)
                    worst[key] = max(worst.get(key, 0), total)
    found = board_current(paths, limits)
    assert {(load.limit, load.direction, load.pin): load.load_ma for load in found.loads} == {
        key: total for key, total in worst.items() if total
    }


def test_a_missing_current_cannot_tell_but_a_known_overload_stays_one() -> None:
    unknown = CurrentPath("lamp", None, sink_pin="D0")
    assert board_current([unknown], LIMITS).missing == ("lamp",)
    assert board_current([unknown], LIMITS).verdict == "cannot tell"
    assert board_current([unknown, *_lights(["D3"], 41)], LIMITS).verdict == "stop"
    assert board_current(_lights(["D3"], 5), []).verdict == "cannot tell"
    assert board_current([], []).verdict == "fine"


def test_bad_paths_and_limits_are_refused() -> None:
    with pytest.raises(ValueError, match="is no path"):
        board_current([CurrentPath("lamp", 5)], [])
    with pytest.raises(ValueError, match="must not be negative"):
        board_current(_lights(["D3"], -1), [])
    with pytest.raises(ValueError, match="scope 'port'"):
        board_current([], [PinLimit("port", "sink", 1)])
    with pytest.raises(ValueError, match="a group with its pins"):
        board_current([], [PinLimit("group", "sink", 1)])
