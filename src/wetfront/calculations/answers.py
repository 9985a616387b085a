"""From a finding to an answer: notices become cautions, and what rests on memory says so."""

from collections.abc import Mapping, Sequence
from typing import Any

from wetfront.nouns.reason import Answer, Notice, Provenance, Step


def answered(
    result: Mapping[str, Any],
    why: Sequence[Step],
    notices: Sequence[Notice] = (),
    cautions: Sequence[str] = (),
) -> Answer:
    """The answer; a result of None is left out. Warnings stand first, standing cautions after them."""
    remembered = dict.fromkeys(step.source.citation for step in why if step.source.provenance is Provenance.MEMORY)
    memory = (f"Rests on figures from memory; check before relying on it: {'; '.join(remembered)}.",)
    return Answer(
        {key: value for key, value in result.items() if value is not None},
        tuple(why),
        (*(notice.text for notice in notices), *(memory if remembered else ()), *cautions),
    )
