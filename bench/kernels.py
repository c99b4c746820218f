"""One kernel kept ready: a page that is opened need not wait until Python and its libraries have started.

To start a kernel and load what the panels need takes two to four seconds of the wait for a page.  The
server therefore starts one before anybody asks, hands it to the next page, and starts another when that
page has had time to run.
"""

from __future__ import annotations

import asyncio
from typing import Any

from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from jupyter_server.utils import ApiPath
from tornado.ioloop import IOLoop
from traitlets import Float


class ReadyKernels(AsyncMappingKernelManager):
    """Hands out a kernel that was started beforehand; without one, starts it as usual.

    All notebooks of the workbook stand in one folder, so a kernel that was started there serves any.
    """

    rest_s = Float(10.0, help="Seconds that a page has the machine to itself before the next is readied.")

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self._ready: tuple[str, asyncio.Task[str]] | None = None  # its name, and its start
        IOLoop.current().call_later(0, self._ready_one)

    def _ready_one(self) -> None:
        if self._ready is None:
            name = self.new_kernel_id()
            start = super()._async_start_kernel(kernel_id=name, path=ApiPath(""))
            self._ready = (name, asyncio.create_task(start))

    async def _async_start_kernel(self, *, kernel_id: str | None = None, **asked: Any) -> str:
        """Give the kernel that is ready, if any kernel will do; else start one."""
        if kernel_id or asked.get("kernel_name") not in (None, self.default_kernel_name):
            return str(await super()._async_start_kernel(kernel_id=kernel_id, **asked))
        IOLoop.current().call_later(self.rest_s, self._ready_one)
        return await self._take_ready() or str(await super()._async_start_kernel(**asked))

    start_kernel = _async_start_kernel  # type: ignore[assignment]  # the server calls it by this name

    async def _take_ready(self) -> str:
        """Take the kernel that is ready, or nearly; an empty name if there is none that lives."""
        if self._ready is None:
            return ""
        (name, start), self._ready = self._ready, None
        try:
            await start
            if await self.is_alive(name):
                return name
            self.stop_watching_activity(name)
            self.remove_kernel(name)
        except Exception:
            self.log.exception("The kernel kept ready did not start")
        return ""

    def list_kernels(self) -> list[dict[str, Any]]:
        """List the kernels that somebody uses."""
        hidden = self._ready[0] if self._ready else ""
        return [kernel for kernel in super().list_kernels() if kernel["id"] != hidden]
