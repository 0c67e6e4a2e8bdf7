"""The cockpit sheet: every panel, every finding worst first, what the rails carry, what printing took."""

from fastapi import APIRouter, Request
from fastapi.responses import Response
from sqlmodel import select

from app.pages.cockpit_drawing import draw_cockpit
from app.pages.sheet import cockpit_result, go_to, render, session_of
from app.pages.typed import Typed, TypedForm
from app.planning.cockpit_sheet import cockpit_sheet
from app.planning.edit import EditedMeanwhile, save_row
from app.tables import Cockpit

router = APIRouter()


@router.get("/")
def show_cockpit(request: Request) -> Response:
    """The sheet of the whole cockpit."""
    result = cockpit_result(request)
    with session_of(request) as session:
        sheet = cockpit_sheet(session, result)
    return render(
        request,
        "cockpit.html",
        sheet=sheet,
        drawing=draw_cockpit(sheet.panels),
        supplies=result.supplies,
        open_findings=[f for f in result.findings if f.verdict != "fine"],
        fine_findings=[f for f in result.findings if f.verdict == "fine"],
    )


@router.get("/cockpit/edit")
def edit_cockpit(request: Request) -> Response:
    """The form for the cockpit's name."""
    with session_of(request) as session:
        cockpit = session.exec(select(Cockpit)).one()
        return render(request, "cockpit_form.html", form=Typed.of_row(cockpit, ("name", "version")))


@router.post("/cockpit/edit")
def save_cockpit(request: Request, typed: TypedForm) -> Response:
    """Keep the cockpit's name."""
    name = typed.text("name", "Name")
    with session_of(request) as session:
        cockpit = session.exec(select(Cockpit)).one()
        if not typed.is_fine:
            return render(request, "cockpit_form.html", form=typed, status=422)
        try:
            save_row(session, cockpit, typed.seen_version(), {"name": name})
        except EditedMeanwhile as error:
            typed.values["version"] = str(error.theirs["version"])
            both = ([("Name", name)], [("Name", error.theirs["name"])])
            return render(request, "cockpit_form.html", form=typed, both=both, status=409)
        session.commit()
    return go_to("/")
