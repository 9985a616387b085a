"""Take-off: every shape against a geometry kernel's solid, the demo pours, and what does not fit."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from solids import solid_of
from wetfront.errors import InvalidInput
from wetfront.nouns.element import (
    Beam,
    Column,
    DeckSlab,
    DropPanel,
    GroundSlab,
    Haunch,
    Kerb,
    MassBlock,
    Pedestal,
    PlanOpening,
    Slab,
    Stair,
    StripFooting,
    TaperedFooting,
    Thickening,
    Wall,
    WallOpening,
)
from wetfront.takeoff.problems import geometry_problems
from wetfront.takeoff.shapes import quantities_of, take_off

L_SHAPE = ((0.0, 0.0), (9.2, 0.0), (9.2, 3.4), (4.1, 3.4), (4.1, 7.5), (0.0, 7.5))
SLANTED = ((0.0, 0.0), (8.3, 1.1), (10.4, 6.2), (3.3, 7.9), (-1.2, 4.4))

SLAB = Slab(
    shape="slab",
    id="S",
    outline_m=L_SHAPE,
    thickness_mm=240,
    opening=(
        PlanOpening(id="riser", at_m=(1.0, 1.2), length_m=1.5, width_m=0.8),
        PlanOpening(id="shaft", outline_m=((6.0, 0.5), (7.4, 0.7), (6.6, 2.1))),
    ),
    thickening=(
        Thickening(id="beam strip", outline_m=((0.0, 4.0), (4.1, 4.0), (4.1, 4.6), (0.0, 4.6)), extra_depth_mm=200),
        Thickening(id="pad", outline_m=((0.6, 0.8), (2.0, 0.8), (2.0, 1.6), (0.6, 1.6)), extra_depth_mm=110),
    ),
)
GROUND = GroundSlab(
    shape="ground-slab",
    id="G",
    outline_m=SLANTED,
    thickness_mm=150,
    measured_thicknesses_mm=(150, 163, 171, 158, 149, 167),
    opening=(PlanOpening(id="pit", at_m=(3.0, 3.0), length_m=1.0, width_m=2.0),),
)
DECK = DeckSlab(
    shape="deck-slab",
    id="D",
    length_m=6.0,
    width_m=3.6,
    overall_depth_mm=140,
    rib_height_mm=60,
    rib_pitch_mm=300,
    rib_width_top_mm=180,
    rib_width_bottom_mm=120,
)
WALL = Wall(
    shape="wall",
    id="W",
    length_m=10.0,
    height_m=4.2,
    thickness_mm=350,
    opening=(
        WallOpening(id="door", from_start_m=3.3, width_m=1.2, height_m=2.1),
        WallOpening(id="window", from_start_m=6.0, width_m=2.0, height_m=0.9, sill_above_base_m=1.5),
        WallOpening(id="corner", from_start_m=0.0, width_m=0.8, height_m=0.7, sill_above_base_m=3.5),
        WallOpening(id="end", from_start_m=9.5, width_m=0.5, height_m=1.0, sill_above_base_m=1.0),
    ),
)
RECTANGLE = Column(shape="column", id="C", height_m=3.45, section="rectangular", width_m=0.4, breadth_m=0.7)
OCTAGON = Column(shape="column", id="C", height_m=4.2, section="octagonal", across_flats_m=0.7)
CIRCLE = Column(shape="column", id="C", height_m=3.45, section="circular", diameter_m=0.6)
PEDESTAL = Pedestal(shape="pedestal", id="P", length_m=0.9, width_m=1.1, height_m=0.75)
FOOTING = TaperedFooting(
    shape="tapered-footing",
    id="F",
    base_length_m=2.0,
    base_breadth_m=1.5,
    edge_thickness_m=0.3,
    tapered_height_m=0.6,
    top_length_m=0.65,
    top_breadth_m=0.5,
)
WEDGE = TaperedFooting(
    shape="tapered-footing",
    id="F",
    base_length_m=3.0,
    base_breadth_m=2.0,
    tapered_height_m=0.6,
    top_length_m=3.0,
    top_breadth_m=0.0,
)
STRIP = StripFooting(shape="strip-footing", id="T", length_m=14.2, width_m=0.6, depth_mm=350)
BEAM = Beam(shape="beam", id="B", length_m=7.2, width_m=0.35, depth_mm=450)
STAIR = Stair(shape="stair", id="R", risers_count=10, riser_m=0.17, going_m=0.28, width_m=1.2, waist_m=0.15)
DROP = DropPanel(
    shape="drop-panel",
    id="O",
    drop_length_m=2.4,
    drop_breadth_m=1.8,
    drop_depth_m=0.15,
    side_slope_horizontal_per_vertical=1.0,
)
HAUNCH = Haunch(
    shape="haunch", id="H", length_m=7.2, haunch_width_m=0.45, haunch_depth_m=0.15, sides_count=2, between_sides_m=0.3
)
KERB = Kerb(shape="kerb", id="K", length_m=11.0, width_m=0.25, height_m=0.3, top_width_m=0.15)
BLOCK = MassBlock(shape="mass-block", id="M", length_m=12.0, width_m=9.0, depth_m=1.8)


def stair_ends_m2(stair):
    """The flight's cut faces at foot and head, below the first and last nosing."""
    return 2 * stair.width_m * stair.waist_m * math.hypot(stair.riser_m, stair.going_m) / stair.going_m


