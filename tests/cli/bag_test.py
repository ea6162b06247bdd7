"""Sealed evidence, made and checked by the real binary, and checked again by programs that know nothing of it:
sha256sum (manifests of RFC 8493) and openssl (Ed25519, RFC 8032)."""
import hashlib
import json
import re
import shutil
import subprocess
import unittest

from harness import EndToEnd


class BagTest(EndToEnd):
    def setUp(self):
        super().setUp()
        self.record = self.qualify(self.simulator("--fault", "stuck-closed:cycling"), "--part", "made up", code=1)[-1]["record"]

    def key(self, name):
        private, public = self.dir / f"{name}.pem", self.dir / f"{name}.pub.pem"
        subprocess.run(["openssl", "genpkey", "-algorithm", "ed25519", "-out", private], check=True)
        subprocess.run(["openssl", "pkey", "-in", private, "-pubout", "-out", public], check=True)
        return private, public

    def seal(self, *options, name="bag", code=0):
        done = self.tool("bag", self.record[:12], "-o", self.dir / name, "--json", *options, code=code)
        return json.loads(done.stdout) if done.stdout else done.stderr

    def check(self, *options, name="bag", code=0):
        return json.loads(self.tool("bag", "--check", self.dir / name, "--json", *options, code=code).stdout)

    def outside(self, command, name="bag"):
        return subprocess.run(command, shell=True, cwd=self.dir / name, capture_output=True, text=True).returncode

    def test_a_bag_is_made_of_a_record_and_checks_here_and_elsewhere(self):
        made = self.seal()
        self.assertEqual((made["record"], made["signed"]), (self.record, False))
        self.assertEqual(self.outside("sha256sum -c --strict manifest-sha256.txt tagmanifest-sha256.txt"), 0)
        found = self.check()
        self.assertTrue(found["whole"])
        self.assertEqual(found["chain_head"], made["chain_head"])
        inside = json.loads((self.dir / "bag/data/record.json").read_text())
        self.assertEqual(inside["verdict"]["outcome"], "fail")
        text = self.tool("bag", "--check", self.dir / "bag").stdout
        self.assertIn("Not signed", text)

    def test_a_signed_bag_names_its_key_and_openssl_agrees(self):
        private, public = self.key("shop")
        other, other_public = self.key("other")
        made = self.seal("--key", private)
        self.assertTrue(made["signed"])
        verify = "openssl pkeyutl -verify -pubin -inkey {} -rawin -in tagmanifest-sha256.txt -sigfile tagmanifest-sha256.txt.sig"
        self.assertEqual(self.outside(verify.format("public-key.pem")), 0)
        self.assertEqual(self.outside(verify.format(public)), 0)
        self.assertNotEqual(self.outside(verify.format(other_public)), 0)
        self.assertEqual(self.check("--by", public)["signed_by"], made["signed_by"])
        self.assertFalse(self.check("--by", other_public, code=5)["whole"])

    def test_every_change_to_a_bag_shows(self):
        private, public = self.key("shop")
        self.seal("--key", private)
        for file in sorted(p.relative_to(self.dir / "bag") for p in (self.dir / "bag").rglob("*") if p.is_file()):
            with self.subTest(file=str(file)):
                shutil.copytree(self.dir / "bag", self.dir / "changed")
                content = bytearray((self.dir / "changed" / file).read_bytes())
                content[len(content) // 2] ^= 0x01
                (self.dir / "changed" / file).write_bytes(content)
                found = self.check("--by", public, name="changed", code=5)
                self.assertTrue(found["problems"])
                shutil.rmtree(self.dir / "changed")

    def reseal(self, folder):
        """The manifests anew, as anybody can without a key."""
        line = lambda path: f"{hashlib.sha256((folder / path).read_bytes()).hexdigest()}  {path}\n"
        payload = sorted(str(p.relative_to(folder)) for p in (folder / "data").rglob("*") if p.is_file())
        (folder / "manifest-sha256.txt").write_text("".join(map(line, payload)))
        info = (folder / "bag-info.txt").read_text()
        octets = sum((folder / path).stat().st_size for path in payload)
        (folder / "bag-info.txt").write_text(re.sub(r"Payload-Oxum: .*", f"Payload-Oxum: {octets}.{len(payload)}", info))
        tags = sorted(p.name for p in folder.iterdir() if p.is_file() and p.name != "tagmanifest-sha256.txt")
        (folder / "tagmanifest-sha256.txt").write_text("".join(map(line, tags)))

    def test_a_bag_of_an_earlier_layout_is_checked_by_that_layout(self):
        # Before Bag-Layout 2: no results.csv and no print; readings.csv held what was judged.
        self.seal(name="old")
        old = self.dir / "old"
        (old / "data/results.csv").replace(old / "data/readings.csv")
        (old / "data/report.pdf").unlink(missing_ok=True)
        page = old / "data/report.html"
        page.write_text(page.read_text().replace("<title>", "<title>set otherwise: ", 1))
        info = old / "bag-info.txt"
        info.write_text(re.sub(r"Bag-Layout: .*\n", "", info.read_text()))
        self.reseal(old)
        found = self.check(name="old")
        self.assertTrue(found["whole"], found)
        self.assertTrue(any("earlier version" in caution for caution in found["cautions"]), found)
        readings = old / "data/readings.csv"
        readings.write_bytes(readings.read_bytes().replace(b",pass,", b",fail,", 1))
        self.reseal(old)
        self.assertTrue(any("readings.csv" in p for p in self.check(name="old", code=5)["problems"]))

    def test_a_bag_is_stamped_by_an_authority_and_openssl_agrees(self):
        here = {"cwd": self.dir, "shell": True, "check": True, "capture_output": True}
        (self.dir / "ts.cnf").write_text("[tsa]\ndefault_tsa = one\n[one]\nserial = ./serial\nsigner_digest = sha256\n"
                                         "default_policy = 1.2.3.4.1\ndigests = sha256\n"
                                         "[s]\nextendedKeyUsage = critical,timeStamping\n")
        (self.dir / "serial").write_text("01\n")
        subprocess.run("openssl req -x509 -newkey rsa:2048 -nodes -keyout r.key -out r.pem -subj /CN=root &&"
                       "openssl req -newkey rsa:2048 -nodes -keyout t.key -out t.csr -subj '/CN=made-up stamps' &&"
                       "openssl x509 -req -in t.csr -CA r.pem -CAkey r.key -CAcreateserial -out t.pem -extfile ts.cnf -extensions s",
                       **here)
        request = self.dir / "request.tsq"
        self.seal("--timestamp-request", request)
        self.tool("bag", "--check", self.dir / "bag", "--timestamp-request", self.dir / "again.tsq")
        self.assertEqual(request.read_bytes(), (self.dir / "again.tsq").read_bytes())
        subprocess.run("openssl ts -reply -config ts.cnf -section one -queryfile request.tsq -signer t.pem -inkey t.key -out a.tsr",
                       **here)
        found = self.check("--timestamp-response", self.dir / "a.tsr", "--authority", self.dir / "r.pem")
        self.assertTrue(found["whole"] and found["stamp_trusted"])
        self.assertEqual(found["stamped_by"], "CN = made-up stamps")
        subprocess.run("openssl ts -verify -data bag/tagmanifest-sha256.txt -in bag/tagmanifest-sha256.txt.tsr -CAfile r.pem", **here)
        subprocess.run("tar czf bag.tgz bag", **here)
        self.assertIn("was not checked", self.tool("bag", "--check", self.dir / "bag.tgz").stdout)
        self.assertIn("vouches for it", self.tool("bag", "--check", self.dir / "bag.tgz", "--authority", self.dir / "r.pem").stdout)

    def test_attached_files_travel_in_the_bag(self):
        (self.dir / "=photo 1.jpg").write_bytes(b"\xff\xd8 made up")
        self.tool("records", "attach", self.record, self.dir / "=photo 1.jpg", "--operator", "desk")
        self.seal()
        self.assertEqual((self.dir / "bag/data/attachments/01-_photo_1.jpg").read_bytes(), b"\xff\xd8 made up")
        self.assertNotIn("cautions", self.check())
        for kept in (self.dir / "records.sqlite.attachments").iterdir():
            kept.unlink()
        self.assertIn("photo 1.jpg is missing", self.seal(name="none", code=5))
        self.assertIn("photo 1.jpg was left out", self.seal("--without-attachments", name="lean")["cautions"][0])

    def test_wrong_requests_say_what_to_do_next(self):
        private, public = self.key("shop")
        self.seal()
        for options, code, words in [
                (["bag"], 2, "bag RECORD -o DIR"),
                (["bag", "latest"], 2, "-o DIR"),
                (["bag", "nothing", "-o", self.dir / "b2"], 2, "nothing"),
                (["bag", "latest", "-o", self.dir / "bag"], 5, "already"),
                (["bag", "latest", "-o", self.dir / "b2", "--key", public], 2, "private key"),
                (["bag", "latest", "-o", self.dir / "b2", "--key", self.dir / "none.pem"], 2, "none.pem"),
                (["bag", "latest", "--check", self.dir / "bag"], 2, "both"),
                (["bag", "--check", self.dir / "nowhere"], 5, "nowhere"),
                (["bag", "latest", "-o", "/proc/bag"], 5, "-o DIR")]:
            with self.subTest(options=options):
                self.assertIn(words, self.tool(*options, code=code).stderr)
        self.assertFalse((self.dir / "b2").exists())


if __name__ == "__main__":
    unittest.main()
