"""A person at a terminal with a meter whose dial the tool cannot turn: told in plain words, believed from the frames alone."""
import os
import shutil
import subprocess
import time
import unittest

from harness import TOOL, EndToEnd, ScriptedMeter, lcd_frame

VOLTS_LIVE = dict(digits="0240", point=4, unit="V", ac=True)
VOLTS_DEAD = dict(digits="0000", point=2, unit="V", ac=True)
LEADS = dict(digits="0003", point=4)


@unittest.skipUnless(shutil.which("tmux"), "skipped: tmux is missing (Debian package tmux)")
class DialAndPerson(EndToEnd):
    def tmux(self, *arguments):
        return subprocess.run(["tmux", "-L", self.socket, *arguments], stdout=subprocess.PIPE, text=True, check=False).stdout

    def screen(self):
        return self.tmux("capture-pane", "-p")

    def sees(self, text, timeout_s=15.0):
        """Waits until the screen shows it; compares without regard to where lines are broken."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            if text in " ".join(self.screen().split()):
                return
            time.sleep(0.1)
        self.fail(f"the screen never showed {text!r}, but:\n{self.screen()}")

    def press(self, *keys):
        self.tmux("send-keys", *keys)

    def step(self):
        return self.screen().partition(" of ")[0].split()[-1:]

    def test_a_dial_in_the_wrong_place_hold_relative_and_a_low_battery_are_told_and_only_the_right_reading_is_kept(self):
        shows = dict(VOLTS_DEAD)
        meter = ScriptedMeter(lambda: lcd_frame(**shows), every_s=0.05)
        self.addCleanup(meter.close)

        def dial(state):
            shows.clear()
            shows.update(state)

        self.socket = f"dial{os.getpid()}"
        self.addCleanup(lambda: self.tmux("kill-server"))
        command = [TOOL, "qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", meter.port,
                   "--operator", "Ada", "--part", "x", "--serial", "1", "--settle", "0.3s"]
        self.env.pop("TERM")
        subprocess.run(["tmux", "-L", self.socket, "new-session", "-d", "-x", "110", "-y", "34",
                        " ".join(map(str, command)) + "; sleep 60"], env=self.env, check=True)
        self.sees("type your name")
        self.press("Ada", "Enter")
        self.sees("known to be live")
        for _ in range(600):   # the proof that the part is dead in AC and in DC, then the inspection
            text = " ".join(self.screen().split())
            if "Set the meter to ohms" in text:
                break
            kind = dict(ac=False, dc=True) if "a DC source" in text or "no DC voltage" in text else {}
            dial({**(VOLTS_LIVE if "known to be live" in text else VOLTS_DEAD), **kind})
            if "y yes" in text:
                self.press("y")
            elif "settled" in text and ("24.0 V" in text) == ("known to be live" in text):
                self.press("Enter")
            time.sleep(0.3)
        self.sees("Set the meter to ohms and hold the two probe tips firmly together")
        at = self.step()
        #        what the dial and the keys show        what the person reads
        rows = [(VOLTS_DEAD, "the meter is on AC volts; turn the dial to ohms"),
                (dict(LEADS, hold=True), "switch hold off"),
                (dict(LEADS, relative=True), "switch relative off")]
        for state, told in rows:
            with self.subTest(told):
                dial(state)
                self.sees(told)
                self.press("Enter")   # a person who does not read
                time.sleep(0.4)
                self.assertEqual(self.step(), at, self.screen())
                self.assertNotIn("0.3 ohm", self.screen())
        dial(dict(LEADS, low_battery=True))
        self.sees("0.3 ohm (the meter's battery is low) settled")
        self.press("Enter")
        self.sees("Probes on")
        self.assertNotEqual(self.step(), at)


if __name__ == "__main__":
    unittest.main()
