"""The kernel kept ready: handed out once, replaced when it died, and never in the way.

Kernels are stand-ins here; ``tests/browser/test_launcher.py`` looks at a real one.
"""

import asyncio
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from traitlets import TraitError

from bench.kernels import ReadyKernels
from bench.warm import AHEAD

pytestmark = pytest.mark.slow

LOADED = """
import sys
from bench import warm
warm.load_ipython_extension(None)
print("bench.panels.pressing" in sys.modules)
"""


@pytest.fixture
def dead(monkeypatch):
    """Let the server start stand-ins; the set that is given names those that do not live."""
    gone = set()

    async def start(self, *, kernel_id=None, **asked):
        name = kernel_id or f"started {len(self._kernels)}"
        await asyncio.sleep(0.01)
        self._kernels[name] = SimpleNamespace(execution_state="idle", **asked)
        return name

    async def is_alive(self, name):
        return name not in gone

    def model(self, name):
        if self._kernels[name].execution_state == "starting":
            raise TraitError("last_activity expected a datetime, not None")
        return {"id": name}

    monkeypatch.setattr(AsyncMappingKernelManager, "_async_start_kernel", start)
    monkeypatch.setattr(AsyncMappingKernelManager, "is_alive", is_alive)
    monkeypatch.setattr(AsyncMappingKernelManager, "stop_watching_activity", lambda self, name: None)
    monkeypatch.setattr(
        AsyncMappingKernelManager, "remove_kernel", lambda self, name: self._kernels.pop(name)
    )
    monkeypatch.setattr(AsyncMappingKernelManager, "kernel_model", model)
    return gone


def run(check, quiet_s=60.0):
    async def inside():
        kernels = ReadyKernels(quiet_s=quiet_s)
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
def test_another_is_readied_once_the_pages_have_come_to_rest():
    async def check(kernels, ready):
        given = [await kernels.start_kernel(path="")]
        for _ in range(2):
            await wait_until_ready(kernels)
            given.append(await kernels.start_kernel(path=""))
        assert given[0] == ready
        assert len(set(given)) == 3

    run(check, quiet_s=0.02)


@pytest.mark.usefixtures("dead")
def test_while_a_page_is_at_work_nothing_is_readied():
    async def check(kernels, ready):
        given = await kernels.start_kernel(path="")
        kernels._kernels[given].execution_state = "busy"
        await asyncio.sleep(0.2)
        assert kernels._ready is None
        kernels._kernels[given].execution_state = "idle"
        await wait_until_ready(kernels)

    run(check, quiet_s=0.02)


@pytest.mark.parametrize("is_ahead", [True, False])
def test_only_a_kernel_that_is_started_ahead_loads_everything(is_ahead):
    """One that somebody waits for loads what its page needs."""
    environment = {name: value for name, value in os.environ.items() if name != AHEAD}
    environment |= {AHEAD: "yes"} if is_ahead else {}
    found = subprocess.run([sys.executable, "-c", LOADED], env=environment, capture_output=True, text=True)
    assert found.stdout.strip() == str(is_ahead), found.stderr


@pytest.mark.usefixtures("dead")
def test_a_kernel_that_is_starting_does_not_break_the_list():
    """The server asks for the list at every opening; an error there kept the page from opening."""

    async def check(kernels, ready):
        given = await kernels.start_kernel(path="")
        kernels._kernels["another"] = SimpleNamespace(execution_state="starting")
        assert named(kernels) == [given]

    run(check)
