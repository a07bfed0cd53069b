"""A JACK server of the tests' own (dummy driver, no sound card); listeners and senders as processes.

How the server is started is what keeps these tests steady on a busy machine:

- `-S` (synchronous mode) waits for every client in every period; without it JACK now and then loses a message.
- But it waits only ten times the clients' timeout, and that is two periods unless told otherwise: 53 ms at 128
  frames. A Python client that is held up longer (its callback needs the interpreter lock, whose holder has been
  put aside by the system) hears a period twice or out of order: with four busy loops beside two processors in 2
  of 4 runs, with `-t` in 0 of 20. So `-t 200`: two seconds, which is also how long a client that was killed
  holds up the others.
- What it says goes into a file: it says much on a busy machine, and a pipe that nobody reads is full at 64 KB;
  then the server stands still, and everybody with it.
- `-p 32` (ports) and `-m` (no locking of memory): a server takes 39 MB of shared memory instead of 107, and
  containers often have 64.

- JACK has room for eight servers, dead ones included; where none is left, the name of a dead one is used again.

The tests that use it all stand in one file, which pytest-xdist gives to one worker, and come first (conftest.py).
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from types import TracebackType

import pytest

from livepedal.errors import LivepedalError
from livepedal.sources.journal import Command, Heard, Record, Word, read_journal
from livepedal.sources.ports.libraries import load

PATIENCE = 180.0  # seconds; what takes so long has failed, on a busy machine too
TRIES = 10  # a machine that stands still each time is broken
PERIOD = 128  # frames at 48 kHz: 2.7 ms
_OPTIONS = ("-S", "-t", "200", "-p", "32", "-m")
# Clients of one name that are opened at once, at different servers, get into each other's way (in 23 of 50 tries).
_OPENING = threading.Lock()


def missing() -> str | None:
    """Why there is no JACK to test with, or None."""
    if shutil.which("jackd") is None or shutil.which("jack_lsp") is None:
        return "jackd is not installed (Debian: apt-get install jackd2)"
    try:
        load()
    except LivepedalError as error:
        return str(error)
    return None


def needed() -> None:
    """Skip the test where there is no JACK; fail instead where LIVEPEDAL_REQUIRE_JACK says that there must
    be.
    """
    why = missing()
    if why is not None and os.environ.get("LIVEPEDAL_REQUIRE_JACK") == "1":
        pytest.fail(why)
    if why is not None:
        pytest.skip(why)


def until(true: Callable[[], object], what: str, patience: float = PATIENCE) -> None:
    """Wait until something is true."""
    end = time.monotonic() + patience
    while not true():
        if time.monotonic() > end:
            raise AssertionError(f"waited in vain for: {what}")
        time.sleep(0.02)


class Server:
    """A JACK server under a name of its own."""

    def __init__(self) -> None:
        self._said = tempfile.TemporaryFile("w+")  # noqa: SIM115 - closed in `close`
        # JACK keeps a list of eight names, and one whose server was killed stays in it; so names are used again,
        # the first that no other run of the tests is using, and where the list is full, those of other dead ones.
        others = (re.fullmatch(r"jack_(.+)_0_0", path.name) for path in Path("/dev/shm").glob("jack_*"))
        names = [f"lp-tests-{number}" for number in range(1, 8)] + [found[1] for found in others if found]
        for self.name in names:
            self.environment = {
                **os.environ,
                "JACK_DEFAULT_SERVER": self.name,
                "JACK_NO_START_SERVER": "1",
                "PYTHONIOENCODING": "utf-8",
            }
            why = self._try()
            if "already active" not in why:  # neither this one nor too many
                break
        if why:
            self._said.close()
            raise AssertionError(f"the JACK server does not start: {why}")

    def start(self) -> None:
        """Start it again, after it was ended."""
        why = self._try()
        assert not why, f"the JACK server does not start: {why}"

    def _try(self) -> str:
        """Start it; what it said where it does not start."""
        self._said.seek(0)
        self._said.truncate()
        self._process = subprocess.Popen(
            ["jackd", "-n", self.name, *_OPTIONS, "-d", "dummy", "-r", "48000", "-p", str(PERIOD)],
            stdout=subprocess.DEVNULL,
            stderr=self._said,
        )
        try:
            # A server of that name may answer that is not ours; ours ends at once then.
            time.sleep(0.1)
            until(
                lambda: self._process.poll() is not None or self._asked().returncode == 0, "the JACK server"
            )
            if self._process.poll() is None:
                return ""
        except (AssertionError, subprocess.TimeoutExpired):
            self._process.kill()
        self._process.wait()
        self._said.seek(0)
        return self._said.read() or "nothing was said"

    def _asked(self) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            ["jack_lsp"], env=self.environment, capture_output=True, text=True, check=False, timeout=PATIENCE
        )

    def ports(self) -> set[str]:
        return set(self._asked().stdout.split("\n")) - {""}

    def close(self) -> None:
        """End it for good."""
        self.end()
        self._said.close()

    def end(self, number: int = signal.SIGTERM) -> None:
        self._process.send_signal(number)
        self._process.wait()
        for left in Path("/dev/shm").glob(
            f"jack_sem.*_{self.name}_*"
        ):  # clients that were killed leave these
            left.unlink(missing_ok=True)


class Listener:
    """`livepedal listen`, in line mode, and what it has printed so far."""

    def __init__(
        self, server: Server, *arguments: str, limit: int | None = None, slow: dict[str, str] | None = None
    ) -> None:
        """limit: bytes that a file may have, to stand for a full disk; slow: what slow_judge.py wants to know."""
        self.out = Path(arguments[arguments.index("--out") + 1])

        def narrow() -> None:
            if limit is not None:
                import resource

                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

        self._text = ""
        self.port = ""
        with _OPENING:
            self._start(server, arguments, narrow, slow or {})

    def _start(
        self, server: Server, arguments: tuple[str, ...], narrow: Callable[[], None], slow: dict[str, str]
    ) -> None:
        before = server.ports()
        self.process = subprocess.Popen(
            [
                *(sys.executable, "-m", "tests.live.slow_judge" if slow else "livepedal"),
                *("listen", "--plain", *arguments),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            env={**server.environment, **slow},
            preexec_fn=narrow,
        )
        if "--virtual" in arguments:
            try:
                self.port = self._own_port(server, before)
            except BaseException:
                self.__exit__(None, None, None)
                raise

    def _own_port(self, server: Server, before: set[str]) -> str:
        new: set[str] = set()

        def there() -> bool:
            nonlocal new
            new = {name for name in server.ports() - before if name.endswith(":livepedal")}
            return bool(new) or self.process.poll() is not None

        until(there, "the port of livepedal listen")
        if not new:
            errors = self.process.stderr
            raise AssertionError(f"livepedal listen ended: {errors.read() if errors else ''!r}")
        return min(new)

    def __enter__(self) -> Listener:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def text(self) -> str:
        """What was printed so far."""
        assert self.process.stdout is not None
        while select.select([self.process.stdout], [], [], 0)[0]:
            data = os.read(self.process.stdout.fileno(), 65536)
            if not data:
                break
            self._text += data.decode()
        return self._text

    def until(self, text: str) -> None:
        try:
            until(lambda: text in self.text(), text)
        except AssertionError:
            raise AssertionError(f"{text!r} was not said, but:\n{self.text()}") from None

    def until_heard(self, log: Path) -> None:
        """Wait until the journal holds as many messages as the senders' log."""

        def all_there() -> bool:
            sent = log.read_text().count("\n") if log.exists() else 0
            return sent > 0 and sum(path.read_bytes().count(b" m ") for path in self._journals()) >= sent

        until(all_there, f"{log} in the journal")

    def until_down(self, log: Path, keys: set[int], *keyboards: subprocess.Popen[bytes]) -> None:
        """Wait until these keys of keyboards that hold theirs are down. Those that came late are struck again."""
        sent = len(keys)
        for _ in range(TRIES):
            until(lambda sent=sent: log.exists() and log.read_text().count("\n") >= sent, "the keys")  # type: ignore[misc]
            self.until_heard(log)
            (path,) = self._journals()
            if keys <= down(read_journal(path).records):
                return
            sent += 2 * len(keys)
            for keyboard in keyboards:
                go(keyboard)
        raise AssertionError(f"the keys came late {TRIES} times")

    def until_over(self, server: Server, log: Path, recording: Path, speed: str) -> None:
        """Play a recording until a passage of it is over: where all of it came late, there is none."""
        before = self.text().count(": passage over, ")
        for _ in range(TRIES):
            late = self.text().count(" came late")
            assert send(server, self.port, log, "file", str(recording), speed).wait(300) == 0
            self.until_heard(log)
            until(
                lambda late=late: self.text().count(": passage over, ") > before or self.text().count(" came late") > late,  # type: ignore[misc]
                "a passage that is over",
            )
            if self.text().count(": passage over, ") > before:
                return
        raise AssertionError(f"no passage is over, {TRIES} times")

    def _journals(self) -> list[Path]:
        return sorted(self.out.glob("*.journal"))

    def heard(self) -> list[str]:
        """The messages in the journals so far, in hexadecimal."""
        return [data for journal in self._journals() for data in heard(journal)]

    def type(self, keys: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(keys.encode())
        self.process.stdin.flush()

    def end(self) -> str:
        """End it as Ctrl-C does; all that it printed."""
        self.process.send_signal(signal.SIGINT)
        output, errors = self.process.communicate(timeout=PATIENCE)
        self._text += output.decode()
        assert (self.process.returncode, errors) == (0, b"")
        return self._text

    def kill(self) -> str:
        self.process.kill()
        output, _ = self.process.communicate(timeout=PATIENCE)
        self._text += output.decode()
        return self._text

    def findings(self) -> list[str]:
        """The lines that are findings, without those that were taken back, what is too much at once in a passage, which is
        told twice, and what could be played instead, which a file does not say.
        """
        back = [
            line.split(": withdrawn, because the notes after it make it playable: ")
            for line in self._text.split("\n")
            if ": withdrawn, " in line
        ]
        kinds = ("unplayable: ", "virtuoso: ", "playable: ", "easy: ", "audible: ")
        return [
            line.partition("; instead: ")[0]
            for line in self._text.split("\n")
            # What is said of whole passages, and advice on them, is none.
            if any(f": {kind}" in line for kind in kinds)
            and "passage of" not in line
            and ": Too much at once: " not in line
            and not line.startswith("passage ")
            and not any(line.startswith(f"{head}: ") and what in line for head, what in back)
        ]


def on_time(records: Iterable[Record]) -> Iterator[Record]:
    """The records of a journal without what came late."""
    late = False
    for record in records:
        if isinstance(record, Command):
            late = record.word == Word.LATE or (late and record.word != Word.ON_TIME)
        if isinstance(record, Command) or not late:
            yield record


def down(records: Iterable[Record]) -> set[int]:
    """The keys that are down after the records of a journal. Nobody knows when those came that came late, so they do not
    count, and all that were down before come up.
    """
    keys: set[int] = set()
    for record in on_time(records):
        if isinstance(record, Command):
            if record.word in (Word.LATE, Word.GONE):
                keys.clear()
        elif record.data[0] & 0xF0 == 0x90 and record.data[2]:
            keys.add(record.data[1])
        elif record.data[0] & 0xE0 == 0x80:
            keys.discard(record.data[1])
    return keys


def came_late(folder: Path) -> bool:
    """Whether a journal in a folder says that something came late: the machine stood still."""
    return any(f" c {Word.LATE} ".encode() in path.read_bytes() for path in folder.rglob("*.journal"))


def played_on_time(folder: Path, test: Callable[[Path], None]) -> None:
    """Run a test that holds only for what is played on time, in a folder of its own; again where something came late."""
    for number in range(TRIES):
        own = folder / f"try-{number}"
        own.mkdir()
        try:
            test(own)
        except AssertionError:
            if number == TRIES - 1 or not came_late(own):
                raise
        else:
            return


def heard(journal: Path) -> list[str]:
    """The messages in a journal, in hexadecimal."""
    return [record.data.hex() for record in read_journal(journal).records if isinstance(record, Heard)]


def send(
    server: Server, target: str, log: Path, *what: str, client: str | None = None
) -> subprocess.Popen[bytes]:
    """A sender, see sender.py; one with a port of its own (target "-") is returned when the port is there."""
    client = client or f"keys-{server.name}"
    sender = subprocess.Popen(
        [sys.executable, str(Path(__file__).with_name("sender.py")), client, target, str(log), *what],
        env=server.environment,
    )
    if target == "-":
        until(lambda: f"{client}:out" in server.ports(), f"the port of {client}")
    return sender


def go(sender: subprocess.Popen[bytes]) -> None:
    """A sender with a port of its own sends only now, when somebody listens."""
    sender.send_signal(signal.SIGUSR1)


def end_all(*senders: subprocess.Popen[bytes]) -> None:
    """Kill senders."""
    for sender in senders:
        sender.kill()
        sender.wait()


@pytest.fixture(scope="session")
def server() -> Iterator[Server]:
    """A server for all tests that leave it as it is."""
    needed()
    one = Server()
    yield one
    one.close()


@pytest.fixture
def own_server() -> Iterator[Server]:
    """A server that the test may kill."""
    needed()
    one = Server()
    yield one
    one.close()
