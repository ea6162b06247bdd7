"""What a unit of a lot costs the person at the bench, short plan against full plan: probes moved, knob turned, keys pressed, and
seconds of a person's pace and of the tool beside it.

The real binary tests a simulated carton; between the two stand scripted hands that take as long as a person takes (the costs of
profiles/costs/person.toml: 4 s one probe, 7 s both, 2 s a step of the knob, 5 s the meter's function). Keys are counted as the
person's view wants them: one for each reading, answer and acknowledgement.

    SWITCHWRIGHT=build/release/switchwright python3 tests/bench/pace/lot_pace.py [--fast]

--fast: the hands take no time; the seconds of their pace are added up instead of waited for.
"""
import json
import os
import pathlib
import socket
import subprocess
import sys
import tempfile
import threading
import time

TOOL = os.environ.get("SWITCHWRIGHT", "build/release/switchwright")
PROFILE = "regulator-shunt-240"
POSITIONS = ["off", "low", "medium", "high"]
MOVE_ONE_S, MOVE_BOTH_S, TURN_STEP_S, FUNCTION_S = 4.0, 7.0, 2.0, 5.0
FAST = "--fast" in sys.argv


class PacedHands:
    """Passes every arrangement on to the simulator once a person would have made it, and counts."""

    def __init__(self, directory, behind):
        self.path = str(pathlib.Path(directory) / "paced.sock")
        self.behind = behind
        self.reset()
        self.server = socket.socket(socket.AF_UNIX)
        self.server.bind(self.path)
        self.server.listen(4)
        threading.Thread(target=self.serve, daemon=True).start()

    def reset(self):
        self.probes = self.turns = self.functions = 0
        self.seconds = self.waited = 0.0
        self.place, self.knob, self.dial = None, 0, None

    def serve(self):
        while True:
            client, _ = self.server.accept()
            threading.Thread(target=self.talk, args=(client,), daemon=True).start()

    def talk(self, client):
        with client, socket.socket(socket.AF_UNIX) as simulator, client.makefile("rw") as lines:
            simulator.connect(self.behind)
            with simulator.makefile("rw") as there:
                for line in lines:
                    self.move(json.loads(line))
                    there.write(line)
                    there.flush()
                    lines.write(there.readline())
                    lines.flush()

    def move(self, message):
        cost = 0.0
        if "probes" in message:
            place = (message["probes"], tuple(message.get("pair", ())))
            moved = 0 if place == self.place else 2
            if moved and self.place and place[0] == self.place[0] == "pair" and set(place[1]) & set(self.place[1]):
                moved = 1
            self.probes += moved
            cost += {0: 0.0, 1: MOVE_ONE_S, 2: MOVE_BOTH_S}[moved]
            self.place = place
        if "position" in message:
            to = POSITIONS.index(message["position"])
            self.turns += abs(to - self.knob)
            cost += TURN_STEP_S * abs(to - self.knob)
            self.knob = to
        if message.get("dial") and message["dial"] != self.dial:
            if self.dial:
                self.functions += 1
                cost += FUNCTION_S
            self.dial = message["dial"]
        self.seconds += cost
        if not FAST:
            time.sleep(cost)
            self.waited += cost


def main():
    with tempfile.TemporaryDirectory() as directory:
        env = dict(os.environ, SWITCHWRIGHT_STORE=directory + "/records.sqlite", XDG_CONFIG_HOME=directory)
        simulator = subprocess.Popen([TOOL, "simulate", "--profile", PROFILE, "--meter", "lcd-segment-14", "--lot", "8"], env=env, text=True,
                                     stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        try:
            ready = json.loads(simulator.stdout.readline())
            hands = PacedHands(directory, ready["hands"])
            opened = json.loads(subprocess.run(
                [TOOL, "lot", "open", "--part", "P", "--supplier", "S", "--lot-number", "1", "--size", "8", "--condition", "new", "--profile", PROFILE,
                 "--meter", "lcd-segment-14", "--operator", "x", "--simulated", "--agreed", "major=8:1", "--agreed", "minor=8:1", "--json"],
                env=env, text=True, stdout=subprocess.PIPE, check=True).stdout)
            print("unit                        probes  knob  dial  keys  readings  person s  tool s")
            for name, plan in (("short, first of a sitting", "short"), ("short", "short"), ("full", "full")):
                hands.reset()
                begin = time.monotonic()
                done = subprocess.run([TOOL, "lot", "next", opened["lot"], "--port", ready["port"], "--hands", "sim:" + hands.path, "--operator", "x",
                                       "--acknowledge", "never-connected", "--inspected", "yes", "--plan", plan, "--json"],
                                      env=env, text=True, stdout=subprocess.PIPE, check=False)
                took = time.monotonic() - begin
                events = [json.loads(line) for line in done.stdout.splitlines()]
                readings = sum(e["type"] in ("judged", "kept") for e in events)
                answers = sum(e["type"] in ("answered", "inspection") for e in events)
                print(f"{name:27} {hands.probes:6} {hands.turns:5} {hands.functions:5} {readings + answers:5} {readings:9} "
                      f"{hands.seconds:9.1f} {took - hands.waited:7.1f}   exit {done.returncode}")
        finally:
            simulator.kill()
            simulator.wait()


if __name__ == "__main__":
    main()