# Surface of the solid that neither needs a form nor is free above: contact with ground, slab, beam, end of a flight.
CONTACT_M2 = {
    "slab on falsework": (SLAB, 0.0),
    "ground slab": (GROUND, quantities_of(GROUND).plan_area_m2),
    "wall": (WALL, (10.0 - 1.2) * 0.35),
    "rectangular column": (RECTANGLE, 0.4 * 0.7),
    "octagonal column": (OCTAGON, 2 * (math.sqrt(2) - 1) * 0.49),
    "pedestal": (PEDESTAL, 0.9 * 1.1),
    "tapered footing": (FOOTING, 3.0),
    "footing to a ridge": (WEDGE, 6.0),
    "strip footing": (STRIP, 14.2 * 0.6),
    "beam": (BEAM, 2 * 0.35 * 0.45),
    "stair": (STAIR, stair_ends_m2(STAIR)),
    "drop panel": (DROP, 2.7 * 2.1),
    "two haunches": (HAUNCH, 2 * (7.2 * 0.45 + 7.2 * 0.15 + 0.45 * 0.15)),
    "kerb": (KERB, 11.0 * 0.25),
    "mass block": (BLOCK, 108.0),
}


@pytest.mark.parametrize("name", CONTACT_M2)
def test_volume_and_surface_are_those_of_the_kernels_solid(name):
    element, contact = CONTACT_M2[name]
    solid, found = solid_of(element), quantities_of(element)
    assert found.volume_m3 == pytest.approx(solid.volume(), rel=1e-9)
    assert found.formed_area_m2 + found.top_area_m2 + contact == pytest.approx(solid.surface_area(), rel=1e-9)


def test_deck_slab_has_the_volume_of_slab_and_ribs():
    """The kernel's twelve ribs against the mean thickness."""
    assert quantities_of(DECK).volume_m3 == pytest.approx(solid_of(DECK).volume(), rel=1e-9)
    assert quantities_of(DECK).formed_area_m2 == pytest.approx(2 * (6.0 + 3.6) * 0.14, rel=1e-12)


def test_circular_column_lies_just_over_the_kernels_many_sided_one():
    found, solid = quantities_of(CIRCLE), solid_of(CIRCLE)
    assert solid.volume() < found.volume_m3 < solid.volume() * (1 + 1e-6)
    assert found.formed_area_m2 == pytest.approx(math.pi * 0.6 * 3.45, rel=1e-12)


def rectangle_slab(name="A", x=0.0, **more):
    return Slab(shape="slab", id=name, at_m=(x, 0.0), length_m=12.0, width_m=24.0, thickness_mm=250, **more)


