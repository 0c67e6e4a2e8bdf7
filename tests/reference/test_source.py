import tomllib
from importlib.resources import files
from typing import Any

import pytest

from app.reference.board_module import board_modules
from app.reference.microcontroller_correction import CORRECTIONS
from app.reference.source import MARKS, UnknownSource, source, sources
from app.reference.starter_component import (
    starter_carriers,
    starter_components,
    starter_libraries,
    starter_rails,
)


def named_sources(node: Any) -> set[str]:
    """Every source key that stands in a data file, at any depth."""
    if isinstance(node, dict):
        keys = {node[key] for key in ("source", "layout_source", "memory_source") if key in node}
        return keys.union(*(named_sources(value) for value in node.values()))
    if isinstance(node, list):
        return set().union(*(named_sources(value) for value in node))
    return set()


def test_every_source_key_of_the_data_exists_and_every_source_is_used() -> None:
    used = {correction.source for correction in CORRECTIONS}
    data_files = 0
    for file in [
        *files("app.reference").iterdir(),
        *files("app.reference").joinpath("board_modules").iterdir(),
    ]:
        if file.name.endswith(".toml") and file.name != "sources.toml":
            data_files += 1
            used |= named_sources(tomllib.loads(file.read_text(encoding="utf-8")))
    assert data_files == 8
    assert used - set(sources()) == set()
    assert set(sources()) - used == set()


def test_every_row_has_one_of_the_four_marks() -> None:
    marks = {module.mark for module in board_modules()}
    marks |= {component.mark for component in starter_components()}
    marks |= {library.mark for library in starter_libraries()}
    marks |= {rail.mark for rail in starter_rails()}
    marks |= {carrier.mark for carrier in starter_carriers()}
    assert marks <= set(MARKS)


def test_an_unknown_source_is_refused() -> None:
    with pytest.raises(UnknownSource, match="no source 'nobody'"):
        source("nobody")
