"""Board modules of the builder's own, from a chip of the open data set or from a module at hand."""

from dataclasses import replace

import pytest
from sqlmodel import Session, select

from app.planning.board_edit import add_board, put_functions_on_board
from app.planning.board_pins import is_usable
from app.planning.bring_in import keep_list, preview_list
from app.planning.edit import CodeTaken, EditedMeanwhile
from app.planning.module_edit import (
    BoardDoesNotFit,
    ModuleDraft,
    ModuleInUse,
    UnknownChip,
    add_module,
    change_module,
    chip_facts,
    default_pin_texts,
    delete_module,
    find_chips,
    module_limits,
    pin_texts,
    read_pins,
)
from app.tables import BoardModule, Function, ModulePin, PinLeftOut, PinUse


def draft_of(session: Session, chip: str, left: str = "") -> ModuleDraft:
    facts = chip_facts(session, chip)
    texts = {"left": left} if left else default_pin_texts(facts)
    return ModuleDraft(
        code="M01",
        name="own",
        chip=facts.name,
        logic_v=5.0,
        program_bytes=facts.program_bytes,
        memory_bytes=facts.memory_bytes,
        eeprom_bytes=facts.eeprom_bytes,
        boot_loader_bytes=512,
        figures_mark="listed",
        link="port chip",
        width_mm=None,
        length_mm=None,
        source=facts.source,
        note="",
        pins=read_pins(texts, facts),
    )


def pins_of(session: Session, module: BoardModule) -> list[ModulePin]:
    return list(session.exec(select(ModulePin).where(ModulePin.module_id == module.id)).all())


def starter(session: Session, code: str) -> BoardModule:
    return session.exec(select(BoardModule).where(BoardModule.code == code)).one()


def test_a_chip_of_the_data_set_brings_its_memories_and_all_its_pins(empty_session: Session) -> None:
    facts = chip_facts(empty_session, "atmega1284p")
    # avr-libc, iom1284p.h: FLASHEND 0x1FFFF, RAMEND 0x40FF from 0x100, E2END 0xFFF; four whole ports of eight.
    assert (facts.program_bytes, facts.memory_bytes, facts.eeprom_bytes) == (131_072, 16_384, 4_096)
    assert len(facts.pins) == 32
    module = add_module(empty_session, draft_of(empty_session, "atmega1284p"))
    usable = sum(is_usable(pin) for pin in pins_of(empty_session, module))
    # The data set marks the crystal's and the reset's pins on some packages; those alone are reserved.
    assert usable == 32 - len(facts.shared)


def test_a_chip_that_only_a_module_has_can_be_used_again(empty_session: Session) -> None:
    original = starter(empty_session, "T32W")
    facts = chip_facts(empty_session, original.chip)
    texts = pin_texts(empty_session, original, facts)
    draft = replace(draft_of(empty_session, original.chip), pins=read_pins(texts, facts))
    copy = add_module(empty_session, draft, original)
    before = {p.label: (p.abilities, p.role, p.condition) for p in pins_of(empty_session, original)}
    assert {p.label: (p.abilities, p.role, p.condition) for p in pins_of(empty_session, copy)} == before
    assert len(module_limits(empty_session, copy)) == len(module_limits(empty_session, original))


@pytest.mark.parametrize("code", ["T8S", "T8A", "T8L", "T8U", "T32", "T32F"])
def test_a_copy_of_every_starter_module_has_the_same_usable_pins(empty_session: Session, code: str) -> None:
    original = starter(empty_session, code)
    facts = chip_facts(empty_session, original.chip)
    texts = pin_texts(empty_session, original, facts)
    copy = add_module(
        empty_session, replace(draft_of(empty_session, original.chip), pins=read_pins(texts, facts))
    )
    before = {p.label: p.abilities for p in pins_of(empty_session, original) if is_usable(p)}
    assert {p.label: p.abilities for p in pins_of(empty_session, copy) if is_usable(p)} == before


def test_a_chip_that_nobody_knows_is_refused(empty_session: Session) -> None:
    with pytest.raises(UnknownChip, match="zz80"):
        chip_facts(empty_session, "zz80")


def test_chips_are_found_in_modules_and_in_the_data_set(empty_session: Session) -> None:
    assert "esp32" in find_chips(empty_session, "esp32")
    assert any(name.startswith("atmega1284p") for name in find_chips(empty_session, "ATmega 1284"))
    assert find_chips(empty_session, " ") == []
    assert find_chips(empty_session, "'; --" * 30) == []


def test_a_changed_module_solves_its_boards_anew(empty_session: Session) -> None:
    draft = draft_of(empty_session, "atmega328p", "D0=PD0\nD1=PD1\nD2=PD2\nD3=PD3")
    module = add_module(empty_session, draft)
    board = add_board(empty_session, "BD01", "M01")
    keep_list(
        empty_session,
        preview_list(empty_session, "panel\tname\tkind\twiring\nP01\tOil\tlight\tled\nP01\tFuel\tlight\tled"),
    )
    ids = [function.id or 0 for function in empty_session.exec(select(Function)).all()]
    put_functions_on_board(empty_session, ids, board.id)
    assert len(empty_session.exec(select(PinUse)).all()) == 4
    smaller = replace(draft, pins=draft_of(empty_session, "atmega328p", "D0=PD0\nD1=PD1\nD2=PD2").pins)
    change_module(empty_session, module, 1, smaller)
    assert len(empty_session.exec(select(PinUse)).all()) == 3
    assert len(empty_session.exec(select(PinLeftOut)).all()) == 1
    with pytest.raises(EditedMeanwhile):
        change_module(empty_session, module, 1, draft)


def test_a_change_that_a_boards_boot_loader_cannot_live_with_is_refused(empty_session: Session) -> None:
    draft = draft_of(empty_session, "atmega328p")
    module = add_module(empty_session, draft)
    add_board(empty_session, "BD01", "M01", boot_loader_bytes=4096)
    with pytest.raises(BoardDoesNotFit, match="BD01"):
        change_module(empty_session, module, 1, replace(draft, program_bytes=4096))


def test_an_id_is_taken_once_and_a_module_in_use_stays(empty_session: Session) -> None:
    draft = draft_of(empty_session, "atmega328p")
    module = add_module(empty_session, draft)
    with pytest.raises(CodeTaken):
        add_module(empty_session, replace(draft, code="t8s"))
    add_board(empty_session, "BD01", "M01")
    with pytest.raises(ModuleInUse, match="BD01"):
        delete_module(empty_session, module)
