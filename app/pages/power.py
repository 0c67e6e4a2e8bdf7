"""The power sheet: supplies, the rails they feed, and what each carries in its worst moment."""

from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from fastapi.responses import Response
from sqlmodel import Session, select

from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import MARKS, Typed, TypedForm
from app.planning.edit import EditedMeanwhile, code_is_free, next_code, save_row
from app.planning.rail_edit import RailInUse, add_rail, add_supply, remove_rail, remove_supply
from app.tables import Rail, Supply

router = APIRouter()

SUPPLY_FIELDS = ("code", "name", "volts", "rating_a", "rating_mark", "load_share", "note", "version")
RAIL_FIELDS = ("code", "name", "volts", "supply_id", "note", "version")
ABSURD_SUPPLY_A = 100.0


@router.get("/power")
def show_power(request: Request) -> Response:
    """Every supply with its rails, and the rails that have none."""
    result = cockpit_result(request)
    plan = result.plan
    fed = {rail_sum.rail.id for supply in result.supplies for rail_sum in supply.rails}
    return render(
        request,
        "power.html",
        supplies=result.supplies,
        empty_rails=[rail for rail in plan.rails.values() if rail.id not in fed],
        findings=[f for f in result.findings if f.about[0].kind in ("supply", "rail", "component")],
    )


@router.get("/power/supplies/new")
def new_supply(request: Request) -> Response:
    """An empty form for a supply."""
    with session_of(request) as session:
        code = next_code(session, Supply, "PS", 2)
    form = Typed({"code": code, "load_share": "80", "rating_mark": "listed"})
    return render(request, "supply_form.html", form=form, supply=None, source_marks=MARKS)


@router.post("/power/supplies/new")
def add_new_supply(request: Request, typed: TypedForm) -> Response:
    """Keep a new supply."""
    with session_of(request) as session:
        values = _supply_values(session, typed, None)
        if values is None:
            return render(
                request, "supply_form.html", form=typed, supply=None, source_marks=MARKS, status=422
            )
        add_supply(session, **values)
        session.commit()
    return go_to("/power", f"Supply {values['code']} is kept; say which rails it feeds.")


@router.get("/power/supplies/{code}")
def edit_supply(request: Request, code: str) -> Response:
    """The form of one supply."""
    with session_of(request) as session:
        supply = _supply(session, code)
        form = Typed.of_row(supply, SUPPLY_FIELDS)
        form.values["load_share"] = f"{supply.load_share * 100:g}"
        return render(request, "supply_form.html", form=form, supply=supply, source_marks=MARKS)


