"""The findings sheet: what every check says, worst first."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.pages.sheet import cockpit_result, render
from app.planning.finding import VERDICT_ORDER

router = APIRouter()


@router.get("/findings")
def show_findings(request: Request, verdict: str = "", panel: str = "") -> Response:
    """All findings, or those of one verdict or one panel."""
    result = cockpit_result(request)
    shown = [
        finding
        for finding in result.findings
        if (not verdict or finding.verdict == verdict)
        and (not panel or any(a.kind == "panel" and a.id == panel for a in finding.about))
    ]
    return render(
        request,
        "findings.html",
        block="list",
        shown=shown,
        verdict=verdict,
        panel=panel,
        verdicts=VERDICT_ORDER,
        panels=list(result.plan.panels.values()),
        total=len(result.findings),
    )
