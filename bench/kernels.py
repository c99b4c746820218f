"""One kernel kept ready: a page that is opened need not wait until Python and its libraries have started.

To start a kernel and load what the panels need takes two to four seconds of the wait for a page.  The
server therefore starts one before anybody asks, hands it to the next page, and starts another once the
pages have come to rest.
"""

from __future__ import annotations

import asyncio
import os
from typing import Any

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import ApiPath
from tornado.ioloop import IOLoop
from tornado.web import HTTPError
from traitlets import Float, TraitError

from bench.warm import AHEAD

_LOOKS = 6


class ReadyKernels(AsyncMappingKernelManager):
    """Hands out a kernel that was started beforehand; without one, starts it as usual.

    All notebooks of the workbook stand in one folder, so a kernel that was started there serves any.
    """

    quiet_s = Float(3.0, help="Seconds that no page may be at work before the next kernel is readied.")

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self._ready: tuple[str, asyncio.Task[str]] | None = None  # its name, and its start
        self._next: asyncio.Task[None] | None = None  # waits for the pages to come to rest
        IOLoop.current().call_later(0, self._ready_one)

    def _ready_one(self) -> None:
        """Start the kernel that loads everything ahead; one that somebody waits for loads what it needs."""
        if self._ready is None:
            name = self.new_kernel_id()
            ahead = {**os.environ, AHEAD: "yes"}
            start = super()._async_start_kernel(kernel_id=name, path=ApiPath(""), env=ahead)
            self._ready = (name, asyncio.create_task(start))

    async def _ready_one_later(self) -> None:
        """Ready the next once no kernel has had work for a while: a page that runs is not slowed."""
        quiet = 0
        while quiet < _LOOKS:
            await asyncio.sleep(self.quiet_s / _LOOKS)
            quiet = 0 if self._is_at_work() else quiet + 1
        self._ready_one()

    def _is_at_work(self) -> bool:
        states = {getattr(kernel, "execution_state", "") for kernel in self._kernels.values()}
        return bool(states & {"busy", "starting"})

    async def _async_start_kernel(self, *, kernel_id: str | None = None, **asked: Any) -> str:
        """Give the kernel that is ready, if any kernel will do; else start one."""
        if kernel_id or asked.get("kernel_name") not in (None, self.default_kernel_name):
            return str(await super()._async_start_kernel(kernel_id=kernel_id, **asked))
        given = await self._take_ready() or str(await super()._async_start_kernel(**asked))
        if self._next is None or self._next.done():
            self._next = asyncio.create_task(self._ready_one_later())
        return given

    start_kernel = _async_start_kernel  # type: ignore[assignment]  # the server calls it by this name

    async def _take_ready(self) -> str:
        """Take the kernel that is ready, or nearly; an empty name if there is none that lives."""
        if self._ready is None:
            return ""
        (name, start), self._ready = self._ready, None
        try:
            await asyncio.shield(start)  # who asked may go away; the start goes on
            if await self.is_alive(name):
                return name
            self.stop_watching_activity(name)
            self.remove_kernel(name)
        except Exception:
            self.log.exception("The kernel kept ready did not start")
        return ""

    def list_kernels(self) -> list[dict[str, Any]]:
        """List the kernels that somebody uses; one that is starting has nothing to tell yet."""
        hidden = self._ready[0] if self._ready else ""
        found = []
        for name in self.list_kernel_ids():
            if name == hidden:
                continue
            try:
                found.append(self.kernel_model(name))
            except (HTTPError, KeyError, TraitError):
                continue
        return found
