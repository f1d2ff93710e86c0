"""A real mailbox server (Debian's dovecot-imapd) on loopback, over TLS, with one mailbox and a certificate of its own."""

import grp
import os
import pwd
import shutil
import socket
import ssl
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from tests.letters.certificate import make_certificate

USER, PASSWORD = "bounces@fernhollow.example", "a/quiet:harbour@lamp"
CONFIGURATION = """
base_dir = {folder}/run
state_dir = {folder}/state
log_path = {folder}/log
protocols = imap
listen = 127.0.0.1
ssl = required
ssl_cert = <{folder}/certificate.pem
ssl_key = <{folder}/key.pem
default_internal_user = {user}
default_login_user = {user}
default_internal_group = {group}
first_valid_uid = 0
mail_uid = {uid}
mail_gid = {gid}
mail_location = maildir:{folder}/mail
auth_mechanisms = plain
passdb {{
  driver = static
  args = password={{PLAIN}}{password}
}}
userdb {{
  driver = static
  args = uid={uid} gid={gid} home={folder}/home
}}
service imap-login {{
  chroot =
  inet_listener imap {{
    port = 0
  }}
  inet_listener imaps {{
    address = 127.0.0.1
    port = {port}
    ssl = yes
  }}
}}
service anvil {{
  chroot =
}}
service stats {{
  chroot =
}}
"""


class Mailbox:
    """Where messages are put in, and the address under which they are read."""

    def __init__(self, folder: Path, port: int, owner: pwd.struct_passwd) -> None:
        self._inbox = folder / "mail"
        self._owner = owner
        self.certificate = folder / "certificate.pem"
        self.url = f"imaps://{quote(USER, safe='')}:{quote(PASSWORD, safe='')}@127.0.0.1:{port}/INBOX"
        self._delivered = 0
        for place in ("", "tmp", "new", "cur"):
            (self._inbox / place).mkdir()
            self._give(self._inbox / place)

    def deliver(self, raw: bytes) -> None:
        """As a mail server delivers: written aside, then put into `new` under a name of its own."""
        self._delivered += 1
        name = f"{int(time.time())}.{self._delivered}.test"
        (self._inbox / "tmp" / name).write_bytes(raw)
        self._give(self._inbox / "tmp" / name)
        (self._inbox / "tmp" / name).rename(self._inbox / "new" / name)

    def _give(self, path: Path) -> None:
        os.chown(path, self._owner.pw_uid, self._owner.pw_gid)

    def names(self) -> list[str]:
        """What lies in the mailbox, with the flags that readers set on it."""
        files = [file for place in ("new", "cur") for file in (self._inbox / place).iterdir()]
        return sorted(file.name for file in files)


def dovecot() -> str | None:
    """The program, if it is installed."""
    return shutil.which("dovecot", path=f"{os.environ.get('PATH', '')}:/usr/sbin")


@contextmanager
def mailbox() -> Iterator[Mailbox]:
    """The server, while it runs. Fails where it is not installed: ./run installs it."""
    program = dovecot()
    assert program, "Debian's dovecot-imapd is missing; ./run test installs it"
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory(prefix="imap-") as name:
        folder = Path(name)
        make_certificate(folder)
        # It refuses to be root; the package brings a user that may do nothing else.
        owner = pwd.getpwnam("dovenull") if os.geteuid() == 0 else pwd.getpwuid(os.geteuid())
        group = grp.getgrgid(owner.pw_gid).gr_name
        configuration = folder / "dovecot.conf"
        configuration.write_text(
            CONFIGURATION.format(
                folder=folder, user=owner.pw_name, group=group, uid=owner.pw_uid, gid=owner.pw_gid, port=port,
                password=PASSWORD,
            )
        )  # fmt: skip
        for path in (folder, *folder.iterdir()):
            os.chown(path, owner.pw_uid, owner.pw_gid)
        process = subprocess.Popen(
            [program, "-F", "-c", str(configuration)],
            stderr=subprocess.DEVNULL,
            **({"user": owner.pw_uid, "group": owner.pw_gid, "extra_groups": []} if os.geteuid() == 0 else {}),
        )
        try:
            _wait_for(port, process, folder / "log")
            yield Mailbox(folder, port, owner)
        finally:
            process.terminate()
            process.wait(20)


def _wait_for(port: int, process: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + 20
    while time.monotonic() < until:
        if process.poll() is not None:
            break
        try:
            with socket.create_connection(("127.0.0.1", port), 1) as raw:
                context = ssl._create_unverified_context()
                with context.wrap_socket(raw) as line:
                    if line.recv(100).startswith(b"* OK"):
                        return
        except OSError:
            time.sleep(0.1)
    said = log.read_text() if log.exists() else ""
    raise AssertionError(f"dovecot did not come up: {process.poll()} {said}")
