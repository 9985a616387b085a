"""Pours for the pressure tests: drawn at random for the laws, and a usual wall for each method."""

from hypothesis import strategies as st

from wetfront.formwork import (
    AciConditions,
    CiriaConditions,
    DinConditions,
    aci_max_rise,
    aci_pressure,
    ciria_max_rise,
    ciria_pressure,
    din,
    din_max_rise,
    din_pressure,
)

GROUPS = ("portland", "portland-retarded", "blend", "blend-retarded", "high-blend")
CLASSES = ("f1", "f2", "f3", "f4", "f5", "f6", "self-compacting")

heights = st.floats(0.3, 12)
rates = st.floats(0.05, 9)
temperatures = st.floats(0, 40)
placements = st.sampled_from(("from-top", "pumped-from-base"))
aci_pours = st.builds(
    AciConditions,
    element=st.sampled_from(("wall", "column")),
    pour_height_m=heights | st.sampled_from((4.2, 4.21)),
    concrete_temperature_c=temperatures,
    cement_group=st.sampled_from(GROUPS),
    density_kg_per_m3=st.floats(800, 4000),
    slump_mm=st.sampled_from((100.0, 175.0, 180.0)),
    placement=placements,
)
ciria_pours = st.builds(
    lambda form, share, **other: CiriaConditions(form_height_m=form, pour_height_m=form * share, **other),
    heights,
    st.floats(0.3, 1),
    element=st.sampled_from(("wall", "column")),
    concrete_temperature_c=temperatures,
    cement_group=st.sampled_from(GROUPS),
    weight_density_kn_per_m3=st.floats(8, 40),
    placement=placements,
)
din_pours = st.sampled_from(CLASSES).flatmap(
    lambda name: st.builds(
        DinConditions,
        consistence_class=st.just(name),
        pour_height_m=heights,
        end_of_setting_h=st.floats(2, 22),
        reference_temperature_c=st.floats(5, 30),
        concrete_temperature_c=temperatures,
        weight_density_kn_per_m3=st.floats(8, 40),
        compaction=st.just(din.usual_compaction(name)) | st.just("external"),
        placement=placements,
    )
)
METHODS = {
    "aci": (aci_pours, aci_pressure, aci_max_rise),
    "ciria": (ciria_pours, ciria_pressure, ciria_max_rise),
    "din": (din_pours, din_pressure, din_max_rise),
}
INSIDE = {
    "aci": {"pour_height_m": 12, "placement": "from-top", "slump_mm": 100},
    "ciria": {"form_height_m": 12, "pour_height_m": 12, "placement": "from-top", "concrete_temperature_c": 20},
    "din": {
        "consistence_class": "f4",
        "pour_height_m": 10,
        "end_of_setting_h": 7,
        "concrete_temperature_c": 15,
        "compaction": "internal",
        "placement": "from-top",
    },
}
"""What puts a pour within the validity of each method, so that the formula mostly governs."""


def wall(**other) -> AciConditions:
    usual = {"element": "wall", "pour_height_m": 6.0, "concrete_temperature_c": 15, "cement_group": "portland"}
    return AciConditions(**{**usual, **other})


def din_wall(**other) -> DinConditions:
    usual = {
        "consistence_class": "f3",
        "pour_height_m": 6.0,
        "end_of_setting_h": 5,
        "concrete_temperature_c": 15,
        "compaction": "internal",
    }
    return DinConditions(**{**usual, **other})


def ciria_wall(**other) -> CiriaConditions:
    usual = {
        "element": "wall",
        "form_height_m": 4.0,
        "pour_height_m": 4.0,
        "concrete_temperature_c": 10,
        "cement_group": "portland",
    }
    return CiriaConditions(**{**usual, **other})
