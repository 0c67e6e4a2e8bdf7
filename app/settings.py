"""Where the cockpit's data lies and what the program may take in."""

from dataclasses import dataclass
from pathlib import Path

import platformdirs

LARGEST_LIST_BYTES = 5 * 1024 * 1024
LARGEST_FIRMWARE_BYTES = 32 * 1024 * 1024
LARGEST_GCODE_BYTES = 200 * 1024 * 1024
LARGEST_FORM_BYTES = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Settings:
    """One running program: its data folder and whether it shows the demo cockpit."""

    data_dir: Path
    is_demo: bool = False

    @property
    def database_path(self) -> Path:
        """The SQLite file of this cockpit."""
        return self.data_dir / "cockpit.sqlite3"

    @property
    def files_dir(self) -> Path:
        """Uploaded files, each under its fingerprint."""
        return self.data_dir / "files"


def own_data_dir() -> Path:
    """The folder of the builder's own cockpit on this platform."""
    return Path(platformdirs.user_data_dir("coaming", appauthor=False))


def demo_data_dir() -> Path:
    """The folder of the demo cockpit: beside the builder's own, never over it."""
    return Path(platformdirs.user_data_dir("coaming-demo", appauthor=False))


def program_dir() -> Path:
    """The folder that holds static/, migrations/ and seed_demo/, in a checkout and in a wheel alike."""
    return Path(__file__).parent