def test_three_bays_with_a_riser_are_215_m3():
    riser = PlanOpening(id="riser", at_m=(4.8, 10.0), length_m=2.4, width_m=1.5)
    bays = [rectangle_slab("C", 24.0), rectangle_slab("B", 12.0, opening=(riser,)), rectangle_slab("A")]
    found = take_off(bays)
    assert found.volume_m3 == pytest.approx(215.10, rel=1e-12)
    assert found.top_area_m2 == pytest.approx(36 * 24 - 3.6, rel=1e-12)
    assert [row.id for row in found.rows] == ["C", "B", "A"]


@pytest.mark.parametrize(
    ("width", "height", "sill", "volume"), [(1.2, 2.1, 0.0, 13.818), (0.6, 0.6, 2.4, 14.574), (2.0, 0.9, 1.5, 14.070)]
)
def test_wall_panels_of_the_demo(width, height, sill, volume):
    hole = WallOpening(id="o", from_start_m=4.0, width_m=width, height_m=height, sill_above_base_m=sill)
    panel = Wall(shape="wall", id="p", length_m=10.0, height_m=4.2, thickness_mm=350, opening=(hole,))
    assert quantities_of(panel).volume_m3 == pytest.approx(volume, rel=1e-12)


def test_raft_of_the_demo():
    assert quantities_of(BLOCK).volume_m3 == pytest.approx(194.40, rel=1e-12)


def test_count_multiplies_the_totals_and_not_the_single_element():
    four = Column(shape="column", id="C", height_m=3.0, section="rectangular", width_m=0.4, breadth_m=0.5, count=4)
    row = take_off([four]).rows[0]
    assert row.each.volume_m3 == pytest.approx(0.6)
    assert (row.volume_m3, row.formed_area_m2, row.top_area_m2) == pytest.approx((2.4, 21.6, 0.8))


def test_ponding_adds_to_a_deck_poured_to_a_level():
    level = DeckSlab(
        shape="deck-slab",
        id="D",
        length_m=30.0,
        width_m=15.0,
        overall_depth_mm=140,
        rib_height_mm=60,
        rib_pitch_mm=300,
        rib_width_top_mm=180,
        rib_width_bottom_mm=120,
        deck_deflection_mm=18,
        poured_to="level",
    )
    assert quantities_of(level).volume_m3 == pytest.approx(450 * (0.110 + 0.7 * 0.018), rel=1e-12)


def test_openings_that_touch_have_no_reveal_between_them():
    """Second way: one opening of both sizes."""
    two = (
        WallOpening(id="a", from_start_m=2.0, width_m=1.0, height_m=1.0, sill_above_base_m=1.0),
        WallOpening(id="b", from_start_m=3.0, width_m=1.5, height_m=1.0, sill_above_base_m=1.0),
    )
    one = (WallOpening(id="a", from_start_m=2.0, width_m=2.5, height_m=1.0, sill_above_base_m=1.0),)
    sizes = {"shape": "wall", "length_m": 8.0, "height_m": 3.0, "thickness_mm": 200.0}
    divided, whole = (quantities_of(Wall(id="w", opening=holes, **sizes)) for holes in (two, one))
    assert divided.volume_m3 == pytest.approx(whole.volume_m3, rel=1e-12)
    assert divided.formed_area_m2 == pytest.approx(whole.formed_area_m2, rel=1e-12)


# --- what does not fit ---


def hole(name, x, y, length, width):
    return PlanOpening(id=name, at_m=(x, y), length_m=length, width_m=width)


def wall_with(**hole_sizes):
    sizes = {"id": "o", "from_start_m": 1.0, "width_m": 1.0, "height_m": 1.0} | hole_sizes
    return Wall(shape="wall", id="w", length_m=5.0, height_m=3.0, thickness_mm=200, opening=(WallOpening(**sizes),))


def slab_with(*openings, thickening=()):
    return Slab(
        shape="slab", id="s", length_m=5.0, width_m=5.0, thickness_mm=200, opening=openings, thickening=thickening
    )


