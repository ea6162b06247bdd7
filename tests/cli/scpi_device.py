"""A bench meter and scanner written to IEEE 488.2 and SCPI-1999, in Python, so that it shares no code with the tool.

What it holds to: one answer line per query message, NL; a failed query answers nothing and queues an error; headers are
not case sensitive; `SYST:ERR?` is first in first out and ends with 0,"No error"; CONF:VOLT:DC wants its parameter here
(-109), as MEASure does not; +9.9E37 is over-range, 9.91E37 not a number; FUNC? names the function it stands on, DC being
the default node. What deviates is asked for by name.
"""
import re
import socket
import threading


class Device:
    """Serves one client at a time on a loopback port. `measure(function)` gives ohm or volt, None for over-range."""

    def __init__(self, measure, echo=False, prompt="", suffix="", overload="+9.90000000E+37", slow_s=0.0, knows_measure=True,
                 knows_read=False, form="{:+.8E}", unplugged=False, at=("127.0.0.1", 0), says_function=True, refuses=None):
        """`refuses`: {"VOLT:AC": how}. "error": an entry in the error queue and no answer; "hardware": the same with -241;
        "silent": neither; "pretends": MEASure gives a reading of the function it stands on all the same."""
        self.says_function, self.refuses = says_function, refuses or {}
        self.dial_turns = None      # called after each reading: somebody at the meter's keys
        self.measure, self.echo, self.prompt, self.suffix, self.overload = measure, echo, prompt, suffix, overload
        self.slow_s, self.knows_measure, self.knows_read, self.form = slow_s, knows_measure, knows_read, form
        self.heard, self.errors, self.closed = [], [], set()
        self.most_closed = []
        self.function = "VOLT:DC"
        self.identity = "Invented,bench meter,4711,1.0"
        self.mute = 0               # so many queries give an empty line
        self.silent = unplugged     # takes bytes and never answers
        self.clients = 0
        self.end = "\r\n" if echo else "\n"
        self._server = socket.create_server(at)
        self.port = f"tcp:127.0.0.1:{self._server.getsockname()[1]}"
        self._client = None
        self._ends = threading.Event()
        threading.Thread(target=self._serve, daemon=True).start()

    def close(self):
        self._ends.set()
        self._server.close()
        self.hang_up()

    def complaints(self):
        """What is in the error queue, but for the goodbye that only serial meters know."""
        return [error for error in self.errors if "SYST:LOC" not in error]

    def hang_up(self):
        """Ends the connection of the latest client."""
        if self._client:
            try:
                self._client.shutdown(socket.SHUT_RDWR)
            except OSError:
                pass

    def _serve(self):
        while not self._ends.is_set():
            try:
                self._client, _ = self._server.accept()
            except OSError:
                return
            self.clients += 1
            self._attend(self._client)

    def _attend(self, client):
        with client, client.makefile("rb") as lines:
            try:
                for line in lines:
                    self._take(client, line.decode("ascii").strip())
            except OSError:
                pass

    def _send(self, client, text):
        if not self.silent:
            client.sendall(text.encode("ascii"))

    def _take(self, client, line):
        self.heard.append(line)
        if self.echo:
            self._send(client, line + "\r\n")
        answer = self._obey(line)
        if answer is not None:
            if self.mute > 0 and line.endswith("?") and "ERR" not in line.upper() and "IDN" not in line.upper():
                self.mute -= 1
                answer = ""
            self._send(client, answer + self.end)
        if self.prompt:
            self._send(client, self.prompt)

    def _error(self, code, text):
        self.errors.append(f'{code},"{text}"')

    def _obey(self, line):
        header, _, parameters = line.partition(" ")
        word = header.upper()
        if word == "*IDN?":
            return self.identity
        if word in ("*CLS", "*RST"):
            return self.errors.clear()
        if word in ("SYST:ERR?", "SYSTEM:ERROR?"):
            return self.errors.pop(0) if self.errors else '0,"No error"'
        match = re.fullmatch(r"(MEAS|MEASURE|CONF|CONFIGURE):(.*?)(\??)", word)
        if match and (match[1].startswith("CONF") != (match[3] == "?")):
            function = {"RESISTANCE": "RES", "FRESISTANCE": "FRES", "VOLT": "VOLT:DC", "VOLTAGE:DC": "VOLT:DC",
                        "VOLTAGE:AC": "VOLT:AC"}.get(match[2], match[2])
            how = self.refuses.get(function)
            if how == "pretends" and match[3]:
                return self._reading(parameters)
            if how in ("silent", "pretends"):
                return None
            if how:
                return self._error(*((-241, "Hardware missing") if how == "hardware" else (-113, "Undefined header;" + header)))
            if function in ("RES", "FRES", "VOLT:DC", "VOLT:AC"):
                if match[3]:
                    if self.knows_measure:
                        self.function = function
                        return self._reading(parameters)
                elif function == "VOLT:DC" and not parameters:
                    return self._error(-109, "Missing parameter")
                elif self.knows_read:
                    self.function = function
                    return None
        if word == "FUNC?" and self.says_function:
            return self.says_function(self.function) if callable(self.says_function) else f'"{self.function.removesuffix(":DC")}"'
        if word == "READ?" and self.knows_read:
            return self._reading("")
        if word in ("ROUT:OPEN:ALL", "ROUTE:OPEN:ALL"):
            self.closed.clear()
            return None
        match = re.fullmatch(r"\(@([\d,]+)\)", parameters.strip())
        if word in ("ROUT:CLOS", "ROUTE:CLOSE") and match:
            self.closed |= set(map(int, match[1].split(",")))
            self.most_closed.append(len(self.closed))
            return None
        return self._error(-113, "Undefined header;" + header)

    def _reading(self, parameters):
        self._ends.wait(self.slow_s)
        value = self.measure(self.function)
        if self.dial_turns:
            self.dial_turns()
        limit = float(parameters.split(",")[0]) if parameters.strip() else None
        if value is None or (limit and abs(value) > limit * 1.2):
            return self.overload
        return (value if isinstance(value, str) else self.form.format(value)) + self.suffix


