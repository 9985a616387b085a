"""Cooling a mix and choosing a class of admixture: the balance, the least measures, proposals that say so."""

import re
from dataclasses import replace
from typing import get_args

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from planned import checked, situation
from sheets import TARNWICK, tree_of
from wetfront.cli.main import main
from wetfront.errors import InvalidInput, OutOfRange, SheetError
from wetfront.materials.admixture_classes import (
    admixture_classes,
    classes_for,
    conditions,
    is_proposed,
    proposal_words,
    set_proposal,
    with_proposal,
)
from wetfront.materials.cooling import (
    MOST_ICE_SHARE_PERCENT,
    Constituents,
    Measures,
    Part,
    cooled,
    cooling,
)
from wetfront.materials.temperature import mix_temperature
from wetfront.nouns.mix import AdmixtureName, MixOption
from wetfront.nouns.reason import Provenance
from wetfront.planning.candidates import nominal, placing_orders
from wetfront.planning.changes import asked_changes
from wetfront.planning.judge import RISK_KEYS
from wetfront.planning.race import Sample
from wetfront.planning.remedies import remedies
from wetfront.planning.search import Bench

SHEET = TARNWICK / "shelter.toml"
HOT = Constituents(340, 50, (Part(750, 3, 32), Part(1080, 0, 35)), 155, 26)
ALL = Measures(6, 4, 24, 1, 20, 8, True, 0.4)


def shelter():
    tree = tree_of("shelter")
    for key in ("plant", "trucks", "delivery_ban"):
        tree.pop(key)
    return tree


@given(st.floats(0.01, 0.99), st.floats(20, 70), st.floats(15, 40), st.floats(0, 8))
@settings(max_examples=60, deadline=None)
def test_what_is_offered_put_back_into_the_balance_gives_the_target_or_less(share, cement_c, stone_c, moisture):
    today = replace(HOT, cement_temperature_c=cement_c, aggregates=(Part(750, moisture, 28), Part(1080, 0, stone_c)))
    now = cooled(today, (), ALL)[2]
    lowest = cooled(
        today, ("chilled water", "shaded aggregates", "aggregates as cold as at night", "ice"), ALL, 116.25
    )[2]
    target = lowest + share * (now - lowest)
    assume(0 < target < now)
    found = cooling(today, ALL, target)
    assert found.now_c == now and found.lowest_c == pytest.approx(lowest)
    for way in (found.cheapest, found.least):
        parts, water_c, _ = cooled(today, way.measures, ALL)
        ice = way.ice_kg_per_m3
        assert 0 <= ice <= MOST_ICE_SHARE_PERCENT / 100 * 155 + 1e-9
        again = mix_temperature(parts, 155 - ice, water_c, ice).concrete_temperature_c
        assert again <= target + 1e-6
        assert way.temperature_c == pytest.approx(again)
    assert found.cheapest.cost_cu_per_m3 <= found.least.cost_cu_per_m3 + 1e-9
    assert len(found.least.measures) <= len(found.cheapest.measures)


def test_each_measure_alone_cools_and_all_together_cool_most():
    found = cooling(HOT, ALL, 20)
    assert [way.measures[0] for way in found.alone] == [
        "chilled water",
        "shaded aggregates",
        "aggregates as cold as at night",
        "ice",
    ]
    assert all(found.lowest_c <= way.temperature_c < found.now_c for way in found.alone)


def test_dear_ice_gives_way_to_shade_and_the_other_way_round():
    shade_is_cheap = cooling(HOT, ALL, 28.5)
    assert "ice" not in shade_is_cheap.cheapest.measures
    ice_is_cheap = cooling(HOT, replace(ALL, ice_cu_per_kg=0.001), 28.5)
    assert ice_is_cheap.cheapest.measures == ("ice",)


