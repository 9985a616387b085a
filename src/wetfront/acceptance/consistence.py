"""Consistence: class of a test value, limits of a class or target by each rule book, second tests, shape of a slump."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from wetfront.acceptance.compare import within
from wetfront.errors import InvalidInput, OutOfRange
from wetfront.nouns.reason import Provenance, Source
from wetfront.nouns.verdict import Outcome
from wetfront.rules import Rule, rule

Lookup = Callable[[str, str], Rule]
"""Book, rule -> the rule; a project's lookup carries what its people confirmed."""

CHECK_TEST = Source(
    "ASTM C94/C94M: outside on the first test, a second one at once on another portion of the same sample decides",
    Provenance.PUBLISHED,
)
SHEAR = Source(
    "EN 12350-2, ASTM C143: sheared, repeat on another portion; twice, the slump test does not suit the concrete",
    Provenance.PUBLISHED,
)
ROUNDING = Source("halves rounded up, own convention", Provenance.OWN_RULE)

SLUMP_BASES = (
    "bs-8500-spot",
    "en-206-composite",
    "astm-c94",
    "is-4926",
    "as-1379",
    "nzs-3104-representative",
    "nzs-3104-snatch",
)
CLASS_BASES = SLUMP_BASES[:2]
"""The bases that know slump classes."""


# Class of a test value


@dataclass(frozen=True, slots=True)
class _Test:
    rule: str
    step: float
    """What a value is reported to."""
    sensitive: tuple[float, float, bool, bool] | None
    """Lowest and highest reported value where the test is sensitive, and whether each bound itself belongs to it."""


_TESTS = {
    "slump": _Test("slump-classes", 10.0, (10.0, 210.0, True, True)),
    "flow-table": _Test("flow-classes", 10.0, (340.0, 620.0, False, True)),
    "vebe": _Test("vebe-classes", 1.0, (5.0, 30.0, False, True)),
    "compactability": _Test("compactability-classes", 0.01, (1.04, 1.46, True, False)),
    "slump-flow": _Test("slump-flow-classes", 10.0, None),
}
CONSISTENCE_TESTS = tuple(_TESTS)


@dataclass(frozen=True, slots=True)
class ConsistenceClass:
    """A test value as it is reported, and its class."""

    consistence_class: str
    reported_value: float
    test_suitable: bool
    rule: Rule


def rounded_half_up(value: float, step: float) -> float:
    """The value on the next step, a half upwards (ROUNDING); the slack is for halves that binary numbers miss."""
    steps = math.floor(value / step + 0.5 + 1e-9)
    return steps / round(1 / step) if step < 1 else steps * step


def consistence_class(test: str, value: float) -> ConsistenceClass:
    """Class by EN 206 of a slump, flow, slump-flow [mm], Vebe time [s] or degree of compactability.

    The value is rounded first (10 mm, 1 s, 0.01), then classified. `test_suitable` is False outside the range in
    which the test tells mixes apart. Raises InvalidInput for an unknown `test` and where the reported `value` is in
    no class. Source: EN 206:2013+A2:2021 classes; sensitive ranges in the notes to them.

    >>> consistence_class("slump", 154).consistence_class
    'S3'
    """
    if test not in _TESTS:
        raise InvalidInput("test", f"test is {test!r}; allowed is one of {', '.join(_TESTS)}")
    kind = _TESTS[test]
    classes = rule("en", kind.rule)
    reported = rounded_half_up(value, kind.step)
    for cell in classes.cells:
        if within(reported, cell.low, cell.high):
            return ConsistenceClass(cell.word, reported, _sensitive(kind, reported), classes)
    raise OutOfRange("value", reported, f"in one of the classes: {classes.limit}", classes.citation)


def _sensitive(kind: _Test, reported: float) -> bool:
    if kind.sensitive is None:
        return True
    low, high, with_low, with_high = kind.sensitive
    above = within(reported, low) if with_low else not within(reported, None, low)
    below = within(reported, None, high) if with_high else not within(reported, high)
    return above and below


# Limits of a class or a target


