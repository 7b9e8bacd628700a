"""The page served: uvicorn in a thread of its own, on a socket that listens, patient only so far."""

import asyncio
import socket
import sys
import threading
from collections.abc import Callable

import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from heatmap.page import tuning

#: A tap passes between threads a dozen times, while the map is worked on in another; each time it may wait so long for
#: its turn [s]. Python's own 5 ms make a tenth of a second of it (tests/benchmarks/page.py).
_SWITCH_S = 0.0005


def serve(app: ASGIApp, listening: socket.socket) -> Callable[[], None]:
    """Serve an application on a socket from now on; return what ends every connection and closes the socket."""
    config = uvicorn.Config(
        app,
        http=_Patient,
        backlog=100,  # no more are taken up before any over the limit are hung up
        ws="none",
        lifespan="off",
        access_log=False,
        log_config=None,
        log_level="critical",  # nothing of it is for a cook
        server_header=False,
        date_header=False,
        proxy_headers=False,
        timeout_keep_alive=int(tuning.PATIENCE_S),
        timeout_graceful_shutdown=1,
        h11_max_incomplete_event_size=16 * 1024,
    )
    server = uvicorn.Server(config)
    running = threading.Thread(target=lambda: asyncio.run(server.serve([listening])), daemon=True, name="page")
    sys.setswitchinterval(_SWITCH_S)
    running.start()

    def end() -> None:
        server.should_exit = True
        running.join(3.0)
        listening.close()

    return end


class _Patient(H11Protocol):
    """A connection that is given up where its request does not come in time, or where there are too many."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for a request."""
        super().connection_made(transport)
        if len(self.connections) > tuning.MOST_CONNECTIONS:  # held, they would take the files a log needs
            transport.abort()
            return
        self._late = self.loop.call_later(tuning.PATIENCE_S, transport.abort)

    def data_received(self, data: bytes) -> None:
        """Wait on while a request is not whole, and no longer than for a first one."""
        super().data_received(data)
        if self.cycle is not None and not self.cycle.response_complete:
            if self._late is not None:
                self._late.cancel()
            self._late = None
        elif self._late is None and not self.transport.is_closing():
            self._late = self.loop.call_later(tuning.PATIENCE_S, self.transport.abort)
