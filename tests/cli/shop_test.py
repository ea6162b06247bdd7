"""A shop's server: a real PostgreSQL, two benches, an inspector. Hashes are checked with Python's own hashlib and the
server's sha256(), rights with psql."""
import hashlib
import json
import os
import pathlib
import sqlite3
import subprocess
import unittest

import postgres
from harness import TOOL, EndToEnd
from lot_test import LotBench


@unittest.skipUnless(postgres.programs(), "SKIPPED: PostgreSQL is missing (Debian package postgresql)")
class ShopTest(EndToEnd):
    @classmethod
    def setUpClass(cls):
        cls.server = postgres.Postgres()
        cls.addClassCleanup(cls.server.remove)

    def setUp(self):
        super().setUp()
        self.server.sql("DROP SCHEMA IF EXISTS switchwright CASCADE;" + self.tool("records", "push", "--sql").stdout)
        self.server.sql("DROP ROLE IF EXISTS bench1; DROP ROLE IF EXISTS bench2; DROP ROLE IF EXISTS inspector;"
                        "CREATE ROLE bench1 LOGIN PASSWORD 'secret-of-bench1' IN ROLE switchwright_bench;"
                        "CREATE ROLE bench2 LOGIN PASSWORD 'secret-of-bench2' IN ROLE switchwright_bench;"
                        "CREATE ROLE inspector LOGIN PASSWORD 'secret-of-inspector' IN ROLE switchwright_inspector;")
        passwords = self.dir / "pgpass"
        passwords.write_text("".join(f"127.0.0.1:*:*:{who}:secret-of-{who}\n" for who in ("bench1", "bench2", "inspector")))
        passwords.chmod(0o600)
        self.env["PGPASSFILE"] = str(passwords)

    def url(self, who="bench1"):
        return self.server.url(who)

    def qualified(self, *options, code=0):
        return self.qualify(self.simulator(), "--part", "made up", *options, code=code)[-1]["record"]

    def push(self, *options, who="bench1", code=0):
        done = self.tool("records", "push", "--to", self.url(who), "--json", *options, code=code)
        return json.loads(done.stdout) if code == 0 else done.stderr

    def links(self, store, record):
        with sqlite3.connect(store) as database:
            return [row[0] for row in database.execute("SELECT canonical FROM batch WHERE record_id = ? ORDER BY seq", (record,))]

    def test_a_pushed_record_has_the_same_chain_on_the_server_and_in_a_bag_made_from_it(self):
        record = self.qualified()
        pushed = self.push()
        here = self.links(self.store, record)
        self.assertEqual((pushed["records"], pushed["batches"]), (1, len(here)))
        there = self.server.sql(f"SELECT canonical FROM switchwright.link WHERE record_id = '{record}' ORDER BY seq").splitlines()
        self.assertEqual(there, here)
        head = self.server.sql(f"SELECT sha256 FROM switchwright.link WHERE record_id = '{record}' ORDER BY seq DESC LIMIT 1")
        self.assertEqual(head, hashlib.sha256(here[-1].encode()).hexdigest())
        self.tool("bag", record, "-o", self.dir / "here")
        self.tool("bag", record, "-o", self.dir / "there", "--store", self.url("inspector"))
        self.assertEqual((self.dir / "here/data/chain.jsonl").read_bytes(), (self.dir / "there/data/chain.jsonl").read_bytes())
        self.tool("bag", "--check", self.dir / "there")

    def test_a_repeated_push_adds_nothing(self):
        self.qualified()
        self.push()
        count = "SELECT (SELECT count(*) FROM switchwright.link), (SELECT count(*) FROM switchwright.reading)"
        before = self.server.sql(count)
        again = self.push()
        self.assertEqual((again["records"], again["batches"], again["already_there"]), (0, 0, 1))
        self.assertEqual(self.server.sql(count), before)

    def test_a_push_that_was_cut_off_goes_on_where_it_stopped(self):
        record = self.qualified()
        here = self.links(self.store, record)
        self.push()
        self.server.sql(f"DELETE FROM switchwright.reading WHERE seq > 3; DELETE FROM switchwright.link WHERE seq > 3")
        self.assertEqual(self.push()["batches"], len(here) - 3)
        self.assertEqual(self.server.sql(f"SELECT switchwright.check_record('{record}')"), "")

    def test_listing_and_report_from_the_server_say_what_the_bench_says(self):
        record = self.qualified()
        self.push()
        for command in (["records", "--json"], ["report", record, "--format", "json"], ["report", record, "--format", "text"]):
            with self.subTest(command=command):
                self.assertEqual(self.tool(*command, "--store", self.url("inspector")).stdout, self.tool(*command).stdout)
        self.tool("records", "--check", "--store", self.url("inspector"))

    def test_what_was_changed_on_the_server_shows(self):
        record = self.qualified()
        self.push()
        damages = {
            "a link": "UPDATE switchwright.link SET canonical = replace(canonical, 'made up', 'made  up') WHERE seq = 1",
            "a reading": "UPDATE switchwright.reading SET value = value + 1 WHERE value IS NOT NULL",
            "a serial number": "UPDATE switchwright.record SET serial = 'another'",
        }
        for what, damage in damages.items():
            with self.subTest(changed=what):
                fault = self.server.sql(f"BEGIN; {damage}; SELECT coalesce(switchwright.check_record('{record}'), 'whole')")
                self.assertRegex(fault, "record .*(changed|differ|header)")
        self.server.sql(damages["a link"])
        self.tool("records", "--check", record, "--store", self.url("inspector"), code=5)
        self.assertIn("went another way", self.push_after_damage(record))

    def push_after_damage(self, record):
        self.server.sql("UPDATE switchwright.link SET sha256 = repeat('0', 64) "
                        "WHERE seq = (SELECT max(seq) FROM switchwright.link)")
        return self.push(code=5)

    def test_a_bench_adds_and_reads_its_own_and_changes_nothing_and_an_inspector_reads_all(self):
        self.qualified()
        self.push()
        self.assertEqual(json.loads(self.tool("records", "--json", "--store", self.url("inspector")).stdout)["part"], "made up")
        self.assertEqual(self.tool("records", "--json", "--store", self.url("bench2")).stdout, "")
        for table in ("record", "link", "reading"):
            for who in ("bench1", "bench2", "inspector"):
                for change in (f"DELETE FROM switchwright.{table}", f"UPDATE switchwright.{table} SET started = now()",
                               f"TRUNCATE switchwright.{table} CASCADE"):
                    with self.subTest(who=who, change=change):
                        self.assertIn("permission denied", self.server.sql(change, user=who, ok=False))
        self.assertIn("permission denied", self.server.sql(
            "INSERT INTO switchwright.record (id, started, header) VALUES ('x', now(), '{}')", user="inspector", ok=False))
        self.assertIn("another bench", self.push(who="bench2", code=5))

    def test_the_server_itself_refuses_a_link_that_does_not_follow_or_has_another_hash(self):
        record = self.qualified()
        self.push()
        again = ("INSERT INTO switchwright.link (record_id, started, seq, previous, sha256, canonical) "
                 "SELECT record_id, started, {}, {}, {}, {} FROM switchwright.seen_link ORDER BY seq DESC LIMIT 1")
        self.assertIn("does not follow", self.server.sql(again.format("seq + 2", "sha256", "sha256", "canonical"), "bench1", ok=False))
        forged = ("jsonb_build_object('record', record_id, 'batch', seq + 1, 'previous', sha256)::text")
        self.assertIn("SHA-256", self.server.sql(again.format("seq + 1", "sha256", "repeat('0', 64)", forged), "bench1", ok=False))

    def test_with_the_server_down_the_bench_goes_on_and_catches_up(self):
        self.qualified()
        self.push("--push")
        self.server.stop()
        try:
            record = self.qualified("--serial", "while-down")
        finally:
            self.server.start()
        self.assertNotIn(record, self.tool("records", "--store", self.url("inspector")).stdout)
        later = self.qualified("--serial", "after")
        listed = self.tool("records", "--json", "--store", self.url("inspector")).stdout
        self.assertIn(record, listed)
        self.assertIn(later, listed)

    def test_no_password_is_taken_from_a_command_line_and_none_is_logged(self):
        self.qualified()
        self.push()
        for bad in (self.url().replace("bench1@", "bench1:secret-of-bench1@"), self.url() + "?password=secret-of-bench1"):
            refused = self.tool("records", "push", "--to", bad, code=2)
            self.assertIn("password", refused.stderr)
            self.assertNotIn("secret", refused.stderr)
        self.assertNotIn("secret", self.server.log())
        self.env["PGPASSFILE"] = "/dev/null"
        self.assertNotIn("secret", self.push(code=5))

    def test_listing_filters_and_trends_over_the_server_are_those_of_the_bench(self):
        self.qualified("--supplier", "Parts Ltd", "--supplier-lot", "L-77", "--order", "WO-1")
        self.qualify(self.simulator("--fault", "stuck-closed:cycling"), "--supplier-lot", "L-78", code=1)
        self.push()
        there = ["--store", self.url("inspector")]
        for command in (["records", "--json"], ["records", "--json", "--lot", "L-77"], ["records", "--json", "--order", "WO-1"],
                        ["records", "--json", "--fault", "stuck-closed"], ["records", "export"],
                        ["records", "trend", "--simulated", "--json"]):
            with self.subTest(command=command):
                here = self.tool(*command).stdout
                self.assertTrue(here)
                self.assertEqual(self.tool(*command, *there).stdout, here)

    def test_two_benches_push_at_once(self):
        self.qualified()
        other = self.dir / "other.sqlite"
        self.env["SWITCHWRIGHT_STORE"] = str(other)
        self.qualified("--serial", "second bench")
        both = [subprocess.Popen([TOOL, "records", "push", "--to", self.url(who), "--store", str(store)], env=self.env,
                                 stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
                for who, store in (("bench1", self.store), ("bench2", other))]
        for process in both:
            out, error = process.communicate(timeout=60)
            self.assertEqual(process.returncode, 0, out + error)
        self.assertEqual(self.server.sql("SELECT count(*), count(DISTINCT bench) FROM switchwright.record"), "2|2")
        self.assertEqual(self.server.sql("SELECT count(*) FROM switchwright.record WHERE switchwright.check_record(id) IS NOT NULL"), "0")

    def test_readings_lie_in_a_partition_for_each_month(self):
        self.qualified()
        self.push()
        parts = self.server.sql("SELECT relid FROM pg_partition_tree('switchwright.reading') WHERE isleaf")
        self.assertRegex(parts, r"switchwright\.reading_\d{4}_\d{2}$")


@unittest.skipUnless(postgres.programs(), "SKIPPED: PostgreSQL is missing (Debian package postgresql)")
class LotOnAServer(LotBench):
    def test_a_lot_and_its_report_are_the_same_over_the_server(self):
        server = postgres.Postgres()
        self.addCleanup(server.remove)
        server.sql(self.tool("records", "push", "--sql").stdout)
        url = f"postgresql://owner@/postgres?host={server.dir}&port={server.port}"
        ready = self.carton()
        self.open()
        self.tool(*self.arguments("run", "L1", ready), code=None)
        self.tool("lot", "close", "L1", "--operator", "Ada", code=None)
        self.tool("records", "push", "--to", url)
        self.assertIn('"verdict":"accept"', self.tool("records", "--json", "--store", url).stdout)
        for command in (["records", "--json"], ["records", "--json", "--verdict", "accept"], ["lot", "status", "L1", "--json"], ["lot", "report", "L1", "--format", "csv"], ["lot", "report", "L1", "--format", "html"],
                        ["lot", "history", "--part", "P-1", "--supplier", "S", "--json"]):
            with self.subTest(command=command):
                here, there = self.tool(*command, code=None), self.tool(*command, "--store", url, code=None)
                self.assertTrue(here.stdout, here.stderr)
                self.assertEqual((there.stdout, there.returncode), (here.stdout, here.returncode))


@unittest.skipUnless(postgres.programs(), "SKIPPED: PostgreSQL is missing (Debian package postgresql)")
class OverTls(EndToEnd):
    """A server that takes nobody without TLS; its certificate is of an authority made here."""

    def setUp(self):
        super().setUp()
        self.server = postgres.Postgres()
        self.addCleanup(self.server.remove)
        (self.dir / "san").write_text("subjectAltName=IP:127.0.0.1")
        subprocess.run("openssl req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.pem -subj /CN=made-up-root -days 9 &&"
                       "openssl req -x509 -newkey rsa:2048 -nodes -keyout x.key -out other.pem -subj /CN=other-root -days 9 &&"
                       "openssl req -newkey rsa:2048 -nodes -keyout server.key -out s.csr -subj /CN=shop &&"
                       "openssl x509 -req -in s.csr -CA ca.pem -CAkey ca.key -CAcreateserial -out server.crt -days 9 -extfile san",
                       shell=True, cwd=self.dir, check=True, capture_output=True)
        self.server.take_tls(self.dir / "server.crt", self.dir / "server.key")
        self.server.sql(self.tool("records", "push", "--sql").stdout)
        self.server.sql("CREATE ROLE bench1 LOGIN PASSWORD 'secret-of-bench1' IN ROLE switchwright_bench;")
        passwords = self.dir / "pgpass"
        passwords.write_text("127.0.0.1:*:*:bench1:secret-of-bench1\n")
        passwords.chmod(0o600)
        self.env["PGPASSFILE"] = str(passwords)

    def test_records_travel_over_tls_and_to_no_server_that_the_named_root_does_not_vouch_for(self):
        self.qualify(self.simulator(), "--part", "made up")
        url = self.server.url("bench1") + "?sslmode={}&sslrootcert={}"
        self.assertIn("certificate verify failed", self.tool("records", "push", "--to", url.format("verify-full", "other.pem"), code=5).stderr)
        self.assertIn("pg_hba.conf", self.tool("records", "push", "--to", url.format("disable", "ca.pem"), code=5).stderr)
        self.assertEqual(self.server.sql("SELECT count(*) FROM switchwright.record"), "0")
        self.tool("records", "push", "--to", url.format("verify-full", "ca.pem"))
        self.assertEqual(self.server.sql("SELECT count(*) FROM switchwright.record"), "1")
        # The server's own word for it.
        self.assertRegex(self.server.log(), r"user=bench1 .*SSL enabled \(protocol=TLSv1\.[23]")


if __name__ == "__main__":
    unittest.main()
