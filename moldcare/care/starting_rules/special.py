"""Starting values for what only some molds have."""

from moldcare.care.starting_rules.values import RuleStart, SetStart, StepStart, ticks

SLIDES = SetStart(
    name="slides and lifters",
    note="For molds with parts that move sideways.",
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
            steps=ticks(
                "Wipe the old grease off gibs, wear plates and guides",
                "Look for scoring and metal in the grease",
                "Put on a thin film; none on what forms the part",
            ),
        ),
    ),
)

A_FINISH = SetStart(
    name="A-grade finish",
    note="For polished cavities: SPI A-1 to A-3 and the like.",
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
            steps=(
                *ticks("Look under the lamp; touch nothing with bare hands"),
                StepStart(text="Compare the part with the master", kind="photo"),
                StepStart(
                    text="What to do",
                    kind="choice",
                    choices=("nothing", "clean", "polish"),
                ),
            ),
            note="Polishing itself is asked for by what is found, not by an interval.",
        ),
    ),
)

BUBBLERS = SetStart(
    name="bubblers and baffles",
    note="For molds whose cores are cooled through tubes or blades.",
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
            steps=(
                *ticks(
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
    rules=(
        RuleStart(
            name="Check the hot runner electrically",
            family="hot_runner",
            reach="closed",
            where_done="press",
            minutes=20,
            days=30,
            event="set",
            qualification="electrical work",
            steps=(
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
            steps=(
                *ticks(
                    "Look for plastic round tips and manifold before anything is cleaned",
                    "Take tips and pins out by the maker's manual",
                    "Change what is worn, with new seals",
                    "Tighten by the maker's manual",
                ),
                StepStart(text="Name the drops where something was changed", kind="position"),
            ),
        ),
    ),
)
