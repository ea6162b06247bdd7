"""What came from outside reaches a terminal as text: no control character of a name, a meter, a file or a bag gets through, so
that none can move the cursor, hide a line or type for the reader. Control characters: ECMA-48, C0 and C1, and DEL."""
import json
import subprocess
import unittest

from harness import SOURCE, EndToEnd
from scpi_device import Device

EVIL = "\x1b[2J\x1b]0;owned\x07\x9b31m\r\x08\x7fend"


class Escapes(EndToEnd):
    def said(self, *words, code=None):
        done = self.tool(*words, code=code)
        for name, text in (("stdout", done.stdout), ("stderr", done.stderr)):
            at = next((i for i, c in enumerate(text) if (ord(c) < 0x20 and c not in "\n\t") or 0x7F <= ord(c) <= 0x9F), None)
            with self.subTest(words=words):
                self.assertIsNone(at, f"{name} of {words}: {text[max(0, at or 0) - 100:(at or 0) + 100]!r}")
        return done.stdout + done.stderr

    def test_a_name_typed_with_escapes_is_shown_without_them_everywhere(self):
        ready = self.simulator()
        said = self.said("qualify", "--profile", "regulator-shunt-240", "--meter", "lcd-segment-14", "--port", ready["port"], "--hands", "sim:" + ready["hands"],
                         "--acknowledge", "de-energised", "--inspected", "yes", "--settle", "0.03s", "--plan", "short", "--part", EVIL, "--serial", EVIL,
                         "--operator", EVIL, "--order", EVIL, "--supplier", EVIL, "--remark", EVIL, code=0)
        self.assertIn("end", said)
        self.said("records", "note", "latest", EVIL)
        self.said("report", "latest", "--format", "text", code=0)
        for words in (["records"], ["records", "--check"], ["records", "latest"], ["records", "--serial", EVIL], ["records", "trend", "--part", EVIL],
                      ["report", EVIL], ["bag", "latest", "-o", "bag", "--without-pdf"], ["bag", "--check", "bag"]):
            self.said(*words)

    def test_a_meter_that_answers_with_escapes_is_shown_without_them(self):
        device = Device(lambda function: 12.0)
        self.addCleanup(device.close)
        device.identity = "Invented,\x1b[2J\x1b]0;owned\x07end,4711,1.0"
        for form in ("{:+.8E}", "\x1b[31m{:+.3E}", "\x1b[2J\x07{:.1f}"):
            device.form = form
            self.said("read", "--meter", "scpi", "--port", device.port, "--for", "2s", "--log", "debug")
        self.said("meters", "find", "--port", device.port, "--ask")

    def test_files_with_escapes_are_refused_or_read_without_them(self):
        profile = (SOURCE / "profiles/regulator-shunt-240.toml").read_text()
        quoted = json.dumps("\x1b[31m" + "x\x07\x9by")
        (self.dir / "evil.toml").write_text(profile.replace(profile.splitlines()[next(i for i, l in enumerate(profile.splitlines()) if l.startswith("title"))],
                                                            f"title = {quoted}"))
        (self.dir / "meter.toml").write_text(f"schema = 1\ntitle = {quoted}\nprovenance = {quoted}\n[decoder]\nkind = {quoted}\n")
        (self.dir / "key.toml").write_text(f"schema = 1\n{quoted} = 1\n\x1b[31m = 2\n")
        (self.dir / "evil.csv").write_text(f"time_s,{EVIL.replace(chr(13), '')}\n" + "".join(f"{i},{i % 2}\n" for i in range(50)) + f"60,{EVIL}\n")
        (self.dir / EVIL.replace("/", "")).write_text("x")
        for words in (["profiles", "./evil.toml"], ["profiles", "./key.toml"], ["profiles", "check", "./key.toml"], ["meters", "check", "meter.toml"],
                      ["meters", "./meter.toml"], ["meters", "check", "key.toml"], ["analyze", "evil.csv"], ["analyze", EVIL], ["bag", "--check", "./" + EVIL],
                      ["profiles", EVIL], ["meters", EVIL], [EVIL], ["qualify", "--" + EVIL], ["read", "--meter", "lcd-segment-14", "--port", EVIL]):
            self.said(*words)

    def test_names_in_a_bag_with_escapes_are_told_without_them(self):
        self.qualify(self.simulator(), "--plan", "short")
        self.tool("bag", "latest", "-o", "bag", "--without-pdf")
        (self.dir / "bag/data" / ("\x1b[31mred\x9b")).write_text("x")
        with open(self.dir / "bag/manifest-sha256.txt", "a") as file:
            file.write("0" * 64 + "  data/\x1b[2Jgone\n")
        with open(self.dir / "bag/bag-info.txt", "a") as file:
            file.write("Contact-Name: \x1b[2J\n")
        self.said("bag", "--check", "bag", code=5)
        subprocess.run(["tar", "cf", "bag.tar", "bag"], cwd=self.dir, check=True)
        self.said("bag", "--check", "bag.tar", code=5)


if __name__ == "__main__":
    unittest.main()
