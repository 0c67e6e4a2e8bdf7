"""What a board's components take beside pins: carriers, diodes, memory, program, time, bus addresses."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from app.calculations.blocked_time import PIXEL_US
from app.calculations.board_remedy_stock import (
    CONTACT_KINDS,
    RemedyBoard,
    RemedyComponent,
    RemedyFigures,
    RemedyFunction,
    RemedyStock,
)
from app.calculations.bus_address import BusDevice, address_map
from app.calculations.contact_matrix import ContactMatrix, MatrixContact, contact_matrix, row_by_row, scan_ms
from app.calculations.matrix_shape import MatrixShape, matrix_shape
from app.calculations.memory_budget import (
    MemoryBudget,
    MemoryClaim,
    ProgramBudget,
    memory_budget,
    program_budget,
)
from app.calculations.two_wire_bus import transfer_ms

MOST_CONTACTS_TRACED = 24
"""In a larger matrix a diode is counted at each contact, without following every loop."""


@dataclass(frozen=True, slots=True)
class BoardTake:
    """What the components of a board take beside pins.

    `carriers` counts the carriers of each code, `delays_ms` what one pass of the loop waits for each
    mechanism, `pixels` the chain of pixels and `pixels_us` how long it holds interrupts off.
    `without_address` are bus devices beyond the addresses there are. `matrix` is a layout row by row with no
    diode, None where there is no matrix or it is too large to follow; `diodes` is what it wants.
    """

    carriers: Mapping[str, int]
    delays_ms: Mapping[str, float]
    pixels: int
    pixels_us: float
    without_address: tuple[str, ...]
    shape: MatrixShape | None
    matrix: ContactMatrix | None
    diodes: int
    memory: MemoryBudget
    program: ProgramBudget


def places_on_carrier(function: RemedyFunction, component: RemedyComponent) -> int:
    """Places that a function takes on its component's carrier: one a contact, one a light or a gauge.

    Args:
        function: the function.
        component: a component with a carrier.

    Returns:
        The number of places.

    Example:
        >>> selector = RemedyFunction("F1", "rot", positions=4, places=4)
        >>> places_on_carrier(selector, RemedyComponent("ex", "Expander", (), ("selector",), "io-expander"))
        4
    """
    return function.places if CONTACT_KINDS.intersection(component.kinds) else 1


def board_take(board: RemedyBoard, stock: RemedyStock, figures: RemedyFigures) -> BoardTake:
    """What the components of a board take beside pins.

    Args:
        board: the board with its functions.
        stock: the components, carriers, libraries and modules they name.
        figures: figures of common practice.

    Returns:
        Carriers by their places, diodes, time of a pass, bytes, and bus devices without an address.

    Raises:
        KeyError: a code is not in the stock.

    Where it holds: one two-wire bus a board; one chain of pixels and of each kind of register; a pass reads
        every expander and ladder, scans the matrix, writes every gauge on a bus and sends all pixels once.
        Displays are left out: no remedy here changes them.
    Source: arithmetic over `register_chain`, `scan_ms`, `transfer_ms` and `memory_budget`, which name theirs.

    Example:
        >>> from app.calculations.board_remedy_stock import RemedyModule
        >>> stock = RemedyStock((RemedyComponent("px", "Pixel", (), blocked_us=30.0, buffer_bytes=3),),
        ...     modules=(RemedyModule("T8S", "Module", (), memory_bytes=2048),))
        >>> lamps = tuple(RemedyFunction(f"F{k}", "px") for k in range(17))
        >>> board_take(RemedyBoard("BD03", "T8S", lamps), stock, RemedyFigures()).pixels_us
        510.0
    """
    chosen = [(f, c) for f in board.functions if (c := stock.component_of(f)) is not None]
    places: Counter[str] = Counter()
    for function, component in chosen:
        if component.carrier:
            places[component.carrier] += places_on_carrier(function, component)
    carriers = {code: -(-number // stock.carrier[code].places) for code, number in places.items()}
    contacts = _contacts(chosen)
    shape = matrix_shape(len(contacts)) if contacts else None
    matrix = None
    if shape is not None and len(contacts) <= MOST_CONTACTS_TRACED:
        at = row_by_row([key for key, _ in contacts], shape.rows, shape.columns)
        matrix = contact_matrix([MatrixContact(key, *at[key], excludes=whose) for key, whose in contacts])
    lit = [component.blocked_us for _, component in chosen if component.blocked_us]
    module = stock.module[board.module]
    boot_loader = module.boot_loader_bytes if board.boot_loader_bytes is None else board.boot_loader_bytes
    image = len(contacts) + sum(
        places_on_carrier(function, component)
        for function, component in chosen
        if component.mechanism in ("output register", "input register", "expander")
    )
    claims = [
        MemoryClaim(component.name, component.buffer_bytes)
        for _, component in chosen
        if component.buffer_bytes != 0
    ]
    claims += [MemoryClaim("what registers and contacts hold", -(-image // figures.image_bits))]
    wanted = {code for _, component in chosen for code in component.libraries}
    libraries = [each for each in stock.libraries if each.is_on_every_board or each.code in wanted]
    return BoardTake(
        carriers=carriers,
        delays_ms=_delays_ms(board, stock, figures, chosen, carriers, shape),
        pixels=len(lit),
        pixels_us=sum(lit),
        without_address=_without_address(chosen, carriers, stock),
        shape=shape,
        matrix=matrix,
        diodes=matrix.diodes_to_fit if matrix is not None else len(contacts),
        memory=memory_budget(
            [*claims, *(MemoryClaim(each.name, each.memory_bytes) for each in libraries)],
            module.memory_bytes,
            stack_reserve_bytes=board.stack_reserve_bytes,
        ),
        program=program_budget(
            [MemoryClaim(each.name, each.program_bytes) for each in libraries],
            module.program_bytes,
            boot_loader_bytes=boot_loader,
        ),
    )


def _contacts(chosen: list[tuple[RemedyFunction, RemedyComponent]]) -> list[tuple[str, str]]:
    """Contacts of the matrix and the function whose positions exclude each other, selectors first."""
    contacts: list[tuple[str, str]] = []
    for function, component in chosen:
        if component.mechanism == "matrix":
            number = function.positions or 1
            keys = [function.key] if number == 1 else [f"{function.key}/{k + 1}" for k in range(number)]
            contacts += [(key, function.key if number > 1 else "") for key in keys]
    return sorted(contacts, key=lambda contact: not contact[1])


def _delays_ms(
    board: RemedyBoard,
    stock: RemedyStock,
    figures: RemedyFigures,
    chosen: list[tuple[RemedyFunction, RemedyComponent]],
    carriers: Mapping[str, int],
    shape: MatrixShape | None,
) -> dict[str, float]:
    clock_khz = board.bus_clock_khz or figures.bus_clock_khz
    delays: dict[str, float] = {}
    on_carrier = {component.carrier: component.mechanism for _, component in chosen if component.carrier}
    for code, number in carriers.items():
        mechanism = on_carrier[code]
        if mechanism in ("output register", "input register"):
            bits = number * stock.carrier[code].places
            delays[mechanism] = delays.get(mechanism, 0.0) + bits / figures.register_clock_khz
        elif mechanism == "expander":
            read = transfer_ms(figures.expander_read_bytes, clock_khz)
            delays[mechanism] = delays.get(mechanism, 0.0) + number * read
    for _, component in chosen:
        if component.mechanism == "pulse expander":
            write = transfer_ms(figures.pulse_write_bytes, clock_khz)
            delays["pulse expander"] = delays.get("pulse expander", 0.0) + write
        elif component.mechanism == "ladder":
            reads = figures.equal_readings * figures.analogue_read_ms
            delays["ladder"] = delays.get("ladder", 0.0) + reads
        elif component.mechanism == "pixels":
            delays["pixels"] = delays.get("pixels", 0.0) + (component.blocked_us or PIXEL_US) / 1000
    if shape is not None:
        delays["matrix"] = scan_ms(shape.rows, row_us=figures.matrix_row_us, equal_readings=1)
    return delays


def _without_address(
    chosen: list[tuple[RemedyFunction, RemedyComponent]], carriers: Mapping[str, int], stock: RemedyStock
) -> tuple[str, ...]:
    devices = [
        BusDevice(function.key, component.addresses)
        for function, component in chosen
        if component.is_on_bus and not component.carrier
    ]
    on_bus = {component.carrier for _, component in chosen if component.carrier and component.is_on_bus}
    devices += [
        BusDevice(f"{stock.carrier[code].name} {k + 1}", stock.carrier[code].addresses)
        for code, number in carriers.items()
        if code in on_bus
        for k in range(number)
    ]
    return address_map(devices).left_over