class Deviant(Device):
    """What meters do that the standard does not say, or forbids; each way is asked for by name."""

    def __init__(self, measure, end="\n", spelling=None, ignores=(), old_errors=0, keeps_errors=False, endless_errors=False,
                 needs_remote=False, nameless=False, no_queue=False, lost=None, clients_at_once=1, **ways):
        self.spelling, self.ignores, self.needs_remote, self.nameless = spelling, ignores, needs_remote, nameless
        self.no_queue, self.keeps_errors, self.endless_errors = no_queue, keeps_errors, endless_errors
        self.lost, self.clients_at_once, self.remote = lost, clients_at_once, False
        super().__init__(measure, **ways)
        self.end = end
        self.errors += [f'-{100 + i % 14},"Old {i}"' for i in range(old_errors)]
        self.now, self.most_clients = 0, 0

    def _attend(self, client):
        def attend():
            super(Deviant, self)._attend(client)
            self.now -= 1

        if self.now >= self.clients_at_once:   # a raw socket with few places closes the door at once
            client.close()
            return
        self.now += 1
        self.most_clients = max(self.most_clients, self.now)
        threading.Thread(target=attend, daemon=True).start()

    def _send(self, client, text):
        super()._send(client, self.lost(text) if self.lost else text)

    def _obey(self, line):
        word = line.partition(" ")[0]
        if self.spelling and not self.spelling(word):
            return self._error(-113, "Undefined header;" + word)
        if any(word.upper().startswith(ignored) for ignored in self.ignores):
            return None
        if word.upper() == "*IDN?" and self.nameless:
            return None
        if word.upper().startswith("SYST:ERR"):
            if self.no_queue:
                return None
            if self.endless_errors:
                return '-350,"Queue overflow"'
        if word.upper() == "*CLS" and self.keeps_errors:
            return None
        if self.needs_remote:
            if word.upper() == "SYST:REM":
                self.remote = True
                return None
            if not self.remote and not word.startswith("*") and not word.upper().startswith("SYST"):
                return self._error(-203, "Command protected")
        return super()._obey(line)
