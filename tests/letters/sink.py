"""A real mail server on loopback (aiosmtpd) that keeps every message with its time, and fails at any phase on demand.

    with MailSink() as sink:
        sink.fail("dot", "drop")            # the next message: take the body and the dot, then drop the line
        sink.fail("rcpt", "550 5.1.1 no such mailbox", times=2)
        ...
        assert [one.subject for one in sink.messages] == [...]

Phases, in order: connect, ehlo, rset, mail, rcpt, data, body, dot, after, quit. A failure is a reply ("451 later"), "drop" (the
line is cut) or a number of seconds of silence, after which the line is cut. At `dot` the message is not kept; at
`after` it is kept, as by a server that takes a message and dies before it can say so.
"""

import asyncio
import email.policy
import socket
import ssl
import threading
import time
import weakref
from collections import defaultdict, deque
from collections.abc import Callable, Coroutine, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from email.message import EmailMessage
from email.parser import BytesParser
from typing import Any, Self

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, Envelope, Session

PHASES = ("connect", "ehlo", "rset", "mail", "rcpt", "data", "body", "dot", "after", "quit")
Failure = str | float


@dataclass(frozen=True, slots=True)
class Received:
    """One message as it came: envelope, bytes, and the second since the epoch at which it was complete."""

    sender: str
    recipients: tuple[str, ...]
    content: bytes
    at: float

    @property
    def parsed(self) -> EmailMessage:
        """Read by the standard library's parser, which raises for anything the RFCs forbid."""
        message = BytesParser(policy=email.policy.default.clone(raise_on_defect=True)).parsebytes(self.content)
        assert isinstance(message, EmailMessage)
        return message

    @property
    def message_id(self) -> str:
        return str(self.parsed["Message-ID"])

    @property
    def subject(self) -> str:
        return str(self.parsed["Subject"])

    @property
    def text(self) -> str:
        body = self.parsed.get_body(("plain",))
        assert body is not None
        return str(body.get_content())

    @property
    def html(self) -> str:
        body = self.parsed.get_body(("html",))
        assert body is not None
        return str(body.get_content())


class _Reader:
    """The lines of a session; gives the plan a word once the body has begun to come."""

    def __init__(self, reader: asyncio.StreamReader, server: "_Server") -> None:
        self._reader = reader
        self._server = server

    def __getattr__(self, name: str) -> Any:
        return getattr(self._reader, name)

    async def readuntil(self, separator: bytes = b"\n") -> bytes:
        line = await self._reader.readuntil(separator)
        if self._server.in_body:
            reply = await self._server.meet("body")
            if reply:
                await self._server.push(reply)
        return line


class _Server(SMTP):
    sink: "MailSink"
    in_body = False

    async def meet(self, phase: str) -> str | None:
        """What was planned for this phase: a reply to give, or None to go on. Cuts the line itself."""
        failure = self.sink.take_failure(phase)
        if failure is None:
            return None
        if isinstance(failure, str) and failure != "drop":
            return failure
        if not isinstance(failure, str):
            await asyncio.sleep(failure)
        assert self.transport is not None
        self.transport.abort()
        raise asyncio.CancelledError

    async def _handle_client(self) -> None:
        self.sink.connections += 1
        self.sink.open.add(self)
        reply = await self.meet("connect")
        if reply:
            await self.push(reply)
            assert self.transport is not None
            self.transport.close()
            return
        await super()._handle_client()

    async def smtp_EHLO(self, hostname: str) -> None:  # noqa: N802
        await self._or("ehlo", super().smtp_EHLO, hostname)

    async def smtp_RSET(self, arg: str) -> None:  # noqa: N802
        await self._or("rset", super().smtp_RSET, arg)

    async def smtp_QUIT(self, arg: str) -> None:  # noqa: N802
        await self._or("quit", super().smtp_QUIT, arg)

    async def smtp_MAIL(self, arg: str | None = None) -> None:  # noqa: N802
        await self._or("mail", super().smtp_MAIL, arg)

    async def smtp_RCPT(self, arg: str | None = None) -> None:  # noqa: N802
        await self._or("rcpt", super().smtp_RCPT, arg)

    async def smtp_DATA(self, arg: str) -> None:  # noqa: N802
        reply = await self.meet("data")
        if reply:
            await self._refuse(reply)
            return
        self._reader = _Reader(self._reader, self)  # type: ignore[assignment]
        self.in_body = True
        try:
            await super().smtp_DATA(arg)
        finally:
            self.in_body = False
            self._reader = self._reader._reader  # type: ignore[attr-defined]

    async def _or(self, phase: str, deed: Any, arg: Any) -> None:
        reply = await self.meet(phase)
        if reply:
            await self._refuse(reply)
        else:
            await deed(arg)

    async def _refuse(self, reply: str) -> None:
        await self.push(reply)
        if reply.startswith("421"):  # "closing transmission channel" (RFC 5321, 4.2.2)
            assert self.transport is not None
            self.transport.close()


