"""One capture of tests/captures, played through a pseudo-terminal into the real binary, compared with what was written by
hand beside it. Which one: SWITCHWRIGHT_CAPTURE. ctest has one name for each capture (CMakeLists.txt finds them).

A meter that sends by itself is played chunk by chunk; one that is asked gives the next chunk to each request for a reading,
answers its name and an empty error queue, and drops the rest.
"""
import json
import os
import pathlib
import pty
import re
import select
import subprocess
import threading
import time
import tomllib
import tty
import unittest

from harness import SOURCE, TOOL, EndToEnd, _end, wait_until

CAPTURE = pathlib.Path(os.environ.get("SWITCHWRIGHT_CAPTURE", SOURCE / "tests/captures/text-14-normal.capture"))


def chunks(path, together_s=0.0):
    """What came, in pieces; pieces that came within `together_s` of each other are one answer."""
    pieces, before = [], None
    for line in path.read_text().splitlines():
        if not line or line.startswith("#"):
            continue
        at, data = float(line.split()[0]), bytes.fromhex("".join(line.split()[1:]))
        if pieces and at - before < together_s:
            pieces[-1] += data
        else:
            pieces.append(data)
        before = at
    return pieces


def expected(path):
    rows = []
    for line in path.with_suffix(".expected").read_text().splitlines():
        if line and not line.startswith("#"):
            rows.append(line.split()[:4])
    return rows


class CaptureReplay(EndToEnd):
    def test_the_real_binary_reads_what_was_written_by_hand(self):
        meter = re.search(r"^# meter: (\S+)", CAPTURE.read_text(), re.M)[1]
        text = (SOURCE / f"meters/{meter}.toml").read_text()
        definition = tomllib.loads(text)
        quick = self.dir / f"{meter}.toml"   # the shipped one, but unanswered requests are given up sooner
        quick.write_text(re.sub(r"timeout_s = .*", "timeout_s = 1.5", text))
        rows = expected(CAPTURE)
        master, slave = pty.openpty()
        tty.setraw(master)
        tty.setraw(slave)
        played = threading.Event()
        process = subprocess.Popen([TOOL, "read", "--meter", quick, "--port", os.ttyname(slave), "--json", "--for", "120s"],
                                   env=self.env, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        self.addCleanup(_end, process)

        def stream():
            # The tool throws away what is older than its opening of the port.
            fds = pathlib.Path(f"/proc/{process.pid}/fd")

            def opened():
                for fd in fds.iterdir():
                    try:
                        if os.readlink(fd) == os.ttyname(slave):
                            return True
                    except OSError:   # closed meanwhile
                        pass
                return False

            wait_until(opened)
            time.sleep(1.0)
            for chunk in chunks(CAPTURE):
                os.write(master, chunk)
                time.sleep(0.02)
            played.set()

        def answer():
            todo, heard = chunks(CAPTURE, together_s=0.1), b""
            ends = b"\n" if definition["decoder"]["kind"] == "scpi" else None
            while not played.is_set():
                if not select.select([master], [], [], 0.2)[0]:
                    continue
                heard += os.read(master, 256)
                parts = heard.split(ends) if ends else [bytes([b]) for b in heard] + [b""]
                heard = parts.pop()
                for part in parts:
                    if part == b"*IDN?":
                        os.write(master, b"Invented,player of captures,0,1\r\n")
                    elif part == b"SYST:ERR?":
                        os.write(master, b'0,"No error"\r\n')
                    elif part == b"FUNC?":
                        os.write(master, b'"RES"\r\n')
                    elif ends is None or part.endswith(b"?"):
                        if not todo:
                            played.set()
                            break
                        os.write(master, todo.pop(0))

        threading.Thread(target=answer if "poll" in definition else stream, daemon=True).start()
        readings = []

        def take():
            for line in process.stdout:
                readings.append(json.loads(line))

        thread = threading.Thread(target=take, daemon=True)
        thread.start()
        self.assertTrue(played.wait(150))
        time.sleep(0.3)
        process.terminate()
        thread.join(5)
        os.close(master)
        os.close(slave)
        got = [[r["quantity"], "over-range" if r["over_range"] else "not-a-number" if r.get("not_a_number") else "finite",
                r.get("value"), r.get("resolution")] for r in readings]
        if "poll" in definition:
            # Each answer stands alone, so a torn one does not spoil the next as it does in a stream: more may be read, but
            # nothing else.
            wanted = [tuple(row[:3]) for row in rows]
            # Of several numbers in one answer the first counts: the others may be those of a second display.
            further = {f"{float(n):.12g}" for chunk in chunks(CAPTURE)
                       for n in re.findall(rb",([-+0-9.eE]+)", chunk)} if definition["decoder"]["kind"] == "scpi" else set()
            wanted = [row for row in wanted if row[2] == "-" or f"{float(row[2]):.12g}" not in further]
            seen = [(q, s, "-" if v is None else f"{v:.12g}") for q, s, v, _ in got]
            self.assertLessEqual({(q, s, v if v == "-" else f"{float(v):.12g}") for q, s, v in wanted}, set(seen))
            self.assertLessEqual(set(seen), {(q, s, v if v == "-" else f"{float(v):.12g}") for q, s, v in wanted})
            self.assertGreaterEqual(len(got), len(wanted))
            return
        self.assertEqual(len(got), len(rows), got)
        for reading, row in zip(got, rows):
            self.assertEqual(reading[:2], row[:2], (reading, row))
            for value, text in zip(reading[2:], row[2:]):
                if text == "-":
                    continue
                self.assertAlmostEqual(value, float(text), delta=abs(float(text)) * 1e-9, msg=f"{reading} {row}")


if __name__ == "__main__":
    unittest.main()
