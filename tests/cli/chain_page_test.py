"""The page on the hash chain (src/record/README.md): its example is followed here as a reader would, with sha256sum alone.
Reference: coreutils' sha256sum; the test itself hashes nothing."""
import json
import os
import pathlib
import re
import subprocess
import tempfile
import unittest

PAGE = pathlib.Path(os.environ["SOURCE_DIR"]) / "src/record/README.md"


class ChainPage(unittest.TestCase):
    def block(self, name):
        return re.search(rf"<!-- {name} -->\n```\n(.*?)```", PAGE.read_text(), re.S).group(1)

    def hash_of(self, command, folder):
        done = subprocess.run(["bash", "-c", command], cwd=folder, capture_output=True, text=True, check=True)
        return done.stdout.split()[0]

    def test_the_worked_example_is_followed_with_sha256sum_alone(self):
        with tempfile.TemporaryDirectory() as folder:
            (pathlib.Path(folder) / "chain.jsonl").write_text(self.block("links"))
            links = [json.loads(line) for line in self.block("links").splitlines()]
            commands = self.block("commands").splitlines()
            self.assertEqual(len(commands), len(links))
            self.assertEqual(links[0]["previous"], "")
            for number, line in enumerate(commands):
                command, told = line.split("# ")
                found = self.hash_of(command, folder)
                self.assertEqual(found, told, f"command {number + 1} of the page")
                if number + 1 < len(links):
                    self.assertEqual(links[number + 1]["previous"], found)

    def test_a_changed_byte_of_the_example_shows(self):
        with tempfile.TemporaryDirectory() as folder:
            (pathlib.Path(folder) / "chain.jsonl").write_text(self.block("links").replace("skipped", "Skipped"))
            command, told = self.block("commands").splitlines()[1].split("# ")
            self.assertNotEqual(self.hash_of(command, folder), told)


if __name__ == "__main__":
    unittest.main()
