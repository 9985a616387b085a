"""Whether a delivered load is taken: one function, three outcomes, each reason with its limit and whose limit it is.

How it is used, by the simulator, the command line, the desk and, later, the journal:

    order = ordered("S1", sheet.mix["S1"])                         # or nouns.load.Order(...)
    limits = acceptance_limits(sheet.specification, sheet.trucks, order, elements)
    load = DeliveredLoad(ticket=Ticket(...), arrived=..., tests=FreshTests(...))     # nouns.load
    judgement = judge_load(order, load, limits, now=..., expected_discharge_min=..., tests_due=("slump",), decision=...)

`judgement.verdict` (nouns.verdict.Verdict) has `outcome` (accept, check-test, refuse), `findings` (all that was judged;
`deciding` those that give the outcome), `not_judged` (sentences), `water` (what may still be added), `held`,
`rests_on_memory`. `judgement.decision` is a person's, kept beside the verdict; `differs` tells where they part;
`stands`, `accepted` and `refused` tell what holds. A held load, and one that only a remembered limit accepts, is not
`accepted`. `in_words(judgement)` is the one line that may be shown: never write "accept" from the outcome alone.

Notes for who fills the nouns: `FreshTests` are those of the load as it is now; a slump before water or admixture
belongs into `Addition.slump_before_mm`, a second test on the same sample into `slump_check_mm`. A batching time that
is not printed stays None. `Ticket.entries` is None where nobody looked which entries the paper carries.

Sampling: `sampling_plan` draws the loads before the pour, `sample_due` answers for the load in hand.

`LoadLimits` and `refused_for` are the figures and the comparison that the simulator shares; see
`AcceptanceLimits.numbers`.
"""

from importlib import import_module
from typing import TYPE_CHECKING

from wetfront.acceptance.compare import SLACK, Cause, LoadLimits, refused_for, within

if TYPE_CHECKING:
    from wetfront.acceptance.judge import in_words, judge_load
    from wetfront.acceptance.limits import (
        AGE_RULES,
        END_OF_DISCHARGE,
        AcceptanceLimits,
        acceptance_limits,
        figures,
        laid_age,
        laid_temperatures,
        least_dimension_mm,
        ordered,
    )
    from wetfront.acceptance.sampling import (
        LoadSoFar,
        SampleDue,
        SamplingPlan,
        sample_due,
        samples_specified,
        sampling_plan,
    )

_MODULE_OF = {
    **dict.fromkeys(("in_words", "judge_load"), "judge"),
    **dict.fromkeys(
        (
            "AGE_RULES",
            "END_OF_DISCHARGE",
            "AcceptanceLimits",
            "acceptance_limits",
            "figures",
            "laid_age",
            "laid_temperatures",
            "least_dimension_mm",
            "ordered",
        ),
        "limits",
    ),
    **dict.fromkeys(
        ("LoadSoFar", "SampleDue", "SamplingPlan", "sample_due", "samples_specified", "sampling_plan"), "sampling"
    ),
}


def __getattr__(name: str) -> object:
    """The rest is loaded when it is asked for: the simulator compares loads without sheets and rule books."""
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)


__all__ = [
    "AGE_RULES",
    "END_OF_DISCHARGE",
    "SLACK",
    "AcceptanceLimits",
    "Cause",
    "LoadLimits",
    "LoadSoFar",
    "SampleDue",
    "SamplingPlan",
    "acceptance_limits",
    "figures",
    "in_words",
    "judge_load",
    "laid_age",
    "laid_temperatures",
    "least_dimension_mm",
    "ordered",
    "refused_for",
    "sample_due",
    "samples_specified",
    "sampling_plan",
    "within",
]
