import pytest

from app.calculations.power_draw import (
    Load,
    RailLoad,
    most_at_once,
    rail_load,
    staggered_peak_ma,
    supply_load,
)

# The loads of the invented demo cockpit: scenario.md section 4 (how many functions have the wiring word),
# scenario.json `wiring_styles` (mA typical and at peak of one), section 3 and `strips` (light strips),
# section 10 (idle: servo 10 mA, else as typical).
LOGIC = [
    Load("gs4", 6, 20, 20, 40),
    Load("gsd", 8, 20, 20, 40),
    Load("led", 7, 2, 2, 15),
    Load("sr", 15, 2, 2, 15),
    Load("exo", 6, 2, 2, 15),
    Load("o64", 3, 15, 15, 25),
    Load("o32", 5, 10, 10, 15),
    Load("seg", 7, 40, 40, 160),
]
MOTORS = [Load("gsti", 5, 175, 175, 255), Load("px", 23, 4, 4, 60)]
SERVOS = [Load("svd", 8, 10, 60, 700, peak_is_stall=True), Load("sve", 5, 10, 60, 700, peak_is_stall=True)]
COILS = [Load("hold", 1, 90, 90, 220), Load("strip", 14, 30, 30, 60)]


# scenario.md section 3, its printed figures: loads, typical A, all at peak A (two decimals).
@pytest.mark.parametrize(
    ("loads", "count", "typical_a", "peak_a"),
    [
        (LOGIC, 57, 0.71, 2.25),
        (MOTORS, 28, 0.97, 2.65),
        (SERVOS, 13, 0.78, 9.10),
        (COILS, 15, 0.51, 1.06),
    ],
)
def test_the_demo_rails_come_to_the_printed_sums(
    loads: list[Load], count: int, typical_a: float, peak_a: float
) -> None:
    rail = rail_load(loads)
    assert rail.count == count
    assert rail.typical.draw_ma / 1000 == pytest.approx(typical_a, abs=0.0050001)
    assert rail.peak.draw_ma / 1000 == pytest.approx(peak_a, abs=0.0050001)


# scenario.md section 3, last column: per cent of the rating at peak; supplies 5 V 10 A shared, 6 V 5 A, 12 V 5 A.
@pytest.mark.parametrize(
    ("rails", "rating_a", "per_cent", "verdict"),
    [
        ([LOGIC, MOTORS], 10, 49, "fine"),
        ([SERVOS], 5, 182, "stop"),
        ([COILS], 5, 21, "fine"),
    ],
)
def test_the_verdict_belongs_to_the_supply_and_sums_its_rails(
    rails: list[list[Load]], rating_a: float, per_cent: int, verdict: str
) -> None:
    found = supply_load([rail_load(loads) for loads in rails], rating_a, rating_mark="listed")
    assert found.peak_share is not None
    assert round(found.peak_share * 100) == per_cent
    assert found.verdict == verdict
    assert sum(share or 0 for share in found.rail_shares) == pytest.approx(found.peak_share)
    assert found.mark == "assumed"


def test_eight_amperes_need_a_supply_of_ten() -> None:
    # values.md S2.3: continuous load 8 A, sized at 125 %, 10 A (NEC 210.20(A), cited from memory there).
    found = supply_load([rail_load([Load("all", peak_ma=8000, typical_ma=8000, idle_ma=0)])], 10)
    assert found.needed_rating_a == pytest.approx(10)
    assert found.allowed_a == pytest.approx(8)
    assert found.verdict == "fine"


@pytest.mark.parametrize(
    ("peak_ma", "verdict"), [(8000, "fine"), (8001, "caution"), (10_000, "caution"), (10_001, "stop")]
)
def test_over_eighty_per_cent_is_a_caution_and_over_the_rating_a_stop(peak_ma: float, verdict: str) -> None:
    assert supply_load([rail_load([Load("all", peak_ma=peak_ma)])], 10).verdict == verdict


def test_a_load_without_its_peak_is_named_and_never_passes() -> None:
    rail = rail_load([Load("lamp", peak_ma=60, typical_ma=30), Load("mystery drive", 2, typical_ma=100)])
    assert rail.peak.missing == ("mystery drive",)
    assert rail.typical.missing == ()
    assert rail.typical.draw_ma == 230
    assert supply_load([rail], 5).verdict == "cannot tell"


def test_known_loads_over_the_rating_stop_whatever_else_is_missing() -> None:
    found = supply_load([rail_load([*SERVOS, Load("mystery drive")])], 5)
    assert found.verdict == "stop"
    assert found.peak.missing == ("mystery drive",)


