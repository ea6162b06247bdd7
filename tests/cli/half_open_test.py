"""A peer that vanishes without a word: no FIN, no RST, as when a serial server loses its power behind a network switch.

Two network name spaces with a cable between them (veth). The peer's address is taken away, so that its kernel answers
nothing any more while the carrier stays up; later it is given back. Needs the right to make name spaces.
"""
import json
import os
import shutil
import subprocess
import sys
import threading
import time
import unittest

from harness import SOURCE, TOOL, EndToEnd, _end, wait_until

HERE = SOURCE / "tests/cli"
FRAMES = "import sys; sys.path.insert(0, '.'); from harness import lcd_frame; frame = lcd_frame('0047', point=4)\n"
SENDS_BY_ITSELF = FRAMES + """
import socket, threading, time
def serve(client):
    try:
        while True:
            client.sendall(frame)
            time.sleep(0.1)
    except OSError:
        pass
server = socket.create_server(('10.99.0.2', 5025))
while True:
    threading.Thread(target=serve, args=(server.accept()[0],), daemon=True).start()
"""
ANSWERS = """
import sys, time; sys.path.insert(0, '.')
from scpi_device import Deviant
Deviant(lambda function: 4.7, clients_at_once=2, at=('10.99.0.2', 5025))
time.sleep(600)
"""


class HalfOpen(EndToEnd):
    def setUp(self):
        super().setUp()
        for program, package in (("ip", "iproute2"), ("nsenter", "util-linux")):
            if not shutil.which(program):
                self.skipTest(f"skipped: {program} is missing (Debian package {package})")
        if subprocess.run(["unshare", "-n", "true"], stderr=subprocess.DEVNULL).returncode != 0:
            self.skipTest("skipped: no right to make network name spaces (run as root)")
        self.ours, self.theirs = self.space(), self.space()
        made = subprocess.run([*self.inside(self.ours), "ip", "link", "add", "ours", "type", "veth", "peer", "name", "theirs"])
        if made.returncode != 0:
            self.skipTest("skipped: the kernel makes no virtual cable (veth)")
        self.ip(self.ours, "link", "set", "theirs", "netns", str(self.theirs.pid))
        self.ip(self.ours, "addr", "add", "10.99.0.1/24", "dev", "ours")
        self.ip(self.ours, "link", "set", "ours", "up")
        self.ip(self.theirs, "link", "set", "theirs", "up")
        self.appear()

    def space(self):
        holder = subprocess.Popen(["unshare", "-n", "sleep", "600"])
        self.addCleanup(_end, holder)
        link = f"/proc/{holder.pid}/ns/net"
        self.assertTrue(wait_until(lambda: os.readlink(link) != os.readlink("/proc/self/ns/net")))
        return holder

    def inside(self, holder):
        return ["nsenter", "-t", str(holder.pid), "-n"]

    def ip(self, holder, *arguments):
        subprocess.run([*self.inside(holder), "ip", *arguments], check=True)

    def appear(self):
        self.ip(self.theirs, "addr", "add", "10.99.0.2/24", "dev", "theirs")

    def vanish(self):
        self.ip(self.theirs, "addr", "del", "10.99.0.2/24", "dev", "theirs")

    def reader(self, meter, program):
        peer = subprocess.Popen([*self.inside(self.theirs), sys.executable, "-c", program], cwd=HERE)
        self.addCleanup(_end, peer)
        listens = [*self.inside(self.theirs), "ss", "-ltn"]
        if shutil.which("ss"):
            self.assertTrue(wait_until(lambda: b":5025" in subprocess.run(listens, stdout=subprocess.PIPE).stdout))
        process = subprocess.Popen([*self.inside(self.ours), TOOL, "read", "--meter", meter, "--port", "tcp:10.99.0.2:5025", "--json"],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        process.values, process.said = [], []
        for pipe, to, convert in ((process.stdout, process.values, lambda line: json.loads(line).get("value")),
                                  (process.stderr, process.said, str.strip)):
            threading.Thread(target=lambda p=pipe, t=to, c=convert: [t.append(c(line)) for line in p], daemon=True).start()
        self.assertTrue(wait_until(lambda: len(process.values) > 2), process.said)
        return process

    def found_lost_and_found_again(self, process):
        self.vanish()
        since = time.monotonic()
        self.assertTrue(wait_until(lambda: any("is lost" in line for line in process.said), 30), process.said)
        # Ten seconds by the kernel's timers (see keep_watch in link_tcp.cpp), and as much again for a busy machine.
        self.assertLess(time.monotonic() - since, 20)
        count = len(process.values)
        self.appear()
        self.assertTrue(wait_until(lambda: len(process.values) > count + 2, 20), process.said)
        self.assertEqual(set(process.values), {4.7})
        self.assertIsNone(process.poll())

    def test_a_streaming_peer_that_vanishes_without_a_word_is_lost_within_seconds_and_found_again(self):
        self.found_lost_and_found_again(self.reader("lcd-segment-14", SENDS_BY_ITSELF))

    def test_an_asked_peer_that_vanishes_without_a_word_is_lost_within_seconds_and_found_again(self):
        self.found_lost_and_found_again(self.reader("scpi", ANSWERS))


if __name__ == "__main__":
    unittest.main()
