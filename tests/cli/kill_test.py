"""A process that is killed at a random instant, by SIGKILL as a power cut or an impatient person does: the store opens, every
chain is whole, nothing of what the process had said was kept is missing but for the last second, and resume ends in the
verdict that an undisturbed run gives. How often is a parameter: SWITCHWRIGHT_KILLS (default 6 each).

The loss is counted against the killed process's own event stream: a "kept" event is written after the indication."""
import json
import os
import random
import signal
import sqlite3
import subprocess
import time
import unittest

from harness import TOOL, EndToEnd

KILLS = int(os.environ.get("SWITCHWRIGHT_KILLS", "6"))


class Killed(EndToEnd):
    def start(self, *arguments):
        return subprocess.Popen([TOOL, *map(str, arguments)], env=self.env, cwd=self.dir, text=True,
                                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)

    def killed_after(self, process, seconds):
        time.sleep(seconds)
        process.send_signal(signal.SIGKILL)
        out, _ = process.communicate(timeout=60)
        events = []
        for line in out.splitlines():
            try:
                events.append(json.loads(line))
            except json.JSONDecodeError:
                pass  # the line that was cut
        return events

    def check_store(self):
        self.tool("records", "--check")
        with sqlite3.connect(self.store) as database:
            self.assertEqual(database.execute("pragma integrity_check").fetchone(), ("ok",))

    # Minutes on a busy machine: a test only when the number is given. Not yet seen to its end.
    def qualify_killed_at_any_instant_loses_at_most_a_second_and_resumes_to_the_same_verdict(self):
        seed = random.Random(14)
        ready = self.simulator("--fault", "stuck-closed:line")
        common = ["--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands",
                  "sim:" + ready["hands"], "--acknowledge", "de-energised", "--inspected", "yes", "--json"]
        begun = time.monotonic()
        whole = self.tool("qualify", *common, code=1)
        took_s = time.monotonic() - begun
        for _ in range(KILLS):
            process = self.start("qualify", *common)
            events = self.killed_after(process, seed.uniform(0.05, max(0.2, took_s)))
            if not self.store.exists():
                continue
            self.check_store()
            kept = [e for e in events if e["type"] == "kept"]
            records = [json.loads(line) for line in self.tool("records", "--json").stdout.splitlines()]
            unfinished = [r for r in records if not r.get("verdict") and not r.get("outcome")]
            if not unfinished or process.returncode != -signal.SIGKILL:
                continue
            with sqlite3.connect(self.store) as database:
                indications = database.execute("select count(*) from indication where record_id = ?",
                                               (unfinished[0]["id"],)).fetchone()[0]
            # One settled indication is one transaction, so no more than the one under way can be missing.
            self.assertGreaterEqual(indications, len(kept) - 1)
            again = self.tool("qualify", "--resume", unfinished[0]["id"], "--port", ready["port"], "--hands",
                              "sim:" + ready["hands"], "--acknowledge", "de-energised", "--inspected", "yes", "--json", code=1)
            verdict = [json.loads(line) for line in again.stdout.splitlines() if '"verdict"' in line][-1]
            expected = [json.loads(line) for line in whole.stdout.splitlines() if '"verdict"' in line][-1]
            self.assertEqual(verdict["outcome"], expected["outcome"])
        self.check_store()

    if "SWITCHWRIGHT_KILLS" in os.environ:
        test_qualify_killed = qualify_killed_at_any_instant_loses_at_most_a_second_and_resumes_to_the_same_verdict

    def test_a_bag_killed_at_any_instant_is_whole_or_says_that_it_is_not(self):
        seed = random.Random(15)
        ready = self.simulator()
        self.qualify(ready)
        for number in range(KILLS):
            folder = self.dir / f"bag{number}"
            process = self.start("bag", "latest", "-o", folder)
            self.killed_after(process, seed.uniform(0.0, 0.15))
            if folder.exists():
                code = self.tool("bag", "--check", folder, code=None).returncode
                self.assertIn(code, (0, 5))
                manifest = folder / "manifest-sha256.txt"
                if code == 0:
                    subprocess.run(["sha256sum", "--quiet", "-c", manifest.name], cwd=folder, check=True)
        self.check_store()


if __name__ == "__main__":
    unittest.main()
