"""The usual cautions of the trade by care family, and whose rules go first.

They name what hurts people and whom to ask. They give no dose, no lifting capacity and no
electrical instruction: those stand in the site's rules, the makers' manuals and the safety data
sheets.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, kw_only=True, slots=True)
class Caution:
    """One hazard in a few words."""

    key: str
    heading: str | Promise
    text: str | Promise


DEFERENCE = _(
    "The site's rules, the makers' manuals and the safety data sheets come before this page. "
    "Work that local rules keep for licensed or trained persons is theirs alone. "
    "If anything is not as expected, stop and ask."
)

_ALL = (
    Caution(
        key="stored_energy",
        heading=_("Lock-out and stored energy."),
        text=_(
            "Isolate, lock, let energy out, and try to start before hands go in. Springs, "
            "accumulators, core cylinders, hanging slides and ejector plates move without power. "
            "An open safety gate is not a lock."
        ),
    ),
    Caution(
        key="lifting",
        heading=_("Lifting."),
        text=_(
            "Mold straps on, eyebolts screwed in to the shoulder, gear inspected and rated for "
            "this load and angle by its maker. Nobody under or beside a hanging half."
        ),
    ),
    Caution(
        key="hot_surfaces",
        heading=_("Hot surfaces and melt."),
        text=_(
            "Let it cool or wear heat-proof gloves and sleeves. Melt can be trapped under pressure "
            "and spray out: face shield, and stand aside of nozzle and gates."
        ),
    ),
    Caution(
        key="acids",
        heading=_("Acids and descalers."),
        text=_(
            "Goggles and face shield, gloves, apron; eyewash within reach; ventilate. Never "
            "together with chlorine products. Mix, use and dispose as the data sheet says."
        ),
    ),
    Caution(
        key="solvents",
        heading=_("Solvents and sprays."),
        text=_(
            "Gloves, eye protection, fresh air. No flame or spark, and not onto a hot mold. "
            "Wipe rather than spray where you can."
        ),
    ),
    Caution(
        key="compressed_air",
        heading=_("Compressed air."),
        text=_(
            "Eye and ear protection, a nozzle the site allows, nobody in the line of the jet. "
            "Never at skin or clothes."
        ),
    ),
    Caution(
        key="dry_ice",
        heading=_("Dry ice."),
        text=_(
            "It burns skin and its gas displaces the air, low places first: ventilate, watch the "
            "gas monitor, cold-proof gloves, eye and ear protection. Never in a closed vessel."
        ),
    ),
    Caution(
        key="heights",
        heading=_("Heights and edges."),
        text=_(
            "Use the steps or platform meant for the press. Do not climb on guards or tie bars; "
            "keep tools from falling into the mold."
        ),
    ),
    Caution(
        key="water_pressure",
        heading=_("Water and hoses under pressure."),
        text=_(
            "Close, let pressure out and let hot circuits cool before a coupling is opened. "
            "Do not breathe spray from cooling water; wipe up spills."
        ),
    ),
    Caution(
        key="pressure_test",
        heading=_("Test pressure."),
        text=_(
            "Keep clear and wear eye protection while a circuit is under test. Stay within what "
            "the mold's maker and the weakest fitting allow. Let pressure out before touching."
        ),
    ),
    Caution(
        key="electricity",
        heading=_("Electricity."),
        text=_(
            "Heaters, sensors, plugs and cabinets are opened, measured and connected only by "
            "persons qualified for electrical work. Water and heaters never together."
        ),
    ),
    Caution(
        key="dust_and_tools",
        heading=_("Dust and rotating tools."),
        text=_(
            "Eye protection, breathing protection where dust arises, no loose sleeves or gloves "
            "at rotating tools."
        ),
    ),
    Caution(
        key="sharp_edges",
        heading=_("Sharp edges, pinch points."),
        text=_(
            "Shut-offs, pins and inserts cut. Keep fingers out of slides and plates that close."
        ),
    ),
)
# what every sheet and order says, whatever it is for
ALWAYS = ("stored_energy",)
OWN_HEADING = _("In this plant.")
_BY_KEY = {caution.key: caution for caution in _ALL}

# Every family works on a mold that was or will be in a press: stored energy comes first always.
_FAMILIES: dict[str, tuple[str, ...]] = {
    "vents": ("hot_surfaces", "solvents", "compressed_air", "dry_ice", "sharp_edges"),
    "lubrication": ("hot_surfaces", "heights", "solvents", "sharp_edges"),
    "inspection": ("lifting", "hot_surfaces", "heights", "sharp_edges"),
    "finish": ("lifting", "dust_and_tools", "solvents"),
    "descaling": ("acids", "water_pressure", "lifting", "hot_surfaces"),
    "bubblers_and_baffles": ("lifting", "water_pressure", "acids", "sharp_edges"),
    "seals_and_hoses": ("water_pressure", "hot_surfaces", "lifting"),
    "leak_test": ("pressure_test", "water_pressure", "compressed_air"),
    "wear_parts": ("lifting", "sharp_edges", "dust_and_tools"),
    "hot_runner": ("electricity", "hot_surfaces", "lifting"),
    "ejection_and_slides": ("lifting", "sharp_edges", "solvents"),
    "rust_protection": ("solvents", "compressed_air", "lifting"),
    "counter_check": ("heights", "hot_surfaces"),
}

FAMILIES = tuple(_FAMILIES)


def cautions_for(
    families: Iterable[str], *, more: Iterable[str] = (), own: Iterable[str] = ()
) -> tuple[Caution, ...]:
    """Give the cautions of these families, each once; a family of the plant's own gets all.

    `more` names further hazards by key, as those of the supplies in use. `own` are sentences of
    the plant: they come after the usual ones and take the place of none.
    """
    wanted = {*ALWAYS, *more}
    for family in families:
        wanted.update(_FAMILIES.get(family, _BY_KEY))
    usual = [caution for caution in _ALL if caution.key in wanted]
    said = [Caution(key="own", heading=OWN_HEADING, text=text) for text in own]
    return (*usual, *said)
