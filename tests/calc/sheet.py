"""A workbook that says in formulas when rules are due, and what LibreOffice makes of it.

The formulas are written from the rules in words, and share nothing with the code they check.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from openpyxl import Workbook, load_workbook


@dataclass(frozen=True, kw_only=True)
class SheetRow:
    """One rule with a limit by count and a calendar limit, as somebody would type it.

    `factor` multiplies the interval by count; `unit` is day, week, month or year; `as_of` is the
    local wall time for which the state is asked. Empty cells take the defaults.
    """

    interval: int
    factor: float
    start_count: int
    count: int
    lead: int | None
    margin: int | None
    hard_limit: int | None
    period: int
    unit: str
    done_on: date
    anchor_on: date | None
    window_days: int | None
    as_of: datetime


@dataclass(frozen=True, kw_only=True)
class SheetAnswer:
    """What the recalculated row says."""

    soon_count: int
    due_count: int
    overdue_count: int
    past_limit_count: int | None
    due_on: date
    overdue_on: date
    state: str


INPUTS = tuple(SheetRow.__dataclass_fields__)

# Columns A to M are the inputs in their order; each formula may use those before it.
FORMULAS = {
    "N interval after factors": "=MAX(1,ROUNDDOWN(ROUND(A{r}*MAX(0.3,B{r}),6),0))",
    "O due soon at": '=C{r}+MAX(0,N{r}-IF(E{r}="",ROUNDUP(N{r}/10,0),E{r}))',
    "P due at": "=C{r}+N{r}",
    "Q overdue at": '=P{r}+IF(F{r}="",ROUNDUP(N{r}/10,0),F{r})',
    "R past limit at": '=IF(G{r}="","",C{r}+MAX(N{r},G{r}))',
    "S months in a period": '=IF(I{r}="month",H{r},IF(I{r}="year",12*H{r},0))',
    "T days in a period": '=IF(I{r}="day",H{r},IF(I{r}="week",7*H{r},0))',
    "U fixed date number": (
        '=IF(K{r}="","",IF(J{r}<K{r},0,IF(S{r}=0,INT((J{r}-K{r})/T{r})+1,'
        "INT(((YEAR(J{r})-YEAR(K{r}))*12+MONTH(J{r})-MONTH(K{r}))/S{r})"
        "+IF(EDATE(K{r},S{r}*INT(((YEAR(J{r})-YEAR(K{r}))*12+MONTH(J{r})-MONTH(K{r}))/S{r}))"
        "<=J{r},1,0))))"
    ),
    "V fixed date before": (
        '=IF(K{r}="","",IF(S{r}=0,K{r}+T{r}*(U{r}-1),EDATE(K{r},S{r}*(U{r}-1))))'
    ),
    "W fixed date ahead": '=IF(K{r}="","",IF(S{r}=0,K{r}+T{r}*U{r},EDATE(K{r},S{r}*U{r})))',
    "X fixed date after it": (
        '=IF(K{r}="","",IF(S{r}=0,K{r}+T{r}*(U{r}+1),EDATE(K{r},S{r}*(U{r}+1))))'
    ),
    "Y serves the one ahead": (
        '=IF(K{r}="",FALSE,W{r}-J{r}<=IF(L{r}="",ROUNDDOWN((W{r}-V{r})/5,0),L{r}))'
    ),
    "Z due on": ('=IF(K{r}="",IF(S{r}=0,J{r}+T{r},EDATE(J{r},S{r})),IF(Y{r},X{r},W{r}))'),
    "AA days in this period": '=Z{r}-IF(K{r}="",J{r},IF(Y{r},W{r},V{r}))',
    "AB due soon on": "=MIN(Z{r}-ROUNDDOWN(AA{r}/10,0),Z{r}-8/24)",
    "AC overdue on": "=Z{r}+ROUNDUP(AA{r}/10,0)",
    "AD state": (
        '=IF(AND(R{r}<>"",D{r}>=R{r}),"past_limit",'
        'IF(OR(D{r}>=Q{r},M{r}>=AC{r}),"overdue",'
        'IF(OR(D{r}>=P{r},M{r}>=Z{r}),"due",'
        'IF(OR(D{r}>=O{r},M{r}>=AB{r}),"due_soon","not_due"))))'
    ),
}


def write_due_sheet(rows: Sequence[SheetRow], path: Path) -> None:
    """Write one line of inputs and formulas a row, without any results."""
    book = Workbook()
    sheet = book.active
    sheet.title = "due"
    sheet.append([*INPUTS, *(name.split(" ", 1)[1] for name in FORMULAS)])
    for number, row in enumerate(rows, start=2):
        inputs = [getattr(row, name) for name in INPUTS]
        sheet.append([*inputs, *(formula.format(r=number) for formula in FORMULAS.values())])
    book.save(path)


def recalculate(path: Path) -> list[SheetAnswer]:
    """Let LibreOffice compute a workbook without a screen, and read the results."""
    program = shutil.which("soffice")
    if program is None:
        raise FileNotFoundError("LibreOffice (soffice) is not installed.")
    with tempfile.TemporaryDirectory() as scratch:
        profile = Path(scratch) / "profile"
        out = Path(scratch) / "out"
        subprocess.run(
            [
                program,
                "--headless",
                f"-env:UserInstallation={profile.as_uri()}",
                "--convert-to",
                "xlsx:Calc MS Excel 2007 XML",
                "--outdir",
                str(out),
                str(path),
            ],
            check=True,
            capture_output=True,
            timeout=300,
            env={**os.environ, "HOME": scratch},
        )
        sheet = load_workbook(out / path.name, data_only=True)["due"]
        lines = list(sheet.iter_rows(min_row=2, values_only=True))
    columns = {name.split(" ", 1)[1]: place for place, name in enumerate(FORMULAS, len(INPUTS))}
    return [
        SheetAnswer(
            soon_count=line[columns["due soon at"]],
            due_count=line[columns["due at"]],
            overdue_count=line[columns["overdue at"]],
            past_limit_count=line[columns["past limit at"]] or None,
            due_on=as_date(line[columns["due on"]]),
            overdue_on=as_date(line[columns["overdue on"]]),
            state=line[columns["state"]],
        )
        for line in lines
    ]


def as_date(value: datetime | float) -> date:
    """A date cell, also where the workbook shows it as the number of days it is."""
    if isinstance(value, datetime):
        return value.date()
    return date.fromordinal(date(1899, 12, 30).toordinal() + int(value))
