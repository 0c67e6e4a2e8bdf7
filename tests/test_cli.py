"""The command `coaming`, run as a builder runs it: in a process of its own, by what it prints and its status."""

import json
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest

from app.cli import main
from app.database import migrate, open_engine
from app.planning.starter_list import begin_cockpit
from app.seed_demo import is_demo_dir
from app.settings import Settings, program_dir

COMMAND = [sys.executable, "-W", "error", "-m", "app.cli"]
PATIENCE_S = 60


def run(*arguments: str, env: Mapping[str, str] | None = None) -> "subprocess.CompletedProcess[str]":
    return subprocess.run(
        [*COMMAND, *arguments],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=PATIENCE_S,
        check=False,
        env={**os.environ, **(env or {})},
    )


def begin(folder: Path) -> Settings:
    """An empty cockpit in this folder."""
    settings = Settings(folder)
    migrate(settings.database_path, program_dir() / "migrations")
    engine = open_engine(settings.database_path)
    begin_cockpit(engine)
    engine.dispose()
    return settings


def lying_in(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Every file of a folder with its bytes and the time it was last written."""
    return {
        str(path.relative_to(folder)): (path.read_bytes(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@contextmanager
def running(*arguments: str) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    """The program as started, and its line; it is stopped at the end whatever happens."""
    flags = 0
    if sys.platform == "win32":
        flags = subprocess.CREATE_NEW_PROCESS_GROUP
    process = subprocess.Popen(
        [*COMMAND, *arguments, "--no-browser"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        creationflags=flags,
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        while line and "http://" not in line:
            line = process.stdout.readline()
        if not line:
            _, said = process.communicate(timeout=PATIENCE_S)
            pytest.fail(f"the program ended before it said its address: {said}")
        yield process, line
    finally:
        with suppress(ProcessLookupError):
            process.kill()
        process.communicate()


def press_ctrl_c(process: "subprocess.Popen[str]") -> tuple[str, str]:
    """What the program still said once it was interrupted."""
    if sys.platform == "win32":
        process.send_signal(signal.CTRL_BREAK_EVENT)
    else:
        process.send_signal(signal.SIGINT)
    return process.communicate(timeout=PATIENCE_S)


def address_in(line: str) -> str:
    return next(word for word in line.split() if word.startswith("http://"))


def status_of(address: str) -> int:
    """The status of a sheet, asked for until the program answers."""
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            with urllib.request.urlopen(address, timeout=PATIENCE_S) as answer:  # noqa: S310  # our own address
                return int(answer.status)
        except urllib.error.HTTPError as answered:
            answered.close()
            return answered.code
        except OSError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)


def free_port() -> int:
    with closing(socket.socket()) as listener:
        listener.bind(("127.0.0.1", 0))
        return int(listener.getsockname()[1])


@pytest.fixture(scope="module")
def demo_check() -> "subprocess.CompletedProcess[str]":
    return run("check", "--demo", "--json")


def demo_findings(demo_check: "subprocess.CompletedProcess[str]") -> list[dict[str, Any]]:
    findings: list[dict[str, Any]] = json.loads(demo_check.stdout)["findings"]
    return findings


def test_check_of_the_demo_ends_with_status_1_for_something_stops(
    demo_check: "subprocess.CompletedProcess[str]",
) -> None:
    assert demo_check.returncode == 1
    assert {f["verdict"] for f in demo_findings(demo_check)} >= {"stop"}


def test_nothing_but_the_json_goes_to_standard_output(demo_check: "subprocess.CompletedProcess[str]") -> None:
    assert demo_check.stdout.startswith("{")
    assert demo_check.stdout.rstrip().endswith("}")
    assert set(json.loads(demo_check.stdout)) == {"findings"}
    assert demo_check.stderr == ""


def test_every_finding_in_json_has_the_keys_agreed(demo_check: "subprocess.CompletedProcess[str]") -> None:
    for finding in demo_findings(demo_check):
        assert set(finding) == {"verdict", "about", "sentence", "remedies", "source_mark", "source"}
        assert finding["verdict"] in ("stop", "caution", "fine", "cannot tell")
        assert finding["sentence"].endswith(".")
        assert finding["source"]
        assert finding["source_mark"] in ("assumed", "copied", "listed", "measured", None)
        assert all(isinstance(remedy, str) for remedy in finding["remedies"])
        for about in finding["about"]:
            assert set(about) == {"kind", "id", "name"}
            assert all(isinstance(word, str) and word for word in about.values())


def test_a_finding_names_the_board_first_and_then_its_panel(
    demo_check: "subprocess.CompletedProcess[str]",
) -> None:
    pins = next(
        f
        for f in demo_findings(demo_check)
        if f["about"][0]["id"] == "BD06" and "short by 4" in f["sentence"]
    )
    assert [(a["kind"], a["id"]) for a in pins["about"][:2]] == [("board", "BD06"), ("panel", "P07")]
    assert pins["verdict"] == "stop"


def test_findings_come_worst_first(demo_check: "subprocess.CompletedProcess[str]") -> None:
    order = ["stop", "caution", "cannot tell", "fine"]
    places = [order.index(f["verdict"]) for f in demo_findings(demo_check)]
    assert places == sorted(places)


def test_check_without_json_says_each_finding_in_a_sentence_and_counts_them(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["check", "--demo"]) == 1
    said = capsys.readouterr().out
    assert "■ stop" in said
    assert "BD06 needs 24 pins and has 20 usable: short by 4" in said
    counts = re.fullmatch(r"(\d+) stop, (\d+) caution, (\d+) cannot tell, (\d+) fine", said.splitlines()[-1])
    assert counts is not None
    marks = [line[0] for line in said.splitlines() if line[0] in "■▲◌●"]
    assert [marks.count(mark) for mark in "■▲◌●"] == [int(number) for number in counts.groups()]


def test_check_of_a_folder_without_a_cockpit_could_not_run(tmp_path: Path) -> None:
    checked = run("check", "--data", str(tmp_path))
    assert checked.returncode == 2
    assert checked.stdout == ""
    assert f"there is no cockpit in {tmp_path}" in checked.stderr
    assert lying_in(tmp_path) == {}


@pytest.mark.parametrize("content", [b"not a database at all" * 100, b"SQLite format 3\x00" + bytes(3000)])
def test_check_of_a_file_that_is_no_database_could_not_run(
    tmp_path: Path, content: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    Settings(tmp_path).database_path.write_bytes(content)
    before = lying_in(tmp_path)
    assert main(["check", "--data", str(tmp_path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "cockpit.sqlite3" in said.err
    assert lying_in(tmp_path) == before


def test_a_fault_of_the_program_is_no_stop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Status 1 is kept for "something stops": a table that is gone gives status 2 and what went wrong."""
    settings = begin(tmp_path)
    engine = open_engine(settings.database_path)
    with engine.begin() as connection:
        connection.exec_driver_sql("PRAGMA foreign_keys=OFF")
        connection.exec_driver_sql("DROP TABLE functions")
    engine.dispose()
    assert main(["check", "--data", str(tmp_path)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "functions" in said.err


def test_check_of_an_empty_cockpit_stops_nothing_and_leaves_the_folder_as_it_was(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    begin(tmp_path)
    before = lying_in(tmp_path)
    assert main(["check", "--data", str(tmp_path), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {"findings": []}
    assert lying_in(tmp_path) == before


def test_check_sees_what_a_running_program_has_just_kept_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    settings = begin(tmp_path)
    engine = open_engine(settings.database_path)
    with engine.connect() as connection:
        connection.exec_driver_sql(
            "INSERT INTO supplies (code, name, volts, rating_mark, load_share, note, version) "
            "VALUES ('PS01', 'Supply', 5, 'assumed', 0.8, '', 1)"
        )
        connection.commit()
        before = lying_in(tmp_path)
        assert main(["check", "--data", str(tmp_path)]) == 0
        after = lying_in(tmp_path)
    engine.dispose()
    assert "Supply feeds no load yet" in capsys.readouterr().out
    # The index of the log is shared memory: a reader notes there that it reads, whoever wrote the file.
    assert set(after) == set(before)
    for name in ("cockpit.sqlite3", "cockpit.sqlite3-wal"):
        assert after[name] == before[name]


@pytest.mark.parametrize("port", ["0", "65536", "-1", "eighty", "²"])
def test_a_port_that_is_none_is_refused(port: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as refused:
        main(["serve", f"--port={port}"])
    assert refused.value.code == 2
    assert "a port is a number from 1 to 65535" in capsys.readouterr().err


def test_serve_on_a_taken_port_says_the_next_one_and_ctrl_c_ends_it_cleanly(tmp_path: Path) -> None:
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with running("serve", "--data", str(tmp_path / "own"), "--port", str(port)) as (process, line):
            address = address_in(line)
            assert int(address.rstrip("/").rpartition(":")[2]) > port
            assert f"port {port} was taken" in line
            assert str(tmp_path / "own") in line
            assert status_of(address) == 200
            said, errors = press_ctrl_c(process)
    assert process.returncode == 0
    assert said.strip().endswith("Coaming: stopped.")
    assert "Traceback" not in errors
    assert errors == ""


def test_ctrl_c_at_once_ends_it_as_cleanly(tmp_path: Path) -> None:
    """From the line on that says so, however little of the server has begun."""
    arguments = ("serve", "--data", str(tmp_path), "--port", str(free_port()))
    for _ in range(4):
        with running(*arguments) as (process, _line):
            said, errors = press_ctrl_c(process)
        assert (process.returncode, errors) == (0, "")
        assert said.strip().endswith("Coaming: stopped.")


def test_serve_keeps_the_cockpit_in_one_file_once_it_is_stopped(tmp_path: Path) -> None:
    """The write-ahead log is folded in, so that the folder can be copied or put under version control."""
    with running("serve", "--data", str(tmp_path), "--port", str(free_port())) as (process, line):
        assert status_of(address_in(line)) == 200
        press_ctrl_c(process)
    assert [path.name for path in tmp_path.iterdir()] == ["cockpit.sqlite3"]


def test_serve_refuses_a_file_that_is_no_cockpit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Settings(tmp_path).database_path.write_text("a letter", encoding="utf-8")
    assert main(["serve", "--data", str(tmp_path), "--no-browser"]) == 2
    said = capsys.readouterr()
    assert "cannot be read as a database" in said.err
    assert Settings(tmp_path).database_path.read_text(encoding="utf-8") == "a letter"


def test_demo_keeps_its_folder_between_runs_and_says_how_to_start_anew(tmp_path: Path) -> None:
    folder = tmp_path / "demo"
    arguments = ("demo", "--data", str(folder), "--port", str(free_port()))
    with running(*arguments) as (process, line):
        assert "--anew" not in line
        assert status_of(address_in(line)) == 200
        press_ctrl_c(process)
    assert is_demo_dir(folder)
    engine = open_engine(Settings(folder).database_path)
    with engine.begin() as connection:
        connection.exec_driver_sql("UPDATE cockpit SET name = 'Changed'")
    engine.dispose()
    (folder / "a letter.txt").write_text("of the builder", encoding="utf-8")
    with running(*arguments) as (process, line):
        assert "as you left it" in line
        assert "coaming demo --anew" in line
        press_ctrl_c(process)
    assert cockpit_name(folder) == "Changed"
    with running(*arguments, "--anew") as (process, line):
        press_ctrl_c(process)
    assert cockpit_name(folder) != "Changed"
    assert (folder / "a letter.txt").read_text(encoding="utf-8") == "of the builder"


def cockpit_name(folder: Path) -> str:
    engine = open_engine(Settings(folder).database_path)
    with engine.connect() as connection:
        name = connection.exec_driver_sql("SELECT name FROM cockpit").scalar_one()
    engine.dispose()
    return str(name)


@pytest.mark.parametrize("anew", [(), ("--anew",)])
def test_demo_never_touches_a_folder_with_the_builders_own_cockpit(
    tmp_path: Path, anew: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    begin(tmp_path)
    before = lying_in(tmp_path)
    assert main(["demo", "--data", str(tmp_path), "--no-browser", *anew]) == 2
    assert "holds a cockpit that is not the demo" in capsys.readouterr().err
    assert lying_in(tmp_path) == before


def test_the_demo_lies_beside_the_builders_own_cockpit_and_never_over_it() -> None:
    from app.settings import demo_data_dir, own_data_dir

    own, demo = own_data_dir(), demo_data_dir()
    assert own != demo
    assert own not in demo.parents
    assert demo not in own.parents


def test_a_folder_that_cannot_be_made_is_said_in_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert main(["serve", "--data", str(tmp_path / "file"), "--no-browser"]) == 2
    assert "file" in capsys.readouterr().err
