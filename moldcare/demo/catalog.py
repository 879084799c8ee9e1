"""What the demo plant is made of: invented people, owners, presses and molds, as data."""

from dataclasses import dataclass
from decimal import Decimal

PLANT_NAME = "Demo plant"
ZONE = "Europe/Berlin"
LOCKOUT = "SP-04 Lock-out of presses and molds"

OWNERS: tuple[tuple[str, str, bool, int], ...] = (
    ("A", "Customer A: pump maker", True, 10),
    ("B", "Customer B: toy maker", True, 5),
    ("C", "Customer C: medical closures", True, 15),
    ("D", "Customer D: cable fittings", True, 10),
    ("E", "Customer E: garden tools", True, 5),
    ("-", "Demo plant, own molds", False, 10),
)


@dataclass(frozen=True, kw_only=True, slots=True)
class PersonSpec:
    """Somebody who works in the demo plant; a password or PIN only where the demo hands it out."""

    username: str
    name: str
    role: str
    badge: str = ""
    pin: str = ""
    signs_in: bool = False
    is_wall: bool = False
    skills: tuple[str, ...] = ()


PASSWORD = "steel and water"  # noqa: S105  the demo's own, printed; refused in any other plant
PEOPLE: tuple[PersonSpec, ...] = (
    PersonSpec(
        username="manager",
        name="Mira Oldehoff",
        role="manager",
        badge="2001",
        pin="7314",
        signs_in=True,
    ),
    PersonSpec(
        username="lead",
        name="Konrad Ellersiek",
        role="lead",
        badge="2010",
        pin="2580",
        signs_in=True,
        skills=("electrical work", "hot runner", "descaling"),
    ),
    PersonSpec(username="lead2", name="Sanna Brakelund", role="lead", badge="2011"),
    PersonSpec(
        username="technician",
        name="Tilda Norrweg",
        role="technician",
        badge="2021",
        pin="4071",
        signs_in=True,
        skills=("descaling", "hot runner"),
    ),
    PersonSpec(
        username="t22",
        name="Jaro Wischmann",
        role="technician",
        badge="2022",
        pin="9536",
        skills=("electrical work", "descaling"),
    ),
    PersonSpec(
        username="t23",
        name="Emre Kaltwasser",
        role="technician",
        badge="2023",
        skills=("electrical work", "hot runner"),
    ),
    PersonSpec(username="t24", name="Lotte Hagedorn-Pry", role="technician", badge="2024"),
    PersonSpec(
        username="t25", name="Pavo Stenrud", role="technician", badge="2025", skills=("descaling",)
    ),
    PersonSpec(username="reader", name="Nele Grotevent", role="reader", signs_in=True),
    PersonSpec(username="wall", name="Wall of the toolroom", role="reader", signs_in=True,
               is_wall=True),
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class PressSpec:
    """A press and its counter: so many digits, or a register that begins again after `wrap`."""

    number: str
    size: str
    clamp_kn: int
    digits: int | None = 8
    wrap: int | None = None
    shown: int = 0


_CLAMPS = {"S": (500, 800, 1000), "M": (1500, 2000, 2500), "L": (4000, 5500, 4000)}
# registers of 16 bits begin again within weeks
_SHORT_REGISTERS = {5, 11}


def _press(number: int) -> PressSpec:
    size = "S" if number <= 7 else "M" if number <= 14 else "L"
    is_short = number in _SHORT_REGISTERS
    shown = number * 245_489 if is_short else number * 1_234_567
    return PressSpec(
        number=str(number),
        size=size,
        clamp_kn=_CLAMPS[size][number % 3],
        digits=None if is_short else 8,
        wrap=65_536 if is_short else None,
        shown=shown % (65_536 if is_short else 40_000_000),
    )


PRESSES: tuple[PressSpec, ...] = tuple(_press(number) for number in range(1, 19))
BENCHES = ("1", "2", "3", "4")
RACKS = ("A1", "A2", "A3", "B1", "B2", "B3", "C1", "C2")
AWAY = ("polisher", "mold maker")

AUXILIARIES: tuple[tuple[str, str, str, int], ...] = (
    ("TC-04", "temperature controller at press 4", "temperature controller", 180),
    ("TC-11", "temperature controller at press 11", "temperature controller", 180),
    ("UB-1", "ultrasonic bath", "bath", 30),
    ("LG-2", "lifting gear of the mold bay", "lifting gear", 365),
)
SUPPLIES: tuple[tuple[str, str, str, str], ...] = (
    ("GR-1", "grease for guides and slides", "tubes", "4"),
    ("CL-3", "mold cleaner", "cans", "6"),
    ("RP-2", "rust preventive", "cans", "4"),
    ("OR-S", "O-ring set, small molds", "sets", "5"),
    ("OR-L", "O-ring set, large molds", "sets", "3"),
)

# usage kinds: how often a mold is wanted
STEADY, CAMPAIGN, SPORADIC, SEASONAL, PHASE_OUT = (
    "steady", "campaign", "sporadic", "seasonal", "phase_out",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True, slots=True)
class MoldSpec:
    """A mold; `has` names what is special: slides, hot, bubblers, polish, own counter, inserts."""

    number: str
    name: str
    mold_class: str
    cavities: int
    mass_kg: int
    owner: str
    resin: str
    resin_group: str
    filler: str
    cycle_s: Decimal
    opening: int
    usage: str
    size: str
    has: frozenset[str]
    finish: str = ""


_RESINS = {
    "PP": ("PP", "mild", "none"),
    "PE": ("PE-HD", "mild", "none"),
    "PS": ("PS", "mild", "none"),
    "ABS": ("ABS", "medium", "none"),
    "PC": ("PC", "medium", "none"),
    "PA": ("PA 6", "medium", "none"),
    "PAG": ("PA 66 with 30 % glass", "medium", "glass"),
    "POM": ("POM", "gassy", "none"),
    "FR": ("PC/ABS, flame retardant", "corrosive", "none"),
    "PVC": ("PVC, rigid", "corrosive", "none"),
}

# number, name, class, cavities, mass in kg, owner, resin, cycle in s, cycles before our records,
# usage, size of press, what is special
_TABLE = """
M-1001|lid, 38 mm|101|16|620|C|PP|9.5|4120000|steady|M|hot own inserts
M-1002|lid, 28 mm|101|24|710|C|PP|8.8|2870000|steady|M|hot own inserts
M-1003|pump body, lower|102|4|480|A|PAG|28.0|612000|steady|M|slides own bubblers
M-1004|pump body, upper|102|4|455|A|PAG|26.5|598000|steady|M|slides own
M-1005|impeller, 60 mm|103|2|210|A|PAG|31.0|240000|campaign|S|slides own
M-1006|cable gland M20|101|8|300|D|PA|14.5|1850000|steady|S|slides hot own
M-1007|cable gland M25|102|8|330|D|PA|15.8|990000|campaign|S|slides own
M-1008|lock nut M20|102|16|260|D|PA|11.0|2210000|campaign|S|own
M-1009|strain relief|103|8|180|D|PA|12.5|430000|campaign|S|slides
M-1010|housing, half A|102|2|540|-|FR|34.0|310000|campaign|M|hot own polish
M-1011|housing, half B|102|2|525|-|FR|33.0|305000|campaign|M|hot own
M-1012|brick 2x4|101|16|350|B|ABS|7.9|9968000|steady|S|hot own inserts polish
M-1013|brick 2x2|101|24|340|B|ABS|7.5|6420000|campaign|S|hot own inserts
M-1014|wheel, small|103|16|190|B|POM|12.0|720000|seasonal|S|own
M-1015|wheel, large|103|8|220|B|POM|16.0|515000|seasonal|S|own
M-1016|figure, body|103|8|240|B|ABS|18.0|388000|seasonal|S|slides
M-1017|figure, arms|104|16|150|B|ABS|14.0|162000|seasonal|S|slides
M-1018|spade handle|103|2|680|E|PP|42.0|118000|seasonal|L|own
M-1019|rake head|103|1|820|E|PAG|55.0|86000|seasonal|L|own
M-1020|hose connector|102|8|270|E|POM|17.0|640000|seasonal|S|slides own
M-1021|hose nozzle|102|4|300|E|POM|21.0|402000|seasonal|M|slides own
M-1022|bucket, 10 l|102|1|1450|-|PP|24.0|760000|campaign|L|hot own bubblers
M-1023|crate, 20 l|102|1|2100|-|PE|38.0|540000|steady|L|hot own bubblers
M-1024|crate lid|103|1|1150|-|PE|30.0|495000|campaign|L|hot own
M-1025|seat shell|102|1|2650|-|PP|48.0|214000|campaign|L|hot own bubblers polish
M-1026|drawer front|103|1|980|-|ABS|36.0|175000|sporadic|L|polish own
M-1027|gear, 24 teeth|102|8|160|A|POM|13.5|860000|campaign|S|own inserts
M-1028|gear, 40 teeth|102|4|185|A|POM|16.5|512000|campaign|S|own
M-1029|valve seat|101|16|205|A|POM|10.5|1630000|campaign|S|hot own
M-1030|filter cup|102|4|390|A|PC|27.0|268000|sporadic|M|polish own bubblers
M-1031|sight glass|102|4|310|A|PC|32.0|141000|sporadic|M|polish own
M-1032|plug, red|104|32|240|C|PE|9.0|810000|campaign|S|own
M-1033|plug, blue|104|32|240|C|PE|9.0|790000|sporadic|S|
M-1034|syringe cap|101|32|560|C|PP|8.2|5140000|campaign|M|hot own inserts
M-1035|dropper|102|16|420|C|PE|10.8|1720000|campaign|M|hot own
M-1036|measuring cup|103|8|330|C|PP|13.0|655000|campaign|M|own
M-1037|pipe clip 15|103|16|170|D|PVC|12.0|930000|sporadic|S|own
M-1038|pipe clip 22|103|12|175|D|PVC|13.0|610000|sporadic|S|
M-1039|cable duct end|104|4|140|D|PVC|19.0|143000|sporadic|S|
M-1040|junction box|102|2|430|D|FR|29.0|322000|campaign|M|slides own
M-1041|junction lid|103|4|280|D|FR|22.0|296000|sporadic|M|own
M-1042|terminal block|102|8|260|D|PAG|18.5|707000|campaign|M|slides own
M-1043|bracket, left|104|2|230|-|PAG|30.0|98000|sporadic|M|slides
M-1044|bracket, right|104|2|230|-|PAG|30.0|97000|sporadic|M|slides
M-1045|knob, 40 mm|104|8|120|-|ABS|17.0|204000|sporadic|S|
M-1046|knob, 55 mm|104|4|135|-|ABS|20.0|152000|sporadic|S|
M-1047|cover, small|105|1|90|-|ABS|26.0|3100|sporadic|S|
M-1048|cover, trial tool|105|1|110|-|PP|28.0|800|sporadic|S|
M-1049|tray, 400 mm|103|1|1300|E|PP|33.0|187000|sporadic|L|own
M-1050|pot, 14 cm|103|4|720|E|PP|18.0|433000|seasonal|L|hot own
M-1051|pot, 20 cm|103|2|890|E|PP|22.0|286000|seasonal|L|hot
M-1052|saucer, 20 cm|104|2|540|E|PP|19.0|151000|seasonal|M|
M-1053|hinge, pair|104|8|145|-|POM|15.0|233000|sporadic|S|
M-1054|latch|104|8|150|-|POM|15.5|219000|sporadic|S|
M-1055|lens, lamp|102|2|410|-|PC|38.0|126000|campaign|M|polish own hot
M-1056|reflector|103|2|380|-|PC|35.0|133000|sporadic|M|polish own
M-1057|pump cover, old|103|2|350|A|PAG|30.0|904000|phase_out|M|slides own
M-1058|toy track, old|103|4|310|B|ABS|20.0|1180000|phase_out|M|own
M-1059|duct elbow, old|104|2|290|D|PVC|27.0|366000|phase_out|M|
M-1060|handle grip, old|104|2|330|E|PP|24.0|287000|phase_out|M|
"""


def _spec(line: str) -> MoldSpec:
    number, name, mold_class, cavities, mass, owner, resin, cycle, opening, usage, size, has = (
        line.split("|")
    )
    words, group, filler = _RESINS[resin]
    marks = frozenset(has.split())
    return MoldSpec(
        number=number,
        name=name,
        mold_class=mold_class,
        cavities=int(cavities),
        mass_kg=int(mass),
        owner=owner,
        resin=words,
        resin_group=group,
        filler=filler,
        cycle_s=Decimal(cycle),
        opening=int(opening),
        usage=usage,
        size=size,
        has=marks,
        finish="SPI A-2" if "polish" in marks else "SPI B-3" if int(mold_class) < 104 else "",
    )


MOLDS: tuple[MoldSpec, ...] = tuple(_spec(line) for line in _TABLE.strip().splitlines())