@pytest.mark.parametrize(
    ("target", "said"), [(60, "what it is already"), (0, "freezes"), (-3, "freezes"), (0.5, "from ")]
)
def test_targets_out_of_reach_are_refused_by_name(target, said):
    with pytest.raises(OutOfRange, match=said) as error:
        cooling(HOT, Measures(chilled_water_c=6), target)
    assert error.value.key == "target_temperature_c"


def test_the_command_tells_each_measure_and_refuses_what_cannot_be(capsys):
    assert main(["cool", str(SHEET), "--to", "19"]) == 0
    said = capsys.readouterr().out
    assert said.count("alone") == 3 and "cheapest" in said and "from memory" in said
    assert max(map(len, said.splitlines())) <= 120
    assert main(["cool", str(SHEET), "--to", "2"]) == 2
    assert "target_temperature_c" in capsys.readouterr().err
    assert main(["cool", str(TARNWICK / "slab.toml"), "--to", "19"]) == 2
    assert "[mix.S1.cooling]" in capsys.readouterr().err
    assert main(["cool", str(SHEET), "--to", "19", "--pour", "roof"]) == 2


def test_five_degrees_cooler_says_what_it_takes_or_that_it_cannot_be_had(tmp_path):
    tree = shelter()
    here = situation(checked(tmp_path, tree))
    best = nominal(here, placing_orders(here)[0])
    comment = {asked.title: asked.comment for asked in asked_changes(here, best)}["five degrees cooler concrete"]
    assert re.search(r"takes .*ice in place of water", comment)
    tree["mix"]["B2"]["cooling"] = {"cement_temperature_c": 45, "water_temperature_c": 19, "chilled_water_c": 6}
    here = situation(checked(tmp_path, tree))
    comment = {asked.title: asked.comment for asked in asked_changes(here, best)}["five degrees cooler concrete"]
    assert comment == "not to be had: all measures of the mix together give 3.1 °C"
    tree["mix"]["B2"].pop("cooling")
    here = situation(checked(tmp_path, tree))
    assert not any("takes" in asked.comment for asked in asked_changes(here, best))


def test_every_class_of_a_sheet_is_known_and_every_value_says_how():
    assert set(admixture_classes()) == set(get_args(AdmixtureName))
    for each in admixture_classes().values():
        assert each.conditions and each.effects and each.cautions and each.standards
        for span in (each.dose_percent, each.initial_set_later_min, each.water_reduction_percent):
            assert span is None or (span.low < span.high and isinstance(span.provenance, Provenance))
        if each.dose_percent is not None:
            assert each.dose_percent.low > 0 and each.dose_percent.high <= 5


@pytest.mark.parametrize(
    ("condition", "first"),
    [
        ("hot", "retarder"),
        ("long-haul", "retarder"),
        ("cold", "accelerator"),
        ("congested-steel", "superplasticiser"),
        ("watertight", "water-resisting"),
        ("frost", "air-entraining"),
        ("underwater", "viscosity-modifying"),
        ("shrinkage", "special"),
    ],
)
def test_a_condition_leads_to_its_class(condition, first):
    assert classes_for(condition)[0].id == first


def test_the_retarder_row_is_that_of_its_standard_and_marked_as_remembered():
    retarder = admixture_classes()["retarder"]
    assert (retarder.dose_percent.low, retarder.dose_percent.high) == (0.1, 0.5)
    assert (retarder.initial_set_later_min.low, retarder.initial_set_later_min.high) == (60, 210)
    assert retarder.dose_percent.provenance is Provenance.MEMORY
    assert retarder.delays_setting


