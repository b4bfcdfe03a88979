"""Running the application under uvicorn, so that it goes down quickly whatever is open."""

import functools
import gc
import threading
from types import FrameType

import uvicorn
from litestar import Litestar

from coatledger_api.connections import Connection
from coatledger_api.service import Service
from coatledger_api.settings import Settings

# New objects before the young are looked through, then how many such rounds before older ones.
COLLECT_AFTER = (10_000, 20, 100)


class Server(uvicorn.Server):
    """A server that ends its open streams when it is told to stop.

    uvicorn waits for every connection before it closes the application, and a stream has no end.
    """

    def __init__(self, config: uvicorn.Config, service: Service) -> None:
        super().__init__(config)
        self._service = service

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop; a second signal does not wait any longer."""
        super().handle_exit(sig, frame)
        self._service.close_streams()

    async def startup(self, sockets: list[object] | None = None) -> None:  # type: ignore[override]
        """Begin to serve; a server that has the process to itself also tunes its collector, and
        keeps its memory free of a compiler."""
        await super().startup(sockets)  # type: ignore[arg-type]
        alone = threading.current_thread() is threading.main_thread()
        self._service.simulations.warm(apart=alone)
        if alone:
            quiet_collector()

    async def shutdown(self, sockets: list[object] | None = None) -> None:  # type: ignore[override]
        """Let streams end first, also when nobody sent a signal."""
        self._service.close_streams()
        await super().shutdown(sockets)  # type: ignore[arg-type]


def quiet_collector() -> None:
    """Leave what was imported out of every later collection, and collect less often.

    A collection stops every request for as long as it looks through all objects. What a request
    leaves behind is freed by counting references; cycles are rare and can wait.
    """
    gc.collect()
    gc.freeze()
    gc.set_threshold(*COLLECT_AFTER)


def server_of(app: Litestar, host: str, port: int, settings: Settings) -> Server:
    """Make the server of an application; `run()` serves until it is told to stop."""
    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        http=functools.partial(Connection, settings),  # type: ignore[arg-type]
        ws="none",
        log_level="warning",
        access_log=False,
        log_config=None,
        server_header=False,
        timeout_graceful_shutdown=settings.shutdown_s,
    )
    return Server(config, app.state.service)
