"""The kind of a function: the trade's words and their synonyms, as function lists spell them."""

KINDS: tuple[str, ...] = (
    "needle",
    "slide",
    "drum",
    "light",
    "display",
    "switch",
    "selector",
    "button",
    "encoder",
    "lever or knob",
    "holding switch",
    "backlight",
    "sounder",
)

KIND_WORDS: dict[str, str] = {
    **{kind: kind for kind in KINDS},
    "gauge": "needle",
    "dial": "needle",
    "pointer": "needle",
    "indicator": "needle",
    "instrument": "needle",
    "meter": "needle",
    "tape": "slide",
    "linear indicator": "slide",
    "linear slide": "slide",
    "cylinder": "drum",
    "lamp": "light",
    "led": "light",
    "annunciator": "light",
    "caution light": "light",
    "warning light": "light",
    "screen": "display",
    "window": "display",
    "numerals": "display",
    "segment display": "display",
    "counter": "display",
    "toggle": "switch",
    "toggle switch": "switch",
    "rotary": "selector",
    "rotary switch": "selector",
    "selector switch": "selector",
    "push button": "button",
    "pushbutton": "button",
    "key": "button",
    "rotary encoder": "encoder",
    "encoder knob": "encoder",
    "analogue": "lever or knob",
    "analog": "lever or knob",
    "lever": "lever or knob",
    "knob": "lever or knob",
    "lever knob": "lever or knob",
    "axis": "lever or knob",
    "potentiometer": "lever or knob",
    "pot": "lever or knob",
    "holding": "holding switch",
    "hold": "holding switch",
    "holding coil switch": "holding switch",
    "magnetic switch": "holding switch",
    "back light": "backlight",
    "backlighting": "backlight",
    "panel light": "backlight",
    "panel lighting": "backlight",
    "buzzer": "sounder",
    "speaker": "sounder",
    "horn": "sounder",
    "bell": "sounder",
}

_SAID_OF_ANY_DIAL = frozenset({"gauge", "dial", "indicator", "instrument"})


def read_kind(text: str, name: str = "") -> str:
    """The kind that a word of a list means; a word not known stays, as the builder's own kind.

    Leaves undefined: whether a gauge is a needle or a drum. It is a drum where its name ends in the word, else a
    needle, and the builder sees which in the preview.

    Example:
        >>> read_kind("Gauge"), read_kind("gauge", "Attitude pitch drum"), read_kind("smoke machine")
        ('needle', 'drum', 'smoke machine')
    """
    word = _plain(text)
    if word in _SAID_OF_ANY_DIAL and _plain(name).split(" ")[-1] == "drum":
        return "drum"
    kind = KIND_WORDS.get(word) or KIND_WORDS.get(word.removesuffix("s"))
    return kind or " ".join(text.split())


def is_kind_word(text: str) -> bool:
    """Whether the text is one of the words known for a kind."""
    word = _plain(text)
    return word in KIND_WORDS or word.removesuffix("s") in KIND_WORDS


def _plain(text: str) -> str:
    letters = "".join(letter if letter.isalnum() else " " for letter in text.casefold())
    return " ".join(letters.split())
