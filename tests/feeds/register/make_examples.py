"""Write the example files of `fixtures/registers`: invented registers and maintenance sheets.

Run it from the project's root: ``python -m tests.feeds.register.make_examples``. Text files come
out the same to the byte; workbooks the same in content.
"""

import io
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.styles import Font

from tests.feeds.register.kept_by_people import KEPT_TEXTS, KEPT_WORKBOOKS

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "registers"

PLAIN = """\
Mold,Name,Class,Cavities,Mass A half (kg),Mass B half (kg),Owner,Resin,Finish,Cycle time (s),\
Storage place,Circuits,Life count,As of,Drawing revision
0417,"Cap, 24 mm",101,8,420,515,Nordhafen,PP,A-2,12.5,B4-2,"A1, A2, B1","184,250",2026-03-25,C
0418,Housing,102,4,612.5,580,Nordhafen,PA66-GF30,VDI 27,34,B4-3,"A1, B1","1,204,880",2026-03-25,B
417,Lid,103,16,95,88,,POM,C-1,7.8,C1-1,A1,40,2026-03-26,A
K-12,Lever,102,2,150,162.5,Weststadt,PVC,,45,A1-9,-,?,n/a,
"""

WERKZEUGLISTE = """\
Werkzeugliste Spritzerei;;;;;;;;;;;;;;
Stand: Frühjahr, Köhler;;;;;;;;;;;;;;
;;;;;;;;;;;;;;
Werkzeug-Nr.;Bezeichnung;Klasse;Fachzahl;Gewicht FS [kg];Gewicht BS [kg];Kunde;Werkstoff;\
Oberfläche;Zykluszeit [s];Lagerplatz;Kühlkreise;Schusszahl;Stand vom;Zeichnungsindex
0417;Kappe für Tülle;101;8;420;515;Nordhafen;PP;A-2;12,5;B4-2;A1/A2/B1;184.250;25.03.2026;C
0418;Gehäuse;102;4;612,5;580;Nordhafen;PA66-GF30;VDI 27;34;B4-3;A1/B1;1.204.880;25.03.2026;B
417;Deckel;103;16;95;88;k.A.;POM;C-1;7,8;C1-1;A1;40;26.03.2026;A
K-12;Hebel;102;2;150;162,5;Weststadt;PVC;–;45;A1-9;-;?;k. A.;
Summe;;;30;1277,5;1345,5;;;;;;;;;
"""

MOLDES = """\
N.º de molde\tNombre\tClase\tCavidades\tPeso lado fijo\tPeso lado móvil\tPropietario\tResina\t\
Acabado\tTiempo de ciclo\tUbicación\tCircuitos\tCiclos\tFecha\tRevisión
0417\tTapón\t101\t8\t420 kg\t515 kg\tNordhafen\tPP\tA-2\t12,5 s\tB4-2\tA1; A2; B1\t184250\t\
25/03/2026\tC
0418\tCarcasa\t102\t4\t612,5 kg\t580 kg\tNordhafen\tPA66-GF30\tVDI 27\t34 s\tB4-3\tA1; B1\t\
1204880\t25/03/2026\tB
417\tTapa\tSPI 103\t16\t95 kg\t88 kg\ts/d\tPOM\tC-1\t7,8 s\tC1-1\tA1\t40\t26/03/2026\tA
K-12\tPalanca\t102\t2\t150 kg\t162,5 kg\tWeststadt\tPVC\t\t45 s\tA1-9\t-\t?\t\t
"""

POUNDS = """\
Mold;Name;Mass;;Cycle time;Cavities
;;A half (lb);B half (lb);min;
0417;Cap;925.9;1135.4;0.5;8
0418;Housing;1,350.3;1,278.7;34 s;2x2
0500;Tray;900;1,000;1:05;family 1+1
"""

INCHES = """\
Mold,Name,Circuit,Bore [in],Length in
0417,Cap,A1,3/8,48
0417,Cap,A2,7/16″,3 ft
0417,Cap,B1,8 mm,1000 mm
0418,Housing,A1; A2,0.25,24
0500,Tray,A1,0,24
0501,Lid,A1,-0.25,24
0502,Lever,,0.25,24
"""

HALVES = """\
Form;Gewicht (kg);Fachzahl;Zykluszeit
0417;420/515;8-fach;12 s
0418;612,5 + 580;4;0,5 min
0500;935;2 x 4;20
0501;0,4 t / 0,5 t;1;k.A.
0502;420/515/600;1;20
0503;ca. 800;1;20
"""

SPELLED = """\
mold;name;rack
0417;Cap;B4-2
0417 ;Cap;B4-2
mold 0417;Cap;B4-2
417;Lid;C1-1
M-0500;Tray;C1-2
M0500;Tray;
k-12;Lever;A1-9
K-12;;
0600;Ring;A1-1
0600;Ring, new;A1-1
"""