def test_without_a_rating_nothing_can_be_told() -> None:
    found = supply_load([rail_load(SERVOS)], None)
    assert (found.verdict, found.peak_share, found.allowed_a) == ("cannot tell", None, None)
    # 9.1 A at 80 % of the rating: 9.1 / 0.8 = 11.375 A, arithmetic.
    assert found.needed_rating_a == pytest.approx(11.375)


def test_the_weakest_mark_of_the_figures_used_is_kept() -> None:
    rail = rail_load(
        [Load("a", peak_ma=1, peak_mark="measured"), Load("b", peak_ma=1, peak_mark="listed"), Load("c")]
    )
    assert rail.peak.mark == "listed"
    assert supply_load([rail], 5, rating_mark="copied").mark == "copied"


def test_an_empty_rail_draws_nothing() -> None:
    rail = rail_load([])
    assert (rail.count, rail.peak.draw_ma, rail.peak.mark) == (0, 0, None)
    assert rail.peak.is_known


def test_a_load_of_which_there_is_none_is_not_missed() -> None:
    assert rail_load([Load("none of it", 0)]).peak.missing == ()


@pytest.mark.parametrize("bad", [Load("x", -1), Load("x", peak_ma=-5), Load("x", idle_ma=float("nan"))])
def test_a_negative_load_is_an_error(bad: Load) -> None:
    with pytest.raises(ValueError, match="none may be negative"):
        rail_load([bad])


@pytest.mark.parametrize(("rating_a", "load_share"), [(0, 0.8), (-5, 0.8), (5, 0), (5, 1.1)])
def test_a_rating_or_share_out_of_range_is_an_error(rating_a: float, load_share: float) -> None:
    with pytest.raises(ValueError, match="must be over 0"):
        supply_load([], rating_a, load_share=load_share)


def test_homing_four_servos_at_a_time_fits_the_supply() -> None:
    # scenario.md section 9, fault 13: four at a time 2.8 A + idle; nine idle at 10 mA (section 10): 2.89 A.
    draw_ma = staggered_peak_ma(SERVOS, 4)
    assert draw_ma == pytest.approx(4 * 700 + 9 * 10)
    found = supply_load([rail_load([Load("homing", peak_ma=draw_ma)])], 5)
    assert found.verdict == "fine"


def test_all_at_once_is_the_peak_and_none_at_once_is_idle() -> None:
    rail: RailLoad = rail_load(SERVOS)
    assert staggered_peak_ma(SERVOS, 13) == pytest.approx(rail.peak.draw_ma)
    assert staggered_peak_ma(SERVOS, 99) == pytest.approx(rail.peak.draw_ma)
    assert staggered_peak_ma(SERVOS, 0) == pytest.approx(rail.idle.draw_ma)


def test_the_hungriest_drives_are_the_ones_that_move() -> None:
    # By hand: the large drive moves (1000), both small ones idle (2 x 5), the lamp is at its peak (60).
    loads = [
        Load("small", 2, idle_ma=5, peak_ma=300, peak_is_stall=True),
        Load("large", 1, idle_ma=20, peak_ma=1000, peak_is_stall=True),
        Load("lamp", 1, idle_ma=0, peak_ma=60),
    ]
    assert staggered_peak_ma(loads, 1) == pytest.approx(1070)


@pytest.mark.parametrize("allowed_ma", [100, 130, 829, 830, 2890, 4000, 9099, 9100, 20_000])
def test_as_many_may_move_as_a_plain_count_finds(allowed_ma: float) -> None:
    fitting = [k for k in range(14) if k * 700 + (13 - k) * 10 <= allowed_ma]
    assert most_at_once(SERVOS, allowed_ma) == max(fitting, default=0)


def test_a_missing_figure_cannot_be_staggered() -> None:
    assert staggered_peak_ma([Load("servo", 2, peak_ma=700, peak_is_stall=True)], 1) is None
    assert staggered_peak_ma([Load("servo", 2, idle_ma=10, peak_is_stall=True)], 1) is None
    assert most_at_once([Load("servo", 2, peak_ma=700, peak_is_stall=True)], 4000) is None
    assert most_at_once(COILS, 4000) is None


def test_fewer_than_none_at_once_is_an_error() -> None:
    with pytest.raises(ValueError, match="at_once -1"):
        staggered_peak_ma(SERVOS, -1)
