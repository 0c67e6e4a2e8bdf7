"""The demo's boards for tests: wiring words and lists of scenario.json, and pins of its four board types."""

from app.calculations.pin_demand import FunctionNeed, TerminalNeed
from app.calculations.pin_fit import Pin


def _own(need: str, count: int, name: str) -> tuple[TerminalNeed, ...]:
    return tuple(TerminalNeed(f"{name} {k}" if count > 1 else name, need) for k in range(1, count + 1))


def _shared(group: str, *needs: str) -> tuple[TerminalNeed, ...]:
    return tuple(TerminalNeed(f"{need} {k}", need, group) for k, need in enumerate(needs, start=1))


I2C = (TerminalNeed("SDA", "sda", "i2c"), TerminalNeed("SCL", "scl", "i2c"))
SERIAL = (TerminalNeed("receive", "rx", "serial"), TerminalNeed("send", "tx", "serial"))

# scenario.md section 10, "Terminals by wiring word".
WIRING: dict[str, tuple[TerminalNeed, ...]] = {
    "gs4": _own("out", 4, "coil"),
    "gsd": (TerminalNeed("step", "out"), TerminalNeed("direction", "out"), *_shared("gdrv", "out")),
    "gsti": (*_own("out", 4, "coil"), TerminalNeed("index", "in")),
    "svd": _own("out", 1, "signal"),
    "sve": I2C,
    "led": _own("out", 1, "lamp"),
    "sr": _shared("sro", "out", "out", "out"),
    "px": _shared("px", "out"),
    "o64": I2C,
    "o32": I2C,
    "seg": _shared("seg", "out", "out", "out"),
    "tg": _own("in", 1, "contact"),
    "tg3": _own("in", 2, "contact"),
    "mx": (TerminalNeed("contact", "contact", per_position=True),),
    "ex": I2C,
    "exo": I2C,
    "lad": _own("analogue", 1, "ladder"),
    "rot": (TerminalNeed("position", "in", per_position=True),),
    "enc": _own("in", 2, "phase"),
    "encp": (*_own("in", 2, "phase"), TerminalNeed("push", "in")),
    "bt": _own("in", 1, "contact"),
    "pot": _own("analogue", 1, "wiper"),
    "hold": (TerminalNeed("coil", "out"), TerminalNeed("contact", "in")),
    "isr": _shared("isr", "out", "out", "in"),
}

# scenario.json: board, type, first function number, wiring words in list order, positions after a colon.
DEMO = {
    "BD01": ("T8L", "gs4 gsti enc o32 gs4 gsti svd gsti enc svd svd gs4 led"),
    "BD02": ("T32", "gsd gsd gsd gsd gsd gsd seg seg sve sve sve sve"),
    "BD03": ("T8S", "px px px px px px px px px px px px px px px px bt bt px"),
    "BD04": ("T8S", "svd svd o64 o64 lad:6 tg tg led led"),
    "BD05": (
        "T8L",
        "gsti tg3 lad:5 encp seg sr sr sr sr mx mx mx hold sr sr sr sr sr mx mx sr sr sr sr mx mx sr sr svd",
    ),
    "BD06": ("T8S", "gs4 gs4 gs4 rot:4 tg tg led led o32"),
    "BD07": ("T32", "sve lad:6 gsd gsd ex ex ex ex ex exo exo ex exo ex exo ex:3 ex:2 exo exo"),
    "BD08": ("T8L", "pot svd enc svd pot led mx mx mx mx mx mx mx mx mx:3 pot"),
    "BD09": ("T32", "seg seg enc encp bt pot isr isr isr isr isr isr:6 pot isr"),
    "BD10": ("T32", "encp o32 encp o32 encp o32 mx px mx px mx px mx px mx px mx px"),
    "BD11": ("T8S", "seg seg bt bt gsti"),
    "BD12": ("T32W", "o64 pot bt tg led"),
}


def demo_functions(board: str) -> list[FunctionNeed]:
    """The functions of a demo board; BD06's are F083 to F091, others are numbered from F001."""
    first = 83 if board == "BD06" else 1
    functions = []
    for number, word in enumerate(DEMO[board][1].split(), start=first):
        code, _, positions = word.partition(":")
        functions.append(FunctionNeed(f"F{number:03}", WIRING[code], int(positions) if positions else None))
    return functions


def demo_link(board: str) -> tuple[TerminalNeed, ...]:
    """The link of a demo board: a port chip on the two eight-bit types, none on the others."""
    return SERIAL if DEMO[board][0] in ("T8S", "T8L") else ()