@router.post("/power/supplies/{code}")
def save_supply(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep an edited supply."""
    with session_of(request) as session:
        supply = _supply(session, code)
        values = _supply_values(session, typed, supply.id)
        if values is None:
            return render(
                request, "supply_form.html", form=typed, supply=supply, source_marks=MARKS, status=422
            )
        try:
            save_row(session, supply, typed.seen_version(), values)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            both = (_said(values), _said(error.theirs))
            return render(
                request,
                "supply_form.html",
                form=typed,
                supply=supply,
                source_marks=MARKS,
                both=both,
                status=409,
            )
        session.commit()
    return go_to("/power")


@router.post("/power/supplies/{code}/remove")
def take_supply_away(request: Request, code: str) -> Response:
    """Take away a supply that feeds nothing."""
    with session_of(request) as session:
        try:
            remove_supply(session, _supply(session, code))
        except RailInUse as error:
            return go_to(f"/power/supplies/{code}", str(error))
        session.commit()
    return go_to("/power", f"Supply {code} is gone.")


@router.get("/power/rails/new")
def new_rail(request: Request) -> Response:
    """An empty form for a rail."""
    with session_of(request) as session:
        return render(request, "rail_form.html", form=Typed(), rail=None, supplies=_supply_choices(session))


@router.post("/power/rails/new")
def add_new_rail(request: Request, typed: TypedForm) -> Response:
    """Keep a new rail."""
    with session_of(request) as session:
        values = _rail_values(session, typed, None)
        if values is None:
            choices = _supply_choices(session)
            return render(request, "rail_form.html", form=typed, rail=None, supplies=choices, status=422)
        rail = add_rail(session, values["code"], values["name"], values["volts"], note=values["note"])
        rail.supply_id = values["supply_id"]
        session.add(rail)
        session.commit()
    return go_to("/power", f"Rail {values['code']} is kept.")


@router.get("/power/rails/{code}")
def edit_rail(request: Request, code: str) -> Response:
    """The form of one rail."""
    with session_of(request) as session:
        rail = _rail(session, code)
        form = Typed.of_row(rail, RAIL_FIELDS)
        return render(request, "rail_form.html", form=form, rail=rail, supplies=_supply_choices(session))


@router.post("/power/rails/{code}")
def save_rail(request: Request, code: str, typed: TypedForm) -> Response:
    """Keep an edited rail."""
    with session_of(request) as session:
        rail = _rail(session, code)
        choices = _supply_choices(session)
        values = _rail_values(session, typed, rail.id)
        if values is None:
            return render(request, "rail_form.html", form=typed, rail=rail, supplies=choices, status=422)
        try:
            save_row(session, rail, typed.seen_version(), values)
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            names = dict(choices)
            both = tuple(
                [(label, names.get(text, text) if label == "Supply" else text) for label, text in _said(row)]
                for row in (values, error.theirs)
            )
            return render(
                request, "rail_form.html", form=typed, rail=rail, supplies=choices, both=both, status=409
            )
        session.commit()
    return go_to("/power")


@router.post("/power/rails/{code}/remove")
def take_rail_away(request: Request, code: str) -> Response:
    """Take away a rail that nothing draws from."""
    with session_of(request) as session:
        try:
            remove_rail(session, _rail(session, code))
        except RailInUse as error:
            return go_to(f"/power/rails/{code}", str(error))
        session.commit()
    return go_to("/power", f"Rail {code} is gone.")


def _supply(session: Session, code: str) -> Supply:
    supply = session.exec(select(Supply).where(Supply.code == code)).first()
    if supply is None:
        raise HTTPException(404, f"There is no supply {code} in this cockpit.")
    return supply


def _rail(session: Session, code: str) -> Rail:
    rail = session.exec(select(Rail).where(Rail.code == code)).first()
    if rail is None:
        raise HTTPException(404, f"There is no rail {code} in this cockpit.")
    return rail


def _supply_choices(session: Session) -> list[tuple[str, str]]:
    rows = session.exec(select(Supply).order_by(Supply.code)).all()
    return [(str(row.id), f"{row.code} {row.name}") for row in rows]


def _supply_values(session: Session, typed: Typed, own_id: int | None) -> dict[str, Any] | None:
    """The columns of a supply as typed, or None where a field is refused."""
    code = _free_code(session, typed, Supply, "supply", own_id)
    share = typed.quantity("load_share", "share_percent", "Share that may be used", required=True)
    if share is not None and not 0 < share <= 100:
        typed.refuse("load_share", "The share that may be used is over 0 and at most 100 %.")
    volts = _voltage(typed)
    if volts is not None and own_id is not None and typed.is_fine:
        rails = session.exec(select(Rail).where(Rail.supply_id == own_id).order_by(Rail.code)).all()
        unlike = [f"{rail.code} is {rail.volts:g} V" for rail in rails if not _is_alike(volts, rail.volts)]
        if unlike:
            typed.refuse(
                "volts", f"It feeds rails of another voltage ({', '.join(unlike)}): change those first."
            )
    rating_a = typed.quantity("rating_a", "rating_a", "Rating", ask_if_over=ABSURD_SUPPLY_A)
    if rating_a == 0:
        typed.refuse("rating_a", "The rating is over 0 A; leave it empty where it is not known.")
    values: dict[str, Any] = {
        "code": code,
        "name": typed.text("name", "Name", required=True),
        "volts": volts,
        "rating_a": rating_a,
        "rating_mark": typed.mark("rating_mark"),
        "load_share": (share or 0) / 100,
        "note": typed.text("note", "Note", longest=2000),
    }
    return values if typed.is_fine else None


def _rail_values(session: Session, typed: Typed, own_id: int | None) -> dict[str, Any] | None:
    """The columns of a rail as typed, or None where a field is refused."""
    code = _free_code(session, typed, Rail, "rail", own_id)
    supply = typed.choice("supply_id", "Supply", [value for value, _ in _supply_choices(session)])
    volts = _voltage(typed)
    if supply and volts is not None and typed.is_fine:
        supply_volts = session.exec(select(Supply.volts).where(Supply.id == int(supply))).one()
        if not _is_alike(supply_volts, volts):
            typed.refuse(
                "supply_id", f"That supply gives {supply_volts:g} V, the rail is {volts:g} V: choose another."
            )
    values: dict[str, Any] = {
        "code": code,
        "name": typed.text("name", "Name", required=True),
        "volts": volts,
        "supply_id": int(supply) if supply and supply.isdigit() else None,
        "note": typed.text("note", "Note", longest=2000),
    }
    return values if typed.is_fine else None


def _free_code(
    session: Session, typed: Typed, table: type[Supply] | type[Rail], word: str, own_id: int | None
) -> str:
    code = typed.code("code")
    if code and not code_is_free(session, table, code, own_id):
        typed.refuse("code", f"Another {word} has the id {code}.")
    return code


def _voltage(typed: Typed) -> float | None:
    volts = typed.quantity("volts", "voltage_v", "Voltage", required=True)
    if volts == 0:
        typed.refuse("volts", "The voltage is over 0 V.")
    return volts


def _is_alike(supply_volts: float, rail_volts: float) -> bool:
    """Whether a supply's voltage is a rail's, within the 5 % that supplies are set to."""
    return abs(supply_volts - rail_volts) <= 0.05 * rail_volts


LABELS = {
    "code": "Id",
    "name": "Name",
    "volts": "Voltage, V",
    "rating_a": "Rating, A",
    "rating_mark": "Source of the rating",
    "load_share": "Share that may be used",
    "supply_id": "Supply",
    "note": "Note",
}


def _said(row: Mapping[str, Any]) -> list[tuple[str, str]]:
    return [
        (label, "" if row[name] is None else str(row[name])) for name, label in LABELS.items() if name in row
    ]
