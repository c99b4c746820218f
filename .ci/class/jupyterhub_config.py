"""A class: sign in with an account of this machine, and each learner works in an account of her own.

``README.md`` beside this file says how to set it up, and what to think of before it is opened to others.
"""

import grp
import os
import pwd
import shutil
import sys
from pathlib import Path
from typing import Any

c = get_config()  # type: ignore[name-defined]  # noqa: F821 - JupyterHub gives it

HERE = Path(__file__).resolve().parent
CLASS = HERE.parents[1]
LEARNERS, TEACHERS = "bench-learners", "bench-teachers"
PORT = int(os.environ.get("BENCH_CLASS_PORT", "8000"))  # and the two after it

# This machine only: a server in front of it speaks TLS to the others.
c.JupyterHub.bind_url = f"http://127.0.0.1:{PORT}"
c.JupyterHub.hub_bind_url = f"http://127.0.0.1:{PORT + 1}"
c.ConfigurableHTTPProxy.api_url = f"http://127.0.0.1:{PORT + 2}"
# What all pages go through needs no right on this machine.
_AS_NOBODY = [shutil.which("setpriv") or "setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups"]
_PROXY = "from configurable_http_proxy.cli import main; main()"
c.ConfigurableHTTPProxy.command = [*_AS_NOBODY, sys.executable, "-c", _PROXY]
c.ConfigurableHTTPProxy.pid_file = str(CLASS / "hub" / "proxy.pid")

c.JupyterHub.db_url = f"sqlite:///{CLASS / 'hub' / 'hub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(CLASS / "hub" / "cookie-secret")
c.JupyterHub.cleanup_servers = True  # a hub that is stopped leaves no learner's server behind

# Accounts and passwords are the machine's.  A teacher is no administrator: she reads attempts, and enters no
# learner's pages.
c.JupyterHub.authenticator_class = "pam"
c.PAMAuthenticator.allowed_groups = {LEARNERS, TEACHERS}
c.PAMAuthenticator.service = os.environ.get("BENCH_CLASS_PAM", "login")
c.PAMAuthenticator.open_sessions = False
c.Authenticator.admin_users = set()

# Each server runs as its learner; what it does before it serves, it does with her rights alone.
c.JupyterHub.spawner_class = "jupyterhub.spawner.LocalProcessSpawner"
c.Spawner.cmd = [sys.executable, str(HERE / "learner.py")]
c.Spawner.default_url = "/lab/tree/practice/00_practice.ipynb"
c.Spawner.start_timeout = 180
c.Spawner.http_timeout = 180


def prepare(spawner: Any) -> None:
    """Give a learner a place for her attempts that she writes, teachers read, and nobody else enters."""
    account = pwd.getpwnam(spawner.user.name)
    teachers = grp.getgrnam(TEACHERS)
    place = CLASS / "attempts" / account.pw_name
    place.mkdir(exist_ok=True)
    os.chown(place, account.pw_uid, teachers.gr_gid)
    place.chmod(0o2750)  # what is made in it belongs to the teachers' group too
    spawner.environment = {
        "BENCH_ATTEMPTS": str(place),
        "BENCH_EXERCISES": str(CLASS / "exercises"),
        "BENCH_CLASS_HOME": str(CLASS),
    }
    if teachers.gr_gid in os.getgrouplist(account.pw_name, account.pw_gid):
        spawner.environment["BENCH_CLASS"] = str(CLASS / "attempts")


c.Spawner.pre_spawn_hook = prepare
