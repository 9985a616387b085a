"""Contracts of the calculations about consistence: classes, limits of slump and slump-flow, shape of a slump."""

from collections.abc import Sequence

from wetfront.acceptance import consistence
from wetfront.acceptance.compare import within
from wetfront.acceptance.consistence import CHECK_TEST, ROUNDING, SHEAR
from wetfront.calculations.answers import answered
from wetfront.calculations.contract import Calculation, Choice, Choices, Flag, Number, Numbers, Output
from wetfront.errors import OutOfRange
from wetfront.nouns.reason import Answer, Notice, Provenance, Source, Step
from wetfront.nouns.verdict import Outcome
from wetfront.rules import CHECK_FIRST, Rule

CLASSES = Source("EN 206:2013+A2:2021, consistence classes, read in a handbook", Provenance.PUBLISHED)
SLUMPS = Source(
    "BS 8500-1:2015+A1:2016 and NZS 3104, read in restatements; EN 206, ASTM C94, IS 4926 and AS 1379 as each "
    "step says",
    Provenance.PUBLISHED,
)
SLUMP_FLOWS = Source("European Guidelines for Self-Compacting Concrete (2005), Table A.6", Provenance.PUBLISHED)
_TALLEST_MM = 300.0
_DECISION_WORDS = {Outcome.ACCEPT: "accept", Outcome.CHECK_TEST: "check-test", Outcome.REFUSE: "reject"}
DECIDES = "The specifier decides about a load outside its limits; write down who decided. Local codes rule."
_SELF_COMPACTING_FROM_MM = 700.0


def rule_steps(rules: tuple[Rule, ...]) -> list[Step]:
    """A step for each rule that was used; of a range its words."""
    return [Step(f"{one.title}: {one.limit}", _figure(one), one.unit, one.cited) for one in rules]


def on_memory(rules: Sequence[Rule], verdict: str) -> list[Notice]:
    """The notice that a verdict must not stand as a plain word where one of its rules is remembered."""
    if any(one.provenance is Provenance.MEMORY for one in rules):
        return [Notice("remembered", f"{CHECK_FIRST}: {verdict}")]
    return []


def _figure(one: Rule) -> float | str:
    value = one.value
    return one.limit if value is None or isinstance(value, tuple) else value


def _class(test: str, value: float) -> Answer:
    if test == "slump" and value > _TALLEST_MM:
        raise OutOfRange("value", value, f"to {_TALLEST_MM:g} mm, the height of the cone", "the slump test")
    if test == "compactability" and value < 1:
        raise OutOfRange("value", value, "from 1: concrete does not swell when it is compacted", "the test")
    found = consistence.consistence_class(test, value)
    unit = {"vebe": "s", "compactability": "1"}.get(test, "mm")
    notices = []
    if not found.test_suitable:
        text = "The test is not sensitive at this value: two mixes can differ and read alike. Use another test."
        notices.append(Notice("insensitive", text))
    if test == "flow-table" and found.reported_value > _SELF_COMPACTING_FROM_MM:
        text = f"Over {_SELF_COMPACTING_FROM_MM:g} mm treat it as self-compacting concrete: slump-flow, not the table."
        notices.append(Notice("self-compacting", text))
    cautions = ["A class says nothing about a single load: its limits are wider, see slump-acceptance."]
    if test == "slump":
        cautions.append("Not for aggregate over 40 mm, nor where the slump still moves 1 min after lifting.")
    return answered(
        {
            "consistence_class": found.consistence_class,
            "reported_value": found.reported_value,
            "test_suitable": found.test_suitable,
        },
        [
            Step("reported value", found.reported_value, unit, ROUNDING),
            Step(f"{found.rule.title}: {found.rule.limit}", found.consistence_class, "", found.rule.cited),
        ],
        notices,
        cautions,
    )


def _slump(
    basis: str,
    measured_mm: float,
    consistence_class: str | None,
    target_mm: float | None,
    specified_as_maximum: bool,
    check_test_mm: float | None,
) -> Answer:
    limits = consistence.slump_limits(
        basis, consistence_class=consistence_class, target_mm=target_mm, specified_as_maximum=specified_as_maximum
    )
    outcome = consistence.decided(limits.low, limits.high, measured_mm, check_test_mm)
    notices = on_memory(limits.rules, _DECISION_WORDS[outcome])
    if outcome is Outcome.CHECK_TEST:
        notices.append(Notice("check-test", "Test at once another portion of the same sample; that one decides."))
    cautions = [DECIDES]
    if basis in ("bs-8500-spot", "nzs-3104-snatch"):
        cautions.append("For a spot sample after about 0.3 m³ of discharge.")
    return answered(
        {"lower_limit_mm": limits.low, "upper_limit_mm": limits.high, "decision": _DECISION_WORDS[outcome]},
        [*rule_steps(limits.rules), Step("outside on the first test, the second decides", None, "", CHECK_TEST)],
        notices,
        cautions,
    )


def _slump_flow(measured_mm: float, slump_flow_class: str | None, target_mm: float | None) -> Answer:
    limits = consistence.slump_flow_limits(slump_flow_class=slump_flow_class, target_mm=target_mm)
    accepted = within(measured_mm, limits.low, limits.high)
    result = {"lower_limit_mm": limits.low, "upper_limit_mm": limits.high, "accepted": accepted}
    return answered(result, rule_steps(limits.rules), (), (DECIDES,))


