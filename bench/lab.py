"""Open the workbook: JupyterLab on this machine only, behind a token, on the notebooks' folder.

JupyterLab runs with a settings folder of its own that lives as long as the server, so that a
user's Jupyter settings are neither needed nor touched.  It calls no address outside this machine.
"""

from __future__ import annotations

import importlib.util
import json
import os
import secrets
import signal
import socket
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
import webbrowser
from pathlib import Path
from types import FrameType

from bench.errors import BadValue, NotFound
from bench.leftovers import own, sweep

WORKBOOK = Path(__file__).resolve().parent.parent / "workbook"
FIRST_NOTEBOOK = "00_start.ipynb"
FIRST_OF_PRACTICE = "practice/00_practice.ipynb"
# Runs a page when it is opened; see the script that it holds.
EXTENSIONS = Path(__file__).resolve().parent / "labextension"

# Off: the news pop-up, and the extension manager, whose list comes from the network; then what nobody
# presses a book with and every page would wait for: the list of export formats alone holds the server up
# for a second, in which no panel is answered.
_DISABLED = (
    "@jupyterlab/apputils-extension:announcements",
    "@jupyterlab/extensionmanager-extension",
    "jupyterlab-plotly",  # loads a second plotly, and marks a notebook as changed by looking at it
    "@jupyterlab/notebook-extension:export",
    "@jupyterlab/notebook-extension:update-raw-mimetype",
    "@jupyterlab/application-extension:faviconbusy",
    "@jupyterlab/debugger-extension",
    "@jupyterlab/lsp-extension",
    "@jupyterlab/notebook-extension:language-server",
    "@jupyterlab/fileeditor-extension:language-server",
    "@jupyterlab/terminal-extension",
    "@jupyterlab/pluginmanager-extension",
)
_SETTINGS: dict[str, dict[str, object]] = {
    "@jupyterlab/apputils-extension:notification": {"checkForUpdates": False, "fetchNews": "false"},
    # Reading and trying out must not rewrite the book.
    "@jupyterlab/docmanager-extension:plugin": {"autosave": False},
    # Every cell is drawn: search, print and links reach cells that are off the screen.
    "@jupyterlab/notebook-extension:tracker": {"windowingMode": "none", "scrollPastEnd": False},
}
_CELL_SHORTCUTS = ".jp-Notebook.jp-mod-commandMode:not(.jp-mod-readWrite) :focus"
# The list of files starts folded away: on a tablet the page needs the width.
_WORKSPACE = {
    "data": {
        "layout-restorer:data": {
            "left": {"collapsed": True, "visible": True, "widgets": ["filebrowser"]},
            "relativeSizes": [0, 1, 0],
        }
    },
    "metadata": {"id": "default"},
}
_LARGEST_MESSAGE = 300 * 2**20  # bytes: an uncompressed image of a full-frame camera
_PATIENCE_S = 120.0
_PAGE_S = 60.0  # for which the page that opens the workbook is kept
_HOME = "bench-lab-"


