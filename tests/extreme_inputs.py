"""Questions drawn from the ends of every permitted range at once, for "the answer is finite or names a key" tests."""

import json
import math

from hypothesis import strategies as st

from wetfront.calculations import calculation
from wetfront.calculations.contract import Choice, Flag, Number, Numbers
from wetfront.errors import InvalidInput


def ends_of(key: Number) -> list[float]:
    """The lowest and highest permitted values and one between."""
    if key.whole:
        low = int(key.low if key.low is not None else 0)
        return [low, low + 1, int(key.high)]
    low = key.low if key.low is not None else math.nextafter(key.above, math.inf)
    high = key.high if key.high is not None else math.nextafter(key.below, -math.inf)
    return [low, low + 1e-9 * (high - low), (low + high) / 2, high]


def value_of(key) -> st.SearchStrategy:
    match key:
        case Number():
            return st.sampled_from(ends_of(key))
        case Numbers():
            return st.lists(st.sampled_from(ends_of(key.each)), min_size=0, max_size=3)
        case Choice():
            return st.sampled_from(key.options)
        case Flag():
            return st.booleans()


def question(name: str) -> st.SearchStrategy:
    """Inputs of one calculation; keys with a default may be missing."""
    keys = calculation(name).inputs
    return st.fixed_dictionaries({key.key: value_of(key) for key in keys}).flatmap(
        lambda inputs: st.sets(st.sampled_from([key.key for key in keys]), max_size=2).map(
            lambda left_out: {key: value for key, value in inputs.items() if key not in left_out}
        )
    )


def check_answer_or_key(name: str, inputs: dict) -> None:
    """A finite answer with a finite derivation, or an error that names one of the keys."""
    contract = calculation(name)
    try:
        answer = contract.ask(inputs)
    except InvalidInput as error:
        assert error.key in {key.key for key in contract.inputs}
        assert error.message
    else:
        json.dumps(answer.as_json(), allow_nan=False)
        assert set(answer.result) <= {output.key for output in contract.outputs}
