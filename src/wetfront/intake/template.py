"""A commented sheet to start from: sound as it stands, every number an example."""

from importlib import resources
from typing import Literal, get_args

TemplateKind = Literal["slab", "wall", "raft", "batch"]
KINDS: tuple[TemplateKind, ...] = get_args(TemplateKind)


def template(kind: TemplateKind) -> str:
    """The text of a new sheet for one pour of this kind, or of a batch brief."""
    folder = resources.files("wetfront.intake") / "templates"
    parts = (kind,) if kind == "batch" else ("head", kind)
    return "".join((folder / f"{part}.toml").read_text(encoding="utf-8") for part in parts)
