"""Pull-ups, capacitance and modes of a two-wire bus, against the bus specification and an application note."""

import pytest

from app.calculations.two_wire_bus import (
    BUS_MODES,
    FAST_MODE,
    FAST_MODE_PLUS,
    RISE_FACTOR,
    STANDARD_MODE,
    BusMode,
    bus_capacitance_pf,
    bus_mode,
    parallel_ohm,
    pull_up_high_ohm,
    pull_up_low_ohm,
    transfer_ms,
    two_wire_bus,
)


def test_the_rise_factor_is_that_of_the_specification() -> None:
    # UM10204 section 7.1 prints 0.8473, from t1 = 0.3566749 RC to t2 = 1.2039729 RC.
    assert pytest.approx(0.8472979, abs=1e-6) == RISE_FACTOR
    assert pytest.approx(1.2039729 - 0.3566749, abs=1e-6) == RISE_FACTOR


# UM10204 Rev. 6 Table 10; the same rise times, loads and sink currents are printed in the two-wire tables of the
# data sheets of newer 8-bit chips (1000, 300 and 120 ns; 400, 400 and 550 pF; 3, 3 and 20 mA).
@pytest.mark.parametrize(
    ("mode", "clock_khz", "rise_ns", "load_limit_pf", "sink_ma"),
    [
        (STANDARD_MODE, 100, 1000, 400, 3),
        (FAST_MODE, 400, 300, 400, 3),
        (FAST_MODE_PLUS, 1000, 120, 550, 20),
    ],
)
def test_modes_have_the_limits_of_the_specification(
    mode: BusMode, clock_khz: float, rise_ns: float, load_limit_pf: float, sink_ma: float
) -> None:
    assert (mode.clock_khz, mode.rise_ns, mode.load_limit_pf, mode.sink_ma) == (
        clock_khz,
        rise_ns,
        load_limit_pf,
        sink_ma,
    )


@pytest.mark.parametrize(
    ("mode", "supply_v", "capacitance_pf", "low_ohm", "high_ohm"),
    [
        # SLVA689, section 4, the example: 966.667 ohm to 1.77 kohm.
        (FAST_MODE, 3.3, 200, 966.667, 1770.33),
        # UM10204 section 7.1, equations 1 and 2, worked out by hand.
        (STANDARD_MODE, 5, 100, 1533.33, 11802.2),
        (FAST_MODE, 5, 400, 1533.33, 885.16),
        (FAST_MODE_PLUS, 5, 550, 230.0, 257.5),
        (FAST_MODE_PLUS, 3.3, 100, 145.0, 1416.26),
    ],
)
def test_pull_up_limits_are_those_of_the_specification(
    mode: BusMode, supply_v: float, capacitance_pf: float, low_ohm: float, high_ohm: float
) -> None:
    assert pull_up_low_ohm(supply_v, mode) == pytest.approx(low_ohm, rel=1e-4)
    assert pull_up_high_ohm(capacitance_pf, mode) == pytest.approx(high_ohm, rel=1e-4)


def test_a_full_bus_in_fast_mode_at_5_volts_takes_no_pull_up() -> None:
    # UM10204, equations 1 and 2: at 400 pF the largest is 885.16 ohm, under the smallest of 1533.33 ohm.
    bus = two_wire_bus(5, 400, 3.9, 0, [4700])
    assert bus.capacitance_pf == 400
    assert "no pull-up holds" in bus.faults
    assert bus.verdict == "stop"
    assert bus.fastest_with_other_pull_up == STANDARD_MODE
    assert bus.add_ohm is None


def test_five_modules_with_their_own_pull_ups_are_too_strong() -> None:
    # Common practice, needs C7: five of 4.7 kohm are 0.94 kohm; at 5 V that is 4.9 mA where 3 mA can be sunk.
    bus = two_wire_bus(5, 100, 0.3, 5, [4700] * 5)
    assert bus.pull_up_ohm == pytest.approx(940)
    assert bus.sink_ma == pytest.approx(4.9, abs=0.05)
    assert bus.faults == ("too strong",)
    assert bus.take_off == (0, 1)  # three left are 1567 ohm, four 1175: the smallest allowed is 1533
    assert bus.fastest is None


def test_the_demo_bus_of_2_4_metres_holds_at_100_khz_only() -> None:
    # scenario.md section 9, fault 4: about 280 pF, 3.33 kohm; limit 1.26 kohm at 400 kHz and 4.22 kohm at 100 kHz.
    bus = two_wire_bus(3.3, 400, 2.4, 3, [10_000] * 3)
    assert bus.capacitance_pf == pytest.approx(280)
    assert bus.pull_up_ohm == pytest.approx(3333, abs=1)
    assert bus.high_ohm == pytest.approx(1265, abs=1)
    assert (bus.faults, bus.verdict) == (("too weak",), "stop")
    assert bus.fastest == STANDARD_MODE
    assert bus.fastest_with_other_pull_up == FAST_MODE
    at_100 = two_wire_bus(3.3, 100, 2.4, 3, [10_000] * 3)
    assert at_100.high_ohm == pytest.approx(4215, abs=1)
    assert at_100.verdict == "fine"


