"""`meters find` on a bench full of cables (socat pairs): which meter is where, and not one byte to a port that nobody named."""
import json
import os
import shutil
import socket
import subprocess
import threading
import tty
import unittest

from harness import EndToEnd, _end, lcd_frame, wait_until

NIBBLES = b"147000300020\r\n"                       # 4.7000 kohm, meter_frames D
LINE = b'"1 OHM 0.30 Ohm"\r\n'                      # 0.30 ohm, meter_frames G
# A position receiver's sentence as IEC 61162-1 has it; the checksum is right, the place is invented.
POSITION = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"


class Cable:
    """Two pseudo-terminals joined by socat. The far end sends `talk` over and over, answers by `answer`, keeps all it hears."""

    def __init__(self, directory, name, talk=b"", answer=None):
        self.port, far = str(directory / name), str(directory / (name + ".far"))
        self.heard, self._talk, self._answer = b"", talk, answer
        self._pair = subprocess.Popen(["socat", f"pty,rawer,link={self.port}", f"pty,rawer,link={far}"])
        wait_until(lambda: os.path.exists(self.port) and os.path.exists(far))
        self._far = os.open(far, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(self._far)
        self._ends = threading.Event()
        threading.Thread(target=self._listen, daemon=True).start()
        threading.Thread(target=self._speak, daemon=True).start()

    def _speak(self):
        while self._talk and not self._ends.wait(0.05):
            os.write(self._far, self._talk)

    def _listen(self):
        try:
            while data := os.read(self._far, 256):
                self.heard += data
                if self._answer and (reply := self._answer(data)):
                    os.write(self._far, reply)
        except OSError:
            pass

    def close(self):
        self._ends.set()
        _end(self._pair)


class PoweredByTheLine:
    """A serial server (RFC 2217) with a meter behind it whose cable lives on DTR on and RTS off, as meter_frames E says."""

    def __init__(self):
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = f"rfc2217:127.0.0.1:{self._server.getsockname()[1]}"
        self.dtr = self.rts = None
        self.settings = []
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        while True:
            try:
                client, _ = self._server.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(client,), daemon=True).start()

    def _serve(self, client):
        with client:
            waiting = b""
            while True:
                try:
                    data = client.recv(512)
                except OSError:
                    return
                if not data:
                    return
                waiting += data
                waiting = self._take(client, waiting)

    def _take(self, client, data):
        while data:
            if data[0] != 0xFF:
                if data[0:1] == b"D" and self.dtr and self.rts is False:
                    client.sendall(b"OH  4.700KOhm\r")
                data = data[1:]
            elif len(data) > 1 and data[1] == 250:   # SB 44 command value... IAC SE
                end = data.find(b"\xff\xf0")
                if end < 0:
                    return data
                command, value = data[3], data[4:end]
                if command == 5 and value in (b"\x08", b"\x09"):
                    self.dtr = value == b"\x08"
                if command == 5 and value in (b"\x0b", b"\x0c"):
                    self.rts = value == b"\x0b"
                self.settings.append((command, value))
                client.sendall(b"\xff\xfa\x2c" + bytes([command + 100]) + value + b"\xff\xf0")
                data = data[end + 2:]
            elif len(data) > 2:
                if data[1] == 251 and data[2] == 44:
                    client.sendall(b"\xff\xfd\x2c")
                data = data[3:]
            else:
                return data
        return b""

    def close(self):
        self._server.close()


@unittest.skipUnless(shutil.which("socat"), "skipped: socat is missing (Debian package socat)")
class Find(EndToEnd):
    def cable(self, name, **ways):
        cable = Cable(self.dir, name, **ways)
        self.addCleanup(cable.close)
        return cable

    def find(self, *options, code=0):
        return self.tool("meters", "find", "--listen", "0.3", *options, code=code)

    def ports(self, *cables):
        return [word for cable in cables for word in ("--port", cable.port)]

    def test_three_meters_among_other_things_are_told_apart_and_nothing_is_written_to_any_port(self):
        talkers = {"lcd-segment-14": self.cable("one", talk=lcd_frame("0047", point=4)),
                   "ascii-nibble-14": self.cable("two", talk=NIBBLES),
                   "text-line-units": self.cable("three", talk=LINE)}
        silent, receiver = self.cable("silent"), self.cable("receiver", talk=POSITION)
        everything = [*talkers.values(), silent, receiver]
        done = self.find(*self.ports(*everything), "--json")
        rows = [json.loads(line) for line in done.stdout.splitlines()]
        best = {}
        for row in rows:
            if row["type"] == "candidate":
                best.setdefault(row["port"], row)
        self.assertEqual({row["meter"]: row["port"] for row in best.values()},
                         {meter: cable.port for meter, cable in talkers.items()}, rows)
        self.assertEqual({row["meter"]: row["value"] for row in best.values()},
                         {"lcd-segment-14": 4.7, "ascii-nibble-14": 4700.0, "text-line-units": 0.3})
        told = {row["port"]: row["text"] for row in rows if row["type"] == "nothing-found"}
        self.assertIn("nothing came", told[silent.port])
        self.assertIn("no meter definition finds a frame", told[receiver.port])
        self.assertEqual([cable.heard for cable in everything], [b""] * 5)

    def test_asking_writes_to_the_named_port_only_and_finds_what_only_answers(self):
        asked = self.cable("asked", answer=lambda data: b"OH  4.700KOhm\r" if b"D" in data else None)
        beside, machine = self.cable("beside"), self.cable("machine", talk=POSITION)
        done = self.find("--ask", *self.ports(asked))
        self.assertIn(f"switchwright read --meter text-14 --port {asked.port}", done.stdout)
        self.assertIn(b"D", asked.heard)
        self.assertEqual((beside.heard, machine.heard), (b"", b""))

    def test_a_meter_that_sends_by_itself_is_not_asked_even_where_asking_is_allowed(self):
        talker = self.cable("talker", talk=lcd_frame("0047", point=4))
        self.assertIn("--meter lcd-segment-14", self.find("--ask", *self.ports(talker)).stdout)
        self.assertEqual(talker.heard, b"")

    def test_what_is_printed_when_nothing_is_found_begins_with_a_sentence(self):
        silent = self.cable("silent")
        out = self.find(*self.ports(silent), code=4).stdout
        self.assertTrue(out.startswith("Nothing found at:\n"), out)
        found = self.find(*self.ports(silent, self.cable("talker", talk=LINE))).stdout
        self.assertTrue(found.startswith("meter"), found)
        self.assertIn("\n\nUse it with:\n", found)
        self.assertIn("\n\nNothing found at:\n", found)

    def test_a_meter_whose_cable_lives_on_the_modem_lines_is_powered_and_found(self):
        server = PoweredByTheLine()
        self.addCleanup(server.close)
        done = self.find("--ask", "--port", server.port)
        self.assertIn(f"--meter text-14 --port {server.port}", done.stdout)
        self.assertEqual((server.dtr, server.rts), (True, False))


if __name__ == "__main__":
    unittest.main()
