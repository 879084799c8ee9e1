"""Write the example files of `fixtures/readings`: invented readings as plants keep them.

Run it from the project's root: ``python tests/feeds/tables/make_examples.py``. Text files come out
the same to the byte; workbooks the same in content.
"""

import io
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.styles import Font

FOLDER = Path(__file__).resolve().parents[3] / "fixtures" / "readings"

SHIFT_ROUND = """\
mold,counter,read at,reading,press,read by,note
0001,C-0001,2026-04-13 05:55,"312,440",press 3,AKO,
0002,C-0002,2026-04-13 05:58,"88,215",press 4,AKO,"runs slow, water low"
0003,C-0003,2026-04-13 06:02,"1,204,880",press 7,AKO,
0001,C-0001,2026-04-13 13:54,"313,265",press 3,RBE,
0002,C-0002,2026-04-13 13:57,"88,870",press 4,RBE,
0003,C-0003,2026-04-13 14:01,"1,206,120",press 7,RBE,
"""

SCHICHTRUNDE = """\
Schichtrunde Spritzerei;;;;;;
Woche 16, Frühschicht;;;;;;
;;;;;;
Werkzeug-Nr.;Datum;Uhrzeit;Zählerstand;Maschine;Abgelesen von;Bemerkung
0001;13.04.2026;05:55;312.440;3;Köhler;Düse getauscht, läuft
0002;13.04.2026;05:58;88.215;4;Köhler;
0003;13.04.2026;06:02;1.204.880;7;Köhler;Gehäuse, 4 µm Grat
0004;13.04.2026;06:05;9.980;8;Köhler;
;;;;;;
0001;13.04.2026;13:54;313.265;3;Beyer;
0002;13.04.2026;13:57;ca. 88.900;4;Beyer;Glas blind, geschätzt
0003;13.04.2026;14:01;1.206.120;7;Beyer;
0004;13.04.2026;14:04;;8;Beyer;steht
Summe;;;3.323.800;;;
"""

RONDA = """\
Molde;Fecha y hora;Lectura del contador;Máquina;Leído por;Observaciones
0001;13/04/2026 05:55;312\u00a0440;3;Núñez;
0002;13/04/2026 05:58;88\u00a0215;4;Núñez;falta agua, avisado
0003;13/04/2026 06:02;1\u202f204\u202f880;7;Núñez;
"""

WEEKLY = """\
Weekly counters;;;;;
Tool room;;;;;
;;;;;
Date;Mold 0001;Mold 0002;Mold 0003;Mold 0004;Total
2026-03-30;298120;80040;1182300;4100;1564560
2026-04-06;305310;84120;;7050;396480
2026-04-13;312440;88215;1204880;9980;1615515
;;;;;
Total;915870;252375;2387180;21130;3576555
"""

UNICODE_TEXT = """\
Mold\tDate\tTime\tReading\tNote
0001\t2026-04-13\t05:55\t312440\tGrünspan am Anguß
0002\t2026-04-13\t05:58\t88215\t
0003\t2026-04-13\t06:02\t1204880\t
"""

WITH_MARK = """\
mold;reading;at
0001;312440;2026-04-13T05:55:00+02:00
0002;88215;2026-04-13T05:58:00+02:00
"""

SWISS = """\
Werkzeug;Datum;Zeit;Stand
0001;13.4.2026;5:55;312'440
0002;13.4.2026;5:58;88'215
0003;13.4.2026;6:02;1’204’880
"""

DAY_OR_MONTH = """\
mold,date,time,reading
0001,03/04/2026,06:00,312440
0002,03/04/2026,06:05,88215
0001,04/04/2026,06:00,315010
0002,04/04/2026,06:05,90440
"""

TWO_ORDERS = """\
mold,date,time,reading
0001,26/06/2026,06:00,312440
0002,06/26/2026,06:05,88215
"""

MIXED_SIGNS = """\
mold;at;reading
0001;2026-04-13 06:00;1.234
0001;2026-04-13 14:00;1.5
0001;2026-04-13 22:00;1240
"""

TURNS = """\
mold,at,reading,note
0001,2026-04-13 06:00,312440,
0001,2026-04-13 14:00,313265,
0001,2026-04-13 14:00,313265,written twice
0001,2026-04-13 22:00,31410,a figure is missing
0001,2026-04-14 06:00,914920,jumps
0001,2026-04-14 14:00,315700,
0001,2026-04-14 14:00,315770,same minute and another value
0002,2026-04-14 22:00,99990,
0002,2026-04-15 06:00,640,went past its last number
"""

CLOCK_CHANGE = """\
mold;at;reading
0001;2026-10-25 01:50;400100
0001;2026-10-25 02:40;400200
0001;2026-10-25 02:20;400280
0001;2026-10-25 03:10;400380
0002;2026-10-25 02:30;77000
0003;2026-03-29 02:30;1200000
0004;2026-03-29 03:30;4000
"""

ODD_VALUES = """\
mold;at;reading
0001;2026-04-13 06:00;ca. 313000
0002;2026-04-13 06:00;~88215
0003;2026-04-13 06:00;1.217.40
0004;2026-04-13 06:00;
0001;2026-04-13 14:00;-5
0002;2026-04-13 14:00;n/a
9999;2026-04-13 14:00;100
;2026-04-13 14:00;100
1.20E+06;2026-04-13 14:00;100
0003;;1206120
0003;2026-02-30 06:00;1206120
0004;2026-04-13 26:00;9980
"""