def test_the_adviser_names_dose_caution_and_what_comes_first(capsys):
    assert main(["admix", "hot", "frost"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Trial mix and the supplier's written consent first.")
    assert "compatibility statement" in said and "0.1 to 0.5 %" in said and "from memory" in said
    assert "accelerator" not in said
    assert main(["admix"]) == 0
    whole = capsys.readouterr().out
    assert all(each.title in whole for each in admixture_classes().values())
    assert main(["admix", "lunar"]) == 2
    assert "known: hot" in capsys.readouterr().err
    assert "hot" in conditions()
    with pytest.raises(InvalidInput):
        classes_for("lunar")


def retarded(tree, **option):
    tree["mix"]["B2"]["option"] = [{"id": "slow", "admixture": "retarder", **option}]
    return tree


def test_a_class_without_a_factor_is_planned_at_its_cautious_end_and_says_from_memory(tmp_path):
    here = situation(checked(tmp_path, retarded(shelter(), dose_percent=0.9)))
    option = here.option("slow")
    assert option.set_time_factor == pytest.approx(1 + 1 / 5.0)
    assert option.delays_setting
    told = here.sheet.mix["B2"].option[0]
    words = proposal_words(told, here.mix)
    assert "× 1.20 to 1.70, planned with 1.20" in words and "from memory" in words
    assert "dose 0.9 % is outside the guide" in words and "ask the producer" in words


@pytest.mark.parametrize("factor", [1.0, 1.35])
def test_the_producers_own_factor_is_taken_as_it_is_told_even_where_it_is_one(tmp_path, factor):
    here = situation(checked(tmp_path, retarded(shelter(), set_time_factor=factor)))
    told = here.sheet.mix["B2"].option[0]
    assert here.option("slow").set_time_factor == factor and not is_proposed(told)
    assert proposal_words(told, here.mix) == ""


def test_a_retarder_with_its_own_factor_still_counts_as_retarding_in_the_pressure_methods(tmp_path):
    here = situation(checked(tmp_path, retarded(shelter(), set_time_factor=1.35)))
    assert here.option("slow").delays_setting
    plain = retarded(shelter(), set_time_factor=1.35)
    plain["mix"]["B2"]["option"][0]["admixture"] = "plasticiser"
    assert not situation(checked(tmp_path, plain)).option("slow").delays_setting


def test_no_factor_is_proposed_for_a_mix_that_sets_too_fast_for_the_class(tmp_path):
    with pytest.raises(OutOfRange):
        set_proposal("accelerator", 4.0)
    assert set_proposal("accelerator", 5.0).factor == pytest.approx(0.3)
    assert set_proposal("air-entraining", 5.0) is None
    tree = shelter()
    tree["mix"]["B2"]["initial_set_at_20c_h"] = 4.0
    tree["mix"]["B2"]["option"] = [{"id": "fast", "admixture": "accelerator"}]
    with pytest.raises(SheetError) as error:
        checked(tmp_path, tree)
    assert [problem.key for problem in error.value.problems] == ["mix.B2.option[1].set_time_factor"]


def test_a_dose_needs_its_class(tmp_path):
    tree = shelter()
    tree["mix"]["B2"]["option"] = [{"id": "x", "dose_percent": 0.3}]
    with pytest.raises(SheetError) as error:
        checked(tmp_path, tree)
    assert [problem.key for problem in error.value.problems] == ["mix.B2.option[1].admixture"]


def test_an_option_without_a_class_is_left_alone():
    option = MixOption(id="chilled", cooler_by_c=3)
    assert with_proposal(option, None) is option


def test_joints_that_fail_name_the_class_to_ask_the_producer_for(tmp_path):
    here = situation(checked(tmp_path, shelter()))
    best = nominal(here, placing_orders(here)[0])
    bench = Bench(here, 1)
    bench.samples[best] = Sample(np.zeros(4), np.ones((4, len(RISK_KEYS))))
    titles = [remedy.title for remedy in remedies(bench, best, np.full(len(RISK_KEYS), 0.1))]
    assert any("EN 934-2 set retarding, C494 type B, D or G; trial mix first" in title for title in titles)


@pytest.mark.parametrize("wanted", ["nan", "inf", "-inf"])
def test_cooling_to_no_temperature_is_refused(wanted, capsys):
    assert main(["cool", str(TARNWICK / "shelter.toml"), f"--to={wanted}"]) == 2
    said = capsys.readouterr()
    assert "--to" in said.err and said.out == ""
