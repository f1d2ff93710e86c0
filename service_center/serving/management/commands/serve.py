"""`serve`: web, worker and schedule on one machine."""

import os
import sys
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import CommandError, CommandParser

from service_center.access.management.command import HouseCommand
from service_center.serving import site


class Command(HouseCommand):
    """Thin: the arguments, and what is printed."""

    help = (
        "Serves the present data on one machine: web, worker and schedule in one go. Ctrl-C stops all of it, "
        "after the letter in hand.\n\n"
        "Example:\n"
        "    python manage.py serve --port 8080\n\n"
        "Letters wait until EMAIL_URL names a mail server."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="the address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, help="the port to listen on (that of SITE_URL, otherwise 8000)")

    def handle(self, *args: Any, host: str, port: int | None, **options: Any) -> None:
        if port is not None and "SITE_URL" not in os.environ:
            # Letters carry the site's address. Settings have one source, the environment: start again with it.
            os.execve(  # noqa: S606  # this very command
                sys.executable, [sys.executable, *sys.argv], os.environ | {"SITE_URL": f"http://127.0.0.1:{port}"}
            )
        address = urlsplit(settings.SITE_URL)
        listen = port or (address.port if address.scheme == "http" else None) or 8000
        try:
            site.check_port(host, listen)
        except site.PortTaken as taken:
            raise CommandError(f"serve: cannot listen on {taken}. Choose another with --port.", returncode=2) from taken
        site.bring_up_to_date(self.stderr.write)
        site.run_site(host=host, port=listen, on_ready=lambda: self._say(host, listen))

    def _say(self, host: str, port: int) -> None:
        self.stdout.write(f"Service center: {settings.SITE_URL} (listening on {host}:{port}). Ctrl-C stops it.")
        if not settings.MAIL_CONFIGURED:
            self.stdout.write("EMAIL_URL is not set: letters are written, and wait.")
        self.stdout.flush()
