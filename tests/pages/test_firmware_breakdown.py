"""One build's sheet: what takes the room, what changed, and its linker map."""

import re
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.settings import LARGEST_FIRMWARE_BYTES, Settings
from app.tables import FirmwareBuild
from tests.pages.cockpit_rows import board_with
from tests.pages.sheet_reader import read_sheet
from tests.pages.test_boards_queries import asked
from tests.readers.avr_compiler import compiled, sizes_by_avr_size

FIXTURES = Path(__file__).parents[1] / "readers" / "firmware"
HEX = (FIXTURES / "t_atmega328p.hex").read_bytes()
SOURCE = """
#include <stdlib.h>
volatile int angle = 3; char shown[20];
%s int __attribute__((noinline)) scale(int a) { return a * 37 + angle %s; }
int main(void) { angle = scale(angle); itoa(angle, shown, 10); return 0; }
"""
FIRMWARE = "/boards/BD01/firmware"


class Made:
    """A program compiled once for all tests: its ELF, its linker map and what avr-size says of it."""

    def __init__(self, folder: Path, more: str) -> None:
        self.linker_map = folder / "program.map"
        elf = compiled(SOURCE % ("static", more), "atmega328p", folder, f"-Wl,-Map={self.linker_map}")
        self.elf = elf.read_bytes()
        self.sizes = sizes_by_avr_size(elf, "atmega328p")


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return Made(tmp_path_factory.mktemp("first"), "")


