"""A network that fails in every way that wifi in a hall does: a proxy on loopback with a mode.

It hands bytes on between a browser and a server. The browser knows only the proxy's address, so
that what it keeps belongs to one origin, whatever happens behind it.
"""

import asyncio
import re
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import StrEnum

FOREIGN_PAGE = b"<!doctype html><html><title>Guest wifi</title><h1>Sign in to the wifi</h1></html>"


class Net(StrEnum):
    """What the network does."""

    GOOD = "good"
    REFUSED = "refused"
    RESET = "reset"
    HOLE = "hole"
    CUT = "cut"
    FOREIGN = "foreign"
    SLOW = "slow"


BUSY = b"HTTP/1.1 503 Busy\r\nContent-Length: 0\r\nConnection: close\r\n\r\n"


class Asked:
    """What a browser asked for last on a connection."""

    hand_in = ""

    def note(self, data: bytes) -> None:
        """Read the head of a request, where one begins."""
        if not data.startswith((b"GET ", b"POST ", b"HEAD ")):
            return
        head = data.partition(b"\r\n\r\n")[0].lower()
        found = re.search(rb"\r\nx-outbox: ([0-9a-f-]{36})", head)
        self.hand_in = found[1].decode() if found else ""


class FaultyProxy:
    """A network between one browser and one server; `net` may be set at any time.

    `busy` says how often an entry, by its UUID, is answered with 503 before it gets through.
    """

    def __init__(self, up: int) -> None:
        self.up = up
        self.port = 0
        self.lag_s = 0.3
        self.cuts = 0
        self.busy: dict[str, int] = {}
        self._net = Net.GOOD
        self._open: set[asyncio.StreamWriter] = set()
        self._loop = asyncio.new_event_loop()
        self._changed = asyncio.Event()
        self._ready = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    @property
    def url(self) -> str:
        """The address that the browser is given."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def net(self) -> Net:
        """What the network does now."""
        return self._net

    @net.setter
    def net(self, net: Net) -> None:
        done = threading.Event()

        def change() -> None:
            self._net = net
            self._changed.set()
            self._changed = asyncio.Event()
            if net in (Net.RESET, Net.REFUSED):
                for writer in list(self._open):
                    writer.transport.abort()
            done.set()

        self._loop.call_soon_threadsafe(change)
        done.wait(5)

    def start(self) -> None:
        """Begin to listen."""
        self._thread.start()
        self._ready.wait(5)

    def stop(self) -> None:
        """Close everything."""
        self.net = Net.REFUSED
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(5)

    def _run(self) -> None:
        asyncio.set_event_loop(self._loop)
        server = self._loop.run_until_complete(asyncio.start_server(self._met, "127.0.0.1", 0))
        self.port = server.sockets[0].getsockname()[1]
        self._ready.set()
        self._loop.run_forever()
        server.close()
        # what is cut off here is cut off on purpose
        self._loop.set_exception_handler(lambda _loop, _context: None)
        left = asyncio.all_tasks(self._loop)
        for task in left:
            task.cancel()
        self._loop.run_until_complete(asyncio.gather(*left, return_exceptions=True))
        self._loop.close()

    async def _met(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self._open.add(writer)
        try:
            if self._net is Net.REFUSED:
                writer.transport.abort()
                return
            if self._net is Net.FOREIGN:
                await self._foreign(reader, writer)
                return
            back, up = await asyncio.open_connection("127.0.0.1", self.up)
            asked = Asked()
            await asyncio.gather(
                self._pump(reader, up, other=writer, asked=asked, is_reply=False),
                self._pump(back, writer, other=writer, asked=asked, is_reply=True),
            )
        except OSError:
            writer.transport.abort()
        finally:
            self._open.discard(writer)

    async def _pump(
        self,
        source: asyncio.StreamReader,
        sink: asyncio.StreamWriter,
        *,
        other: asyncio.StreamWriter,
        asked: "Asked",
        is_reply: bool,
    ) -> None:
        with suppress(OSError):
            while data := await source.read(65536):
                if not is_reply:
                    asked.note(data)
                while self._net is Net.HOLE:
                    await self._changed.wait()
                if self._net is Net.SLOW:
                    # late, or until the network becomes another
                    with suppress(TimeoutError):
                        await asyncio.wait_for(self._changed.wait(), self.lag_s)
                if self._net is Net.FOREIGN and not is_reply:
                    # a connection that was open when the wifi began to ask for a name
                    await self._answer(other)
                    break
                if not is_reply and self.busy.get(asked.hand_in, 0):
                    self.busy[asked.hand_in] -= 1
                    other.write(BUSY)
                    await other.drain()
                    other.close()
                    break
                # what is cut is the answer to what was handed in, once the server has written it
                is_cut = self._net is Net.CUT and is_reply and bool(asked.hand_in)
                self.cuts += is_cut
                if is_cut or self._net in (Net.RESET, Net.REFUSED):
                    other.transport.abort()
                    break
                sink.write(data)
                await sink.drain()
        sink.close()

    async def _foreign(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        head = await reader.readuntil(b"\r\n\r\n")
        if head.startswith(b"GET"):
            writer.write(
                b"HTTP/1.1 302 Found\r\nLocation: /wifi/sign-in\r\nContent-Length: 0\r\n"
                b"Connection: close\r\n\r\n"
                if b"/wifi/" not in head.split(b"\r\n")[0]
                else self._page()
            )
            await writer.drain()
            writer.close()
        else:
            await self._answer(writer)

    async def _answer(self, writer: asyncio.StreamWriter) -> None:
        writer.write(self._page())
        await writer.drain()
        writer.close()

    @staticmethod
    def _page() -> bytes:
        head = (
            b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nConnection: close\r\n"
            b"Content-Length: %d\r\n\r\n" % len(FOREIGN_PAGE)
        )
        return head + FOREIGN_PAGE


@contextmanager
def faulty_net(up: int) -> Iterator[FaultyProxy]:
    """A network in front of the server on the port."""
    proxy = FaultyProxy(up)
    proxy.start()
    try:
        yield proxy
    finally:
        proxy.stop()
