"""Findings: what every check returns, and the order in which they are read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

Verdict = Literal["stop", "caution", "fine", "cannot tell"]

VERDICT_ORDER: tuple[Verdict, ...] = ("stop", "caution", "cannot tell", "fine")


@dataclass(frozen=True, slots=True)
class About:
    """A thing a finding is about: its kind ("board", "panel", "function", …), the builder's id, its name."""

    kind: str
    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One verdict.

    Attributes:
        verdict: stop, caution, fine, or cannot tell where an input is missing.
        about: the thing itself first, then its board and panel.
        sentence: the verdict with its numbers, in one sentence.
        remedies: what would mend it, each with its number; empty where there is nothing to mend.
        source_mark: the weakest source mark among the inputs, or None where there was no number.
        source: where the limit comes from.
        mend_at: the address of the sheet where it is mended.
        mend_word: what one does there.
    """

    verdict: Verdict
    about: tuple[About, ...]
    sentence: str
    remedies: tuple[str, ...]
    source_mark: str | None
    source: str
    mend_at: str
    mend_word: str


@dataclass(frozen=True, slots=True)
class FindingCounts:
    """How many findings of each verdict there are."""

    stop: int
    caution: int
    cannot_tell: int
    fine: int


def percent(share: float) -> str:
    """A share as a sentence states it.

    >>> percent(1.82)
    '182 %'
    >>> percent(0.002)
    'under 1 %'
    """
    if 0 < share < 0.005:
        return "under 1 %"
    return f"{share * 100:.0f} %"


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """The findings, stops first; within a verdict by the ids of what they are about."""
    return sorted(findings, key=lambda f: (VERDICT_ORDER.index(f.verdict), [a.id for a in f.about]))


def count_findings(findings: Sequence[Finding]) -> FindingCounts:
    """How many of each verdict."""
    verdicts = [finding.verdict for finding in findings]
    return FindingCounts(
        verdicts.count("stop"),
        verdicts.count("caution"),
        verdicts.count("cannot tell"),
        verdicts.count("fine"),
    )


def findings_about(findings: Iterable[Finding], kind: str, code: str) -> list[Finding]:
    """Those of the findings that name this thing, in the order given."""
    return [f for f in findings if any(a.kind == kind and a.id == code for a in f.about)]