def outlined(*corners, **more):
    return Slab(shape="slab", id="s", outline_m=corners, thickness_mm=200, **more)


def deck_with(**sizes):
    given = {"overall_depth_mm": 140, "rib_height_mm": 60, "rib_pitch_mm": 300} | {
        "rib_width_top_mm": 180,
        "rib_width_bottom_mm": 120,
    }
    return DeckSlab(shape="deck-slab", id="d", length_m=3.0, width_m=3.0, **(given | sizes))


def pad_with(**sizes):
    given = {"base_length_m": 2.0, "base_breadth_m": 2.0, "tapered_height_m": 0.5} | {
        "top_length_m": 1.0,
        "top_breadth_m": 1.0,
    }
    return TaperedFooting(shape="tapered-footing", id="f", **(given | sizes))


THICK_OUTSIDE = Thickening(id="t", outline_m=((-1.0, 0.0), (1.0, 0.0), (1.0, 1.0)), extra_depth_mm=100)
MISFITS = {
    "opening reaches outside": (slab_with(hole("x", 4, 4, 2, 1)), "opening"),
    "opening larger than the slab": (slab_with(hole("x", 0, 0, 20, 10)), "opening"),
    "openings overlap": (slab_with(hole("x", 1, 1, 2, 1), hole("y", 2, 1, 2, 1)), "opening"),
    "opening without its width": (slab_with(PlanOpening(id="x", at_m=(1, 1), length_m=1)), "opening.width_m"),
    "opening as both": (
        slab_with(PlanOpening(id="x", at_m=(1, 1), outline_m=((1, 1), (2, 1), (1, 2)))),
        "opening.outline_m",
    ),
    "opening crosses itself": (
        slab_with(PlanOpening(id="x", outline_m=((1, 1), (3, 3), (3, 1), (1, 3)))),
        "opening.outline_m",
    ),
    "openings leave nothing": (slab_with(hole("x", 0, 0, 5, 5)), "opening"),
    "thickening outside": (slab_with(thickening=(THICK_OUTSIDE,)), "thickening"),
    "outline crosses itself": (outlined((0, 0), (10, 0), (0, 10), (10, 10)), "outline_m"),
    "outline without area": (outlined((0, 0), (5, 5), (10, 10)), "outline_m"),
    "outline and rectangle": (outlined((0, 0), (5, 0), (5, 5), length_m=5.0), "outline_m"),
    "neither outline nor width": (Slab(shape="slab", id="s", length_m=5.0, thickness_mm=200), "width_m"),
    "wall opening too wide": (wall_with(width_m=6.0), "opening.width_m"),
    "wall opening too high": (wall_with(height_m=3.5), "opening.height_m"),
    "wall opening past the end": (wall_with(from_start_m=4.5), "opening.from_start_m"),
    "wall opening over the top": (wall_with(sill_above_base_m=2.5), "opening.sill_above_base_m"),
    "wall opening as large as the wall": (wall_with(from_start_m=0.0, width_m=5.0, height_m=3.0), "opening"),
    "column without its diameter": (Column(shape="column", id="c", height_m=3.0, section="circular"), "diameter_m"),
    "column without its breadth": (
        Column(shape="column", id="c", height_m=3.0, section="rectangular", width_m=0.4),
        "breadth_m",
    ),
    "rib as high as the slab": (deck_with(rib_height_mm=140), "rib_height_mm"),
    "rib wider than the pitch": (deck_with(rib_width_top_mm=310), "rib_width_top_mm"),
    "top longer than the base": (pad_with(top_length_m=2.5), "top_length_m"),
    "kerb wider above": (
        Kerb(shape="kerb", id="k", length_m=3.0, width_m=0.2, height_m=0.3, top_width_m=0.25),
        "top_width_m",
    ),
    "sub-base through the slab": (
        GroundSlab(shape="ground-slab", id="g", length_m=5.0, width_m=5.0, thickness_mm=150, subbase_highest_mm=150),
        "subbase_highest_mm",
    ),
    "landing without thickness": (
        Stair(
            shape="stair",
            id="r",
            risers_count=8,
            riser_m=0.17,
            going_m=0.28,
            width_m=1.0,
            waist_m=0.15,
            landing_area_m2=2.0,
        ),
        "landing_thickness_m",
    ),
}


