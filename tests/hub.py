"""A class for the tests: set up in a folder, made-up accounts, a hub, and learners who sign in by HTTP."""

from __future__ import annotations

import asyncio
import http.cookiejar
import json
import os
import secrets
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from tests.makers import ROOT

SETUP = ROOT / ".ci" / "class" / "set_up.py"
LEARNERS, TEACHERS = "bench-learners", "bench-teachers"
PATIENCE_S = 180.0


def missing() -> str:
    """Say what a class lacks on this machine; empty if it can be tried."""
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return "a class makes accounts and works in them: only the superuser can try it, in a container"
    lacking = [name for name in ("useradd", "userdel", "groupadd", "setpriv") if shutil.which(name) is None]
    return f"this system lacks {', '.join(lacking)}" if lacking else ""


def call(*words: object, **more: Any) -> None:
    subprocess.run([str(word) for word in words], check=True, capture_output=True, **more)


@contextmanager
def set_up_class() -> Iterator[Path]:
    """Set a class up in a folder of its own, and take folder and groups away again."""
    groups = Path("/etc/group").read_text(encoding="utf-8")
    folder = Path(tempfile.mkdtemp(prefix="bench-class-"))
    folder.chmod(0o755)
    try:
        subprocess.run([sys.executable, SETUP, folder], check=True)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        for name in (LEARNERS, TEACHERS):
            if f"\n{name}:" not in groups:
                subprocess.run(["groupdel", name], check=False, capture_output=True)


@contextmanager
def accounts(*groups: str) -> Iterator[list[tuple[str, str]]]:
    """Make up an account in each group, with its password, and take them away again."""
    stem, made = f"bench-{secrets.token_hex(3)}", []
    try:
        for number, group in enumerate(groups, start=1):
            name, password = f"{stem}-{number}", secrets.token_urlsafe(12)
            call("useradd", "--create-home", "--shell", "/bin/sh", "--groups", group, name)
            made.append((name, password))
            call("chpasswd", input=f"{name}:{password}\n".encode())
        yield made
    finally:
        for name, _ in made:
            subprocess.run(["userdel", "--remove", name], check=False, capture_output=True)


def _free_ports(count: int) -> int:
    """Find a port that is free together with the next ones."""
    for _ in range(50):
        first = 20000 + secrets.randbelow(20000)
        with suppress(OSError):
            for port in range(first, first + count):
                with socket.socket() as probe:
                    probe.bind(("127.0.0.1", port))
            return first
    raise OSError("no free ports")


@contextmanager
def run_hub(folder: Path) -> Iterator[str]:
    """Start the hub of a class and give its address."""
    port = _free_ports(3)
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("BENCH_", "JUPYTER", "IPYTHON"))}
    words = [
        folder / "venv/bin/python",
        "-m",
        "jupyterhub",
        "-f",
        folder / "project/class/jupyterhub_config.py",
    ]
    log = folder / "hub.log"
    with log.open("wb") as stream:
        hub = subprocess.Popen(
            [str(word) for word in words],
            cwd=folder / "hub",
            env={**environment, "BENCH_CLASS_PORT": f"{port}"},
            stdin=subprocess.DEVNULL,
            stdout=stream,
            stderr=subprocess.STDOUT,
        )
    address = f"http://127.0.0.1:{port}"
    try:
        _wait_for(f"{address}/hub/login", hub, log)
        yield address
    except BaseException:
        print(log.read_text(encoding="utf-8", errors="replace")[-6000:])
        raise
    finally:
        hub.terminate()  # it stops the servers of the learners, and the proxy
        try:
            hub.wait(timeout=60)
        except subprocess.TimeoutExpired:
            hub.kill()
            hub.wait()