@dataclass(frozen=True, slots=True)
class ValueLimits:
    """Smallest and largest value that is accepted, and the rules that they come from."""

    low: float
    high: float | None
    """None: the class has no upper limit."""
    rules: tuple[Rule, ...]

    @property
    def rests_on_memory(self) -> bool:
        """True where one of the rules has been read by nobody."""
        return any(each.provenance is Provenance.MEMORY for each in self.rules)


def one_of_class_and_target(consistence_class: str | None, target_mm: float | None) -> None:
    """InvalidInput `target_mm` where both or neither are given: which limit applies would not be known."""
    if (consistence_class is None) == (target_mm is None):
        found = "neither is given" if target_mm is None else "both are given"
        raise InvalidInput("target_mm", f"exactly one of the class and target_mm must be given; {found}")


def slump_limits(
    basis: str,
    *,
    consistence_class: str | None = None,
    target_mm: float | None = None,
    specified_as_maximum: bool = False,
    lookup: Lookup = rule,
) -> ValueLimits:
    """Slump [mm] that a load may have, by one rule.

    Exactly one of class (the first two bases) and target. A target between printed steps takes the smaller tolerance.
    `specified_as_maximum`: ASTM C94 only. Raises InvalidInput naming `basis`, `consistence_class` (S5 has no basis:
    use the flow table), `target_mm` or `specified_as_maximum`. Sources: the rules that are returned.

    >>> limits = slump_limits("bs-8500-spot", consistence_class="S3")
    >>> limits.low, limits.high
    (80.0, 170.0)
    """
    if basis not in SLUMP_BASES:
        raise InvalidInput("basis", f"basis is {basis!r}; allowed is one of {', '.join(SLUMP_BASES)}")
    if specified_as_maximum and basis != "astm-c94":
        raise InvalidInput("specified_as_maximum", f"specified_as_maximum goes with astm-c94 only, not with {basis}")
    if consistence_class is not None and basis not in CLASS_BASES:
        raise InvalidInput("consistence_class", f"{basis} knows no slump classes; give target_mm")
    one_of_class_and_target(consistence_class, target_mm)
    if consistence_class is not None:
        return _class_limits(basis, consistence_class, lookup)
    assert target_mm is not None
    return _target_limits(basis, target_mm, specified_as_maximum, lookup)


def _class_limits(basis: str, name: str, lookup: Lookup) -> ValueLimits:
    if name == "S5":
        raise InvalidInput("consistence_class", "S5 has no slump limits: use the flow table")
    if basis == "bs-8500-spot":
        row = _row(lookup("en", "slump-spot-limits"), name, "consistence_class")
        return _limits(row.low or 0.0, row.high, row)
    row = _row(lookup("en", "slump-classes"), name, "consistence_class")
    under, over = lookup("en", "slump-under-class"), lookup("en", "slump-over-class")
    low = (row.low or 0.0) - _most(under)
    return _limits(low, None if row.high is None else row.high + _most(over), row, under, over)


def _target_limits(basis: str, target: float, as_maximum: bool, lookup: Lookup) -> ValueLimits:
    if as_maximum:
        below = _row(lookup("aci", "slump-under-maximum"), target, "target_mm")
        return _limits(target - _most(below), target, below)
    if basis == "is-4926":
        tolerance, divisor = lookup("is", "slump-tolerance"), lookup("is", "slump-tolerance-divisor")
        share = target / _least(divisor)
        if share < _most(tolerance):
            return _limits(target - share, target + share, divisor)
        return _limits(target - _most(tolerance), target + _most(tolerance), tolerance)
    book, name = _TOLERANCES[basis]
    tolerance = _row(lookup(book, name), target, "target_mm")
    return _limits(target - _most(tolerance), target + _most(tolerance), tolerance)


_TOLERANCES = {
    "bs-8500-spot": ("en", "slump-tolerance"),
    "en-206-composite": ("en", "slump-tolerance-composite"),
    "astm-c94": ("aci", "slump-tolerance"),
    "as-1379": ("as", "slump-tolerance"),
    "nzs-3104-representative": ("nz", "slump-tolerance"),
    "nzs-3104-snatch": ("nz", "slump-tolerance-snatch"),
}