def _shape(shapes: tuple[str, ...], slumps_mm: tuple[float, ...]) -> Answer:
    found = consistence.slump_test(shapes, slumps_mm)
    why = [
        Step(f"test {number}: {shape}", slump, "mm", SHEAR)
        for number, (shape, slump) in enumerate(zip(shapes, slumps_mm, strict=True), start=1)
    ]
    if found.valid:
        why.append(Step("reported slump", found.reported_slump_mm, "mm", ROUNDING))
    notices = []
    if found.next_step == "concrete-not-suitable-for-slump-test":
        text = "Sheared or collapsed twice: the concrete lacks cohesion. Tell the producer; use the flow table."
        notices.append(Notice("not-suitable", text))
    result = {"valid": found.valid, "reported_slump_mm": found.reported_slump_mm, "next_step": found.next_step}
    return answered(result, why, notices, ("Lift the cone in 2 to 5 s, straight up; the whole test within 2.5 min.",))


def _slump_key(key: str, meaning: str, **options: object) -> Number:
    return Number(key=key, meaning=meaning, unit="mm", low=0, high=_TALLEST_MM, **options)  # type: ignore[arg-type]


CALCULATIONS = (
    Calculation(
        name="consistence-class",
        title="Consistence class from a test value",
        method="The value is rounded (10 mm, 1 s, 0.01; halves up), then put in its class. A reported value in no "
        "class is refused. Outside the range in which the test tells mixes apart it says so.",
        source=CLASSES,
        inputs=(
            Choice(key="test", meaning="which test", options=consistence.CONSISTENCE_TESTS),
            Number(key="value", meaning="mm, s or ratio as the test gives it", unit="", low=0, high=1000),
        ),
        outputs=(
            Output(key="consistence_class", meaning="S1 to S5, F1 to F6, V0 to V4, C0 to C4, SF1 to SF3"),
            Output(key="reported_value", meaning="rounded to 10 mm, 1 s or 0.01"),
            Output(key="test_suitable", meaning="false outside the range where the test is sensitive"),
        ),
        answer=_class,
    ),
    Calculation(
        name="slump-acceptance",
        title="Acceptance of a load by slump",
        method="Limits of the class or of the target by the rule named, as the rule books hold them. Inside: "
        "accept. Outside on the first test: a second one at once on another portion of the same sample, and that "
        "decides. A target between printed steps takes the smaller tolerance.",
        source=SLUMPS,
        inputs=(
            Choice(key="basis", meaning="whose rule", options=consistence.SLUMP_BASES),
            _slump_key("measured_mm", "slump of the first test"),
            Choice(
                key="consistence_class",
                meaning="first two bases only; exactly one of class and target",
                options=("S1", "S2", "S3", "S4", "S5"),
                default=None,
            ),
            _slump_key("target_mm", "specified slump, instead of a class", default=None),
            Flag(key="specified_as_maximum", meaning="the target is a largest slump; astm-c94 only", default=False),
            _slump_key("check_test_mm", "second test on another portion of the same sample", default=None),
        ),
        outputs=(
            Output(key="lower_limit_mm", meaning="smallest value accepted, not below 0", unit="mm"),
            Output(key="upper_limit_mm", meaning="largest value accepted", unit="mm"),
            Output(key="decision", meaning="accept, check-test or reject"),
        ),
        answer=_slump,
    ),
    Calculation(
        name="slump-flow-acceptance",
        title="Acceptance of self-compacting concrete by slump-flow",
        method="Limits of a single load by its class, or the target ± 80 mm. A limit that is just met is met.",
        source=SLUMP_FLOWS,
        inputs=(
            Number(key="measured_mm", meaning="slump-flow", unit="mm", low=0, high=1000),
            Choice(
                key="slump_flow_class",
                meaning="exactly one of class and target",
                options=("SF1", "SF2", "SF3"),
                default=None,
            ),
            Number(key="target_mm", meaning="instead of a class", unit="mm", low=0, high=1000, default=None),
        ),
        outputs=(
            Output(key="lower_limit_mm", meaning="smallest value accepted, not below 0", unit="mm"),
            Output(key="upper_limit_mm", meaning="largest value accepted", unit="mm"),
            Output(key="accepted", meaning="within both"),
        ),
        answer=_slump_flow,
    ),
    Calculation(
        name="slump-test-evaluation",
        title="Is the slump test valid",
        method="Only a true slump counts, and the last test decides. Sheared or collapsed: once more on another "
        "portion; twice running, the concrete does not suit the test. A true slump is reported to 10 mm.",
        source=SHEAR,
        inputs=(
            Choices(
                key="shapes",
                meaning="shape of each test, in their order",
                each=Choice(key="shapes", meaning="one shape", options=("true", "shear", "collapse")),
                least_count=1,
                most_count=20,
            ),
            Numbers(
                key="slumps_mm",
                meaning="as many as shapes",
                each=_slump_key("slumps_mm", "slump"),
                most_count=20,
            ),
        ),
        outputs=(
            Output(key="valid", meaning="the last slump is true"),
            Output(key="reported_slump_mm", meaning="to 10 mm; left out when not valid", unit="mm"),
            Output(key="next_step", meaning="report, repeat on a new portion, or the test does not suit"),
        ),
        answer=_shape,
    ),
)