# scenario.md section 10, the other buses: board volts, clock, run, devices, pull-up of each. None is named as faulty.
@pytest.mark.parametrize(
    ("supply_v", "clock_khz", "run_m", "devices", "pull_up_ohm"),
    [
        (5, 400, 0.3, 1, 4700),
        (3.3, 100, 0.4, 1, 10_000),
        (5, 400, 0.26, 2, 4700),
        (3.3, 400, 0.2, 3, 4700),
        (3.3, 400, 0.2, 1, 4700),
    ],
)
def test_the_other_demo_buses_are_in_order(
    supply_v: float, clock_khz: float, run_m: float, devices: int, pull_up_ohm: float
) -> None:
    bus = two_wire_bus(supply_v, clock_khz, run_m, devices, [pull_up_ohm] * devices)
    assert (bus.faults, bus.missing, bus.verdict) == ((), (), "fine")
    assert bus.fastest is not None
    assert bus.fastest.clock_khz >= clock_khz


def test_a_resistor_from_the_range_offered_makes_a_weak_bus_hold() -> None:
    weak = two_wire_bus(3.3, 400, 2.4, 3, [10_000] * 3)
    assert weak.add_ohm is not None
    for ohm in weak.add_ohm:
        assert two_wire_bus(3.3, 400, 2.4, 3, [10_000, 10_000, 10_000, ohm]).verdict == "fine"
    low, high = weak.add_ohm
    assert two_wire_bus(3.3, 400, 2.4, 3, [10_000, 10_000, 10_000, low * 0.99]).faults == ("too strong",)
    assert two_wire_bus(3.3, 400, 2.4, 3, [10_000, 10_000, 10_000, high * 1.01]).faults == ("too weak",)


def test_the_longest_run_is_where_the_pull_up_just_holds() -> None:
    bus = two_wire_bus(3.3, 400, 2.4, 3, [10_000] * 3)
    assert bus.longest_run_m is not None
    assert two_wire_bus(3.3, 400, bus.longest_run_m, 3, [10_000] * 3).verdict == "fine"
    assert two_wire_bus(3.3, 400, bus.longest_run_m * 1.01, 3, [10_000] * 3).verdict == "stop"


def test_without_a_pull_up_the_whole_range_is_offered() -> None:
    bus = two_wire_bus(3.3, 400, 1.6, 3, [])  # 200 pF, the application note's example
    assert (bus.faults, bus.verdict) == (("no pull-up",), "stop")
    assert bus.add_ohm == pytest.approx((966.667, 1770.33), rel=1e-4)


def test_too_much_wire_is_a_fault_whatever_the_pull_up() -> None:
    bus = two_wire_bus(3.3, 100, 4.0, 3, [2200])
    assert bus.capacitance_pf == 440
    assert bus.faults == ("too much capacitance",)
    assert bus.fastest is None


def test_a_missing_input_cannot_tell_but_a_known_fault_stays_one() -> None:
    assert two_wire_bus(3.3, 100, None, 1, [4700]).verdict == "cannot tell"
    assert two_wire_bus(3.3, 100, None, 1, [4700]).missing == ("run",)
    assert two_wire_bus(None, 100, 0.3, 1, [4700]).missing == ("supply",)
    assert two_wire_bus(3.3, None, 0.3, 1, [4700]).missing == ("clock",)
    assert two_wire_bus(3.3, 100, 0.3, 2, [4700, None]).missing == ("pull-ups",)
    assert two_wire_bus(3.3, 100, 0.3, 2, [4700, None]).verdict == "cannot tell"
    # More wire only slows: too weak already stays too weak. One pull-up more only strengthens.
    assert two_wire_bus(3.3, 400, None, 20, [10_000]).faults == ("too weak",)
    assert two_wire_bus(5, 100, 0.3, 2, [1000, None]).faults == ("too strong",)
    assert two_wire_bus(3.3, 400, 2.4, 2, [10_000, None]).faults == ()


def test_a_read_of_an_expander_takes_about_half_a_millisecond() -> None:
    # Common practice, needs C4: about 0.3 to 0.5 ms a read at 100 kHz (four to five bytes of nine clocks).
    assert transfer_ms(5, 100) == pytest.approx(0.45)
    assert transfer_ms(4, 100) == pytest.approx(0.36)


def test_a_clock_belongs_to_the_slowest_mode_that_reaches_it() -> None:
    assert [bus_mode(khz) for khz in (10, 100, 101, 400, 1000)] == [
        STANDARD_MODE,
        STANDARD_MODE,
        FAST_MODE,
        FAST_MODE,
        FAST_MODE_PLUS,
    ]
    assert two_wire_bus(5, 1000, 0.2, 1, [1000], modes=BUS_MODES).fastest == FAST_MODE_PLUS


def test_figures_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="clock_khz 0"):
        bus_mode(0)
    with pytest.raises(ValueError, match="1000 kHz at most"):
        bus_mode(3400)
    with pytest.raises(ValueError, match="none may be negative"):
        bus_capacitance_pf(-1, 1)
    with pytest.raises(ValueError, match="over 0 ohm"):
        parallel_ohm([4700, 0])
    with pytest.raises(ValueError, match="one or more"):
        parallel_ohm([])
    with pytest.raises(ValueError, match="must be over low_v"):
        pull_up_low_ohm(0.4, FAST_MODE)
    with pytest.raises(ValueError, match="capacitance_pf -1"):
        pull_up_high_ohm(-1, FAST_MODE)
    with pytest.raises(ValueError, match="-1 bytes"):
        transfer_ms(-1, 100)
