"""A checked row of a ticket file as a delivered load with the site's own decision."""

import datetime as dt
from collections.abc import Mapping
from typing import Any

from wetfront.nouns.delivery import DeliveryRow, RowState
from wetfront.nouns.load import Addition, DeliveredLoad, FreshTests, Ticket
from wetfront.nouns.verdict import Decision, Outcome

NOBODY = "nobody has decided"
AGE_UNKNOWN = "the batching time is missing, so the age is unknown, and no person has signed"


def delivery_row(
    line: int, pour: str, values: Mapping[str, Any], moments: Mapping[str, dt.datetime], conflict: str
) -> DeliveryRow:
    """The load of a row. `conflict`: why two rows with this number cannot both be true; such a load is held."""
    decided, signed = values["accepted"], values["signed_by_role"].strip()
    state, why = _state(decided, signed, "batched" in moments, conflict)
    decision = None
    if decided is not None and signed:
        outcome = Outcome.ACCEPT if decided else Outcome.REFUSE
        decision = Decision(outcome=outcome, by=signed, why=values["remarks"])
    ticket = Ticket(
        ticket_number=values["ticket_number"],
        volume_m3=values["load_m3"],
        plant=values["plant"],
        truck=values["truck"],
        mix=values["mix_code"],
        batched=moments.get("batched"),
        left_plant=moments.get("left_plant"),
    )
    additions = _additions(values)
    load = DeliveredLoad(
        ticket=ticket,
        arrived=moments.get("arrived"),
        discharge_start=moments.get("discharge_start"),
        discharge_end=moments.get("discharge_end"),
        discharged_m3=values["load_m3"] if "discharge_end" in moments else 0.0,
        additions=additions,
        tests=_tests(values, bool(additions)),
    )
    return DeliveryRow(
        line=line,
        pour=pour,
        state=state,
        why_held=why,
        load=load,
        decision=decision,
        decided=decided,
        left_site=moments.get("left_site"),
        slump_first_mm=values["slump_mm"],
        sample_id=values["sample_id"],
        placed_in=values["placed_in"],
        remarks=values["remarks"],
    )


def _state(decided: bool | None, signed: str, batching_known: bool, conflict: str) -> tuple[RowState, str]:
    if conflict:
        return RowState.HELD, conflict
    if decided is None:
        return RowState.HELD, NOBODY
    if not decided:
        return RowState.REFUSED, ""
    if not batching_known and not signed:
        return RowState.HELD, AGE_UNKNOWN
    return RowState.TAKEN, ""


def _additions(values: Mapping[str, Any]) -> tuple[Addition, ...]:
    found: list[Addition] = []
    if values["water_added_l"]:
        found.append(Addition(kind="water", amount_l=values["water_added_l"], slump_before_mm=values["slump_mm"]))
    if values["admixture_added_l"]:
        found.append(
            Addition(kind="admixture", amount_l=values["admixture_added_l"], slump_before_mm=values["slump_mm"])
        )
    return tuple(found)


def _tests(values: Mapping[str, Any], added: bool) -> FreshTests:
    """After an addition the second slump is the test of the load as it now is; without one it is the check test."""
    first, second = values["slump_mm"], values["slump_retest_mm"]
    temperature = values["concrete_temperature_c"]
    if added:
        return FreshTests(slump_mm=second, concrete_temperature_c=temperature)
    return FreshTests(slump_mm=first, slump_check_mm=second, concrete_temperature_c=temperature)