@pytest.mark.parametrize("name", MISFITS)
def test_a_misfit_names_element_and_key(name):
    element, key = MISFITS[name]
    assert [(problem.element_id, problem.key) for problem in geometry_problems([element])] == [(element.id, key)]
    with pytest.raises(InvalidInput, match=element.id) as refused:
        take_off([element])
    assert refused.value.key == key


def test_all_misfits_are_told_at_once():
    elements = [element for element, _ in MISFITS.values()]
    named = [(problem.key) for problem in geometry_problems(elements) if problem.key != "id"]
    assert named == [key for _, key in MISFITS.values()]


def test_the_same_name_twice_is_told():
    assert [p.key for p in geometry_problems([rectangle_slab("A"), rectangle_slab("A", 12.0)])] == ["id"]


def test_bays_side_by_side_do_not_overlap_even_when_rounded_to_the_millimetre():
    turned = [
        Slab(
            shape="slab",
            id=str(k),
            at_m=(round(7 * k * math.cos(math.radians(31)), 3), round(7 * k * math.sin(math.radians(31)), 3)),
            turn_deg=31,
            length_m=7.0,
            width_m=20.0,
            thickness_mm=250,
        )
        for k in range(4)
    ]
    assert geometry_problems(turned) == ()


def test_slabs_over_the_same_ground_overlap_only_where_their_levels_do():
    low, high = rectangle_slab("low"), rectangle_slab("high", 6.0)
    assert [(p.element_id, p.key) for p in geometry_problems([low, high])] == [("high", "at_m")]
    storey = Slab(
        shape="slab", id="up", at_m=(6.0, 0.0), base_level_m=0.25, length_m=12.0, width_m=24.0, thickness_mm=250
    )
    assert geometry_problems([low, storey]) == ()


def test_a_beam_through_a_wall_opening_does_not_overlap():
    wall = Wall(
        shape="wall",
        id="w",
        at_m=(0.0, 0.0),
        length_m=6.0,
        height_m=3.0,
        thickness_mm=300,
        opening=(WallOpening(id="o", from_start_m=2.0, width_m=1.0, height_m=1.0, sill_above_base_m=1.0),),
    )

    def beam(level):
        return Beam(
            shape="beam",
            id="b",
            at_m=(3.0, -2.0),
            turn_deg=90,
            base_level_m=level,
            length_m=5.0,
            width_m=1.0,
            depth_mm=500,
        )

    assert geometry_problems([wall, beam(1.2)]) == ()
    assert [p.element_id for p in geometry_problems([wall, beam(1.6)])] == ["b"]


def test_elements_without_a_place_never_overlap():
    loose = [Pedestal(shape="pedestal", id=str(k), length_m=1.0, width_m=1.0, height_m=1.0) for k in range(3)]
    assert geometry_problems(loose) == ()


@settings(max_examples=60, deadline=None)
@given(
    length=st.floats(1, 40),
    height=st.floats(0.5, 8),
    share=st.tuples(*[st.floats(0.05, 0.9)] * 4),
)
def test_a_wall_loses_exactly_its_opening(length, height, share):
    """Law: wall with opening plus the plug is the wall without."""
    width, tall = share[0] * length, share[1] * height
    start, sill = share[2] * (length - width), share[3] * (height - tall)
    opening = WallOpening(id="o", from_start_m=start, width_m=width, height_m=tall, sill_above_base_m=sill)
    cut = Wall(shape="wall", id="w", length_m=length, height_m=height, thickness_mm=250, opening=(opening,))
    whole = Wall(shape="wall", id="w", length_m=length, height_m=height, thickness_mm=250)
    assert geometry_problems([cut]) == ()
    found = quantities_of(cut).volume_m3 + width * tall * 0.25
    assert found == pytest.approx(quantities_of(whole).volume_m3, rel=1e-12)