def open_workbook(
    *,
    records: Path,
    treatment: str | None = None,
    browser: bool = True,
    port: int | None = None,
    workbook: Path = WORKBOOK,
    as_root: bool = False,
    learner: str | None = None,
    exercises: Path | None = None,
    first: str = FIRST_NOTEBOOK,
) -> int:
    """Serve the workbook until it is stopped with Ctrl-C.

    Parameters
    ----------
    records : Path
        Folder that holds the treatments; the notebooks find it as ``BENCH_RECORDS``.
    treatment : str, optional
        Treatment to work on; the notebooks find it as ``BENCH_TREATMENT``.
    browser : bool
        Open a browser window on the first notebook.
    port : int, optional
        Port on 127.0.0.1; a free one is taken if none is given.
    workbook : Path
        Folder of the notebooks.
    as_root : bool
        Whether the superuser may serve it: whoever has a page then has every right on the machine.
    learner : str, optional
        Who practises; the notebooks find the name as ``BENCH_LEARNER``.
    exercises : Path, optional
        Folder of exercises beside the workbook's own; the notebooks find it as ``BENCH_EXERCISES``.
    first : str
        Notebook to begin with, as its path within the folder.

    Returns
    -------
    int
        0 if the server was stopped by the user, 1 if it did not start or broke off.

    Raises
    ------
    NotFound
        There is no such folder of notebooks.
    BadValue
        The port is taken or no port; the user is the superuser, unasked.
    """
    if not workbook.is_dir():
        remedy = "Run the command from a complete copy of the project"
        raise NotFound("folder of notebooks", str(workbook), "a folder that exists", remedy)
    port = _check_port(port)
    _check_user(as_root)
    sweep(_HOME)
    token = secrets.token_hex(24)
    # The server may still be writing its signatures when it is killed: that must not end in a traceback.
    with tempfile.TemporaryDirectory(prefix=_HOME, ignore_cleanup_errors=True) as home:
        own(Path(home))
        write_settings(Path(home))
        environment = _environment(
            Path(home),
            records=records,
            treatment=treatment,
            token=token,
            learner=learner,
            exercises=exercises,
        )
        trust_notebooks(workbook, Path(home))
        log = Path(home) / "server.log"
        with log.open("wb") as stream:
            process = subprocess.Popen(
                _command(workbook, port, as_root=as_root, first=first),
                env=environment,
                stdin=subprocess.PIPE,  # nothing is written: it closes however this process ends
                stdout=stream,
                stderr=subprocess.STDOUT,
                # Ctrl-C reaches this process alone, which then stops the server without its question.
                start_new_session=True,
            )
        print(f"Records are kept in {records}")
        if treatment is not None:
            print(f"Treatment: {treatment}")
        if learner is not None:
            print(f"Learner: {learner}")
        print("Starting the workbook ...", flush=True)
        page = f"/lab/tree/{first}" if (workbook / first).exists() else "/lab"
        return _attend(process, port=port, page=page, token=token, log=log, browser=browser)


def _attend(
    process: subprocess.Popen[bytes], *, port: int, page: str, token: str, log: Path, browser: bool
) -> int:
    """Say where the workbook is, wait for its end, and leave no server behind."""
    base = f"http://127.0.0.1:{port}"
    address = f"{base}{page}?token={token}"
    for name in ("SIGTERM", "SIGHUP"):  # a closed terminal stops the server too
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), _interrupt)
    try:
        if not _wait_until_up(process, base, token):
            print(f"The workbook did not start. The server's last words:\n{_tail(log)}", file=sys.stderr)
            return 1
        print(f"The workbook is open at\n  {address}")
        print("Only this machine can reach it. Stop it with Ctrl-C.", flush=True)
        if browser and not _open_browser(address, log.parent):
            print("No browser could be started: copy the address into one.", flush=True)
        code = process.wait()
        if code != 0:
            print(f"The server ended by itself (code {code}):\n{_tail(log)}", file=sys.stderr)
        return 0 if code == 0 else 1
    except KeyboardInterrupt:
        print("\nThe workbook is closed.", flush=True)
        return 0
    finally:
        _stop(process)


def _open_browser(address: str, home: Path) -> bool:
    """Open the address by way of a page that only this user can read.

    On the browser's command line every user of the machine would see the token, and with it has a kernel.
    """
    page = home / "open.html"
    words = f'<meta http-equiv="refresh" content="0;url={address}"><a href="{address}">Open the workbook</a>'
    handle = os.open(page, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="utf-8") as stream:
        stream.write(f"<!doctype html><title>bench</title>{words}\n")
    later = threading.Timer(_PAGE_S, page.unlink, kwargs={"missing_ok": True})
    later.daemon = True
    later.start()
    return webbrowser.open(page.as_uri())


def _tail(log: Path) -> str:
    return "\n".join(log.read_text(encoding="utf-8", errors="replace").splitlines()[-15:])