def slump_flow_limits(
    *, slump_flow_class: str | None = None, target_mm: float | None = None, lookup: Lookup = rule
) -> ValueLimits:
    """Slump-flow [mm] that self-compacting concrete may have, by its class or a target, exactly one of them.

    Source: European Guidelines for Self-Compacting Concrete (2005), Table A.6.
    """
    one_of_class_and_target(slump_flow_class, target_mm)
    if slump_flow_class is not None:
        row = _row(lookup("en", "slump-flow-limits"), slump_flow_class, "slump_flow_class")
        return _limits(_least(row), row.high, row)
    assert target_mm is not None
    tolerance = lookup("en", "slump-flow-tolerance")
    return _limits(target_mm - _most(tolerance), target_mm + _most(tolerance), tolerance)


def flow_limits(consistence_class: str, *, spot: bool, lookup: Lookup = rule) -> ValueLimits:
    """Flow [mm] on the flow table that a class allows: the class, widened by what a single result may miss it by.

    Source: EN 206 conformity of consistence, from memory. F6 has no upper limit, F1 no lower one.
    """
    row = _row(lookup("en", "flow-classes"), consistence_class, "consistence_class")
    end = "-spot" if spot else ""
    under, over = lookup("en", f"flow-under-class{end}"), lookup("en", f"flow-over-class{end}")
    low = 0.0 if row.low is None else row.low - _most(under)
    return _limits(low, None if row.high is None else row.high + _most(over), row, under, over)


def _row(table: Rule, where: str | float, key: str) -> Rule:
    try:
        return table.at(where)
    except OutOfRange as error:
        raise OutOfRange(key, float(where), f"from {table.by_least:g} {table.by_unit}", table.citation) from error
    except InvalidInput as error:
        raise InvalidInput(key, f"{key} is {where!r}; {error.message}") from error


def _limits(low: float, high: float | None, *rules: Rule) -> ValueLimits:
    return ValueLimits(max(0.0, low), high, rules)


def _most(one: Rule) -> float:
    assert one.high is not None
    return one.high


def _least(one: Rule) -> float:
    assert one.low is not None
    return one.low


# Tests


def decided(low: float | None, high: float | None, measured: float, check: float | None) -> Outcome:
    """Outcome of a test and of the second one on another portion of the same sample (CHECK_TEST).

    First inside: accept, whatever the second. First outside: check-test while there is no second; then that decides.
    """
    if within(measured, low, high):
        return Outcome.ACCEPT
    if check is None:
        return Outcome.CHECK_TEST
    return Outcome.ACCEPT if within(check, low, high) else Outcome.REFUSE


NextStep = Literal["report", "repeat-on-new-portion", "concrete-not-suitable-for-slump-test"]


@dataclass(frozen=True, slots=True)
class SlumpTest:
    """Whether a slump counts, and what is done next."""

    valid: bool
    reported_slump_mm: float | None
    next_step: NextStep


def slump_test(shapes: Sequence[str], slumps_mm: Sequence[float]) -> SlumpTest:
    """Evaluate slump tests in their order: `true`, `shear` or `collapse`; the last one decides.

    A true slump is reported to 10 mm. Sheared or collapsed: once more on another portion; twice running, the concrete
    does not suit the test. InvalidInput names `slumps_mm` where the lists differ in length. Source: SHEAR.
    """
    if len(shapes) != len(slumps_mm):
        raise InvalidInput("slumps_mm", f"slumps_mm has {len(slumps_mm)} entries, shapes has {len(shapes)}")
    if not shapes:
        raise InvalidInput("shapes", "shapes is empty; allowed is at least one test")
    if shapes[-1] == "true":
        return SlumpTest(True, rounded_half_up(slumps_mm[-1], 10.0), "report")
    twice = len(shapes) > 1 and shapes[-2] != "true"
    return SlumpTest(False, None, "concrete-not-suitable-for-slump-test" if twice else "repeat-on-new-portion")
