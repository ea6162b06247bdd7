"""The page of fields (src/record/FIELDS.md) and the code that writes JSON name the same fields."""
import json
import os
import pathlib
import re
import unittest

SOURCE = pathlib.Path(os.environ.get("SOURCE_DIR", pathlib.Path(__file__).resolve().parents[2]))
PAGE = SOURCE / "src/record/FIELDS.md"
# What writes records, results, events and the messages of the hands.
CODECS = [*sorted((SOURCE / "src/record").glob("*json*.cpp")), *sorted((SOURCE / "src/bench").glob("*json.cpp")),
          SOURCE / "src/hands/hands_message.cpp", SOURCE / "include/switchwright/judge/scope_json.hpp"]
WRITES = re.compile(r'\w\["(\w+)"\]\s*(?:=[^=]|\.push_back)|\{\s*"(\w+)",\s|\bput(?:_rows)?\(\s*\w+,\s*"(\w+)"|\badd\("(\w+)",'
                    r'|known\{([^}]*)\}|\\"(\w+)\\":')
# Values of fields that stand where a field's name could stand.
WORDS = {"shorted", "known_source", "pair", "reversed", "one_clip"}


def written():
    names = {}
    for file in CODECS:
        for match in WRITES.finditer(file.read_text()):
            for group in match.groups():
                for name in re.findall(r"\w+", group or ""):
                    names.setdefault(name, file.relative_to(SOURCE))
    return names


def named():
    rows = [line for line in PAGE.read_text().splitlines() if line.startswith("| `")]
    return [name for row in rows for name in re.findall(r"`(\w+)`", row.split(" | ")[0])]


class Fields(unittest.TestCase):
    def test_every_field_that_is_written_stands_on_the_page(self):
        names = written()
        self.assertGreater(len(names), 250)
        missing = {name: str(file) for name, file in names.items() if name not in set(named()) | WORDS}
        self.assertEqual(missing, {})

    def test_every_field_on_the_page_is_written_and_stands_there_once(self):
        names = named()
        self.assertEqual(sorted({name for name in names if names.count(name) > 1}), [])
        text = "".join(file.read_text() for file in CODECS)
        self.assertEqual([name for name in names if f'"{name}' not in text], [])

    def test_the_published_schema_names_no_field_that_the_page_lacks(self):
        def properties(node):
            if isinstance(node, dict):
                yield from node.get("properties", {}) if isinstance(node.get("properties"), dict) else ()
                for inner in node.values():
                    yield from properties(inner)
            elif isinstance(node, list):
                for inner in node:
                    yield from properties(inner)
        schema = set(properties(json.loads((SOURCE / "src/report/record.schema.json").read_text())))
        self.assertGreater(len(schema), 100)
        self.assertEqual(schema - set(named()) - {"$schema"}, set())

    def test_a_number_with_a_unit_has_it_in_its_name(self):
        """Of what the page calls by a unit's words, none is spelled another way: seconds are _s, never _sec or seconds."""
        odd = [name for name in named() if re.search(r"_(sec|seconds|ms|millis|volts?|amps?|ohms|watts?|percent|degc?)$", name)]
        self.assertEqual(odd, [])


if __name__ == "__main__":
    unittest.main()
