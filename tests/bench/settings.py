"""The product's settings for measuring: as durable as in production, data in a given folder."""

import os

for _name in [name for name in os.environ if name.startswith("MOLDCARE_")]:
    if _name != "MOLDCARE_BENCH_FOLDER":
        del os.environ[_name]
os.environ["MOLDCARE_DATA"] = os.environ.pop("MOLDCARE_BENCH_FOLDER")
os.environ["MOLDCARE_PLAIN_STATIC"] = "1"
os.environ["MOLDCARE_LOG"] = "ERROR"
os.environ["MOLDCARE_SECRET_KEY"] = "a key of the measurements, which guards nothing at all"

from moldcare.settings import *  # noqa: E402, F403
from moldcare.settings import STATIC_ROOT  # noqa: E402

# what serves static files wants the folder of collected ones, even where it looks elsewhere first
STATIC_ROOT.mkdir(exist_ok=True)
