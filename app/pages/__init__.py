"""Sheets: an address in, HTML out. Each file's `router` is listed once, here."""

from fastapi import APIRouter

from app.pages import (
    attempts,
    board_form,
    board_functions,
    board_module_form,
    board_modules,
    board_record,
    board_remedies,
    boards,
    bring_in,
    calculators,
    cockpit,
    components,
    findings,
    firmware,
    firmware_breakdown,
    functions,
    made_parts,
    panels,
    pin_names,
    power,
    print_files,
    printers,
    revisions,
    workshop,
)

SHEETS: tuple[APIRouter, ...] = (
    cockpit.router,
    findings.router,
    panels.router,
    functions.router,
    bring_in.router,
    power.router,
    workshop.router,
    attempts.router,  # before the made parts: /workshop/log is no part
    made_parts.router,
    revisions.router,
    print_files.router,
    printers.router,
    board_form.router,  # before the boards: /boards/new is no board
    boards.router,
    board_functions.router,
    firmware.router,
    firmware_breakdown.router,
    pin_names.router,
    board_record.router,
    board_remedies.router,
    board_module_form.router,  # before the modules: /board-modules/new is no module
    board_modules.router,
    components.router,
    calculators.router,
)
