"""What does not belong to one pour: whether the server lives, and the invented pours to play with."""

from fastapi import APIRouter, Request
from pydantic import BaseModel

from wetfront import __version__
from wetfront.api.examples import copy_example
from wetfront.api.site import Site

router = APIRouter(prefix="/api", tags=["server"])


class Health(BaseModel):
    """The server lives and reaches its database."""

    program: str
    now: str


@router.get("/health")
def health(request: Request) -> Health:
    """Open to everybody. 503 where the database is away."""
    site: Site = request.app.state.site
    site.journals.pours()
    return Health(program=f"wetfront {__version__}", now=site.now().isoformat(timespec="seconds"))


class Copied(BaseModel):
    """Files that were copied into the folder."""

    files: list[str]


@router.post("/demo")
def demo(request: Request) -> Copied:
    """Copy the invented pours into the folder. What is there stays."""
    site: Site = request.app.state.site
    return Copied(files=list(copy_example(site.folder)))