def _interrupt(_number: int, _frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _stop(process: subprocess.Popen[bytes]) -> None:
    """End the server, which ends its kernels; insist after a while."""
    process.terminate()
    try:
        process.wait(timeout=15)
    except (subprocess.TimeoutExpired, KeyboardInterrupt):
        process.kill()
        process.wait()


def _check_port(port: int | None) -> int:
    """Find a free port, or make sure that the wanted one is free."""
    if port is not None and not 1 <= port <= 65535:
        raise BadValue("port", port, "1 to 65535", "Choose another number, or leave --port out")
    with socket.socket() as probe:
        if sys.platform != "win32":  # a port that was closed a moment ago is free
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", port or 0))
        except OSError as error:
            remedy = "Choose another number, or leave --port out to take a free one"
            raise BadValue("port", f"{port} ({error.strerror})", "a port that is free", remedy) from None
        return int(probe.getsockname()[1])


def _leave_keys_to_panels() -> list[dict[str, object]]:
    """Give JupyterLab's one-key commands to a cell that has the focus itself, and to nothing inside it.

    As it comes, an arrow or an X in a panel's list of choices moves or cuts the cell instead.
    """
    from jupyterlab.commands import get_app_dir

    schema = Path(get_app_dir()) / "schemas" / "@jupyterlab" / "notebook-extension" / "tracker.json"
    known = json.loads(schema.read_text(encoding="utf-8"))["jupyter.lab.shortcuts"]
    taken = [
        shortcut for shortcut in known if shortcut["selector"] == _CELL_SHORTCUTS and any(shortcut["keys"])
    ]
    narrowed = _CELL_SHORTCUTS.replace(" :focus", " .jp-Cell:focus")
    off: list[dict[str, object]] = [{**shortcut, "disabled": True} for shortcut in taken]
    return off + [{**shortcut, "selector": narrowed} for shortcut in taken]


def _find_plotly() -> Path:
    """Find the folder of plotly's script, which the server hands to its pages."""
    found = importlib.util.find_spec("plotly")
    assert found is not None  # installed with this project
    assert found.origin is not None
    return Path(found.origin).parent / "package_data"


def write_settings(home: Path, *, is_one_ready: bool = True) -> None:
    """Write the settings of this server, and of no other.

    Parameters
    ----------
    home : Path
        Folder of the settings, which :func:`settings_in` leads server and kernels to.
    is_one_ready : bool
        Whether a kernel is kept ready: the next page is quicker, and takes the memory of one kernel more.
    """
    from jupyterlab_server.workspaces_handler import WorkspacesManager

    labconfig = home / "config" / "labconfig"
    labconfig.mkdir(parents=True)
    # Nor is there a build of JupyterLab to look for: to ask holds the server up for half a second.
    page = {
        "disabledExtensions": dict.fromkeys(_DISABLED, True),
        "buildCheck": False,
        "buildAvailable": False,
    }
    (labconfig / "page_config.json").write_text(json.dumps(page), encoding="utf-8")
    overrides = labconfig / "default_setting_overrides.json"
    keys = {"@jupyterlab/shortcuts-extension:shortcuts": {"shortcuts": _leave_keys_to_panels()}}
    overrides.write_text(json.dumps({**_SETTINGS, **keys}), encoding="utf-8")
    # A photograph comes to its panel in one message, which the server would refuse above 10 MB.
    server: dict[str, object] = {
        "tornado_settings": {"websocket_max_message_size": _LARGEST_MESSAGE},
        "extra_static_paths": [str(_find_plotly())],
    }
    if is_one_ready:
        server["kernel_manager_class"] = "bench.kernels.ReadyKernels"
    config = home / "config" / "jupyter_server_config.json"
    config.write_text(json.dumps({"ServerApp": server}), encoding="utf-8")
    profile = home / "ipython" / "profile_default"
    profile.mkdir(parents=True)
    kernel = {"InteractiveShellApp": {"extensions": ["bench.warm"]}}
    (profile / "ipython_kernel_config.json").write_text(json.dumps(kernel), encoding="utf-8")
    workspaces = WorkspacesManager(str(home / "config" / "lab" / "workspaces"))
    workspaces.save("default", json.dumps(_WORKSPACE))


def settings_in(home: Path) -> dict[str, str]:
    """Give what leads server and kernels to the settings in a folder, and to no others."""
    return {
        "JUPYTER_WIDGETS_ECHO": "0",  # a page need not hear its own move repeated
        "JUPYTER_CONFIG_DIR": str(home / "config"),
        "JUPYTER_DATA_DIR": str(home / "data"),
        "JUPYTER_RUNTIME_DIR": str(home / "runtime"),
        "JUPYTER_PREFER_ENV_PATH": "1",
        "IPYTHONDIR": str(home / "ipython"),
    }


def _environment(
    home: Path,
    *,
    records: Path,
    treatment: str | None,
    token: str,
    learner: str | None = None,
    exercises: Path | None = None,
) -> dict[str, str]:
    """Build the environment of server and kernels: this one, without its Jupyter settings."""
    dropped = ("JUPYTER", "IPYTHON", "BENCH_")
    environment = {name: value for name, value in os.environ.items() if not name.startswith(dropped)}
    environment |= {
        **settings_in(home),
        "JUPYTER_TOKEN": token,  # not on the command line, where every user of the machine sees it
        "BENCH_RECORDS": str(records.resolve()),
    }
    named = {
        "BENCH_TREATMENT": treatment,
        "BENCH_LEARNER": learner,
        "BENCH_EXERCISES": None if exercises is None else str(exercises.resolve()),
    }
    environment |= {name: value for name, value in named.items() if value is not None}
    return environment


def trust_notebooks(workbook: Path, home: Path) -> None:
    """Sign the notebooks, so that their saved pictures show before anything is run.

    They are this project's own; without a signature JupyterLab hides stored SVG.
    """
    import nbformat
    from nbformat.sign import NotebookNotary

    data = home / "data"
    data.mkdir(exist_ok=True)
    notary = NotebookNotary(data_dir=str(data))
    for file in sorted(workbook.rglob("*.ipynb")):
        try:
            notary.sign(nbformat.read(file, as_version=4))
        except (OSError, ValueError) as error:  # JupyterLab itself says so when the file is opened
            print(f"{file.name} cannot be read: {error}", file=sys.stderr)
    notary.close()


def _check_user(as_root: bool) -> None:
    """Refuse the superuser, unless it is asked for."""
    if hasattr(os, "geteuid") and os.geteuid() == 0 and not as_root:
        remedy = "Work as an ordinary user; in a container of your own, add --as-root"
        allowed = "a user who cannot change the whole machine: a page runs whatever is written in it"
        raise BadValue("user", "root", allowed, remedy)


def options_of(workbook: Path, first: str) -> list[str]:
    """Give the options of a server on a folder of notebooks: what it serves, and that it asks no one else."""
    options = [
        f"--ServerApp.root_dir={workbook}",
        "--LabApp.extension_manager=readonly",
        f"--LabApp.extra_labextensions_path={EXTENSIONS}",
        "--LabApp.check_for_updates_class=jupyterlab.NeverCheckForUpdate",
        "--LabApp.news_url=None",
        "--LabApp.expose_app_in_browser=True",
    ]
    if (workbook / first).exists():
        options.append(f"--LabApp.default_url=/lab/tree/{first}")
    return options


def _command(workbook: Path, port: int, *, as_root: bool = False, first: str = FIRST_NOTEBOOK) -> list[str]:
    """Build the command line of the server."""
    command = [
        sys.executable,
        "-m",
        "bench.lab",
        "--no-browser",
        "--ServerApp.ip=127.0.0.1",
        f"--ServerApp.port={port}",
        "--ServerApp.port_retries=0",
        *options_of(workbook, first),
    ]
    if as_root:
        command.append("--allow-root")
    return command


def _wait_until_up(process: subprocess.Popen[bytes], base: str, token: str) -> bool:
    """Wait until the server answers; false if it ended or stays silent too long."""
    request = urllib.request.Request(f"{base}/api/status", headers={"Authorization": f"token {token}"})
    deadline = time.monotonic() + _PATIENCE_S
    # Straight to this machine, whatever proxy the user's environment names.
    opener = urllib.request.build_opener(urllib.request.ProxyHandler({}))
    while process.poll() is None and time.monotonic() < deadline:
        try:
            with opener.open(request, timeout=5):
                return True
        except (urllib.error.URLError, OSError):
            time.sleep(0.1)
    return False


def _serve() -> int:
    """Run the server until the launcher that started it is gone, killed or not."""
    from jupyterlab.labapp import main

    threading.Thread(target=_end_with_launcher, daemon=True).start()
    return int(main() or 0)


def _end_with_launcher() -> None:
    """Wait for the end of the pipe that the launcher holds, then stop the server and its kernels."""
    sys.stdin.buffer.read()
    signal.raise_signal(signal.SIGTERM)


if __name__ == "__main__":
    sys.exit(_serve())
