"""Where the data lies on each platform, and the limits of what is taken in."""

import sys
from pathlib import Path

import pytest

from app.settings import (
    LARGEST_FIRMWARE_BYTES,
    LARGEST_FORM_BYTES,
    LARGEST_GCODE_BYTES,
    LARGEST_LIST_BYTES,
    Settings,
    demo_data_dir,
    own_data_dir,
    program_dir,
)


def test_the_database_and_the_files_lie_in_the_data_folder(tmp_path: Path) -> None:
    settings = Settings(tmp_path)
    assert settings.database_path.parent == tmp_path
    assert settings.files_dir.parent == tmp_path
    assert not settings.is_demo


def test_the_own_cockpit_lies_where_the_platform_keeps_a_users_data(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setenv("HOME", str(tmp_path))
    # XDG Base Directory Specification 0.8: $XDG_DATA_HOME, else $HOME/.local/share; the others from memory.
    data = {
        "darwin": tmp_path / "Library" / "Application Support",
        "win32": Path.home() / "AppData" / "Local",
    }.get(sys.platform, tmp_path / ".local" / "share")
    assert own_data_dir() == data / "coaming"
    assert demo_data_dir() == data / "coaming-demo"


@pytest.mark.parametrize("folder", ["static", "migrations/versions", "seed_demo", "pages/templates"])
def test_what_the_program_needs_travels_inside_its_own_folder(folder: str) -> None:
    assert any((program_dir() / folder).iterdir())


def test_a_form_takes_less_than_a_list_a_list_less_than_firmware_and_that_less_than_gcode() -> None:
    assert LARGEST_FORM_BYTES < LARGEST_LIST_BYTES < LARGEST_FIRMWARE_BYTES < LARGEST_GCODE_BYTES
    assert LARGEST_FIRMWARE_BYTES == 32 * 1024**2  # the bound under which the firmware reader was tried
