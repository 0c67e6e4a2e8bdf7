"""What a signal of the open data set means as pin abilities, family by family.

A signal that is not named here gives no ability. Where a block can come out at several pins each pin has it.
"""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

Signal = Mapping[str, Any]


def _avr(signal: Signal) -> Iterable[str]:
    driver, name, instance = signal.get("driver", ""), signal.get("name", ""), signal.get("instance", "0")
    if driver == "adc" and (channel := re.fullmatch(r"(?:adc)?(\d+)", name)):
        yield f"analogue:A{channel[1]}"
    elif driver == "tc" and (output := re.fullmatch(r"_?oc\d?([a-d]?)", name)):
        yield f"pulse:{instance}{output[1].upper()}"
    elif driver == "exint" and name.isdigit():
        yield f"interrupt:INT{name}"
    elif driver in ("twi", "usi") and (line := re.fullmatch(r"(sda|scl)\d?", name)):
        yield f"{line[1]}:{'usi' if driver == 'usi' else instance}"
    elif driver == "usart" and name in ("rxd", "txd"):
        yield f"{name[:2]}:{instance}"
    elif driver == "linuart" and name in ("rxlin", "txlin"):
        yield f"{name[:2]}:0"
    elif driver == "spi" and name in _SPI_LINES:
        yield f"{_SPI_LINES[name]}:{instance}"


_SPI_LINES = {"mosi": "spi-out", "miso": "spi-in", "sck": "spi-clock", "spck": "spi-clock"}


def _stm32(signal: Signal) -> Iterable[str]:
    driver, name, instance = signal.get("driver", ""), signal.get("name", ""), signal.get("instance", "")
    place = f"{instance}-remap{signal['remap']}" if signal.get("remap", "0") != "0" else instance
    if driver == "adc" and (channel := re.fullmatch(r"(?:in|inp|vinp)(\d+)", name)):
        yield f"analogue:ADC{instance}.{channel[1]}" if instance else f"analogue:A{channel[1]}"
    elif driver == "tim" and (output := re.fullmatch(r"ch(\d)", name)):
        if "remap" not in signal or signal["remap"] == "0":
            yield f"pulse:{instance}.{output[1]}"
    elif driver in ("i2c", "fmpi2c") and name in ("sda", "scl"):
        yield f"{name}:{'F' if driver == 'fmpi2c' else ''}{place}"
    elif driver in ("usart", "uart", "lpuart") and name in ("rx", "tx"):
        yield f"{name}:{'LP' if driver == 'lpuart' else ''}{place}"
    elif driver == "spi" and name in _SPI_LINES:
        yield f"{_SPI_LINES[name]}:{place}"


def _sam(signal: Signal) -> Iterable[str]:
    driver, name = signal.get("driver", ""), signal.get("name", "")
    instance, index = signal.get("instance", ""), signal.get("index", "")
    if driver in ("adc", "afec") and name in ("ain", "ad"):
        yield f"analogue:ADC{instance}.{index}" if instance else f"analogue:A{index}"
    elif driver in ("tcc", "tc") and name == "wo":
        yield f"pulse:{driver.upper()}{instance}.{index}"
    elif driver == "pwm" and name in ("pwmh", "pwml"):
        yield f"pulse:PWM{instance}.{index}"  # high and low side of one channel: one output
    elif driver == "eic" and name == "extint":
        yield f"interrupt:INT{index}"
    elif driver == "sercom" and name == "pad" and index in _SERCOM_PADS:
        yield from (f"{line}:{instance}" for line in _SERCOM_PADS[index])
    elif driver in ("twi", "twihs") and name in ("twd", "twck"):
        yield f"{'sda' if name == 'twd' else 'scl'}:{instance or '0'}"
    elif driver in ("usart", "uart") and name in ("rxd", "txd", "urxd", "utxd"):
        yield f"{name.removeprefix('u')[:2]}:{'U' if driver == 'uart' else ''}{instance or '0'}"
    elif driver == "spi" and name in _SPI_LINES:
        yield f"{_SPI_LINES[name]}:{instance or '0'}"


_SERCOM_PADS = {  # the usual places of a serial block's four pads
    "0": ("sda", "tx", "spi-out"),
    "1": ("scl", "rx", "spi-clock"),
    "2": ("tx", "spi-in"),
    "3": ("rx", "spi-in"),
}


def _rp(signal: Signal) -> Iterable[str]:
    driver, name, instance = signal.get("driver", ""), signal.get("name", ""), signal.get("instance", "")
    if driver == "adc" and (channel := re.fullmatch(r"in(\d+)", name)):
        yield f"analogue:A{channel[1]}"
    elif driver == "pwm" and signal.get("pin", "").isdigit():
        yield f"pulse:{int(signal['pin']) // 2 % 8}{name.upper()}"  # the data set leaves the slice out
    elif (driver, name) in (("i2c", "sda"), ("i2c", "scl"), ("uart", "rx"), ("uart", "tx")):
        yield f"{name}:{instance}"
    elif driver == "spi" and name in ("rx", "tx", "sclk"):
        line = {"rx": "spi-in", "tx": "spi-out", "sclk": "spi-clock"}[name]
        yield f"{line}:{instance}"


def _nrf(signal: Signal) -> Iterable[str]:
    if signal.get("driver") in ("saadc", "adc") and (
        channel := re.fullmatch(r"ain(\d+)", signal.get("name", ""))
    ):
        yield f"analogue:A{channel[1]}"


ABILITIES_OF_SIGNAL: Mapping[str, Callable[[Signal], Iterable[str]]] = {
    "avr": _avr,
    "stm32": _stm32,
    "sam": _sam,
    "rp": _rp,
    "nrf": _nrf,
}
"""By the data set's name of a family."""
