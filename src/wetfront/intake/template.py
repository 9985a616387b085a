"""A commented sheet to start from: sound as it stands, every number an example."""

from importlib import resources
from typing import Literal, get_args

TemplateKind = Literal["slab", "wall", "raft"]
KINDS: tuple[TemplateKind, ...] = get_args(TemplateKind)


def template(kind: TemplateKind) -> str:
    """The text of a new sheet for one pour of this kind."""
    folder = resources.files("wetfront.intake") / "templates"
    return "".join((folder / f"{part}.toml").read_text(encoding="utf-8") for part in ("head", kind))


def batch_template() -> str:
    """The text of a new batch brief."""
    return (resources.files("wetfront.intake") / "templates" / "batch.toml").read_text(encoding="utf-8")
