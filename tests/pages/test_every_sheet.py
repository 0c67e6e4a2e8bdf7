"""Every sheet that a link leads to: whole, well-formed, read without writing, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event
from sqlmodel import Session

from app.database import open_engine
from app.main import build_app
from app.seed_demo import load_demo
from app.settings import Settings
from app.tables import BoardModule, ModulePin
from tests.pages.sheet_reader import FoundSheet, kind_of, kinds_of_sheet, walk
from tests.ten_cockpits import LOADED_ON, load_ten_cockpits

SAMPLES = 3  # of one kind


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder: Path = tmp_path_factory.mktemp("every") / "demo"
    load_demo(folder, LOADED_ON)
    settings = Settings(folder, is_demo=True)
    add_own_rows(settings)
    with TestClient(build_app(settings), base_url="http://127.0.0.1") as client:
        yield client


@pytest.fixture(scope="module")
def ten_cockpits(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    settings = load_ten_cockpits(tmp_path_factory.mktemp("every") / "ten")
    add_own_rows(settings)
    with TestClient(build_app(settings), base_url="http://127.0.0.1") as client:
        yield client


def add_own_rows(settings: Settings) -> None:
    """What the demo has none of: a board module of the builder's own."""
    engine = open_engine(settings.database_path)
    with Session(engine) as session:
        module = BoardModule(code="OWN1", name="Module of my own", chip="ATmega328P")
        session.add(module)
        session.flush()
        session.add(ModulePin(module_id=module.id or 0, side="left", place=1, label="D2", abilities="in out"))
        session.commit()
    engine.dispose()


def engine_of(client: TestClient) -> Engine:
    app = client.app
    assert isinstance(app, FastAPI)
    engine: Engine = app.state.engine
    return engine


@pytest.fixture(scope="module")
def crawl(demo: TestClient) -> dict[str, FoundSheet]:
    """Every address that the links lead to, from the start on."""
    engine = engine_of(demo)
    demo.get("/")
    with engine.connect() as watching:
        version = watching.exec_driver_sql("PRAGMA data_version").scalar_one()
        watching.rollback()
        found = dict(walk(demo))
        unwritten = watching.exec_driver_sql("PRAGMA data_version").scalar_one() == version
    assert unwritten, "a sheet that was only read has written"
    return found


def test_the_links_lead_to_every_panel_board_and_function_and_come_to_an_end(
    crawl: dict[str, FoundSheet],
) -> None:
    for address in (
        *(f"/panels/P{number:02d}" for number in range(1, 17)),
        *(f"/boards/BD{number:02d}" for number in range(1, 13)),
        *(f"/functions/F{number:03d}" for number in range(1, 169)),
        *(f"/workshop/MP{number:02d}" for number in range(1, 39)),
    ):
        assert address in crawl
    assert len(crawl) > 300


def test_every_kind_of_sheet_is_reached_by_a_link(crawl: dict[str, FoundSheet]) -> None:
    """A sheet that no link leads to is lost."""
    reached = {kind_of(address) for address in crawl}
    without_link = {
        "/workshop/{code}/reading",  # while a file is read, and no longer
        "/workshop/{code}/revisions/{number:int}/gcode",  # a form's own address, opened anew: leads back
    }
    assert kinds_of_sheet() - reached <= without_link


def test_every_link_leads_to_a_sheet(crawl: dict[str, FoundSheet]) -> None:
    dead = [
        f"{address} from {found.origin}: {found.status}"
        for address, found in crawl.items()
        if found.status != 200
    ]
    assert dead == []


def test_every_sheet_is_well_formed_and_carries_nothing_the_policy_blocks(
    crawl: dict[str, FoundSheet],
) -> None:
    troubles = {address: found.sheet.troubles[:3] for address, found in crawl.items() if found.sheet.troubles}
    by_kind = {kind_of(address): (address, said) for address, said in troubles.items()}
    assert by_kind == {}


def test_every_sheet_has_one_first_heading_and_a_title(
    crawl: dict[str, FoundSheet],
) -> None:
    sheets = {address: found.sheet for address, found in crawl.items() if found.content == "text/html"}
    assert {address for address, sheet in sheets.items() if sheet.headings != 1} == set()
    assert {address for address, sheet in sheets.items() if "Coaming" not in sheet.title} == set()


@contextmanager
def counted(engine: Engine) -> Iterator[list[str]]:
    """The statements that go to the database meanwhile."""
    statements: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        statements.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield statements
    finally:
        event.remove(engine, "before_cursor_execute", note)


def queries_of(client: TestClient, address: str) -> int:
    """How many statements a sheet takes, the result of the cockpit being there already."""
    with counted(engine_of(client)) as statements:
        answer = client.get(address)
    assert answer.status_code == 200, address
    return len(statements)


def samples(crawl: dict[str, FoundSheet]) -> dict[str, list[str]]:
    """Some addresses of each kind, spread over those found."""
    by_kind: dict[str, list[str]] = defaultdict(list)
    for address in crawl:
        by_kind[kind_of(address)].append(address)
    return {kind: found[:: max(1, len(found) // SAMPLES)][:SAMPLES] for kind, found in by_kind.items()}


def test_no_sheet_takes_more_queries_in_a_cockpit_ten_times_the_size(
    demo: TestClient, ten_cockpits: TestClient, crawl: dict[str, FoundSheet]
) -> None:
    demo.get("/")
    ten_cockpits.get("/")
    grown = {}
    for addresses in samples(crawl).values():
        for address in addresses:
            small, large = queries_of(demo, address), queries_of(ten_cockpits, address)
            if small != large:
                grown[address] = (small, large)
    assert grown == {}


@pytest.mark.parametrize(
    ("kind", "addresses"),
    [
        ("panels", ["/panels/P03", "/panels/P15", "/panels/P01"]),  # 19, 5 and 13 functions
        ("boards", ["/boards/BD05", "/boards/BD12", "/boards/BD01"]),  # 29, 5 and 13 functions
        ("functions", ["/functions/F001", "/functions/F002", "/functions/F168"]),
        ("parts", ["/workshop/MP37", "/workshop/MP25", "/workshop/MP01"]),  # 22, 1 and 9 attempts
    ],
)
def test_a_sheet_takes_as_many_queries_however_much_is_on_it(
    demo: TestClient, kind: str, addresses: list[str]
) -> None:
    demo.get("/")
    counts = [queries_of(demo, address) for address in addresses]
    assert max(counts) - min(counts) <= 1, (kind, counts)  # one more where there is something to look up


def test_the_first_sheet_after_a_change_computes_the_cockpit_in_as_many_queries_at_any_size(
    demo: TestClient, ten_cockpits: TestClient
) -> None:
    counts = []
    for client in (demo, ten_cockpits):
        client.get("/")
        with engine_of(client).connect() as connection:
            connection.exec_driver_sql("UPDATE cockpit SET version = version + 1")
            connection.commit()
        counts.append(queries_of(client, "/"))
    assert counts[0] == counts[1]
