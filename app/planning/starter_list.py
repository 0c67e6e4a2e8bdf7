"""The starter list: customary components, libraries, rails and board modules that a new cockpit begins with."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import Engine
from sqlmodel import Session, select

from app.reference.board_module import BoardModule as ReferenceModule
from app.reference.board_module import board_modules
from app.reference.source import source
from app.reference.starter_component import (
    BASE_LIBRARY,
    StarterComponent,
    starter_carriers,
    starter_components,
    starter_libraries,
    starter_rails,
)
from app.tables import (
    BoardModule,
    Carrier,
    Cockpit,
    Component,
    ComponentInstead,
    ComponentLibrary,
    Library,
    ModuleLimit,
    ModulePin,
    Printer,
    Rail,
    Terminal,
)

# The starter list's short kinds, as the function list spells them.
KIND_WORDS = {"analogue": "lever or knob", "holding": "holding switch"}


def begin_cockpit(
    engine: Engine, *, name: str = "", is_demo: bool = False, today: date | None = None
) -> None:
    """Fill a new cockpit with the starter list; a cockpit already begun is left as it is."""
    with Session(engine) as session:
        if session.exec(select(Cockpit.id)).first() is not None:
            return
        session.add(Cockpit(name=name, is_demo=is_demo, begun_on=today or date.today()))  # noqa: DTZ011
        session.add(Printer(name="Printer"))
        load_starter_list(session)
        session.commit()


def load_starter_list(session: Session) -> None:
    """Add the starter rails, libraries, components and board modules; the caller commits."""
    rails = {rail.code: Rail(code=rail.code, name=rail.name, volts=rail.volts) for rail in starter_rails()}
    libraries = {
        library.code: Library(
            code=library.code,
            name=library.name,
            program_bytes=library.program_bytes,
            program_mark=library.mark,
            memory_bytes=library.memory_bytes,
            memory_mark=library.mark,
            is_on_every_board=library.code == BASE_LIBRARY,
            source=source(library.source).title,
        )
        for library in starter_libraries()
    }
    carriers = {
        carrier.code: Carrier(
            code=carrier.code,
            name=carrier.name,
            places=carrier.places,
            cost=carrier.cost,
            cost_mark=carrier.mark,
            addresses=carrier.addresses,
            addresses_mark=carrier.mark,
            input_pull_up_ohm=carrier.input_pull_up_ohm,
            input_pull_up_weakest_ohm=carrier.input_pull_up_weakest_ohm,
            source=source(carrier.source).title,
        )
        for carrier in starter_carriers()
    }
    session.add_all([*rails.values(), *libraries.values(), *carriers.values()])
    session.flush()
    components = {starter.code: _component(starter, rails, carriers) for starter in starter_components()}
    session.add_all(components.values())
    session.flush()
    for starter in starter_components():
        _add_links(session, starter, components, libraries)
    modules = {module.code: _module(module) for module in board_modules()}
    session.add_all(modules.values())
    session.flush()
    for module in board_modules():
        session.add_all(_pins(module, modules[module.code].id or 0))
        session.add_all(_limits(module, modules[module.code].id or 0))
    session.flush()


def _component(starter: StarterComponent, rails: dict[str, Rail], carriers: dict[str, Carrier]) -> Component:
    return Component(
        code=starter.code,
        name=starter.name,
        kinds=", ".join(KIND_WORDS.get(kind, kind) for kind in starter.kinds),
        rail_id=rails[starter.rail].id if starter.rail else None,
        idle_ma=starter.idle_ma if starter.rail else None,
        idle_mark=starter.mark,
        typical_ma=starter.typical_ma if starter.rail else None,
        typical_mark=starter.mark,
        peak_ma=starter.peak_ma if starter.rail else None,
        peak_mark=starter.mark,
        peak_is_stall=starter.peak_is == "stall",
        buffer_bytes=starter.buffer_bytes or None,
        buffer_mark=starter.mark,
        buffer_is="frame buffer" if starter.buffer_bytes else "",
        carrier_id=carriers[starter.carrier].id if starter.carrier else None,
        addresses=starter.addresses,
        redraw_bytes=starter.redraw_bytes,
        blocked_us=starter.blocked_us,
        input_supply_v=starter.input_supply_v,
        drive_ma=starter.drive_ma,
        drive_is=starter.drive_is,
        clicks_a_turn=starter.clicks_a_turn,
        changes_a_click=starter.changes_a_click,
        width_mm=starter.width_mm,
        height_mm=starter.height_mm,
        depth_mm=starter.length_mm,
        size_mark=starter.mark,
        cost=starter.cost,
        cost_mark=starter.mark,
        source=source(starter.source).title,
        note=starter.note,
        is_starter=True,
    )


def _add_links(
    session: Session,
    starter: StarterComponent,
    components: dict[str, Component],
    libraries: dict[str, Library],
) -> None:
    component_id = components[starter.code].id or 0
    session.add_all(
        Terminal(
            component_id=component_id,
            place=place,
            name=terminal.name,
            need=terminal.need,
            shared_as=terminal.shared_as,
            per_position=terminal.per_position,
        )
        for place, terminal in enumerate(starter.terminals)
    )
    session.add_all(
        ComponentLibrary(component_id=component_id, library_id=libraries[code].id or 0)
        for code in starter.libraries
    )
    for saves, codes in (("pins", starter.fewer_pins_by), ("bytes", starter.fewer_bytes_by)):
        session.add_all(
            ComponentInstead(
                component_id=component_id, instead_id=components[code].id or 0, saves=saves, place=place
            )
            for place, code in enumerate(codes)
        )


def _module(module: ReferenceModule) -> BoardModule:
    return BoardModule(
        code=module.code,
        name=module.name,
        chip=module.chip,
        logic_v=module.logic_volts,
        program_bytes=module.program_bytes,
        memory_bytes=module.memory_bytes,
        eeprom_bytes=module.eeprom_bytes,
        boot_loader_bytes=module.boot_loader_bytes,
        figures_mark=module.mark,
        link=module.link_kind,
        width_mm=module.width_mm,
        length_mm=module.length_mm,
        pull_up_ohm=module.pull_up_ohm,
        cost=module.cost,
        pull_up_weakest_ohm=module.pull_up_weakest_ohm,
        source=source(module.source).title,
        is_starter=True,
    )


def _pins(module: ReferenceModule, module_id: int) -> Iterable[ModulePin]:
    return (
        ModulePin(
            module_id=module_id,
            side=pin.side,
            row=pin.row,
            place=pin.place,
            x_mm=pin.x_mm,
            y_mm=pin.y_mm,
            label=pin.label,
            role=pin.role,
            chip_pin=pin.chip_pin,
            abilities=" ".join(sorted(pin.abilities)),
            reserved_for=pin.reserved,
            condition="; ".join(condition.text for condition in pin.conditions),
        )
        for pin in module.pins
    )


def _limits(module: ReferenceModule, module_id: int) -> Iterable[ModuleLimit]:
    return (
        ModuleLimit(
            module_id=module_id,
            scope=limit.scope,
            direction=limit.direction,
            limit_ma=limit.limit_ma,
            pin_labels=" ".join(limit.pins),
            basis=limit.basis,
            source=source(limit.source).title,
        )
        for limit in module.limits
    )
