"""What the print-hours calculator answers, from the fields in its address."""

import math
from dataclasses import dataclass

from app import units
from app.calculations.print_hours import (
    ExpectedHours,
    expected_print_hours,
    good_share_of,
    no_reprint_chance,
)
from app.pages.calculator_form import Asked
from app.planning.finding import percent

MOST_PIECES = 50
TABLE_PIECES = 6


@dataclass(frozen=True, slots=True)
class SplitLine:
    """The part printed in so many pieces, joining counted."""

    pieces: int
    each_h: float
    good_share: float
    at_end_h: float
    at_once_h: float
    saves_h: float


@dataclass(frozen=True, slots=True)
class PrintForecast:
    """Hours to expect; a figure is None where it cannot be told, and `sentence` says why."""

    sentence: str
    verdict: str
    print_h: float | None = None
    good_share: float | None = None
    attempts: float | None = None
    at_end_h: float | None = None
    at_once_h: float | None = None
    parts: int | None = 1
    no_reprint: float | None = None
    splits: tuple[SplitLine, ...] = ()
    split_sentence: str = ""


def print_forecast(form: Asked) -> PrintForecast | None:
    """The forecast from what was entered; None where nothing was."""
    if form.is_empty:
        return None
    print_h = form.figure("hours", "duration_h", "The time of one print")
    if print_h == 0:
        form.refuse("hours", "The time of one print is over 0.")
        print_h = None
    good_share = _good_share(form)
    parts = form.number("parts", "How many are wanted", least=1, most=10_000)
    parts = 1 if parts is None and not form.error("parts") else parts
    pieces = form.number("pieces", "The number of pieces", least=2, most=MOST_PIECES)
    joining_h = form.figure("joining", "duration_h", "The time for a joint") or 0.0
    missing = [
        word
        for word, figure in (("the hours of one print", print_h), ("the good share", good_share))
        if figure is None
    ]
    if print_h is None or good_share is None:
        return PrintForecast(
            f"Without {' and '.join(missing)} there is no forecast.",
            "cannot tell",
            print_h,
            good_share,
            attempts=1 / good_share if good_share else None,
            parts=parts,
            no_reprint=_no_reprint(good_share, parts),
        )
    found = expected_print_hours(print_h, good_share)
    if found.attempts is None or found.seen_at_end_h is None or found.seen_at_once_h is None:
        return PrintForecast(
            "None came good so far, so there is no number: find the cause before printing on.",
            "cannot tell",
            print_h,
            good_share,
            parts=parts,
            no_reprint=_no_reprint(good_share, parts),
        )
    splits = (
        ()
        if form.error("joining") or good_share == 1
        else tuple(
            _split(print_h, good_share, number, joining_h, found)
            for number in (
                *range(2, TABLE_PIECES + 1),
                *([pieces] if pieces and pieces > TABLE_PIECES else []),
            )
        )
    )
    times = parts or 1
    return PrintForecast(
        sentence=_sentence(print_h, good_share, found, parts),
        verdict="cannot tell" if parts is None else "info",
        print_h=print_h,
        good_share=good_share,
        attempts=found.attempts,
        at_end_h=found.seen_at_end_h * times,
        at_once_h=found.seen_at_once_h * times,
        parts=parts,
        no_reprint=_no_reprint(good_share, parts),
        splits=splits,
        split_sentence=_split_sentence(form, good_share, splits, pieces, found),
    )


def _good_share(form: Asked) -> float | None:
    """The good share typed, or good ones of attempts. A bare number up to 1 is a share, above it a percentage."""
    text = form.value("share").strip()
    attempts = form.number("attempts", "The number of attempts", least=1, most=1_000_000)
    good = form.number("good", "The number of good ones", most=1_000_000)
    if text and (form.value("attempts").strip() or form.value("good").strip()):
        form.refuse("share", "Enter the good share, or attempts with good ones, not both.")
        return None
    if text:
        found = form.figure("share", "share_percent", "The good share")
        if found is None:
            return None
        form.notes.pop("share", None)
        is_bare = not any(letter.isalpha() or letter == "%" for letter in text)
        share = found if is_bare and found <= 1 else found / 100
        if share > 1:
            form.refuse("share", f"The good share is at most 100 %; {text} is more.")
            return None
        return share
    if attempts is None or good is None:
        for name, label, other in (("attempts", "attempts", good), ("good", "good ones", attempts)):
            if not form.value(name).strip() and other is not None:
                form.refuse(name, f"How many {label}?")
        return None
    if good > attempts:
        form.refuse("good", f"{good} good ones of {attempts} attempts cannot be.")
        return None
    return good / attempts


def _no_reprint(good_share: float | None, parts: int | None) -> float | None:
    return None if good_share is None or parts is None else no_reprint_chance(good_share, parts)


def _split(
    print_h: float, good_share: float, pieces: int, joining_h: float, whole: ExpectedHours
) -> SplitLine:
    """The same part in pieces, at the same rate of failures an hour; a joint between each two."""
    each_h = print_h / pieces
    share = good_share_of(each_h, -math.log(good_share) / print_h)
    found = expected_print_hours(each_h, share, pieces)
    joints_h = joining_h * (pieces - 1)
    at_end = (found.seen_at_end_h or 0.0) + joints_h
    at_once = (found.seen_at_once_h or 0.0) + joints_h
    return SplitLine(pieces, each_h, share, at_end, at_once, (whole.seen_at_once_h or 0.0) - at_once)


def _sentence(print_h: float, good_share: float, found: ExpectedHours, parts: int | None) -> str:
    words = (
        f"At {percent(good_share)} good, {_hours(print_h)} on paper become {_hours(found.seen_at_once_h)} if a "
        f"failure is seen and stopped at once, {_hours(found.seen_at_end_h)} if it is seen only at the end"
    )
    return words + (f", for each of {parts}." if parts and parts > 1 else ".")


def _split_sentence(
    form: Asked,
    good_share: float,
    splits: tuple[SplitLine, ...],
    pieces: int | None,
    whole: ExpectedHours,
) -> str:
    if form.error("joining") or form.error("pieces"):
        return "Whether splitting pays cannot be told."
    if good_share == 1:
        return "Every print came good, so splitting saves nothing."
    line = next((line for line in splits if line.pieces == pieces), None)
    if line is None:
        return ""
    saves_at_end = line.at_end_h < (whole.seen_at_end_h or 0.0)
    if line.saves_h > 0 and saves_at_end:
        verdict = "pays"
    elif line.saves_h > 0 or saves_at_end:
        verdict = "pays only if failures are seen " + ("at the end" if saves_at_end else "at once")
    else:
        verdict = "does not pay"
    return (
        f"Splitting in {line.pieces} {verdict}: {_hours(line.at_once_h)} against {_hours(whole.seen_at_once_h)} seen "
        f"at once, {_hours(line.at_end_h)} against {_hours(whole.seen_at_end_h)} seen at the end, joining counted."
    )


def _hours(hours: float | None) -> str:
    return "?" if hours is None else units.show(hours, "h", 1)
