"""The product's settings with throw-away data, fast hashes and plain static files."""

import atexit
import os
import shutil
import tempfile
from pathlib import Path


def _throw_away_folder() -> Path:
    """Return a folder of this process; processes that it starts find the same one by name."""
    given = os.environ.get("MOLDCARE_TESTS_FOLDER")
    if given is None:
        given = os.environ["MOLDCARE_TESTS_FOLDER"] = tempfile.mkdtemp(prefix="moldcare-tests-")
        atexit.register(shutil.rmtree, given, ignore_errors=True)
    folder = Path(given) / os.environ.get("PYTEST_XDIST_WORKER", "main")
    folder.mkdir(parents=True, exist_ok=True)
    return folder


for _name in [name for name in os.environ if name.startswith("MOLDCARE_")]:
    if not _name.startswith(("MOLDCARE_TESTS_", "MOLDCARE_NO_SKIPS")):
        del os.environ[_name]
os.environ["MOLDCARE_DATA"] = str(_throw_away_folder())
os.environ["MOLDCARE_PLAIN_STATIC"] = "1"
os.environ["MOLDCARE_SECRET_KEY"] = "the tests' own key, which guards nothing at all anywhere"
# Playwright's own event loop runs in the thread of the test; Django would refuse queries there
os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"

from moldcare.settings import *  # noqa: E402, F403
from moldcare.settings import DATA_DIR, DATABASES, STATIC_ROOT  # noqa: E402

# what serves static files wants the folder of collected ones, even where it looks elsewhere first
STATIC_ROOT.mkdir(exist_ok=True)

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# each request of a live server opens its own connection, so a copy can be thrown away after a test
DATABASES["default"]["CONN_MAX_AGE"] = 0
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    # a file, not memory: threads and processes of a test must see one database
    DATABASES["default"]["TEST"] = {"NAME": str(DATA_DIR / "test.sqlite3")}
    _options = DATABASES["default"]["OPTIONS"]
    _options["init_command"] = _options["init_command"].replace(
        "synchronous=FULL", "synchronous=OFF"
    )
