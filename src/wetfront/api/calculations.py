"""Questions about a pour over HTTP: the same names, keys and answers as `wetfront calc`."""

from typing import Annotated, Any

from fastapi import APIRouter, Body

from wetfront.api.problems import Refusal
from wetfront.calculations import calculation, names

router = APIRouter(prefix="/api/calc", tags=["calculations"])


@router.get("")
def listed() -> list[dict[str, str]]:
    """Every calculation with its title."""
    return [{"name": name, "title": calculation(name).title} for name in names()]


@router.post("/{name}")
def asked(name: str, inputs: Annotated[dict[str, Any], Body()]) -> dict[str, Any]:
    """Ask one: result, why, cautions. An unknown name is 404, a bad input 422 and names its key."""
    if name not in names():
        raise Refusal(404, f"No calculation is called {name}")
    return calculation(name).ask(inputs).as_json()
