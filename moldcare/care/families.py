"""The thirteen care families of the trade, as a plant begins with them; all of it can be edited.

The signs, and the four as-found grades in each family's own words, are common practice without a
source. A grade says how near to failing: clean is less than a third of what would make it fail,
light from a third, heavy from three quarters, failed no longer did its work. Keys are those that
cautions on paper go by.
"""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class FamilyStart:
    """A family as it is first loaded: grades in the order clean, light, heavy, failed."""

    key: str
    name: str
    signs: tuple[str, ...]
    grades: tuple[str, str, str, str]
    is_inspection: bool = False


FAMILIES: tuple[FamilyStart, ...] = (
    FamilyStart(
        key="vents",
        name="vents",
        signs=(
            "burn marks where the cavity fills last",
            "short shots",
            "weak weld lines",
            "injection pressure that creeps up",
            "flash along a vent that was opened too far",
        ),
        grades=(
            "bare steel, air gets out freely",
            "a film that a cloth takes off",
            "residue baked on, part of the land closed",
            "closed: burns or short shots",
        ),
    ),
    FamilyStart(
        key="lubrication",
        name="lubrication",
        signs=(
            "a squeak while opening or closing",
            "slides or plates that move by jerks",
            "drag marks",
            "grease stains on the part: too much, or too near the cavity",
        ),
        grades=(
            "grease fresh, film whole",
            "grease darker, film still whole",
            "grease black or metallic, film thin",
            "dry, scored or galled",
        ),
    ),
    FamilyStart(
        key="inspection",
        name="inspection",
        signs=(
            "flash on the parting line",
            "mismatch of the halves",
            "a dimension that drifts towards its limit",
        ),
        grades=(
            "nothing found",
            "first marks, nothing to do yet",
            "damage that would not last to the next look",
            "damage that shows on the part",
        ),
        is_inspection=True,
    ),
    FamilyStart(
        key="finish",
        name="finish",
        signs=("gloss that changes", "haze", "parts that stick", "drag lines"),
        grades=(
            "as on the accepted sample",
            "a haze that only the lamp shows",
            "haze or scratches near what the part allows",
            "gloss or release lost",
        ),
    ),
    FamilyStart(
        key="descaling",
        name="circuits and descaling",
        signs=(
            "a cycle that had to be made longer",
            "warpage",
            "sink marks or gloss spots over hot steel",
            "return water warmer than it was",
        ),
        grades=(
            "flow as on the baseline",
            "a thin crust, flow a little lower",
            "flow near its limit",
            "blocked, or the part shows it",
        ),
    ),
    FamilyStart(
        key="bubblers_and_baffles",
        name="bubblers and baffles",
        signs=(
            "a hot core tip",
            "parts that stay on the core",
            "sink marks or gloss spots inside the part",
            "warpage",
        ),
        grades=(
            "tubes and blades bare, bores open",
            "a film on tubes or blades",
            "bores narrowed, blades thinned or bent",
            "blocked, broken or turned",
        ),
    ),
    FamilyStart(
        key="seals_and_hoses",
        name="seals and hoses",
        signs=("drops or rust tracks", "water marks on the part", "a heater that got wet"),
        grades=(
            "supple and round",
            "a little flat, still springs back",
            "flat, hard or cracked",
            "leaks",
        ),
    ),
    FamilyStart(
        key="leak_test",
        name="leak test",
        signs=("drops under the press", "water marks on the part", "rust at a plate joint"),
        grades=(
            "no drop in pressure",
            "a drop that can barely be read",
            "a drop near what is allowed",
            "leaks",
        ),
    ),
    FamilyStart(
        key="wear_parts",
        name="wear parts",
        signs=(
            "a plate that does not come back all the way",
            "a slide that is not held",
            "mismatch",
            "a core that scrapes",
        ),
        grades=(
            "like new",
            "a little set or worn",
            "much set or worn",
            "broken or worn out",
        ),
    ),
    FamilyStart(
        key="hot_runner",
        name="hot runner",
        signs=(
            "drool or strings at the gate",
            "black specks",
            "a cavity that stays short",
            "a gate mark that stands out",
            "a zone that does not reach its set point",
        ),
        grades=(
            "tips sharp, all zones as on the table",
            "tips a little worn, zones as on the table",
            "tips or pins worn, a zone drifts",
            "leaks, or a zone is out",
        ),
    ),
    FamilyStart(
        key="ejection_and_slides",
        name="ejection and slides",
        signs=(
            "pin marks",
            "flash round pins or at a shut-off",
            "a mismatch line where a slide closes",
            "parts that hang",
        ),
        grades=(
            "moves by hand, bores clean",
            "moves by hand, first marks",
            "stiff, scored or loose",
            "seized, bent or broken",
        ),
    ),
    FamilyStart(
        key="rust_protection",
        name="rust protection",
        signs=("brown spots on steel", "water left in a circuit", "stains on the first parts"),
        grades=(
            "bright, film whole",
            "film thin in places",
            "first spots outside the cavity",
            "rust in the cavity or in a fit",
        ),
    ),
    FamilyStart(
        key="counter_check",
        name="counter check",
        signs=(
            "a count that does not fit the press's",
            "a count that stands still while the mold runs",
        ),
        grades=(
            "counts every closing",
            "actuator tip a little worn",
            "loose, or misses now and then",
            "does not count",
        ),
    ),
)
