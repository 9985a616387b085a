"""A commented sheet to start from: sound as it stands, every number an example."""

from importlib import resources
from typing import Literal, get_args

TemplateKind = Literal["slab", "wall", "raft"]
KINDS: tuple[TemplateKind, ...] = get_args(TemplateKind)
"""Kinds of pour sheets."""
BriefKind = Literal["batch", "mix"]
BRIEFS: tuple[BriefKind, ...] = get_args(BriefKind)
"""Sheets that are not about a pour, each with a command of its own name."""


def template(kind: TemplateKind) -> str:
    """The text of a new sheet for one pour of this kind."""
    return "".join(_part(part) for part in ("head", kind))


def brief_template(kind: BriefKind) -> str:
    """The text of a new brief."""
    return _part(kind)


def _part(name: str) -> str:
    return (resources.files("wetfront.intake") / "templates" / f"{name}.toml").read_text(encoding="utf-8")
