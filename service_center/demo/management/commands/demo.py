"""`demo`: the Fernhollow book, built when there is none, and everything to try it, on one machine."""

import os
import socket
import sys
from typing import Any

from django.conf import settings
from django.core.management.base import CommandError, CommandParser
from django.utils import timezone
from tqdm import tqdm

from service_center.access.management.command import HouseCommand
from service_center.demo import actions
from service_center.demo.mailbox import MailSink
from service_center.demo.rules.house import ACCOUNTS
from service_center.serving import site

HOST = "127.0.0.1"  # the passwords are printed: nobody else's machine may reach this
PORT = 8000
MAIL_PORT = "DEMO_MAIL_PORT"


class Command(HouseCommand):
    """Thin: the arguments, a progress bar, and what is printed."""

    # It starts twice, and the second start checks.
    requires_system_checks = ()
    help = (
        "Builds the invented book of Fernhollow where there is none, and serves it on this machine, with a mail\n"
        "server of its own that keeps every letter here. Ctrl-C stops it; the next start goes on with the same book.\n\n"
        "Example:\n"
        "    python manage.py demo --port 8080\n\n"
        "DATA_DIR says where the book lies (var)."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--port", type=int, help=f"the port to listen on ({PORT}, or a free one if that is taken)")

    def handle(self, *args: Any, port: int | None, **options: Any) -> None:
        if MAIL_PORT not in os.environ:
            self._start_again(port)
        self.check()
        listen = int(settings.SITE_URL.rpartition(":")[2])
        try:
            site.check_port(HOST, listen)
            site.bring_up_to_date(self.stderr.write)
            self._build()
        except site.PortTaken as taken:
            raise CommandError(f"demo: cannot listen on {taken}. Choose another with --port.", returncode=2) from taken
        except actions.NotTheDemosBook as other:
            raise CommandError(
                f"demo: {settings.DATABASES['default']['NAME']} holds a book that is not the demo's. "
                "Choose another place with DATA_DIR or DATABASE_URL.",
                returncode=2,
            ) from other
        sink = MailSink(settings.DATA_DIR / "demo-mail", int(os.environ[MAIL_PORT]))
        site.run_site(host=HOST, port=listen, on_ready=self._say, companions=[sink])

    def _start_again(self, port: int | None) -> None:
        """Settings have one source, the environment: this very command starts again with the demo's."""
        listen = port or (PORT if _free(PORT) else _any_free_port())
        mail = _any_free_port()
        environment = os.environ | {
            "DEMO": "1",
            "SITE_URL": f"http://{HOST}:{listen}",
            "EMAIL_URL": f"smtp://{HOST}:{mail}",
            MAIL_PORT: str(mail),
        }
        os.execve(sys.executable, [sys.executable, *sys.argv], environment)  # noqa: S606  # this very command

    def _build(self) -> None:
        if actions.is_built():
            return
        self.stderr.write("Building the book of Fernhollow; this happens once.")
        form = "{desc:<14}{percentage:3.0f}%|{bar:40}| {elapsed}"
        with tqdm(total=1, file=self.stderr, bar_format=form, disable=None) as bar:

            def show(what: str, done: int, total: int) -> None:
                bar.set_description_str(what, refresh=False)
                bar.total, bar.n = total, done
                bar.refresh()

            actions.build(settings.DATA_DIR / "demo-book", today=timezone.localdate(), progress=show)

    def _say(self) -> None:
        lines = [
            "",
            f"  {settings.HOUSE_NAME}'s service center: {settings.SITE_URL}",
            "",
            "  Sign in as          user       password",
            *(f"  {one.says:<27} {one.username:<10} {one.password}" for one in ACCOUNTS),
            "",
            f"  What owners receive: {settings.SITE_URL}/demo/mail/",
            "  Ctrl-C stops it.",
            "",
        ]
        self.stdout.write("\n".join(lines))
        self.stdout.flush()


def _free(port: int) -> bool:
    try:
        site.check_port(HOST, port)
    except site.PortTaken:
        return False
    return True


def _any_free_port() -> int:
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        port: int = probe.getsockname()[1]
        return port
