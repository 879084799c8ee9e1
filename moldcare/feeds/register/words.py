"""Headings of mold registers and maintenance sheets in English, German and Spanish.

The words are common practice in toolrooms; no source lists them.
"""

from collections.abc import Mapping
from typing import Final

from moldcare.feeds.tables.headings import HEADINGS, vocabulary
from moldcare.feeds.tables.meanings import Meaning

_MOLD: Final = (
    *HEADINGS[Meaning.MOLD],
    *("mold number", "mould number", "tool number", "mold code", "asset"),
    *("werkzeug nr", "wz", "wz nr", "wkz nr", "form nr", "werkzeugbezeichnung nr"),
    *("número de molde", "molde nº", "código"),
)
_NOTE: Final = HEADINGS[Meaning.NOTE]

_MASS_UNITS: Final = ("kg", "kgs", "lb", "lbs", "t", "in kg", "in lb", "in lbs", "en kg")
_LENGTH_UNITS: Final = ("mm", "cm", "in", "inch", "zoll", "in mm", "in cm", "in zoll", "in inch")

MOLD_HEADINGS: Final[Mapping[Meaning, tuple[str, ...]]] = {
    Meaning.MOLD: (*_MOLD, "number", "nummer", "número"),
    Meaning.NAME: (
        *("name", "mold name", "mould name", "tool name", "description", "part", "part name"),
        *("product", "article", "designation", "title"),
        *("bezeichnung", "benennung", "werkzeugname", "formname", "artikel", "teil", "produkt"),
        *("artikelbezeichnung", "beschreibung", "werkzeugbezeichnung"),
        *("nombre", "descripción", "pieza", "denominación", "producto", "artículo"),
        *("nombre del molde",),
    ),
    Meaning.MOLD_CLASS: (
        *("class", "mold class", "mould class", "spi class", "tool class"),
        *("klasse", "werkzeugklasse", "formklasse", "spi klasse"),
        *("clase", "clase de molde", "clase spi"),
    ),
    Meaning.CAVITY_COUNT: (
        *("cavities", "cavity count", "number of cavities", "cav", "cavs", "cavity", "nests"),
        *("kavitäten", "kavitätenzahl", "anzahl kavitäten", "fachzahl", "fach", "kav", "nester"),
        *("cavidades", "número de cavidades", "cavidad"),
    ),
    Meaning.HALF: (
        *("half", "mold half", "mould half", "side", "mold side", "half of mold", "a/b"),
        *("hälfte", "werkzeughälfte", "formhälfte", "seite", "werkzeugseite", "formseite"),
        *("mitad", "lado", "mitad del molde", "lado del molde", "parte del molde"),
    ),
    Meaning.MASS_A: (
        *("mass a", "mass of a half", "mass a half", "a half", "weight a", "weight a half"),
        *("fixed half", "mass fixed half", "weight fixed half", "mass fixed", "weight fixed"),
        *("fixed half mass", "fixed half weight", "cover half", "mass cover half", "half a"),
        *("a half mass", "a half weight", "mass half a", "weight half a", "stationary half"),
        *(
            "mass of halves a",
            "mass of the halves a",
            "weight of halves a",
            "masses a",
            "weights a",
        ),
        *(
            "weights a",
            "gewichte a",
            "gewicht hälften a",
            "masse hälften a",
            "pesos a",
            "peso mitades a",
        ),
        *("gewicht a", "gewicht fs", "gewicht feste seite", "feste seite", "masse feste seite"),
        *("gewicht düsenseite", "düsenseite", "masse düsenseite", "masse a", "gewicht ds"),
        *("masse a hälfte", "gewicht a hälfte", "gewicht feste hälfte", "feste hälfte"),
        *("masse feste hälfte", "a hälfte", "gewicht fest"),
        *("peso a", "masa a", "peso lado fijo", "masa lado fijo", "lado fijo", "mitad fija"),
        *("peso mitad fija", "masa mitad fija", "parte fija", "peso parte fija", "mitad a"),
        *("masa mitad a", "peso mitad a"),
    ),
    Meaning.MASS_B: (
        *("mass b", "mass of b half", "mass b half", "b half", "weight b", "weight b half"),
        *("moving half", "mass moving half", "weight moving half", "mass moving", "weight moving"),
        *("moving half mass", "moving half weight", "ejector half", "mass ejector half", "half b"),
        *("b half mass", "b half weight", "mass half b", "weight half b", "movable half"),
        *(
            "mass of halves b",
            "mass of the halves b",
            "weight of halves b",
            "masses b",
            "weights b",
        ),
        *(
            "weights b",
            "gewichte b",
            "gewicht hälften b",
            "masse hälften b",
            "pesos b",
            "peso mitades b",
        ),
        *("gewicht b", "gewicht bs", "gewicht bewegliche seite", "bewegliche seite"),
        *("masse bewegliche seite", "gewicht auswerferseite", "auswerferseite"),
        *("masse auswerferseite", "masse b", "gewicht as", "masse b hälfte", "gewicht b hälfte"),
        *("gewicht bewegliche hälfte", "bewegliche hälfte", "masse bewegliche hälfte"),
        *("b hälfte", "gewicht beweglich"),
        *("peso b", "masa b", "peso lado móvil", "masa lado móvil", "lado móvil", "mitad móvil"),
        *("peso mitad móvil", "masa mitad móvil", "parte móvil", "peso parte móvil", "mitad b"),
        *("masa mitad b", "peso mitad b"),
    ),
    Meaning.MASS: (
        *("mass", "weight", "total mass", "total weight", "mold weight", "mold mass", "mass a/b"),
        *("weight a/b", "masses", "weights", "mass of halves", "mass a b", "gross weight"),
        *("gewicht", "masse", "gesamtgewicht", "gesamtmasse", "werkzeuggewicht", "gewichte"),
        *("gewicht gesamt", "masse gesamt", "formgewicht", "gewicht a/b"),
        *("peso", "masa", "peso total", "masa total", "peso del molde", "peso a/b"),
        # too short to be known inside a heading
        *(f"{short} {unit}" for short in ("mass", "peso", "masa") for unit in _MASS_UNITS),
    ),
    Meaning.OWNER: (
        *("owner", "customer", "property of", "owned by", "client", "belongs to"),
        *("eigentümer", "besitzer", "kunde", "eigentum von", "gehört", "auftraggeber"),
        *("propietario", "cliente", "dueño", "propiedad de"),
    ),
    Meaning.RESIN: (
        *("resin", "resins", "material", "plastic", "polymer", "molding material", "compound"),
        *("werkstoff", "kunststoff", "rohstoff", "granulat", "materialien", "formmasse"),
        *("resina", "plástico", "polímero", "materia prima"),
    ),
    Meaning.RESIN_GROUP: (
        *("resin group", "material group", "resin family"),
        *("harzgruppe", "materialgruppe", "werkstoffgruppe", "kunststoffgruppe"),
        *("grupo de resina", "grupo de material", "familia de resina"),
    ),
    Meaning.FILLER: (
        *("filler", "fillers", "reinforcement", "glass content", "filled"),
        *("füllstoff", "füllstoffe", "verstärkung", "glasfaseranteil", "glasanteil"),
        *("carga", "refuerzo", "relleno", "fibra"),
    ),
    Meaning.FINISH: (
        *("finish", "surface", "surface finish", "polish grade", "texture", "spi finish"),
        *("oberfläche", "oberflächengüte", "politur", "narbung", "struktur", "finish vdi"),
        *("acabado", "acabado superficial", "superficie", "textura", "pulido"),
    ),
    Meaning.CYCLE_TIME: (
        *("cycle time", "cycle", "standard cycle", "standard cycle time", "ct", "ct s", "ct sec"),
        *("zykluszeit", "zyklus", "taktzeit", "standardzykluszeit", "zykl zeit"),
        *("tiempo de ciclo", "ciclo", "tiempo ciclo", "tiempo de ciclo estándar"),
    ),
    Meaning.STORAGE_PLACE: (
        *("storage place", "storage", "rack", "rack place", "location", "shelf", "stored in"),
        *("storage location", "store", "place", "bin"),
        *("lagerplatz", "lagerort", "regal", "regalplatz", "stellplatz", "standort"),
        *("lager", "platz"),
        *("ubicación", "estante", "estantería", "almacén", "lugar", "lugar de almacenamiento"),
        *("puesto",),
    ),
    Meaning.CIRCUITS: (
        *("circuits", "circuit", "cooling circuits", "cooling circuit", "water circuits"),
        *("water lines", "number of circuits", "circuit name", "water circuit"),
        *("kreise", "kreis", "kühlkreise", "kühlkreis", "kühlkreisläufe", "kühlkreislauf"),
        *("temperierkreise", "temperierkreis", "anzahl kühlkreise", "wasserkreise"),
        *("circuitos", "circuito", "circuitos de refrigeración", "circuito de agua"),
    ),
    Meaning.BORE: (
        *("bore", "circuit bore", "bore of circuit", "channel bore", "channel diameter"),
        *("circuit diameter", "channel dia", "ø", "ø circuit", "ø channel", "cooling bore"),
        *("bohrung", "kreis bohrung", "bohrungsdurchmesser", "kühlbohrung", "kanaldurchmesser"),
        *("ø bohrung", "ø kühlbohrung", "ø kreis", "ø kanal", "bohrung kreis"),
        *("taladro", "diámetro del canal", "diámetro del circuito", "diámetro del taladro"),
        *("ø canal", "ø circuito", "ø taladro"),
        # too short to be known inside a heading
        *(f"{short} {unit}" for short in ("bore", "ø") for unit in _LENGTH_UNITS),
    ),
    Meaning.LENGTH: (
        *("length", "circuit length", "length of circuit", "channel length", "circuit len"),
        *("länge", "kreis länge", "kreislänge", "kanallänge", "kühlkreislänge", "länge kreis"),
        *("longitud", "longitud del circuito", "longitud del canal", "circuito longitud"),
    ),
    Meaning.OPENING_COUNT: (
        *("cycles before our records", "life count", "shots", "cycles", "total shots"),
        *("total cycles", "shot count"),
        *("shots to date", "cycles to date", "count", "counter reading", "life shots", "reading"),
        *("total count", "shots so far", "cycle count"),
        *("schusszahl", "schuss", "schüsse", "zählerstand", "gesamtschuss", "schuss gesamt"),
        *("zyklen", "zyklenzahl", "gesamtschusszahl", "stückzahl werkzeug"),
        *("ciclos", "disparos", "inyectadas", "golpes", "contador", "ciclos totales"),
        *("lectura", "total de ciclos"),
    ),
    Meaning.OPENING_AT: (
        *("true as of", "count date", "as of", "read on", "shots as of", "counted on"),
        *("reading date", "date"),
        *("count as of", "date of count", "date read"),
        *("stand vom", "stand am", "abgelesen am", "zählerstand vom", "datum", "ablesedatum"),
        *("datum zählerstand",),
        *("fecha", "fecha de lectura", "a fecha de", "fecha del contador", "leído el"),
    ),
    Meaning.DRAWING_REVISION: (
        *("drawing revision", "revision", "rev", "drawing", "drawing rev", "drawing index"),
        *("zeichnungsindex", "zeichnungsstand", "index", "revisionsstand", "änderungsindex"),
        *("zeichnungsrevision",),
        *("revisión", "revisión del plano", "plano", "índice de plano"),
    ),
    Meaning.NOTE: _NOTE,
}