@pytest.fixture(scope="module")
def second(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return Made(tmp_path_factory.mktemp("second"), "+ shown[a] * shown[angle]")


@pytest.fixture(autouse=True)
def board(session: Session) -> None:
    board_with(session, "Total\tdisplay\to64")


def upload(client: TestClient, data: bytes, name: str = "fuel.elf") -> str:
    """Upload a build; return the address of its sheet."""
    answer = client.post(FIRMWARE, data={"note": "", "claims": ""}, files={"file": (name, data)})
    assert answer.status_code == 200, answer.text
    return max(
        (link for link in read_sheet(answer.text).links if re.fullmatch(rf"{FIRMWARE}/\d+", link)),
        key=lambda link: int(link.rpartition("/")[2]),
    )


def sheet_of(client: TestClient, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.text
    assert read_sheet(answer.text).troubles == []
    return answer.text


def test_a_build_is_broken_down_in_words_and_in_a_drawing(client: TestClient, first: Made) -> None:
    page = sheet_of(client, upload(client, first.elf))
    assert f"{first.sizes[0]:,} bytes" in page
    assert "have no name in the file" in page  # the vectors, at least
    drawings = re.findall(r'<svg class="treemap.*?</svg>', page, re.DOTALL)
    assert len(drawings) == 2  # a wide one and a tall one
    rows = set(re.findall(r'<(?:tr|p|details)[^>]* id="(part-\d+)"', page))
    for drawing in drawings:
        leads_to = re.findall(r'href="#(part-\d+)"', drawing)
        assert leads_to
        assert set(leads_to) <= rows
        assert len(re.findall(r"<title>main.*?: [\d,]+ bytes, [\d.]+ %</title>", drawing)) == 1


def test_program_and_memory_may_be_chosen(client: TestClient, first: Made) -> None:
    address = upload(client, first.elf)
    page = sheet_of(client, f"{address}?store=memory")
    assert f'Memory, to scale <span class="how-many">{first.sizes[1]} bytes' in page
    assert ">shown<" in page
    assert f"{address}?store=program" in read_sheet(page).links
    assert "takes no EEPROM" in sheet_of(client, f"{address}?store=eeprom")
    assert client.get(f"{address}?store=moon").status_code == 404


def test_the_change_since_the_build_before_is_told_with_its_sums(
    client: TestClient, first: Made, second: Made
) -> None:
    earlier = upload(client, first.elf, "one.elf")
    page = sheet_of(client, upload(client, second.elf, "two.elf"))
    grown = second.sizes[0] - first.sizes[0]
    assert grown > 0
    assert f"+{grown} bytes" in page
    assert "grew" in page
    assert "choose a later one" in sheet_of(client, earlier)
    later = upload(client, first.elf, "three.elf")
    number = earlier.rpartition("/")[2]
    assert "byte for byte" in sheet_of(client, f"{later}?against={number}")
    for wrong in ("999", "x", "-1", "9" * 30):
        assert client.get(f"{later}?against={wrong}").status_code == 404


def test_an_intel_hex_says_that_names_cannot_be_told(client: TestClient, first: Made) -> None:
    address = upload(client, HEX, "fuel.hex")
    page = sheet_of(client, address)
    assert "an Intel HEX has no names" in page
    assert "treemap" not in page
    assert f"{address}/map" not in page
    after = sheet_of(client, upload(client, first.elf))
    assert "fuel.hex cannot be broken down" in after


def test_a_linker_map_is_kept_and_tells_the_libraries(
    client: TestClient, session: Session, settings: Settings, first: Made
) -> None:
    address = upload(client, first.elf)
    page = sheet_of(client, address)
    assert "libgcc.a" not in page
    assert f"{address}/map" in read_sheet(page).links
    assert "At most 32 MB" in sheet_of(client, f"{address}/map")
    data = first.linker_map.read_bytes()
    answer = client.post(f"{address}/map", files={"file": ("program.map", data)}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, address)
    page = sheet_of(client, address)
    assert "By library, file and name" in page
    assert "libc.a" in page
    build = session.exec(select(FirmwareBuild)).one()
    assert (settings.files_dir / build.map_fingerprint).read_bytes() == data
    # Another map of the same build takes its place, and the file of the first goes.
    client.post(f"{address}/map", files={"file": ("program.map", data + b"\n")})
    assert len(list(settings.files_dir.iterdir())) == 2
    # Forgetting the build takes both files away.
    client.post(f"{address}/delete")
    assert list(settings.files_dir.iterdir()) == []


def test_a_map_of_another_build_is_refused_at_the_field(
    client: TestClient, session: Session, settings: Settings, first: Made, second: Made
) -> None:
    address = upload(client, first.elf)
    answer = client.post(
        f"{address}/map", files={"file": ("<i>.map", second.linker_map.read_bytes())}, follow_redirects=False
    )
    assert answer.status_code == 422
    assert read_sheet(answer.text).troubles == []
    assert 'id="e-file"' in answer.text
    assert "the map is of another build: " in answer.text
    assert "&lt;i&gt;.map" in answer.text
    assert session.exec(select(FirmwareBuild)).one().map_fingerprint == ""
    assert len(list(settings.files_dir.iterdir())) == 1


@pytest.mark.parametrize(
    ("data", "message"),
    [(b"", "has no line"), (b"Dear builder,\n", "has no line"), (b"\x7fELF\0", "has no line")],
)
def test_a_file_that_is_no_map_is_refused_at_the_field(
    client: TestClient, first: Made, data: bytes, message: str
) -> None:
    address = upload(client, first.elf)
    answer = client.post(f"{address}/map", files={"file": ("a.map", data)})
    assert answer.status_code == 422
    assert message in answer.text


def test_no_map_is_asked_for_and_one_too_large_is_refused_while_it_streams(
    client: TestClient, first: Made
) -> None:
    address = upload(client, first.elf)
    answer = client.post(f"{address}/map")
    assert answer.status_code == 422
    assert "choose a file" in answer.text
    big = {"file": ("a.map", bytes(LARGEST_FIRMWARE_BYTES + 200_000))}
    assert client.post(f"{address}/map", files=big).status_code == 413


def test_a_build_whose_file_is_gone_says_so(
    client: TestClient, session: Session, settings: Settings, first: Made
) -> None:
    address = upload(client, first.elf)
    (settings.files_dir / session.exec(select(FirmwareBuild)).one().fingerprint).unlink()
    assert "the kept file is no longer in" in sheet_of(client, address)


def test_a_build_of_no_board_or_of_another_is_not_found(
    client: TestClient, session: Session, first: Made
) -> None:
    address = upload(client, first.elf)
    board_with(session, "Oil lamp\tlight\tled", code="BD02")
    number = address.rpartition("/")[2]
    for wrong in (f"/boards/BD02/firmware/{number}", f"/boards/BD99/firmware/{number}", f"{FIRMWARE}/999"):
        assert client.get(wrong).status_code == 404
        assert client.get(f"{wrong}/map").status_code == 404


def test_the_sheet_asks_as_often_for_many_builds_as_for_two_and_writes_nothing(
    client: TestClient, session: Session, first: Made, second: Made
) -> None:
    upload(client, first.elf)
    address = upload(client, second.elf)
    few = asked(client, address)
    for _ in range(5):
        upload(client, first.elf)
    many = asked(client, address)
    assert len(many) == len(few)
    assert not [text for text in many if text.lstrip().split()[0] in ("INSERT", "UPDATE", "DELETE")]
    assert len(session.exec(select(FirmwareBuild).order_by(col(FirmwareBuild.id))).all()) == 7