def _eight_bit(labels: list[str], extra: dict[str, str], analogue: int) -> list[Pin]:
    labels = [*labels, *(f"A{k}" for k in range(analogue))]
    return [
        Pin(
            label,
            frozenset(
                {"in", "out", "pullup", *extra.get(label, "").split()}
                | ({f"analogue:{label}"} if label.startswith("A") else set())
            ),
        )
        for label in labels
    ]


def _t8s() -> list[Pin]:
    # ATmega328P data sheet, table "Port pins alternate functions"; module labels are common practice.
    extra = {
        "D0": "rx:0",
        "D1": "tx:0",
        "D2": "interrupt:INT0",
        "D3": "interrupt:INT1 pulse:2B",
        "D5": "pulse:0B",
        "D6": "pulse:0A",
        "D9": "pulse:1A",
        "D10": "pulse:1B",
        "D11": "pulse:2A spi-out:0",
        "D12": "spi-in:0",
        "D13": "spi-clock:0",
        "A4": "sda:0",
        "A5": "scl:0",
    }
    return _eight_bit([f"D{k}" for k in range(14)], extra, 6)


def _t8l() -> list[Pin]:
    # ATmega2560 data sheet, port tables; module labels are common practice. D13 has two timers.
    pulses = ["3B", "3C", "0B", "3A", "4A", "4B", "4C", "2B", "2A", "1A", "1B"]
    extra = {
        f"D{k}": f"pulse:{output}"
        for k, output in zip((2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12), pulses, strict=True)
    }
    extra |= {"D13": "pulse:0A pulse:1C", "D44": "pulse:5C", "D45": "pulse:5B", "D46": "pulse:5A"}
    for label, more in {
        "D0": "rx:0",
        "D1": "tx:0",
        "D2": "interrupt:INT4",
        "D3": "interrupt:INT5",
        "D14": "tx:3",
        "D15": "rx:3",
        "D16": "tx:2",
        "D17": "rx:2",
        "D18": "tx:1 interrupt:INT3",
        "D19": "rx:1 interrupt:INT2",
        "D20": "sda:0 interrupt:INT1",
        "D21": "scl:0 interrupt:INT0",
        "D50": "spi-in:0",
        "D51": "spi-out:0",
        "D52": "spi-clock:0",
    }.items():
        extra[label] = f"{extra.get(label, '')} {more}"
    return _eight_bit([f"D{k}" for k in range(54)], extra, 16)


def _t32() -> list[Pin]:
    # RP2040 data sheet, section 1.4.3 "GPIO functions": 26 pins brought out, GP26 to GP28 analogue.
    pins = []
    for k in (*range(23), 26, 27, 28):
        abilities = {"in", "out", "pullup", "interrupt", f"pulse:{k // 2 % 8}{'AB'[k % 2]}"}
        abilities.add(f"{('sda', 'scl')[k % 2]}:{k // 2 % 2}")
        spi = ("spi-in", "", "spi-clock", "spi-out")[k % 4]
        if spi:
            abilities.add(f"{spi}:{k // 8 % 2}")
        if k % 4 < 2:
            abilities.add(f"{('tx', 'rx')[k % 4]}:{(k + 4) // 8 % 2}")
        if k >= 26:
            abilities.add(f"analogue:{k - 26}")
        pins.append(Pin(f"GP{k}", frozenset(abilities)))
    return pins


def _t32w() -> list[Pin]:
    # ESP32 data sheet, "IO MUX" and "GPIO matrix": GPIO34 to 39 are inputs without a pull-up; any other pin
    # takes any bus; six channels of the first converter are brought out (the second is the radio's).
    pins = []
    for k in (36, 39, 34, 35, 32, 33, 25, 26, 27, 14, 12, 13, 23, 22, 21, 19, 18, 5, 17, 16, 4, 2, 15, 1, 3):
        abilities = {"in", "interrupt"}
        if k < 34:
            abilities |= {"out", "pullup", "sda:0", "scl:0", "sda:1", "scl:1", f"pulse:{k}"}
        if k in (36, 39, 34, 35, 32, 33):
            abilities.add(f"analogue:{k}")
        pins.append(Pin(f"GPIO{k}", frozenset(abilities)))
    return pins


BOARD_PINS = {"T8S": _t8s(), "T8L": _t8l(), "T32": _t32(), "T32W": _t32w()}


def demo_pins(board: str) -> list[Pin]:
    """The usable pins of a demo board."""
    return BOARD_PINS[DEMO[board][0]]
