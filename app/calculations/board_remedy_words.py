"""What each remedy is called, how it fails, and where its figures come from."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.calculations.board_remedy_stock import Mechanism


@dataclass(frozen=True, slots=True)
class RemedyWords:
    """The name of a remedy, how it fails, in one sentence, and the source of its figures."""

    name: str
    fails: str
    source: str


MARGIN_SOURCE = "margin of 15 % of the usable pins: common practice"

MECHANISM_WORDS: Mapping[Mechanism, RemedyWords] = {
    "driver": RemedyWords(
        "Gauge driver",
        "A stalled needle or a driver that resets loses steps unseen: the needle is off until it is homed.",
        "a step and a direction pin a gauge, one reset for all: data sheets of such drivers",
    ),
    "pulse expander": RemedyWords(
        "Servo expander on the bus",
        "When the bus hangs, every needle on it keeps its last place.",
        "six bytes of nine clocks for one pulse: UM10204 section 3.1.5 and data sheets of such expanders",
    ),
    "segment chain": RemedyWords(
        "Segment driver",
        "One loose lead blanks every numeral behind it; a disturbed load line leaves wrong digits standing.",
        "three pins a chain: data sheets of such drivers",
    ),
    "ladder": RemedyWords(
        "Resistor ladder",
        "The wiper is open between two positions and may read as any: wait for two equal readings.",
        "0.1 ms an analogue reading, two equal ones: common practice",
    ),
    "output register": RemedyWords(
        "Output shift registers with sink drivers",
        "Outputs come up at random until the first load, unless a pull-up holds the enable line off.",
        "bits / clock: arithmetic; 100 kHz where a program toggles the pins: common practice",
    ),
    "input register": RemedyWords(
        "Input shift registers",
        "On a long clock lead a bit slips and each contact reads as its neighbour.",
        "bits / clock: arithmetic; 100 kHz where a program toggles the pins: common practice",
    ),
    "matrix": RemedyWords(
        "Diode matrix",
        "Where a diode is missing or turned, three closed contacts make a fourth seem closed.",
        "rows x columns: arithmetic; 50 us a row: common practice",
    ),
    "pixels": RemedyWords(
        "Addressable pixels",
        "One dead pixel darkens all behind it, and bytes from the computer are lost while they are sent.",
        "24 bits of 1.25 us a pixel, interrupts off: data sheets of such pixels",
    ),
    "expander": RemedyWords(
        "I/O expander",
        "When the bus hangs, everything on it stands still; too slow for a knob turned fast.",
        "five bytes of nine clocks for a read: UM10204 section 3.1.5 and data sheets of such expanders",
    ),
    "direct": RemedyWords(
        "Another component",
        "As its own data sheet says; nothing is known of it here.",
        "the component's own entry",
    ),
}
"""In the order of the table: what suits few functions before what takes many."""

LARGER_WORDS = RemedyWords(
    "Larger board",
    "Every lead is soldered to a new place and the program built for another chip.",
    "the module's own pins and memory",
)
SECOND_WORDS = RemedyWords(
    "Second board of this kind",
    "Two links and two programs to keep: either may be missing, or taken for the other.",
    "the module's own pins and memory",
)
MOVE_WORDS = RemedyWords(
    "Move to",
    "Leads run on to another panel's board: longer, and unplugged each time either comes out.",
    "the other board's own pins and memory",
)
