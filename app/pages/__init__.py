"""Sheets: an address in, HTML out. Each file's `router` is listed once, here."""

from fastapi import APIRouter

SHEETS: tuple[APIRouter, ...] = ()
