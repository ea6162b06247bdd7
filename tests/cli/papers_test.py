"""The papers are tests: every command that a fenced block of a README shows is run, in order, at a simulated bench or in dry form
(papers_bench.py says what is changed), and what a transcript shows is what the tool says."""
import json
import os
import pathlib
import pty
import re
import shutil
import subprocess
import unittest

import postgres
from harness import TOOL, EndToEnd
from lot_test import PROFILE
from papers_bench import SOURCE, blocks, commands, prepare

TIMES = (r"on_s = \[4, 25\]\noff_s = \[8, 45\]", "on_s = [0.6, 1.0]\noff_s = [0.9, 1.5]")  # a regulator that cycles in two seconds
RUN_BY_OTHERS = {"src/record/README.md": "chain_page_test", "tests/bench/speed/README.md": "paths only", "tests/bench/page/README.md": "paths only",
                 "tests/bench/timing/README.md": "paths only", "tests/bench/diagnosis/README.md": "paths only"}
SECTIONS = {"Try it", "Set up a bench", "A pulled switch", "Less common", "A carton of new parts", "Cycle timing for a claim", "Records, reports, labels",
            "In a browser", "A shop's server"}


def readmes():
    listed = subprocess.run(["git", "-C", SOURCE, "ls-files", "*README.md", "DEVELOPERS.md"], capture_output=True, text=True).stdout.split()
    return listed or [str(p.relative_to(SOURCE)) for p in SOURCE.rglob("README.md") if "build" not in p.parts and "node_modules" not in p.parts]


def without_figures(text):
    return re.sub(r"[0-9a-f]*\d[0-9a-f.]*", "#", " ".join(text.split()))


