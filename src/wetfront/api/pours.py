"""The pours of the site."""

from typing import Any

from fastapi import APIRouter, Request

from wetfront.api.problems import told
from wetfront.api.site import Site

router = APIRouter(prefix="/api/pours", tags=["pours"])


@router.get("")
def listed(request: Request) -> dict[str, Any]:
    """Every pour of the folder's sheets, and the sheets that have mistakes."""
    site: Site = request.app.state.site
    return {
        "pours": [
            {
                "pour": name,
                "title": served.pour.title,
                "date": served.pour.date.isoformat(),
                "project": served.checked.sheet.project.name,
                "time_zone": served.checked.sheet.project.time_zone,
                "sheet": served.file,
                "last_number": site.journals.last_number(name),
            }
            for name, served in site.pours().items()
        ],
        "faulty": [
            {"sheet": name, "errors": [told(each) for each in error.problems]} for name, error in site.faulty().items()
        ],
    }
