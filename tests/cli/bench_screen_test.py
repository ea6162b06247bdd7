"""A person at the bench, in terminals of every size and in one that cannot draw: seen through tmux, with a scripted meter."""
import itertools
import os
import re
import shutil
import subprocess
import sys
import time
import unittest

from harness import OPEN, TOOL, EndToEnd, ScriptedMeter, lcd_frame

VOLTS_LIVE = dict(digits="0240", point=4, unit="V", ac=True)
VOLTS_DEAD = dict(digits="0000", point=2, unit="V", ac=True)
LEADS = dict(digits="0003", point=4)
CLOSED = dict(digits="0004", point=4)

PROFILE = """schema = 1
title = "One contact, for a test"
values = "invented for a test"
[rating]
voltage_v = 240
current_a = 15
[terminals]
names = ["L1", "H1"]
[[position]]
id = "off"
[[position]]
id = "on"
[[contact]]
id = "line"
between = ["L1", "H1"]
closed_at = ["on"]
[limits]
closed_max_ohm = 2.0
sound_max_ohm = 0.1
open_min_ohm = 1e6
"""


SERVERS = itertools.count()


def words(text):
    return " ".join(text.split())


class Bench(EndToEnd):
    def start(self, columns=80, rows=24, term=None, arguments=(), serial="7"):
        self.shows = dict(VOLTS_DEAD)
        meter = ScriptedMeter(lambda: lcd_frame(**self.shows), every_s=0.05)
        self.addCleanup(meter.close)
        (self.dir / "one.toml").write_text(PROFILE)
        self.socket = socket = f"bench{os.getpid()}-{next(SERVERS)}"  # one that is going down is not met again
        self.addCleanup(lambda: subprocess.run(["tmux", "-L", socket, "kill-server"], stderr=subprocess.DEVNULL, check=False))
        command = [TOOL, "qualify", "--profile", str(self.dir / "one.toml"), "--meter", "lcd-segment-14", "--port", meter.port,
                   "--operator", "Ada", "--part", "x", "--serial", serial, "--settle", "0.2s", "--range", "auto", *arguments]
        set_term = f"TERM={term} " if term is not None else ""
        self.env.pop("TERM", None)
        subprocess.run(["tmux", "-L", self.socket, "new-session", "-d", "-x", str(columns), "-y", str(rows),
                        set_term + " ".join(map(str, command)) + "; echo exit code $?; sleep 60"], env=self.env, check=True)

    def tmux(self, *arguments):
        return subprocess.run(["tmux", "-L", self.socket, *arguments], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                              check=False).stdout

    def screen(self):
        return self.tmux("capture-pane", "-p")

    def sees(self, text, timeout_s=20.0):
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            if text in words(self.screen()):
                return
            time.sleep(0.1)
        self.fail(f"the screen never showed {text!r}, but:\n{self.screen()}")

    def press(self, *keys):
        self.tmux("send-keys", *keys)

    def work(self, until, look=lambda screen: None, timeout_s=90.0):
        """Does what the screen says, as a person would, until it shows one of `until`."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            screen = self.screen()
            text = words(screen)
            if any(word in text for word in until):
                return screen
            look(screen)
            last = text.rpartition("step ")[2] if "keys:" in text else text
            if "type your name" in last or "Type your name" in last:
                self.press("Ada", "Enter")
            elif "known to be live" in last or "no AC voltage" in last or "no DC voltage" in last:
                kind = dict(ac=False, dc=True) if "a DC source" in last or "no DC voltage" in last else {}
                self.shows = {**(VOLTS_LIVE if "known to be live" in last else VOLTS_DEAD), **kind}
            elif "probe tips" in last:
                self.shows = dict(LEADS)
            elif (where := re.search(r"\b(?:at|to) (on|off)\b", last)):
                self.shows = dict(CLOSED if where[1] == "on" else OPEN)
            if "y yes" in last:
                self.press("y")
            elif "settled" in last:
                self.press("c" if "c both probes" in last else "Enter")
            time.sleep(0.35)
        self.fail(f"never saw {until}, but:\n{self.screen()}")


@unittest.skipUnless(shutil.which("tmux"), "skipped: tmux is missing (Debian package tmux)")
class BenchScreen(Bench):
    def check_layout(self, columns):
        def look(screen):
            lines = screen.rstrip("\n").split("\n")
            text = words(screen)
            if "step " not in text and "keys" not in text:
                return
            for line in lines:
                self.assertLessEqual(len(line), columns)
            if "Enter keep" in text or "Enter go on" in text or "c both" in text:
                self.assertTrue("q stop" in text or "q" in lines[-1].split(), screen)
        return look

    def keeps_its_layout(self, columns, rows):
        self.start(columns, rows)
        screen = self.work(["n next part", "exit code"], self.check_layout(columns))
        text = words(screen)
        self.assertIn("switchwright report", text)
        self.assertIn("Enter done", text)
        self.assertNotIn("step ", text)  # nothing else stands there
        self.press("Enter")
        self.sees("exit code")

    def test_a_usual_terminal_keeps_instruction_and_keys_and_ends_with_the_verdict(self):
        self.keeps_its_layout(80, 24)

    def test_a_low_terminal_keeps_instruction_and_keys_and_ends_with_the_verdict(self):
        self.keeps_its_layout(40, 12)

    def test_a_narrow_terminal_keeps_instruction_and_keys_and_ends_with_the_verdict(self):
        self.keeps_its_layout(20, 24)

    def test_a_large_terminal_keeps_instruction_and_keys_and_ends_with_the_verdict(self):
        self.keeps_its_layout(120, 40)

    def test_a_wall_of_a_terminal_keeps_instruction_and_keys_and_ends_with_the_verdict(self):
        self.keeps_its_layout(300, 50)

    def test_the_window_is_drawn_anew_when_its_size_changes(self):
        self.start(80, 24)
        self.sees("type your name")
        self.tmux("resize-window", "-x", "30", "-y", "15")
        self.sees("Ctrl-C stop")
        self.assertTrue(all(len(line) <= 30 for line in self.screen().split("\n")))

    def test_one_key_goes_on_to_the_next_part_and_no_serial_number_is_offered(self):
        self.start(80, 24, serial="SN-OLD")
        self.work(["n next part"])
        self.press("n")
        self.sees("Serial number or tag:")
        self.assertNotIn("SN-OLD", words(self.screen()).rpartition("Serial number")[2])
        self.press("SN-NEW", "Enter")
        self.sees("type your name")  # nothing stated of the last part counts for this one
        self.press("Ada", "Enter")
        self.sees("SN-NEW")
        self.assertNotIn("SN-OLD", (self.dir / "config/switchwright/bench.toml").read_text())

    def test_screen_sentence_and_report_show_one_figure_for_one_reading(self):
        self.start(100, 30)
        self.work(["At on, L1-H1 reads"])
        text = words(self.screen())
        # The meter shows 0.4 ohm, the leads have 0.3.
        self.assertIn("0.1 ohm settled", text)
        self.assertIn("At on, L1-H1 reads 0.1 ohm", text)
        self.assertIn("the meter shows 0.4 ohm", text)

    def test_a_terminal_that_cannot_draw_is_led_in_plain_lines(self):
        for term in ("dumb", "''"):
            with self.subTest(term):
                self.start(100, 200, term=term)
                screen = self.work(["exit code"])
                text = words(screen)
                self.assertIn("step 1 of", text)
                self.assertIn("keys: type your name and press Enter", text)
                self.assertIn("0.1 ohm settled (the meter shows 0.4 ohm", text)
                self.assertNotIn("\u2588", screen)
                self.tmux("kill-server")

    def test_a_terminal_that_is_stopped_pauses_and_goes_on(self):
        self.start(80, 24)
        self.sees("type your name")
        self.press("C-s")
        time.sleep(0.5)
        self.press("Ada", "Enter")   # nobody can have seen what this answers
        time.sleep(1.0)
        self.press("C-q")
        self.sees("type your name")
        self.press("Ada", "Enter")
        self.sees("known to be live")


if __name__ == "__main__":
    sys.exit(unittest.main())
