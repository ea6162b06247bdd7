"""What the end-to-end tests share: the real binary, the simulator, and a scripted bench of our own.

The scripted bench speaks the 14-byte LCD segment frame from the published frame layout (table from memory, see
meters/lcd-segment-14.toml) and the hands protocol of include/switchwright/bench/hands.hpp, and shares no code with the tool.
"""
import contextlib
import concurrent.futures
import json
import os
import pathlib
import pty
import select
import signal
import socket
import subprocess
import tempfile
import threading
import time
import tty
import unittest

SOURCE = pathlib.Path(__file__).resolve().parents[2]
TOOL = os.environ.get("SWITCHWRIGHT", str(SOURCE / "build/release/switchwright"))


class EndToEnd(unittest.TestCase):
    """Every test has a directory, a store and settings of its own."""

    maxDiff = None

    def setUp(self):
        self._dir = tempfile.TemporaryDirectory(prefix="switchwright-test-")
        self.dir = pathlib.Path(self._dir.name)
        self.store = self.dir / "records.sqlite"
        self.env = dict(os.environ, HOME=str(self.dir), XDG_CONFIG_HOME=str(self.dir / "config"),
                        XDG_DATA_HOME=str(self.dir / "data"), SWITCHWRIGHT_STORE=str(self.store), TERM="dumb")
        self.addCleanup(self._dir.cleanup)

    def tool(self, *arguments, code=0, timeout=150, **options):
        """Runs the tool; on a wrong exit code shows everything."""
        done = subprocess.run([TOOL, *map(str, arguments)], env=self.env, cwd=self.dir, text=True, timeout=timeout,
                              stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options)
        if code is not None and done.returncode != code:
            self.fail(f"exit code {done.returncode}, expected {code}\n{' '.join(map(str, arguments))}\n"
                      f"files: {sorted(p.name for p in self.dir.iterdir())}\n"
                      f"--- stdout\n{done.stdout[-4000:]}\n--- stderr\n{done.stderr[-4000:]}")
        return done

    def at_once(self, rows, check, most=4):
        """check(*row) for every row, some at a time: they wait more than they compute. A row that fails is a failing subtest."""
        with concurrent.futures.ThreadPoolExecutor(most) as pool:
            running = [(row, pool.submit(check, *row)) for row in rows]
        for row, done in running:
            with self.subTest(row=row):
                done.result()

    def simulator(self, *options, profile="regulator-shunt-240", meter="lcd-segment-14", rate="200"):
        process = subprocess.Popen([TOOL, "simulate", "--profile", str(profile), "--meter", str(meter), "--rate", rate, *options],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)
        line = process.stdout.readline()
        if not line:
            self.fail("the simulator did not start: " + process.stderr.read())
        ready = json.loads(line)
        self.assertEqual(ready["type"], "ready")
        return ready

    def qualify(self, ready, *options, inspected="yes", profile="regulator-shunt-240", meter="lcd-segment-14", operator="test", code=0, **more):
        if inspected and "--inspected" not in options:
            options = ("--inspected", inspected, *options)
        done = self.tool("qualify", "--profile", profile, "--meter", meter, "--port", ready["port"],
                         "--hands", "sim:" + ready["hands"], "--acknowledge", "de-energised", "--operator", operator,
                         "--settle", "0.03s", "--json", *options, code=code, **more)
        return [json.loads(line) for line in done.stdout.splitlines()]


def _end(process):
    process.kill()
    process.wait()
    for pipe in (process.stdout, process.stderr, process.stdin):
        if pipe:
            pipe.close()


DIGITS = {"0": 0x7D, "1": 0x05, "2": 0x5B, "3": 0x1F, "4": 0x27, "5": 0x3E, "6": 0x7E, "7": 0x15, "8": 0x7F, "9": 0x3F,
          " ": 0x00, "L": 0x68}


def lcd_frame(digits, point=0, unit="ohm", prefix="", minus=False, ac=False, dc=False, auto=True, hold=False,
              relative=False, low_battery=False):
    """The 14-byte frame for four digits with the point before digit 2, 3 or 4 (0: none)."""
    low = [0] * 15
    low[1] = (ac << 3) | (dc << 2) | (auto << 1) | 1
    for i, digit in enumerate(digits):
        code = DIGITS[digit]
        low[2 + 2 * i] = (code >> 4) & 7
        low[3 + 2 * i] = code & 15
    low[2] |= minus << 3
    if point:
        low[2 * point] |= 8
    low[10] = {"u": 8, "n": 4, "k": 2}.get(prefix, 0)
    low[11] = {"m": 8, "M": 2}.get(prefix, 0)
    low[12] = ((unit == "ohm") << 2) | (relative << 1) | hold
    low[13] = ((unit == "V") << 2) | low_battery
    return bytes((i << 4) | low[i] for i in range(1, 15))


OPEN = dict(digits=" 0L ", point=3, prefix="M")


class ScriptedMeter:
    """A pseudo-terminal that sends what `speak()` returns, over and over."""

    def __init__(self, speak, every_s=0.02):
        self.master, self.slave = pty.openpty()
        tty.setraw(self.master)
        tty.setraw(self.slave)
        self.port = os.ttyname(self.slave)
        self._speak = speak
        self._every_s = every_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self):
        while not self._stop.wait(self._every_s):
            data = self._speak()
            _, writable, _ = select.select([], [self.master], [], 0)
            if data and writable:
                try:
                    os.write(self.master, data)
                except OSError:
                    return

    def close(self):
        self._stop.set()
        self._thread.join()
        os.close(self.master)
        os.close(self.slave)


class ScriptedHands:
    """A hands socket that obeys everything and remembers the arrangement. Told to switch a current, it says what `display`
    shows, given the arrangement; None: nobody looks."""

    def __init__(self, directory, display=lambda now: now["amps"] if now["current"] in ("on", "reversed") else 0.0):
        self.display = display
        self.path = str(pathlib.Path(directory) / "hands.sock")
        self.now = {}
        self.times = 0  # arrangements made so far
        self._server = socket.socket(socket.AF_UNIX)
        self._server.bind(self.path)
        self._server.listen(1)
        threading.Thread(target=self._run, daemon=True).start()

    def _run(self):
        try:
            client, _ = self._server.accept()
        except OSError:
            return
        with client, contextlib.suppress(ConnectionResetError), client.makefile("rw") as lines:
            for line in lines:
                message = json.loads(line)
                self.now.update({k: v for k, v in message.items() if k != "id"})
                self.times += 1
                answer = {"id": message["id"], "done": True}
                if "current" in message and (shows := self.display(self.now)) is not None:
                    answer["supply_shows_a"] = shows
                lines.write(json.dumps(answer) + "\n")
                lines.flush()

    def close(self):
        self._server.close()


def wait_until(condition, timeout_s=10.0):
    end = time.monotonic() + timeout_s
    while time.monotonic() < end:
        if condition():
            return True
        time.sleep(0.02)
    return False


def interrupt(process):
    process.send_signal(signal.SIGINT)