ODD = """\
Mold,Class,Cavities,Mass A (kg),Cycle time (s),Life count,Storage place
0001,101,0,420,20,5,A1
0002,A,4,420,20,5,A1
0003,SPI 104,4-cavity,-5,20,5,A1
0004,105,2x4,420,0,5,A1
0005,105,4,4200000,20,5,A1
0006,105,4,420,20,1.5,A1
0007,105,4,420,20 h,5,A1
1.20E+06,105,4,420,20,5,A1
0008,105,4,420,20,ca. 20k,A1
,105,4,420,20,5,A1
0009,105,4,420,20,5,A1, left side
0010,105,4,420,20,5,A1
"""

DAY_OR_MONTH = """\
mold;life count;as of
0417;184250;03/08/2026
0418;1204880;04/09/2026
"""

BOTH_ORDERS = """\
mold;life count;as of
0417;184250;26/06/2026
0418;1204880;06/26/2026
"""

ROWS_BELOW = """\
Werkzeug;Bezeichnung;Kühlkreis
0417;Kappe;A1
;;A2
;;B1
0418;Gehäuse;A1
"""

ONE_ROW_A_TASK = """\
Mold,Task,Interval,Last done,Last count
0417,Vent clean,"100,000 shots or 6 months",2026-03-04,"150,250"
0417,Grease guides,weekly,2026-03-20,
0417,"Grease slides, lifters",20k,2026-03-24,183900
0418,Inspection,"250,000 cycles / yearly, whichever comes first",2025-11-02,"1,100,000"
0418,Descale circuits,every 12 months,n/a,
0418,Start-up check,each run,,
0418,,,,
"""

WARTUNGSPLAN = """\
Wartungsplan Werkzeugbau;;;;
;;;;
WKZ;Tätigkeit;Turnus;Zuletzt am;Zuletzt bei
0417;Führungen fetten + Sichtprüfung;alle 14 Tage;20.03.2026;183.900
0417;Entlüftung reinigen, Politur prüfen;100.000 Schuss;04.03.2026;150.250 Schuss
0418;Kühlkreise entkalken;jährlich;k.A.;k.A.
0418;Auswerfer, Schieber;50 Tsd. Schuss, spätestens 6 Monate;02.11.2025;ca. 1,1 Mio
0418;Spülen;500 Betriebsstunden;;
"""

COLUMN_A_TASK = """\
Maintenance sheet,,,,,,
Mold,Name,Vents,,Grease guides,,Rust protection
,,Interval,Last done,Interval,Last done,Last done
0417,Cap,"100,000",2026-03-04,weekly,2026-03-20,2026-01-10
0418,Housing,"250,000",2025-11-02,-,-,
417,Lid,,,,,
"""

TAREAS = """\
Molde;Venteos (cada 100.000);Engrase de guías (semanal);Última inspección
0417;04/03/2026;20/03/2026;
0418;02/11/2025;;15/01/2026
"""

NUMBER_AND_UNIT = """\
Tool;Work;Every;Unit;Last done
0417;vents / polish;100000;shots;04.03.2026 / 150250
0417;hoses;6;months;20.03.2026
0418;springs;500000;cycles;1100000 (02.11.2025)
0418;o-rings;2;fortnights;02.11.2025
"""

NO_UNIT = """\
mold;task;interval;last done
0417;vents;6;2026-03-04
0418;vents;12;2026-03-04
"""

SHEET_ROWS_BELOW = """\
Mold;Task;Interval
0417;grease;weekly
;vents;monthly
0418;grease;weekly
"""

SAME_TASK_TWICE = """\
mold;task;interval
0417;grease;weekly
0417;Grease;weekly
0417;grease;monthly
M-0417;grease;weekly
"""

OLD_PROGRAM = """\
Werkzeug;Bezeichnung;Lagerplatz
0417;Kappe für Düse;Regal größer Saal
0418;Gehäuse;Außenlager
"""

LETTERS_DO_NOT_TELL = """\
Form;Kunde
0417;Ölhof
"""

TEXTS: dict[str, bytes] = {
    "register-plain.csv": PLAIN.encode(),
    "werkzeugliste-windows-1252.csv": WERKZEUGLISTE.encode("cp1252"),
    "moldes-unicode-text.txt": MOLDES.encode("utf-16"),
    "masses-in-pounds.csv": POUNDS.encode("utf-8-sig"),
    "circuits-in-inches.csv": INCHES.encode(),
    "both-halves-in-one-cell.csv": HALVES.encode(),
    "spelled-twice.csv": SPELLED.encode(),
    "odd-values.csv": ODD.encode(),
    "day-or-month.csv": DAY_OR_MONTH.encode(),
    "both-orders-of-date.csv": BOTH_ORDERS.encode(),
    "circuits-below.csv": ROWS_BELOW.encode(),
    "old-program-code-page-850.csv": OLD_PROGRAM.encode("cp850"),
    "letters-do-not-tell.csv": LETTERS_DO_NOT_TELL.encode("cp1252"),
    "picture-named-csv.csv": b"\x89PNG\r\n\x1a\n" + bytes(64),
    "sheet-one-row-a-task.csv": ONE_ROW_A_TASK.encode(),
    "wartungsplan-windows-1252.csv": WARTUNGSPLAN.encode("cp1252"),
    "sheet-column-a-task.csv": COLUMN_A_TASK.encode(),
    "tareas-por-columna.csv": TAREAS.encode(),
    "sheet-number-and-unit.csv": NUMBER_AND_UNIT.encode(),
    "sheet-without-units.csv": NO_UNIT.encode(),
    "sheet-molds-above.csv": SHEET_ROWS_BELOW.encode(),
    "sheet-same-task-twice.csv": SAME_TASK_TWICE.encode(),
    **KEPT_TEXTS,
}


