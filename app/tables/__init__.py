"""The cockpit's tables, one file for each thing the trade can name.

A bare number's column name ends in its unit; `…_mark` beside it is its source mark. `version` counts the
saves of a row, so that a second tab is told. No postponed annotations here: they break SQLModel.
"""

from app.tables.board import Board
from app.tables.board_bus import BoardBus, BusStrap
from app.tables.board_module import BoardModule, ModuleLimit, ModulePin
from app.tables.candidate import Candidate
from app.tables.carrier import Carrier
from app.tables.cockpit import Cockpit
from app.tables.component import Component, ComponentInstead, ComponentLibrary, Library
from app.tables.firmware import FirmwareBuild, FirmwareSection
from app.tables.function import Function
from app.tables.made_part import Attempt, MadePart, PrintFile, Revision
from app.tables.matrix_contact import MatrixContact
from app.tables.output_state import OutputState
from app.tables.panel import Panel
from app.tables.panel_load import PanelLoad
from app.tables.pin_use import PinLeftOut, PinPlan, PinUse
from app.tables.printer import Printer
from app.tables.rail import Rail, Supply
from app.tables.scale import ScalePoint
from app.tables.terminal import Terminal

__all__ = [
    "Attempt",
    "Board",
    "BoardBus",
    "BoardModule",
    "BusStrap",
    "Candidate",
    "Carrier",
    "Cockpit",
    "Component",
    "ComponentInstead",
    "ComponentLibrary",
    "FirmwareBuild",
    "FirmwareSection",
    "Function",
    "Library",
    "MadePart",
    "MatrixContact",
    "ModuleLimit",
    "ModulePin",
    "OutputState",
    "Panel",
    "PanelLoad",
    "PinLeftOut",
    "PinPlan",
    "PinUse",
    "PrintFile",
    "Printer",
    "Rail",
    "Revision",
    "ScalePoint",
    "Supply",
    "Terminal",
]
