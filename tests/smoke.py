"""Make the demo plant in an empty folder, serve it as a plant would, and fetch its first page.

`python -m tests.smoke`. Everything that the page names is fetched too, and every answer must be
what a person would want to see.
"""

import os
import re
import signal
import socket
import subprocess
import sys
import tempfile
from http.client import HTTPConnection
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
TRIES = 600


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as listener:
        listener.bind(("127.0.0.1", 0))
        port: int = listener.getsockname()[1]
        return port


def fetch(port: int, path: str) -> tuple[int, str, str]:
    """Return the status, the place it sends to, and the text of a page."""
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    try:
        connection.request("GET", path)
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        return answer.status, answer.headers.get("Location", ""), text
    finally:
        connection.close()


def wait_for(server: subprocess.Popen[bytes], port: int) -> None:
    """Wait until the server listens; say so when it ended instead."""
    for _ in range(TRIES):
        if server.poll() is not None:
            raise SystemExit(f"The server ended with {server.returncode}.")
        with socket.socket() as caller:
            caller.settimeout(1)
            if caller.connect_ex(("127.0.0.1", port)) == 0:
                return
        try:
            server.wait(timeout=0.1)
        except subprocess.TimeoutExpired:
            continue
    raise SystemExit("The server did not begin to listen.")


def main() -> int:
    """Return 0 when the demo plant can be made, served and looked at."""
    with tempfile.TemporaryDirectory() as folder:
        kept = {name: value for name, value in os.environ.items() if "MOLDCARE" not in name}
        environment = {**kept, "MOLDCARE_DATA": folder}
        environment.pop("DATABASE_URL", None)
        product = [sys.executable, "manage.py"]
        for command in ("demo --no-serve", "verify_logbook", "collectstatic --no-input -v0"):
            subprocess.run([*product, *command.split()], cwd=ROOT, env=environment, check=True)
        port = free_port()
        said = Path(folder) / "said.txt"
        with said.open("wb") as out:
            server = subprocess.Popen(
                [*product, "demo", "--port", str(port)], cwd=ROOT, env=environment, stdout=out
            )
        try:
            wait_for(server, port)
            status, place, _ = fetch(port, "/")
            assert status == 302, f"the first page answered a stranger with {status}"
            status, _, text = fetch(port, place)
            assert status == 200, f"{place} answered {status}"
            named = sorted(set(re.findall(r'(?:src|href)="(/static/[^"]+)"', text)))
            assert named, "the page to sign in names no style sheet"
            for path in named:
                status, _, _ = fetch(port, path)
                assert status == 200, f"{path} answered {status}"
            assert fetch(port, "/nowhere/")[0] == 404
        finally:
            server.send_signal(signal.SIGTERM)
            server.wait(timeout=30)
        told = said.read_text()
        assert f"Open http://127.0.0.1:{port}/" in told, f"the command only said {told!r}"
        assert "Password of all of them" in told, f"the command only said {told!r}"
    print(f"The demo plant was made, verified and served; {len(named)} files came with its page.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
