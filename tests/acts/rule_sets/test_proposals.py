"""For which molds a set is meant."""

import pytest

from moldcare.acts.doing import Doing
from moldcare.acts.starting_sets import load_starting_sets
from moldcare.care.meant_for import Fit, MeantFor, MoldTraits, fit_of
from moldcare.care.models import RuleSet
from moldcare.care.set_queries import traits_of
from moldcare.molds.models import Circuit
from tests import factories


def test_a_mold_is_proposed_the_sets_that_are_meant_for_it(doing: Doing) -> None:
    load_starting_sets(doing)
    factories.plant()
    mirror = factories.mold(mold_class="102", resin_group="corrosive", finish="SPI A2", resin="PVC")
    Circuit.objects.create(mold=mirror, ident="A1", half="A", bubblers=4)
    small = factories.mold(mold_class="105", resin_group="mild", finish="SPI B-3")
    Circuit.objects.create(mold=small, ident="A1", half="A")
    traits = traits_of([mirror, small])
    found: dict[str, list[Fit]] = {}
    for row in RuleSet.objects.order_by("id"):
        meant = MeantFor(
            mold_classes=tuple(row.mold_classes),
            resin_groups=tuple(row.resin_groups),
            fillers=tuple(row.fillers),
            finishes=tuple(row.finishes),
            equipment=row.equipment,
        )
        found[row.name] = [fit_of(meant, traits=traits[mold.pk]) for mold in (mirror, small)]
    fits, ask, does_not = Fit.FITS, Fit.ASK, Fit.DOES_NOT
    assert found == {
        "every mold": [fits, fits],
        "slides and lifters": [ask, ask],
        "A-grade finish": [fits, does_not],
        "bubblers and baffles": [fits, does_not],
        "hot runner": [ask, ask],
        "PVC and flame-retardant resins": [fits, does_not],
        "classes 104 and 105, the few that matter": [does_not, fits],
    }


@pytest.mark.parametrize(
    ("text", "fit"),
    [
        ("SPI A-2", Fit.FITS),
        ("A1 on the lens, B-2 outside", Fit.FITS),
        ("a 3", Fit.FITS),
        ("SPI B-1", Fit.DOES_NOT),
        ("VDI 3400 27", Fit.DOES_NOT),
        ("PA-2 grained", Fit.DOES_NOT),
        ("", Fit.ASK),
    ],
)
def test_a_finish_is_read_in_any_spelling(text: str, fit: Fit) -> None:
    meant = MeantFor(finishes=("A-1", "A-2", "A-3"))
    assert fit_of(meant, traits=MoldTraits(finish=text)) is fit