class Papers(EndToEnd):
    def setUp(self):
        super().setUp()
        self.shadow = self.dir / "data/switchwright/profiles"   # definitions of one's own stand in for shipped ones
        self.shadow.mkdir(parents=True)

    def bench(self, ports=None, hands=None):
        self.env["PATH"] = prepare(self.dir, TOOL, ports or {}, hands or {})

    def plain(self, *faults, **more):
        ready = self.simulator(*faults, **more)
        return ready["port"], ready["hands"]

    def run_line(self, line, code=0):
        done = subprocess.run(["bash", "-ec", line], cwd=self.dir, env=self.env, text=True, capture_output=True, timeout=150, stdin=subprocess.DEVNULL)
        codes = code if isinstance(code, tuple) else (code,)
        self.assertIn(done.returncode, codes, f"{line}\n--- stdout\n{done.stdout[-3000:]}\n--- stderr\n{done.stderr[-3000:]}")
        return done.stdout

    def run_sections(self, page, *headings, codes={}, before={}):
        """Every command of these sections. `codes`: part of a line -> its exit code; `before`: part of a line -> what a reader has by then."""
        ran, left = 0, set(codes) | set(before)
        for heading, language, lines in blocks(page):
            if heading not in headings or language not in ("", "sh") or lines[0].startswith(("$", "->", "<-")):
                continue
            for line in commands(lines):
                for part, do in before.items():
                    if part in line:
                        do()
                        left.discard(part)
                said = [part for part in codes if part in line]
                left -= set(said)
                self.run_line(line, codes[said[0]] if said else 0)
                ran += 1
        self.assertGreater(ran, 0)
        self.assertEqual(left, set(), "the test speaks of commands that the page no longer has")

    def test_every_section_of_every_readme_with_commands_is_run_by_a_test(self):
        run_here = {"README.md", "meters/README.md", "profiles/README.md", "src/hands/README.md", "src/page/README.md", "DEVELOPERS.md"}
        self.assertEqual({heading for heading, language, _ in blocks("README.md") if language in ("", "sh")}, SECTIONS)
        for page in readmes():
            if blocks(page):
                self.assertIn(page, run_here | set(RUN_BY_OTHERS))

    def test_commands_in_running_text_have_options_that_exist(self):
        helps, checked = {}, 0
        for page in readmes():
            text = re.sub(r"```.*?```", "", (SOURCE / page).read_text(), flags=re.S)
            shown = re.findall(r"`(switchwright [^`]+)`", text.replace("\n", " ")) + re.findall(r"^    (switchwright .+)$", text, re.M)
            for words in (line.split() for line in shown):
                names = [word for word in words[1:3] if re.fullmatch("[a-z]+", word)]
                for take in (names, names[:1]):   # "lot close", or "report latest"
                    key = tuple(take)
                    if key not in helps:
                        helps[key] = self.tool(*take, "--help", code=None)
                    if helps[key].returncode == 0:
                        break
                self.assertEqual(helps[key].returncode, 0, " ".join(words))
                for option in (word.split("=")[0] for word in words if word.startswith("-")):
                    self.assertRegex(helps[key].stdout, rf"(^|[\s,]){re.escape(option)}\b", f"{page}: {' '.join(words)}")
                checked += 1
        self.assertGreater(checked, 20)

    def test_every_path_and_link_of_a_readme_leads_somewhere(self):
        for page in readmes():
            text = (SOURCE / page).read_text()
            headings = {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.+)$", text, re.M)}
            for target in re.findall(r"\]\(([^)]+)\)", text):
                file, _, part = target.partition("#")
                where = (SOURCE / page).parent / file if file else SOURCE / page
                self.assertTrue(where.exists(), f"{page}: {target}")
                if part:
                    there = {re.sub(r"[^a-z0-9 -]", "", h.lower()).replace(" ", "-") for h in re.findall(r"^#+ (.+)$", where.read_text(), re.M)}
                    self.assertIn(part, there if file else headings, page)
            for path in re.findall(r"(?<![\w/.-])(?:build/release/)?((?:tests|tools|src|meters|profiles)/[\w./-]*\w)", text):
                found = SOURCE / path
                self.assertTrue(found.exists() or list(found.parent.glob(found.name + ".*")) or "NAME" in path, f"{page}: {path}")

    def test_quoted_symptoms_of_the_troubleshooting_are_what_the_tool_says(self):
        read = ("read", "--meter", "lcd-segment-14", "--count", "1", "--port")
        silent, end = pty.openpty()
        self.addCleanup(os.close, silent)
        self.addCleanup(os.close, end)
        locked, other = pty.openpty()
        self.addCleanup(os.close, locked)
        self.addCleanup(os.close, other)
        os.chmod(os.ttyname(other), 0)
        record = self.qualify(self.simulator(), profile="regulator-shunt-240")[-1]["record"]
        self.tool("bag", record, "-o", "bag", "--without-pdf")
        with open(self.dir / "bag/data/readings.csv", "a") as file:
            file.write("added\n")
        nobody = ["runuser", "-u", "nobody", "--"] if os.geteuid() == 0 else []   # root may open every port
        in_public = dict(cwd="/", text=True, capture_output=True, stdin=subprocess.DEVNULL)
        said = {
            "no such port": self.tool(*read, "/dev/ttyUSB77", code=4).stderr,
            "no permission to open the port": subprocess.run([*nobody, TOOL, *read, os.ttyname(other)], env=dict(self.env, HOME="/nowhere"), **in_public).stderr,
            "nothing received": self.tool(*read, os.ttyname(end), code=4).stderr,
            "soundness undecided": self.tool("report", record).stdout,
            "the record store cannot be opened": self.tool("records", "--store", "/proc/none.sqlite", code=5).stderr,
            "a PDF needs weasyprint": subprocess.run([TOOL, "report", record, "-o", "a.pdf"], env=dict(self.env, PATH="/nowhere"), cwd=self.dir, text=True,
                                                     capture_output=True).stderr,
            "Not whole": "".join(vars(self.tool("bag", "--check", "bag", code=5))[pipe] for pipe in ("stdout", "stderr")),
        }
        rows = re.search(r"## Troubleshooting\n(.*?)\n## ", (SOURCE / "README.md").read_text(), re.S).group(1).splitlines()
        quoted = [words for row in rows for words in re.findall(r"`([^`]+)`", row.split("|")[1]) if not words.startswith("bag ")]
        self.assertEqual(set(quoted), set(said))
        for words, text in said.items():
            self.assertIn(words.lower(), " ".join(text.lower().split()), words)

    def test_readme_trying_it_and_setting_up_a_bench(self):
        port, hands = self.plain()
        self.bench({"/dev/ttyUSB0": port}, {"plain": (port, hands)})
        self.run_sections("README.md", "Try it", "Set up a bench", codes={"doctor": (0, 1), "meters find": (0, 4)})

    def test_readme_the_run_that_is_shown_is_what_the_demo_prints(self):
        port, hands = self.plain("--fault", "stuck-closed:cycling")
        shown = [lines for _, language, lines in blocks("README.md") if language == "" and lines[0].startswith("$")]
        self.assertEqual(len(shown), 1)
        said = self.tool("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", port, "--hands", f"sim:{hands}", "--acknowledge",
                         "de-energised", "--inspected", "yes", "--settle", "0.03s", "--part", "demonstration part", "--serial", "A-2", "--operator", "demo", code=1)
        said = without_figures(said.stdout + said.stderr).replace(port, "/dev/pts/0")
        text = "\n".join(line for line in shown[0][1:] if line != "exit code 1" and "the same for DC volts" not in line).replace("/dev/pts/0", without_figures(port))
        for piece in re.split(r"\s*\.\.\.(?:\s|$)", text):
            self.assertIn(without_figures(piece), said)

    def test_readme_a_pulled_switch(self):
        port, hands = self.plain()
        self.bench({"/dev/ttyUSB0": port}, {"plain": (port, hands)})
        self.run_sections("README.md", "A pulled switch")
        self.assertTrue((self.dir / "report.pdf").read_bytes().startswith(b"%PDF"))

    def test_readme_a_pulled_switch_less_common_ways(self):
        self.bench({}, {"plain": self.plain(), "wired": self.plain("--wired", "2800W@240")})
        self.run_sections("README.md", "Less common", codes={"--wired": 3})
        self.assertIn("[[contact]]", (self.dir / "my-part.toml").read_text())

    def test_readme_a_carton_of_new_parts(self):
        (self.shadow / "regulator-shunt-240.toml").write_text(PROFILE)
        carton = self.plain("--lot", "200", "--reference", "R100=100", profile=self.shadow / "regulator-shunt-240.toml")
        self.bench({}, {"lot": carton})

        def study():
            rows = [f"{part},{who},{14000 + 100 * part + bias + again}" for part in range(10) for who, bias in (("A", 0), ("B", 12), ("C", -7)) for again in (1, -1)]
            (self.dir / "values.csv").write_text("part,operator,value\n" + "\n".join(rows) + "\n")

        self.run_sections("README.md", "A carton of new parts", before={"lot study": study})
        self.assertTrue((self.dir / "lot.pdf").read_bytes().startswith(b"%PDF"))

    def stamp(self):
        """What a time-stamp authority answers: openssl in its place."""
        (self.dir / "ts.cnf").write_text("[tsa]\ndefault_tsa = one\n[one]\nserial = ./serial\nsigner_digest = sha256\ndefault_policy = 1.2.3.4\n"
                                         "digests = sha256\ncerts = root.pem\n[s]\nextendedKeyUsage = critical,timeStamping\n")
        (self.dir / "serial").write_text("01\n")
        subprocess.run("openssl req -x509 -newkey rsa:2048 -nodes -keyout r.key -out root.pem -subj /CN=root &&"
                       "openssl req -newkey rsa:2048 -nodes -keyout t.key -out t.csr -subj '/CN=made-up stamps' &&"
                       "openssl x509 -req -in t.csr -CA root.pem -CAkey r.key -CAcreateserial -out t.pem -extfile ts.cnf -extensions s &&"
                       "openssl ts -reply -config ts.cnf -section one -queryfile stamped.tsq -signer t.pem -inkey t.key -out stamped.tsr",
                       shell=True, check=True, cwd=self.dir, capture_output=True)

    def test_readme_trace_claim_and_records(self):
        text, changed = re.subn(*TIMES, (SOURCE / "profiles/regulator-shunt-240.toml").read_text())
        self.assertEqual(changed, 1)
        (self.shadow / "regulator-shunt-240.toml").write_text(text)
        live = self.simulator("--powered-on", "--position", "medium", "--time-constant", "1", "--meter-at", "load=lcd-segment-14@H1-H2",
                              "--meter-at", "line=lcd-segment-14@L1-L2", profile=self.shadow / "regulator-shunt-240.toml", rate="25")
        self.bench({"/dev/ttyUSB0": live["ports"]["load"], "/dev/ttyUSB1": live["ports"]["line"]}, {"plain": self.plain()})
        for name in ("bench-1", "bench-2"):
            self.run_line(f"switchwright meters own add {name} --meter lcd-segment-14 --serial {name} --calibrated 2026-01-15 --due 2999-01-15")
        (self.dir / "photo.jpg").write_bytes(b"\xff\xd8\xff\xe0 invented")
        self.run_sections("README.md", "Cycle timing for a claim", codes={"switchwright trace": (0, 3)}, before={"--timestamp-response": self.stamp})
        self.run_sections("README.md", "Records, reports, labels")
        self.assertTrue((self.dir / "claim.pdf").read_bytes().startswith(b"%PDF"))
        self.assertTrue((self.dir / "label.pdf").read_bytes().startswith(b"%PDF"))

    def test_readme_in_a_browser(self):
        self.bench()
        self.run_sections("README.md", "In a browser")

    @unittest.skipUnless(postgres.programs(), "SKIPPED: PostgreSQL is missing (Debian package postgresql)")
    def test_readme_a_shops_server(self):
        server = postgres.Postgres()
        self.addCleanup(server.remove)
        self.bench({"HOST": f"127.0.0.1:{server.port}"}, {"plain": self.plain()})
        self.env.update(PGHOST=str(server.dir), PGPORT=str(server.port), PGUSER="owner", PATH=f"{self.env['PATH']}:{server.bin}", PGPASSFILE=str(self.dir / "pgpass"))
        (self.dir / "pgpass").write_text("*:*:*:bench1:...\n*:*:*:desk:...\n")   # the passwords as the page has them
        (self.dir / "pgpass").chmod(0o600)
        self.run_line("switchwright qualify --serial S-1")
        self.run_sections("README.md", "A shop's server")
        self.assertEqual(server.sql("\\c switchwright\nselect count(*) from switchwright.record").splitlines()[-1], "1")
        listed = self.tool("records", "--json", "--store", f"postgresql://desk@127.0.0.1:{server.port}/switchwright").stdout
        self.assertEqual(json.loads(listed)["serial"], "S-1")

    def test_meters_readme(self):
        over_tcp = self.simulator("--link", "tcp", meter="scpi")["port"]
        port, hands = self.plain()
        example = next(lines for _, language, lines in blocks("meters/README.md") if language == "toml")
        (self.dir / "ohm-line.toml").write_text("\n".join(example))
        self.bench({"tcp:192.168.1.20:5025": over_tcp, "/dev/ttyUSB0": port}, {"plain": (port, hands)})
        headings = {heading for heading, language, _ in blocks("meters/README.md") if language == "sh"}
        self.run_sections("meters/README.md", *headings, codes={"meters find": (0, 4)})
        self.run_line("switchwright meters check ohm-line.toml")

    def test_hands_readme(self):
        ready = self.simulator()
        self.bench()
        lines = next(lines for heading, _, lines in blocks("src/hands/README.md") if heading == "To try it")
        text = "\n".join(lines).replace("/dev/pts/4", ready["port"]).replace("/tmp/switchwright-a1b2c3/hands", ready["hands"])
        self.assertRegex(text.splitlines()[0], r"^\$ switchwright simulate --profile regulator-shunt-240 --meter lcd-segment-14$")
        ask, read = (piece.split("\n") for piece in text.split("\n$ ")[1:])
        self.assertEqual(self.run_line("\n".join(ask[:2])).strip(), ask[2])
        self.assertEqual(without_figures(self.run_line(read[0]).splitlines()[0]), without_figures(read[1]))

    def test_developers_commands_in_dry_form(self):
        self.bench()
        self.run_sections("DEVELOPERS.md", "Build and test")


if __name__ == "__main__":
    unittest.main()
