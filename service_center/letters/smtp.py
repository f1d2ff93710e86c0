"""Handing one message to a mail server, on smtplib's own primitives, so that the moment of the dot is ours (RFC 5321).

`smtplib.sendmail` raises one and the same error for a line that drops before the body and one that drops after the
final dot; the first is harmless, the second is doubt. Here each phase has its own name.
"""

import re
import select
import smtplib
import socket
import ssl
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Self

from django.conf import settings

from service_center.letters.faults import fault
from service_center.letters.rules.handing import Outcome, Phase

LINE_END = re.compile(rb"\r\n|\r|\n")
# With which answers the conversation about a letter goes on, in its order (RFC 5321, 4.3.2).
GOES_ON = {Phase.SENDER: (250,), Phase.RECIPIENT: (250, 251), Phase.DATA: (354,)}
LONGEST_LINE = 8192
# A server that answers later than this leaves its sender time to do something else.
SLOW_SECONDS = 0.05


class NoLine(Exception):  # noqa: N818  # what is missing, not an error of the letter
    """The mail server did not open a session. No letter is to blame; the text says what happened."""


@dataclass(frozen=True, slots=True)
class MailServer:
    """Where letters are handed over, and how long each answer may take, in seconds."""

    host: str
    port: int
    user: str
    password: str
    starttls: bool
    tls: bool
    greet_as: str
    command_seconds: float
    dot_seconds: float

    @classmethod
    def of_the_house(cls) -> Self:
        """As EMAIL_URL and the settings beside it say."""
        return cls(
            host=settings.EMAIL_HOST,
            port=settings.EMAIL_PORT,
            user=settings.EMAIL_HOST_USER or "",
            password=settings.EMAIL_HOST_PASSWORD or "",
            starttls=bool(settings.EMAIL_USE_TLS),
            tls=bool(settings.EMAIL_USE_SSL),
            greet_as=settings.MAIL_FROM.rpartition("@")[2],
            command_seconds=settings.EMAIL_TIMEOUT,
            dot_seconds=settings.MAIL_DOT_SECONDS,
        )


def _nothing() -> None:
    pass