UNSEEN_BLANKS = (
    "mold;at;reading \n"
    "0001 ;2026-04-13 06:00;312440\n"
    "\u00a00001;2026-04-13 06:00; 312440\n"
    "0001\u200b;2026-04-13 06:00;312440\u00a0\n"
)

BROKEN_LETTER = (
    "mold;at;reading;note\n"
    "0001;2026-04-13 06:00;312440;Gehäuse\n"
    "0002;2026-04-13 06:00;88215;Düse\n"
    "0003;2026-04-13 06:00;1204880;"
)

TEXTS: dict[str, bytes] = {
    "shift-round.csv": SHIFT_ROUND.encode(),
    "schichtrunde-windows-1252.csv": SCHICHTRUNDE.replace("\n", "\r\n").encode("cp1252"),
    "ronda-de-turno.csv": RONDA.encode("utf-8-sig"),
    "weekly-one-column-a-mold.csv": WEEKLY.encode(),
    "unicode-text.txt": UNICODE_TEXT.replace("\n", "\r\n").encode("utf-16"),
    "with-byte-order-mark.csv": WITH_MARK.encode("utf-8-sig"),
    "swiss-apostrophes.csv": SWISS.encode(),
    "day-or-month.csv": DAY_OR_MONTH.encode(),
    "both-orders-of-date.csv": TWO_ORDERS.encode(),
    "mixed-points.csv": MIXED_SIGNS.encode(),
    "backwards-jumps-repeats.csv": TURNS.encode(),
    "clock-change.csv": CLOCK_CHANGE.encode(),
    "odd-values.csv": ODD_VALUES.encode(),
    "blanks-one-cannot-see.csv": UNSEEN_BLANKS.encode(),
    "broken-letter.csv": BROKEN_LETTER.encode() + b"gepr\xfcft\n",
    "one-column.csv": b"mold\n0001\n0002\n0003\n",
    "empty.csv": b"",
    "report-named-csv.csv": b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<<>>\nendobj\n",
}


def cell_formats() -> openpyxl.Workbook:
    """Numbers shown through formats, real dates, a merged title, what spreadsheets spoil."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "Counters"
    sheet["A1"] = "Counter readings, press shop"
    sheet["A1"].font = Font(bold=True)
    sheet.merge_cells("A1:D1")
    rows: list[list[Any]] = [
        [],
        ["Mold", "Read at", "Reading", "Note"],
        ["0041", datetime.fromisoformat("2026-04-13 05:55"), 312440, "mold as text"],
        [41, datetime.fromisoformat("2026-04-13 05:58"), 88215, "41 shown as 0041"],
        [2, datetime.fromisoformat("2026-04-13 06:02"), 1204880.0, None],
        [4501234567890123, datetime.fromisoformat("2026-04-13 06:05"), 9980, "more than 15 digits"],
        [1200000, datetime.fromisoformat("2026-04-13 06:07"), 100, "was 12E5 once"],
        ["0003", datetime.fromisoformat("2026-04-13 06:09"), 12455.5, "not whole"],
        [
            "0003",
            datetime.fromisoformat("2026-04-13 14:00"),
            "=C9+10",
            "formula without a saved result",
        ],
        ["0004", datetime.fromisoformat("2026-04-13 06:12"), 100, "two readings of one mold"],
        [None, datetime.fromisoformat("2026-04-13 14:12"), 900, None],
    ]
    for row in rows:
        sheet.append(row)
    for row in range(4, 13):
        sheet.cell(row, 2).number_format = "dd.mm.yyyy hh:mm"
        sheet.cell(row, 3).number_format = "#,##0"
    sheet["A5"].number_format = "0000"
    sheet["A6"].number_format = "0000"
    sheet["A8"].number_format = "0.00E+00"
    sheet.merge_cells("A11:A12")
    return workbook


def weekly_workbook() -> openpyxl.Workbook:
    """One column a mold, days without a time, totals, and a second sheet."""
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    sheet.title = "2026"
    sheet["A1"] = "Wochenstände"
    sheet.merge_cells("A1:D1")
    for row in (
        ["Datum", "0001", "0002", "0003", "Summe"],
        [datetime.fromisoformat("2026-03-30"), 298120, 80040, 1182300, 1560460],
        [datetime.fromisoformat("2026-04-06"), 305310, 84120, None, 389430],
        [datetime.fromisoformat("2026-04-13"), 312440, 88215, 1204880, 1605535],
        ["Summe", 915870, 252375, 2387180, 3555425],
    ):
        sheet.append(row)
    for row in range(3, 6):
        sheet.cell(row, 1).number_format = "dd.mm.yyyy"
    other = workbook.create_sheet("2025")
    other.append(["Datum", "0001"])
    other.append([datetime.fromisoformat("2025-12-29"), 240000])
    return workbook


WORKBOOKS = {
    "cell-formats.xlsx": cell_formats,
    "weekly-workbook.xlsx": weekly_workbook,
}


def main() -> None:
    """Write every example file."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, content in TEXTS.items():
        (FOLDER / name).write_bytes(content)
    for name, make in WORKBOOKS.items():
        packed = io.BytesIO()
        make().save(packed)
        (FOLDER / name).write_bytes(packed.getvalue())


if __name__ == "__main__":
    main()
