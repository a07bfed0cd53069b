"""The JSON: what the report holds, the same bytes each time, harmless on a terminal."""

import json

from livepedal.advice.report import FileReport, Report
from livepedal.views import json_view

from .making import part, report


def document(made: Report) -> str:
    """As the command line writes it, file by file."""
    files = [json_view.dumps(file.to_dict()) for file in made.files]
    pieces = [json_view.separated(file, first=number == 0) for number, file in enumerate(files)]
    return json_view.opening(made.player, made.instrument) + "".join(pieces) + json_view.CLOSING


def test_it_is_the_report() -> None:
    made = report(FileReport("a.mid", (part(),)), FileReport("b.mid", error="b.mid is empty."))
    assert json.loads(document(made)) == json.loads(json.dumps(made.to_dict()))


def test_no_files_is_valid_too() -> None:
    made = report()
    empty = type(made)(made.instrument, made.player, ())
    assert json.loads(document(empty))["files"] == []


def test_it_is_ascii_and_the_same_twice() -> None:
    made = report(FileReport("Fähre\udcff\x1b[2J.mid", (part(name="\x9b2J"),)))
    written = document(made)
    assert written.isascii()
    assert "\x1b" not in written
    assert written == document(made)
    # Half a character is not allowed in JSON that is exchanged (RFC 8259, 8.2); everything else is as it is.
    assert json.loads(written)["files"][0]["path"] == "Fähre?\x1b[2J.mid"


def test_each_file_stands_on_a_line_of_its_own() -> None:
    made = report(FileReport("a.mid", (part(),)), FileReport("b.mid", (part(),)))
    lines = document(made).splitlines()
    assert [name for line in lines for name in ("a.mid", "b.mid") if f'"path": "{name}"' in line] == [
        "a.mid",
        "b.mid",
    ]
