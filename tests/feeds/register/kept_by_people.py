"""Registers and sheets as people keep them by hand: what no program would write."""

from collections.abc import Callable
from datetime import date, datetime

import openpyxl
from openpyxl.utils.datetime import CALENDAR_MAC_1904

ROW_A_HALF = """\
Werkzeug;Bezeichnung;Werkzeughälfte;Gewicht [kg];Kreise;Bohrung [mm]
W-101;Deckel;Düsenseite;420;1, 2;8
;;Auswerferseite;515;1;10
W-102;Griff;FS;30,5;;
;;AS;35,5;;
W-103;Schale;links;80;;
"""

TITLE_UNITS = (
    "sep=;\r\n"
    "Tool list of hall 2;;;\r\n"
    "all weights in lbs, cycle times in seconds;;;\r\n"
    'Tool no. ; Part ;"Weight ";Cycle time \n'
    '0417;"Cap ""blue""\n24 mm";925;12.5\r\n'
    "0418; Housing ;1,350;34 \r"
    "0419;Lid;420 kg;0.5 min\r\n"
)

TWIN_HEADINGS = """\
Mold;Name;Weight (kg);Weight (kg);Cavities
0417;Cap;420;515;8
0418;Housing;612;580;4
"""

DOS_FILAS = """\
Registro de moldes ;;;;;
Molde ;Peso  ;;Ciclo ; Cavidades;Propietario
;lado fijo (kg);lado móvil (kg);(s);;
0417;420,5;515;12,5;8;Nordhafen
0418;612;580;34;2x2;s/d
"""

PADDED = (
    "MOLD\0\0\0\0;NAME\0\0\0\0\0\0;CAVITIES\n"
    + "".join(f"{number:04d};Part {number};4\n" for number in range(600, 640))
    + "0417\0\0\0;Cap\0\0\0\0\0\0\0;8\n"
)

HOURS_AND_EVENTS = """\
Mold;Task;Interval;Last done
0417;Hot runner check;every 200 h;2026-03-04
0417;Clean vents;20k or after each run;
0417;Grease slides;each set;2026-03-20
0417;Rust protection;before storage;n/a
0418;O-rings;when opened;
0418;Inspection;at every PM;
0418;Look over;as needed;
"""

MONATE = """\
Werkzeug;Tätigkeit;Turnus;Zuletzt
0417;Entlüftung reinigen;vor jedem Rüsten;März 2026
0417;Schieber fetten;wöchentl.;KW 12/2026
0418;Heißkanal prüfen;1.000 Std.;03.2026
0418;Konservieren;bei Einlagerung;04.03.2026
K-12;Politur;jährl.;2025
"""

MARKS = """\
Mold;"Vents (20,000 shots)";Grease (weekly);Polish;Descaling (each run)
0417;x;x;;x
0418;X;no;x;
417;;;;
"""

EVENTOS = """\
Molde;Tarea;Frecuencia;Última vez;Disparos
0417;Limpiar venteos;cada 20.000 disparos;15/03/2026;184.000
0417;Engrasar correderas;en cada cambio de molde;15/03/2026;
0418;Revisión canal caliente;cada 200 horas;marzo de 2026;
0418;Proteger contra óxido;al almacenar;;
"""

KEPT_TEXTS: dict[str, bytes] = {
    "zeile-je-haelfte.csv": ROW_A_HALF.encode(),
    "units-in-the-title.csv": TITLE_UNITS.encode(),
    "twin-headings.csv": TWIN_HEADINGS.encode(),
    "moldes-dos-filas.csv": DOS_FILAS.encode(),
    "padded-with-nothing.csv": PADDED.encode(),
    "sheet-hours-and-events.csv": HOURS_AND_EVENTS.encode(),
    "wartung-nach-monaten.csv": MONATE.encode(),
    "sheet-with-marks.csv": MARKS.encode(),
    "tareas-por-sucesos.csv": EVENTOS.encode(),
}


def hidden_rows() -> openpyxl.Workbook:
    """A filtered register: hidden rows, a hidden column, an error, formulas without results."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Mold", "Name", "Weight kg", "Old no.", "Shots", "As of"])
    sheet.append(["0417", "Cap", 935, "T-1", 184250, date(2026, 3, 25)])
    sheet.append(["0418", "Housing", "=C2*2", "T-2", 1204880, date(2026, 3, 25)])
    sheet.append(["0419", "Lid", "#REF!", "T-3", 40, date(2026, 3, 26)])
    sheet.append(["0420", "Scrapped tray", 100, "T-4", 990000, date(2019, 5, 2)])
    sheet["C4"].data_type = "e"
    sheet.auto_filter.ref = "A1:F5"
    sheet.row_dimensions[5].hidden = True
    sheet.column_dimensions["D"].hidden = True
    return book


def merged_molds() -> openpyxl.Workbook:
    """A plan made by hand: a mold's cell merged over its tasks, two tasks in one cell, marks."""
    book = openpyxl.Workbook()
    sheet = book.active
    for row in (
        ["Wartungsplan 2026"],
        ["Werkzeug", "Tätigkeit", "Intervall", "Letzte Durchführung", "Schuss"],
        ["0417", "Entlüftung / Politur", "20.000 Schuss", date(2026, 3, 4), 150250],
        [None, "Schieber fetten", "wöchentl.", date(2026, 3, 20), None],
        [None, "Kühlkreise entkalken", "6 Monate", "k.A.", None],
        ["0418", "Auswerfer", "50 Tsd. Schuss", "02.11.2025", "?"],
        [None, "Schieber fetten", "14-tägl.", date(2026, 3, 20), None],
    ):
        sheet.append(row)
    for merged in ("A1:E1", "A3:A5", "A6:A7"):
        sheet.merge_cells(merged)
    return book


def since_1904() -> openpyxl.Workbook:
    """A sheet whose days count from 1904; one shows its month alone, one came as a number."""
    book = openpyxl.Workbook()
    book.epoch = CALENDAR_MAC_1904
    sheet = book.active
    sheet.append(["Mold", "Task", "Interval", "Last done"])
    sheet.append(["0417", "Vents", "100,000 shots", datetime.fromisoformat("2026-03-04")])
    sheet.append(["0418", "Vents", "100,000 shots", datetime.fromisoformat("2026-03-01")])
    sheet.append(["K-12", "Vents", "100,000 shots", "44623"])
    sheet["D3"].number_format = "mm/yyyy"
    return book


KEPT_WORKBOOKS: dict[str, Callable[[], openpyxl.Workbook]] = {
    "hidden-rows.xlsx": hidden_rows,
    "wartungsplan-verbunden.xlsx": merged_molds,
    "sheet-since-1904.xlsx": since_1904,
}
