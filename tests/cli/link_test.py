"""A bad day for the cable, with the real binary on real links: pulled out and put back, a server that goes, a mute one."""
import json
import os
import pathlib
import pty
import select
import shutil
import socket
import subprocess
import threading
import time
import unittest

from harness import TOOL, EndToEnd, ScriptedMeter, _end, lcd_frame, wait_until


class Links(EndToEnd):
    def reader(self, port, meter="lcd-segment-14", *options):
        process = subprocess.Popen([TOOL, "read", "--meter", str(meter), "--port", str(port), "--json", *options], env=self.env,
                                   text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        process.values, process.said = [], []

        def take(pipe, to, convert):
            for line in pipe:
                to.append(convert(line))

        for pipe, to, convert in ((process.stdout, process.values, lambda line: json.loads(line).get("value")),
                                  (process.stderr, process.said, str.strip)):
            threading.Thread(target=take, args=(pipe, to, convert), daemon=True).start()
        return process

    def told(self, process, text, timeout_s=15.0):
        return wait_until(lambda: any(text in line for line in process.said), timeout_s)

    def test_the_log_shows_at_a_silent_port_what_was_opened_how_and_what_was_asked(self):
        master, slave = pty.openpty()
        self.addCleanup(os.close, master)
        self.addCleanup(os.close, slave)
        asked = self.tool("--log", "debug", "read", "--meter", "scpi", "--port", os.ttyname(slave), "--for", "1s", code=4)
        self.assertRegex(asked.stderr, r"info .*: opened for scpi \(9600 baud, .*, asked for each reading\)")
        self.assertRegex(asked.stderr, r'debug .*: sent "\*IDN\?')
        quiet = self.tool("read", "--meter", "scpi", "--port", os.ttyname(slave), "--for", "1s", code=4)
        self.assertNotIn("sent", quiet.stderr)

    def test_the_log_shows_the_bytes_that_belong_to_no_frame(self):
        ready = self.simulator()
        read = self.tool("--log", "debug", "read", "--meter", "ascii-status-14", "--port", ready["port"], "--for", "1s", code=4)
        self.assertRegex(read.stderr, r"debug .*: received [0-9a-f]{2} ")

    def test_a_cable_pulled_and_put_back_under_the_same_name_costs_a_told_gap_and_nothing_else(self):
        if not shutil.which("socat"):
            self.skipTest("skipped: socat is missing (Debian package socat)")
        port, far = self.dir / "meter", self.dir / "far"

        def plug():
            pair = subprocess.Popen(["socat", f"pty,rawer,link={port}", f"pty,rawer,link={far}"])
            self.addCleanup(_end, pair)
            self.assertTrue(wait_until(lambda: port.exists() and far.exists()))
            return pair

        ends = threading.Event()
        self.addCleanup(ends.set)
        state = {"number": 1}

        def play():
            while not ends.wait(0.03):
                try:
                    with os.fdopen(os.open(far, os.O_WRONLY | os.O_NOCTTY), "wb", buffering=0) as out:  # never makes a file of its own
                        while not ends.wait(0.03):
                            out.write(lcd_frame(f"000{state['number']}", point=4))
                except OSError:
                    pass

        pair = plug()
        threading.Thread(target=play, daemon=True).start()
        process = self.reader(port)
        self.assertTrue(wait_until(lambda: 0.1 in process.values), process.said)
        pair.terminate()
        pair.wait()
        self.assertTrue(self.told(process, "is lost"), process.said)
        state["number"] = 2
        pair = plug()
        self.assertTrue(wait_until(lambda: 0.2 in process.values), process.said)
        self.assertEqual(set(process.values), {0.1, 0.2})
        self.assertEqual(sorted(process.values), process.values)   # nothing old after the gap
        self.assertIsNone(process.poll())

    def test_a_server_that_goes_is_looked_for_without_a_busy_loop(self):
        server = socket.create_server(("127.0.0.1", 0))
        number = server.getsockname()[1]
        process = self.reader(f"tcp:127.0.0.1:{number}")
        client, _ = server.accept()
        client.sendall(lcd_frame("0001", point=4) * 2)
        self.assertTrue(wait_until(lambda: process.values))
        client.close()
        server.close()
        self.assertTrue(self.told(process, "is lost"), process.said)

        def cpu_s():
            fields = pathlib.Path(f"/proc/{process.pid}/stat").read_text().rsplit(")", 1)[1].split()
            return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

        before, since = cpu_s(), time.monotonic()
        time.sleep(4.0)   # what is measured is the waiting itself
        self.assertLess((cpu_s() - before) / (time.monotonic() - since), 0.01)
        server = socket.create_server(("127.0.0.1", number))
        self.addCleanup(server.close)
        client, _ = server.accept()
        self.addCleanup(client.close)
        client.sendall(lcd_frame("0002", point=4) * 2)
        self.assertTrue(wait_until(lambda: 0.2 in process.values), process.said)

    def test_a_peer_that_falls_silent_without_a_word_is_told_and_believed_again_when_it_speaks(self):
        server = socket.create_server(("127.0.0.1", 0))
        self.addCleanup(server.close)
        process = self.reader(f"tcp:127.0.0.1:{server.getsockname()[1]}")
        client, _ = server.accept()
        self.addCleanup(client.close)
        client.sendall(lcd_frame("0001", point=4))
        self.assertTrue(self.told(process, "nothing received"), process.said)
        client.sendall(lcd_frame("0002", point=4))
        self.assertTrue(wait_until(lambda: 0.2 in process.values))

    def test_read_on_a_terminal_writes_one_live_line_with_a_trend_and_ends_with_the_rejected_frames(self):
        values = iter(list(range(1, 9)) * 1000)
        sent = {"n": 0}

        def speak():
            sent["n"] += 1
            return lcd_frame(f"000{next(values)}", point=4) if sent["n"] % 4 else b"\x17\x27\x3d\x00\x10\x20"

        meter = ScriptedMeter(speak)
        self.addCleanup(meter.close)
        master, slave = pty.openpty()
        process = subprocess.Popen([TOOL, "read", "--meter", "lcd-segment-14", "--port", meter.port, "--count", "12"],
                                   env=dict(self.env, TERM="xterm"), stdin=slave, stdout=slave, stderr=subprocess.PIPE, text=True)
        self.addCleanup(_end, process)
        os.close(slave)
        shown = b""
        while process.poll() is None or select.select([master], [], [], 0.1)[0]:
            if select.select([master], [], [], 0.1)[0]:
                try:
                    shown += os.read(master, 4096)
                except OSError:
                    break
        os.close(master)
        text = shown.decode()
        self.assertEqual(text.count("\n"), 1, text)
        self.assertEqual(text.count("\r0."), 12, text)
        self.assertIn("▁", text)
        self.assertIn("█", text)
        self.assertRegex(process.stderr.read(), r"12 readings|1\d readings")


if __name__ == "__main__":
    unittest.main()
