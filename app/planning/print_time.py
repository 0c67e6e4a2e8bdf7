"""Print hours of a G-code file with one printer: its moves read, its motion simulated, its filament weighed."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app import units
from app.calculations.filament import filament_grams
from app.settings import LARGEST_GCODE_BYTES
from app.tables import Printer

if TYPE_CHECKING:
    from app.calculations.print_motion import MotionLimits

UNKNOWN_WORDS_NAMED = 20
READING_SHARE = 0.6  # of the whole time, in a trial: reading the moves; the rest is timing them


@dataclass(frozen=True, slots=True)
class PrintTime:
    """What a file came to with one printer's limits."""

    seconds: float
    filament_m: float
    grams: float
    moves: int
    unknown_words: str
    unknown_count: int
    figures_mark: str


def time_gcode(
    path: Path,
    file_name: str,
    printer: Printer,
    *,
    progress: Callable[[str, float], None] = lambda _stage, _share: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> PrintTime:
    """Read and time one file with a printer's limits; limits that the file sets stand in their place.

    Args:
        path: where the file lies.
        file_name: its name, for messages.
        printer: whose limits and filament count.
        progress: told what is being done and how far the whole is, 0 to 1.
        cancelled: asked now and then whether to stop.

    Raises:
        GcodeRefused: the file cannot be read.
        GcodeCancelled: `cancelled` said so while reading.
        PrintMotionCancelled: `cancelled` said so while timing.
        ValueError: a limit that the file sets is impossible.
    """
    # On first use: numpy, which they stand on, is a tenth of the program's start.
    from app.calculations.print_motion import print_motion
    from app.readers.gcode import read_gcode

    size = max(path.stat().st_size, 1)
    with path.open("rb") as stream:
        moves = read_gcode(
            stream,
            file_name,
            max_bytes=LARGEST_GCODE_BYTES,
            progress=lambda taken: progress("reading the moves", READING_SHARE * min(taken / size, 1.0)),
            cancelled=cancelled,
        )
    steps = 2 * max(moves.x_mm.size, 1)
    motion = print_motion(
        moves,
        printer_limits(printer).with_limits(moves.limits),
        progress=lambda done: progress(
            "timing the motion", READING_SHARE + (1 - READING_SHARE) * min(done / steps, 1.0)
        ),
        cancelled=cancelled,
    )
    length_m = moves.filament_mm / 1000
    return PrintTime(
        seconds=motion.seconds,
        filament_m=length_m,
        grams=filament_grams(length_m, printer.filament_diameter_mm, printer.filament_density_g_cm3),
        moves=motion.moves,
        unknown_words=words_named(moves.unknown_words),
        unknown_count=sum(moves.unknown_words.values()),
        figures_mark=printer.figures_mark,
    )


def printer_limits(printer: Printer) -> "MotionLimits":
    """The limits that a printer's motion keeps, for the calculation."""
    from app.calculations.print_motion import MotionLimits

    return MotionLimits(
        speed_x_mm_s=printer.speed_x_mm_s,
        speed_y_mm_s=printer.speed_y_mm_s,
        speed_z_mm_s=printer.speed_z_mm_s,
        speed_e_mm_s=printer.speed_e_mm_s,
        acceleration_mm_s2=printer.acceleration_mm_s2,
        acceleration_x_mm_s2=printer.acceleration_mm_s2,
        acceleration_y_mm_s2=printer.acceleration_mm_s2,
        acceleration_z_mm_s2=printer.acceleration_z_mm_s2,
        acceleration_e_mm_s2=printer.acceleration_e_mm_s2,
        junction_deviation_mm=printer.junction_deviation_mm,
        queue_moves=printer.queue_moves,
    )


def words_named(unknown: dict[str, int]) -> str:
    """The words that were not understood and how often each stands, most first: "M862 × 2, K × 1"."""
    ordered = sorted(unknown.items(), key=lambda word: (-word[1], word[0]))
    named = ", ".join(f"{word} × {times:,}" for word, times in ordered[:UNKNOWN_WORDS_NAMED])
    more = len(ordered) - UNKNOWN_WORDS_NAMED
    return f"{named} and {more:,} more" if more > 0 else named


def time_sentence(file_name: str, result: PrintTime) -> str:
    """What a file came to, in one sentence."""
    sentence = (
        f"{file_name}: {units.show_duration(result.seconds)}, {units.show(result.filament_m, 'm', 2)} of filament, "
        f"{units.show(result.grams, 'g', 1)}, simulated from {result.moves:,} moves."
    )
    if result.unknown_count:
        words = "word was" if result.unknown_count == 1 else "words were"
        sentence += f" {result.unknown_count:,} {words} not understood: {result.unknown_words}."
    return sentence