def circuits_in_rows() -> openpyxl.Workbook:
    """A mold's cells merged over the rows of its circuits, under a merged title."""
    book = openpyxl.Workbook()
    sheet = book.active
    rows: list[list[Any]] = [
        ["Mold register", None, None, None],
        ["Mold", "Mass of halves", None, "Circuit"],
        [None, "A [lb]", "B [lb]", None],
        ["0417", 925.9, 1135.4, "A1"],
        [None, None, None, "A2"],
        [None, None, None, "B1"],
        ["0418", 1350.3, 1278.7, "A1"],
    ]
    for row in rows:
        sheet.append(row)
    sheet["A1"].font = Font(bold=True)
    for merged in ("A1:D1", "A2:A3", "B2:C2", "D2:D3", "A4:A6", "B4:B6", "C4:C6"):
        sheet.merge_cells(merged)
    return book


def cell_formats() -> openpyxl.Workbook:
    """Numbers shown with zeros they do not hold, units in formats, dates, a formula, an error."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Mold", "Mass A", "Mass B", "Cavities", "Life count", "As of", "Rack"])
    sheet.append(["0417", 420, 515, 8.0, 184250, date(2026, 3, 25), "B4-2"])
    sheet.append([418, 925, 1000.5, 4, 1204880, datetime.fromisoformat("2026-03-25 06:00"), "B4-3"])
    sheet.append(["0419", 100, 100, 2, "=E2+E3", "25.03.2026", "C1"])
    sheet.append(["0420", "#N/A", 100, 2, 5, date(2026, 3, 25), "C2"])
    sheet["A3"].number_format = "0000"
    sheet["B2"].number_format = sheet["C2"].number_format = '0 "kg"'
    sheet["B3"].number_format = sheet["C3"].number_format = '0.0 "lb"'
    sheet["B5"].data_type = "e"
    return book


def several_sheets() -> openpyxl.Workbook:
    """A register behind a sheet of notes and one of presses."""
    book = openpyxl.Workbook()
    book.active.title = "Notes"
    book.active.append(["Ask the press shop about rack C."])
    presses = book.create_sheet("Presses")
    presses.append(["Press", "Clamping force"])
    presses.append([3, 1200])
    register = book.create_sheet("Molds")
    register.append(["Mold", "Name", "Rack"])
    register.append(["0417", "Cap", "B4-2"])
    return book


def two_registers() -> openpyxl.Workbook:
    """Two halls, a sheet each."""
    book = openpyxl.Workbook()
    book.active.title = "Hall 1"
    book.active.append(["Mold", "Name", "Rack"])
    book.active.append(["0417", "Cap", "B4-2"])
    other = book.create_sheet("Hall 2")
    other.append(["Mold", "Name", "Rack"])
    other.append(["0418", "Housing", "B4-3"])
    return book


def sheet_with_pairs() -> openpyxl.Workbook:
    """A task over a pair of columns each, real dates, a day number, dates as text."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.append(["Werkzeug", "Entlüftung", None, "Auswerfer", None])
    sheet.append([None, "Intervall Schuss", "Zuletzt", "Intervall Monate", "Zuletzt bei Schuss"])
    sheet.append(["0417", 100000, date(2026, 3, 4), 6, 150250])
    sheet.append(["0418", 250000, "02.11.2025", 12, 1100000])
    sheet.append(["0419", 250000, 46085, None, None])
    for merged in ("A1:A2", "B1:C1", "D1:E1"):
        sheet.merge_cells(merged)
    return book


WORKBOOKS: dict[str, Callable[[], openpyxl.Workbook]] = {
    "circuits-in-rows.xlsx": circuits_in_rows,
    "cell-formats.xlsx": cell_formats,
    "register-behind-notes.xlsx": several_sheets,
    "two-registers.xlsx": two_registers,
    "sheet-with-pairs.xlsx": sheet_with_pairs,
    **KEPT_WORKBOOKS,
}


def saved(book: openpyxl.Workbook) -> bytes:
    """Bytes of a workbook, the result of its one formula saved as a spreadsheet would."""
    plain = io.BytesIO()
    book.save(plain)
    content = io.BytesIO()
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            part = old.read(name)
            for empty in (b"<v></v>", b"<v/>", b"<v />"):
                part = part.replace(b"<f>E2+E3</f>" + empty, b"<f>E2+E3</f><v>1389130</v>")
            new.writestr(name, part)
    return content.getvalue()


def write(folder: Path = FOLDER) -> None:
    """Write all files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in TEXTS.items():
        (folder / name).write_bytes(content)
    for name, make in WORKBOOKS.items():
        (folder / name).write_bytes(saved(make()))


if __name__ == "__main__":
    write()
