"""The command `coaming`: serve the builder's cockpit, show the demo, or check a plan from the shell."""

import argparse
import errno
import gc
import json
import signal
import socket
import sqlite3
import sys
import tempfile
import threading
import time
import traceback
import webbrowser
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from app.settings import Settings, demo_data_dir, own_data_dir, program_dir

if TYPE_CHECKING:
    from types import ModuleType

    import uvicorn
    from fastapi import FastAPI

    from app.planning.finding import Finding

FIRST_PORT = 8650
PORTS_TRIED = 50
PATIENCE_S = 5  # what a sheet still being sent may take once the program is stopped

FINE, STOPPED, COULD_NOT_RUN = 0, 1, 2

MARKS = {"stop": "■ stop", "caution": "▲ caution", "cannot tell": "◌ cannot tell", "fine": "● fine"}


class CannotRun(Exception):
    """The command cannot do what was asked; the message says why."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        0 when all is well, 1 when `check` found something that stops, 2 when the command could not run.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(encoding="utf-8", errors="replace")
    options = _parser().parse_args(arguments)
    from app.database import DatabaseRefused

    try:
        match options.command:
            case "serve":
                return _serve(Settings(options.data or own_data_dir()), options, "your cockpit")
            case "demo":
                return _demo(options)
            case _:
                return _check(options)
    except (CannotRun, DatabaseRefused, OSError) as error:
        print(f"coaming: {error}", file=sys.stderr)
    except KeyboardInterrupt:
        print("coaming: stopped before it was done", file=sys.stderr)
    except Exception:  # status 1 says "something stops": a fault of the program must not
        traceback.print_exc()
    return COULD_NOT_RUN


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="coaming", description="Plans a full-size simulated cockpit and computes what the plan means."
    )
    commands = parser.add_subparsers(dest="command", required=True)
    serve = commands.add_parser("serve", help="open your own cockpit in the browser")
    demo = commands.add_parser("demo", help="open the demo cockpit in the browser")
    for command in (serve, demo):
        command.add_argument("--port", type=_port, default=FIRST_PORT, help=f"port, {FIRST_PORT} by default")
        command.add_argument("--data", type=Path, metavar="DIR", help="the folder of the cockpit's data")
        command.add_argument("--no-browser", action="store_true", help="do not open the browser")
    demo.add_argument("--anew", action="store_true", help="throw the demo's changes away and load it anew")
    check = commands.add_parser("check", help="print every finding; status 1 when something stops")
    which = check.add_mutually_exclusive_group()
    which.add_argument("--data", type=Path, metavar="DIR", help="the folder of the cockpit's data")
    which.add_argument("--demo", action="store_true", help="check a fresh demo cockpit")
    check.add_argument("--json", action="store_true", help="print an object with `findings`")
    return parser


def _port(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 65535:
        raise argparse.ArgumentTypeError(f"a port is a number from 1 to 65535, not {text!r}")
    return int(text)


def _demo(options: argparse.Namespace) -> int:
    from app.seed_demo import clear_demo, is_demo_dir, load_demo

    folder: Path = options.data or demo_data_dir()
    settings = Settings(folder, is_demo=True)
    if settings.database_path.exists() and not is_demo_dir(folder):
        raise CannotRun(f"{folder} holds a cockpit that is not the demo; name another folder with --data")
    if options.anew and settings.database_path.exists():
        clear_demo(folder)
    kept = settings.database_path.exists()
    if not kept:
        print("Loading the demo cockpit …", flush=True)
        load_demo(folder)
    what = "demo cockpit, as you left it (coaming demo --anew starts anew)" if kept else "demo cockpit"
    return _serve(settings, options, what)


def _serve(settings: Settings, options: argparse.Namespace, what: str) -> int:
    build_app, uvicorn = load_program()
    with closing(_listen(options.port)) as listener:
        port = listener.getsockname()[1]
        address = f"http://127.0.0.1:{port}/"
        app = build_app(settings)
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, timeout_graceful_shutdown=PATIENCE_S
        )
        server = uvicorn.Server(config)
        gc.collect()
        gc.freeze()  # what serving stands on is never garbage: a pass over it would hold a sheet up
        signal.signal(signal.SIGINT, server.handle_exit)  # from the line below on, before it serves too
        if sys.platform == "win32":
            signal.signal(signal.SIGBREAK, server.handle_exit)
        taken = f"(port {options.port} was taken) " if port != options.port else ""
        print(
            f"Coaming: {what} at {address} {taken}with its data in {settings.data_dir}; Ctrl-C stops it.",
            flush=True,
        )
        if not options.no_browser:
            threading.Thread(target=_open_browser, args=(server, address), daemon=True).start()
        server.run(sockets=[listener])
    print("Coaming: stopped.", flush=True)
    return FINE


def load_program() -> "tuple[Callable[[Settings], FastAPI], ModuleType]":
    """What serving needs; the collector rests meanwhile, as nothing made while importing is garbage."""
    gc.disable()
    try:
        import uvicorn

        from app.main import build_app
    finally:
        gc.enable()
    return build_app, uvicorn


def _listen(port: int) -> socket.socket:
    """A socket on the loopback address, at this port or the next free one."""
    last = min(port + PORTS_TRIED, 65536) - 1
    for candidate in range(port, last + 1):
        # Named as TCP, so that the server turns off the wait for more to send: it costs 40 ms a sheet.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if sys.platform != "win32":  # there the option would let two programs share one port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind(("127.0.0.1", candidate))
            listener.listen()  # at once: two programs may bind one port until one of them listens
        except OSError as error:
            listener.close()
            if error.errno == errno.EACCES and sys.platform != "win32":
                raise CannotRun(f"port {candidate} is not open to you; name another with --port") from error
            continue
        return listener
    raise CannotRun(f"ports {port} to {last} are all taken; name another with --port")


def _open_browser(server: "uvicorn.Server", address: str) -> None:
    while not server.started:
        if server.should_exit:
            return
        time.sleep(0.05)
    webbrowser.open(address)


def _check(options: argparse.Namespace) -> int:
    findings = _findings_of(options)
    if options.json:
        keys = ("verdict", "about", "sentence", "remedies", "source_mark", "source")
        print(json.dumps({"findings": [{key: asdict(f)[key] for key in keys} for f in findings]}, indent=1))
    else:
        for finding in findings:
            print(f"{MARKS[finding.verdict]:<14} {finding.sentence}  [{finding.source_mark or 'no figure'}]")
            for remedy in finding.remedies:
                print(f"{'':<14} → {remedy}")
        print(_tally(findings))
    return STOPPED if any(finding.verdict == "stop" for finding in findings) else FINE


def _findings_of(options: argparse.Namespace) -> "list[Finding]":
    """The findings of a copy of the plan, so that checking never writes to it."""
    from app.database import migrate, open_engine, open_session
    from app.planning.cockpit_result import compute_cockpit

    with tempfile.TemporaryDirectory(prefix="coaming-") as folder:
        copy = Settings(Path(folder))
        if options.demo:
            from app.seed_demo import load_demo

            load_demo(copy.data_dir)
        else:
            kept = Settings(options.data or own_data_dir())
            if not kept.database_path.exists():
                raise CannotRun(f"there is no cockpit in {kept.data_dir}; name its folder with --data")
            _copy_database(kept.database_path, copy.database_path)
        migrate(copy.database_path, program_dir() / "migrations")
        engine = open_engine(copy.database_path)
        try:
            with open_session(engine) as session:
                return list(compute_cockpit(session).findings)
        finally:
            engine.dispose()


def _copy_database(kept: Path, copy: Path) -> None:
    from app.database import open_to_read

    try:
        with closing(open_to_read(kept)) as source, closing(sqlite3.connect(copy)) as target:
            source.backup(target)
    except sqlite3.DatabaseError as error:
        raise CannotRun(f"{kept} cannot be read as a cockpit ({error})") from error


def _tally(findings: "Sequence[Finding]") -> str:
    from app.planning.finding import count_findings

    counts = count_findings(findings)
    return (
        f"{counts.stop} stop, {counts.caution} caution, {counts.cannot_tell} cannot tell, {counts.fine} fine"
    )


if __name__ == "__main__":
    sys.exit(main())