class Line:
    """One session with the mail server, for one letter after another. `broken`: hang up and open another."""

    def __init__(self, server: MailServer) -> None:
        """Open the session. Raises NoLine."""
        self._server = server
        self._between = False
        self._at_once = False
        self._heard = b""
        self._look = select.poll()
        self.broken = False
        # Without one, smtplib takes any certificate at all.
        self._trust = ssl.create_default_context() if server.tls or server.starttls else None
        if server.tls:
            self._smtp: smtplib.SMTP = smtplib.SMTP_SSL(
                local_hostname=server.greet_as, timeout=server.command_seconds, context=self._trust
            )
        else:
            self._smtp = smtplib.SMTP(local_hostname=server.greet_as, timeout=server.command_seconds)
        try:
            self._greet()
        except (OSError, ValueError) as error:  # every smtplib error is an OSError
            self.hang_up()
            raise NoLine(f"{server.host}:{server.port}: {_words(error)}") from error

    def _greet(self) -> None:
        # The certificate is checked against this name, which smtplib sets only when it connects by itself.
        self._smtp._host = self._server.host  # type: ignore[attr-defined]  # noqa: SLF001
        code, text = self._smtp.connect(self._server.host, self._server.port)
        if code != 220:
            raise smtplib.SMTPConnectError(code, text)
        if self._smtp.sock:
            # The dot goes by itself: without this it would wait for the body's acknowledgement, 40 ms a letter.
            self._smtp.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        self._smtp.ehlo_or_helo_if_needed()
        if self._server.starttls:
            self._smtp.starttls(context=self._trust)
            self._smtp.ehlo()
        if self._server.user:
            self._smtp.login(self._server.user, self._server.password)
        if self._smtp.sock:  # which starttls has replaced
            self._look.register(self._smtp.sock, select.POLLIN)
        # Commands may go together, answers come one by one: two waits a letter instead of four (RFC 2920).
        self._at_once = self._smtp.has_extn("pipelining")

    def hand_over(
        self,
        *,
        sender: str,
        recipient: str,
        message: bytes,
        before_dot: Callable[[], bool],
        while_answering: Callable[[], None] = _nothing,
        while_slow: Callable[[], None] = _nothing,
    ) -> Outcome | None:
        """Hand one message over, as `on_the_wire` gives it. `before_dot` is asked when all but the final dot is sent.

        Where it says no, the line is cut without the dot, so that no server may deliver (RFC 5321, 4.1.1.10): None.
        `while_answering` is called once, while the server works on the first command; `while_slow` when it takes long.
        Whatever `before_dot` or `while_slow` raises is raised here, after the line was cut: there is no polite way out.
        """
        try:
            return self._up_to_the_dot(sender, recipient, message, while_answering, while_slow) or self._if_still_mine(
                before_dot
            )
        except BaseException:
            self.hang_up()
            raise

    def _if_still_mine(self, before_dot: Callable[[], bool]) -> Outcome | None:
        asked = time.monotonic()
        mine = before_dot()
        fault("at_the_dot")
        if not mine:
            self.hang_up()
            return None
        # Whoever sleeps between that answer and the dot may find that a person has sent the letter again meanwhile.
        if time.monotonic() - asked > self._server.dot_seconds:
            return self._silence(Phase.BODY, "the sender slept before the end of the message")
        # A server that hung up during the body is noticed here where its word has arrived: without the dot it
        # delivers nothing, and there is no doubt.
        # No server speaks within a message: whatever is to be read is the end of the line, or a word before it.
        if self._has_spoken(0):
            return self._silence(Phase.BODY, "the server cut the line within the message")
        return self._dot()

    def _up_to_the_dot(
        self,
        sender: str,
        recipient: str,
        message: bytes,
        while_answering: Callable[[], None],
        while_slow: Callable[[], None],
    ) -> Outcome | None:
        """The conversation as far as it is harmless. An outcome where it ended early."""
        phase = Phase.SENDER
        try:
            if self._between:
                self._say("RSET")
                code, text = self._answer(while_slow)
                if code != 250:  # what the server still has of the letter before must not count against this one
                    return self._silence(phase, text)
            self._between = True
            commands = [f"MAIL FROM:<{sender}>", f"RCPT TO:<{recipient}>", "DATA"]
            first = commands if self._at_once else commands[:1]
            self._say(*first)
            if self._at_once:
                self._acknowledge_at_once()
            while_answering()
            for phase, command in zip(GOES_ON, commands, strict=True):
                if command not in first:
                    self._say(command)
                code, text = self._answer(while_slow)
                if code not in GOES_ON[phase]:
                    if self._at_once:
                        self._leave_the_group(phase, while_slow)
                    return self._outcome(phase, code, text)
            phase = Phase.BODY
            self._smtp.send(message)
            fault("before_dot")
        except OSError as error:
            return self._silence(phase, error)
        return None

    def _leave_the_group(self, phase: Phase, while_slow: Callable[[], None]) -> None:
        """Take in the answers to what was said behind a command that was refused. No message follows.

        A server that asks for one all the same is left without it, and delivers nothing (RFC 2920, 3.1).
        """
        try:
            for _later in range(list(GOES_ON).index(phase) + 1, len(GOES_ON)):
                code, _text = self._answer(while_slow)
                if code in GOES_ON[Phase.DATA] or code <= 0:
                    self.hang_up()
                    return
        except OSError:  # the refusal is known, and that is what matters
            self.hang_up()

    def _acknowledge_at_once(self) -> None:
        # A server that sends each answer by itself may wait for the acknowledgement of the one before, 40 ms each.
        if self._smtp.sock and hasattr(socket, "TCP_QUICKACK"):
            self._smtp.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_QUICKACK, 1)

    def _say(self, *commands: str) -> None:
        self._smtp.send("".join(f"{command}\r\n" for command in commands))

    def _answer(self, while_slow: Callable[[], None]) -> tuple[int, bytes]:
        if not self._has_spoken(SLOW_SECONDS):
            while_slow()
        return self._reply()

    def _reply(self) -> tuple[int, bytes]:
        """One answer, of one line or more (RFC 5321, 4.2.1): its code, -1 for words that are none."""
        lines = []
        while True:
            line = self._next_line()
            lines.append(line[4:].strip())
            if not (line[:3].isdigit() and line[3:4] in (b"", b" ", b"-")):
                return -1, line
            if line[3:4] != b"-":
                return int(line[:3]), b"\n".join(lines)

    def _next_line(self) -> bytes:
        while (end := self._heard.find(b"\n")) < 0:
            if len(self._heard) > LONGEST_LINE:
                raise smtplib.SMTPServerDisconnected("a line without an end")
            more = self._smtp.sock.recv(4096) if self._smtp.sock else b""
            if not more:
                raise smtplib.SMTPServerDisconnected("the server closed the line")
            self._heard += more
        line, self._heard = self._heard[:end].rstrip(b"\r"), self._heard[end + 1 :]
        return line

    def _has_spoken(self, seconds: float) -> bool:
        """Whether there is something to read, be it the end of the line, within so many seconds."""
        line = self._smtp.sock
        if line is None or self._heard:
            return True
        return bool(self._look.poll(seconds * 1000))

    def _dot(self) -> Outcome:
        try:
            if self._smtp.sock:
                self._smtp.sock.settimeout(self._server.dot_seconds)
            self._smtp.send(b".\r\n")
            fault("after_dot")
            code, text = self._reply()
            fault("after_reply")
            if self._smtp.sock:
                self._smtp.sock.settimeout(self._server.command_seconds)
        except OSError as error:
            return self._silence(Phase.DOT, error)
        self._between = not 200 <= code <= 299
        return self._outcome(Phase.DOT, code, text)

    def _outcome(self, phase: Phase, code: int, text: bytes) -> Outcome:
        if code <= 0:  # what smtplib gives for words that are no reply
            return self._silence(phase, text)
        if code == 421:  # the server says that it closes
            self.hang_up()
        return Outcome(phase, code, f"{code} {_readable(text)}")

    def _silence(self, phase: Phase, error: object) -> Outcome:
        self.hang_up()
        return Outcome(phase, None, _words(error))

    def hang_up(self) -> None:
        """Cut the line, without a word."""
        self.broken = True
        self._smtp.close()

    def close(self) -> None:
        """End the session politely."""
        if not self.broken:
            self.broken = True
            try:
                self._smtp.quit()
            except OSError:
                self._smtp.close()


def on_the_wire(message: bytes) -> bytes:
    """A message as it goes after DATA, without the final dot: CRLF lines, leading dots doubled (RFC 5321, 4.5.2)."""
    if message.endswith(b"\n") and b"\r" not in message:  # as we write it: three passes over the whole, not one a line
        dotted = message.replace(b"\n.", b"\n..").replace(b"\n", b"\r\n")
        return b"." + dotted if message.startswith(b".") else dotted
    lines = LINE_END.split(message)
    if lines and not lines[-1]:
        lines.pop()
    return b"".join((b"." + line if line.startswith(b".") else line) + b"\r\n" for line in lines)


def _readable(text: bytes) -> str:
    """A server's words. A database has no place for the character 0."""
    return text.decode("utf-8", "replace").replace("\0", "")


def _words(error: object) -> str:
    if isinstance(error, str):
        return error
    if isinstance(error, smtplib.SMTPResponseException):
        text = error.smtp_error
        return f"{error.smtp_code} {_readable(text) if isinstance(text, bytes) else text}"
    if isinstance(error, bytes):
        return _readable(error)
    return f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