def _wait_for(address: str, hub: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until and hub.poll() is None:
        with suppress(OSError), Browser("").open(address):
            return
        time.sleep(0.2)
    raise OSError("the hub did not start")


class Browser:
    """What a browser does of all this: cookies, a sign-in, and a token for the rest."""

    def __init__(self, address: str) -> None:
        self.address, self.name, self.token = address, "", ""
        self.jar = http.cookiejar.CookieJar()
        direct = urllib.request.ProxyHandler({})
        self._opener = urllib.request.build_opener(direct, urllib.request.HTTPCookieProcessor(self.jar))

    def open(self, address: str, **more: Any) -> Any:
        return self._opener.open(urllib.request.Request(address, **more), timeout=60)

    def sign_in(self, name: str, password: str) -> None:
        """Sign in through the form of the hub, and ask for a token as that user."""
        with self.open(f"{self.address}/hub/login"):
            pass
        xsrf = next(cookie.value for cookie in self.jar if cookie.name == "_xsrf")
        form = urllib.parse.urlencode({"username": name, "password": password, "_xsrf": xsrf})
        try:
            with self.open(f"{self.address}/hub/login?next=%2Fhub%2Fhome", data=form.encode()) as page:
                came_to = page.url
        except urllib.error.HTTPError as error:
            came_to = f"{error.code} {error.url}"
        if not came_to.endswith("/hub/home"):
            raise PermissionError(f"{name} was sent to {came_to}")
        xsrf = [cookie.value for cookie in self.jar if cookie.name == "_xsrf"][-1]
        with self.open(
            f"{self.address}/hub/api/users/{name}/tokens",
            data=b"{}",
            headers={
                "Content-Type": "application/json",
                "X-XSRFToken": str(xsrf),
                "Referer": f"{self.address}/hub/token",
            },
        ) as answer:
            self.name, self.token = name, json.load(answer)["token"]

    def ask(self, path: str, data: object = None, method: str | None = None) -> tuple[int, Any]:
        """Ask the hub or a server for something with one's own token: status and answer."""
        headers = {"Authorization": f"token {self.token}"}
        body = None if data is None else json.dumps(data).encode()
        asked = urllib.request.Request(self.address + path, data=body, headers=headers, method=method)
        opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
        try:
            with opener.open(asked, timeout=60) as answer:
                text = answer.read()
                return answer.status, json.loads(text) if text else None
        except urllib.error.HTTPError as error:
            return error.code, error.read().decode(errors="replace")

    def start_server(self) -> None:
        """Ask for one's own server."""
        status, said = self.ask(f"/hub/api/users/{self.name}/server", {}, "POST")
        assert status in (201, 202), said

    def wait_for_server(self) -> None:
        """Wait until one's own server answers."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            if self.ask(f"/user/{self.name}/api/status")[0] == 200:
                return
            time.sleep(0.3)
        raise TimeoutError(f"the server of {self.name} did not start")

    def start_kernel(self) -> str:
        """Start a kernel of one's own and give its id."""
        status, kernel = self.ask(f"/user/{self.name}/api/kernels", {"name": "python3"}, "POST")
        assert status == 201, kernel
        return str(kernel["id"])

    def run(self, kernel: str, code: str) -> str:
        """Run code in one's own kernel, over the proxy, and give what it printed; an error is raised."""
        with ThreadPoolExecutor(1) as own:  # a browser's tests may have left a loop running in this thread
            return own.submit(asyncio.run, self._run(kernel, code)).result()

    async def _run(self, kernel: str, code: str) -> str:
        from tornado.httpclient import HTTPRequest
        from tornado.websocket import websocket_connect

        address = self.address.replace("http", "ws", 1) + f"/user/{self.name}/api/kernels/{kernel}/channels"
        request = HTTPRequest(address, headers={"Authorization": f"token {self.token}"})
        socket_ = await websocket_connect(request)
        own, said = uuid.uuid4().hex, ""
        header = {
            "msg_id": own,
            "msg_type": "execute_request",
            "username": "",
            "session": own,
            "version": "5.3",
        }
        content = {"code": code, "silent": False, "store_history": False, "allow_stdin": False}
        message = {
            "header": header,
            "parent_header": {},
            "metadata": {},
            "content": content,
            "channel": "shell",
        }
        await socket_.write_message(json.dumps(message))
        while True:
            got = await asyncio.wait_for(socket_.read_message(), PATIENCE_S)
            if got is None:
                raise OSError("the connection to the kernel was closed")
            came = json.loads(got)
            if came["parent_header"].get("msg_id") != own:
                continue
            if came["msg_type"] == "stream":
                said += came["content"]["text"]
            if came["msg_type"] == "error":
                raise RuntimeError("\n".join(came["content"]["traceback"]))
            if came["msg_type"] == "status" and came["content"]["execution_state"] == "idle":
                socket_.close()
                return said


def start_servers(browsers: list[Browser]) -> list[float]:
    """Start the servers of several at once, and give how long each waited for hers in seconds."""

    def start(browser: Browser) -> float:
        begun = time.monotonic()
        browser.start_server()
        browser.wait_for_server()
        return time.monotonic() - begun

    with ThreadPoolExecutor(len(browsers)) as pool:
        return list(pool.map(start, browsers))