class _Handler:
    def __init__(self, sink: "MailSink") -> None:
        self._sink = sink

    async def handle_EHLO(  # noqa: N802
        self, server: _Server, session: Session, envelope: Envelope, hostname: str, responses: list[str]
    ) -> list[str]:
        session.host_name = hostname
        # The library reads one command after another, however they came: it keeps RFC 2920 without saying so.
        return [*responses[:-1], "250-PIPELINING", responses[-1]] if self._sink.pipelining else responses

    async def handle_DATA(self, server: _Server, session: Session, envelope: Envelope) -> str:  # noqa: N802
        server.in_body = False
        reply = await server.meet("dot")
        if reply:
            return reply
        assert isinstance(envelope.content, bytes)
        number = self._sink.keep(
            Received(envelope.mail_from or "", tuple(envelope.rcpt_tos), envelope.content, time.time())
        )
        await asyncio.sleep(self._sink.think())
        reply = await server.meet("after")
        return reply or f"250 2.0.0 queued as {number}"


class _Controller(Controller):
    """On a free port, chosen before it starts: the library's own start connects to the port it was told."""

    def __init__(self, sink: "MailSink", hostname: str, listening: socket.socket | None) -> None:
        self._sink = sink
        self._socket = listening or socket.create_server((hostname, 0))
        # A busy machine may take its time; the library gives it five seconds.
        super().__init__(
            _Handler(sink),
            hostname=hostname,
            port=self._socket.getsockname()[1],
            ready_timeout=60,
            ssl_context=sink.tls,
        )

    def _create_server(self) -> Coroutine[Any, Any, asyncio.AbstractServer]:
        return self.loop.create_server(self._factory_invoker, sock=self._socket, ssl=self.ssl_context)

    def _trigger_server(self) -> None:
        # Where other processes listen too, one of them may have answered the look that was meant for this one.
        for _look in range(100):
            super()._trigger_server()
            if self._factory_invoked.wait(0.1):
                return

    def factory(self) -> _Server:
        server = _Server(
            self.handler, hostname="sink.example", enable_SMTPUTF8=False, tls_context=self._sink.starttls,
            require_starttls=self._sink.starttls is not None,
        )  # fmt: skip
        server.sink = self._sink
        return server


class MailSink:
    """The server, from `start` to `stop`. Everything may be read and planned from another thread."""

    def __init__(
        self,
        host: str = "127.0.0.1",
        *,
        listening: socket.socket | None = None,
        tls: ssl.SSLContext | None = None,
        starttls: ssl.SSLContext | None = None,
    ) -> None:
        """`listening`: a socket on which other processes may listen too. `tls`: speaks nothing else; `starttls`: takes
        no letter before the client has asked for it."""
        self.tls, self.starttls = tls, starttls
        self._plan: dict[str, deque[Failure]] = defaultdict(deque)
        self._lock = threading.Lock()
        self._messages: list[Received] = []
        self._controller = _Controller(self, host, listening)
        self.connections = 0
        # Whether the server says that commands may come together.
        self.pipelining = False
        self.open: weakref.WeakSet[_Server] = weakref.WeakSet()
        # How many seconds the server takes to say that it has a message.
        self.think: Callable[[], float] = lambda: 0.0

    def start(self) -> Self:
        self._controller.start()
        self.connections = 0  # the controller looks in once, to see that it is up
        return self

    def stop(self) -> None:
        asyncio.run_coroutine_threadsafe(self._hang_up(), self._controller.loop).result(10)
        self._controller.stop(no_assert=True)

    async def _hang_up(self) -> None:
        """Cut the lines that are open: a sender that was killed, or is kept waiting, does not end its session."""
        for server in self.open:
            if server.transport is not None:
                server.transport.abort()
        await asyncio.sleep(0.01)

    def __enter__(self) -> Self:
        return self.start()

    def __exit__(self, *_about: object) -> None:
        self.stop()

    @property
    def host(self) -> str:
        return str(self._controller.hostname)

    @property
    def port(self) -> int:
        return int(self._controller.port)

    @property
    def url(self) -> str:
        """As EMAIL_URL wants it."""
        return f"smtp://{self.host}:{self.port}"

    @property
    def messages(self) -> list[Received]:
        with self._lock:
            return list(self._messages)

    @property
    def count(self) -> int:
        """How many messages there are."""
        return len(self._messages)

    def clear(self) -> None:
        with self._lock:
            self._messages.clear()

    def keep(self, message: Received) -> int:
        with self._lock:
            self._messages.append(message)
            return len(self._messages)

    def fail(self, phase: str, failure: Failure, *, times: int = 1) -> None:
        """Plan a failure for the next time, or times, that a session comes to a phase."""
        assert phase in PHASES
        with self._lock:
            self._plan[phase].extend([failure] * times)

    def take_failure(self, phase: str) -> Failure | None:
        with self._lock:
            return self._plan[phase].popleft() if self._plan[phase] else None

    def wait_for(self, count: int, *, seconds: float) -> list[Received]:
        """The messages once there are that many; fails after so many seconds."""
        until = time.monotonic() + seconds
        while len(self.messages) < count:
            assert time.monotonic() < until, f"{len(self.messages)} of {count} messages after {seconds} s"
            time.sleep(0.05)
        return self.messages


@contextmanager
def nobody_listens() -> Iterator[int]:
    """A port of loopback on which nobody answers."""
    with MailSink() as sink:
        port = sink.port
    yield port
