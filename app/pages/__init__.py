"""Sheets: an address in, HTML out. Each file's `router` is listed once, here."""

from fastapi import APIRouter

from app.pages import (
    attempts,
    cockpit,
    findings,
    made_parts,
    power,
    print_files,
    printers,
    revisions,
    workshop,
)

SHEETS: tuple[APIRouter, ...] = (
    cockpit.router,
    findings.router,
    power.router,
    workshop.router,
    attempts.router,  # before the made parts: /workshop/log is no part
    made_parts.router,
    revisions.router,
    print_files.router,
    printers.router,
)