CARE_HEADINGS: Final[Mapping[Meaning, tuple[str, ...]]] = {
    Meaning.MOLD: (*_MOLD, "number", "nummer", "número"),
    Meaning.NAME: MOLD_HEADINGS[Meaning.NAME],
    Meaning.TASK: (
        *("task", "tasks", "work", "activity", "job", "what", "maintenance", "service", "action"),
        *("maintenance task", "to do", "pm task", "work to do", "care", "rule"),
        *("aufgabe", "tätigkeit", "arbeit", "maßnahme", "wartung", "wartungsarbeit", "was"),
        *("wartungsaufgabe", "arbeiten", "wartungstätigkeit", "wartungspunkt", "arbeitsgang"),
        *("tarea", "trabajo", "actividad", "mantenimiento", "qué", "acción", "tareas"),
        *("tarea de mantenimiento", "operación"),
    ),
    Meaning.INTERVAL: (
        *("interval", "frequency", "every", "how often", "cycle interval", "service interval"),
        *("due every", "rhythm", "pm interval", "intervals"),
        *("intervall", "turnus", "wartungsintervall", "häufigkeit", "rhythmus", "alle", "frist"),
        *("intervalle",),
        *("intervalo", "frecuencia", "cada", "periodicidad", "intervalos"),
    ),
    Meaning.COUNT_INTERVAL: (
        *("interval cycles", "interval shots", "cycles", "shots", "every shots", "every cycles"),
        *("interval count", "count interval", "interval by count", "shot interval"),
        *("cycles interval", "shots interval", "frequency shots", "frequency cycles"),
        *("intervall schuss", "intervall zyklen", "schuss", "zyklen", "schussintervall"),
        *("alle schuss", "turnus schuss", "zyklenintervall", "intervall schüsse"),
        *("intervalo ciclos", "intervalo disparos", "ciclos", "disparos", "cada ciclos"),
        *("intervalo inyectadas", "inyectadas", "intervalo de ciclos", "frecuencia ciclos"),
    ),
    Meaning.PERIOD: (
        *("period", "interval days", "interval months", "interval weeks", "calendar interval"),
        *("days", "months", "weeks", "calendar", "interval calendar", "time interval"),
        *("every days", "every months", "every weeks", "interval time", "frequency time"),
        *("intervall tage", "intervall monate", "intervall wochen", "zeitintervall", "tage"),
        *("monate", "wochen", "kalender", "zeitraum", "intervall zeit", "intervall kalender"),
        *("turnus zeit", "turnus monate", "turnus wochen", "turnus tage"),
        *("intervalo días", "intervalo meses", "intervalo semanas", "período", "periodo"),
        *("días", "meses", "semanas", "intervalo tiempo", "calendario", "intervalo calendario"),
    ),
    Meaning.INTERVAL_UNIT: (
        *("unit", "interval unit", "unit of interval", "interval type"),
        *("einheit", "intervalleinheit", "intervall einheit"),
        *("unidad", "unidad del intervalo", "unidad intervalo"),
    ),
    Meaning.LAST_DONE: (
        *("last done", "last", "last date", "last service", "done on", "last done date", "done"),
        *("last done on", "date last done", "last serviced", "last performed", "last time"),
        *("last maintenance", "last pm", "last execution", "date done", "date"),
        *("zuletzt", "letzte wartung", "zuletzt am", "erledigt am", "letzte", "letztmalig"),
        *("zuletzt erledigt", "zuletzt erledigt am", "letzte durchführung", "durchgeführt am"),
        *("letzter termin", "datum letzte wartung", "zuletzt datum", "datum"),
        *("último", "última", "última vez", "último mantenimiento", "hecho el", "última fecha"),
        *("fecha último", "fecha última vez", "realizado el", "fecha"),
    ),
    Meaning.LAST_COUNT: (
        *("last count", "last done count", "count at last", "shots at last", "done at"),
        *("last done at", "cycles at last", "last done shots", "last done cycles", "last shots"),
        *("count last done", "count when last done", "last cycles", "at count", "at shots"),
        *("last pm count", "last service count", "count at last pm", "last maintenance count"),
        *("shots last done", "last done at count", "last done at shots", "counter last done"),
        *("zuletzt bei", "letzter zählerstand", "bei schuss", "zuletzt schuss"),
        *("zuletzt bei schuss", "schuss letzte wartung", "zählerstand letzte wartung"),
        *("erledigt bei", "zuletzt erledigt bei", "zählerstand", "zuletzt zählerstand"),
        *("último contador", "ciclos último", "último ciclos", "contador última vez"),
        *("última lectura", "ciclos última vez", "hecho a", "a los ciclos", "contador"),
    ),
    Meaning.NOTE: _NOTE,
}

MOLDS: Final = vocabulary(MOLD_HEADINGS, is_loose=True, as_whole=frozenset({Meaning.HALF}))
CARE: Final = vocabulary(CARE_HEADINGS, is_loose=True)
