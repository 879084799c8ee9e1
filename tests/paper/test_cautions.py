"""Cautions by care family. What belongs to which family: common practice, no source."""

import re

import pytest

from moldcare.paper.cautions import DEFERENCE, FAMILIES, cautions_for


def keys(*families: str) -> list[str]:
    return [caution.key for caution in cautions_for(families)]


@pytest.mark.parametrize("family", FAMILIES)
def test_stored_energy_comes_first_in_every_family(family: str) -> None:
    assert keys(family)[0] == "stored_energy"
    assert len(keys(family)) > 1


def test_families_have_their_own_hazards() -> None:
    assert "acids" in keys("descaling")
    assert "acids" not in keys("lubrication")
    assert "dry_ice" in keys("vents")
    assert "electricity" in keys("hot_runner")
    assert "heights" in keys("counter_check")
    assert "lifting" in keys("ejection_and_slides")
    assert "pressure_test" in keys("leak_test")


def test_each_caution_stands_once_and_in_one_order() -> None:
    together = keys("leak_test", "vents", "descaling", "vents")
    assert len(together) == len(set(together))
    assert together == keys("descaling", "vents", "leak_test")


def test_family_of_the_plants_own_gets_every_caution() -> None:
    assert set(keys("something of ours")) >= {key for name in FAMILIES for key in keys(name)}


def test_no_dose_no_capacity_and_no_figure_is_given() -> None:
    for caution in cautions_for(["something of ours"]):
        assert re.search(r"\d", str(caution.text)) is None, caution.key


def test_site_rules_come_before_the_page() -> None:
    for said in ("site's rules", "makers' manuals", "safety data sheets", "licensed or trained"):
        assert said in str(DEFERENCE)
