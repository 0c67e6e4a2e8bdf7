"""Measures what there is a target for: python -m tests.bench [name of a part ...]; status 1 where one is missed."""

import sys
from importlib import import_module

PARTS = ("start", "pages", "pin_fit", "remedies", "gcode", "firmware")


def main(wanted: list[str]) -> int:
    """Print each speed target beside what was measured in this run."""
    unknown = set(wanted) - set(PARTS)
    if unknown:
        print(f"There is no {', '.join(sorted(unknown))} to measure; there are {', '.join(PARTS)}.")
        return 2
    missed = 0
    for part in wanted or PARTS:
        print(f"\n{part}", flush=True)
        for what, unit, measured, target in import_module(f"tests.bench.{part}").measure():
            met = target is None or measured <= target
            missed += not met
            verdict = "" if target is None else "met" if met else "MISSED"
            print(f"  {verdict:<7}{measured:>10.3f} {unit:<70} {what}", flush=True)
    print(f"\n{missed or 'No'} target{'' if missed == 1 else 's'} missed.")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
