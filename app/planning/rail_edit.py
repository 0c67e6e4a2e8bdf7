"""Adding supplies and rails, and saying which supply feeds which rail."""

from sqlmodel import Session, col, func, select

from app.tables import Component, Rail, Supply


class RailInUse(Exception):
    """Something still hangs on this rail or supply; the message counts it."""


def add_supply(
    session: Session,
    code: str,
    name: str,
    volts: float,
    rating_a: float | None = None,
    *,
    rating_mark: str = "assumed",
    load_share: float = 0.8,
    note: str = "",
) -> Supply:
    """A new supply; the caller has made sure that the code is free, and commits."""
    supply = Supply(
        code=code,
        name=name,
        volts=volts,
        rating_a=rating_a,
        rating_mark=rating_mark,
        load_share=load_share,
        note=note,
    )
    session.add(supply)
    session.flush()
    return supply


def add_rail(
    session: Session, code: str, name: str, volts: float, supply: Supply | None = None, note: str = ""
) -> Rail:
    """A new rail, fed by a supply or not yet; the caller has made sure that the code is free, and commits."""
    rail = Rail(code=code, name=name, volts=volts, supply_id=supply.id if supply else None, note=note)
    session.add(rail)
    session.flush()
    return rail


def feed_rail(session: Session, rail: Rail, supply: Supply | None) -> None:
    """Let a supply feed a rail, or none; the caller commits."""
    rail.supply_id = supply.id if supply else None
    rail.version += 1
    session.add(rail)
    session.flush()


def remove_supply(session: Session, supply: Supply) -> None:
    """Take away a supply that feeds no rail; the caller commits.

    Raises:
        RailInUse: rails still hang on it.
    """
    rails = session.exec(select(func.count()).where(col(Rail.supply_id) == supply.id)).one()
    if rails:
        raise RailInUse(f"{supply.code} feeds {rails} rails; let another supply feed them first.")
    session.delete(supply)
    session.flush()


def remove_rail(session: Session, rail: Rail) -> None:
    """Take away a rail that no component names; the caller commits.

    Raises:
        RailInUse: components draw from it.
    """
    components = session.exec(select(func.count()).where(col(Component.rail_id) == rail.id)).one()
    if components:
        raise RailInUse(f"{components} components draw from rail {rail.code}; give them another rail first.")
    session.delete(rail)
    session.flush()
