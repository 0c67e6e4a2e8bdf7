"""Where labels beside a drawing stand: each as near its place as its neighbours allow."""

from math import inf


def spread(wanted: list[float], gap: float, low: float = -inf, high: float = inf) -> list[float]:
    """Places at least `gap` apart, as near to the wanted ones (sorted) as can be, between two ends.

    Example:
        >>> spread([1.0, 1.0, 9.0], 2.0, 0.0, 10.0)
        [0.0, 2.0, 9.0]
        >>> spread([5.0, 5.0, 5.0], 2.0, 0.0, 10.0)
        [3.0, 5.0, 7.0]
    """
    groups: list[tuple[float, int]] = []  # centre, how many
    for want in wanted:
        centre, count = want, 1
        while groups and groups[-1][0] + gap * (groups[-1][1] + count) / 2 > centre:
            before, many = groups.pop()
            centre, count = (before * many + centre * count) / (many + count), many + count
        groups.append((centre, count))
    places = [centre + gap * (i - (count - 1) / 2) for centre, count in groups for i in range(count)]
    for i in range(len(places)):
        places[i] = max(places[i], low + gap * i)
    for i in range(len(places)):
        places[-1 - i] = min(places[-1 - i], high - gap * i)
    return places
