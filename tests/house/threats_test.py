"""Each test that tests/THREATS.md names is there, under that name, and each row has one."""
import os
import pathlib
import re
import unittest

SOURCE = pathlib.Path(os.environ["SOURCE_DIR"])


def plain(text):
    return re.sub(r"[^a-z0-9]+", " ", text.lower()).strip()


class Threats(unittest.TestCase):
    def test_every_test_that_the_threat_table_names_exists(self):
        rows = [line for line in (SOURCE / "tests/THREATS.md").read_text().splitlines() if line.startswith("| ") and "---" not in line][1:]
        self.assertGreater(len(rows), 15)
        for row in rows:
            named = re.findall(r"`(tests/[^`:]+)(?:: ([^`]+))?`", row.split(" | ")[-1])
            self.assertTrue(named, row)
            for file, name in named:
                self.assertTrue((SOURCE / file).is_file(), file)
                if name:
                    text = re.sub(r'"\s*"', "", (SOURCE / file).read_text())
                    titles = [plain(title) for title in re.findall(r"def (test_\w+)|TEST_CASE\(\s*\"((?:[^\"\\]|\\.)*)\"|test\('([^']*)'", text) for title in title]
                    self.assertTrue(plain(name) in titles or "test " + plain(name) in titles, f"{file}: {name}")


if __name__ == "__main__":
    unittest.main()
