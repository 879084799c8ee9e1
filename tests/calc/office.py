"""Opening a file in LibreOffice without a screen, and saving it as another."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

FILTERS = {"xlsx": "xlsx:Calc MS Excel 2007 XML"}


def converted(path: Path, *, to: str, folder: Path) -> Path:
    """The file as LibreOffice opens it, every formula worked out, in another form."""
    program = shutil.which("soffice")
    if program is None:
        raise FileNotFoundError("LibreOffice (soffice) is not installed.")
    with tempfile.TemporaryDirectory() as scratch:
        subprocess.run(
            [
                program,
                "--headless",
                f"-env:UserInstallation={(Path(scratch) / 'profile').as_uri()}",
                # comma, quotation mark, UTF-8, from the first line on
                *(["--infilter=CSV:44,34,76,1"] if path.suffix == ".csv" else []),
                "--convert-to",
                FILTERS[to],
                "--outdir",
                str(folder),
                str(path),
            ],
            check=True,
            capture_output=True,
            timeout=300,
            env={**os.environ, "HOME": scratch},
        )
    return folder / f"{path.stem}.{to}"
