"""Starting values for what only some molds have."""

from moldcare.care.meant_for import MeantFor
from moldcare.care.starting_rules.every_mold import EVERY_MOLD
from moldcare.care.starting_rules.values import (
    MeasuredStart,
    RuleStart,
    SetStart,
    StepStart,
    ticks,
)

SLIDES = SetStart(
    name="slides and lifters",
    note="For molds with parts that move sideways.",
    meant_for=MeantFor(equipment="slides"),
    rules=(
        RuleStart(
            name="Grease slides and lifters",
            family="lubrication",
            reach="faces",
            where_done="press",
            minutes=10,
            count_base=20_000,
            days=1,
            supplies="the grease of the mold's own chart",
            by_filler=True,
            signs=("a squeak while opening or closing", "drag marks", "a slide that hangs"),
            steps=ticks(
                "Look at slides, lifters and gibs, and photograph scoring",
                "Wipe the old grease off gibs, wear plates and guides",
                "Look for metal in the grease",
                "Put on a thin film; none on what forms the part",
            ),
        ),
    ),
)

A_FINISH = SetStart(
    name="A-grade finish",
    note="For polished cavities: SPI A-1 to A-3 and the like.",
    meant_for=MeantFor(finishes=("A-1", "A-2", "A-3")),
    rules=(
        RuleStart(
            name="Look at the finish",
            family="finish",
            reach="faces",
            where_done="press",
            minutes=15,
            count_base=50_000,
            count_basis="shots",
            days=90,
            supplies="lamp, master plaque, clean gloves",
            by_resin=True,
            signs=("gloss that changes", "haze"),
            steps=(
                *ticks("Look under the lamp, and photograph; touch nothing with bare hands"),
                StepStart(text="Compare the part with the master", kind="photo"),
                StepStart(
                    text="What to do",
                    kind="choice",
                    choices=("nothing", "clean", "polish"),
                ),
            ),
            note="Polishing itself is asked for by what is found, not by an interval.",
        ),
        RuleStart(
            name="Polish again",
            family="finish",
            reach="parts",
            where_done="bench",
            minutes=480,
            count_basis="shots",
            measured=MeasuredStart(
                quantity="roughness Ra of the cavity", unit="µm", baseline="0.025", limit="0.05"
            ),
            by_resin=True,
            qualification="polishing",
            supplies="diamond compound, felts and sticks of the plant's own procedure",
            signs=("haze", "parts that stick", "drag lines"),
            steps=(
                *ticks("Look under the lamp at what is to be polished, and photograph it"),
                StepStart(text="Roughness before, Ra", kind="value", unit="µm", low="0"),
                *ticks(
                    "Keep vents and edges out of it: they roll over and grow",
                    "Polish no more than the part needs, by the plant's own procedure",
                ),
                StepStart(text="Roughness afterwards, Ra", kind="value", unit="µm", low="0"),
                StepStart(text="Size of what was polished", kind="value", unit="mm"),
                StepStart(text="Photo of the finish afterwards", kind="photo"),
            ),
            note="On condition: here from A-2 to the roughness of A-3; enter the mold's own grade.",
        ),
    ),
)

BUBBLERS = SetStart(
    name="bubblers and baffles",
    note="For molds whose cores are cooled through tubes or blades.",
    meant_for=MeantFor(equipment="bubblers"),
    rules=(
        RuleStart(
            name="Take bubblers and baffles out",
            family="bubblers_and_baffles",
            reach="parts",
            where_done="bench",
            minutes=120,
            days=365,
            hours_limit=2_800,
            supplies="O-rings, tubes, blades",
            signs=("a hot core tip", "parts that stay on the core", "warpage"),
            steps=(
                *ticks(
                    "Look at tubes and blades in place, and photograph how they are turned",
                    "Mark how every blade is turned before it is pulled",
                    "Pull tubes and blades and clean the bores",
                    "Change what is bent, thinned or corroded",
                    "Refit with new O-rings",
                    "Let a second look confirm how every blade is turned",
                ),
                StepStart(text="Smallest flow of a core afterwards", kind="value", unit="l/min"),
            ),
            note="The running hours stand for 500,000 cycles of 20 s.",
        ),
    ),
)

HOT_RUNNER = SetStart(
    name="hot runner",
    note="For molds with heated channels; electrical work is for persons qualified for it.",
    meant_for=MeantFor(equipment="hot_runner"),
    rules=(
        RuleStart(
            name="Check the hot runner electrically",
            family="hot_runner",
            reach="closed",
            where_done="press",
            minutes=20,
            days=30,
            event="set",
            supplies="the maker's zone table, instruments that the site's rules allow",
            qualification="electrical work",
            signs=("a zone that does not reach its set point", "a cavity that stays short"),
            steps=(
                *ticks("Look at connectors and wires, and photograph what is pinched or wet"),
                *ticks("Measure every zone against the maker's table for this mold"),
                StepStart(text="Name the zones that differ", kind="position"),
                StepStart(text="Photo of the filled-in zone table", kind="photo"),
            ),
            note="Limits are the maker's; no cleaning rule covers it.",
        ),
        RuleStart(
            name="Take tips and valve pins out",
            family="hot_runner",
            reach="parts",
            where_done="bench",
            minutes=480,
            count_base=500_000,
            count_basis="shots",
            days=730,
            qualification="hot runner",
            supplies="tip and seal set of the mold",
            by_filler=True,
            signs=("drool or strings at the gate", "black specks", "a gate mark that stands out"),
            steps=(
                *ticks(
                    "Look for plastic round tips and manifold, and photograph it, before cleaning",
                    "Take tips and pins out by the maker's manual",
                    "Change what is worn, with new seals",
                    "Tighten by the maker's manual",
                ),
                StepStart(text="Name the drops where something was changed", kind="position"),
            ),
        ),
    ),
)

ACID_RESINS = SetStart(
    name="PVC and flame-retardant resins",
    note="Beside the others, for molds whose resin gives off acid. Follow the resin maker's sheet.",
    meant_for=MeantFor(resin_groups=("corrosive",)),
    rules=(
        RuleStart(
            name="Protect the cavity at the end of a run",
            family="rust_protection",
            reach="faces",
            where_done="press",
            minutes=20,
            event="end_of_run",
            supplies="rust preventive meant for resins that give off acid",
            signs=("brown spots on steel", "gloss that changes", "stains on the first parts"),
            steps=(
                *ticks("Look at cavity and vents, and photograph residue and rust"),
                StepStart(
                    text="Say what was found",
                    kind="choice",
                    choices=("bright", "residue", "first spots", "rust"),
                ),
                *ticks(
                    "Take residue off cavity, vents and parting faces",
                    "Dry all bare steel",
                    "Put the preventive on, by its maker's sheet, before the mold cools and sweats",
                ),
            ),
            note="Common practice without a source.",
        ),
    ),
)

_FEW = frozenset({"Wipe the vents", "Grease the guides", "Inspect, quick", "Test for leaks",
                  "Protect against rust"})  # fmt: skip

SHORT_LIVED = SetStart(
    name="classes 104 and 105, the few that matter",
    note="Take it in place of the set for every mold where a mold makes few shots in its life.",
    meant_for=MeantFor(mold_classes=("104", "105")),
    rules=tuple(rule for rule in EVERY_MOLD.rules if rule.name in _FEW),
)
