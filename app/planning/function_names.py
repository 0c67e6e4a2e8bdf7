"""Functions as a sentence names them."""

from collections.abc import Sequence

from app.planning.plan import FunctionRow

MOST_NAMED = 4


def function_names(functions: Sequence[FunctionRow]) -> str:
    """The ids and names of the first four functions, and how many more there are.

    >>> rows = [FunctionRow(k, f"F00{k}", "Lamp", "light", 1, 1, None, "", None) for k in range(1, 7)]
    >>> function_names(rows[:2])
    'F001 Lamp and F002 Lamp'
    >>> function_names(rows)
    'F001 Lamp, F002 Lamp, F003 Lamp, F004 Lamp and 2 more'
    """
    return _listed([f"{function.code} {function.name}" for function in functions])


def function_codes(functions: Sequence[FunctionRow]) -> str:
    """The ids of the first four functions, and how many more there are.

    >>> function_codes([FunctionRow(1, "F001", "Lamp", "light", 1, 1, None, "", None)])
    'F001'
    """
    return _listed([function.code for function in functions])


def _listed(words: Sequence[str]) -> str:
    if len(words) > MOST_NAMED:
        return f"{', '.join(words[:MOST_NAMED])} and {len(words) - MOST_NAMED} more"
    return " and ".join(part for part in (", ".join(words[:-1]), words[-1] if words else "") if part)
