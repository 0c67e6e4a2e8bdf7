"""Sheets: an address in, HTML out. Each file's `router` is listed once, here."""

from fastapi import APIRouter

from app.pages import cockpit, findings, power

SHEETS: tuple[APIRouter, ...] = (
    cockpit.router,
    findings.router,
    power.router,
)
