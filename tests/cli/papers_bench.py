"""A bench to run the papers' commands at: a folder in which `switchwright`, `tools/...` and what needs more than this machine
stand on the path as go-betweens.

The go-between of the tool changes only what a reader would have in its place: the port of a meter that is plugged in becomes that
of a simulated one, hands and answers of a person become options, half an hour becomes seconds. Programs that install, build or
need root are run in dry form: the script must exist and be sound to bash, and its options must stand in it."""
import json
import os
import pathlib
import re
import shlex
import subprocess
import sys
import urllib.request

SOURCE = pathlib.Path(os.environ.get("SOURCE_DIR", pathlib.Path(__file__).resolve().parents[2]))
HANDS = {"qualify", "drop", "learn", "run", "next"}
DRY = ("sudo", "cmake", "ctest", "node")


def blocks(page, text=None):
    """(heading, language, lines) of each fenced block."""
    found, heading, inside = [], "", None
    for line in (text if text is not None else (SOURCE / page).read_text()).splitlines():
        if inside is not None:
            if line.strip() == "```":
                found.append((heading, inside[0], inside[1]))
                inside = None
            else:
                inside[1].append(line)
        elif line.startswith("```"):
            inside = (line[3:].strip(), [])
        elif line.startswith("#"):
            heading = line.lstrip("# ")
    return found


def commands(lines):
    """What a reader would paste, line by line, without the remark behind it."""
    joined, whole = "", []
    for line in lines:
        joined += line.rstrip()
        if joined.endswith("\\"):
            joined = joined[:-1] + " "
            continue
        if joined.strip() and not joined.lstrip().startswith("#"):
            whole.append(re.sub(r"\s{2,}#.*$|\s+# .*$", "", joined).strip())
        joined = ""
    return whole


def prepare(folder, tool, ports, hands):
    """The folder's go-betweens; ports: what a paper calls a port -> the real one; hands: kind of work -> (port, hands)."""
    places = folder / "on-the-path"
    places.mkdir()
    (folder / "bench.json").write_text(json.dumps({"tool": str(tool), "ports": ports, "hands": hands}))
    for name in ("switchwright", *DRY):
        (places / name).write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} {shlex.quote(__file__)} {shlex.quote(str(folder))} {name} "$@"\n')
        (places / name).chmod(0o755)
    (folder / "tools").mkdir()
    for script in (path for path in (SOURCE / "tools").iterdir() if path.is_file()):
        between = folder / "tools" / script.name
        between.write_text(f'#!/bin/sh\nexec {shlex.quote(sys.executable)} {shlex.quote(__file__)} {shlex.quote(str(folder))} tools/{script.name} "$@"\n')
        between.chmod(0o755)
    return f"{places}:{os.environ['PATH']}"


def main(folder, program, *arguments):
    if program == "switchwright":
        return tool(json.loads((pathlib.Path(folder) / "bench.json").read_text()), list(arguments))
    if program.startswith("tools/"):
        subprocess.run(["bash", "-n", SOURCE / program], check=True)
        text = (SOURCE / program).read_text()
        return max([0, *(2 for word in arguments if word.startswith("-") and word not in text)])
    if program == "ctest":
        print("dry:", *arguments)
    return 0


def tool(bench, words):
    """Runs the tool as a reader at a simulated bench would."""
    for paper, real in bench["ports"].items():
        words = [word.replace(paper, real) for word in words]
    words = [{"30m": "16s", "10s": "1s"}.get(word, word) for word in words]
    command = words[1] if words[0] in ("profiles", "lot", "meters", "records", "keys") and len(words) > 1 and words[1][0] != "-" else words[0]
    state = []
    if command in HANDS and "--port" not in words or "/hands" not in " ".join(words) and command in HANDS:
        kind = "lot" if words[0] == "lot" else "wired" if "--wired" in words else command if command in bench["hands"] else "plain"
        port, hands = bench["hands"][kind]
        if "--port" in words:
            words[words.index("--port") + 1] = port
        else:
            state += ["--port", port]
        state += ["--hands", f"sim:{hands}", "--settle", "0.03s", "--operator", "reader"]
        for option, value in (("--meter", "lcd-segment-14"), ("--profile", "regulator-shunt-240")):
            if option not in words and words[0] not in ("lot", *(["profiles"] if option == "--profile" else [])):
                state += [option, value]
        state += {"lot": ["--acknowledge", "never-connected", "--inspected", "yes"], "qualify": ["--inspected", "yes", "--acknowledge", "de-energised"],
                  "drop": ["--acknowledge", "de-energised"], "profiles": ["--acknowledge", "de-energised"]}[words[0]]
        if "--powered" in words:
            state += ["--acknowledge", "energised"]
        if "--wired" in words:
            state += ["--acknowledge", "locked-off"]
    if command == "trace":
        state += ["--acknowledge", "energised", "--simulated", "--operator", "reader"]
    if words[:2] in (["lot", "open"], ["lot", "close"]):
        state += ["--operator", "reader", *(["--simulated", "--seed", "1"] if words[1] == "open" else [])]
    if command == "serve":
        return served(bench["tool"], words + ["--listen", "127.0.0.1:0"])
    return subprocess.run([bench["tool"], *words, *state], stdin=subprocess.DEVNULL).returncode


def served(program, words):
    """The page answers, and then the server is ended as a reader would."""
    process = subprocess.Popen([program, *words], text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    try:
        for line in process.stdout:
            address = re.search(r"http://[0-9.:]+", line)
            if address:
                with urllib.request.urlopen(address.group(0) + "/", timeout=10) as page:
                    return 0 if b"<html" in page.read() else 1
        return 1
    finally:
        process.terminate()
        process.wait()


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
