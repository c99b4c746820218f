"""The kernel kept ready: handed out once, replaced when it died, and never in the way.

Kernels are stand-ins here; ``tests/browser/test_launcher.py`` looks at a real one.
"""

import asyncio
from concurrent.futures import ThreadPoolExecutor

import pytest
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager

from bench.kernels import ReadyKernels


@pytest.fixture
def dead(monkeypatch):
    """Let the server start stand-ins; the set that is given names those that do not live."""
    gone = set()

    async def start(self, *, kernel_id=None, **asked):
        name = kernel_id or f"started {len(self._kernels)}"
        await asyncio.sleep(0.01)
        self._kernels[name] = asked
        return name

    async def is_alive(self, name):
        return name not in gone

    monkeypatch.setattr(AsyncMappingKernelManager, "_async_start_kernel", start)
    monkeypatch.setattr(AsyncMappingKernelManager, "is_alive", is_alive)
    monkeypatch.setattr(AsyncMappingKernelManager, "stop_watching_activity", lambda self, name: None)
    monkeypatch.setattr(
        AsyncMappingKernelManager, "remove_kernel", lambda self, name: self._kernels.pop(name)
    )
    monkeypatch.setattr(
        AsyncMappingKernelManager, "list_kernels", lambda self: [{"id": name} for name in self._kernels]
    )
    return gone


def run(check, rest_s=60.0):
    async def inside():
        kernels = ReadyKernels(rest_s=rest_s)
        await wait_until_ready(kernels)
        await check(kernels, kernels._ready[0])

    with ThreadPoolExecutor(1) as other:  # the browser's tests leave a loop running in this thread
        other.submit(lambda: asyncio.run(inside())).result()


async def wait_until_ready(kernels):
    while kernels._ready is None or not kernels._ready[1].done():
        await asyncio.sleep(0.01)


def named(kernels):
    return [kernel["id"] for kernel in kernels.list_kernels()]


@pytest.mark.usefixtures("dead")
def test_the_ready_kernel_is_nobodys_until_it_is_handed_out():
    async def check(kernels, ready):
        assert named(kernels) == []
        assert await kernels.start_kernel(path="", kernel_name="python3") == ready
        assert named(kernels) == [ready]
        assert await kernels.start_kernel(path="") != ready, "a kernel was handed out twice"

    run(check)


@pytest.mark.usefixtures("dead")
def test_who_is_quick_waits_for_the_one_that_is_starting():
    async def check(kernels, ready):
        await kernels.start_kernel(path="")
        kernels._ready_one()
        starting = kernels._ready[0]
        assert await asyncio.gather(kernels.start_kernel(path=""), kernels.start_kernel(path="")) == [
            starting,
            "started 1",
        ]

    run(check)


def test_a_kernel_that_died_meanwhile_is_not_handed_out(dead):
    async def check(kernels, ready):
        dead.add(ready)
        given = await kernels.start_kernel(path="")
        assert given != ready
        assert named(kernels) == [given]

    run(check)


@pytest.mark.usefixtures("dead")
def test_who_asks_for_a_certain_kernel_gets_that():
    async def check(kernels, ready):
        assert await kernels.start_kernel(kernel_id="mine", path="") == "mine"
        assert await kernels.start_kernel(kernel_name="another language", path="") == "started 2"
        assert kernels._ready[0] == ready, "the ready one waits on"

    run(check)


@pytest.mark.usefixtures("dead")
def test_another_is_readied_after_a_rest():
    async def check(kernels, ready):
        given = [await kernels.start_kernel(path="")]
        for _ in range(2):
            await wait_until_ready(kernels)
            given.append(await kernels.start_kernel(path=""))
        assert given[0] == ready
        assert len(set(given)) == 3

    run(check, rest_s=0.02)
